"""How the daemon comes up: with what it remembers of an unfinished firing, feed off, and saying what it found."""

from __future__ import annotations

import math
from datetime import UTC, datetime

from daemon.alarms import next_alarms
from daemon.attendance import Attendance
from daemon.course import FEEDING, Course, LeftOff, State
from daemon.interlocks import INTERLOCKS, LESS_AIR
from daemon.memory import Lockout, Memory, interrupted
from daemon.notice import Finding, Level
from daemon.plan import Plan
from daemon.record import Found
from daemon.settings import SCAN_S, Settings
from daemon.units import words_duration, words_temperature
from hardware.port import Blind, Blindness, Readings, Rig

QUIET_ENDS = frozenset({State.COLD, State.MADE_READY, State.FINISHED})


def first_look(rig: Rig) -> Readings:
    """The readings to start from: once the chamber's amplifier has converted, or after two seconds. All is off."""
    readings = rig.read(-math.inf)
    for _ in range(20):
        chamber = readings.probes.get("chamber")
        if not (isinstance(chamber, Blind) and chamber.reason is Blindness.NO_READING_YET):
            break
        readings = rig.read(readings.now_s + SCAN_S)
    return readings


def first_memory(settings: Settings, plan: Plan, found: Found | None, readings: Readings) -> Memory:
    """The memory the first scan starts from, by what the record says was going on."""
    now_s = readings.now_s
    fresh = Memory(settings, plan, Course(since_s=now_s), attendance=Attendance(now_s))
    if found is None or found.state in QUIET_ENDS:
        return fresh
    if found.state is State.COOLING:  # nothing burns and nothing feeds: the kiln simply goes on cooling
        return fresh._replace(course=Course(State.COOLING, now_s))
    if found.state is State.LOCKED_OUT and found.trip is not None:
        cause, notice = found.trip
        safe = next((lock.safe for lock in INTERLOCKS if lock.cause is cause and lock.level is Level.TRIP), LESS_AIR)
        lockout = Lockout(Finding(cause, Level.TRIP, now_s, notice), now_s, found.state, safe)
        locked = interrupted(settings, plan, now_s, found.state, "")
        return locked._replace(lockout=lockout, alarms=next_alarms((), (), lockout.trips, seen=False))
    left = left_in_record(found, readings, settings, plan)
    memory = interrupted(settings, plan, now_s, found.state, what_was_found(found, readings, plan), left)
    fed_s = found.pellets_kg * 3600 / settings.kiln.auger_kg_per_h
    return memory._replace(fed_s=fed_s, turned_fed_s=fed_s)


def left_in_record(found: Found, readings: Readings, settings: Settings, plan: Plan) -> LeftOff | None:
    """Where the record says the firing was left, if it was feeding along this very plan.

    How much was fed without a sign of fire is not in the record; three quarters of what may be are taken for it.
    """
    if found.state not in FEEDING or found.stage is None or found.plan_text != plan.text:
        return None
    at_s = readings.now_s - max(0.0, readings.utc_s - found.utc_s)
    target_c = found.aim_c if found.state is State.SOAKING else None
    unproven_s = 0.75 * settings.limits.unproven_fuel_kg * 3600 / settings.kiln.auger_kg_per_h
    return LeftOff(found.state, found.stage, at_s, found.chamber_c, found.stage_gone_s, 0.0, target_c, unproven_s)


def what_was_found(found: Found, readings: Readings, plan: Plan) -> str:
    """What the record and the probe say happened, for the person."""
    at = datetime.fromtimestamp(found.utc_s, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    off_s = max(0.0, readings.utc_s - found.utc_s)
    then = f" with the chamber at {words_temperature(found.chamber_c, plan.temperature)}" if found.chamber_c else ""
    chamber = readings.probes.get("chamber")
    if chamber is None or isinstance(chamber, Blind):
        now = "The chamber's temperature is not known yet."
    else:
        now = f"It is at {words_temperature(chamber.value_c, plan.temperature)} now."
    return (
        f"The daemon stopped at {at} in the middle of a firing ({found.state.value}){then}, "
        f"and was away for {words_duration(off_s)}. {now}"
    )
