"""The line the firing follows: where the chamber is to be now, and a little later.

A climb is a straight line that bends into its end, so that the kiln doesn't shoot past it; where the next stage climbs
on, at another rate, nothing bends. A soak comes to its temperature from a little below, and goes a little above it
where heat work is owed: what the ware has missed it catches up within the band.
"""

from __future__ import annotations

from daemon.control.feed import FeedLimit
from daemon.course.state import Course, State
from daemon.notice import Notice
from daemon.plans.heat_work import e_fold_k
from daemon.plans.plan import Stage, StageKind

BEND_S, END_BEND_S = 300.0, 80.0
"""The last of a climb before a soak slows down with the first time constant, one to a cone or to the end of all, where
every minute is heat work, with the second ..."""
PAST_K = 0.5
"""... towards a little more than its end, so that it gets there."""
CONE_PAST_K = 2.0
SETTLE_S = 900.0
"""A soak's aim comes up to its temperature in about this time: what is over-fired can't be taken back."""
CATCH_UP_S = 600.0
"""Heat work that is owed is made up for in about this time, ..."""
LEAST_OFF_K, MOST_OFF_K, BY_S = -0.5, 1.5, 900.0
"""... with the soak held off its temperature by no more than this. It goes above it bit by bit: coming in hot is what
cracks and over-fires."""
STEP_S = 15.0


def slope_k_per_s(stage: Stage, after: Stage | None, aim_c: float, target_c: float | None) -> float:
    """How fast the aim of a stage moves at `aim_c`, K/s; `after` is the next stage."""
    if stage.kind is StageKind.SOAK and target_c is not None:
        return (target_c - aim_c) / SETTLE_S
    if stage.kind is not StageKind.CLIMB or target_c is None or stage.rate_c_per_h is None:
        return 0.0
    top_c, rate = end_c(stage, target_c), stage.rate_c_per_h / 3600
    if aim_c >= top_c:
        return 0.0
    if after is not None and after.kind is StageKind.CLIMB:
        return rate
    soaks = after is not None and after.kind is StageKind.SOAK and stage.cone is None
    return min(rate, (top_c + PAST_K - aim_c) / (BEND_S if soaks else END_BEND_S))


def hold_target_c(course: Course) -> float | None:
    """Where the aim goes: the target, and in a soak a little off it where heat work is owed."""
    if course.state is not State.SOAKING or course.target_c is None or course.owed_s is None:
        return course.target_c
    most_k = MOST_OFF_K * min(course.counted_s / BY_S, 1.0)
    return course.target_c + min(max(course.owed_s / CATCH_UP_S * e_fold_k(course.target_c), LEAST_OFF_K), most_k)


def end_c(stage: Stage, target_c: float) -> float:
    """Where the aim of a climb ends: a cone has to be down, so the aim goes a little past it."""
    return target_c + CONE_PAST_K if stage.cone is not None else target_c


def preview_c(
    stages: tuple[Stage, ...], place: int, aim_c: float, target_c: float | None, by_s: tuple[float, ...]
) -> list[float]:
    """The aim at each of these times (s from now, the soonest first), if the kiln keeps up."""
    aims, gone_s = [], 0.0
    for due_s in by_s:
        while gone_s < due_s:
            step_s = min(due_s - gone_s, STEP_S)
            stage, after = stages[place], stages[place + 1] if place + 1 < len(stages) else None
            aim_c += slope_k_per_s(stage, after, aim_c, target_c) * step_s
            gone_s += step_s
            over = stage.kind is StageKind.CLIMB and target_c is not None and aim_c >= target_c
            if over and after is not None and after.kind is StageKind.CLIMB:
                place, target_c = place + 1, after.target_c(None)
        aims.append(aim_c)
    return aims


WAITS = {
    FeedLimit.CEILING: (
        "The auger runs as much as it may.",
        "The plan waits at the kiln's pace, with a little less air for a hotter flame.",
        "Look at the flame: a clear one means the kiln has no more power; smoke means too much fuel for the air.",
    ),
    FeedLimit.UNGAUGED: (
        "No gauge tells how much air there is.",
        "The plan waits at the kiln's pace, and the feed goes little beyond what the kiln should take.",
        "Look at the flame: smoke means too little air. A draught gauge would let the feed follow the air.",
    ),
    FeedLimit.AIR: (
        "There is no air for more fuel.",
        "The plan waits at the kiln's pace; more fuel would only smoke.",
        "Rake the ash, and look at the fan, the damper and the flue.",
    ),
}
USUAL_WAIT = (
    "The kiln has fallen behind.", "The plan waits until it has caught up.",
    "Look at the flame and into the hopper: damp pellets, a bridge and an open door all cool it.",
)  # fmt: skip


def wait_notice(clamp: FeedLimit) -> Notice:
    """Why the plan waits, by the limit that acts on the feed."""
    happened, did, do_next = WAITS.get(clamp, USUAL_WAIT)
    return Notice(f"The kiln can't climb as fast as the plan asks. {happened}", did, do_next)
