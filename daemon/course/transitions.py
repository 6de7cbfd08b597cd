"""The transitions from state to state: on the person's word, the readings and the time. `TRANSITIONS` is the map."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from daemon.control.feed import FeedLimit
from daemon.control.setpoint import end_c, slope_k_per_s
from daemon.course.asks import Word
from daemon.course.resume import resume
from daemon.course.state import (
    FIRE,
    STATE_OF_KIND,
    Course,
    S,
    air_follows_fan,
    chamber_c,
    draught_pa,
    enter,
    has_airflow,
)
from daemon.plans.heat_work import climb_work_s, work_s
from daemon.plans.plan import Stage, StageKind
from daemon.settings import LimitsTable
from daemon.setup import Setup
from hardware.port import Readings

YOUNG_C = 600.0  # below it no cone feels whether the kiln is a few degrees ahead
GOES_ALONG = 1.0  # times the plan's rate, added to it: a kiln that is faster still gets ahead of the setpoint
NEAR_K = 2.0
"""A climb is done this near its end: the rest belongs to the soak, whose band is wider."""
ALONG_K = 3.0
"""A flue that warms proves a fire only if the chamber has warmed by this along with it (chosen: three times a probe's
noise)."""
ARRIVED_K = 5.0
"""Or this near once the setpoint has come there: lingering would be heat work that nobody asked for."""


class Basis(NamedTuple):
    """What the course goes by beside readings and words."""

    setup: Setup
    steady_c: float | None
    """The chamber as no single false reading moves it (`daemon/fire/trace.py`); None where it can't be believed."""
    steady_flue_c: float | None
    climb_c_per_h: float | None
    """The rate of the last 100 °C of the climb so far."""
    limited_by: FeedLimit
    """What limits the feed."""
    estimated_c: float | None
    """The chamber by the heat balance; None before there is one."""
    recorded: bool = True
    """Record and lock-out file are written."""


def next_course(course: Course, readings: Readings, words: frozenset[Word], dt_s: float, basis: Basis) -> Course:
    """The course after `dt_s` (s), by the person's words and the readings."""
    now_s, limits = readings.now_s, basis.setup.settings.limits
    match course.state:
        case S.MADE_READY | S.PURGE if Word.BURN_DOWN in words:
            return Course(since_s=now_s)
        case state if Word.BURN_DOWN in words and state in FIRE | {S.LIT_BY_HAND}:
            return enter(course, S.BURN_DOWN, now_s)
        case S.COLD | S.FINISHED | S.COOLING if Word.MADE_READY in words and chamber_c(readings) is not None:
            return Course(S.MADE_READY, now_s, still_pa=draught_pa(readings))
        case S.COOLING if basis.steady_c is not None and basis.steady_c < limits.cold_c:
            return enter(course, S.FINISHED, now_s)
        case S.MADE_READY if Word.BEGIN in words:
            return replace(course, state=S.PURGE, since_s=now_s, begun_s=now_s, counted_s=0.0)
        case S.MADE_READY:
            return replace(course, still_pa=draught_pa(readings))
        case S.PURGE:
            return purge(course, readings, dt_s, basis)
        case S.LIT_BY_HAND if Word.LIT in words:
            return replace(
                course, state=S.FIRE_PROVING, since_s=now_s, counted_s=0.0, lit=True,
                aired_s=0.0, start_c=None, start_flue_c=None,
            )  # fmt: skip
        case S.FIRE_PROVING:
            return prove(course, readings, dt_s, basis)
        case S.WARM_UP | S.CLIMBING | S.SOAKING:
            return advance(course, readings.now_s, dt_s, basis)
        case S.BURN_DOWN if Word.RESUME in words:
            return resume(course, readings.now_s, basis.steady_c)
        case S.BURN_DOWN:
            return burn_down(course, readings, words, dt_s, limits)
        case _:
            return course


def purge(course: Course, readings: Readings, dt_s: float, basis: Basis) -> Course:
    """Purge time counts only while air is proven to follow the fan, and starts again when it is lost.

    It doesn't end while nothing can be written: nothing is lit that a restart would forget.
    """
    setup = basis.setup
    if not air_follows_fan(course, readings, setup.settings.limits.draught_least_pa):
        return course if course.counted_s == 0 else replace(course, counted_s=0.0)
    counted_s = course.counted_s + dt_s
    dark = course.eye_was_dark or readings.flame_seen is False
    if counted_s >= setup.settings.purge_s and basis.recorded:
        return replace(
            course, state=S.LIT_BY_HAND, since_s=readings.now_s, counted_s=0.0, lit=True, eye_was_dark=dark,
            blown_pa=draught_pa(readings),
        )  # fmt: skip
    return replace(course, counted_s=counted_s, eye_was_dark=dark)


