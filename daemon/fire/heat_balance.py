"""The running heat balance: how much heat this kiln takes for what it does, learnt while it is fired.

    Q = m(c) · dc/dt + w · pull(c) + load

    Q     net heat that stays in the kiln, kg/h of pellets by heat, lagged by PROBE_LAG_S as the probe has it
    c     chamber, °C
    m(c)  = m0 · (1 + MASS_PER_C · c), kg/K: what warms at once
    w     wall coefficient, kg/h for each K per root second: how strongly the walls draw (pull: `lag.py`)
    load  kg/h: what m and w don't explain: damp pellets, a wrong weight of the auger, heat through the door
    gas   K: what the probe reads above or below the chamber for the gas around it

State x = (c, m0, w, load, gas), covariance P. The probe reads z = c + gas + noise. An extended Kalman filter estimates
x (Åström & Wittenmark, Adaptive Control, 2nd ed. 1995, ch. 2: least squares with forgetting, of which this is the form
with drifting parameters):

    predict  c += dt · dc/dt;  gas *= exp(-dt / GAS_S);  load leaks away in LOAD_LEAK_S;  P = F P F' + drift
    correct  innovation = z - c - gas;  K = P H' / (H P H' + PROBE_NOISE_K²), H = (1, 0, 0, 0, 1);  x += K · innovation
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

from daemon.fire.lag import WALL_LAGS_S, lag_gain, next_wall_lags, wall_pull

STEP_S, LONGEST_S = 5.0, 30.0
"""The filter's step, s: a fifth of the probe's lag. A pause longer than LONGEST_S is predicted as LONGEST_S."""
MASS_PER_C = 1 / 2500
"""Ware and brick hold more heat per degree when hot: 0.8 kJ/(kg K) and 0.35 J/(kg K) more per °C (memory)."""
PROBE_LAG_S = 25.0
"""From the fire's heat to the probe: gas, sheath and junction (memory)."""
USUAL_M3 = 0.12
COLD_MASS_KG_PER_K, WALL_COEFFICIENT = 0.0018, 0.080
"""A first guess for a chamber of `USUAL_M3`, from the simulated kilns; mass goes with the volume, walls with the
surface."""
MOST_APART = 6.0
"""From the first guess, either way: beyond it the model is wrong, not the kiln (chosen)."""
GUESS_FRAC, LOAD_KG_PER_H, PROBE_NOISE_K = 0.15, 0.5, 0.25
"""Standard deviations: of the first guess (a share), of the load at first, of a reading. Found on the bench:
`python -m tests.bench.control`."""
GAS_S, GAS_K = 50.0, 0.7
"""How long what the probe sees of the gas lasts, and how much that usually is (found on the bench:
`python -m tests.bench.control`)."""
DOUBT_K, DOUBT_MOST_S = 3.0, 180.0
"""An offset of DOUBT_K that was put down to the gas for DOUBT_MOST_S is not gas: it is the kiln's own temperature.
Found on the bench."""
SURPRISE = 4.0
"""A reading that is more standard deviations off is put down to the gas: an opened door or a flare (one reading in
16,000 is so far off by chance)."""
LOAD_LEAK_S = 4 * 3600.0
"""What is not explained is forgotten over a good part of a firing (chosen)."""
DRIFT_K, DRIFT_LOAD, DRIFT_FRAC = 0.05, 0.004, 0.0003
"""Per root second: chamber (K), load (kg/h), and share of mass and wall coefficient. Found on the bench:
`python -m tests.bench.control`."""

Vector = tuple[float, ...]
SIZE = range(5)


class Innovation(NamedTuple):
    """What one reading brought: how far it was from what was foretold (K), and the gain, what of it each state took."""

    off_k: float
    gain: Vector


