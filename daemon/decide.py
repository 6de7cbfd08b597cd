"""Decide: what the schedule would like to do now. Only a wish: `permit` is what a wish must pass to become a drive."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

from daemon.air import Air, AirOrder, AirTask, air_ready, next_air
from daemon.alarms import unseen
from daemon.answers import answered
from daemon.asks import Answer, Ask, Word
from daemon.attendance import Attendance, Call, next_attendance
from daemon.balance import Balance, next_balance
from daemon.course import ATTENDED, FEEDING, FIRE, Course, State, chamber_c, entered, probe_c
from daemon.feed import NO_FEED, Feed, FeedOrder, next_feed
from daemon.fire import Fire, next_fire
from daemon.heat import Heat, next_heat
from daemon.interlocks import SafeHorn
from daemon.interlocks.air import air_frac
from daemon.memory import BEAT_S, Memory
from daemon.passage import next_course
from daemon.pid import restarted
from daemon.pulse import Pulse, next_pulse
from daemon.resume import fire_taken_up
from daemon.settings import SCAN_S
from daemon.trace import Trace, next_trace
from hardware.port import Blind, Draught, NotFitted, Readings, Temperature

HORN_AFTER_LOCKOUT_S = 120.0
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
    fire: Fire
    heat: Heat
    reset: bool
    reset_since_s: float | None
    beat_s: float
    fed_s: float
    answers: tuple[Answer, ...]
    seen: bool
    """Somebody has seen the alarms."""
    traces: Mapping[str, Trace]
    balance: Balance | None


def decide(readings: Readings, asks: tuple[Ask, ...], memory: Memory) -> Wish:
    """The wish of this scan. Course, air and feed move on the beat and on a person's word; the pulse moves always."""
    now_s, settings = readings.now_s, memory.settings
    fed_s = memory.fed_s
    if memory.done.auger and memory.readings is not None:
        fed_s += max(now_s - memory.readings.now_s, 0.0)
    answers = tuple(answered(ask, readings, memory) for ask in asks) if asks else ()
    words = frozenset(a.ask.word for a in answers if a.accepted) if answers else SILENCE
    pressed = readings.confirm_pressed is True and (
        memory.readings is None or memory.readings.confirm_pressed is not True
    )
    reset, reset_since_s = reset_held(readings, memory)
    dt_s = now_s - memory.beat_s
    if not 0 <= dt_s < BEAT_S - SCAN_S / 2 or words or pressed or reset:  # a clock that went back beats at once
        step_s = min(max(dt_s, 0.0), 2 * BEAT_S)
        course = reset_course(readings, memory) if reset else next_course(readings, words, step_s, memory)
        air = next_air(memory.air, air_order(course, readings, memory), now_s, step_s, settings.air)
        feed = fed(course, readings, step_s, memory)
        present = bool(words) or pressed or course.state not in ATTENDED or reset
        attendance = next_attendance(memory.attendance, now_s, present, settings.attendance)
        if course.begun_s is not None and course.begun_s != memory.course.begun_s:
            fed_s = 0.0
        fire, heat = observed(course, readings, fed_s, memory)
        traces, balance = next_traces(readings, memory), balanced(course, readings, memory)
        beat_s = now_s
    else:
        course, air, feed, attendance = memory.course, memory.air, memory.feed, memory.attendance
        fire, heat, beat_s = memory.fire, memory.heat, memory.beat_s
        traces, balance = memory.traces, memory.balance
    pulse = next_pulse(memory.pulse, now_s, feed.frac, memory.done.auger, settings.pulse_limits)
    if memory.held:  # what an interlock held back is not made up for
        pulse = pulse._replace(owed_s=min(pulse.owed_s, 0.0))
    calls = memory.lockout is not None or attendance.call is not Call.QUIET or air.request is not None
    lamp = calls or (bool(memory.alarms) and unseen(memory.alarms))
    horn, seen = horn_calls(attendance, now_s, memory), pressed or Word.SEEN in words
    return Wish(
        pulse.closed, air.fan_frac, air.damper_frac, horn, lamp, course, feed, pulse, air, attendance, fire, heat,
        reset, reset_since_s, beat_s, fed_s, answers, seen, traces, balance,
    )  # fmt: skip


