"""The fire and what feeds it: out, never lit, an auger that runs by itself or not at all, a feed that does nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daemon.course.asks import Ask
from daemon.fire.signs import is_dark
from daemon.interlocks.interlock import Evidence
from daemon.units import gap_from_k, words_duration
from hardware.port import Readings

if TYPE_CHECKING:
    from daemon.memory import Memory


def eye_dark(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The flame eye sees no flame while pellets are fed."""
    if readings.flame_seen is not False:
        return None
    limit_s = memory.settings.limits.dark_s
    since_s = max(memory.fire.seen_s or memory.course.since_s, memory.course.since_s)
    if not is_dark(readings, since_s, readings.now_s, limit_s):
        return None
    dark_s = readings.now_s - since_s
    return Evidence(f"the flame eye has been dark for {words_duration(dark_s)}", dark_s, limit_s, "s")


def fire_out(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """Pellets were fed, nothing shows that they burn, and no eye sees a flame."""
    if readings.flame_seen is True:
        return None
    return unproven(memory, memory.settings.limits.unproven_fuel_kg)


def feed_idle(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The eye sees a glow, and the chamber falls as if nothing were fed."""
    if readings.flame_seen is not True:
        return None
    return unproven(memory, memory.settings.limits.unproven_fuel_kg)


def feed_doubtful(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """Half of what may be fed without a sign of fire has been fed."""
    return unproven(memory, memory.settings.limits.unproven_fuel_kg / 2)


def unproven(memory: Memory, limit_kg: float) -> Evidence | None:
    """The pellets fed since the last sign that they burn, when they are over the limit."""
    fed_kg = memory.unproven_kg
    if fed_kg < limit_kg:
        return None
    unit = memory.plan.temperature
    fall = gap_from_k(-memory.fire.slope_k_per_s * 60, unit)
    words = f"{fed_kg:.2f} kg fed without a sign that it burns; the chamber falls {fall:.1f} °{unit.value} a minute"
    return Evidence(words, fed_kg, limit_kg, "kg")


def not_proven(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The time in which the fire must be proven is over."""
    gone_s, limit_s = readings.now_s - memory.course.since_s, memory.settings.limits.fire_proving_s
    return Evidence(f"not within {words_duration(gone_s)}", gone_s, limit_s, "s") if gone_s >= limit_s else None


def auger_shorted(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The feed contact reads closed though it was driven open."""
    was_open = memory.readings is not None and memory.readings.now_s > memory.driven_s
    return Evidence("the feed contact reads closed") if was_open and memory.done.auger else None


def auger_runs(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The shaft turns though nothing has driven the auger for a while."""
    if readings.now_s - memory.driven_s < memory.settings.limits.auger_runs_s:
        return None
    return Evidence("its shaft turns") if readings.shaft_turning is True else None


def auger_unseen(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The pauses of the feed go by without the shaft seen standing."""
    limit_s = memory.settings.limits.auger_runs_s
    if readings.shaft_turning is not True or memory.paused_turning_s < limit_s:
        return None
    return Evidence("its shaft turns on through the pauses", memory.paused_turning_s, limit_s, "s")


def auger_still(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The auger was driven and its shaft did not turn."""
    driven_s, limit_s = memory.fed_s - memory.turned_fed_s, memory.settings.limits.auger_still_s
    if readings.shaft_turning is not False or driven_s < limit_s:
        return None
    return Evidence(f"driven for {words_duration(driven_s)} and its shaft does not turn", driven_s, limit_s, "s")
