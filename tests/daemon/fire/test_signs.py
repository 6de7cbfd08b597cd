"""Is there a fire? The signs, and the pellets counted since the last one."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.fire.signs import DEAD_FALL_LEAST_K_PER_S, FireSigns, fall_limit_k_per_s, is_dark, next_signs
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
    """A glowing wall holds the eye bright; a chamber at 1000 °C whose fire is out falls by more than 1 K a minute."""
    fire = watched(FireSigns(0.0), 1000.0, -0.05, 600, True)
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


def test_a_kiln_known_to_fall_fast_without_a_fire_may_fall_faster_with_one_but_only_so_much() -> None:
    """By hand: 980 K over the room and 1/25 000 of it a second, and 980/700 times as much at most."""
    usual = 980 / 25_000
    assert fall_limit_k_per_s(1000.0, 0.0) == fall_limit_k_per_s(1000.0, usual) == pytest.approx(usual)
    assert fall_limit_k_per_s(1000.0, 0.15) == pytest.approx(0.3 * 0.15)
    assert fall_limit_k_per_s(1000.0, 9.0) == pytest.approx(usual * 980 / 700)
    assert fall_limit_k_per_s(620.0, 9.0) == pytest.approx(600 / 25_000)  # cooler than that: what is usual, and no more


@pytest.mark.parametrize("flame", [True, NOT_FITTED])
@pytest.mark.parametrize("chamber_c", [15.0, 40.0, 79.0])
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
    assert fire.smooth_c == pytest.approx(300.0 + 0.02 * 400 - 0.02 * 25, abs=0.1)  # lags by its time constant


def test_a_chamber_at_the_airs_temperature_is_no_sign_of_fire() -> None:
    """No eye is fitted, the charcoal died, the chamber stands at 25 °C: what is fed counts as unproven."""
    fire = watched(FireSigns(0.0), 25.0, 0.0, 1800, NOT_FITTED)
    assert fire.sign_fed_s < FED_PER_S * 1700
