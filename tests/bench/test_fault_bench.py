"""The fault bench itself: it names what exists, and it fails a kiln whose interlocks don't look."""

from __future__ import annotations

import pytest

from daemon.course.state import FEEDING, State
from daemon.judge import WATCHING
from daemon.notice import Cause
from hardware.simulated import open_rig
from tests.bench.ensemble import Firing, Kit, kit, short_plan
from tests.bench.fault_case import OURS, Case, Judged, forked, names
from tests.bench.fault_table import TABLE, Expected

pytestmark = pytest.mark.slow

EVERYTHING = Kit(0, "fan", *([True] * 7))


def expected(fault: str) -> Expected:
    """The table's line for a fault."""
    return next(line for line in TABLE if line.fault == fault)


@pytest.fixture
def feeding() -> Firing:
    """A kiln in its warm-up, just fed for the first time."""
    firing = Firing(EVERYTHING, short_plan(), 1)
    while firing.memory.beat.course.state not in FEEDING or not firing.world.auger_powered:
        firing.scan()
        assert firing.now_s < 900
    return firing


def judged(firing: Firing, fault: str) -> Case:
    """What came of one fault, in a process of its own."""
    (case,) = forked(lambda: [Judged(firing, expected(fault)).run()])
    return case


def test_every_fault_of_the_table_can_strike_somewhere_and_every_cause_exists() -> None:
    rig = open_rig({"damper": {"pin": 19, "hz": 200.0}, "co_alarm": 26})
    can = OURS | set(rig.fault_names())
    rig.close()
    causes = {cause.name for cause in Cause}
    for line in TABLE:
        assert set(names(line.fault)) <= can
        for rule in line.rules:
            assert {*rule.trips, *rule.warns} <= causes
    broken = {name for line in TABLE for name in names(line.fault)}
    assert can - broken == set()  # whatever the simulator can break is in the matrix


def test_a_fault_is_answered_in_a_process_of_its_own_and_the_kiln_burns_on_here(feeding: Firing) -> None:
    before_s = feeding.now_s
    case = judged(feeding, "probe-unplugged")
    assert (case.cause, case.level, case.must, case.failures) == ("PROBE_BLIND", "trip", True, [])
    assert case.answered_s is not None
    assert 1.9 < case.answered_s < 2.5
    assert feeding.now_s == before_s
    assert feeding.memory.lockout is None
    feeding.scan()
    assert feeding.memory.beat.course.state in FEEDING


def test_a_daemon_that_doesnt_look_fails_the_case(feeding: Firing, monkeypatch: pytest.MonkeyPatch) -> None:
    for state in State:
        monkeypatch.setitem(WATCHING, state, ())
    assert judged(feeding, "probe-unplugged").failures == ["no answer within 4 s"]


def test_pellets_on_a_dead_fire_fail_a_case_that_is_answered_late(
    feeding: Firing, monkeypatch: pytest.MonkeyPatch
) -> None:
    for state in State:
        monkeypatch.setitem(WATCHING, state, ())
    case = judged(feeding, "fire-dies")
    assert case.unburnt_kg > 0.3
    assert any("on a dead fire" in words for words in case.failures)


def test_kilns_of_the_ensemble_differ_in_what_is_fitted_and_each_is_always_the_same() -> None:
    kits = [kit(number) for number in range(20)]
    assert kits == [kit(number) for number in range(20)]
    for by in ("fan", "hand", "damper"):
        assert {(k.eye, k.switch) for k in kits if k.by == by} == {(a, b) for a in (True, False) for b in (True, False)}
    for part in ("shaft", "limit", "flue", "gauge", "watchdog"):
        assert {getattr(k, part) for k in kits} == {True, False}
    assert all(k.switch or k.gauge for k in kits)