def balanced(course: Course, readings: Readings, memory: Memory) -> Balance | None:
    """The heat balance of this firing, while it is fed."""
    if course.begun_s != memory.course.begun_s:
        return None
    if course.state not in FEEDING:
        return memory.balance
    feed_kg_per_s = memory.feed.frac * memory.settings.kiln.auger_kg_per_h / 3600
    air = air_frac(readings, memory)
    return next_balance(
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
        return entered(memory.course, State.BURN_DOWN, now_s)
    if hot_c is None or hot_c >= memory.settings.limits.cold_c:
        return entered(memory.course, State.COOLING, now_s)
    return Course(since_s=now_s)


def air_order(course: Course, readings: Readings, memory: Memory) -> AirOrder:
    """What the state asks of the air. Less fuel before less air: a lower draught waits for the feed to come down."""
    value_pa = readings.draught.value_pa if isinstance(readings.draught, Draught) else None
    aim_pa = memory.air.aim_pa or 0.0
    match course.state:
        case State.PURGE:
            task = AirTask.PURGE
        case State.FIRE_PROVING:
            task = AirTask.LOWEST
        case State.LOCKED_OUT:
            cools = not course.lit and tube_warm(readings, memory)
            task = AirTask.COOL_TUBE if cools else AirTask.KEEP  # `permit` narrows it by the cause
        case State.COOLING:
            task = AirTask.COOL_TUBE if tube_warm(readings, memory) else AirTask.SHUT
        case State.WARM_UP | State.CLIMBING | State.SOAKING | State.BURN_DOWN:
            task = AirTask.HOLD
        case State.COLD | State.MADE_READY | State.LIT_BY_HAND | State.FINISHED:
            task = AirTask.STILL
    if task is AirTask.HOLD and course.stage is not None:
        stage = memory.plan.stages[course.stage]
        still_feeding = memory.feed.base > stage.feed_frac + 0.01
        aim_pa = max(aim_pa, stage.draught_pa) if still_feeding else stage.draught_pa
    elif task is AirTask.HOLD and aim_pa == 0.0:
        task = AirTask.LOWEST
    return AirOrder(task, aim_pa, value_pa, memory.plan.draught)


def tube_warm(readings: Readings, memory: Memory) -> bool:
    """The heat of a kiln that is shut up soaks back along the tube; once it blows the fan goes on for 10 K more."""
    tube, limit_c = readings.feed_tube, memory.settings.limits.feed_tube_warn_c
    if memory.air.fan_frac > 0.0:
        limit_c -= 10.0
    return isinstance(tube, Temperature) and tube.value_c >= limit_c


def fed(course: Course, readings: Readings, step_s: float, memory: Memory) -> Feed:
    """The feed the state asks for: none outside the feeding states."""
    if course.state not in FEEDING or course.stage is None:
        return NO_FEED
    settings, stage = memory.settings, memory.plan.stages[course.stage]
    chamber = readings.probes["chamber"]
    begin = memory.course.state not in FEEDING
    if begin and memory.course.state is State.BURN_DOWN:  # taken up again: a bed of embers takes half, and more slowly
        return Feed(stage.feed_frac / 2, stage.feed_frac / 2)
    order = FeedOrder(
        stage.feed_frac,
        course.aim_c if stage.trim else None,
        chamber.value_c if isinstance(chamber, Temperature) else None,
        air_ready(gauge_pa(readings.draught), stage.draught_pa),
        begin,
    )
    last = memory.feed
    if course.stage != memory.course.stage:  # another aim, another base: go on from the feed as it is
        last = replace(last, trim=restarted(last.trim))
    return next_feed(last, order, step_s, settings.gains, settings.feed_range)


def gauge_pa(draught: Draught | Blind | NotFitted) -> float | None:
    """The draught, or None where there is none to go by."""
    return draught.value_pa if isinstance(draught, Draught) else None


def observed(course: Course, readings: Readings, fed_s: float, memory: Memory) -> tuple[Fire, Heat]:
    """What is learnt about the fire and the heat on this beat."""
    chamber = readings.probes["chamber"]
    heat = memory.heat if course.begun_s == memory.course.begun_s else Heat()
    if course.state in FIRE and isinstance(chamber, Temperature):
        heat = next_heat(heat, readings.now_s, chamber.value_c)
    if course.state in FEEDING and memory.course.left is not None and course.left is None:
        return fire_taken_up(memory.course.left, readings, fed_s), heat
    if course.state not in FEEDING:
        seen_s = readings.now_s if readings.flame_seen is True else None
        return Fire(readings.now_s, sign_fed_s=fed_s, seen_s=seen_s), heat
    return next_fire(memory.fire, readings, fed_s), heat
