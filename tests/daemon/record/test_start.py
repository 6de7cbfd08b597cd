"""How the daemon comes up: feed off, and saying what it found of an unfinished firing."""

from dataclasses import dataclass, replace

import pytest

from daemon.course.state import State
from daemon.memory import Memory
from daemon.notice import Cause, Notice
from daemon.record.found import Found
from daemon.record.start import first_look, first_memory
from daemon.setup import setup_of
from hardware.port import Blind, Blindness, Readings
from tests.daemon.house import UTC_AT_0_S, FakeRig, Kiln, good_readings, living, short_plan, short_settings

MIDDLE = [
    State.PURGE, State.LIT_BY_HAND, State.FIRE_PROVING, State.WARM_UP, State.CLIMBING, State.SOAKING, State.BURN_DOWN,
]  # fmt: skip
AWAY_S = 300.0


def found(state: State, chamber_c: float | None = 812.0, *trips: tuple[Cause, Notice]) -> Found:
    """A record that ended five minutes ago."""
    return Found(7, state, UTC_AT_0_S + 1000.0 - AWAY_S, chamber_c, trips)


def started(end: Found | None, readings: Readings | None = None) -> Memory:
    """The memory of the first scan."""
    return first_memory(setup_of(short_settings(), short_plan()), end, readings or good_readings(1000.0, 640.0))


def kiln_with(memory: Memory) -> Kiln:
    """The kiln as it comes up."""
    return Kiln(FakeRig(good_readings(1000.0, 640.0), live=living), memory)


@pytest.mark.parametrize("state", MIDDLE)
def test_an_interrupted_firing_is_locked_out_and_nothing_is_fed_until_a_person_resets(state: State) -> None:
    kiln = kiln_with(started(found(state)))
    assert (kiln.state, kiln.first_out) == (State.LOCKED_OUT, Cause.INTERRUPTED)
    kiln.run(60)
    assert (kiln.state, kiln.fed_s(60)) == (State.LOCKED_OUT, 0)
    kiln.rig.show(reset_pressed=True)
    kiln.run(4)
    kiln.rig.show(reset_pressed=False)
    kiln.run(0.6)
    assert kiln.state is State.BURN_DOWN  # what may burn burns down; the firing does not go on
    assert kiln.fed_s(60) == 0


@pytest.mark.parametrize("state", MIDDLE)
def test_the_words_say_when_in_which_state_how_hot_then_and_how_hot_now(state: State) -> None:
    """By hand: 1,900,000,700 s of Unix time is 2030-03-17 17:58:20 UTC."""
    lockout = started(found(state)).lockout
    assert lockout is not None
    words = lockout.first_out.notice
    for part in ("2030-03-17 17:58:20 UTC", state.value, "812 °C", "5 min", "640 °C now"):
        assert part in words.happened
    assert "locked out" in words.did
    assert "reset" in words.do_next


def test_a_probe_that_is_blind_at_the_start_is_not_guessed_at() -> None:
    rig = FakeRig(good_readings(1000.0))
    rig.probe("chamber", Blindness.NO_READING_YET)
    lockout = started(found(State.CLIMBING, chamber_c=None), rig.image).lockout
    assert lockout is not None
    assert "not known yet" in lockout.first_out.notice.happened
    assert "with the chamber at" not in lockout.first_out.notice.happened


def test_a_record_that_ends_locked_out_stays_locked_out_with_the_words_of_then() -> None:
    trip = Notice("Too hot: chamber 1312 °C.", "Feed stopped.", "Look.")
    memory = started(found(State.LOCKED_OUT, 812.0, (Cause.OVER_TEMPERATURE, trip)))
    assert memory.beat.course.state is State.LOCKED_OUT
    assert memory.lockout is not None
    assert (memory.lockout.first_out.cause, memory.lockout.first_out.notice) == (Cause.OVER_TEMPERATURE, trip)


def test_a_lockout_without_words_is_locked_out_all_the_same() -> None:
    assert started(found(State.LOCKED_OUT)).beat.course.state is State.LOCKED_OUT


def test_a_kiln_that_was_cooling_goes_on_cooling() -> None:
    kiln = kiln_with(started(found(State.COOLING)))
    assert (kiln.state, kiln.first_out) == (State.COOLING, None)
    kiln.run(5)
    assert (kiln.state, kiln.memory.done.fan_frac) == (State.COOLING, 0.0)


