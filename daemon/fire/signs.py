"""Is there a fire? Signs that what is fed burns, and how much was fed since the last one.

A flame eye, where fitted, must see flame; it sees glowing walls too, so it is never enough. The chamber must show it:

    below WARMS_BELOW_C     it gets warmer: smooth - low >= WARMED_K
    above                   it falls no faster than a kiln whose fire is out:
                            -(slope + LEAD_S · min(bend, 0)) < limit
                            limit = max(DEAD_FALL_LEAST, above · DEAD_FALL · max(1, above / RADIANT_K))

    above    smooth - room, K
    smooth   the chamber, °C, lagged by FALL_FILTER_S;  low: the lowest it was since the last sign
    slope    of smooth, K/s, and bend, of slope, K/s²; both lagged by FALL_FILTER_S

A warm kiln cools slowly, its walls give back what they hold, and so a fall tells nothing there. A kiln that holds its
heat at a low feed doesn't get warmer by itself: the feed asks the fire (`daemon/control/feed.py`). The bend tells a
fire that has just gone out a minute before the slope does.

Without a sign the pellets fed are counted, and the count is what trips: a slow feed gets more time than a fast one, and
a dead grate never gets more than the count allows.

The numbers were found on traces of six kilns of another structure than the simulated one (stirred gas, wall of seven
cells, own bed and flame), cold and warm, with half bridges and gusts: of 42 fires that went out 40 were found within
0.3 kg or two minutes of full feed, and no burning kiln was called dead. Other kilns judge
(`python -m tests.bench.faults`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp

from daemon.fire.mixture import ROOM_C
from hardware.port import NOT_FITTED, Readings, Temperature

FALL_FILTER_S = 20.0  # longer than the noise, shorter than the time a dead fire may be fed
LEAD_S = 90.0
DEAD_FALL_PER_S, RADIANT_K = 1 / 20_000, 700.0
"""Of (chamber - room), and more where radiation rules: 4 K a minute at 1000 °C. Kilns whose fire is out fall by 5 to
10 K a minute at that heat, and by 15 K at 1150 °C. Burning ones that are short of power or air fall by 2 K, under a
half bridge by 3 to 6 K for a minute or two."""
DEAD_FALL_LEAST_K_PER_S = 0.3 / 60
WARMS_BELOW_C = 300.0
ASKS_FRAC = 0.5
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
    bend_k_per_s2: float = 0.0
    low_c: float | None = None
    """The coolest the smoothed chamber was since the last sign of fire."""

    @property
    def chamber_shows_it(self) -> bool:
        """The chamber behaves as over a fire."""
        if self.smooth_c is None or self.low_c is None:
            return False
        if self.smooth_c - self.low_c >= WARMED_K:
            return True
        falls = self.slope_k_per_s + LEAD_S * min(self.bend_k_per_s2, 0.0)
        return self.smooth_c >= WARMS_BELOW_C and -falls < fall_limit_k_per_s(self.smooth_c)


def next_signs(last: FireSigns, readings: Readings, fed_s: float) -> FireSigns:
    """The fire a moment later; `fed_s` is all the auger time delivered in this firing."""
    now_s, chamber = readings.now_s, readings.probes["chamber"]
    flame_s = now_s if readings.flame_seen is True else last.flame_s
    if not isinstance(chamber, Temperature):
        return replace(last, at_s=now_s, flame_s=flame_s)
    dt_s = now_s - last.at_s
    if last.smooth_c is None or dt_s <= 0:
        return FireSigns(now_s, chamber.value_c, 0.0, last.sign_fed_s, flame_s, low_c=chamber.value_c)
    weight = 1 - exp(-dt_s / FALL_FILTER_S)
    smooth_c = last.smooth_c + weight * (chamber.value_c - last.smooth_c)
    slope = last.slope_k_per_s + weight * ((smooth_c - last.smooth_c) / dt_s - last.slope_k_per_s)
    bend = last.bend_k_per_s2 + weight * ((slope - last.slope_k_per_s) / dt_s - last.bend_k_per_s2)
    low_c = smooth_c if last.low_c is None else min(last.low_c, smooth_c)
    signs = FireSigns(now_s, smooth_c, slope, last.sign_fed_s, flame_s, bend, low_c)
    if signs.chamber_shows_it and not is_dark(readings, flame_s, now_s):
        return replace(signs, sign_fed_s=fed_s, low_c=smooth_c)
    return signs


def fall_limit_k_per_s(chamber_c: float) -> float:
    """How fast the chamber may fall before that is no sign of fire any more, K/s."""
    above_k = chamber_c - ROOM_C
    return max(DEAD_FALL_LEAST_K_PER_S, above_k * DEAD_FALL_PER_S * max(1.0, above_k / RADIANT_K))


def asks_fire(signs: FireSigns, unproven_kg: float, most_kg: float) -> bool:
    """Whether the feed has to ask the fire: half of what may be fed without a sign has made a cool kiln no warmer."""
    cool = signs.smooth_c is not None and signs.smooth_c < WARMS_BELOW_C
    return cool and unproven_kg >= ASKS_FRAC * most_kg


def is_dark(readings: Readings, flame_s: float | None, now_s: float, for_s: float = 5.0) -> bool:
    """True when an eye is fitted and has seen no flame for `for_s` seconds."""
    if readings.flame_seen is NOT_FITTED or readings.flame_seen is True:
        return False
    return flame_s is None or now_s - flame_s >= for_s
