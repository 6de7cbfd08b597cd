"""The rate of the last 100 °C, which is what a cone feels, against ramps whose rate is known."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.heat import Heat, next_heat


def climbed(heat: Heat, from_c: float, to_c: float, rate_c_per_h: float, began_s: float) -> tuple[Heat, float]:
    """A straight climb, read once a second. Returns the heat and when it ended."""
    seconds = round((to_c - from_c) / rate_c_per_h * 3600)
    for second in range(seconds + 1):
        heat = next_heat(heat, began_s + second, from_c + rate_c_per_h * second / 3600)
    return heat, began_s + seconds


@settings(max_examples=25)
@given(st.floats(60, 400), st.floats(200, 1200))
def test_a_steady_climb_has_the_rate_it_was_made_with(rate: float, from_c: float) -> None:
    heat, _ = climbed(Heat(), from_c, from_c + 130.0, rate, 0.0)
    assert heat.rate_c_per_h == pytest.approx(rate, rel=0.01)
    assert heat.top_c == pytest.approx(from_c + 130.0, abs=0.2)


def test_no_rate_is_told_before_so_much_was_climbed() -> None:
    heat, _ = climbed(Heat(), 20.0, 100.0, 200.0, 0.0)
    assert heat.rate_c_per_h is None


def test_only_the_last_hundred_degrees_count() -> None:
    heat, now_s = climbed(Heat(), 20.0, 1000.0, 300.0, 0.0)
    heat, _ = climbed(heat, 1000.0, 1110.0, 60.0, now_s)
    assert heat.rate_c_per_h == pytest.approx(60.0, rel=0.01)


def test_a_hold_on_the_way_makes_the_last_hundred_degrees_slower() -> None:
    """By hand: 100 K in one hour of climbing and one of holding is 50 K an hour."""
    heat, now_s = climbed(Heat(), 20.0, 950.0, 100.0, 0.0)
    for second in range(3600):
        heat = next_heat(heat, now_s + second, 950.0)
    heat, _ = climbed(heat, 950.0, 1000.0, 100.0, now_s + 3600)
    assert heat.rate_c_per_h == pytest.approx(50.0, rel=0.06)


def test_the_probes_noise_and_a_fall_leave_top_and_rate_as_they_are() -> None:
    heat, now_s = climbed(Heat(), 20.0, 500.0, 100.0, 0.0)
    for second in range(1000):
        after = next_heat(heat, now_s + second, 499.0 - second / 10)
        assert (after.top_c, after.rate_c_per_h) == (heat.top_c, heat.rate_c_per_h)


def test_the_memory_of_a_long_climb_stays_short() -> None:
    heat, _ = climbed(Heat(), 20.0, 1300.0, 400.0, 0.0)
    assert len(heat.passed) <= 23
