"""The hearth: what is known of fire, air and heat, from what was fed and what the instruments show.

Nothing here decides. `feed.py` and `air.py` ask it what burns, how much air there is for it, and what heat the kiln
takes; all three are estimates, and how sure the air is says `spread`.
"""

from __future__ import annotations

from typing import NamedTuple

from daemon.fire.air_trial import NO_TRIAL, AirTrial, weigh
from daemon.fire.bed import Bed, next_bed
from daemon.fire.heat_balance import HeatBalance, first_heat_balance, next_heat_balance
from daemon.fire.lag import lag_gain
from daemon.fire.mixture import AIR_PER_KG, ROOM_C, air_kg_per_h, flue_loss_kg_per_kg, net_heat_kg_per_h

SMOOTH_S = 6.0
"""Of the air: longer than a gauge's noise, shorter than a gust."""
COMPARED_S = 20.0
"""Probe and estimate are compared over two pulses of the feed."""
LEARN_S = 90.0
"""How fast the oxygen probe corrects the estimate."""
TRUSTED_S = 120.0
"""How fast the estimate follows what the dither has told."""
PLENTY_FRAC = 0.5
"""Of the air that the dither finds beyond what was believed so much counts: too much wastes pellets, but too little
smokes."""
OXYGEN_STD_FRAC = 0.02
LEAST_RATIO, LEAN = 0.1, 1.6
MOST_WRONG = 2.0
"""The probe corrects the estimate by at most so much, either way."""
USUAL_RATIO = 1.3
FAINT_KG_PER_H = 0.05  # less than this is no fire to tell an air ratio of


class Calibration(NamedTuple):
    """What this kiln is: pellets with the auger always on (weighed), air at 25 Pa (kg/h) and how sure, its size."""

    auger_kg_per_h: float
    air_at_25_pa: float
    spread: float
    chamber_m3: float


class Observation(NamedTuple):
    """What there is to go by. None is not fitted or not to be believed; `fed_s` is auger time in this firing."""

    now_s: float
    chamber_c: float | None
    flue_c: float | None
    gauge: bool
    """A draught gauge is fitted."""
    draught_pa: float | None
    oxygen_ratio: float | None
    fed_s: float


class Estimate(NamedTuple):
    """What is known. Rates are kg/h, fuel in pellets by its heat."""

    at_s: float = 0.0
    fed_s: float = 0.0
    bed: Bed = Bed()
    warmth: HeatBalance | None = None
    air_kg_per_h: float = 0.0
    factor: float = 1.0
    """What the oxygen probe or the dither has taught: the truth over the estimate."""
    spread: float = 0.0
    """Of the air, a share: one standard deviation."""
    ratio: float | None = None
    """Air over what just burns the fuel that burns now, as far as it is known."""
    compared: tuple[float, float] | None = None
    """Estimate and probe, both smoothed over some pulses of the feed."""
    flue_c: float = ROOM_C
    gauged: bool = True
    """A draught gauge is fitted; while it is blind the air counts as it last was."""
    leaner: float = 0.0
    """By how much the wanted air ratio has come down for want of power."""
    reduced_s: float = 0.0
    """For how long this firing has been reduced."""
    dither: AirTrial = NO_TRIAL
    """Small changes of the air, and what they have told."""

    @property
    def dead_k_per_s(self) -> float:
        """How fast the chamber would fall with nothing burning and the air as it is; 0 where that isn't known."""
        warmth = self.warmth
        if warmth is None:
            return 0.0
        carried = self.air_kg_per_h * flue_loss_kg_per_kg(self.flue_c)
        return (warmth.holds_kg_per_h + carried) / 3600 / warmth.mass_now

    @property
    def calm_kg_per_h(self) -> float:
        """The air as it would be without the dither."""
        return self.air_kg_per_h / (1 + self.dither.aside)


NO_ESTIMATE = Estimate()


def next_estimate(last: Estimate, seen: Observation, means: Calibration) -> Estimate:
    """The hearth a beat later."""
    dt_s = min(max(seen.now_s - last.at_s, 0.0), 5.0)
    fed_kg = max(seen.fed_s - last.fed_s, 0.0) * means.auger_kg_per_h / 3600
    bed = next_bed(last.bed, fed_kg, dt_s) if dt_s > 0 else last.bed
    air = last.air_kg_per_h
    if not seen.gauge:  # the person sets the air by eye: taken for enough
        air = USUAL_RATIO * AIR_PER_KG * bed.burns_kg_per_h
    elif seen.draught_pa is not None:
        now = last.factor * air_kg_per_h(seen.draught_pa, means.air_at_25_pa)
        air = now if air <= 0 else air + lag_gain(dt_s, SMOOTH_S) * (now - air)
    flue_c = seen.flue_c if seen.flue_c is not None else seen.chamber_c if seen.chamber_c is not None else last.flue_c
    warmth, dither = last.warmth, last.dither
    if warmth is not None:
        warmth = next_heat_balance(
            warmth, seen.now_s, dt_s, seen.chamber_c, net_heat_kg_per_h(bed.burns_kg_per_h, air, flue_c)
        )
        stepped_s = warmth.at_s - last.warmth.at_s if last.warmth is not None else 0.0
        if stepped_s > 0 and dither is not NO_TRIAL:
            believed = air / last.factor
            dither = weigh(dither, bed.burns_kg_per_h, believed, flue_c, warmth, stepped_s, means.spread)
    burns = bed.burns_kg_per_h
    ratio = air / (AIR_PER_KG * burns) if burns >= FAINT_KG_PER_H and seen.draught_pa is not None else None
    factor, spread = last.factor, means.spread
    if dither.spread is not None:
        true = min(dither.true, 1 + PLENTY_FRAC * (dither.true - 1))
        factor, spread = factor + lag_gain(dt_s, TRUSTED_S) * (true - factor), dither.spread
    known = Estimate(seen.now_s, seen.fed_s, bed, warmth, air, factor, spread, ratio, None, flue_c, seen.gauge,
                   last.leaner, last.reduced_s, dither)  # fmt: skip
    return (
        known
        if ratio is None or seen.oxygen_ratio is None
        else correct_by_oxygen(known, last.compared, seen.oxygen_ratio, dt_s)
    )


def correct_by_oxygen(known: Estimate, compared: tuple[float, float] | None, probe: float, dt_s: float) -> Estimate:
    """The estimate brought nearer to the oxygen probe, which leads where it is fitted."""
    ratio = known.ratio if known.ratio is not None else probe
    weight = lag_gain(dt_s, COMPARED_S)
    ours, theirs = compared if compared is not None else (ratio, probe)
    ours, theirs = ours + weight * (ratio - ours), theirs + weight * (probe - theirs)
    known = known._replace(compared=(ours, theirs))
    if min(ours, theirs) < LEAST_RATIO or theirs > LEAN:
        return known  # no air to speak of; or a probe at the end of its range, in false air, or over a fire that is out
    factor = known.factor * (theirs / ours) ** (dt_s / LEARN_S)
    return known._replace(factor=min(max(factor, 1 / MOST_WRONG), MOST_WRONG), spread=OXYGEN_STD_FRAC)


def start_heat_balance(hearth: Estimate, now_s: float, chamber_c: float | None, means: Calibration) -> Estimate:
    """From the first feed on the heat balance runs; without a chamber to read it waits for one."""
    if hearth.warmth is not None or chamber_c is None:
        return hearth
    return hearth._replace(warmth=first_heat_balance(now_s, chamber_c, means.chamber_m3))
