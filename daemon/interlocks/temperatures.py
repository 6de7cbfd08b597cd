"""Too hot, rising too fast, and every way in which a probe lies."""

from __future__ import annotations

from daemon.control.feed import FeedLimit
from daemon.course.state import State
from daemon.fire.probe_drift import DRIFT_K
from daemon.interlocks.interlock import Evidence
from daemon.interlocks.scene import Scene
from daemon.plans.plan import Plan, StageKind
from daemon.units import gap_from_k, words_duration, words_temperature
from hardware.port import Blind, Temperature

CATCHING_MORE = 2.5
VITAL = ("chamber", "limit")
"""The probes without which nobody knows how hot the kiln is. A limit probe counts where it is fitted."""

SOAK_BANDS = 3.0
"""In a soak it warns so many bands above the setpoint: time there doesn't count, and the ware over-fires (chosen)."""
ALL_BUT_COLD_C = 80.0  # any kiln is warmer once it was fed for a while


def too_hot(scene: Scene) -> Evidence | None:
    """Chamber, flue or the independent limit probe is at its limit or above."""
    limits_c = scene.settings.probe_limits_c
    for name, probe in scene.readings.probes.items():
        limit_c = limits_c.get(name)
        if limit_c is not None and isinstance(probe, Temperature) and probe.value_c >= limit_c:
            return over(f"{name} ", probe.value_c, limit_c, scene)
    return None


def over(name: str, value_c: float, limit_c: float, scene: Scene) -> Evidence:
    """A temperature with its limit."""
    unit = scene.plan.temperature
    words = f"{name}{words_temperature(value_c, unit)}, limit {words_temperature(limit_c, unit)}"
    return Evidence(words, value_c, limit_c, "°C")


def gap_words(gap_k: float, scene: Scene) -> str:
    """A difference of temperature in the person's unit."""
    unit = scene.plan.temperature
    return f"{gap_from_k(gap_k, unit):.0f} °{unit.value}"


def rises_too_fast(scene: Scene) -> Evidence | None:
    """The chamber rises faster than any firing asks. Charcoal catching in a cold kiln is allowed more."""
    trace, limit = scene.beat.traces.get("chamber"), scene.limits.rise_k_per_min
    if scene.beat.course.state is State.WARM_UP:
        limit *= CATCHING_MORE
    if trace is None or trace.value_c is None or trace.slope_k_per_s * 60 < limit:
        return None
    rise = trace.slope_k_per_s * 60
    words = f"{gap_words(rise, scene)} a minute, limit {gap_words(limit, scene)}"
    return Evidence(words, rise, limit, "K/min")


def hotter_than_plan(scene: Scene) -> Evidence | None:
    """The chamber is well above the plan: above the setpoint, or in a fixed stage above where the next climb ends."""
    course, chamber, limits = scene.beat.course, scene.readings.probes["chamber"], scene.limits
    line_c, limit_k, line = course.setpoint_c, limits.ahead_k, "its setpoint"
    if course.state is State.SOAKING:
        limit_k = min(limit_k, SOAK_BANDS * limits.soak_band_k)
    elif line_c is None and course.stage is not None:
        line_c, line = next_target_c(scene.plan, course.stage), "the end of the next climb"
    if line_c is None or not isinstance(chamber, Temperature) or chamber.value_c - line_c < limit_k:
        return None
    ahead_k = chamber.value_c - line_c
    least = "; the feed is at its least" if scene.beat.feed.limited_by is FeedLimit.FLOOR else ""
    return Evidence(f"{gap_words(ahead_k, scene)} above {line}{least}", ahead_k, limit_k, "K")


def next_target_c(plan: Plan, stage: int) -> float | None:
    """Where the next climb of the plan ends, °C; None where it ends on a cone, or there is none."""
    return next((s.to_c for s in plan.stages[stage + 1 :] if s.kind is StageKind.CLIMB), None)


def probe_blind(scene: Scene) -> Evidence | None:
    """The chamber probe, or a fitted limit probe, can't be believed."""
    for name in VITAL:
        probe = scene.readings.probes.get(name)
        if isinstance(probe, Blind):
            return Evidence(f"{name} probe: {probe.reason.value}")
    return None


def draught_blind(scene: Scene) -> Evidence | None:
    """The draught gauge can't be believed."""
    draught = scene.readings.draught
    return Evidence(draught.reason.value, about="draught gauge") if isinstance(draught, Blind) else None


def tube_blind(scene: Scene) -> Evidence | None:
    """The feed tube's sensor can't be believed."""
    tube = scene.readings.feed_tube
    return Evidence(tube.reason.value, about="feed tube") if isinstance(tube, Blind) else None


