"""The setpoint: where the chamber is to be now, and a little later.

    climb   ds/dt = min(rate, (end + PAST_K - s) / bend),  0 from the end on         K/s
    soak    ds/dt = (hold - s) / SETTLE_S

    s the setpoint, °C; end the climb's target, CONE_PAST_K further for a cone; bend BEND_S before a soak, END_BEND_S
    before anything else but a climb, where nothing bends; hold the soak's temperature, off it by
    clip(owed / CATCH_UP_S · e-fold, LEAST_OFF_K, MOST_OFF_K) where heat work is owed (`plans/heat_work.py`)

So a climb is a straight line that bends into its end, and the kiln doesn't shoot past it. A soak comes to its
temperature from a little below, and goes a little above it where the ware has missed heat work.
"""

from __future__ import annotations

from daemon.plans.heat_work import e_fold_k
from daemon.plans.plan import Stage, StageKind

BEND_S, END_BEND_S = 300.0, 80.0
"""Time constants of the bend, before a soak and before a cone or the end of all, where every minute is heat work. Found
on the bench: `python -m tests.bench.control`."""
PAST_K = 0.5
"""The bend goes towards a little more than the end, so that it gets there. Chosen."""
CONE_PAST_K = 2.0
"""A cone has to be down, so the setpoint goes a little past its end point. Found on the bench, with the bends."""
SETTLE_S = 900.0
"""A soak's setpoint comes up to its temperature in about this time: what is over-fired can't be taken back. Found
on the bench, with the bends."""
CATCH_UP_S = 600.0
"""Heat work that is owed is made up for in about this time. Found on the bench, with the bends."""
LEAST_OFF_K, MOST_OFF_K, OFF_AFTER_S = -0.5, 1.5, 900.0
"""A soak is held off its temperature by no more than this, and above it bit by bit over the time: coming in hot is what
cracks and over-fires. Found on the bench, with the bends."""
STEP_S = 15.0
"""Step of the preview, s: several of them to a bend."""


def slope_k_per_s(stage: Stage, after: Stage | None, setpoint_c: float, target_c: float | None) -> float:
    """ds/dt: how fast the setpoint of a stage moves at `setpoint_c`, K/s; `after` is the next stage."""
    if stage.kind is StageKind.SOAK and target_c is not None:
        return (target_c - setpoint_c) / SETTLE_S
    if stage.kind is not StageKind.CLIMB or target_c is None or stage.rate_c_per_h is None:
        return 0.0
    top_c, rate = end_c(stage, target_c), stage.rate_c_per_h / 3600
    if setpoint_c >= top_c:
        return 0.0
    if after is not None and after.kind is StageKind.CLIMB:
        return rate
    soaks = after is not None and after.kind is StageKind.SOAK and stage.cone is None
    return min(rate, (top_c + PAST_K - setpoint_c) / (BEND_S if soaks else END_BEND_S))


def hold_c(target_c: float, owed_s: float | None, soaked_s: float) -> float:
    """Where a soak is held, °C: at its target, a little off it while heat work is owed.

    `owed_s` is that work as time at the target, s, None where nobody knows; `soaked_s` counts the soak so far.
    """
    if owed_s is None:
        return target_c
    most_k = MOST_OFF_K * min(soaked_s / OFF_AFTER_S, 1.0)
    return target_c + min(max(owed_s / CATCH_UP_S * e_fold_k(target_c), LEAST_OFF_K), most_k)


def end_c(stage: Stage, target_c: float) -> float:
    """Where the setpoint of a climb ends, °C."""
    return target_c + CONE_PAST_K if stage.cone is not None else target_c


def preview_c(
    stages: tuple[Stage, ...], place: int, setpoint_c: float, target_c: float | None, by_s: tuple[float, ...]
) -> list[float]:
    """The setpoint at each of these times (s from now, the soonest first), °C, if the kiln keeps up."""
    seen_c, gone_s = [], 0.0
    for due_s in by_s:
        while gone_s < due_s:
            step_s = min(due_s - gone_s, STEP_S)
            stage, after = stages[place], stages[place + 1] if place + 1 < len(stages) else None
            setpoint_c += slope_k_per_s(stage, after, setpoint_c, target_c) * step_s
            gone_s += step_s
            over = stage.kind is StageKind.CLIMB and target_c is not None and setpoint_c >= target_c
            if over and after is not None and after.kind is StageKind.CLIMB:
                place, target_c = place + 1, after.target_c(None)
        seen_c.append(setpoint_c)
    return seen_c
