"""Too hot, rising too fast, and every way in which a probe lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daemon.course.asks import Ask
from daemon.course.state import State
from daemon.fire.probe_drift import DRIFT_K
from daemon.fire.signs import ALL_BUT_COLD_C
from daemon.interlocks.interlock import Evidence
from daemon.units import gap_from_k, words_duration, words_temperature
from hardware.port import Blind, Readings, Temperature

if TYPE_CHECKING:
    from daemon.memory import Memory

CATCHING_MORE = 2.5
VITAL = ("chamber", "limit")
"""The probes without which nobody knows how hot the kiln is. A limit probe counts where it is fitted."""


def too_hot(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """Chamber, flue or the independent limit probe is at its limit or above."""
    limits_c = memory.settings.probe_limits_c
    for name, probe in readings.probes.items():
        limit_c = limits_c.get(name)
        if limit_c is not None and isinstance(probe, Temperature) and probe.value_c >= limit_c:
            return over(f"{name} ", probe.value_c, limit_c, memory)
    return None


def over(name: str, value_c: float, limit_c: float, memory: Memory) -> Evidence:
    """A temperature with its limit."""
    unit = memory.plan.temperature
    words = f"{name}{words_temperature(value_c, unit)}, limit {words_temperature(limit_c, unit)}"
    return Evidence(words, value_c, limit_c, "°C")


def gap_words(gap_k: float, memory: Memory) -> str:
    """A difference of temperature in the person's unit."""
    unit = memory.plan.temperature
    return f"{gap_from_k(gap_k, unit):.0f} °{unit.value}"


def rises_too_fast(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The chamber rises faster than any firing asks. Charcoal catching in a cold kiln is allowed more."""
    trace, limit = memory.traces.get("chamber"), memory.settings.limits.rise_k_per_min
    if memory.course.state is State.WARM_UP:
        limit *= CATCHING_MORE
    if trace is None or trace.value_c is None or trace.slope_k_per_s * 60 < limit:
        return None
    rise = trace.slope_k_per_s * 60
    words = f"{gap_words(rise, memory)} a minute, limit {gap_words(limit, memory)}"
    return Evidence(words, rise, limit, "K/min")


def ahead_of_plan(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The chamber runs well ahead of the plan's climb: what the rate was to spare the ware, it doesn't."""
    chamber, aim_c = readings.probes["chamber"], memory.course.aim_c
    if aim_c is None or not isinstance(chamber, Temperature):
        return None
    ahead_k, limit_k = chamber.value_c - aim_c, memory.settings.limits.ahead_k
    if ahead_k < limit_k:
        return None
    return Evidence(f"{gap_words(ahead_k, memory)} above its aim", ahead_k, limit_k, "K")


def probe_blind(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The chamber probe, or a fitted limit probe, can't be believed."""
    for name in VITAL:
        probe = readings.probes.get(name)
        if isinstance(probe, Blind):
            return Evidence(f"{name} probe: {probe.reason.value}")
    return None


def draught_blind(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The draught gauge can't be believed."""
    draught = readings.draught
    return Evidence(draught.reason.value, about="draught gauge") if isinstance(draught, Blind) else None


def tube_blind(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The feed tube's sensor can't be believed."""
    tube = readings.feed_tube
    return Evidence(tube.reason.value, about="feed tube") if isinstance(tube, Blind) else None


def helper_blind(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The flue probe, the oxygen probe, or another that is only recorded, can't be believed."""
    if isinstance(readings.oxygen, Blind):
        return Evidence(f"oxygen probe: {readings.oxygen.reason.value}", about="oxygen")
    for name, probe in readings.probes.items():
        if isinstance(probe, Blind) and name not in VITAL:
            return Evidence(f"{name} probe: {probe.reason.value}", about=name)
    return None


def probe_frozen(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """A vital probe shows the same value to the last bit for longer than noise and fire allow."""
    limit_s = memory.settings.limits.frozen_s
    for name in VITAL:
        trace = memory.traces.get(name)
        if limit_s is None or trace is None or trace.value_c is None:
            continue
        same_s = trace.at_s - trace.same_since_s
        if same_s >= limit_s:
            value = words_temperature(trace.value_c, memory.plan.temperature)
            return Evidence(f"{name} probe: {value} for {words_duration(same_s)}", same_s, limit_s, "s")
    return None


def probe_jumped(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """A vital probe is where nothing in a kiln could have brought it so soon."""
    for name in VITAL:
        trace = memory.traces.get(name)
        step_k = trace.step_k if trace is not None else None
        if trace is not None and step_k is not None and trace.good_c is not None:
            unit = memory.plan.temperature
            words = f"{words_temperature(trace.good_c, unit)} to {words_temperature(trace.good_c + step_k, unit)}"
            return Evidence(f"{name} probe: from {words} in {words_duration(trace.at_s - trace.good_s)}", step_k)
    return None


def probes_apart(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """Chamber and limit probe disagree by more than two places in one chamber do."""
    return apart_by(readings, memory, memory.settings.limits.apart_k)


def probes_part(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """Chamber and limit probe begin to disagree."""
    return apart_by(readings, memory, memory.settings.limits.apart_warn_k)


def apart_by(readings: Readings, memory: Memory, limit_k: float) -> Evidence | None:
    """How far chamber and limit probe are apart, when it is at least so much."""
    chamber, limit = readings.probes["chamber"], readings.probes.get("limit")
    if not isinstance(chamber, Temperature) or not isinstance(limit, Temperature):
        return None
    gap_k = abs(chamber.value_c - limit.value_c)
    if gap_k < limit_k:
        return None
    unit = memory.plan.temperature
    both = f"chamber {words_temperature(chamber.value_c, unit)}, limit {words_temperature(limit.value_c, unit)}"
    return Evidence(both, gap_k, limit_k, "K")


def chamber_cold(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The chamber still reads all but cold though enough was fed to warm any kiln."""
    chamber, limit_kg = readings.probes["chamber"], memory.settings.limits.cold_fed_kg
    if memory.fed_kg < limit_kg or not isinstance(chamber, Temperature) or chamber.value_c >= ALL_BUT_COLD_C:
        return None
    value = words_temperature(chamber.value_c, memory.plan.temperature)
    return Evidence(f"{memory.fed_kg:.1f} kg were fed and the chamber reads {value}", memory.fed_kg, limit_kg, "kg")


def tube_hot(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The feed tube is as hot as it must never be: the fire creeps back to the hopper."""
    return over_tube(readings, memory, memory.settings.limits.feed_tube_c)


def tube_soaked(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The feed tube of a cooling kiln is hotter than the heat that soaks back along it makes it."""
    return over_tube(readings, memory, memory.settings.limits.feed_tube_soak_c)


def tube_warm(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The feed tube is warmer than it ought to be."""
    return over_tube(readings, memory, memory.settings.limits.feed_tube_warn_c)


def over_tube(readings: Readings, memory: Memory, limit_c: float) -> Evidence | None:
    """The feed tube's temperature with its limit, when it is over it."""
    tube = readings.feed_tube
    if not isinstance(tube, Temperature) or tube.value_c < limit_c:
        return None
    return over("", tube.value_c, limit_c, memory)


def probe_drifts(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The chamber's reading slowly leaves what the heat balance of this firing expects. Needs a flue probe."""
    drift_k = memory.balance.drift_k if memory.balance is not None else None
    if drift_k is None:
        return None
    return Evidence(f"about {gap_words(drift_k, memory)} too low by the heat balance", drift_k, DRIFT_K, "K")
