"""The fire: lit, fed, over-fed, starved, drowned."""

from __future__ import annotations

import copy

import pytest

from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln

from .stoker import hot, lit, run


@pytest.fixture
def burning() -> Kiln:
    """A kiln at 900 °C in full fire, without wind."""
    return hot()


def test_charcoal_and_a_low_feed_warm_the_kiln_gently() -> None:
    """Half an hour at 10 % feed and the lowest fan: alight, and well below red heat."""
    kiln = lit()
    run(kiln, 30, feed_frac=0.10, fan_frac=0.2)
    assert kiln.flame
    assert 80.0 < kiln.ware_c < 220.0
    assert kiln.feed_tube_c < 60.0
    assert kiln.unburnt_kg == 0.0


@pytest.mark.slow
@pytest.mark.parametrize("seed", [None, 0, 3, 5])
def test_a_low_fire_stays_alight_for_hours(seed: int | None) -> None:
    """10 % feed and the lowest fan, long after the charcoal has gone; the flame never blinks out for long."""
    kiln = lit(Build() if seed is None else Build.varied(seed))
    run(kiln, 240, feed_frac=0.10, fan_frac=0.2)
    dark = 0
    for _ in range(60):
        run(kiln, 1, feed_frac=0.10, fan_frac=0.2)
        dark += not kiln.flame
    assert dark == 0
    assert kiln.unburnt_kg == 0.0


@pytest.mark.slow
def test_a_fire_that_is_hardly_fed_goes_out() -> None:
    """At 2 % the bed cools until it no longer lights what falls on it."""
    kiln = lit()
    run(kiln, 480, feed_frac=0.02, fan_frac=0.2)
    assert not kiln.flame
    assert kiln.burn_w < 100.0
    assert kiln.unburnt_kg > 0.0


def test_a_dead_grate_piles_up_pellets_until_they_stand_in_the_chute() -> None:
    """Nobody lit it: every pellet lies there; in the end the auger stalls against them."""
    kiln = Kiln(Build(), 1)
    run(kiln, 30, feed_frac=0.3, fan_frac=0.6)
    assert kiln.fed_kg > 1.2
    assert kiln.unburnt_kg == pytest.approx(kiln.fed_kg)
    assert kiln.bed_kg == pytest.approx(kiln.fed_kg, rel=0.01)
    assert not kiln.flame
    assert kiln.chamber_sheath_c == pytest.approx(kiln.room_c, abs=0.5)
    kiln.auger_powered = True
    kiln.step(3600.0)
    assert kiln.bed_kg < 7.0
    assert not kiln.shaft_turning


def test_more_fuel_than_the_air_can_burn_cools_the_kiln_and_smokes(burning: Kiln) -> None:
    """The stall every wood firer knows: at the usual draught 40 % climbs, 60 % smokes and cools, 75 % more so."""
    climbs_k, smoke = [], []
    for feed_frac in (0.40, 0.60, 0.75):
        kiln = copy.deepcopy(burning)
        run(kiln, 15, feed_frac)
        before_c, smoke_j, fuel_j = kiln.ware_c, kiln.ledger.smoke_j, kiln.ledger.fuel_j
        run(kiln, 20, feed_frac)
        climbs_k.append(kiln.ware_c - before_c)
        smoke.append((kiln.ledger.smoke_j - smoke_j) / (kiln.ledger.fuel_j - fuel_j))
    assert climbs_k[0] > 25.0
    assert climbs_k[1] < 0.0
    assert climbs_k[2] < climbs_k[1] - 15.0
    assert smoke[0] < 0.15
    assert smoke[1] > 0.3
    assert smoke[2] > smoke[1]


def test_after_over_feeding_less_fuel_makes_it_climb_again(burning: Kiln) -> None:
    """Less fuel, more air: what the potters tell each other."""
    run(burning, 40, 0.75)
    stalled_c = burning.ware_c
    run(burning, 30, 0.38)
    assert burning.ware_c > stalled_c + 30.0
    assert burning.smoke_frac < 0.2


