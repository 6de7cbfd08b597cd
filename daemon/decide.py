"""Decide: what the schedule would like to do now. Only a wish: `permit` is what a wish must pass to become a drive."""

from __future__ import annotations

from collections.abc import Mapping

from daemon.beat import BEAT_S, Beat
from daemon.control.air import AirOrder, AirTask, DraughtHold, next_air
from daemon.control.atmosphere import (
    draught_for_pa,
    gauge_pa,
    is_oxidation,
    is_tube_warm,
    least_air_kg_per_h,
    may_try,
    wanted_air_ratio,
    wanted_draught,
)
from daemon.control.feed import LEAD_S, NO_FEED, Feed, FeedLimit, FeedOrder, next_feed
from daemon.control.pulse import next_pulse
from daemon.control.setpoint import preview_c
from daemon.course.alarms import has_unseen
from daemon.course.answers import answer
from daemon.course.asks import Ask, Word
from daemon.course.attendance import Attendance, Call, next_attendance
from daemon.course.resume import signs_after_resume
from daemon.course.state import ATTENDED, FEEDING, FIRE, Course, State, chamber_c, probe_c
from daemon.course.transitions import Basis, next_course
from daemon.fire.air_trial import next_period
from daemon.fire.bed import charcoal_bed
from daemon.fire.estimate import NO_ESTIMATE, Estimate, Observation, next_estimate, start_heat_balance
from daemon.fire.probe_drift import ProbeDrift, next_probe_drift
from daemon.fire.signs import FireSigns, asks_fire, next_signs
from daemon.fire.trace import ProbeTrace, next_trace
from daemon.interlocks.airflow import air_frac
from daemon.interlocks.interlock import SafeHorn
from daemon.lockout import course_after_reset
from daemon.memory import Memory
from daemon.plans.heat_work import Climb, next_climb
from daemon.plans.plan import Stage
from daemon.reset_button import next_reset_button
from daemon.row import Wish
from daemon.settings import SCAN_S
from hardware.port import AirRatio, NotFitted, Readings

HORN_AFTER_LOCKOUT_S = 120.0
"""How long the horn calls to a lock-out whose cause asks for no more: `SafeHorn.TWO_MINUTES`."""
BEHIND_K, LEANER_PER_S, LEANEST = 5.0, 0.02 / 60, 0.08
"""While the feed is at its ceiling and the kiln is more than BEHIND_K behind, the wanted air ratio comes down by
LEANER_PER_S, and by LEANEST at most. Found on the bench: `python -m tests.bench.control`."""
FROM_AFAR = frozenset({Word.SEEN, Word.STOP})
"""What can be said from anywhere: it doesn't show that somebody is at the kiln."""
CLEAN_RATIO, EMBERS_KG_PER_H = 1.3, 0.5
"""A burn-down gives what burns this air ratio. Where no draught was held before, it does so only if more than
EMBERS_KG_PER_H burns; else the fan is at its lowest (memory)."""
SILENCE: frozenset[Word] = frozenset()


def decide(readings: Readings, asks: tuple[Ask, ...], memory: Memory) -> Wish:
    """The wish of this scan. Course, air and feed move on the beat and on a person's word; the pulse moves always."""
    now_s, settings, last = readings.now_s, memory.setup.settings, memory.readings
    fed_s = memory.auger.fed_s
    if memory.done.auger and last is not None:
        fed_s += max(now_s - last.now_s, 0.0)
    answers = tuple(answer(ask, readings, memory.circumstances) for ask in asks) if asks else ()
    words = frozenset(a.ask.word for a in answers if a.accepted) if answers else SILENCE
    pressed = readings.confirm_pressed is True and (last is None or last.confirm_pressed is not True)
    locked_out = memory.lockout is not None
    reset_button, reset = next_reset_button(memory.reset_button, readings, last, locked_out, settings.limits)
    beat = memory.beat
    dt_s = now_s - beat.at_s if beat.at_s is not None else 2 * BEAT_S
    if not 0 <= dt_s < BEAT_S - SCAN_S / 2 or words or pressed or reset:  # a clock that went back beats at once
        step_s = min(max(dt_s, 0.0), 2 * BEAT_S)
        beat, fed_s = next_beat(readings, words, pressed, reset, fed_s, step_s, memory)
    feed, air, attendance = beat.feed, beat.air, beat.attendance
    pulse = next_pulse(memory.pulse, now_s, feed.frac, memory.done.auger, settings.pulse_limits, memory.feed_held)
    calls = locked_out or attendance.call is not Call.QUIET or air.request is not None
    return Wish(
        auger=pulse.closed,
        fan_frac=air.fan_frac,
        damper_frac=air.damper_frac,
        horn=horn_calls(attendance, now_s, memory),
        lamp=calls or (bool(memory.alarms) and has_unseen(memory.alarms)),
        beat=beat,
        pulse=pulse,
        reset=reset,
        reset_button=reset_button,
        fed_s=fed_s,
        answers=answers,
        alarms_seen=pressed or Word.SEEN in words,
    )


