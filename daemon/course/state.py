"""The firing's course: the states, the map of what may follow what, and where one firing is on it.

`TRANSITIONS` is the whole map, and the tests hold `transitions.py` to it. A trip leads to the lock-out from everywhere
(`daemon/lockout.py`), whatever else happens in the same scan.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from daemon.control.setpoint import hold_c
from daemon.plans.plan import StageKind
from hardware.port import NOT_FITTED, Draught, Readings, Temperature


class State(Enum):
    """Where the firing is, in the trade's words."""

    COLD = "cold"
    MADE_READY = "made ready"
    PURGE = "purge"
    LIT_BY_HAND = "lit by hand"
    FIRE_PROVING = "fire proving"
    WARM_UP = "warm-up"
    CLIMBING = "climbing"
    SOAKING = "soaking"
    BURN_DOWN = "burn-down"
    COOLING = "cooling"
    FINISHED = "finished"
    LOCKED_OUT = "locked out"

    __hash__ = object.__hash__  # a state is looked up several times a scan, and there is only one of each


S = State
TRANSITIONS: dict[State, tuple[State, ...]] = {
    S.COLD: (S.MADE_READY,),
    S.MADE_READY: (S.PURGE, S.COLD),
    S.PURGE: (S.LIT_BY_HAND, S.COLD),
    S.LIT_BY_HAND: (S.FIRE_PROVING, S.BURN_DOWN),
    S.FIRE_PROVING: (S.WARM_UP, S.BURN_DOWN),
    S.WARM_UP: (S.CLIMBING, S.BURN_DOWN),
    S.CLIMBING: (S.CLIMBING, S.SOAKING, S.BURN_DOWN),
    S.SOAKING: (S.CLIMBING, S.SOAKING, S.BURN_DOWN),
    S.BURN_DOWN: (S.COOLING, S.WARM_UP, S.CLIMBING, S.SOAKING),
    S.COOLING: (S.FINISHED, S.MADE_READY),
    S.FINISHED: (S.MADE_READY,),
    S.LOCKED_OUT: (S.COLD, S.BURN_DOWN, S.COOLING),
}
"""From each state, where it may lead. LOCKED_OUT can follow any of them and is not listed."""

FEEDING = frozenset({S.WARM_UP, S.CLIMBING, S.SOAKING})
FIRE = FEEDING | {S.FIRE_PROVING}
"""A fire is meant to burn and the fan to run."""
ATTENDED = FIRE | {S.PURGE, S.LIT_BY_HAND, S.BURN_DOWN}
"""Somebody must be there."""

STATE_OF_KIND = {StageKind.FIXED: S.WARM_UP, StageKind.CLIMB: S.CLIMBING, StageKind.SOAK: S.SOAKING}


@dataclass(frozen=True, slots=True)
class LeftOff:
    """Where a firing was when it was stopped. `at_s` on the rig's clock; after a restart it may lie before its zero."""

    state: State
    stage: int
    at_s: float
    chamber_c: float | None
    stage_gone_s: float
    """How long the stage had run."""
    counted_s: float = 0.0
    target_c: float | None = None
    unproven_s: float = 0.0
    """Auger time fed since the last sign of fire."""


@dataclass(frozen=True, slots=True)
class Course:
    """Where the firing is. Times are the rig's clock, s.

    `counted_s` is purge time, soak time in the band, or the burn-down's time with proven airflow.
    """

    state: State = State.COLD
    since_s: float = 0.0
    stage: int | None = None
    stage_since_s: float = 0.0
    begun_s: float | None = None
    setpoint_c: float | None = None
    target_c: float | None = None
    counted_s: float = 0.0
    owed_s: float | None = None
    """Heat work that the plan asked for and the kiln hasn't done, as time at the target; below 0 it has done more.

    None where nobody can tell: after a cone, which has had its heat work wherever it fell, and after a restart.
    """
    waits: bool = False
    """The plan waits for the kiln, which can't climb as fast as asked."""
    still_pa: float | None = None
    """What the gauge read with the fan still, before the purge; None where it could not be read."""
    blown_pa: float | None = None
    """What the gauge read when the purge was done."""
    aired_s: float = 0.0
    """While the fire is proven: for how long air was."""
    start_c: float | None = None
    start_flue_c: float | None = None
    """While the fire is proven: the lowest that chamber and flue were since air was proven for long enough."""
    lit: bool = False
    """Something may burn on the grate: from when it may be lit until the bed is out."""
    eye_was_dark: bool = False
    """The flame eye, where fitted, was dark while the kiln was purged: one that always sees flame proves nothing."""
    left_off: LeftOff | None = None
    """Where the firing was stopped, while it may still be taken up again."""

    @property
    def goal_c(self) -> float | None:
        """Where the setpoint goes, °C: the target, and in a soak a little off it where heat work is owed."""
        if self.state is not State.SOAKING or self.target_c is None:
            return self.target_c
        return hold_c(self.target_c, self.owed_s, self.counted_s)


def enter(course: Course, state: State, now_s: float) -> Course:
    """The same firing in another state, no stage running."""
    over = state in (S.COOLING, S.FINISHED)
    return replace(course, state=state, since_s=now_s, stage=None, setpoint_c=None, target_c=None, counted_s=0.0,
                   waits=False, lit=course.lit and not over, left_off=None if over else course.left_off)  # fmt: skip


def has_airflow(readings: Readings, least_pa: float) -> bool:
    """Airflow is proven by the switch; where none is fitted by the draught; where neither is, by nothing."""
    if readings.airflow_proven is not NOT_FITTED:
        return readings.airflow_proven
    pa = draught_pa(readings)
    return pa is not None and pa >= least_pa


def air_follows_fan(course: Course, readings: Readings, least_pa: float) -> bool:
    """Whether the purge's air is proven: by the switch, or by a gauge that has risen since the fan stood still.

    A gauge that is stuck at a plausible draught proves nothing.
    """
    if readings.airflow_proven is not NOT_FITTED:
        return readings.airflow_proven
    pa = draught_pa(readings)
    return pa is not None and course.still_pa is not None and pa >= least_pa and pa - course.still_pa >= least_pa


def draught_pa(readings: Readings) -> float | None:
    """The gauge, or None where it isn't fitted or can't be believed."""
    return readings.draught.value_pa if isinstance(readings.draught, Draught) else None


def chamber_c(readings: Readings) -> float | None:
    """The chamber's temperature, or None where it can't be believed."""
    return probe_c(readings, "chamber")


def probe_c(readings: Readings, name: str) -> float | None:
    """A probe's temperature, or None where it isn't fitted or can't be believed."""
    probe = readings.probes.get(name)
    return probe.value_c if isinstance(probe, Temperature) else None