class HeatBalance(NamedTuple):
    """The chamber and what is learnt of the kiln. Symbols are those at the top of the module."""

    at_s: float
    chamber_c: float
    cold_mass_kg_per_k: float
    """m0."""
    wall_coefficient: float
    """w."""
    load_kg_per_h: float
    covariance: tuple[Vector, ...]
    """P, of (c, m0, w, load, gas)."""
    wall_lags_c: Vector
    size: float = 1.0
    """Of the chamber, against `USUAL_M3`."""
    lagged_heat_kg_per_h: float = 0.0
    """Q: the net heat as the probe has it."""
    gas_k: float = 0.0
    doubt_s: float = 0.0
    """For how long the gas has made more than `DOUBT_K` of the reading."""
    heat_sum: float = 0.0
    """Net heat summed since the last step, kg/h · s."""
    innovation: Innovation | None = None
    """Of the last step's reading; None where it had none."""

    @property
    def wall_pull(self) -> float:
        """How hard the walls draw at this moment, K per root second."""
        return wall_pull(self.chamber_c, self.wall_lags_c)

    @property
    def walls_kg_per_h(self) -> float:
        """What the walls draw, kg/h."""
        return self.wall_coefficient * self.wall_pull

    @property
    def holding_kg_per_h(self) -> float:
        """What keeps the chamber as it is, kg/h."""
        return self.walls_kg_per_h + self.load_kg_per_h

    @property
    def mass_kg_per_k(self) -> float:
        """m(c): the mass at this temperature, kg/K."""
        return self.cold_mass_kg_per_k * (1 + MASS_PER_C * self.chamber_c)

    @property
    def rate_k_per_s(self) -> float:
        """dc/dt by the balance, K/s."""
        return (self.lagged_heat_kg_per_h - self.holding_kg_per_h) / 3600 / self.mass_kg_per_k


def first_heat_balance(now_s: float, chamber_c: float, chamber_m3: float) -> HeatBalance:
    """Nothing learnt yet: a kiln of this size as kilns usually are."""
    size = chamber_m3 / USUAL_M3
    mass, walls = COLD_MASS_KG_PER_K * size, WALL_COEFFICIENT * size ** (2 / 3)
    load = LOAD_KG_PER_H * size ** (2 / 3)
    variances = (1.0, (GUESS_FRAC * mass) ** 2, (GUESS_FRAC * walls) ** 2, load**2, GAS_K**2)
    covariance = tuple([tuple([variances[i] if i == j else 0.0 for j in SIZE]) for i in SIZE])
    return HeatBalance(
        at_s=now_s, chamber_c=chamber_c, cold_mass_kg_per_k=mass, wall_coefficient=walls, load_kg_per_h=0.0,
        covariance=covariance, wall_lags_c=(chamber_c,) * len(WALL_LAGS_S), size=size,
    )  # fmt: skip


def next_heat_balance(
    last: HeatBalance, now_s: float, dt_s: float, chamber_c: float | None, heat_kg_per_h: float
) -> HeatBalance:
    """The balance `dt_s` (s) later; `heat_kg_per_h` is the net heat over it, `chamber_c` None while the probe is blind.

    It is summed each time and steps every `STEP_S`.
    """
    heat_sum, waited_s = last.heat_sum + heat_kg_per_h * dt_s, now_s - last.at_s
    if waited_s < 0:  # the clock went back
        return last._replace(at_s=now_s, heat_sum=0.0)
    if waited_s < STEP_S:
        return last._replace(heat_sum=heat_sum)
    lagged = last.lagged_heat_kg_per_h
    lagged += lag_gain(waited_s, PROBE_LAG_S) * (heat_sum / waited_s - lagged)
    fresh = last._replace(at_s=now_s, lagged_heat_kg_per_h=lagged, heat_sum=0.0, innovation=None)
    foretold = predict(fresh, min(waited_s, LONGEST_S))
    return foretold if chamber_c is None else reassign_gas(correct(foretold, chamber_c), waited_s)


def reassign_gas(last: HeatBalance, dt_s: float) -> HeatBalance:
    """An offset that was put down to the gas for too long goes to the chamber."""
    if abs(last.gas_k) < DOUBT_K:
        return last if last.doubt_s == 0.0 else last._replace(doubt_s=0.0)
    if last.doubt_s + dt_s < DOUBT_MOST_S:
        return last._replace(doubt_s=last.doubt_s + dt_s)
    chamber_c, p = last.chamber_c + last.gas_k, last.covariance
    wider = ((p[0][0] + last.gas_k * last.gas_k, *p[0][1:]), *p[1:])
    return last._replace(chamber_c=chamber_c, gas_k=0.0, doubt_s=0.0, covariance=wider)


