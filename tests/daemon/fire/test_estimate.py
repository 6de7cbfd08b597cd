"""What is known of fire and air: an oxygen probe leads, a blind gauge holds, and nothing is known of a dead grate."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.course.asks import Word
from daemon.course.state import State
from daemon.fire.bed import charcoal_bed
from daemon.fire.calibration import USUAL_RATIO, Calibration
from daemon.fire.estimate import (
    FAINT_KG_PER_H,
    MOST_WRONG,
    OXYGEN_STD_FRAC,
    SMOOTH_S,
    Estimate,
    Observation,
    next_estimate,
    start_heat_balance,
)
from daemon.fire.mixture import AIR_PER_KG
from daemon.notice import Cause
from daemon.plans.plan import RATIO, Atmosphere
from hardware.port import AirRatio, Draught
from tests.daemon.house import cold_kiln

MEANS = Calibration(9.0, 20.0, 0.15, 0.12)
BURNS = 3.0


def seen(
    now_s: float, fed_s: float = 0.0, pa: float | None = 25.0, probe: float | None = None, gauge: bool = True,
    chamber_c: float | None = 600.0,
) -> Observation:  # fmt: skip
    """What there is to go by."""
    return Observation(now_s, chamber_c, chamber_c, gauge, pa, probe, fed_s)


def burning(minutes: float = 60.0, pa: float | None = 25.0, gauge: bool = True) -> Estimate:
    """A fire that has burnt 3 kg/h for so long, without a probe."""
    estimate = Estimate()
    for second in range(1, round(minutes * 60) + 1):
        estimate = next_estimate(estimate, seen(second, second * BURNS / 9.0, pa, gauge=gauge), MEANS)
    return estimate


def probed(estimate: Estimate, truth: float, seconds: int, pa: float = 25.0, top: float = 4.0) -> Estimate:
    """The same fire, with an oxygen probe, where the air is really so much of what the gauge makes of it."""
    began_s, air = estimate.at_s, truth * MEANS.air_at_25_pa * sqrt(pa / 25.0)
    for second in range(1, seconds + 1):
        now_s = began_s + second
        ratio = min(air / (AIR_PER_KG * estimate.bed.burns_kg_per_h), top)
        estimate = next_estimate(estimate, seen(now_s, now_s * BURNS / 9.0, pa, ratio), MEANS)
    return estimate


def test_the_air_ratio_is_the_air_over_what_just_burns_the_fuel() -> None:
    """By hand: 20 kg/h of air and 3 kg/h of pellets that take 5.6 each, the char of an hour among them."""
    estimate = burning()
    assert estimate.air_ratio == pytest.approx(20.0 / (AIR_PER_KG * 3.0), rel=0.01)
    assert (estimate.air_factor, estimate.air_std_frac) == (1.0, MEANS.air_std_frac)


@pytest.mark.parametrize("truth", [0.8, 0.9, 1.0, 1.1, 1.2])
def test_an_oxygen_probe_puts_a_wrong_calibration_right_within_minutes(truth: float) -> None:
    before, after = burning(), probed(burning(), truth, 420)
    assert before.air_ratio is not None
    assert after.air_ratio is not None
    right = truth * MEANS.air_at_25_pa / (AIR_PER_KG * after.bed.burns_kg_per_h)
    assert after.air_ratio == pytest.approx(right, rel=0.02)
    assert after.air_std_frac == OXYGEN_STD_FRAC
    assert after.air_factor == pytest.approx(truth, rel=0.03)


def test_what_the_probe_taught_is_kept_when_it_goes_blind_but_no_longer_as_sure() -> None:
    taught = probed(burning(), 0.8, 420)
    now_s = taught.at_s + 1
    blind = next_estimate(taught, seen(now_s, now_s * BURNS / 9.0), MEANS)
    assert blind.air_factor == taught.air_factor
    assert blind.air_std_frac == MEANS.air_std_frac


@pytest.mark.parametrize("top", [1.8, 2.0, 3.0, 4.0])
@pytest.mark.parametrize("pa", [60.0, 140.0])
def test_a_probe_at_the_top_of_its_range_teaches_nothing_wrong(pa: float, top: float) -> None:
    """The top means that much or more. By hand: 31 or 47 kg/h of air for 3 kg/h of pellets, ratios of 1.8 and 2.8."""
    estimate = probed(burning(pa=pa), 1.0, 900, pa, top)
    assert estimate.air_factor == pytest.approx(1.0, abs=0.05)


def test_a_fire_with_very_much_air_teaches_nothing_wrong() -> None:
    """A young fire: a kilo of charcoal that burns at 1.5 kg/h, and five times the air that takes."""
    estimate = Estimate(bed=charcoal_bed(1.0), air_kg_per_h=44.0)
    for second in range(1, 901):
        probe = min(44.0 / (AIR_PER_KG * max(estimate.bed.burns_kg_per_h, 0.1)), 4.0)
        estimate = next_estimate(estimate, seen(second, 0.0, 25.0 * 2.2**2, probe), MEANS)
    assert estimate.air_factor == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("pa", [0.0, -2.0, 0.01])
def test_a_gauge_at_nought_beside_an_oxygen_probe_is_borne(pa: float) -> None:
    """The charcoal has just been lit, and the fan begins to turn."""
    estimate = Estimate(bed=charcoal_bed(1.0))
    for second in range(1, 30):
        estimate = next_estimate(estimate, seen(second, 0.0, pa, 4.0), MEANS)
    assert 1 / MOST_WRONG <= estimate.air_factor <= MOST_WRONG


def test_a_kiln_with_an_oxygen_probe_is_fired_from_cold() -> None:
    """The fan stands still while the charcoal is lit, so the first look at the fire finds no air and much oxygen."""
    kiln = cold_kiln()
    kiln.rig.override = lambda seen: replace(seen, oxygen=AirRatio(1.6, 0.0, "fake:oxygen"))
    kiln.lit(State.LIT_BY_HAND).run(60).scan(Word.LIT)
    kiln.rig.show(flame_seen=True)
    kiln.until(State.CLIMBING).run(60)
    assert kiln.memory.beat.estimate.air_std_frac == OXYGEN_STD_FRAC
    assert kiln.memory.beat.feed.wanted_air_ratio is not None
    assert (
        kiln.memory.beat.feed.wanted_air_ratio < RATIO[Atmosphere.OXIDATION] + 0.1
    )  # surer, and so with less air to spare


def test_a_fan_that_does_not_start_beside_an_oxygen_probe_is_locked_out_and_no_fault_of_the_daemon() -> None:
    kiln = cold_kiln().lit(State.LIT_BY_HAND).run(60)
    kiln.rig.override = lambda seen: replace(
        seen, oxygen=AirRatio(4.0, 0.0, "fake:oxygen"), draught=Draught(0.0, 0.0, "fake:gauge"), airflow_proven=False
    )
    kiln.scan(Word.LIT).until(State.LOCKED_OUT, within_s=60)
    assert kiln.first_out in (Cause.AIRFLOW_LOST, Cause.FAN_IDLE)


@pytest.mark.parametrize("stuck", [0.3, 0.7, 4.0, 20.0])
def test_a_probe_that_reads_nonsense_moves_the_estimate_by_no_more_than_its_bound(stuck: float) -> None:
    estimate = burning()
    for _ in range(7200):
        now_s = estimate.at_s + 1
        estimate = next_estimate(estimate, seen(now_s, now_s * BURNS / 9.0, 25.0, stuck), MEANS)
        assert 1 / MOST_WRONG <= estimate.air_factor <= MOST_WRONG


def test_a_blind_gauge_leaves_the_air_as_it_was_and_tells_no_ratio() -> None:
    before = burning()
    after = next_estimate(before, seen(before.at_s + 1, before.fed_s, None), MEANS)
    assert (after.air_kg_per_h, after.air_ratio) == (before.air_kg_per_h, None)
    assert after.bed.burns_kg_per_h > 0
    again = next_estimate(after, seen(after.at_s + 1, after.fed_s), MEANS)
    assert again.air_ratio == pytest.approx(before.air_ratio, rel=0.01)


def test_without_a_gauge_the_air_is_taken_for_enough_and_no_ratio_is_told() -> None:
    estimate = burning(pa=None, gauge=False)
    assert estimate.air_ratio is None
    assert estimate.air_kg_per_h == pytest.approx(USUAL_RATIO * AIR_PER_KG * estimate.bed.burns_kg_per_h)


def test_the_air_is_smoothed_over_a_gusts_beginning() -> None:
    """A first-order lag comes to 63 % in its time constant; four times the draught is 2.11 times the air."""
    before = burning()
    estimate = before
    for second in range(1, round(SMOOTH_S) + 1):
        estimate = next_estimate(estimate, seen(before.at_s + second, before.fed_s, 100.0), MEANS)
    assert estimate.air_kg_per_h == pytest.approx(20.0 + 0.632 * 22.3, rel=0.01)


def test_a_fire_too_faint_has_no_air_ratio() -> None:
    estimate = burning()
    while estimate.bed.burns_kg_per_h >= FAINT_KG_PER_H:
        assert estimate.air_ratio is not None
        estimate = next_estimate(estimate, seen(estimate.at_s + 1, estimate.fed_s), MEANS)
    assert estimate.air_ratio is None


def test_fuel_is_counted_by_what_the_auger_really_turned() -> None:
    """0.9 s of an auger that drops 9 kg/h are 2.25 g, however the time passes."""
    estimate = next_estimate(Estimate(at_s=100.0, fed_s=50.0), seen(101.0, 50.9), MEANS)
    assert estimate.bed.raw_kg + estimate.bed.wood_kg == pytest.approx(0.00225, rel=0.01)
    assert (
        next_estimate(estimate, seen(102.0, 0.0), MEANS).bed.raw_kg <= estimate.bed.raw_kg
    )  # another firing: none is fed


def test_the_heat_balance_begins_with_the_first_chamber_that_can_be_read_and_not_twice() -> None:
    assert start_heat_balance(Estimate(), 10.0, None, MEANS).balance is None
    begun = start_heat_balance(Estimate(), 10.0, 80.0, MEANS)
    assert begun.balance is not None
    assert begun.balance.chamber_c == 80.0
    assert start_heat_balance(begun, 20.0, 90.0, MEANS) is begun


def test_without_a_flue_probe_the_flue_is_taken_for_as_hot_as_the_chamber() -> None:
    estimate = next_estimate(Estimate(), Observation(1.0, 700.0, None, True, 25.0, None, 0.0), MEANS)
    assert estimate.flue_c == 700.0
    blind = next_estimate(estimate, Observation(2.0, None, None, True, 25.0, None, 0.0), MEANS)
    assert blind.flue_c == 700.0


MOMENTS = st.tuples(
    st.floats(-100, 1000),
    st.none() | st.floats(-60, 1900),
    st.none() | st.floats(-1000, 1000),
    st.none() | st.floats(0.3, 20),
    st.floats(0, 100),
)


@given(st.lists(MOMENTS, max_size=40))
def test_whatever_is_seen_what_is_known_stays_numbers(
    moments: list[tuple[float, float | None, float | None, float | None, float]],
) -> None:
    """Readings come here through `daemon/belief.py`, which lets nothing else through."""
    estimate, now_s, fed_s = start_heat_balance(Estimate(bed=charcoal_bed(1.0)), 0.0, 20.0, MEANS), 0.0, 0.0
    for step_s, chamber_c, pa, probe, turned_s in moments:
        now_s, fed_s = now_s + step_s, fed_s + turned_s
        estimate = next_estimate(estimate, seen(now_s, fed_s, pa, probe, chamber_c=chamber_c), MEANS)
        assert estimate.balance is not None
        numbers = [
            *estimate.bed,
            estimate.air_kg_per_h,
            estimate.air_factor,
            estimate.flue_c,
            estimate.balance.chamber_c,
            estimate.balance.cold_mass_kg_per_k,
            estimate.balance.wall_coefficient,
            estimate.balance.load_kg_per_h,
        ]
        assert all(map(isfinite, numbers))
        assert estimate.air_kg_per_h >= 0
        assert min(estimate.bed) >= 0
