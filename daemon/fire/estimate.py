"""The estimate: what is known of fire, air and heat, from what was fed and what the instruments show.

    B      what burns, kg/h of pellets by heat, from the auger's time and the bed's lags (`bed.py`)
    A      air, kg/h: A += g · (f · at_25_pa · (draught / 25 Pa)^0.54 - A), g of a lag of SMOOTH_S (`mixture.py`)
    ratio  A / (AIR_PER_KG · B): 1 is just enough
    f      the air's factor, the truth over what the gauge says. An oxygen probe moves it by
           df/dt = f · ln(probe / ratio) / LEARN_S, both smoothed over COMPARED_S; where none is fitted the air trial
           (`air_trial.py`) does, df/dt = (f_trial - f) / TRUSTED_S; only PLENTY_FRAC of what f_trial is above 1 counts
    Q      net heat, net(B, A, flue), which drives the heat balance (`heat_balance.py`)

Nothing here decides. Feed and air ask it what burns, how much air there is for it, and what heat the kiln takes; all
three are estimates, and `air_std_frac` says how sure the air is.
"""

from __future__ import annotations

from typing import NamedTuple

from daemon.fire.air_trial import NO_TRIAL, AirTrial, weigh
from daemon.fire.bed import Bed, next_bed
from daemon.fire.calibration import USUAL_RATIO, Calibration
from daemon.fire.heat_balance import HeatBalance, first_heat_balance, next_heat_balance
from daemon.fire.lag import lag_gain
from daemon.fire.mixture import AIR_PER_KG, ROOM_C, air_kg_per_h, net_heat_kg_per_h

SMOOTH_S = 6.0
"""Of the air: longer than a gauge's noise, shorter than a gust (memory)."""
COMPARED_S = 20.0
"""Oxygen probe and estimate are compared over two pulses of the feed, 10 s each."""
LEARN_S = 90.0
"""How fast the oxygen probe corrects the estimate: some pulses of the feed, and well within a stage."""
TRUSTED_S = 120.0
"""How fast the estimate follows the result of the air trial: half a period of it."""
PLENTY_FRAC = 0.5
"""The share that counts of the air which the trial finds beyond what was believed. Too much air wastes pellets, but too
little smokes. Found on the bench: `python -m tests.bench.control`."""
OXYGEN_STD_FRAC = 0.02
"""How sure the air is by an oxygen probe (memory)."""
LEAST_RATIO, LEAN = 0.1, 1.6
"""Below the first there is no air to speak of; above the second a probe is at the end of its range, or in false air
(memory)."""
MOST_WRONG = 2.0
"""The probe corrects the estimate by this factor at most, either way. More means that something is broken (memory)."""
FAINT_KG_PER_H = 0.05
"""Less than this is no fire to tell an air ratio of: half a per cent of the auger (chosen)."""
LONGEST_S = 5.0
"""A longer pause counts as this long, s: five beats (chosen)."""


class Observation(NamedTuple):
    """What there is to go by. None is not fitted or not to be believed; `fed_s` is auger time in this firing."""

    now_s: float
    chamber_c: float | None
    flue_c: float | None
    gauged: bool
    """A draught gauge is fitted."""
    draught_pa: float | None
    oxygen_air_ratio: float | None
    fed_s: float


class Estimate(NamedTuple):
    """What is known. Rates are kg/h, fuel in pellets by its heat."""

    at_s: float = 0.0
    fed_s: float = 0.0
    bed: Bed = Bed()
    balance: HeatBalance | None = None
    """None before the first feed."""
    air_kg_per_h: float = 0.0
    air_factor: float = 1.0
    """The true air over the air by the gauge, as the oxygen probe or the air trial has found it."""
    air_std_frac: float = 0.0
    """Of the air, a share: one standard deviation."""
    air_ratio: float | None = None
    """Air over what just burns the fuel that burns now, as far as it is known."""
    compared: tuple[float, float] | None = None
    """The air ratio by the estimate and by the probe, both smoothed over some pulses of the feed."""
    flue_c: float = ROOM_C
    """Of the gas that leaves: by the flue probe, or the chamber's where there is none."""
    gauged: bool = True
    """A draught gauge is fitted; while it is blind the air counts as it last was."""
    leaner_by: float = 0.0
    """By how much the wanted air ratio has come down because the kiln is short of power."""
    reduced_s: float = 0.0
    """For how long this firing has been reduced."""
    trial: AirTrial = NO_TRIAL

    @property
    def untried_air_kg_per_h(self) -> float:
        """The air as it would be without the trial."""
        return self.air_kg_per_h / (1 + self.trial.aside_frac)


