"""Decide: what the schedule would like to do now. Only a wish: `permit` is what a wish must pass to become a drive."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from daemon.control.air import Air, next_air
from daemon.control.atmosphere import air_order, gauge_pa, least_air, may_try, oxidises, wanted_ratio
from daemon.control.feed import LEAD_S, NO_FEED, Feed, FeedLimit, FeedOrder, next_feed
from daemon.control.pulse import Pulse, next_pulse
from daemon.control.setpoint import hold_target_c, preview_c
from daemon.course.alarms import has_unseen
from daemon.course.answers import answer
from daemon.course.asks import Answer, Ask, Word
from daemon.course.attendance import Attendance, Call, next_attendance
from daemon.course.resume import signs_after_resume
from daemon.course.state import ATTENDED, FEEDING, FIRE, Course, State, chamber_c, enter, probe_c
from daemon.course.transitions import next_course
from daemon.fire.air_trial import next_period
from daemon.fire.bed import charcoal_bed
from daemon.fire.estimate import NO_ESTIMATE, Estimate, Observation, next_estimate, start_heat_balance
from daemon.fire.probe_drift import ProbeDrift, next_probe_drift
from daemon.fire.signs import FireSigns, next_signs
from daemon.fire.trace import Trace, next_trace
from daemon.interlocks import SafeHorn
from daemon.interlocks.air import air_frac
from daemon.memory import BEAT_S, Memory
from daemon.plans.heat_work import Climb, next_climb
from daemon.settings import SCAN_S
from hardware.port import AirRatio, NotFitted, Readings, Temperature

HORN_AFTER_LOCKOUT_S = 120.0
BEHIND_K = 5.0
LEANER_PER_S, LEANEST = 0.02 / 60, 0.08
"""Where power is short: how fast the wanted air ratio comes down, and by how much at most."""
SILENCE: frozenset[Word] = frozenset()


class Wish(NamedTuple):
    """What the schedule would like, with the parts it was made from."""

    auger: bool
    fan_frac: float
    damper_frac: float
    horn: bool
    lamp: bool
    course: Course
    feed: Feed
    pulse: Pulse
    air: Air
    attendance: Attendance
    fire: FireSigns
    heat: Climb
    reset: bool
    reset_since_s: float | None
    beat_s: float
    fed_s: float
    answers: tuple[Answer, ...]
    seen: bool
    """Somebody has seen the alarms."""
    traces: Mapping[str, Trace]
    balance: ProbeDrift | None
    hearth: Estimate


def decide(readings: Readings, asks: tuple[Ask, ...], memory: Memory) -> Wish:
    """The wish of this scan. Course, air and feed move on the beat and on a person's word; the pulse moves always."""
    now_s, settings = readings.now_s, memory.settings
    fed_s = memory.fed_s
    if memory.done.auger and memory.readings is not None:
        fed_s += max(now_s - memory.readings.now_s, 0.0)
    answers = tuple(answer(ask, readings, memory) for ask in asks) if asks else ()
    words = frozenset(a.ask.word for a in answers if a.accepted) if answers else SILENCE
    pressed = readings.confirm_pressed is True and (
        memory.readings is None or memory.readings.confirm_pressed is not True
    )
    reset, reset_since_s = reset_held(readings, memory)
    dt_s = now_s - memory.beat_s
    if not 0 <= dt_s < BEAT_S - SCAN_S / 2 or words or pressed or reset:  # a clock that went back beats at once
        step_s = min(max(dt_s, 0.0), 2 * BEAT_S)
        course = reset_course(readings, memory) if reset else next_course(readings, words, step_s, memory)
        if course.begun_s is not None and course.begun_s != memory.course.begun_s:
            fed_s = 0.0
        hearth = known(course, readings, fed_s, step_s, memory)
        feed = fed(course, readings, hearth, step_s, memory)
        air = next_air(memory.air, air_order(course, readings, hearth, feed, memory), now_s, step_s, settings.air)
        present = bool(words) or pressed or course.state not in ATTENDED or reset
        attendance = next_attendance(memory.attendance, now_s, present, settings.attendance)
        fire, heat = observed(course, readings, fed_s, memory)
        traces, balance = next_traces(readings, memory), balanced(course, readings, memory)
        beat_s = now_s
    else:
        course, air, feed, attendance = memory.course, memory.air, memory.feed, memory.attendance
        fire, heat, beat_s = memory.fire, memory.heat, memory.beat_s
        traces, balance, hearth = memory.traces, memory.balance, memory.hearth
    pulse = next_pulse(memory.pulse, now_s, feed.frac, memory.done.auger, settings.pulse_limits)
    if memory.held:  # what an interlock held back is not made up for
        pulse = pulse._replace(owed_s=min(pulse.owed_s, 0.0))
    calls = memory.lockout is not None or attendance.call is not Call.QUIET or air.request is not None
    lamp = calls or (bool(memory.alarms) and has_unseen(memory.alarms))
    horn, seen = horn_calls(attendance, now_s, memory), pressed or Word.SEEN in words
    return Wish(
        pulse.closed, air.fan_frac, air.damper_frac, horn, lamp, course, feed, pulse, air, attendance, fire, heat,
        reset, reset_since_s, beat_s, fed_s, answers, seen, traces, balance, hearth,
    )  # fmt: skip


