"""The running heat balance: how much heat this kiln takes for what it does, learnt while it is fired.

    net heat = mass · rate + soak · what the walls draw + load

`mass` is what warms at once, `soak` how greedily the walls draw, and `load` all that the first two don't explain:
damp pellets, a wrong weight of the auger, heat through the door. They are estimated together with the chamber's
temperature by an extended Kalman filter (Åström & Wittenmark, Adaptive Control, 2nd ed. 1995, ch. 2: estimation by
least squares with forgetting, of which this is the form with drifting parameters). Heat is counted in pellets, kg/h.
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

from daemon.fire.lag import WALL_LAGS_S, lag_gain, next_wall_lags, wall_pull

STEP_S = 5.0
LONGEST_S = 30.0  # after a longer pause the prediction goes no further
MASS_PER_C = 1 / 2500
"""Ware and brick hold more heat per degree when hot: 0.8 kJ/(kg K) and 0.35 J/(kg K) more per °C (memory)."""
PROBE_LAG_S = 25.0
"""From the fire's heat to the probe: gas, sheath and junction."""
USUAL_M3 = 0.12
COLD_MASS_KG_PER_K, WALL_COEFFICIENT = 0.0018, 0.080
"""A first guess for a chamber of `USUAL_M3`; sizes go with the volume, and with its surface."""
MOST_APART = 6.0  # from the first guess, either way
GUESS_FRAC = 0.15  # standard deviation of the first guess
LOAD_KG_PER_H = 0.5  # of the load at first
PROBE_NOISE_K = 0.25  # of a reading: noise
GAS_S, GAS_K = 50.0, 0.7
"""The probe sees gas as well: how long what it sees of it lasts, and how much that usually is."""
DOUBT_K, DOUBT_MOST_S = 3.0, 180.0
"""Gas that makes so much of the reading for so long is none: the kiln itself is as hot or cold as that."""
SURPRISE = 4.0  # standard deviations: more is taken for gas, cooled by an opened door or heated by a flare
LOAD_LEAK_S = 4 * 3600.0
DRIFT_K, DRIFT_LOAD, DRIFT_FRAC = 0.05, 0.004, 0.0003  # per root second: chamber, load, and share of mass and soak

Row = tuple[float, ...]
SIZE = range(5)


class Innovation(NamedTuple):
    """What one reading told: how far off it was (K), and what of it each state took."""

    off_k: float
    gain: tuple[float, ...]


class HeatBalance(NamedTuple):
    """The chamber and what is learnt of the kiln. `spread` is the covariance of (chamber, mass, soak, load, gas)."""

    at_s: float
    chamber_c: float
    mass_kg_per_k: float
    soak_kg_per_h: float
    load_kg_per_h: float
    spread: tuple[Row, ...]
    soaked_c: tuple[float, ...]
    size: float = 1.0
    """Of the chamber, against `USUAL_M3`."""
    heat_kg_per_h: float = 0.0
    """The net heat as the probe has it: late."""
    gas_k: float = 0.0
    """What the probe reads above or below the chamber for the gas around it."""
    doubt_s: float = 0.0
    """For how long the gas has made more than `DOUBT_K` of the reading."""
    heat_kg: float = 0.0
    """Summed since the last step, kg/h · s."""
    told: Innovation | None = None
    """By the reading of the last step; None where it had none."""

    @property
    def draws(self) -> float:
        """What the walls draw at this moment for a soak of 1."""
        return wall_pull(self.chamber_c, self.soaked_c)

    @property
    def holds_kg_per_h(self) -> float:
        """What keeps the chamber as it is."""
        return self.soak_kg_per_h * self.draws + self.load_kg_per_h

    @property
    def mass_now(self) -> float:
        """The mass at this temperature, kg/K."""
        return self.mass_kg_per_k * (1 + MASS_PER_C * self.chamber_c)

    @property
    def rate_k_per_s(self) -> float:
        """How fast the chamber warms by the balance."""
        return (self.heat_kg_per_h - self.holds_kg_per_h) / 3600 / self.mass_now


def first_heat_balance(now_s: float, chamber_c: float, chamber_m3: float) -> HeatBalance:
    """Nothing learnt yet: a kiln of this size as kilns usually are."""
    size = chamber_m3 / USUAL_M3
    mass, soak = COLD_MASS_KG_PER_K * size, WALL_COEFFICIENT * size ** (2 / 3)
    doubt = (1.0, (GUESS_FRAC * mass) ** 2, (GUESS_FRAC * soak) ** 2, (LOAD_KG_PER_H * size ** (2 / 3)) ** 2, GAS_K**2)
    spread = tuple([tuple([doubt[i] if i == j else 0.0 for j in SIZE]) for i in SIZE])
    return HeatBalance(now_s, chamber_c, mass, soak, 0.0, spread, (chamber_c,) * len(WALL_LAGS_S), size)