def next_beat(
    readings: Readings, words: frozenset[Word], pressed: bool, reset: bool, fed_s: float, step_s: float,
    memory: Memory,
) -> tuple[Beat, float]:  # fmt: skip
    """The beat `step_s` (s) later, and the auger time of this firing: a new one counts from nothing.

    In this order: where the firing is, what is known of the fire, what is fed, what air that takes, who is there.
    """
    now_s, settings, last = readings.now_s, memory.settings, memory.beat
    traces = traces_of(readings, last.traces)
    if reset:
        course = course_after_reset(last.course, readings, settings.limits)
    else:
        balance = last.estimate.balance
        estimated_c = balance.chamber_c if balance is not None else None
        basis = Basis(
            memory.setup, steady_c(traces, "chamber"), steady_c(traces, "flue"), last.climb.rate_c_per_h,
            last.feed.limited_by, estimated_c, memory.record_trouble is None,
        )  # fmt: skip
        course = next_course(last.course, readings, words, step_s, basis)
    if course.begun_s is not None and course.begun_s != last.course.begun_s:
        fed_s = 0.0
    estimate = estimate_of(course, readings, fed_s, step_s, memory)
    feed = feed_of(course, readings, estimate, step_s, memory)
    air = next_air(last.air, air_order(course, readings, estimate, feed, memory), now_s, step_s, settings.air)
    present = bool(words - FROM_AFAR) or pressed or course.state not in ATTENDED or reset
    return Beat(
        at_s=now_s,
        course=course,
        feed=feed,
        air=air,
        attendance=next_attendance(last.attendance, now_s, present, settings.attendance),
        signs=signs_of(course, readings, fed_s, last),
        climb=climb_of(course, now_s, steady_c(traces, "chamber"), last),
        traces=traces,
        drift=drift_of(course, readings, memory),
        estimate=estimate,
    ), fed_s


def stage_of(course: Course, memory: Memory) -> Stage | None:
    """The plan's stage that the firing is in, if any."""
    return memory.plan.stages[course.stage] if course.stage is not None else None


def feed_of(course: Course, readings: Readings, estimate: Estimate, step_s: float, memory: Memory) -> Feed:
    """The feed the state asks for: none outside the feeding states."""
    stage, settings, last = stage_of(course, memory), memory.settings, memory.beat
    if course.state not in FEEDING or stage is None or course.stage is None:
        return NO_FEED
    hot_c = chamber_c(readings)
    setpoint_c = course.setpoint_c if course.setpoint_c is not None else hot_c if hot_c is not None else 0.0
    ahead_c, further_c = setpoint_c, setpoint_c
    if stage.trim and not course.waits:
        by_s = (LEAD_S, 2 * LEAD_S)
        ahead_c, further_c = preview_c(memory.plan.stages, course.stage, setpoint_c, course.goal_c, by_s)
    order = FeedOrder(
        fixed_frac=None if stage.trim else stage.feed_frac,
        setpoint_c=setpoint_c,
        ahead_c=ahead_c,
        further_c=further_c,
        wanted_air_ratio=wanted_air_ratio(
            stage, readings, estimate, last.feed, last.course.setpoint_c, settings.limits
        ),
        least_air_kg_per_h=least_air_kg_per_h(estimate, last.air, memory.setup),
        blind=hot_c is None,
        asks_fire=asks_fire(last.signs, memory.unproven_kg, settings.unproven_most_kg),
    )
    feed = next_feed(last.feed, order, estimate, settings.feed_range, step_s)
    if memory.jammed and feed.frac > last.feed.frac:  # more of what doesn't fall would all come when the jam gives way
        return last.feed._replace(limited_by=FeedLimit.JAM)
    if last.course.state is State.BURN_DOWN:  # taken up again: a bed of embers takes half, and more slowly
        half_frac = feed.frac / 2
        return feed._replace(frac=half_frac, limited_by=FeedLimit.EMBERS, embers_frac=half_frac)
    return feed


