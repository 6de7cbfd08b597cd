"""Probe drift: whether the chamber's reading still goes with the heat that is fed, or has begun to drift.

A probe that slowly reads less makes the daemon feed more, and the kiln gets hotter than anybody knows. Two looks:

- the flue's: the gap between flue and chamber stays nearly the same through a firing, and a drift opens it;
- the fuel's: the heat fed against what a kiln of this kind takes for these temperatures, up the flue and into walls.

Each look learns what is usual in this firing, and slowly forgets it. What is more than usual is summed, with a leak, to
the drift, K, that would explain it. The fuel's look alone never warns: more fuel than the air can burn looks just the
same to it. So without a flue probe nothing is known, nor before `CHARCOAL_KG` and `LEARN_S`; and a flue probe that
reads too high looks like a chamber probe that reads too low.

    takes = FLUE_KG_PER_H · sqrt(draught) · (chamber - room) / 1000 + WALL_COEFFICIENT · pull      kg/h
    more  = ln(heat fed / takes)         fuel's look; one unit is explained by (chamber - room) K of drift
    gap   = flue - chamber               flue's look; one K is explained by one K

This is a second heat balance beside `heat_balance.py`, and has to be: that one follows the chamber probe, and takes
what a drifting probe makes up for a load. This one has a fixed shape and believes the fuel. The shape, the times and
the limits were found on the simulated kilns: `python -m tests.bench.drift`.
"""

from __future__ import annotations

from math import log, sqrt
from typing import NamedTuple

from daemon.fire.lag import WALL_LAGS_S, lag_gain, next_wall_lags, wall_pull
from daemon.fire.mixture import ROOM_C

STEP_S = 30.0  # the sums are done this often; between, what is fed is only added up
FORGET_S = 600.0  # a longer pause, or a chamber unknown for longer: all begins afresh
HEAT_LAG_S, CHAMBER_LAG_S = 240.0, 180.0  # from the chute to the heat: drying, pyrolysis, char (simulated bed)
FLUE_KG_PER_H, WALL_COEFFICIENT = 0.42, 0.070
"""The kiln's shape: what goes up the flue, per root Pa and 1000 K, and into ware and wall, per K and root second."""
ROOT_PA_PER_KG = 1.8  # where no gauge tells the air, it goes with the fuel
AIR_ENOUGH_FRAC = 0.9  # of the air wanted for the fuel: with less, some fuel is smoke and no heat
CHARCOAL_KG = 4.0
"""Pellets fed before either look begins: by then the charcoal's heat no longer counts (1 kg lasts 2 to 3 h)."""
LEARN_S = 1800.0
USUAL_S = 7200.0
"""How fast the usual value follows, s. If it were faster, a drift would be learnt as usual; if slower, every new bag of
pellets would look like a drift."""
FUEL_LEAK_S, FLUE_LEAK_S = 3600.0, 600.0
MOST_FUEL = 0.5  # of the heat, as a logarithm: more is no drift
HOLD_K = 25.0  # a look that suspects so much stops forgetting
DRIFT_K, AGREE_K, ALONE_K = 45.0, 15.0, 75.0
"""A drift is reported from DRIFT_K by the flue with AGREE_K by the fuel, or ALONE_K by the flue (healthy: below 15 K).
"""


class Look(NamedTuple):
    """One way of looking: what is usual, for how long it was learnt, and the drift it suspects, K."""

    usual: float = 0.0
    learnt_s: float = 0.0
    drift_k: float = 0.0

    def next(self, value: float, per_k: float, leak_s: float, dt_s: float) -> Look:
        """The look `dt_s` later; one unit of `value` more than usual is explained by `per_k` of drift, K."""
        learnt_s, more = self.learnt_s + dt_s, value - self.usual
        if learnt_s <= LEARN_S:  # what was suspected before stays suspected
            return Look(self.usual + (more - self.drift_k / per_k) * dt_s / learnt_s, learnt_s, self.drift_k)
        drift_k = self.drift_k + lag_gain(dt_s, leak_s) * (more * per_k - self.drift_k)
        forgets = lag_gain(dt_s, USUAL_S) if drift_k < HOLD_K else 0.0
        return Look(self.usual + forgets * more, learnt_s, drift_k)