def next_heat_balance(
    last: HeatBalance, now_s: float, dt_s: float, chamber_c: float | None, heat_kg_per_h: float
) -> HeatBalance:
    """The balance `dt_s` later; `heat_kg_per_h` is the net heat over it, `chamber_c` None where the probe is blind."""
    kg, waited_s = last.heat_kg + heat_kg_per_h * dt_s, now_s - last.at_s
    if waited_s < 0:  # the clock went back
        return last._replace(at_s=now_s, heat_kg=0.0)
    if waited_s < STEP_S:
        return last._replace(heat_kg=kg)
    heat = last.heat_kg_per_h + lag_gain(waited_s, PROBE_LAG_S) * (kg / waited_s - last.heat_kg_per_h)
    moved = predict(last._replace(at_s=now_s, heat_kg_per_h=heat, heat_kg=0.0, told=None), min(waited_s, LONGEST_S))
    return moved if chamber_c is None else reassign_gas(correct(moved, chamber_c), waited_s)


def reassign_gas(last: HeatBalance, dt_s: float) -> HeatBalance:
    """What was taken for gas for too long is the chamber's own."""
    if abs(last.gas_k) < DOUBT_K:
        return last if last.doubt_s == 0.0 else last._replace(doubt_s=0.0)
    if last.doubt_s + dt_s < DOUBT_MOST_S:
        return last._replace(doubt_s=last.doubt_s + dt_s)
    chamber_c, p = last.chamber_c + last.gas_k, last.spread
    wider = ((p[0][0] + last.gas_k * last.gas_k, *p[0][1:]), *p[1:])
    return last._replace(chamber_c=chamber_c, gas_k=0.0, doubt_s=0.0, spread=wider)


def predict(last: HeatBalance, dt_s: float) -> HeatBalance:
    """The prediction: the chamber warms by the balance, and what is known grows older."""
    mass, rate, p = last.mass_now, last.rate_k_per_s, last.spread
    chamber_c, fade = last.chamber_c + rate * dt_s, exp(-dt_s / GAS_S)
    f1, f2, f3 = -rate / last.mass_kg_per_k * dt_s, -last.draws / 3600 / mass * dt_s, -dt_s / 3600 / mass
    row = [p[0][j] + f1 * p[1][j] + f2 * p[2][j] + f3 * p[3][j] for j in SIZE]
    corner = row[0] + f1 * row[1] + f2 * row[2] + f3 * row[3] + DRIFT_K**2 * dt_s
    spread = (
        (corner, row[1], row[2], row[3], fade * row[4]),
        (row[1], p[1][1] + (DRIFT_FRAC * last.mass_kg_per_k) ** 2 * dt_s, p[1][2], p[1][3], fade * p[1][4]),
        (row[2], p[2][1], p[2][2] + (DRIFT_FRAC * last.soak_kg_per_h) ** 2 * dt_s, p[2][3], fade * p[2][4]),
        (row[3], p[3][1], p[3][2], p[3][3] + DRIFT_LOAD**2 * dt_s, fade * p[3][4]),
        (fade * row[4], fade * p[4][1], fade * p[4][2], fade * p[4][3],
         fade * fade * p[4][4] + (1 - fade * fade) * GAS_K**2),
    )  # fmt: skip
    load = last.load_kg_per_h * exp(-dt_s / LOAD_LEAK_S)
    soaked_c = next_wall_lags(last.soaked_c, chamber_c, dt_s)
    return last._replace(
        chamber_c=chamber_c, spread=spread, soaked_c=soaked_c, load_kg_per_h=load, gas_k=fade * last.gas_k
    )


def correct(last: HeatBalance, chamber_c: float) -> HeatBalance:
    """The reading taken in. A surprise is the gas's: the probe cools in a draught sooner than any kiln does."""
    p, off_k = last.spread, chamber_c - last.chamber_c - last.gas_k
    total = p[0][0] + 2 * p[0][4] + p[4][4] + PROBE_NOISE_K**2
    if off_k * off_k > SURPRISE * SURPRISE * total:
        p = (*p[:4], (*p[4][:4], p[4][4] + off_k * off_k))
        total += off_k * off_k
    seen = [p[k][0] + p[k][4] for k in SIZE]
    gain = [s / total for s in seen]
    spread = tuple([tuple([p[i][j] - gain[i] * seen[j] for j in SIZE]) for i in SIZE])
    mass, soak = last.mass_kg_per_k, last.soak_kg_per_h
    return last._replace(
        chamber_c=last.chamber_c + gain[0] * off_k,
        mass_kg_per_k=within_bounds(mass + gain[1] * off_k, mass, COLD_MASS_KG_PER_K * last.size),
        soak_kg_per_h=within_bounds(soak + gain[2] * off_k, soak, WALL_COEFFICIENT * last.size ** (2 / 3)),
        load_kg_per_h=last.load_kg_per_h + gain[3] * off_k,
        gas_k=last.gas_k + gain[4] * off_k,
        spread=spread,
        told=Innovation(off_k, tuple(gain)),
    )


def within_bounds(value: float, last: float, guess: float) -> float:
    """Within what a kiln can be, and never by more than a hundredth in a step."""
    return min(max(value, guess / MOST_APART, last * 0.99), guess * MOST_APART, last * 1.01)
