"""The running heat balance: against numpy's own filter and least squares, through doors, blindness and odd clocks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import exp, isfinite, sqrt
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.fire.heat_balance import (
    COLD_MASS_KG_PER_K,
    MASS_PER_C,
    PROBE_LAG_S,
    PROBE_NOISE_K,
    STEP_S,
    USUAL_M3,
    WALL_COEFFICIENT,
    HeatBalance,
    correct,
    first_heat_balance,
    next_heat_balance,
    predict,
)
from daemon.fire.lag import WALL_LAGS_S, WALL_PER_C

STATES = ("chamber_c", "cold_mass_kg_per_k", "wall_coefficient", "load_kg_per_h", "gas_k")
H = 3600.0


@dataclass
class Synthetic:
    """A kiln whose mass, walls and load are known, in one-second steps: what the balance is to find."""

    mass: float
    soak: float
    load: float
    chamber_c: float = 400.0
    reaches: float = 0.0
    """The heat that has reached the probe."""
    wall_lags_c: list[float] = field(default_factory=lambda: [400.0] * len(WALL_LAGS_S))

    def second(self, heat_kg_per_h: float) -> None:
        """One second of this net heat."""
        self.reaches += (1 - exp(-1 / PROBE_LAG_S)) * (heat_kg_per_h - self.reaches)
        pulls = sum((self.chamber_c - c) / sqrt(s) for c, s in zip(self.wall_lags_c, WALL_LAGS_S, strict=True))
        walls = self.soak * (1 + WALL_PER_C * self.chamber_c) * pulls
        mass = self.mass * (1 + MASS_PER_C * self.chamber_c)
        self.chamber_c += (self.reaches - walls - self.load) / H / mass
        for place, lag_s in enumerate(WALL_LAGS_S):
            self.wall_lags_c[place] += (1 - exp(-1 / lag_s)) * (self.chamber_c - self.wall_lags_c[place])


@dataclass
class Watched:
    """A synthetic kiln with a probe, and the balance that looks at it."""

    kiln: Synthetic
    balance: HeatBalance
    now_s: float = 0.0
    dice: Random = field(default_factory=lambda: Random(7))
    history: list[tuple[float, float]] = field(default_factory=list)
    """The heat that reaches the probe, and the reading."""

    def run(
        self, seconds: float, heat: Callable[[float], float], reads: Callable[[float], float | None] = lambda c: c
    ) -> Watched:
        """So many seconds of `heat`; `reads` makes a reading of the truth, with the probe's noise on it."""
        for _ in range(round(seconds)):
            self.now_s += 1
            self.kiln.second(heat(self.now_s))
            reading = reads(self.kiln.chamber_c + self.dice.gauss(0.0, 0.15))
            self.balance = next_heat_balance(self.balance, self.now_s, 1.0, reading, heat(self.now_s))
            self.history.append((self.kiln.reaches, reading if reading is not None else np.nan))
        return self


def varied(now_s: float) -> float:
    """A fire that is fed more and less, twenty minutes each."""
    return (1.4, 2.3, 0.9, 2.9)[int(now_s / 1200) % 4]


def watched(mass: float = 1.3, soak: float = 0.8, load: float = 0.4) -> Watched:
    """A kiln that differs so much from the first guess; `load` in kg/h."""
    kiln = Synthetic(mass * COLD_MASS_KG_PER_K, soak * WALL_COEFFICIENT, load)
    return Watched(kiln, first_heat_balance(0.0, 400.0, USUAL_M3))


@pytest.mark.parametrize(
    ("mass", "soak", "load"), [(1.0, 1.0, 0.0), (1.4, 0.8, 0.4), (0.7, 1.3, -0.3), (1.2, 1.2, 0.8)]
)
def test_what_the_kiln_is_made_of_is_found_in_some_hours(mass: float, soak: float, load: float) -> None:
    """Mass within 12 %; walls and load, which look much the same, together within a seventh of the heat, 1.9 kg/h."""
    seen = watched(mass, soak, load).run(6 * H, varied)
    assert seen.balance.cold_mass_kg_per_k == pytest.approx(seen.kiln.mass, rel=0.12)
    pulls = sum((seen.kiln.chamber_c - c) / sqrt(s) for c, s in zip(seen.kiln.wall_lags_c, WALL_LAGS_S, strict=True))
    holds = seen.kiln.soak * (1 + WALL_PER_C * seen.kiln.chamber_c) * pulls + seen.kiln.load
    assert seen.balance.holding_kg_per_h == pytest.approx(holds, abs=0.28)
    assert seen.balance.chamber_c == pytest.approx(seen.kiln.chamber_c, abs=2.0)