NO_ESTIMATE = Estimate()


def next_estimate(last: Estimate, seen: Observation, calibration: Calibration) -> Estimate:
    """The estimate a beat later."""
    dt_s = min(max(seen.now_s - last.at_s, 0.0), LONGEST_S)
    fed_kg = max(seen.fed_s - last.fed_s, 0.0) * calibration.auger_kg_per_h / 3600
    bed = next_bed(last.bed, fed_kg, dt_s) if dt_s > 0 else last.bed
    burns, air = bed.burns_kg_per_h, next_air_kg_per_h(last, seen, calibration, bed, dt_s)
    flue_c = seen.flue_c if seen.flue_c is not None else seen.chamber_c if seen.chamber_c is not None else last.flue_c
    balance, trial = last.balance, last.trial
    if balance is not None:
        began_s = balance.at_s
        heat = net_heat_kg_per_h(burns, air, flue_c)
        balance = next_heat_balance(balance, seen.now_s, dt_s, seen.chamber_c, heat)
        stepped_s = balance.at_s - began_s
        if stepped_s > 0 and trial is not NO_TRIAL:
            by_gauge = air / last.air_factor
            trial = weigh(trial, burns, by_gauge, flue_c, balance, stepped_s, calibration.air_std_frac)
    factor, std_frac = last.air_factor, calibration.air_std_frac
    if trial.std_frac is not None:
        found = min(trial.air_factor, 1 + PLENTY_FRAC * (trial.air_factor - 1))
        factor, std_frac = factor + lag_gain(dt_s, TRUSTED_S) * (found - factor), trial.std_frac
    ratio = air / (AIR_PER_KG * burns) if burns >= FAINT_KG_PER_H and seen.draught_pa is not None else None
    estimate = last._replace(
        at_s=seen.now_s, fed_s=seen.fed_s, bed=bed, balance=balance, air_kg_per_h=air, air_factor=factor,
        air_std_frac=std_frac, air_ratio=ratio, compared=None, flue_c=flue_c, gauged=seen.gauged, trial=trial,
    )  # fmt: skip
    if ratio is None or seen.oxygen_air_ratio is None:
        return estimate
    return correct_by_oxygen(estimate, ratio, last.compared, seen.oxygen_air_ratio, dt_s)


def next_air_kg_per_h(last: Estimate, seen: Observation, calibration: Calibration, bed: Bed, dt_s: float) -> float:
    """A: the air by the gauge; as it was while the gauge is blind, and enough where a person sets it by eye."""
    if not seen.gauged:
        return USUAL_RATIO * AIR_PER_KG * bed.burns_kg_per_h
    if seen.draught_pa is None:
        return last.air_kg_per_h
    air, now = last.air_kg_per_h, last.air_factor * air_kg_per_h(seen.draught_pa, calibration.air_at_25_pa)
    return now if air <= 0 else air + lag_gain(dt_s, SMOOTH_S) * (now - air)


def correct_by_oxygen(
    estimate: Estimate, ratio: float, compared: tuple[float, float] | None, probe: float, dt_s: float
) -> Estimate:
    """The air brought nearer to the oxygen probe, which leads where it is fitted."""
    gain = lag_gain(dt_s, COMPARED_S)
    ours, theirs = compared if compared is not None else (ratio, probe)
    ours, theirs = ours + gain * (ratio - ours), theirs + gain * (probe - theirs)
    estimate = estimate._replace(compared=(ours, theirs))
    if min(ours, theirs) < LEAST_RATIO or theirs > LEAN:
        return estimate  # no air to speak of, or a fire that is out
    factor = estimate.air_factor * (theirs / ours) ** (dt_s / LEARN_S)
    return estimate._replace(air_factor=min(max(factor, 1 / MOST_WRONG), MOST_WRONG), air_std_frac=OXYGEN_STD_FRAC)


def start_heat_balance(estimate: Estimate, now_s: float, chamber_c: float | None, calibration: Calibration) -> Estimate:
    """From the first feed on the heat balance runs; without a chamber to read it waits for one."""
    if estimate.balance is not None or chamber_c is None:
        return estimate
    return estimate._replace(balance=first_heat_balance(now_s, chamber_c, calibration.chamber_m3))
