"""How the daemon comes up: with what it remembers of an unfinished firing, feed off, and saying what it found."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from functools import reduce

from daemon.beat import Beat
from daemon.belief import believe
from daemon.control.air import Air
from daemon.course.alarms import next_alarms
from daemon.course.attendance import Attendance
from daemon.course.state import FEEDING, FIRE, Course, LeftOff, State, chamber_c
from daemon.fire.auger import AugerWatch
from daemon.fire.estimate import Estimate
from daemon.interlocks.interlock import LESS_AIR, Safe
from daemon.interlocks.table import INTERLOCKS
from daemon.lockout import Lockout, lockout_by_interruption
from daemon.memory import Memory
from daemon.notice import Cause, Finding, Level
from daemon.plans.plan import Plan, StageKind
from daemon.record.found import Found
from daemon.settings import SCAN_S
from daemon.setup import Setup
from daemon.units import words_duration, words_temperature
from hardware.port import Blind, Blindness, Readings, Rig

RECORD_LATE_S = 2.0
QUIET_ENDS = frozenset({State.COLD, State.MADE_READY, State.FINISHED})


def first_look(rig: Rig) -> Readings:
    """The readings to start from: once the chamber's amplifier has converted, or after two seconds. All is off."""
    readings = rig.read(-math.inf)
    for _ in range(20):
        chamber = readings.probes.get("chamber")
        if not (isinstance(chamber, Blind) and chamber.reason is Blindness.NO_READING_YET):
            break
        readings = rig.read(readings.now_s + SCAN_S)
    return believe(readings, math.inf)


def first_memory(setup: Setup, found: Found | None, readings: Readings) -> Memory:
    """The memory the first scan starts from, by what the record says was going on."""
    now_s, settings = readings.now_s, setup.settings
    fresh = Memory(setup, Beat(course=Course(since_s=now_s), attendance=Attendance(now_s)))
    hot_c, unit = chamber_c(readings), setup.plan.temperature
    hot = hot_c is not None and hot_c >= settings.limits.open_c
    if found is None or found.state in QUIET_ENDS:
        if hot_c is None or not hot:
            return fresh
        words = f"The chamber is at {words_temperature(hot_c, unit)}, and the record knows of no fire."
        return memory_in_lockout(
            setup, lockout_by_interruption(now_s, State.COLD, words, burns=True, may_resume=False), True
        )
    if found.state is State.COOLING:  # nothing burns and nothing feeds: the kiln simply goes on cooling
        return fresh._replace(beat=fresh.beat._replace(course=Course(State.COOLING, now_s)))
    burns = found.state in FIRE | {State.BURN_DOWN} or (found.state is State.LOCKED_OUT and (hot or hot_c is None))
    if found.state is State.LOCKED_OUT and found.trips:
        findings = [Finding(cause, Level.TRIP, now_s, notice) for cause, notice in found.trips]
        safe = reduce(Safe.join, (safe_of(finding.cause) for finding in findings))
        return memory_in_lockout(setup, Lockout(findings[0], now_s, found.state, safe, tuple(findings[1:])), burns)
    left_off = left_off_by_record(found, readings, setup)
    words = what_was_found(found, readings, setup.plan)
    lockout = lockout_by_interruption(now_s, found.state, words, burns, may_resume=left_off is not None)
    fed_s = found.pellets_kg * 3600 / settings.kiln.auger_kg_per_h
    memory = memory_in_lockout(setup, lockout, burns, left_off)
    beat = memory.beat._replace(estimate=Estimate(now_s, fed_s, reduced_s=found.reduced_s))
    return memory._replace(beat=beat, auger=AugerWatch(fed_s=fed_s, turned_fed_s=fed_s))


def memory_in_lockout(setup: Setup, lockout: Lockout, burns: bool, left_off: LeftOff | None = None) -> Memory:
    """The memory to start from in a lock-out. `burns`: a fire was there, and gets the fan at its lowest."""
    now_s, table = lockout.at_s, setup.settings.air
    beat = Beat(
        course=Course(State.LOCKED_OUT, now_s, begun_s=now_s, lit=True, left_off=left_off),
        air=Air(fan_frac=table.fan_lowest_frac if burns else 0.0, damper_frac=table.damper_set_frac),
        attendance=Attendance(now_s),
    )
    alarms = next_alarms((), (), lockout.trips, acknowledged=False)
    return Memory(setup, beat, lockout=lockout, alarms=alarms)


def safe_of(cause: Cause) -> Safe:
    """The outputs of a cause that tripped before the restart."""
    return next((lock.safe for lock in INTERLOCKS if lock.cause is cause and lock.level is Level.TRIP), LESS_AIR)


def left_off_by_record(found: Found, readings: Readings, setup: Setup) -> LeftOff | None:
    """Where the record says the firing was left, if it was feeding along this very plan, and the clock can be believed.

    The last two seconds of feed may be missing in the record; they count as fed without a sign of fire.
    """
    away_s, plan = readings.utc_s - found.utc_s, setup.plan
    if found.state not in FEEDING or found.stage is None or found.plan_text != plan.text or away_s <= 0:
        return None
    return LeftOff(
        state=found.state, stage=found.stage, at_s=readings.now_s - away_s, chamber_c=found.chamber_c,
        stage_gone_s=found.stage_gone_s, target_c=soaks_at_c(plan, found) if found.state is State.SOAKING else None,
        unproven_s=found.unproven_kg * 3600 / setup.settings.kiln.auger_kg_per_h + RECORD_LATE_S,
    )  # fmt: skip


def soaks_at_c(plan: Plan, found: Found) -> float | None:
    """Where the climb before a soak ends, °C. After a cone, whose end point depended on the climb, the setpoint."""
    climb = next((s for s in reversed(plan.stages[: found.stage]) if s.kind is StageKind.CLIMB), None)
    return climb.to_c if climb is not None and climb.cone is None else found.setpoint_c


def what_was_found(found: Found, readings: Readings, plan: Plan) -> str:
    """What the record and the probe say happened, for the person."""
    at = datetime.fromtimestamp(found.utc_s, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    off_s = readings.utc_s - found.utc_s
    away = f"was away for {words_duration(off_s)}" if off_s > 0 else "nobody knows for how long: the clock is not set"
    then = (
        f" with the chamber at {words_temperature(found.chamber_c, plan.temperature)}"
        if found.chamber_c is not None
        else ""
    )
    chamber = readings.probes.get("chamber")
    if chamber is None or isinstance(chamber, Blind):
        now = "The chamber's temperature is not known yet."
    else:
        now = f"It is at {words_temperature(chamber.value_c, plan.temperature)} now."
    return f"The daemon stopped at {at} in the middle of a firing ({found.state.value}){then}, and {away}. {now}"
