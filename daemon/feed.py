"""How much to feed: the stage's base, moved gently from stage to stage, and the trim around it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from daemon.pid import Clamp, Gains, Trim, next_trim, restarted


@dataclass(frozen=True, slots=True)
class Feed:
    """The feed and its parts, as fractions of the auger's full time: `frac` = base + trim, within the limits."""

    frac: float = 0.0
    base: float = 0.0
    trim: Trim = Trim()
    clamp: Clamp = Clamp.NONE


NO_FEED = Feed()


@dataclass(frozen=True, slots=True)
class FeedOrder:
    """What the stage asks of the feed. `aim_c` is None where nothing trims; `air_ready` lets the base rise."""

    base_frac: float
    aim_c: float | None
    value_c: float | None
    air_ready: bool
    begin: bool
    """The first feed of a fire: start at the base at once instead of creeping up from nothing."""


@dataclass(frozen=True, slots=True)
class FeedRange:
    """Between which fractions the trim may bring the feed, and how fast the base moves, a second."""

    floor_frac: float
    ceiling_frac: float
    slew_per_s: float


def next_feed(last: Feed, order: FeedOrder, dt_s: float, gains: Gains, within: FeedRange) -> Feed:
    """The feed `dt_s` later. More air before more fuel: a rising base waits until `air_ready`.

    With no value to go by (`value_c` None while an aim is set) everything holds as it is.
    """
    if order.aim_c is not None and order.value_c is None:
        return replace(last, trim=restarted(last.trim), clamp=Clamp.STALE)
    waits = order.base_frac > last.base and not order.air_ready and not order.begin
    step = within.slew_per_s * dt_s
    moved = last.base + min(max(order.base_frac - last.base, -step), step)
    base = order.base_frac if order.begin else last.base if waits else moved
    trim, high = last.trim, min(gains.bound_frac, within.ceiling_frac - base)
    low = min(max(-gains.bound_frac, within.floor_frac - base), 0.0)
    if order.aim_c is not None and order.value_c is not None:
        trim = next_trim(trim, order.aim_c, order.value_c, dt_s, gains, low, high)
    elif trim.total != 0.0:  # the stage does not trim: let what is left of the trim fade with the base's pace
        trim = restarted(replace(trim, p=0.0, d=0.0, i=trim.total - min(max(trim.total, -step), step)))
    total = trim.total
    bounded = min(max(total, low), high)
    clamp = Clamp.AIR if waits else Clamp.NONE
    if total > high:
        clamp = Clamp.FEED_CEILING if high < gains.bound_frac else Clamp.TRIM_BOUND
    elif total < low:
        clamp = Clamp.FEED_FLOOR if low > -gains.bound_frac else Clamp.TRIM_BOUND
    return Feed(base + bounded, base, trim, clamp)
