"""What else was seen when air or fire was lost, and which cause that makes the likeliest: words for the person.

The order of causes is from memory of kilns and burners; it decides nothing.
"""

from __future__ import annotations

from daemon.interlocks.scene import Scene
from daemon.units import gap_from_k, words_draught
from hardware.port import Draught, NotFitted

MOVES_K_PER_MIN = 0.5  # less is called steady


def air_seen(scene: Scene) -> str:
    """Fan and gauge beside an open airflow switch, and the likeliest cause."""
    fan_frac, draught = scene.done.fan_frac, scene.readings.draught
    driven = not isinstance(fan_frac, NotFitted) and fan_frac > 0
    fan = (
        "no fan is driven from here"
        if isinstance(fan_frac, NotFitted)
        else f"the fan is driven at {fan_frac * 100:.0f} %"
    )
    if isinstance(draught, NotFitted):
        return f"{fan}; likeliest the fan or its supply, then a shut damper or the switch"
    if not isinstance(draught, Draught):
        return f"{fan}, and the gauge can't be believed; likeliest a hose or a supply that both share, then the fan"
    seen = f"{fan}, and the gauge reads {words_draught(draught.value_pa, scene.plan.draught)}"
    if draught.value_pa >= scene.limits.draught_least_pa:
        return f"{seen}; likeliest the switch, its hose or its wire"
    if driven:
        return f"{seen}; likeliest the fan or its supply, then a shut damper or a blocked flue"
    return f"{seen}; likeliest the fan was switched off or the damper shut"


def fire_seen(scene: Scene, eye: bool = True) -> str:
    """Chamber, flue, eye (unless it was told of) and shaft where a fire seems lost, and the likeliest cause."""
    signs, flue_trace = scene.beat.signs, scene.beat.traces.get("flue")
    chamber = moves(signs.slope_k_per_s, scene) if signs.smooth_c is not None else ""
    flue = moves(flue_trace.slope_k_per_s, scene) if flue_trace is not None and flue_trace.value_c is not None else ""
    seen = [f"the {name} {words}" for name, words in (("chamber", chamber), ("flue", flue)) if words]
    if eye and not isinstance(scene.readings.flame_seen, NotFitted):
        seen.append("the eye sees a glow" if scene.readings.flame_seen else "the eye is dark")
    if is_jammed(scene):
        seen.append("the auger does not turn")
    return "; ".join(part for part in (and_so(seen), f"likeliest {likeliest_of_fire(scene, chamber)}") if part)


def likeliest_of_fire(scene: Scene, chamber: str) -> str:
    """The causes in their order."""
    if is_jammed(scene):
        return "a jam, the auger's motor or its relay"
    if scene.readings.flame_seen is False and chamber.startswith("rises"):
        return "soot on the eye or something before it, then a fire that burns where the eye can't see"
    if scene.readings.flame_seen is True:
        return "an empty hopper or a bridge in it, then wet pellets"
    return "an empty hopper or a bridge in it, then a grate choked by ash or by pellets that don't burn"


def is_jammed(scene: Scene) -> bool:
    """The auger was driven for long enough without its shaft seen turning."""
    return scene.readings.shaft_turning is False and scene.auger.unturned_s >= scene.limits.auger_still_s


def moves(slope_k_per_s: float, scene: Scene) -> str:
    """How fast a probe rises or falls, in the person's unit."""
    per_min = slope_k_per_s * 60
    if abs(per_min) < MOVES_K_PER_MIN:
        return "is steady"
    unit = scene.plan.temperature
    return f"{'rises' if per_min > 0 else 'falls'} {abs(gap_from_k(per_min, unit)):.1f} °{unit.value} a minute"


def and_so(parts: list[str]) -> str:
    """Joined as people do."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else "".join(parts)
