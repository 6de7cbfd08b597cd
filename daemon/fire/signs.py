"""Is there a fire? Signs that what is fed burns, and how much was fed since the last one.

Two signs have to agree. A flame eye, where fitted, sees flame (it sees glowing walls too, so it can't be the only
one). And the chamber doesn't fall as fast as a kiln whose fire is out: the hotter the kiln,
the quicker that fall, and so is the limit; a kiln that is all but cold has to get warmer, whatever an eye sees. Without
such a sign the pellets fed are counted, and the count is what trips: a slow feed gets more time than a fast one, and a
dead grate never gets more than the count allows.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from daemon.fire.mixture import ROOM_C
from hardware.port import NOT_FITTED, Readings, Temperature

FALL_FILTER_S = 25.0  # longer than the noise, shorter than the time a dead fire may be fed
DEAD_FALL_PER_S = 1 / 25_000
"""Of (chamber - room): a fall quicker than this is no sign of fire, 2.4 K a minute at 1000 °C.

Simulated kilns whose fire is out fall by 10 K a minute and more at that heat, after a first plunge; burning ones that
are short of power or air by 2 K.
"""
DEAD_SHARE, RADIANT_K = 0.3, 700.0
"""If the heat balance says that the kiln would fall much faster with nothing burning, the limit is this share of that
rate: damp pellets make a burning kiln fall. It is at most max(1, (chamber - room) / RADIANT_K) times the limit above:
3.3 K a minute at 1000 °C."""
DEAD_FALL_LEAST_K_PER_S = 0.3 / 60
ALL_BUT_COLD_C = 80.0
WARMED_K = 1.0  # far more than the smoothed noise


@dataclass(frozen=True, slots=True)
class FireSigns:
    """What is known of the fire. `sign_fed_s`: how much had been fed, in auger seconds, at the last sign of it."""

    at_s: float
    smooth_c: float | None = None
    slope_k_per_s: float = 0.0
    sign_fed_s: float = 0.0
    flame_s: float | None = None
    """When the eye last saw flame, or the feed began: no later stage begins this clock anew. None before the feed."""
    low_c: float | None = None
    """The coolest the smoothed chamber was since the last sign of fire."""


def next_signs(last: FireSigns, readings: Readings, fed_s: float, without_fire_k_per_s: float = 0.0) -> FireSigns:
    """The fire a moment later; `fed_s` is all the auger time delivered in this firing.

    `without_fire_k_per_s` is how fast the chamber would fall with nothing burning, as far as that is known.
    """
    now_s, chamber = readings.now_s, readings.probes["chamber"]
    flame_s = now_s if readings.flame_seen is True else last.flame_s
    if not isinstance(chamber, Temperature):
        return FireSigns(now_s, last.smooth_c, last.slope_k_per_s, last.sign_fed_s, flame_s, last.low_c)
    dt_s = now_s - last.at_s
    if last.smooth_c is None or dt_s <= 0:
        return FireSigns(now_s, chamber.value_c, 0.0, last.sign_fed_s, flame_s, chamber.value_c)
    weight = 1 - exp(-dt_s / FALL_FILTER_S)
    smooth_c = last.smooth_c + weight * (chamber.value_c - last.smooth_c)
    slope = last.slope_k_per_s + weight * ((smooth_c - last.smooth_c) / dt_s - last.slope_k_per_s)
    low_c = smooth_c if last.low_c is None else min(last.low_c, smooth_c)
    warms, falls = smooth_c - low_c >= WARMED_K, -slope >= fall_limit_k_per_s(smooth_c, without_fire_k_per_s)
    burns = warms if smooth_c < ALL_BUT_COLD_C else not falls
    if burns and not is_dark(readings, flame_s, now_s):
        return FireSigns(now_s, smooth_c, slope, fed_s, flame_s, smooth_c)
    return FireSigns(now_s, smooth_c, slope, last.sign_fed_s, flame_s, low_c)


def fall_limit_k_per_s(chamber_c: float, without_fire_k_per_s: float = 0.0) -> float:
    """How fast the chamber may fall before that is no sign of fire any more, K/s."""
    above_k = chamber_c - ROOM_C
    usual = above_k * DEAD_FALL_PER_S
    most = usual * max(1.0, above_k / RADIANT_K)
    return max(DEAD_FALL_LEAST_K_PER_S, min(max(usual, DEAD_SHARE * without_fire_k_per_s), most))


def is_dark(readings: Readings, flame_s: float | None, now_s: float, for_s: float = 5.0) -> bool:
    """True when an eye is fitted and has seen no flame for `for_s` seconds."""
    if readings.flame_seen is NOT_FITTED or readings.flame_seen is True:
        return False
    return flame_s is None or now_s - flame_s >= for_s