@pytest.mark.parametrize("end", [None, found(State.FINISHED), found(State.COLD), found(State.MADE_READY)])
def test_after_a_finished_firing_it_comes_up_fresh(end: Found | None) -> None:
    memory = started(end, good_readings(1000.0, 20.0))
    assert (memory.beat.course.state, memory.lockout) == (State.COLD, None)
    assert memory.beat.attendance.present_s == 1000.0


@pytest.mark.parametrize("end", [None, found(State.FINISHED), found(State.COLD)])
def test_a_hot_kiln_that_the_record_knows_nothing_of_is_locked_out_and_gets_its_air(end: Found | None) -> None:
    kiln = kiln_with(started(end)).run(1)
    assert (kiln.state, kiln.first_out) == (State.LOCKED_OUT, Cause.INTERRUPTED)
    assert kiln.memory.lockout is not None
    assert "640 °C" in kiln.memory.lockout.first_out.notice.happened
    assert kiln.memory.done.fan_frac == kiln.memory.settings.air.fan_lowest_frac


def test_every_trip_of_a_lockout_comes_back_and_a_welded_auger_gets_no_pulse() -> None:
    trips = [(cause, Notice(cause.value, "", "")) for cause in (Cause.STOP_BUTTON, Cause.CO_ALARM, Cause.AUGER_RUNS)]
    kiln = kiln_with(started(found(State.LOCKED_OUT, 812.0, *trips)))
    assert (kiln.first_out, kiln.also) == (Cause.STOP_BUTTON, [Cause.CO_ALARM, Cause.AUGER_RUNS])
    assert {kiln.scan().memory.done.keep_alive for _ in range(20)} == {False}
    assert kiln.run(150).memory.done.horn is True  # as a carbon monoxide alarm calls


def test_whatever_it_finds_the_feed_contact_is_open_in_the_first_scan() -> None:
    for state in State:
        assert not kiln_with(started(found(state))).scan().feeds


@dataclass
class Converting(FakeRig):
    """A rig whose amplifiers need some time for their first conversion."""

    ready_s: float = 1000.4

    def read(self, due_s: float) -> Readings:
        """Blind at first."""
        seen = super().read(due_s)
        if seen.now_s >= self.ready_s:
            return seen
        return replace(seen, probes={**seen.probes, "chamber": Blind(Blindness.NO_READING_YET)})


@pytest.mark.parametrize(("ready_s", "looked_s"), [(1000.4, 0.4), (9999.0, 2.0)])
def test_it_waits_for_the_first_conversion_but_not_for_ever(ready_s: float, looked_s: float) -> None:
    rig = Converting(good_readings(1000.0, 640.0), ready_s=ready_s)
    first = first_look(rig)
    assert first.now_s - 1000.0 == pytest.approx(looked_s)
    assert isinstance(first.probes["chamber"], Blind) is (ready_s == 9999.0)
    assert rig.wanted.auger is False


@pytest.mark.parametrize("state", [State.CLIMBING, State.LOCKED_OUT])
def test_a_reset_that_is_held_through_a_restart_resets_nothing(state: State) -> None:
    """Nobody saw it pressed: it may have jammed while the daemon was away."""
    kiln = kiln_with(started(found(state, 812.0)))
    kiln.rig.show(reset_pressed=True)
    kiln.run(5)
    kiln.rig.show(reset_pressed=False)
    assert kiln.run(5).state is State.LOCKED_OUT


@pytest.mark.parametrize("blindness", [Blindness.OPEN_CIRCUIT, Blindness.NO_READING_YET])
def test_a_bed_gets_its_air_after_a_restart_though_the_chamber_can_not_be_read(blindness: Blindness) -> None:
    """A stop in the climb, then a power cut, and a broken thermocouple: what burns must not be smothered."""
    trip = (Cause.STOP_BUTTON, Notice("Stop pressed.", "Feed stopped.", "Look."))
    rig = FakeRig(good_readings(1000.0, 640.0))
    rig.probe("chamber", blindness)
    memory = started(found(State.LOCKED_OUT, 812.0, trip), rig.image)
    kiln = Kiln(rig, memory).run(1)
    assert kiln.state is State.LOCKED_OUT
    assert kiln.memory.done.fan_frac == kiln.memory.settings.air.fan_lowest_frac