def predict(last: HeatBalance, dt_s: float) -> HeatBalance:
    """The prediction: the chamber warms by the balance, and what is known grows older.

    F is the identity but for its first row, (1, f1, f2, f3, 0), and gas, which fades.
    """
    mass, rate, p = last.mass_kg_per_k, last.rate_k_per_s, last.covariance
    chamber_c, fade = last.chamber_c + rate * dt_s, exp(-dt_s / GAS_S)
    f1, f2, f3 = -rate / last.cold_mass_kg_per_k * dt_s, -last.wall_pull / 3600 / mass * dt_s, -dt_s / 3600 / mass
    row = [p[0][j] + f1 * p[1][j] + f2 * p[2][j] + f3 * p[3][j] for j in SIZE]
    corner = row[0] + f1 * row[1] + f2 * row[2] + f3 * row[3] + DRIFT_K**2 * dt_s
    covariance = (
        (corner, row[1], row[2], row[3], fade * row[4]),
        (row[1], p[1][1] + (DRIFT_FRAC * last.cold_mass_kg_per_k) ** 2 * dt_s, p[1][2], p[1][3], fade * p[1][4]),
        (row[2], p[2][1], p[2][2] + (DRIFT_FRAC * last.wall_coefficient) ** 2 * dt_s, p[2][3], fade * p[2][4]),
        (row[3], p[3][1], p[3][2], p[3][3] + DRIFT_LOAD**2 * dt_s, fade * p[3][4]),
        (fade * row[4], fade * p[4][1], fade * p[4][2], fade * p[4][3],
         fade * fade * p[4][4] + (1 - fade * fade) * GAS_K**2),
    )  # fmt: skip
    return last._replace(
        chamber_c=chamber_c,
        covariance=covariance,
        wall_lags_c=next_wall_lags(last.wall_lags_c, chamber_c, dt_s),
        load_kg_per_h=last.load_kg_per_h * exp(-dt_s / LOAD_LEAK_S),
        gas_k=fade * last.gas_k,
    )


def correct(last: HeatBalance, chamber_c: float) -> HeatBalance:
    """The correction by a reading. A surprise goes to the gas: in a draught the probe cools faster than any kiln."""
    p, off_k = last.covariance, chamber_c - last.chamber_c - last.gas_k
    variance = p[0][0] + 2 * p[0][4] + p[4][4] + PROBE_NOISE_K**2
    if off_k * off_k > SURPRISE * SURPRISE * variance:
        p = (*p[:4], (*p[4][:4], p[4][4] + off_k * off_k))
        variance += off_k * off_k
    seen = [p[k][0] + p[k][4] for k in SIZE]
    gain = [s / variance for s in seen]
    covariance = tuple([tuple([p[i][j] - gain[i] * seen[j] for j in SIZE]) for i in SIZE])
    mass, walls = last.cold_mass_kg_per_k, last.wall_coefficient
    return last._replace(
        chamber_c=last.chamber_c + gain[0] * off_k,
        cold_mass_kg_per_k=within_bounds(mass + gain[1] * off_k, mass, COLD_MASS_KG_PER_K * last.size),
        wall_coefficient=within_bounds(walls + gain[2] * off_k, walls, WALL_COEFFICIENT * last.size ** (2 / 3)),
        load_kg_per_h=last.load_kg_per_h + gain[3] * off_k,
        gas_k=last.gas_k + gain[4] * off_k,
        covariance=covariance,
        innovation=Innovation(off_k, tuple(gain)),
    )


def within_bounds(value: float, last: float, guess: float) -> float:
    """Within what a kiln can be, and never by more than a hundredth in a step."""
    return min(max(value, guess / MOST_APART, last * 0.99), guess * MOST_APART, last * 1.01)