def helper_blind(scene: Scene) -> Evidence | None:
    """The flue probe, the oxygen probe, or another that is only recorded, can't be believed."""
    if isinstance(scene.readings.oxygen, Blind):
        return Evidence(f"oxygen probe: {scene.readings.oxygen.reason.value}", about="oxygen")
    for name, probe in scene.readings.probes.items():
        if isinstance(probe, Blind) and name not in VITAL:
            return Evidence(f"{name} probe: {probe.reason.value}", about=name)
    return None


def probe_frozen(scene: Scene) -> Evidence | None:
    """A vital probe shows the same value to the last bit for longer than noise and fire allow."""
    limit_s = scene.limits.frozen_s
    for name in VITAL:
        trace = scene.beat.traces.get(name)
        if limit_s is None or trace is None or trace.value_c is None:
            continue
        same_s = trace.at_s - trace.same_since_s
        if same_s >= limit_s:
            value = words_temperature(trace.value_c, scene.plan.temperature)
            return Evidence(f"{name} probe: {value} for {words_duration(same_s)}", same_s, limit_s, "s")
    return None


def probe_jumped(scene: Scene) -> Evidence | None:
    """A vital probe has jumped further than anything in a kiln could move it."""
    for name in VITAL:
        trace = scene.beat.traces.get(name)
        step_k = trace.step_k if trace is not None else None
        if trace is not None and step_k is not None and trace.good_c is not None:
            unit = scene.plan.temperature
            words = f"{words_temperature(trace.good_c, unit)} to {words_temperature(trace.good_c + step_k, unit)}"
            return Evidence(f"{name} probe: from {words} in {words_duration(trace.at_s - trace.good_s)}", step_k)
    return None


def probes_apart(scene: Scene) -> Evidence | None:
    """Chamber and limit probe disagree by more than two places in one chamber do."""
    return apart_by(scene, scene.limits.apart_k)


def probes_part(scene: Scene) -> Evidence | None:
    """Chamber and limit probe begin to disagree."""
    return apart_by(scene, scene.limits.apart_warn_k)


def apart_by(scene: Scene, limit_k: float) -> Evidence | None:
    """How far chamber and limit probe are apart, when it is at least so much."""
    chamber, limit = scene.readings.probes["chamber"], scene.readings.probes.get("limit")
    if not isinstance(chamber, Temperature) or not isinstance(limit, Temperature):
        return None
    gap_k = abs(chamber.value_c - limit.value_c)
    if gap_k < limit_k:
        return None
    unit = scene.plan.temperature
    both = f"chamber {words_temperature(chamber.value_c, unit)}, limit {words_temperature(limit.value_c, unit)}"
    return Evidence(both, gap_k, limit_k, "K")


def chamber_cold(scene: Scene) -> Evidence | None:
    """The chamber still reads all but cold though enough was fed to warm any kiln."""
    chamber, limit_kg = scene.readings.probes["chamber"], scene.limits.cold_fed_kg
    if scene.fed_kg < limit_kg or not isinstance(chamber, Temperature) or chamber.value_c >= ALL_BUT_COLD_C:
        return None
    value = words_temperature(chamber.value_c, scene.plan.temperature)
    return Evidence(f"{scene.fed_kg:.1f} kg were fed and the chamber reads {value}", scene.fed_kg, limit_kg, "kg")


def tube_hot(scene: Scene) -> Evidence | None:
    """The feed tube is as hot as it must never be: the fire creeps back to the hopper."""
    return over_tube(scene, scene.limits.feed_tube_c)


def tube_hot_cooling(scene: Scene) -> Evidence | None:
    """The feed tube of a cooling kiln is hotter than the heat that travels back along it explains."""
    return over_tube(scene, scene.limits.feed_tube_cooling_c)


def tube_warm(scene: Scene) -> Evidence | None:
    """The feed tube is warmer than it ought to be."""
    return over_tube(scene, scene.limits.feed_tube_warn_c)


def over_tube(scene: Scene, limit_c: float) -> Evidence | None:
    """The feed tube's temperature with its limit, when it is over it."""
    tube = scene.readings.feed_tube
    if not isinstance(tube, Temperature) or tube.value_c < limit_c:
        return None
    return over("", tube.value_c, limit_c, scene)


def probe_drifts(scene: Scene) -> Evidence | None:
    """The chamber's reading slowly leaves what the heat balance of this firing expects. Needs a flue probe."""
    drift_k = scene.beat.drift.drift_k if scene.beat.drift is not None else None
    if drift_k is None:
        return None
    return Evidence(f"about {gap_words(drift_k, scene)} too low by the heat balance", drift_k, DRIFT_K, "K")