class ProbeDrift(NamedTuple):
    """The heat of one firing so far. Times are the rig's clock, s; the rate of heat is in pellets, kg/h."""

    at_s: float
    step_s: float
    smooth_c: float
    wall_lags_c: tuple[float, ...]
    """The chamber's temperature as the wall's three lags have it."""
    fed_kg: float = 0.0
    waiting_kg: float = 0.0
    """Fed since the sums were last done."""
    heat_kg_per_h: float = 0.0
    root_pa: float = 0.0
    fuel: Look = Look()
    flue: Look = Look()

    @property
    def drift_k(self) -> float | None:
        """By how much the chamber probe seems to read too low, K, once it is reported; else None."""
        seems_k = self.flue.drift_k
        believed = seems_k < DRIFT_K or (seems_k < ALONE_K and self.fuel.drift_k < AGREE_K)
        return None if believed else seems_k


def next_probe_drift(
    last: ProbeDrift | None, now_s: float, chamber_c: float | None, flue_c: float | None, feed_kg_per_s: float,
    draught_pa: float | None = None, air_frac: float = 1.0,
) -> ProbeDrift | None:  # fmt: skip
    """The watch a moment later; None until there is a chamber to begin with. For once a second, while feeding.

    `feed_kg_per_s` is the mean since the last call; `air_frac` is the air for it, as a share of what is wanted.
    """
    if last is None or not last.at_s < now_s <= last.step_s + FORGET_S:
        return None if chamber_c is None else ProbeDrift(now_s, now_s, chamber_c, (chamber_c,) * len(WALL_LAGS_S))
    fed_kg = feed_kg_per_s * min(1.0, air_frac / AIR_ENOUGH_FRAC) * (now_s - last.at_s)
    last = last._replace(at_s=now_s, fed_kg=last.fed_kg + fed_kg, waiting_kg=last.waiting_kg + fed_kg)
    return (
        last if chamber_c is None or now_s - last.step_s < STEP_S else drift_step(last, chamber_c, flue_c, draught_pa)
    )


def drift_step(last: ProbeDrift, chamber_c: float, flue_c: float | None, draught_pa: float | None) -> ProbeDrift:
    """The sums of one step, with what was fed since the last."""
    dt_s, fuel, flue = last.at_s - last.step_s, last.fuel, last.flue
    lag = lag_gain(dt_s, HEAT_LAG_S)
    heat_kg_per_h = last.heat_kg_per_h + lag * (last.waiting_kg / dt_s * 3600 - last.heat_kg_per_h)
    draws_pa = (ROOT_PA_PER_KG * heat_kg_per_h) ** 2 if draught_pa is None else max(draught_pa, 0.0)
    root_pa = last.root_pa + lag * (sqrt(draws_pa) - last.root_pa)
    smooth_c = last.smooth_c + lag_gain(dt_s, CHAMBER_LAG_S) * (chamber_c - last.smooth_c)
    wall_lags_c = next_wall_lags(last.wall_lags_c, smooth_c, dt_s)
    above_k = max(smooth_c - ROOM_C, 1.0)
    takes = FLUE_KG_PER_H * root_pa * above_k / 1000 + WALL_COEFFICIENT * wall_pull(smooth_c, wall_lags_c)
    if last.fed_kg >= CHARCOAL_KG and heat_kg_per_h > 0:
        more = log(heat_kg_per_h / max(takes, 0.05 * heat_kg_per_h))
        if fuel.learnt_s > LEARN_S:
            more = min(max(more, fuel.usual - MOST_FUEL), fuel.usual + MOST_FUEL)
        fuel = fuel.next(more, above_k, FUEL_LEAK_S, dt_s)
        if flue_c is not None:
            flue = flue.next(flue_c - chamber_c, 1.0, FLUE_LEAK_S, dt_s)
    return ProbeDrift(last.at_s, last.at_s, smooth_c, wall_lags_c, last.fed_kg, 0.0, heat_kg_per_h, root_pa, fuel,
                   flue)  # fmt: skip
