"""The fire and what feeds it: out, never lit, an auger that runs by itself or not at all, a feed that does nothing."""

from __future__ import annotations

from daemon.fire.signs import is_dark
from daemon.interlocks.interlock import Evidence
from daemon.interlocks.likeliest import fire_seen
from daemon.interlocks.scene import Scene
from daemon.units import words_duration

DOUBTFUL_FRAC = 0.75  # above the half at which the feed asks the fire, so that a quiet soak doesn't warn


def eye_dark(scene: Scene) -> Evidence | None:
    """The flame eye sees no flame while pellets are fed."""
    if scene.readings.flame_seen is not False:
        return None
    limit_s = scene.limits.dark_s
    flame_s = scene.beat.signs.flame_s
    since_s = flame_s if flame_s is not None else scene.beat.course.since_s
    if not is_dark(scene.readings, since_s, scene.readings.now_s, limit_s):
        return None
    dark_s = scene.readings.now_s - since_s
    words = f"the flame eye has been dark for {words_duration(dark_s)}; {fire_seen(scene, eye=False)}"
    return Evidence(words, dark_s, limit_s, "s")


def fire_out(scene: Scene) -> Evidence | None:
    """Pellets were fed, nothing shows that they burn, and no eye sees a flame."""
    if scene.readings.flame_seen is True:
        return None
    return unproven_fuel(scene, scene.settings.unproven_most_kg)


def feed_idle(scene: Scene) -> Evidence | None:
    """The eye sees a glow, and the chamber falls as if nothing were fed."""
    if scene.readings.flame_seen is not True:
        return None
    return unproven_fuel(scene, scene.settings.unproven_most_kg)


def feed_doubtful(scene: Scene) -> Evidence | None:
    """Most of what may be fed without a sign of fire has been fed."""
    return unproven_fuel(scene, DOUBTFUL_FRAC * scene.settings.unproven_most_kg)


def unproven_fuel(scene: Scene, limit_kg: float) -> Evidence | None:
    """The pellets fed since the last sign that they burn, when they are over the limit."""
    fed_kg = scene.unproven_kg
    if fed_kg < limit_kg:
        return None
    words = f"{fed_kg:.2f} kg fed without a sign that it burns; {fire_seen(scene)}"
    return Evidence(words, fed_kg, limit_kg, "kg")


def not_proven(scene: Scene) -> Evidence | None:
    """The time in which the fire must be proven is over."""
    gone_s, limit_s = scene.readings.now_s - scene.beat.course.since_s, scene.limits.fire_proving_s
    return Evidence(f"not within {words_duration(gone_s)}", gone_s, limit_s, "s") if gone_s >= limit_s else None


def auger_shorted(scene: Scene) -> Evidence | None:
    """The feed contact reads closed though it was driven open."""
    if not scene.done.auger or scene.last is None:
        return None
    driven_s = scene.auger.driven_s
    was_open = driven_s is None or scene.last.now_s > driven_s
    return Evidence("the feed contact reads closed") if was_open else None


def auger_runs(scene: Scene) -> Evidence | None:
    """The shaft turns though nothing has driven the auger for a while."""
    if scene.readings.shaft_turning is not True:
        return None
    driven_s = scene.auger.driven_s
    if driven_s is not None and scene.readings.now_s - driven_s < scene.limits.auger_runs_s:
        return None
    return Evidence("its shaft turns")


def auger_unseen(scene: Scene) -> Evidence | None:
    """The pauses of the feed go by without the shaft seen standing."""
    limit_s = scene.limits.auger_runs_s
    if scene.readings.shaft_turning is not True or scene.auger.paused_turning_s < limit_s:
        return None
    return Evidence("its shaft turns on through the pauses", scene.auger.paused_turning_s, limit_s, "s")


def auger_still(scene: Scene) -> Evidence | None:
    """The auger was driven and its shaft did not turn."""
    driven_s, limit_s = scene.auger.unturned_s, scene.limits.auger_still_s
    if scene.readings.shaft_turning is not False or driven_s < limit_s:
        return None
    return Evidence(f"driven for {words_duration(driven_s)} and its shaft does not turn", driven_s, limit_s, "s")
