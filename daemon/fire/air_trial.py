"""The air tried out: small deliberate changes, and what the chamber makes of them, tell how much air there really is.

Where there is enough air, more of it only carries heat away; short of air, more of it burns what went out unburnt. So
the chamber's answer to a little less and a little more air tells how near to short the fire burns, whatever the gauge
was thought to mean. Some guesses at the air stand side by side. Each foretells how the readings should differ from what
the running heat balance expects, and is weighed by how well it did: a bank of hypotheses on the innovations of one
Kalman filter (Bar-Shalom, Li & Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001, ch. 11).

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
"""By which share the air is put aside, first down and then up, each for so long: the chamber hardly moves by it."""
REACHED_S = 6.0
"""The fan takes so long to it."""
BLOWN = 0.1
"""Air blows on the char: by how much more all that burns, for each part more of air (a third of the char's share)."""
SPACING_STD, LEAST_SPACING = 0.6, 0.06
"""How far the guesses lie apart: of one standard deviation of what was believed, and at least (of ln air)."""
NOISE_S, NOISES, QUIET_K2 = 300.0, 2.5, 0.02
"""What the readings were off lately counts as noise, so much of it because it comes in bouts, and at least so much."""
FADES_S = 4 * 3600.0
"""Ash gathers and is raked out: what was seen counts less and less."""
PLACES = range(-4, 5)
ZEROS = (0.0,) * len(PLACES)

Effect = tuple[float, float, float]


class AirTrial(NamedTuple):
    """The air's periods, and what they have told. Tuples go by guess."""

    since_s: float | None = None
    """Of the period under way; None while the air is left alone."""
    aside: float = 0.0
    """By which share the air is aside by now."""
    late: tuple[float, ...] = ZEROS
    """The heat that the balance doesn't know of, kg/h, as late as the probe has it."""
    felt: tuple[Effect, ...] = ((0.0, 0.0, 0.0),) * len(PLACES)
    """What that makes of the balance: chamber (K), load (kg/h) and gas (K) as they are off by it."""
    noise_k2: float = 0.0
    """How far the readings are off lately, squared."""
    marks: tuple[float, ...] = ZEROS
    """How well each foretold the readings: log-likelihoods."""
    true: float = 1.0
    """The air over what was believed of it."""
    spread: float | None = None
    """How sure that is: one standard deviation, a share. None before anything was tried."""


NO_TRIAL = AirTrial()


def wanted_aside_frac(last: AirTrial, now_s: float) -> float:
    """By which share the air is to be aside now: first less, then more."""
    if last.since_s is None:
        return 0.0
    return ASIDE_FRAC if now_s - last.since_s >= HALF_S else -ASIDE_FRAC


def next_period(last: AirTrial, now_s: float, may: bool, ends: bool = False) -> AirTrial:
    """The period under way, or the next one where it may begin. It `ends` for what the plan wants, not the fire."""
    if ends:
        return last if last.since_s is None else last._replace(since_s=None)
    if last.since_s is None:
        return last._replace(since_s=now_s) if may else last
    if 0 <= now_s - last.since_s < 2 * HALF_S:
        return last
    return last._replace(since_s=now_s if may else None)


def spacing(spread: float) -> float:
    """How far the guesses lie apart, of ln air."""
    return max(SPACING_STD * spread, LEAST_SPACING)


def weigh(
    last: AirTrial, burns: float, air: float, flue_c: float, warmth: HeatBalance, dt_s: float, believed: float
) -> AirTrial:
    """The guesses after a step (s) of the heat balance.

    `burns` and `air` are kg/h, the air as believed before anything was learnt here, and `believed` is how sure it was.
    """
    aside = last.aside + lag_gain(dt_s, REACHED_S) * (wanted_aside_frac(last, warmth.at_s) - last.aside)
    mass, told, noise = warmth.mass_now * 3600, warmth.told, last.noise_k2
    if told is not None:
        noise += (lag_gain(dt_s, NOISE_S) if noise else 1.0) * (told.off_k**2 - noise)
    doubt = max(NOISES * noise, QUIET_K2)
    fade, arrives, kept, share = (
        exp(-dt_s / GAS_S),
        lag_gain(dt_s, PROBE_LAG_S),
        exp(-dt_s / FADES_S),
        spacing(believed),
    )
    known = net_heat_kg_per_h(burns, air, flue_c) - net_heat_kg_per_h(burns, air / (1 + aside), flue_c)
    late, felt, marks = [], [], []
    for place, heat, (chamber_k, load, gas_k), mark in zip(PLACES, last.late, last.felt, last.marks, strict=True):
        true = air * exp(place * share)
        made = net_heat_kg_per_h(burns * (1 + BLOWN * aside), true, flue_c)
        heat += arrives * (made - net_heat_kg_per_h(burns, true / (1 + aside), flue_c) - known - heat)
        chamber_k += (heat - load) * dt_s / mass
        gas_k *= fade
        mark *= kept
        if told is not None:
            seen_k = chamber_k + gas_k
            mark += seen_k * (told.off_k - seen_k / 2) / doubt
            chamber_k -= told.gain[0] * seen_k
            load -= told.gain[3] * seen_k
            gas_k -= told.gain[4] * seen_k
        late.append(heat)
        felt.append((chamber_k, load, gas_k))
        marks.append(mark)
    return AirTrial(last.since_s, aside, tuple(late), tuple(felt), noise, tuple(marks), *posterior(marks, believed))


def posterior(marks: Sequence[float], believed: float) -> tuple[float, float]:
    """The true air over the believed, and how sure: a factor, and one standard deviation as a share.

    The guesses lie normally about what was believed, `believed` being one standard deviation.
    """
    share = spacing(believed)
    logs = [mark - (place * share / believed) ** 2 / 2 for place, mark in zip(PLACES, marks, strict=True)]
    most = max(logs)
    weights = [exp(log - most) for log in logs]
    total = sum(weights)
    mean = sum([w * place for w, place in zip(weights, PLACES, strict=True)]) / total
    square = sum([w * (place - mean) ** 2 for w, place in zip(weights, PLACES, strict=True)]) / total
    return exp(mean * share), sqrt(square) * share