def test_it_finds_what_least_squares_find_in_the_same_readings() -> None:
    """Independent: numpy's lstsq of heat over rate, walls and one, on readings averaged over two minutes."""
    seen = watched(1.4, 0.8, 0.4).run(6 * H, varied)
    heat, chamber = (np.array(column) for column in zip(*seen.history, strict=True))
    block = 120
    heat, chamber = (column[: len(column) // block * block].reshape(-1, block).mean(1) for column in (heat, chamber))
    soaked, pulls = np.full(len(WALL_LAGS_S), 400.0), []
    for c in chamber:
        soaked += (1 - np.exp(-block / np.array(WALL_LAGS_S))) * (c - soaked)
        pulls.append((1 + WALL_PER_C * c) * float(np.sum((c - soaked) / np.sqrt(WALL_LAGS_S))))
    rate = np.gradient(chamber, block / H) * (1 + MASS_PER_C * chamber)
    fitted, *_ = np.linalg.lstsq(np.column_stack([rate, pulls, np.ones_like(rate)]), heat, rcond=None)
    assert seen.balance.cold_mass_kg_per_k == pytest.approx(fitted[0], rel=0.15)
    ours = seen.balance.wall_coefficient * pulls[-1] + seen.balance.load_kg_per_h
    assert ours == pytest.approx(fitted[1] * pulls[-1] + fitted[2], abs=0.3)


def vector(balance: HeatBalance) -> np.ndarray:
    """The estimated states."""
    return np.array([getattr(balance, name) for name in STATES])


def test_the_prediction_and_the_correction_are_those_of_the_textbook() -> None:
    """Independent: numpy's F·P·Fᵀ, with F by differences of the prediction itself; then K = P·hᵀ/(h·P·hᵀ + r)."""
    balance = watched().run(H, varied).balance
    moved = predict(balance, STEP_S)
    jacobian = np.empty((5, 5))
    for place, name in enumerate(STATES):
        nudge = 1e-4 * max(abs(getattr(balance, name)), 1e-2)
        pushed = predict(balance._replace(**{name: getattr(balance, name) + nudge}), STEP_S)
        jacobian[:, place] = (vector(pushed) - vector(moved)) / nudge
    before, after = np.array(balance.covariance), np.array(moved.covariance)
    added = after - jacobian @ before @ jacobian.T
    scale = np.sqrt(np.outer(np.diag(after), np.diag(after)))
    assert np.abs((added - np.diag(np.diag(added))) / scale).max() < 0.01  # what is added as it drifts has no corners
    assert (np.diag(added) / np.diag(after) > -0.02).all()

    reading = moved.chamber_c + moved.gas_k + 0.4
    taken, sees = correct(moved, reading), np.array([1.0, 0.0, 0.0, 0.0, 1.0])
    gain = after @ sees / (sees @ after @ sees + PROBE_NOISE_K**2)
    assert vector(taken) == pytest.approx(vector(moved) + gain * 0.4, rel=1e-6)
    assert np.array(taken.covariance) == pytest.approx(after - np.outer(gain, sees @ after), rel=1e-6, abs=1e-15)


def test_blind_readings_only_make_it_less_sure() -> None:
    seen = watched().run(2 * H, varied)
    for _ in range(20):
        before = np.diag(np.array(seen.balance.covariance))
        learnt = (seen.balance.cold_mass_kg_per_k, seen.balance.wall_coefficient)
        seen.run(30, varied, lambda c: None)
        assert (np.diag(np.array(seen.balance.covariance)) >= before * (1 - 1e-9)).all()
        assert (seen.balance.cold_mass_kg_per_k, seen.balance.wall_coefficient) == learnt
    assert seen.balance.chamber_c == pytest.approx(seen.kiln.chamber_c, abs=15.0)  # ten minutes by dead reckoning


@pytest.mark.parametrize("plunge_k", [40.0, 120.0, 250.0])
def test_a_door_that_is_opened_is_let_pass_and_teaches_nothing(plunge_k: float) -> None:
    """The probe plunges in the cold air and comes back in a minute; the kiln itself cools by next to nothing."""
    seen = watched().run(3 * H, varied)
    before, began_s = seen.balance, seen.now_s

    def looked(chamber_c: float) -> float:
        gone_s = seen.now_s - began_s
        return chamber_c - plunge_k * (1 - exp(-gone_s / 8.0) if gone_s < 15 else exp(-(gone_s - 15) / 25.0))

    seen.run(180, varied, looked)
    assert seen.balance.cold_mass_kg_per_k == pytest.approx(before.cold_mass_kg_per_k, rel=0.03)
    assert seen.balance.wall_coefficient == pytest.approx(before.wall_coefficient, rel=0.03)
    assert seen.balance.load_kg_per_h == pytest.approx(before.load_kg_per_h, abs=0.25)
    assert seen.balance.chamber_c == pytest.approx(seen.kiln.chamber_c, abs=5.0)


@pytest.mark.parametrize("step_k", [-100.0, -30.0, 30.0, 100.0])
def test_a_chamber_that_is_really_another_is_believed_in_the_end(step_k: float) -> None:
    """A kiln that stood open, or burnt what nobody fed: a quarter of an hour on it is no longer taken for its gas."""
    seen = watched().run(3 * H, varied)
    seen.kiln.chamber_c += step_k
    seen.run(900, varied)
    assert seen.balance.chamber_c == pytest.approx(seen.kiln.chamber_c, abs=0.1 * abs(step_k))


def test_pellets_with_more_water_are_learnt_as_load() -> None:
    """A fifth of the heat goes missing, and half an hour on the balance knows it."""
    seen = watched(1.0, 1.0, 0.0).run(3 * H, varied)
    before = seen.balance.load_kg_per_h
    seen.kiln.load += 0.5
    seen.run(0.75 * H, varied)
    assert seen.balance.load_kg_per_h - before == pytest.approx(0.5, abs=0.3)


STEPS = st.lists(
    st.tuples(st.floats(0.1, 60), st.none() | st.floats(-60, 1900), st.floats(-5, 20)), min_size=1, max_size=40
)


@settings(max_examples=60)
@given(STEPS, st.floats(0.01, 5.0), st.floats(-20, 1300))
def test_the_covariance_stays_one(
    steps: list[tuple[float, float | None, float]], chamber_m3: float, start_c: float
) -> None:
    """Symmetric, and no variance is negative; numpy finds no eigenvalue that is, but for rounding."""
    balance, now_s = first_heat_balance(0.0, start_c, chamber_m3), 0.0
    for step_s, reading, heat in steps:
        now_s += step_s
        balance = next_heat_balance(balance, now_s, step_s, reading, heat)
        covariance = np.array(balance.covariance)
        assert covariance == pytest.approx(covariance.T, rel=1e-6, abs=1e-12)
        assert (np.diag(covariance) > 0).all()
        sizes = np.sqrt(np.diag(covariance))
        assert np.linalg.eigvalsh((covariance + covariance.T) / 2 / np.outer(sizes, sizes)).min() > -1e-6


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(st.floats(-1e4, 1e5), st.none() | st.floats(-60, 1900), st.floats(-50, 500)), min_size=1, max_size=30
    ),
    st.floats(0.001, 20),
)
def test_whatever_is_read_and_whenever_all_stays_numbers_that_a_kiln_can_have(
    steps: list[tuple[float, float | None, float]], chamber_m3: float
) -> None:
    balance, now_s = first_heat_balance(0.0, 20.0, chamber_m3), 0.0
    mass, soak = balance.cold_mass_kg_per_k, balance.wall_coefficient
    for step_s, reading, heat in steps:
        now_s += step_s
        balance = next_heat_balance(balance, now_s, min(max(step_s, 0.0), 5.0), reading, heat)
        assert all(
            map(
                isfinite,
                [*vector(balance), balance.lagged_heat_kg_per_h, balance.holding_kg_per_h, *balance.wall_lags_c],
            )
        )
        assert all(isfinite(corner) for row in balance.covariance for corner in row)
        assert mass / 10 < balance.cold_mass_kg_per_k < 10 * mass
        assert soak / 10 < balance.wall_coefficient < 10 * soak


