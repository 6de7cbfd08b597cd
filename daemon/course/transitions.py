"""The passage from state to state: on the person's word, the readings and the time. `TRANSITIONS` is the map."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from daemon.control.feed import FeedLimit
from daemon.control.setpoint import end_c, hold_target_c, slope_k_per_s
from daemon.course.asks import Word
from daemon.course.resume import resume
from daemon.course.state import FIRE, STATE_OF_KIND, Course, S, chamber_c, enter, has_airflow, probe_c
from daemon.plans.heat_work import climb_work_s, work_s
from daemon.plans.plan import Stage, StageKind
from hardware.port import Readings

if TYPE_CHECKING:
    from daemon.memory import Memory

YOUNG_C = 600.0  # below it no cone feels whether the kiln is a few degrees ahead
GOES_ALONG = 1.0  # of the plan's rate, and on top of it: a kiln that runs away still gets ahead of the line
NEAR_K = 2.0  # a climb is done this near its end: the rest belongs to the soak, whose band is wider ...
ARRIVED_K = 5.0  # ... or this near once the line has come there: lingering would be heat work that nobody asked for


def next_course(readings: Readings, words: frozenset[Word], dt_s: float, memory: Memory) -> Course:
    """The course after `dt_s`, by the person's words and the readings."""
    now_s, course = readings.now_s, memory.course
    match course.state:
        case S.MADE_READY | S.PURGE if Word.BURN_DOWN in words:
            return Course(since_s=now_s)
        case state if Word.BURN_DOWN in words and state in FIRE | {S.LIT_BY_HAND}:
            return enter(course, S.BURN_DOWN, now_s)
        case S.COLD | S.FINISHED | S.COOLING if Word.MADE_READY in words and chamber_c(readings) is not None:
            return Course(S.MADE_READY, now_s)
        case S.COOLING if (cool_c := chamber_c(readings)) is not None and cool_c < memory.settings.limits.cold_c:
            return enter(course, S.FINISHED, now_s)
        case S.MADE_READY if Word.BEGIN in words:
            return replace(course, state=S.PURGE, since_s=now_s, begun_s=now_s, counted_s=0.0)
        case S.PURGE:
            return purge(course, readings, dt_s, memory)
        case S.LIT_BY_HAND if Word.LIT in words:
            flue_c = probe_c(readings, "flue")
            return replace(
                course, state=S.FIRE_PROVING, since_s=now_s, counted_s=0.0, lit=True,
                start_c=chamber_c(readings), start_flue_c=flue_c,
            )  # fmt: skip
        case S.FIRE_PROVING:
            return prove(course, readings, dt_s, memory)
        case S.WARM_UP | S.CLIMBING | S.SOAKING:
            return advance(course, readings, dt_s, memory)
        case S.BURN_DOWN if Word.RESUME in words:
            return resume(course, readings)
        case S.BURN_DOWN:
            return burn_down(course, readings, words, dt_s, memory)
        case _:
            return course


def purge(course: Course, readings: Readings, dt_s: float, memory: Memory) -> Course:
    """Purge time counts only while airflow is proven, and starts again when it is lost."""
    if not has_airflow(readings, memory.settings.limits.draught_least_pa):
        return course if course.counted_s == 0 else replace(course, counted_s=0.0)
    counted_s = course.counted_s + dt_s
    dark = course.eye_was_dark or readings.flame_seen is False
    if counted_s >= memory.settings.purge_s:
        return replace(course, state=S.LIT_BY_HAND, since_s=readings.now_s, counted_s=0.0, lit=True, eye_was_dark=dark)
    return replace(course, counted_s=counted_s, eye_was_dark=dark)


def prove(course: Course, readings: Readings, dt_s: float, memory: Memory) -> Course:
    """The fire is proven by a flame seen steadily, or by flue or chamber getting clearly warmer."""
    limits = memory.settings.limits
    counted_s = course.counted_s + dt_s if readings.flame_seen is True and course.eye_was_dark else 0.0
    low_c = lower_c(course.start_c, chamber_c(readings))
    low_flue_c = lower_c(course.start_flue_c, probe_c(readings, "flue"))
    risen = rise_k(low_c, chamber_c(readings)) >= limits.proven_chamber_rise_k
    risen = risen or rise_k(low_flue_c, probe_c(readings, "flue")) >= limits.proven_flue_rise_k
    if counted_s >= limits.proven_flame_s or risen:
        return begin_stage(replace(course, counted_s=0.0, lit=True), 0, readings, memory)
    return replace(course, counted_s=counted_s, start_c=low_c, start_flue_c=low_flue_c)


def lower_c(before_c: float | None, now_c: float | None) -> float | None:
    """The lower of two temperatures of which either may be unknown."""
    return now_c if before_c is None else before_c if now_c is None else min(before_c, now_c)


def rise_k(from_c: float | None, to_c: float | None) -> float:
    """How far it rose, K; nothing where either end is unknown."""
    return 0.0 if from_c is None or to_c is None else to_c - from_c