def balanced(course: Course, readings: Readings, memory: Memory) -> ProbeDrift | None:
    """The heat balance of this firing, while it is fed."""
    if course.begun_s != memory.course.begun_s:
        return None
    if course.state not in FEEDING:
        return memory.balance
    feed_kg_per_s = memory.feed.frac * memory.settings.kiln.auger_kg_per_h / 3600
    air = air_frac(readings, memory)
    return next_probe_drift(
        memory.balance, readings.now_s, chamber_c(readings), probe_c(readings, "flue"), feed_kg_per_s,
        gauge_pa(readings.draught), 1.0 if air is None else air,
    )  # fmt: skip


def next_traces(readings: Readings, memory: Memory) -> Mapping[str, Trace]:
    """What each probe has shown so far."""
    return {name: next_trace(memory.traces.get(name), readings.now_s, p) for name, p in readings.probes.items()}


def horn_calls(attendance: Attendance, now_s: float, memory: Memory) -> bool:
    """The horn calls for attendance, and to a lock-out for as long as its cause says or until it is acknowledged."""
    if attendance.call in (Call.HORN, Call.OVERDUE):
        return True
    lockout = memory.lockout
    calling = [alarm.finding.since_s for alarm in memory.alarms if alarm.latched and not alarm.acknowledged]
    if lockout is None or not calling:
        return False
    match lockout.safe.horn:
        case SafeHorn.UNTIL_SEEN:
            return True
        case SafeHorn.TWO_MINUTES:  # of the latest: one that comes later into a lock-out calls as well
            return now_s - max(lockout.at_s, *calling) < HORN_AFTER_LOCKOUT_S


def reset_held(readings: Readings, memory: Memory) -> tuple[bool, float | None]:
    """Whether the reset button was held long enough in a lock-out and let go, and since when it is held.

    It must be seen up before, and it counts when it comes up again: a button that jams resets nothing.
    """
    last, since_s, limits = memory.readings, memory.reset_since_s, memory.settings.limits
    if memory.lockout is None or last is None:
        return False, None
    if readings.reset_pressed is True:
        begins = since_s is None and last.reset_pressed is False
        return False, readings.now_s if begins else since_s
    held_s = last.now_s - since_s if since_s is not None else 0.0
    return limits.reset_held_s - SCAN_S / 2 <= held_s <= limits.reset_jammed_s, None


def reset_course(readings: Readings, memory: Memory) -> Course:
    """After a reset: what may still burn burns down, what is hot or can't be read cools, else the kiln is cold."""
    now_s, hot_c = readings.now_s, chamber_c(readings)
    if memory.course.lit:
        return enter(memory.course, State.BURN_DOWN, now_s)
    if hot_c is None or hot_c >= memory.settings.limits.cold_c:
        return enter(memory.course, State.COOLING, now_s)
    return Course(since_s=now_s)