def air_order(course: Course, readings: Readings, estimate: Estimate, feed: Feed, memory: Memory) -> AirOrder:
    """What the state asks of the air."""
    setup, air, limits = memory.setup, memory.beat.air, memory.settings.limits
    setpoint_pa, hold = air.setpoint_pa if air.setpoint_pa is not None else 0.0, DraughtHold.EXACT
    pa = gauge_pa(readings.draught)
    match course.state:
        case State.PURGE:
            task = AirTask.PURGE
        case State.FIRE_PROVING:
            task = AirTask.LOWEST
        case State.LOCKED_OUT:
            cools = not course.lit and is_tube_warm(readings, air.fan_frac, limits)
            task = AirTask.COOL_TUBE if cools else AirTask.KEEP  # `permit` narrows it by the cause
        case State.COOLING:
            task = AirTask.COOL_TUBE if is_tube_warm(readings, air.fan_frac, limits) else AirTask.SHUT
        case State.WARM_UP | State.CLIMBING | State.SOAKING:
            task, stage = AirTask.HOLD, stage_of(course, memory)
            if stage is not None:
                setpoint_pa, hold = wanted_draught(stage, estimate, feed, air, memory.unproven_kg, setup)
        case State.BURN_DOWN:  # what still burns has its air: a reduction ends clean
            burns = estimate.bed.burns_kg_per_h
            task = AirTask.HOLD if setpoint_pa > 0 or burns > EMBERS_KG_PER_H else AirTask.LOWEST
            if setup.settings.air.by == "hand" and pa is not None and pa != 0:  # it may not be done yet
                setpoint_pa = pa
            setpoint_pa = max(setpoint_pa, draught_for_pa(burns, CLEAN_RATIO, estimate, setup))
            hold = DraughtHold.FOR_FUEL
        case State.COLD | State.MADE_READY | State.LIT_BY_HAND | State.FINISHED:
            task = AirTask.STILL
    return AirOrder(
        task=task, setpoint_pa=setpoint_pa, draught_pa=pa, unit=setup.plan.draught, hold=hold,
        gauged=not isinstance(readings.draught, NotFitted),
    )  # fmt: skip


def estimate_of(course: Course, readings: Readings, fed_s: float, step_s: float, memory: Memory) -> Estimate:
    """What is known of the fire from now on; nothing while nothing can burn."""
    if not course.lit:
        return NO_ESTIMATE
    last, calibration, now_s, hot_c = memory.beat, memory.setup.calibration, readings.now_s, chamber_c(readings)
    estimate = Estimate(now_s, fed_s) if last.estimate is NO_ESTIMATE else last.estimate
    oxygen, draught = readings.oxygen, readings.draught
    if course.state is State.FIRE_PROVING and last.course.state is not State.FIRE_PROVING:
        estimate = Estimate(now_s, fed_s, charcoal_bed(memory.settings.kiln.charcoal_kg))
    if course.state in FEEDING:
        estimate = start_heat_balance(estimate, now_s, hot_c, calibration)
    elif course.state is State.LOCKED_OUT:  # hours may go by, and nobody knows what is done to the kiln
        estimate = estimate._replace(balance=None)
    seen = Observation(
        now_s=now_s, chamber_c=hot_c, flue_c=probe_c(readings, "flue"), gauged=not isinstance(draught, NotFitted),
        draught_pa=gauge_pa(draught), oxygen_air_ratio=oxygen.value if isinstance(oxygen, AirRatio) else None,
        fed_s=fed_s,
    )  # fmt: skip
    estimate = next_estimate(estimate, seen, calibration)
    stage, air_table = stage_of(course, memory), memory.settings.air
    may = may_try(stage, course.setpoint_c, course.waits, readings, estimate, last.feed, last.air, air_table)
    ratio = last.feed.wanted_air_ratio
    return estimate._replace(
        leaner_by=leaner_by(hot_c, estimate.leaner_by, step_s, last),
        reduced_s=estimate.reduced_s + (step_s if ratio is not None and ratio < 1.0 else 0.0),
        trial=next_period(estimate.trial, now_s, may, ends=not is_oxidation(stage)),
    )


