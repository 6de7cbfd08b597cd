"""Hopper, auger and chute."""

from __future__ import annotations

import random
from statistics import mean, pstdev

import pytest

from hardware.simulated.kiln.auger import Auger
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln


def auger(build: Build | None = None, seed: int = 1) -> Auger:
    """An auger of its own."""
    return Auger(build or Build(hopper_kg=100.0), random.Random(seed))


def pulse(screw: Auger, on_s: float, off_s: float) -> float:
    """One pulse; returns what landed, kg."""
    for _ in range(round(on_s / 0.1)):
        screw.step(0.1, True)
    for _ in range(round(off_s / 0.1)):
        screw.step(0.1, False)
    return screw.take_landed()


@pytest.mark.parametrize("seed", range(5))
def test_uneven_flights_average_to_the_calibration(seed: int) -> None:
    """Four hours without a stop deliver nine kilograms an hour, within 2 %."""
    landed_kg = pulse(auger(seed=seed), on_s=4 * 3600, off_s=5)
    assert landed_kg == pytest.approx(4 * 9.0, rel=0.02)


def test_one_pulse_is_not_like_the_next() -> None:
    """Second-long pulses scatter by 15 % and more, yet their mean is the calibration's."""
    screw = auger()
    pulses = [pulse(screw, 1.0, 9.0) for _ in range(600)]
    assert mean(pulses) == pytest.approx(9.0 / 3600.0, rel=0.03)
    assert 0.15 < pstdev(pulses) / mean(pulses) < 0.5


def test_pellets_take_two_seconds_down_the_chute() -> None:
    """Nothing lands before, everything after."""
    screw = auger()
    for _ in range(19):
        screw.step(0.1, True)
    assert screw.landed_kg == 0.0
    for _ in range(5):
        screw.step(0.1, True)
    assert screw.landed_kg > 0.0
    left_kg = screw.hopper_kg
    for _ in range(30):
        screw.step(0.1, False)
    assert left_kg - screw.hopper_kg < 1e-3  # the motor runs down in a moment
    assert screw.landed_kg == pytest.approx(100.0 - screw.hopper_kg)


def test_the_hopper_runs_empty_and_the_shaft_turns_on() -> None:
    """Every pellet in the hopper lands; then the screw turns in vain."""
    screw = auger(Build(hopper_kg=0.5))
    landed_kg = pulse(screw, 1800.0, 5.0)
    assert landed_kg == pytest.approx(0.5, abs=0.002)
    screw.step(0.1, True)
    assert screw.turning
    assert screw.hopper_kg >= 0.0


def test_a_bridge_starves_the_fire_though_the_shaft_turns_until_pellets_are_poured() -> None:
    """The hopper stays full and nothing lands."""
    kiln = Kiln(Build(), 1)
    kiln.auger_powered = True
    kiln.step(60.0)
    assert kiln.fed_kg > 0.1
    kiln.bridge_hopper()
    kiln.step(3.0)
    fed_kg, hopper_kg = kiln.fed_kg, kiln.hopper_kg
    kiln.step(60.0)
    assert kiln.shaft_turning
    assert kiln.fed_kg == fed_kg
    assert kiln.hopper_kg == hopper_kg
    kiln.fill_hopper(1.0)
    kiln.step(60.0)
    assert kiln.fed_kg > fed_kg


def test_bridges_come_by_chance_only_when_asked_for() -> None:
    """The demo kiln's pellets never bridge by themselves."""
    fed_kg = []
    for chance in (0.0, 0.5):
        screw = auger(Build(hopper_kg=100.0, bridge_chance_per_kg=chance))
        fed_kg.append(pulse(screw, 3 * 3600.0, 5.0))
    assert fed_kg[0] > 26.0
    assert fed_kg[1] < 20.0


def test_a_jammed_shaft_stands_still_under_power() -> None:
    """The motor hums, nothing turns."""
    kiln = Kiln(Build(), 1)
    kiln.auger_powered = True
    kiln.step(5.0)
    assert kiln.shaft_turning
    kiln.jam_auger()
    kiln.step(0.1)
    kiln.step(5.0)
    assert not kiln.shaft_turning
    hopper_kg = kiln.hopper_kg
    kiln.step(30.0)
    assert kiln.hopper_kg == hopper_kg
    kiln.free_auger()
    kiln.step(1.0)
    assert kiln.shaft_turning


def test_an_empty_hopper_starves_the_fire_though_the_shaft_turns() -> None:
    """What is in the chute still lands; a bag poured in feeds again."""
    kiln = Kiln(Build(), 1)
    kiln.auger_powered = True
    kiln.step(60.0)
    kiln.empty_hopper()
    kiln.step(3.0)
    fed_kg = kiln.fed_kg
    kiln.step(60.0)
    assert kiln.shaft_turning
    assert kiln.fed_kg == fed_kg
    kiln.fill_hopper(18.0)
    kiln.step(60.0)
    assert kiln.fed_kg > fed_kg + 0.1


def test_a_bridge_that_falls_lands_at_once_and_takes_no_more_than_the_hopper_holds() -> None:
    """1.5 kg on the grate between two looks."""
    kiln = Kiln(Build(), 1)
    kiln.flood_grate()
    kiln.step(1.0)
    assert kiln.fed_kg == pytest.approx(1.5)
    assert kiln.hopper_kg == pytest.approx(Build().hopper_kg - 1.5)
    nearly_empty = Kiln(Build(hopper_kg=0.4), 1)
    nearly_empty.flood_grate()
    nearly_empty.step(1.0)
    assert nearly_empty.fed_kg == pytest.approx(0.4)
    assert abs(nearly_empty.balance().error_frac()) < 1e-6