def prove(course: Course, readings: Readings, dt_s: float, basis: Basis) -> Course:
    """The fire is proven by a flame seen steadily, or by chamber and flue getting clearly warmer while the air stays.

    The fan alone moves both probes: it brings warm air to a stagnant flue and stirs a warm chamber. So the rise is
    counted from what they read once air was proven for a while, and a flue that warms while the chamber doesn't proves
    nothing: that is what a warm kiln's own heat does.
    """
    limits = basis.setup.settings.limits
    counted_s = course.counted_s + dt_s if readings.flame_seen is True and course.eye_was_dark else 0.0
    aired_s = course.aired_s + dt_s if has_airflow(readings, limits.draught_least_pa) else 0.0
    low_c, low_flue_c = course.start_c, course.start_flue_c
    if aired_s >= limits.proven_air_s:
        low_c, low_flue_c = lower_c(low_c, basis.steady_c), lower_c(low_flue_c, basis.steady_flue_c)
    chamber_k, flue_k = rise_k(low_c, basis.steady_c), rise_k(low_flue_c, basis.steady_flue_c)
    warmer = chamber_k >= limits.proven_chamber_rise_k
    warmer = warmer or (flue_k >= limits.proven_flue_rise_k and chamber_k >= ALONG_K)
    if counted_s >= limits.proven_flame_s or warmer:
        return begin_stage(replace(course, counted_s=0.0, lit=True), 0, basis, readings.now_s)
    return replace(course, counted_s=counted_s, aired_s=aired_s, start_c=low_c, start_flue_c=low_flue_c)


def lower_c(before_c: float | None, now_c: float | None) -> float | None:
    """The lower of two temperatures of which either may be unknown."""
    return now_c if before_c is None else before_c if now_c is None else min(before_c, now_c)


def rise_k(from_c: float | None, to_c: float | None) -> float:
    """How far it rose, K; nothing where either end is unknown."""
    return 0.0 if from_c is None or to_c is None else to_c - from_c


def begin_stage(course: Course, place: int, basis: Basis, now_s: float) -> Course:
    """The stage at this place of the plan begins, or the burn-down after the last one."""
    stages = basis.setup.plan.stages
    if place >= len(stages):
        return enter(course, S.BURN_DOWN, now_s)
    stage = stages[place]
    state = STATE_OF_KIND[stage.kind]
    setpoint_c, target_c, owed_s = course.setpoint_c, course.target_c, course.owed_s
    if stage.kind is StageKind.FIXED:
        setpoint_c = None
    elif setpoint_c is None:
        setpoint_c = basis.steady_c
    if stage.kind is StageKind.SOAK and target_c is not None and setpoint_c is not None:
        setpoint_c = min(max(setpoint_c, target_c - NEAR_K), target_c)
    if stage.kind is StageKind.CLIMB:
        target_c = stage.target_c(basis.climb_c_per_h)
        owed_s = work_of_climb_s(course, stage, setpoint_c, target_c)
    return replace(
        course, state=state, since_s=course.since_s if state is course.state else now_s, stage=place,
        stage_since_s=now_s, setpoint_c=setpoint_c, target_c=target_c, counted_s=0.0, waits=False,
        owed_s=owed_s,
    )  # fmt: skip


def work_of_climb_s(course: Course, stage: Stage, from_c: float | None, to_c: float | None) -> float | None:
    """The heat work that a climb will owe once it is over, with what was owed before it, as time at its end, s."""
    if from_c is None or to_c is None or stage.rate_c_per_h is None or stage.cone is not None:
        return None
    before_s = 0.0
    if course.target_c is not None and course.owed_s is not None:
        before_s = work_s(course.target_c, to_c, course.owed_s)
    return before_s + climb_work_s(from_c, to_c, stage.rate_c_per_h)


def count_heat_work(course: Course, hot_c: float | None, dt_s: float, asked_s: float = 0.0) -> Course:
    """What is owed after `dt_s` (s) at this heat, `asked_s` (s) of the soak having counted."""
    if hot_c is None or course.target_c is None or course.owed_s is None:
        return course
    return replace(course, owed_s=course.owed_s + asked_s - work_s(hot_c, course.target_c, dt_s))