def leaner_by(hot_c: float | None, leaner: float, step_s: float, last: Beat) -> float:
    """By how much the wanted air ratio comes down: while the auger is at its ceiling and the kiln falls behind."""
    behind_k = 0.0
    if hot_c is not None:
        behind_k = (last.course.setpoint_c if last.course.setpoint_c is not None else 0.0) - hot_c
    short = last.feed.limited_by is FeedLimit.CEILING and behind_k > BEHIND_K
    return min(max(leaner + (LEANER_PER_S if short else -LEANER_PER_S) * step_s, 0.0), LEANEST)


def signs_of(course: Course, readings: Readings, fed_s: float, last: Beat) -> FireSigns:
    """The signs of fire. A firing that is taken up again begins with what was unproven before it stopped."""
    if course.state in FEEDING:
        left_off = last.course.left_off
        if left_off is not None and course.left_off is None:
            return signs_after_resume(left_off, readings, fed_s)
        return next_signs(last.signs, readings, fed_s)
    return FireSigns(readings.now_s, sign_fed_s=fed_s, flame_s=readings.now_s)


def climb_of(course: Course, now_s: float, hot_c: float | None, last: Beat) -> Climb:
    """The climb of this firing so far, by the steady chamber."""
    climb = last.climb if course.begun_s == last.course.begun_s else Climb()
    return next_climb(climb, now_s, hot_c) if course.state in FIRE and hot_c is not None else climb


def traces_of(readings: Readings, last: Mapping[str, ProbeTrace]) -> Mapping[str, ProbeTrace]:
    """What each probe has shown so far."""
    return {name: next_trace(last.get(name), readings.now_s, probe) for name, probe in readings.probes.items()}


def steady_c(traces: Mapping[str, ProbeTrace], name: str) -> float | None:
    """A probe's temperature that no single false reading moves, °C; None where there is none."""
    trace = traces.get(name)
    return trace.steady_c if trace is not None else None


def drift_of(course: Course, readings: Readings, memory: Memory) -> ProbeDrift | None:
    """The watch on the chamber probe, while this firing is fed."""
    last = memory.beat
    if course.begun_s != last.course.begun_s:
        return None
    if course.state not in FEEDING:
        return last.drift
    feed_kg_per_s = last.feed.frac * memory.settings.kiln.auger_kg_per_h / 3600
    enough_frac = air_frac(readings, last)
    return next_probe_drift(
        last.drift, readings.now_s, chamber_c(readings), probe_c(readings, "flue"), feed_kg_per_s,
        gauge_pa(readings.draught), 1.0 if enough_frac is None else enough_frac,
    )  # fmt: skip


def horn_calls(attendance: Attendance, now_s: float, memory: Memory) -> bool:
    """The horn calls for attendance, and to a lock-out for as long as its cause says or until it is acknowledged."""
    if attendance.call in (Call.HORN, Call.OVERDUE):
        return True
    lockout = memory.lockout
    if lockout is None:
        return False
    calling = [alarm.finding.since_s for alarm in memory.alarms if alarm.latched and not alarm.acknowledged]
    if not calling:
        return False
    match lockout.safe.horn:
        case SafeHorn.UNTIL_SEEN:
            return True
        case SafeHorn.TWO_MINUTES:  # of the latest: one that comes later into a lock-out calls as well
            return now_s - max(lockout.at_s, *calling) < HORN_AFTER_LOCKOUT_S