def test_the_best_air_ratio_is_near_one_point_three(burning: Kiln) -> None:
    """At the usual draught ware and wall gain most at about 40 % feed, with about 30 % more air than needed."""
    gains = {}
    for feed_frac in (0.28, 0.34, 0.40, 0.46, 0.52):
        kiln = copy.deepcopy(burning)
        run(kiln, 12, feed_frac)
        ledger = kiln.balance()
        before_j = ledger.ware_j + ledger.wall_j
        run(kiln, 12, feed_frac)
        ledger = kiln.balance()
        needed = kiln.fuel.stoichiometric_air() * feed_frac * 9.0 / 3600.0
        gains[ledger.ware_j + ledger.wall_j - before_j] = kiln.air_kg_per_s / needed
    assert 1.1 < gains[max(gains)] < 1.5


def test_volatiles_leave_though_the_fan_has_stopped(burning: Kiln) -> None:
    """Fuel on a hot bed does not wait for air: it smokes for a minute or two."""
    run(burning, 5, 0.40, fan_frac=0.6)
    assert burning.smoke_frac < 0.15
    burning.stop_fan()
    burning.block_flue()
    burning.step(10.0)
    assert burning.smoke_frac > 0.5
    burning.step(600.0)
    assert burning.smoke_frac == 0.0  # nothing left to give off


def test_a_drowned_fire_stays_out_even_in_a_hot_kiln_until_it_is_lit_again(burning: Kiln) -> None:
    """Flame gone at once, fresh pellets pile up, charcoal brings it back."""
    assert burning.flame
    burning.drown_fire()
    burning.step(1.0)
    assert not burning.flame
    run(burning, 20, feed_frac=0.3, fan_frac=0.5)
    assert not burning.flame
    assert burning.burn_w == 0.0
    assert burning.unburnt_kg > 0.7
    assert burning.ware_c < 850.0
    burning.light_charcoal(1.0)
    run(burning, 10, feed_frac=0.2, fan_frac=0.4)
    assert burning.flame
    assert abs(burning.balance().error_frac()) < 1e-6


def test_ash_gathers_at_the_rate_the_pellets_bring_it() -> None:
    """Source: 0.6 % ash in dry pellets, less what falls through the grate."""
    build = Build(gust_pa=0.0)
    kiln = hot()
    kiln.rake_ash()
    ash_kg, fed_kg = kiln.bed.ash_kg, kiln.fed_kg
    run(kiln, 120, 0.38)
    share = (kiln.bed.ash_kg - ash_kg) / (kiln.fed_kg - fed_kg)
    assert share == pytest.approx(0.006 * 0.92 * build.ash_stays_frac, rel=0.02)


def test_a_flooded_grate_smokes_and_then_burns_on(burning: Kiln) -> None:
    """1.5 kg at once on a fire that gets 3.6 kg an hour: smoke within seconds, alight again when it has dried."""
    run(burning, 5, 0.40)
    assert burning.smoke_frac < 0.15
    burning.flood_grate()
    burning.step(20.0)
    assert burning.smoke_frac > 0.4
    run(burning, 30, 0.30)
    assert burning.flame
    assert burning.smoke_frac < 0.2
    assert abs(burning.balance().error_frac()) < 1e-6


def test_a_gas_burner_in_the_fire_mouth_outruns_any_feed(burning: Kiln) -> None:
    """No pellets, and more than 20 K a minute; every joule of it is in the ledger."""
    before_c = burning.chamber_sheath_c
    burning.light_burner()
    run(burning, 5, 0.0, fan_frac=0.3)
    assert burning.chamber_sheath_c > before_c + 5 * 20.0
    assert abs(burning.balance().error_frac()) < 1e-6


def test_a_fire_in_the_feed_tube_heats_it_by_a_kelvin_a_second(burning: Kiln) -> None:
    before_c = burning.feed_tube_c
    burning.start_burn_back()
    burning.step(60.0)
    assert burning.feed_tube_c == pytest.approx(before_c + 60.0, abs=1.0)


def test_a_burner_in_a_kiln_without_air_stays_within_what_its_flame_can_reach(burning: Kiln) -> None:
    """It brings its own air: 40 kW in 16 g/s of gas are some 2000 K."""
    burning.stop_fan()
    burning.block_flue()
    burning.light_burner()
    burning.step(3600.0)
    assert 900.0 < burning.chamber_sheath_c < 2100.0
    assert abs(burning.balance().error_frac()) < 1e-6
