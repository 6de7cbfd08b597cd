"""The trim: a PID around the stage's base feed, bounded, with its parts kept so that "why 23 %?" has an answer.

Parallel form, u = P + I + D; the derivative acts on the smoothed measurement, so that a moved aim gives no kick;
conditional integration against windup (Åström & Hägglund, Advanced PID Control, 2006, ch. 3).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Clamp(Enum):
    """Which limit acted on the feed."""

    NONE = "none"
    TRIM_BOUND = "trim bound"
    FEED_FLOOR = "feed floor"
    FEED_CEILING = "feed ceiling"
    STALE = "held: the reading is stale"
    AIR = "waits for the air"


@dataclass(frozen=True, slots=True)
class Gains:
    """Proportional gain (fraction of full feed per K), integral and derivative times and derivative filter, s."""

    gain_frac_per_k: float
    reset_s: float
    rate_s: float
    rate_filter_s: float
    bound_frac: float


@dataclass(frozen=True, slots=True)
class Trim:
    """The trim's parts, as fractions of full feed. `smooth_c` and `slope_k_per_s` are the filtered measurement."""

    p: float = 0.0
    i: float = 0.0
    d: float = 0.0
    smooth_c: float | None = None
    slope_k_per_s: float = 0.0

    @property
    def total(self) -> float:
        """What the trim wants to add to the base, before any limit."""
        return self.p + self.i + self.d


def next_trim(last: Trim, aim_c: float, value_c: float, dt_s: float, gains: Gains, low: float, high: float) -> Trim:
    """The trim `dt_s` later. `low` and `high` (fractions) are what the feed leaves it; the integral never pushes out.

    A first call starts bumplessly: the integral is set so that the total is what it was.
    """
    if dt_s <= 0:
        return last
    slope, smooth_c = last.slope_k_per_s, value_c
    if last.smooth_c is not None:
        weight = dt_s / (gains.rate_filter_s + dt_s)
        smooth_c = last.smooth_c + weight * (value_c - last.smooth_c)
        slope = (smooth_c - last.smooth_c) / dt_s
    p = gains.gain_frac_per_k * (aim_c - value_c)
    d = -gains.gain_frac_per_k * gains.rate_s * slope
    if last.smooth_c is None:
        return Trim(p, last.total - p - d, d, smooth_c, slope)
    i = last.i + p * dt_s / gains.reset_s
    outside = (p + i + d > high and i > last.i) or (p + i + d < low and i < last.i)
    return Trim(p, last.i if outside else i, d, smooth_c, slope)


def restarted(last: Trim) -> Trim:
    """After a pause (a stale reading, hand feed, another stage's gains): go on from the same total, without a bump."""
    return Trim(p=0.0, i=last.total, d=0.0, smooth_c=None)
