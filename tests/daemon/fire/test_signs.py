"""Is there a fire? The signs, and the pellets counted since the last one."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.fire.signs import DEAD_FALL_LEAST_K_PER_S, FireSigns, asks_fire, fall_limit_k_per_s, is_dark, next_signs
from hardware.port import NOT_FITTED, Blind, Blindness, NotFitted, Readings, Temperature
from tests.daemon.house import good_readings

FED_PER_S = 0.3


def view(now_s: float, chamber_c: float, flame: bool | NotFitted) -> Readings:
    """What is seen at one moment."""
    return replace(good_readings(now_s, chamber_c), flame_seen=flame)


def watched(fire: FireSigns, from_c: float, slope_k_per_s: float, seconds: int, flame: bool | NotFitted) -> FireSigns:
    """The fire after a straight climb or fall while it is fed all the time."""
    began_s, fed_s = fire.at_s, fire.sign_fed_s
    for second in range(1, seconds + 1):
        now_s = began_s + second
        fire = next_signs(fire, view(now_s, from_c + slope_k_per_s * second, flame), fed_s + FED_PER_S * second)
    return fire


@pytest.mark.parametrize("flame", [True, NOT_FITTED])
def test_a_climbing_chamber_is_a_sign_whether_an_eye_is_fitted_and_bright_or_not_fitted(
    flame: bool | NotFitted,
) -> None:
    fire = watched(FireSigns(0.0), 800.0, 0.03, 300, flame)
    assert fire.sign_fed_s == pytest.approx(FED_PER_S * 300)
    assert fire.slope_k_per_s == pytest.approx(0.03, rel=0.05)


def test_a_falling_chamber_is_no_sign_however_bright_its_walls() -> None:
    """A glowing wall holds the eye bright; a chamber at 1000 °C whose fire is out falls by 5 K a minute and more."""
    fire = watched(FireSigns(0.0), 1000.0, -0.085, 600, True)
    assert fire.sign_fed_s < FED_PER_S * 120


def test_a_dark_eye_is_no_sign_although_the_chamber_holds_its_heat() -> None:
    fire = watched(FireSigns(0.0, flame_s=0.0), 900.0, 0.0, 600, False)
    assert fire.sign_fed_s <= FED_PER_S * 6


def test_a_blind_chamber_gives_no_sign_and_forgets_none() -> None:
    fire = watched(FireSigns(0.0), 800.0, 0.03, 100, True)
    image = replace(view(101.0, 0.0, True), probes={"chamber": Blind(Blindness.OPEN_CIRCUIT)})
    after = next_signs(fire, image, 1000.0)
    assert after.sign_fed_s == fire.sign_fed_s
    assert after.smooth_c == fire.smooth_c


def test_the_hotter_the_kiln_the_faster_it_may_fall() -> None:
    assert fall_limit_k_per_s(100.0) == DEAD_FALL_LEAST_K_PER_S
    assert fall_limit_k_per_s(1200.0) > fall_limit_k_per_s(600.0) > fall_limit_k_per_s(100.0) > 0


@pytest.mark.parametrize("flame", [True, NOT_FITTED])
@pytest.mark.parametrize(("chamber_c", "fall_k_per_min"), [(145.0, 0.2), (145.0, 0.0), (250.0, 0.3), (290.0, 1.0)])
def test_a_warm_kiln_that_falls_slowly_is_no_sign_of_fire(
    flame: bool | NotFitted, chamber_c: float, fall_k_per_min: float
) -> None:
    """Warm from yesterday: the walls give back what they hold, and nothing burns."""
    fire = watched(FireSigns(0.0), chamber_c, -fall_k_per_min / 60, 1800, flame)
    assert fire.sign_fed_s == 0.0


@pytest.mark.parametrize("chamber_c", [400.0, 700.0, 1000.0, 1250.0])
def test_a_hot_kiln_that_falls_as_a_dead_one_gives_no_sign_and_as_one_short_of_air_it_does(chamber_c: float) -> None:
    """By hand: (chamber - 20) / 20 000 K/s, and 980/700 of that at 1000 °C: 4.1 K a minute."""
    limit = (chamber_c - 20) / 20_000 * max(1.0, (chamber_c - 20) / 700)
    held = watched(FireSigns(0.0), chamber_c, 0.0, 300, NOT_FITTED)
    slower = watched(held, chamber_c, -0.8 * limit, 300, NOT_FITTED)
    assert slower.sign_fed_s == pytest.approx(FED_PER_S * 600)
    faster = watched(held, chamber_c, -1.3 * limit, 300, NOT_FITTED)
    assert faster.sign_fed_s < FED_PER_S * (300 + 70)


def test_the_bend_tells_a_fire_that_has_just_gone_out_before_the_slope_does() -> None:
    """It climbed by 3 K a minute and begins to fall by 6: no sign any more, while the smoothed slope still climbs."""
    fire = watched(FireSigns(0.0), 880.0, 0.05, 400, NOT_FITTED)
    last_sign = None
    for second in range(1, 120):
        before = fire
        fire = next_signs(fire, view(400.0 + second, 900.0 - 0.1 * second, NOT_FITTED), FED_PER_S * (400 + second))
        if last_sign is None and fire.sign_fed_s == before.sign_fed_s:
            last_sign = second
            assert fire.slope_k_per_s > -fall_limit_k_per_s(900.0)
    assert last_sign is not None
    assert last_sign < 35


def test_a_cool_kiln_is_asked_for_a_sign_at_half_of_the_count_and_a_hot_one_never() -> None:
    assert not asks_fire(FireSigns(0.0, 200.0), 0.119, 0.24)
    assert asks_fire(FireSigns(0.0, 200.0), 0.12, 0.24)
    assert asks_fire(FireSigns(0.0, 299.0), 0.2, 0.24)
    assert not asks_fire(FireSigns(0.0, 300.0), 0.2, 0.24)
    assert not asks_fire(FireSigns(0.0), 0.2, 0.24)


@pytest.mark.parametrize("flame", [True, NOT_FITTED])
@pytest.mark.parametrize("chamber_c", [15.0, 40.0, 79.0, 299.0])
def test_a_kiln_that_is_all_but_cold_has_to_get_warmer_whatever_an_eye_sees(
    chamber_c: float, flame: bool | NotFitted
) -> None:
    """A shorted eye and cold charcoal: a chamber that only stands is no sign of fire."""
    assert watched(FireSigns(0.0), chamber_c, 0.0, 1800, flame).sign_fed_s == 0.0
    assert watched(FireSigns(0.0), chamber_c, -0.002, 1800, flame).sign_fed_s == 0.0


@pytest.mark.parametrize("flame", [True, NOT_FITTED])
def test_a_kiln_that_is_all_but_cold_may_warm_up_slowly(flame: bool | NotFitted) -> None:
    """A damp load at 10 % feed: 15 K an hour, a kelvin in four minutes."""
    fire = watched(FireSigns(0.0), 25.0, 15.0 / 3600, 3000, flame)
    assert fire.sign_fed_s > FED_PER_S * (2999 - 250)


@given(st.floats(0, 1e4), st.none() | st.floats(0, 1e4), st.floats(0, 600))
def test_an_eye_is_dark_after_so_long_without_flame(now_s: float, seen_s: float | None, for_s: float) -> None:
    image = view(now_s, 500.0, False)
    assert is_dark(image, seen_s, now_s, for_s) == (seen_s is None or now_s - seen_s >= for_s)
    assert not is_dark(replace(image, flame_seen=True), seen_s, now_s, for_s)
    assert not is_dark(replace(image, flame_seen=NOT_FITTED), seen_s, now_s, for_s)


def test_the_smoothed_chamber_follows_the_real_one() -> None:
    fire = watched(FireSigns(0.0), 300.0, 0.02, 400, True)
    assert isinstance(view(0.0, 1.0, True).probes["chamber"], Temperature)
    assert fire.smooth_c == pytest.approx(300.0 + 0.02 * 400 - 0.02 * 20, abs=0.1)  # lags by its time constant


def test_a_chamber_at_the_airs_temperature_is_no_sign_of_fire() -> None:
    """No eye is fitted, the charcoal died, the chamber stands at 25 °C: what is fed counts as unproven."""
    fire = watched(FireSigns(0.0), 25.0, 0.0, 1800, NOT_FITTED)
    assert fire.sign_fed_s < FED_PER_S * 1700