def fed(course: Course, readings: Readings, hearth: Estimate, step_s: float, memory: Memory) -> Feed:
    """The feed the state asks for: none outside the feeding states."""
    if course.state not in FEEDING or course.stage is None:
        return NO_FEED
    settings, stage, stages = memory.settings, memory.plan.stages[course.stage], memory.plan.stages
    hot_c = chamber_c(readings)
    aim_c = course.aim_c if course.aim_c is not None else hot_c or 0.0
    soon_c, later_c = aim_c, aim_c
    if stage.trim and not course.waits:
        soon_c, later_c = preview_c(stages, course.stage, aim_c, hold_target_c(course), (LEAD_S, 2 * LEAD_S))
    ratio = wanted_ratio(course, readings, hearth, memory)
    order = FeedOrder(
        None if stage.trim else stage.feed_frac, aim_c, soon_c, later_c, ratio, least_air(hearth, memory), hot_c is None
    )
    feed = next_feed(memory.feed, order, hearth, settings.feed_range, step_s)
    if memory.course.state is State.BURN_DOWN:  # taken up again: a bed of embers takes half, and more slowly
        return feed._replace(frac=feed.frac / 2, clamp=FeedLimit.EMBERS, most_frac=feed.frac / 2)
    return feed


def known(course: Course, readings: Readings, fed_s: float, step_s: float, memory: Memory) -> Estimate:
    """What is known of the fire from now on; nothing while nothing can burn."""
    if not course.lit:
        return NO_ESTIMATE
    means, now_s, hot_c = memory.settings.means(memory.plan), readings.now_s, chamber_c(readings)
    hearth = Estimate(now_s, fed_s) if memory.hearth is NO_ESTIMATE else memory.hearth
    oxygen, draught = readings.oxygen, readings.draught
    if course.state is State.FIRE_PROVING and memory.course.state is not State.FIRE_PROVING:
        hearth = Estimate(now_s, fed_s, charcoal_bed(memory.settings.kiln.charcoal_kg))
    if course.state in FEEDING:
        hearth = start_heat_balance(hearth, now_s, hot_c, means)
    elif course.state is State.LOCKED_OUT:  # hours may go by, and nobody knows what is done to the kiln
        hearth = hearth._replace(warmth=None)
    seen = Observation(
        now_s, hot_c, probe_c(readings, "flue"), not isinstance(draught, NotFitted), gauge_pa(draught),
        oxygen.value if isinstance(oxygen, AirRatio) else None, fed_s,
    )  # fmt: skip
    hearth = next_estimate(hearth, seen, means)
    behind_k = (memory.course.aim_c or 0.0) - hot_c if hot_c is not None else 0.0
    short = memory.feed.clamp is FeedLimit.CEILING and behind_k > BEHIND_K
    leaner = min(max(hearth.leaner + (LEANER_PER_S if short else -LEANER_PER_S) * step_s, 0.0), LEANEST)
    reduces = memory.feed.ratio is not None and memory.feed.ratio < 1.0
    may, ends = may_try(course, readings, hearth, memory), not oxidises(course, memory)
    dither = next_period(hearth.dither, now_s, may, ends)
    return hearth._replace(leaner=leaner, reduced_s=hearth.reduced_s + (step_s if reduces else 0.0), dither=dither)


def observed(course: Course, readings: Readings, fed_s: float, memory: Memory) -> tuple[FireSigns, Climb]:
    """What is learnt about the fire and the heat on this beat."""
    chamber = readings.probes["chamber"]
    heat = memory.heat if course.begun_s == memory.course.begun_s else Climb()
    if course.state in FIRE and isinstance(chamber, Temperature):
        heat = next_climb(heat, readings.now_s, chamber.value_c)
    if course.state in FEEDING and memory.course.left is not None and course.left is None:
        return signs_after_resume(memory.course.left, readings, fed_s), heat
    if course.state not in FEEDING:
        seen_s = readings.now_s if readings.flame_seen is True else None
        return FireSigns(readings.now_s, sign_fed_s=fed_s, seen_s=seen_s), heat
    return next_signs(memory.fire, readings, fed_s, memory.hearth.dead_k_per_s), heat