def begin_stage(course: Course, stage: int, readings: Readings, memory: Memory) -> Course:
    """The next stage begins, or the burn-down after the last one."""
    if stage >= len(memory.plan.stages):
        return enter(course, S.BURN_DOWN, readings.now_s)
    plan = memory.plan.stages[stage]
    state = STATE_OF_KIND[plan.kind]
    since_s = course.since_s if state is course.state else readings.now_s
    aim_c = None if plan.kind is StageKind.FIXED else course.aim_c if course.aim_c is not None else chamber_c(readings)
    if plan.kind is StageKind.SOAK and course.target_c is not None and aim_c is not None:
        aim_c = min(max(aim_c, course.target_c - NEAR_K), course.target_c)
    target_c = plan.target_c(memory.heat.rate_c_per_h) if plan.kind is StageKind.CLIMB else course.target_c
    owed_s = work_of_climb_s(course, plan, aim_c, target_c) if plan.kind is StageKind.CLIMB else course.owed_s
    return replace(course, state=state, since_s=since_s, stage=stage, stage_since_s=readings.now_s, aim_c=aim_c,
                   target_c=target_c, counted_s=0.0, waits=False, owed_s=owed_s)  # fmt: skip


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


def advance(course: Course, readings: Readings, dt_s: float, memory: Memory) -> Course:
    """Within a stage: time runs, the aim climbs, the soak counts; at its end the next stage begins."""
    place, now_s, hot_c = course.stage, readings.now_s, chamber_c(readings)
    if place is None:
        return enter(course, S.BURN_DOWN, now_s)
    stage = memory.plan.stages[place]
    match stage.kind:
        case StageKind.FIXED:
            over = now_s - course.stage_since_s >= (stage.for_s or 0.0)
        case StageKind.CLIMB:
            course = count_heat_work(climb(course, stage, hot_c, dt_s, memory), hot_c, dt_s)
            over = hot_c is not None and has_arrived(course, stage, place + 1 == len(memory.plan.stages), hot_c)
        case StageKind.SOAK:
            if course.aim_c is not None:
                settled_c = course.aim_c + slope_k_per_s(stage, None, course.aim_c, hold_target_c(course)) * dt_s
                course = replace(course, aim_c=settled_c)
            gap_k = abs(rise_k(course.target_c, hot_c)) if hot_c is not None else None
            counts_s = dt_s if gap_k is not None and gap_k <= memory.settings.limits.soak_band_k else 0.0
            course = count_heat_work(replace(course, counted_s=course.counted_s + counts_s), hot_c, dt_s, counts_s)
            asked_s = stage.for_s or 0.0
            given_up = now_s - course.stage_since_s >= asked_s + memory.settings.limits.soak_over_s
            over = course.counted_s >= asked_s or given_up
    return begin_stage(course, place + 1, readings, memory) if over else course


def has_arrived(course: Course, stage: Stage, last: bool, hot_c: float) -> bool:
    """Whether a climb is done at `hot_c`. A cone is down or it is not, and the last of all has to get there itself."""
    if course.target_c is None or course.aim_c is None:
        return False
    line_there = course.aim_c >= course.target_c - NEAR_K and not last
    near_k = 0.0 if stage.cone is not None else ARRIVED_K if line_there else NEAR_K
    return hot_c >= course.target_c - near_k


def climb(course: Course, stage: Stage, hot_c: float | None, dt_s: float, memory: Memory) -> Course:
    """The aim climbs at the plan's rate, waits when the kiln can't follow or can't be read, and goes along with it.

    A young fire with the feed at its floor may still climb faster than the plan: nothing can hold it, and a line left
    behind would only make the kiln stand still later.
    """
    target_c = stage.target_c(memory.heat.rate_c_per_h)
    aim_c = course.aim_c if course.aim_c is not None else hot_c
    if hot_c is None or aim_c is None or target_c is None or stage.rate_c_per_h is None:
        return course
    waits, warmth = aim_c - hot_c > memory.settings.limits.wait_gap_k, memory.hearth.warmth
    if not waits:
        place, stages = course.stage or 0, memory.plan.stages
        after = stages[place + 1] if place + 1 < len(stages) else None
        climbs_to_c = aim_c + slope_k_per_s(stage, after, aim_c, target_c) * dt_s
        aim_c = max(min(end_c(stage, target_c), climbs_to_c), min(aim_c, target_c))
    if memory.feed.clamp is FeedLimit.FLOOR and warmth is not None and warmth.chamber_c < YOUNG_C:
        fastest_c = aim_c + GOES_ALONG * stage.rate_c_per_h * dt_s / 3600
        aim_c = max(aim_c, min(warmth.chamber_c - NEAR_K, target_c, fastest_c))
    return replace(course, aim_c=aim_c, target_c=target_c, waits=waits)


def burn_down(course: Course, readings: Readings, words: frozenset[Word], dt_s: float, memory: Memory) -> Course:
    """The air stays on until the bed is out: the person's word after the shortest time, or the longest time."""
    limits, gone_s = memory.settings.limits, readings.now_s - course.since_s
    seen = readings.flame_seen is True
    told = Word.BED_OUT in words and gone_s >= limits.burn_down_least_s
    over = (told or gone_s >= limits.burn_down_most_s) and not seen
    if over:
        return enter(course, S.COOLING, readings.now_s)
    flows = has_airflow(readings, limits.draught_least_pa)
    return replace(course, counted_s=course.counted_s + dt_s if flows else 0.0)
