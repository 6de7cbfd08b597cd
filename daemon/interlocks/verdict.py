"""The verdict of a scan, and the clocks of the conditions that it was given by."""

from __future__ import annotations

from typing import NamedTuple

from daemon.interlocks.interlock import Safe
from daemon.interlocks.table import INTERLOCKS
from daemon.notice import Cause, Finding

Since = tuple[tuple[float, float] | None, ...]
"""For each interlock of the table, since when its condition stands and when it was last seen; None where it doesn't.

A condition that comes and goes keeps its start until it has stayed away for as long as its delay: flapping trips too.
"""

NOTHING_SINCE: Since = (None,) * len(INTERLOCKS)


class Verdict(NamedTuple):
    """What may be done. `feed_allowed` is the only way to a closed feed contact; `safe` overrides the wish."""

    feed_allowed: bool
    findings: tuple[Finding, ...]
    trip: Finding | None
    """The first trip of this scan. In a lock-out the first-out in the memory is the one that counts."""
    holding: tuple[Cause, ...]
    """Conditions that hold the feed now, whether or not they have lasted long enough to trip."""
    safe: Safe | None
    """What the other outputs do while the feed is locked out; None while it isn't."""
    since: Since
