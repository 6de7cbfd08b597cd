"""The rate of the last 100 °C against ramps whose rate is known; heat work against the published cones."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.plans.cones import END_POINTS_C
from daemon.plans.heat_work import Climb, climb_work_s, next_climb, work_s


def climbed(heat: Climb, from_c: float, to_c: float, rate_c_per_h: float, began_s: float) -> tuple[Climb, float]:
    """A straight climb, read once a second. Returns the heat and when it ended."""
    seconds = round((to_c - from_c) / rate_c_per_h * 3600)
    for second in range(seconds + 1):
        heat = next_climb(heat, began_s + second, from_c + rate_c_per_h * second / 3600)
    return heat, began_s + seconds


@settings(max_examples=25)
@given(st.floats(60, 400), st.floats(200, 1200))
def test_a_steady_climb_has_the_rate_it_was_made_with(rate: float, from_c: float) -> None:
    heat, _ = climbed(Climb(), from_c, from_c + 130.0, rate, 0.0)
    assert heat.rate_c_per_h == pytest.approx(rate, rel=0.01)
    assert heat.top_c == pytest.approx(from_c + 130.0, abs=0.2)


def test_no_rate_is_told_before_so_much_was_climbed() -> None:
    heat, _ = climbed(Climb(), 20.0, 100.0, 200.0, 0.0)
    assert heat.rate_c_per_h is None


def test_only_the_last_hundred_degrees_count() -> None:
    heat, now_s = climbed(Climb(), 20.0, 1000.0, 300.0, 0.0)
    heat, _ = climbed(heat, 1000.0, 1110.0, 60.0, now_s)
    assert heat.rate_c_per_h == pytest.approx(60.0, rel=0.01)


def test_a_hold_on_the_way_makes_the_last_hundred_degrees_slower() -> None:
    """By hand: 100 K in one hour of climbing and one of holding is 50 K an hour."""
    heat, now_s = climbed(Climb(), 20.0, 950.0, 100.0, 0.0)
    for second in range(3600):
        heat = next_climb(heat, now_s + second, 950.0)
    heat, _ = climbed(heat, 950.0, 1000.0, 100.0, now_s + 3600)
    assert heat.rate_c_per_h == pytest.approx(50.0, rel=0.06)


def test_the_probes_noise_and_a_fall_leave_top_and_rate_as_they_are() -> None:
    heat, now_s = climbed(Climb(), 20.0, 500.0, 100.0, 0.0)
    for second in range(1000):
        after = next_climb(heat, now_s + second, 499.0 - second / 10)
        assert (after.top_c, after.rate_c_per_h) == (heat.top_c, heat.rate_c_per_h)


def test_the_memory_of_a_long_climb_stays_short() -> None:
    heat, _ = climbed(Climb(), 20.0, 1300.0, 400.0, 0.0)
    assert len(heat.passed) <= 23


@pytest.mark.parametrize("cone", [cone for cone, ends in END_POINTS_C.items() if ends[1] >= 998])
def test_a_cone_falls_by_the_same_heat_work_however_fast_it_is_climbed(cone: str) -> None:
    """Against the end points published by the Edward Orton Jr. Ceramic Foundation, as compared in `cones.py`."""
    _, slow_c, fast_c = END_POINTS_C[cone]
    asked_s = climb_work_s(20.0, slow_c, 60.0)
    does_s = [work_s(to_c, slow_c, climb_work_s(20.0, to_c, 150.0)) for to_c in (fast_c - 6.0, fast_c + 6.0)]
    assert does_s[0] < asked_s < does_s[1]  # within 6 K


@given(st.floats(20, 1300), st.floats(1, 200), st.floats(30, 400))
def test_the_work_of_a_climb_is_that_of_its_seconds(from_c: float, by_k: float, rate: float) -> None:
    to_c, seconds = from_c + by_k, round(by_k / rate * 3600)
    hots = [from_c + by_k * second / max(seconds, 1) for second in range(seconds + 1)]
    summed_s = sum(work_s((a + b) / 2, to_c, by_k / rate * 3600 / max(seconds, 1)) for a, b in pairwise(hots))
    assert climb_work_s(from_c, to_c, rate) == pytest.approx(summed_s, rel=0.02, abs=1.0)


def test_time_at_a_temperature_is_its_own_heat_work_and_a_fall_does_none_to_speak_of() -> None:
    assert work_s(1222.0, 1222.0, 60.0) == 60.0
    assert work_s(1222.0 + 22.6, 1222.0, 60.0) == pytest.approx(60.0 * 2.71828, rel=0.01)  # by hand: e times as fast
    assert climb_work_s(1222.0, 1000.0, 100.0) == 0.0