def test_a_clock_that_goes_back_an_hour_makes_no_heat() -> None:
    """The rig's clock is set; the balance goes on with it, and an hour's heat is not taken for that of five seconds."""
    seen = watched().run(3 * H, varied)
    before = seen.balance
    seen.now_s -= H
    for _ in range(4000):
        seen.now_s += 1
        seen.kiln.second(2.5)
        seen.balance = next_heat_balance(seen.balance, seen.now_s, 1.0, seen.kiln.chamber_c, 2.5)
        assert abs(seen.balance.lagged_heat_kg_per_h) < 6.0
        assert seen.balance.chamber_c == pytest.approx(seen.kiln.chamber_c, abs=30.0)
    assert seen.balance.cold_mass_kg_per_k == pytest.approx(before.cold_mass_kg_per_k, rel=0.2)


def test_a_bigger_kiln_is_first_taken_for_heavier_and_its_walls_for_larger() -> None:
    """Eight times the volume: eight times the mass, four times the wall."""
    small, big = (first_heat_balance(0.0, 20.0, m3) for m3 in (0.12, 0.96))
    assert big.cold_mass_kg_per_k == pytest.approx(8 * small.cold_mass_kg_per_k)
    assert big.wall_coefficient == pytest.approx(4 * small.wall_coefficient)
    assert (small.load_kg_per_h, small.rate_k_per_s) == (0.0, 0.0)


def test_nothing_is_done_before_its_step_is_due_and_no_heat_is_lost() -> None:
    start = first_heat_balance(0.0, 400.0, USUAL_M3)
    halves = next_heat_balance(next_heat_balance(start, 2.5, 2.5, 400.0, 4.0), 5.0, 2.5, 400.0, 2.0)
    whole = next_heat_balance(start, 5.0, 5.0, 400.0, 3.0)
    assert next_heat_balance(start, 2.5, 2.5, 999.0, 4.0).chamber_c == 400.0
    assert vector(halves) == pytest.approx(vector(whole))
    assert halves.lagged_heat_kg_per_h == pytest.approx(whole.lagged_heat_kg_per_h)
