"""The air trial: small deliberate changes of the air, and what the chamber makes of them, tell how much air there is.

Where there is enough air, more of it only carries heat away; short of air, more of it burns what went out unburnt. So
the chamber's answer to a little less and a little more air tells how near to short the fire burns, whatever the gauge
was thought to mean.

Hypotheses i = -4 … 4 stand side by side: the true air is e^(i·s) times what was believed, s the spacing. Each says what
heat the change of air makes beyond what the heat balance reckons with,

    q_i = net(B (1 + BLOWN·a), A_i) - net(B, A_i / (1 + a)) - [net(B, A) - net(B, A / (1 + a))]      kg/h

    B fuel that burns, A air as believed, A_i = A e^(i·s), a the share by which the air is aside, net(): `mixture.py`

and so by how much it should show in the filter's innovations, r_i: q_i goes through the filter's own prediction and
correction, with the gain that it had. The log-likelihood of each grows by r_i (innovation - r_i / 2) / noise², fades
with FADES_S, and weighs it: a bank of hypotheses on the innovations of one Kalman filter (Bar-Shalom, Li & Kirubarajan,
Estimation with Applications to Tracking and Navigation, 2001, ch. 11). The posterior's mean and standard deviation are
the air's factor and how sure it is.

A period is begun or not, and then goes through: were it ended for what the fire does, the loop's answer to the fire
would be taken for the fire's answer to the air (Ljung, System Identification, 2nd ed. 1999, ch. 13: closed loops).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, sqrt
from typing import NamedTuple

from daemon.fire.heat_balance import GAS_S, PROBE_LAG_S, HeatBalance
from daemon.fire.lag import lag_gain
from daemon.fire.mixture import net_heat_kg_per_h

ASIDE_FRAC, HALF_S = 0.06, 120.0
"""By which share the air is put aside, first down and then up, each for so long: the chamber hardly moves by it. Found
on the bench: `python -m tests.bench.control`."""
REACHED_S = 6.0
"""The fan takes so long to it: `STEER_S` of `control/air.py`."""
BLOWN = 0.1
"""How much more burns for each part more of air, because air blows on the char (a third of the char's share, memory).
"""
SPACING_STD, LEAST_SPACING = 0.6, 0.06
"""The spacing s, in ln(air): SPACING_STD standard deviations of the believed air, and at least LEAST_SPACING. So the
nine reach 2.4 standard deviations either way."""
NOISE_S, NOISES, QUIET_K2 = 300.0, 2.5, 0.02
"""The noise: the mean square of the innovations over NOISE_S, times NOISES because it comes in bouts, at least
QUIET_K2. Found on the bench: `python -m tests.bench.control`."""
FADES_S = 4 * 3600.0
"""Ash gathers and is raked out: what was seen counts less and less (memory)."""
PLACES = range(-4, 5)
ZEROS = (0.0,) * len(PLACES)

Effect = tuple[float, float, float]


class AirTrial(NamedTuple):
    """The trial's periods, and what they have shown. A tuple has one value for each hypothesis."""

    since_s: float | None = None
    """Of the period under way; None while the air is left alone."""
    aside_frac: float = 0.0
    """a: by which share the air is aside by now."""
    lagged_kg_per_h: tuple[float, ...] = ZEROS
    """q_i: the heat that the balance doesn't know of, as late as the probe has it."""
    effects: tuple[Effect, ...] = ((0.0, 0.0, 0.0),) * len(PLACES)
    """By how much q_i puts the balance off: its chamber (K), load (kg/h) and gas (K)."""
    noise_k2: float = 0.0
    """How far the readings are off lately, squared."""
    log_likelihoods: tuple[float, ...] = ZEROS
    air_factor: float = 1.0
    """The air over what was believed of it."""
    std_frac: float | None = None
    """How sure that is: one standard deviation, a share. None before anything was tried."""


NO_TRIAL = AirTrial()


def wanted_aside_frac(last: AirTrial, now_s: float) -> float:
    """By which share the air is to be aside now: first less, then more."""
    if last.since_s is None:
        return 0.0
    return ASIDE_FRAC if now_s - last.since_s >= HALF_S else -ASIDE_FRAC


def next_period(last: AirTrial, now_s: float, may: bool, ends: bool = False) -> AirTrial:
    """The period after a beat: it goes on, or begins where it `may`. Only the plan `ends` it early, never the fire."""
    if ends:
        return last if last.since_s is None else last._replace(since_s=None)
    if last.since_s is None:
        return last._replace(since_s=now_s) if may else last
    if 0 <= now_s - last.since_s < 2 * HALF_S:
        return last
    return last._replace(since_s=now_s if may else None)


def spacing(believed_std: float) -> float:
    """s: how far the hypotheses lie apart, of ln air."""
    return max(SPACING_STD * believed_std, LEAST_SPACING)


def weigh(
    last: AirTrial, burns: float, air: float, flue_c: float, balance: HeatBalance, dt_s: float, believed_std: float
) -> AirTrial:
    """The hypotheses after a step (s) of the heat balance.

    `burns` and `air` are B and A, kg/h, the air before anything was learnt here; `believed_std` is how sure it was.
    """
    aside = last.aside_frac
    aside += lag_gain(dt_s, REACHED_S) * (wanted_aside_frac(last, balance.at_s) - aside)
    mass, innovation, noise = balance.mass_kg_per_k * 3600, balance.innovation, last.noise_k2
    if innovation is not None:
        noise += (lag_gain(dt_s, NOISE_S) if noise else 1.0) * (innovation.off_k**2 - noise)
    variance = max(NOISES * noise, QUIET_K2)
    fade, arrives, kept = exp(-dt_s / GAS_S), lag_gain(dt_s, PROBE_LAG_S), exp(-dt_s / FADES_S)
    share = spacing(believed_std)
    known = net_heat_kg_per_h(burns, air, flue_c) - net_heat_kg_per_h(burns, air / (1 + aside), flue_c)
    lagged, effects, logs = [], [], []
    for place, heat, (chamber_k, load, gas_k), log in zip(
        PLACES, last.lagged_kg_per_h, last.effects, last.log_likelihoods, strict=True
    ):
        true = air * exp(place * share)
        made = net_heat_kg_per_h(burns * (1 + BLOWN * aside), true, flue_c)
        heat += arrives * (made - net_heat_kg_per_h(burns, true / (1 + aside), flue_c) - known - heat)
        chamber_k += (heat - load) * dt_s / mass
        gas_k *= fade
        log *= kept
        if innovation is not None:
            seen_k = chamber_k + gas_k  # r_i
            log += seen_k * (innovation.off_k - seen_k / 2) / variance
            chamber_k -= innovation.gain[0] * seen_k
            load -= innovation.gain[3] * seen_k
            gas_k -= innovation.gain[4] * seen_k
        lagged.append(heat)
        effects.append((chamber_k, load, gas_k))
        logs.append(log)
    air_factor, std_frac = posterior(logs, believed_std)
    return AirTrial(
        since_s=last.since_s, aside_frac=aside, lagged_kg_per_h=tuple(lagged), effects=tuple(effects), noise_k2=noise,
        log_likelihoods=tuple(logs), air_factor=air_factor, std_frac=std_frac,
    )  # fmt: skip


def posterior(log_likelihoods: Sequence[float], believed_std: float) -> tuple[float, float]:
    """The true air over the believed, and how sure: a factor, and one standard deviation as a share.

    The hypotheses lie normally about what was believed, `believed_std` being one standard deviation.
    """
    share = spacing(believed_std)
    logs = [log - (place * share / believed_std) ** 2 / 2 for place, log in zip(PLACES, log_likelihoods, strict=True)]
    most = max(logs)
    weights = [exp(log - most) for log in logs]
    total = sum(weights)
    mean = sum([w * place for w, place in zip(weights, PLACES, strict=True)]) / total
    square = sum([w * (place - mean) ** 2 for w, place in zip(weights, PLACES, strict=True)]) / total
    return exp(mean * share), sqrt(square) * share