def advance(course: Course, now_s: float, dt_s: float, basis: Basis) -> Course:
    """Within a stage: time runs, the setpoint climbs, the soak counts; at its end the next stage begins."""
    place, hot_c, stages = course.stage, basis.steady_c, basis.setup.plan.stages
    if place is None:
        return enter(course, S.BURN_DOWN, now_s)
    stage = stages[place]
    match stage.kind:
        case StageKind.FIXED:
            over = stage.for_s is None or now_s - course.stage_since_s >= stage.for_s
        case StageKind.CLIMB:
            course = count_heat_work(climb(course, place, hot_c, dt_s, basis), hot_c, dt_s)
            over = hot_c is not None and has_arrived(course, stage, place + 1 == len(stages), hot_c)
        case StageKind.SOAK:
            course, over = soak(course, stage, now_s, hot_c, dt_s, basis.setup.settings.limits)
    return begin_stage(course, place + 1, basis, now_s) if over else course


def soak(
    course: Course, stage: Stage, now_s: float, hot_c: float | None, dt_s: float, limits: LimitsTable
) -> tuple[Course, bool]:
    """The setpoint settles, and the time within the band counts. Whether the soak is over, or given up."""
    if course.setpoint_c is not None:
        settled_c = course.setpoint_c + slope_k_per_s(stage, None, course.setpoint_c, course.goal_c) * dt_s
        course = replace(course, setpoint_c=settled_c)
    gap_k = abs(rise_k(course.target_c, hot_c)) if hot_c is not None else None
    counts_s = dt_s if gap_k is not None and gap_k <= limits.soak_band_k else 0.0
    course = count_heat_work(replace(course, counted_s=course.counted_s + counts_s), hot_c, dt_s, counts_s)
    asked_s = stage.for_s if stage.for_s is not None else 0.0
    given_up = now_s - course.stage_since_s >= asked_s + limits.soak_over_s
    return course, course.counted_s >= asked_s or given_up


def has_arrived(course: Course, stage: Stage, last: bool, hot_c: float) -> bool:
    """Whether a climb is done at `hot_c`: at a cone's end, else NEAR_K before the end, or ARRIVED_K (not the last)."""
    if course.target_c is None or course.setpoint_c is None:
        return False
    setpoint_there = course.setpoint_c >= course.target_c - NEAR_K and not last
    near_k = 0.0 if stage.cone is not None else ARRIVED_K if setpoint_there else NEAR_K
    return hot_c >= course.target_c - near_k


def climb(course: Course, place: int, hot_c: float | None, dt_s: float, basis: Basis) -> Course:
    """The setpoint climbs at the plan's rate. It waits when the kiln can't follow or can't be read.

    A young fire with the feed at its floor may climb faster than the plan, and nothing can slow it. With a setpoint far
    below it the kiln would have to stand still later.
    """
    stages = basis.setup.plan.stages
    stage, after = stages[place], stages[place + 1] if place + 1 < len(stages) else None
    target_c = stage.target_c(basis.climb_c_per_h)
    setpoint_c = course.setpoint_c if course.setpoint_c is not None else hot_c
    if hot_c is None or setpoint_c is None or target_c is None or stage.rate_c_per_h is None:
        return course
    waits = setpoint_c - hot_c > basis.setup.settings.limits.wait_gap_k
    if not waits:
        climbs_to_c = setpoint_c + slope_k_per_s(stage, after, setpoint_c, target_c) * dt_s
        setpoint_c = max(min(end_c(stage, target_c), climbs_to_c), min(setpoint_c, target_c))
    young_c = basis.estimated_c
    if basis.limited_by is FeedLimit.FLOOR and young_c is not None and young_c < YOUNG_C:
        fastest_c = setpoint_c + GOES_ALONG * stage.rate_c_per_h * dt_s / 3600
        setpoint_c = max(setpoint_c, min(young_c - NEAR_K, target_c, fastest_c))
    return replace(course, setpoint_c=setpoint_c, target_c=target_c, waits=waits)


def burn_down(course: Course, readings: Readings, words: frozenset[Word], dt_s: float, limits: LimitsTable) -> Course:
    """The air stays on until the bed is out: the person's word after the shortest time, or the longest time."""
    gone_s = readings.now_s - course.since_s
    said = Word.BED_OUT in words and gone_s >= limits.burn_down_least_s
    if (said or gone_s >= limits.burn_down_most_s) and readings.flame_seen is not True:
        return enter(course, S.COOLING, readings.now_s)
    flows = has_airflow(readings, limits.draught_least_pa)
    return replace(course, counted_s=course.counted_s + dt_s if flows else 0.0)
