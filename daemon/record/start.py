"""How the daemon comes up: with what it remembers of an unfinished firing, feed off, and saying what it found."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from functools import reduce

from daemon.belief import believe
from daemon.course.alarms import next_alarms
from daemon.course.attendance import Attendance
from daemon.course.state import FEEDING, FIRE, Course, LeftOff, State, chamber_c
from daemon.fire.estimate import Estimate
from daemon.interlocks import INTERLOCKS, LESS_AIR, Safe
from daemon.memory import Lockout, Memory, interrupted
from daemon.notice import Cause, Finding, Level
from daemon.plans.plan import Plan, StageKind
from daemon.record.journal import Found
from daemon.settings import SCAN_S, Settings
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


def first_memory(settings: Settings, plan: Plan, found: Found | None, readings: Readings) -> Memory:
    """The memory the first scan starts from, by what the record says was going on."""
    now_s = readings.now_s
    fresh = Memory(settings, plan, Course(since_s=now_s), attendance=Attendance(now_s))
    hot_c = chamber_c(readings)
    hot = hot_c is not None and hot_c >= settings.limits.open_c
    if found is None or found.state in QUIET_ENDS:
        if hot_c is None or not hot:
            return fresh
        words = f"The chamber is at {words_temperature(hot_c, plan.temperature)}, and the record knows of no fire."
        return interrupted(settings, plan, now_s, State.COLD, words, burns=True)
    if found.state is State.COOLING:  # nothing burns and nothing feeds: the kiln simply goes on cooling
        return fresh._replace(course=Course(State.COOLING, now_s))
    burns = found.state in FIRE | {State.BURN_DOWN} or (found.state is State.LOCKED_OUT and (hot or hot_c is None))
    if found.state is State.LOCKED_OUT and found.trips:
        findings = [Finding(cause, Level.TRIP, now_s, notice) for cause, notice in found.trips]
        safe = reduce(Safe.joined, (safe_of(finding.cause) for finding in findings))
        lockout = Lockout(findings[0], now_s, found.state, safe, tuple(findings[1:]))
        locked = interrupted(settings, plan, now_s, found.state, "", burns)
        return locked._replace(lockout=lockout, alarms=next_alarms((), (), lockout.trips, seen=False))
    left = left_in_record(found, readings, settings, plan)
    memory = interrupted(settings, plan, now_s, found.state, what_was_found(found, readings, plan), burns, left)
    fed_s = found.pellets_kg * 3600 / settings.kiln.auger_kg_per_h
    hearth = Estimate(now_s, fed_s, reduced_s=found.reduced_s)
    return memory._replace(fed_s=fed_s, turned_fed_s=fed_s, hearth=hearth)


def safe_of(cause: Cause) -> Safe:
    """The outputs of a cause that tripped before the restart."""
    return next((lock.safe for lock in INTERLOCKS if lock.cause is cause and lock.level is Level.TRIP), LESS_AIR)


def left_in_record(found: Found, readings: Readings, settings: Settings, plan: Plan) -> LeftOff | None:
    """Where the record says the firing was left, if it was feeding along this very plan, and the clock can be believed.

    The last two seconds of feed may be missing in the record; they count as fed without a sign of fire.
    """
    away_s = readings.utc_s - found.utc_s
    if found.state not in FEEDING or found.stage is None or found.plan_text != plan.text or away_s <= 0:
        return None
    target_c = soaks_at_c(plan, found) if found.state is State.SOAKING else None
    unproven_s = found.unproven_kg * 3600 / settings.kiln.auger_kg_per_h + RECORD_LATE_S
    return LeftOff(found.state, found.stage, readings.now_s - away_s, found.chamber_c, found.stage_gone_s, 0.0,
                   target_c, unproven_s)  # fmt: skip


def soaks_at_c(plan: Plan, found: Found) -> float | None:
    """Where the climb before a soak ends, °C. After a cone, whose end point hung on the climb, the aim has to do."""
    climb = next((s for s in reversed(plan.stages[: found.stage]) if s.kind is StageKind.CLIMB), None)
    return climb.to_c if climb is not None and climb.cone is None else found.aim_c


def what_was_found(found: Found, readings: Readings, plan: Plan) -> str:
    """What the record and the probe say happened, for the person."""
    at = datetime.fromtimestamp(found.utc_s, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    off_s = readings.utc_s - found.utc_s
    away = f"was away for {words_duration(off_s)}" if off_s > 0 else "nobody knows for how long: the clock is not set"
    then = f" with the chamber at {words_temperature(found.chamber_c, plan.temperature)}" if found.chamber_c else ""
    chamber = readings.probes.get("chamber")
    if chamber is None or isinstance(chamber, Blind):
        now = "The chamber's temperature is not known yet."
    else:
        now = f"It is at {words_temperature(chamber.value_c, plan.temperature)} now."
    return f"The daemon stopped at {at} in the middle of a firing ({found.state.value}){then}, and {away}. {now}"
