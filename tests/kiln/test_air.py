"""Draught and flow, against the `fluids` library and handbook formulas, and as a person at the gauge sees them."""

from __future__ import annotations

from math import pi, sqrt

import pytest
from fluids.flow_meter import flow_meter_discharge

from hardware.simulated.kiln.air import air_density, orifice_resistance, stack_draught
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln

from .stoker import hot, lit, run


def test_the_grate_passes_as_much_air_as_an_orifice() -> None:
    """Source: `fluids.flow_meter.flow_meter_discharge`, a small hole in a wide pipe."""
    bore_m, coefficient, drop_pa = 0.04, 0.61, 37.0
    area_m2 = pi / 4.0 * bore_m**2
    expected = flow_meter_discharge(  # type: ignore[no-untyped-call]
        D=10.0, Do=bore_m, P1=101325.0 + drop_pa, P2=101325.0, rho=1.2, C=coefficient
    )
    ours = sqrt(drop_pa / orifice_resistance(coefficient * area_m2, 1.2))
    assert ours == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("gas_c", [100.0, 400.0, 900.0, 1200.0])
def test_the_stack_pulls_as_the_handbook_says(gas_c: float) -> None:
    """Source: Δp = 0.0342·p·H·(1/T outside - 1/T inside), the usual chimney formula in SI (memory)."""
    expected_pa = 0.0342 * 101325.0 * 4.0 * (1.0 / 288.15 - 1.0 / (gas_c + 273.15))
    assert stack_draught(4.0, gas_c, 15.0) == pytest.approx(expected_pa, rel=2e-3)


def test_room_air_weighs_what_the_standard_atmosphere_says() -> None:
    """Source: ISO 2533 standard atmosphere at sea level: 1.225 kg/m³ at 15 °C."""
    assert air_density(15.0) == pytest.approx(1.225, abs=0.001)


def test_a_usual_draught_lies_in_the_middle_of_fan_and_damper() -> None:
    """37 Pa is 0.15 inch of water; cold and hot it needs neither a racing fan nor a wide open damper."""
    for kiln in (lit(Build(gust_pa=0.0)), hot()):
        kiln.damper_frac = 0.6
        run(kiln, 5, feed_frac=0.35)
        assert kiln.draught_pa == pytest.approx(37.0, abs=1.5)
        assert 0.35 < kiln.fan_frac < 0.8


def test_full_fan_and_open_damper_give_at_least_seventy_pascal() -> None:
    """There is power in hand above the usual draught."""
    kiln = hot()
    kiln.damper_frac = 1.0
    run(kiln, 1, feed_frac=0.4, fan_frac=1.0)
    assert 70.0 < kiln.draught_pa < 140.0


def test_a_hot_stack_draws_a_few_pascal_without_the_fan() -> None:
    """Natural draught keeps the fire breathing, but no more than that."""
    kiln = hot()
    run(kiln, 2, feed_frac=0.0, fan_frac=0.0)
    assert 2.0 < kiln.draught_pa < 10.0
    cold = Kiln(Build(gust_pa=0.0), 1)
    cold.step(10.0)
    assert cold.draught_pa == pytest.approx(0.0, abs=0.01)


def test_a_fan_that_dies_takes_the_draught_with_it_within_seconds() -> None:
    """The gauge starts to fall at the very next step."""
    kiln = hot()
    run(kiln, 5, feed_frac=0.4, fan_frac=0.6)
    before_pa = kiln.draught_pa
    assert before_pa > 30.0
    kiln.stop_fan()
    kiln.step(0.1)
    assert kiln.draught_pa < before_pa
    for _ in range(30):
        kiln.step(0.1)
    assert kiln.draught_pa < 8.0
    kiln.mend_fan()
    kiln.step(10.0)
    assert kiln.draught_pa > 30.0


def test_a_blocked_flue_stifles_the_fire() -> None:
    """The fan runs, but nothing moves."""
    kiln = hot()
    run(kiln, 2, feed_frac=0.4, fan_frac=0.6)
    assert kiln.air_kg_per_s > 5e-3
    kiln.block_flue()
    kiln.step(2.0)
    assert kiln.draught_pa < 3.0
    assert kiln.air_kg_per_s < 1e-3


def test_shutting_the_damper_lowers_the_draught_but_never_stops_it() -> None:
    """A damper leaks."""
    kiln = hot()
    draughts = []
    for damper_frac in (1.0, 0.6, 0.3, 0.0):
        kiln.damper_frac = damper_frac
        run(kiln, 0.5, feed_frac=0.3, fan_frac=0.6)
        draughts.append(kiln.draught_pa)
    assert draughts == sorted(draughts, reverse=True)
    assert 0.2 < draughts[-1] < 0.3 * draughts[0]


def test_an_open_door_cools_the_ware_and_robs_the_stacks_pull() -> None:
    """Cold air comes in above the fire."""
    kiln = hot()
    run(kiln, 2, feed_frac=0.0, fan_frac=0.0)
    drawn_pa, ware_c, leaving_c = kiln.draught_pa, kiln.ware_c, kiln.flue_sheath_c
    kiln.open_door()
    run(kiln, 2, feed_frac=0.0, fan_frac=0.0)
    assert kiln.draught_pa < 0.2 * drawn_pa
    assert kiln.ware_c < ware_c - 15.0
    assert kiln.flue_sheath_c < leaving_c
    kiln.shut_door()
    run(kiln, 1, feed_frac=0.0, fan_frac=0.0)
    assert kiln.draught_pa > 0.5 * drawn_pa


def test_wind_on_the_stack_shows_on_the_gauge() -> None:
    """A gust pulls, a down-draught pushes; too strong a one stops the air and does not blow the sums up."""
    kiln = hot()
    draughts = []
    for wind_pa in (10.0, 0.0, -10.0, -500.0):
        kiln.air.wind_pa = wind_pa
        run(kiln, 0.1, feed_frac=0.0, fan_frac=0.6)
        draughts.append(kiln.draught_pa)
    assert draughts == sorted(draughts, reverse=True)
    assert draughts[-1] == 0.0
    kiln.air.wind_pa = 0.0
    run(kiln, 1, feed_frac=0.3, fan_frac=0.6)
    assert kiln.draught_pa > 25.0
    assert abs(kiln.balance().error_frac()) < 1e-6


def test_ash_chokes_the_grate_until_it_is_raked() -> None:
    """Choked, the gauge stands higher at the same fan and less air comes through."""
    kiln = hot(Build(gust_pa=0.0, ash_choke_kg=0.3))
    run(kiln, 1, feed_frac=0.3, fan_frac=0.6)
    choked_pa, choked_air = kiln.draught_pa, kiln.air_kg_per_s
    kiln.rake_ash()
    run(kiln, 1, feed_frac=0.3, fan_frac=0.6)
    assert kiln.air_kg_per_s > 1.08 * choked_air
    assert kiln.draught_pa < choked_pa


def test_a_weak_fan_gives_a_trickle_of_air_and_the_fire_smokes() -> None:
    """15 % of the head is left: what comes through is about the root of that."""
    kiln = hot()
    run(kiln, 5, feed_frac=0.4, fan_frac=0.6)
    before_pa, before_smoke = kiln.draught_pa, kiln.smoke_frac
    kiln.weaken_fan()
    run(kiln, 3, feed_frac=0.4, fan_frac=0.6)
    assert 0.1 * before_pa < kiln.draught_pa < 0.4 * before_pa  # the stack still pulls its few pascals
    assert kiln.smoke_frac > before_smoke + 0.3
