"""The oxygen probe in the flue: what it sees of the fire, how late, and what comes out of the drivers."""

from __future__ import annotations

from math import exp

import pytest

from hardware.port import AirRatio, Outputs
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln
from hardware.simulated.kiln.oxygen import LAG_S, LEAN, OxygenProbe
from hardware.simulated.rig import Scenario, SimulatedRig
from hardware.wiring import Transmitter, Wiring

from .stoker import hot, run

PROBE = Transmitter(channel=2, low_v=0.333, high_v=3.0, low=0.65, high=2.0)


@pytest.fixture
def burning() -> Kiln:
    """A kiln at 900 °C in full fire, without wind."""
    return hot()


def test_it_sees_sixty_three_percent_of_a_change_in_one_time_constant() -> None:
    """First-order step response, 1 - exp(-t/τ), from air to a fire with 30 % more air than it needs."""
    probe = OxygenProbe()
    for _ in range(8):
        probe.step(0.5, 1.3, 1.0)
    assert LAG_S == 4.0
    assert probe.air_ratio == pytest.approx(LEAN - (LEAN - 1.3) * (1.0 - exp(-1.0)))


@pytest.mark.parametrize(("oxygen_kg", "needed_kg"), [(0.0, 0.0), (0.01, 0.0), (1.0, 0.01)])
def test_where_next_to_nothing_burns_it_reads_air(oxygen_kg: float, needed_kg: float) -> None:
    probe = OxygenProbe()
    probe.step(60.0, 1.0, 1.0)
    assert probe.air_ratio == pytest.approx(1.0, abs=1e-5)
    assert probe.step(60.0, oxygen_kg, needed_kg) == pytest.approx(LEAN, abs=1e-5)


def test_a_cold_flue_and_a_dead_fire_are_air_to_it(burning: Kiln) -> None:
    assert Kiln(Build(), 1).flue_air_ratio == LEAN
    run(burning, 5, 0.40)
    assert burning.flue_air_ratio < 1.5
    burning.drown_fire()
    burning.step(60.0)
    assert burning.air_ratio is None
    assert burning.flue_air_ratio == pytest.approx(LEAN, abs=1e-3)


def test_air_through_the_open_door_reads_as_plenty_though_the_fire_starves(burning: Kiln) -> None:
    run(burning, 5, 0.40)
    burning.open_door()
    burning.stop_fan()
    run(burning, 0.5, 0.40)
    assert burning.air_ratio is not None
    assert burning.air_ratio < 0.5
    assert burning.flue_air_ratio > 2.0


def test_too_much_fuel_reads_below_one_and_lags_a_fire_that_changes(burning: Kiln) -> None:
    run(burning, 15, 0.40)
    assert burning.flue_air_ratio > 1.0
    burning.flood_grate()
    burning.step(3.0)
    assert burning.air_ratio is not None
    assert burning.flue_air_ratio > burning.air_ratio + 0.05
    burning.step(20.0)
    assert burning.flue_air_ratio < 0.7


@pytest.mark.parametrize(("feed_frac", "within"), [(0.3, 0.08), (0.4, 0.05), (0.5, 0.05)])
def test_what_the_drivers_read_follows_the_air_ratio_of_a_steady_fire(
    burning: Kiln, feed_frac: float, within: float
) -> None:
    """The auger jogs every second and the fan stays as it is; in a lean fire single pellets still show."""
    run(burning, 12, feed_frac)
    rig = SimulatedRig(burning, Wiring(oxygen=PROBE), Scenario())
    fan_frac = burning.fan_frac
    gaps, ratios = [], []
    for scan in range(3000):
        image = rig.read(scan / 10)
        jog = scan % 10 < round(feed_frac * 10)
        rig.write(Outputs(auger=jog, fan_frac=fan_frac, keep_alive=scan % 2 == 0))
        assert isinstance(image.oxygen, AirRatio)
        assert burning.air_ratio is not None
        gaps.append(image.oxygen.value - burning.air_ratio)
        ratios.append(burning.air_ratio)
    rig.close()
    steady = gaps[1500:]
    assert len(steady) == 1500
    assert max(map(abs, steady)) < within
    assert (sum(ratios[1500:]) / 1500 > 1.0) is (feed_frac < 0.45)
