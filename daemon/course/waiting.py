"""Why a plan waits for the kiln, in words for the person."""

from __future__ import annotations

from daemon.control.feed import FeedLimit
from daemon.notice import Notice

BY_LIMIT = {
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
USUAL = (
    "The kiln has fallen behind.", "The plan waits until it has caught up.",
    "Look at the flame and into the hopper: damp pellets, a bridge and an open door all cool it.",
)  # fmt: skip


def wait_notice(limited_by: FeedLimit) -> Notice:
    """Why the plan waits, by the limit that acts on the feed."""
    happened, did, do_next = BY_LIMIT.get(limited_by, USUAL)
    return Notice(f"The kiln can't climb as fast as the plan asks. {happened}", did, do_next)
