"""Air: none where fuel is, none though the fan runs, too little for the fuel."""

from __future__ import annotations

from daemon.beat import Beat
from daemon.control.feed import FeedLimit
from daemon.course.state import State, air_follows_fan, has_airflow
from daemon.interlocks.interlock import Evidence
from daemon.interlocks.likeliest import air_seen
from daemon.interlocks.scene import Scene
from daemon.units import words_draught
from hardware.port import NOT_FITTED, Draught, NotFitted, Readings


def no_airflow(scene: Scene) -> Evidence | None:
    """Air is not proven: the switch is open, or the gauge reads next to nothing or can't be believed."""
    if scene.readings.airflow_proven is True:
        return None
    least_pa = scene.limits.draught_least_pa
    neither = scene.readings.airflow_proven is NOT_FITTED and scene.readings.draught is NOT_FITTED
    if neither or has_airflow(scene.readings, least_pa):
        return None if not neither else Evidence("no airflow switch and no draught gauge is fitted")
    if scene.readings.airflow_proven is False:
        return Evidence(f"the airflow switch is open; {air_seen(scene)}")
    if isinstance(scene.readings.draught, Draught):
        return short_of(scene.readings.draught, scene)
    return Evidence("the draught gauge can't be believed")


def short_of(draught: Draught, scene: Scene, more: str = "") -> Evidence:
    """A draught with the least that counts as air."""
    unit, least_pa = scene.plan.draught, scene.limits.draught_least_pa
    words = f"draught {words_draught(draught.value_pa, unit)}, needs {words_draught(least_pa, unit)}{more}"
    return Evidence(words, draught.value_pa, least_pa, "Pa")


def gauge_flat(scene: Scene) -> Evidence | None:
    """The switch says that air flows, and the gauge that next to none does: one of the two is wrong."""
    least_pa, draught = scene.limits.draught_least_pa, scene.readings.draught
    if scene.readings.airflow_proven is not True or not isinstance(draught, Draught) or draught.value_pa >= least_pa:
        return None
    return short_of(draught, scene, "; the switch is closed")


def fan_idle(scene: Scene) -> Evidence | None:
    """The fan is driven and no air moves."""
    fan_frac, limits = scene.done.fan_frac, scene.limits
    if isinstance(fan_frac, NotFitted) or fan_frac < scene.settings.air.fan_lowest_frac - 0.01:
        return None
    if scene.readings.airflow_proven is NOT_FITTED and not isinstance(scene.readings.draught, Draught):
        return None  # nothing tells; the interlocks of airflow see to that
    course, draught, unit = scene.beat.course, scene.readings.draught, scene.plan.draught
    purges = course.state is State.PURGE
    proven = (
        air_follows_fan(course, scene.readings, limits.draught_least_pa)
        if purges
        else has_airflow(scene.readings, limits.draught_least_pa)
    )
    if proven:
        return None
    words = f"fan at {fan_frac * 100:.0f} %"
    if purges and isinstance(draught, Draught) and course.still_pa is not None:
        words += f", and the gauge reads {words_draught(draught.value_pa, unit)}; with the fan still it read "
        words += words_draught(course.still_pa, unit)
    return Evidence(words, fan_frac)


def air_low(scene: Scene) -> Evidence | None:
    """Far too little air for the fuel: smoke, and carbon monoxide."""
    return air_under(scene, scene.limits.air_low_frac)


def air_scant(scene: Scene) -> Evidence | None:
    """Less air for the fuel than is wanted, or for the fuel that would be fed if there were air for it."""
    limit_frac, feed = scene.limits.air_scant_frac, scene.beat.feed
    if feed.limited_by is not FeedLimit.AIR or feed.wanted_frac <= 0:
        return air_under(scene, limit_frac)
    frac = air_frac(scene.readings, scene.beat)
    short_frac = frac * feed.frac / feed.wanted_frac if frac is not None else None
    if short_frac is None or short_frac >= limit_frac:
        return None
    words = f"the air is enough for {feed.frac * 100:.0f} % feed, and {feed.wanted_frac * 100:.0f} % is wanted"
    return Evidence(words, short_frac, limit_frac, "of the air wanted")


def air_under(scene: Scene, limit_frac: float) -> Evidence | None:
    """The air for the fuel against what is wanted, when it is under the limit."""
    frac, draught = air_frac(scene.readings, scene.beat), scene.readings.draught
    if frac is None or frac >= limit_frac or not isinstance(draught, Draught):
        return None
    gauge = words_draught(draught.value_pa, scene.plan.draught)
    words = f"{gauge} at {scene.beat.feed.frac * 100:.0f} % feed is {frac * 100:.0f} % of the air wanted for the fuel"
    return Evidence(f"{words}, limit {limit_frac * 100:.0f} %", frac, limit_frac, "of the air wanted")


def air_frac(readings: Readings, beat: Beat) -> float | None:
    """The air for the fuel, against what is wanted; None where nothing is fed or no gauge tells."""
    enough_frac = beat.feed.air_enough_frac
    if enough_frac is None or beat.course.stage is None or beat.feed.frac <= 0:
        return None
    return enough_frac if isinstance(readings.draught, Draught) else None
