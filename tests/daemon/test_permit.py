"""The one place where a wish becomes a drive: never beyond what the verdict allows."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.course.state import State
from daemon.decide import decide
from daemon.interlocks.interlock import Safe, SafeDamper, SafeFan, SafeHorn
from daemon.interlocks.table import INTERLOCKS
from daemon.interlocks.verdict import NOTHING_SINCE, Verdict
from daemon.notice import Finding, Level, Notice
from daemon.permit import permit
from daemon.row import Wish
from hardware.port import Outputs
from tests.daemon.house import Kiln, cold_kiln, feeding_kiln

KILN = cold_kiln()
LOWEST_FRAC = KILN.memory.settings.air.fan_lowest_frac
COLD_WISH = decide(KILN.rig.image, (), KILN.memory)
FRACS = st.floats(0, 1)
FINDINGS = st.none() | st.sampled_from(
    [Finding(lock.cause, Level.TRIP, 0.0, Notice("", "", "")) for lock in INTERLOCKS if lock.level is Level.TRIP]
)


def wishes() -> st.SearchStrategy[Wish]:
    """Any wish, as far as outputs go."""
    return st.builds(
        lambda auger, fan, damper, horn, lamp: COLD_WISH._replace(
            auger=auger, fan_frac=fan, damper_frac=damper, horn=horn, lamp=lamp
        ),
        st.booleans(), FRACS, FRACS, st.booleans(), st.booleans(),
    )  # fmt: skip


def verdicts() -> st.SearchStrategy[Verdict]:
    """Any verdict."""
    return st.builds(
        lambda allowed, trip, safe: Verdict(
            allowed, (trip,) if trip else (), trip, (), safe if trip else None, NOTHING_SINCE
        ),
        st.booleans(), FINDINGS,
        st.builds(Safe, st.sampled_from(SafeFan), st.sampled_from(SafeDamper), st.sampled_from(SafeHorn)),
    )  # fmt: skip


@given(wishes(), verdicts())
def test_the_auger_turns_only_when_it_is_both_wished_and_allowed(wish: Wish, verdict: Verdict) -> None:
    assert permit(wish, verdict, KILN.memory).auger == (wish.auger and verdict.feed_allowed)


@given(wishes(), verdicts())
def test_a_trip_never_speeds_the_fan_up_and_always_calls_the_person(wish: Wish, verdict: Verdict) -> None:
    done = permit(wish, verdict, KILN.memory)
    assert isinstance(done.fan_frac, float)
    assert done.fan_frac <= wish.fan_frac
    if verdict.trip is not None:
        assert (done.horn, done.lamp) == (True, True)
    if verdict.safe is not None:
        if verdict.safe.fan is SafeFan.LOWEST:
            assert done.fan_frac <= LOWEST_FRAC
        opens = verdict.safe.damper is SafeDamper.OPEN
        assert done.damper_frac == (1.0 if opens else wish.damper_frac)


def levels(kiln: Kiln, scans: int = 10) -> list[object]:
    """The keep-alive over so many scans."""
    return [kiln.scan().memory.done.keep_alive for _ in range(scans)]


def test_the_keep_alive_changes_its_level_with_every_scan_in_which_feed_is_allowed() -> None:
    found = levels(feeding_kiln())
    assert found in ([True, False] * 5, [False, True] * 5)


@pytest.mark.parametrize("state", [State.COLD, State.LIT_BY_HAND, State.FIRE_PROVING])
def test_the_keep_alive_stands_still_where_nothing_may_be_fed(state: State) -> None:
    kiln = cold_kiln()
    if state is not State.COLD:
        kiln.lit(state)
    assert levels(kiln) == [False] * 10


def test_the_keep_alive_stands_still_while_a_condition_holds_the_feed() -> None:
    kiln = feeding_kiln()
    kiln.rig.override = lambda seen: replace(seen, airflow_proven=False)
    kiln.scan()
    assert levels(kiln, 5) == [False] * 5
    assert kiln.first_out is None  # only held so far
    kiln.rig.override = lambda seen: seen
    assert True in levels(kiln)


def test_the_keep_alive_goes_by_the_level_read_back_not_by_a_memory_of_what_was_asked() -> None:
    kiln = feeding_kiln()
    kiln.rig.read_back = lambda wanted: Outputs(keep_alive=True)  # the pin is stuck high
    kiln.scan().scan()
    assert kiln.rig.wanted.keep_alive is False


def test_causes_that_come_later_open_the_damper_and_lengthen_the_horn_and_leave_the_fan_to_the_first() -> None:
    calling = Safe(SafeFan.AS_IT_WAS, SafeDamper.OPEN, SafeHorn.UNTIL_SEEN)
    assert Safe().join(calling) == Safe(SafeFan.LOWEST, SafeDamper.OPEN, SafeHorn.UNTIL_SEEN)
    assert calling.join(Safe()) == calling
    assert Safe().join(Safe()) == Safe()
    assert Safe().join(Safe(horn=SafeHorn.UNTIL_SEEN)).damper is SafeDamper.AS_IT_WAS


def test_the_fan_of_a_lockout_is_never_started() -> None:
    wish = COLD_WISH._replace(fan_frac=0.0)
    verdict = Verdict(False, (), None, (), Safe(), NOTHING_SINCE)
    assert permit(wish, verdict, KILN.memory).fan_frac == 0.0
    assert permit(wish._replace(fan_frac=LOWEST_FRAC / 2), verdict, KILN.memory).fan_frac == LOWEST_FRAC / 2
    assert permit(wish._replace(fan_frac=0.9), verdict, KILN.memory).fan_frac == LOWEST_FRAC
    off = verdict._replace(safe=Safe(SafeFan.OFF))
    assert permit(wish._replace(fan_frac=0.9), off, KILN.memory).fan_frac == 0.0
