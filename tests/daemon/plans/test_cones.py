"""Cones: the end points, between the columns, and which cone is down."""

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import interp1d  # type: ignore[import-untyped]

from daemon.plans.cones import END_POINTS_C, cone_reached, end_point_c

CONES = list(END_POINTS_C)
PUBLISHED = [
    ("022", None, 586, 590),
    ("019", 656, 678, 695),
    ("017", 705, 738, 763),
    ("015", 750, 791, 818),
    ("012", 843, 861, 882),
    ("010", 891, 903, 915),
    ("08", 922, 942, 956),
    ("06", 981, 998, 1013),
    ("05", 1021, 1031, 1044),
    ("04", 1046, 1063, 1077),
    ("03", 1071, 1086, 1104),
    ("1", 1109, 1137, 1154),
    ("4", 1141, 1162, 1183),
    ("5", 1159, 1186, 1207),
    ("6", 1185, 1222, 1243),
    ("8", 1211, 1249, 1271),
    ("9", 1224, 1260, 1280),
    ("10", 1251, 1285, 1305),
    ("12", 1285, 1306, 1326),
]
"""The published table of large-cone end points at 15, 60 and 150 °C/h; retyped from memory, not from the module."""


@pytest.mark.parametrize(("cone", "slow", "middle", "fast"), PUBLISHED)
def test_a_cone_bends_where_the_published_table_says(cone: str, slow: int | None, middle: int, fast: int) -> None:
    if slow is not None:
        assert end_point_c(cone, 15) == slow
    assert end_point_c(cone, 60) == middle
    assert end_point_c(cone, 150) == fast


@given(st.sampled_from(CONES), st.floats(0.1, 1000), st.floats(0.1, 1000))
def test_the_faster_the_climb_the_hotter_a_cone_bends(cone: str, rate: float, other: float) -> None:
    slow, fast = sorted((rate, other))
    assert end_point_c(cone, slow) <= end_point_c(cone, fast)


@given(st.floats(0.1, 1000), st.integers(0, len(CONES) - 2))
def test_at_any_rate_the_next_cone_is_hotter(rate: float, place: int) -> None:
    assert end_point_c(CONES[place], rate) < end_point_c(CONES[place + 1], rate)


@given(st.sampled_from([row for row in PUBLISHED if row[1] is not None]), st.floats(15, 150))
def test_between_the_columns_it_lies_on_the_line_over_the_logarithm_of_the_rate(
    row: tuple[str, int, int, int], rate: float
) -> None:
    """Independent: scipy's linear interpolation."""
    line = interp1d([log(15), log(60), log(150)], row[1:], bounds_error=False, fill_value=(row[1], row[3]))
    assert end_point_c(row[0], rate) == pytest.approx(float(line(log(rate))), abs=1e-6)


def test_outside_the_columns_the_nearest_holds() -> None:
    assert end_point_c("6", 1.0) == 1185
    assert end_point_c("6", 400.0) == 1243
    assert end_point_c("022", 1.0) == 586


@given(st.floats(500, 1400), st.floats(1, 400))
def test_the_hottest_cone_down_is_named_and_the_next_one_still_stands(top_c: float, rate: float) -> None:
    cone = cone_reached(top_c, rate)
    standing = CONES if cone is None else CONES[CONES.index(cone) + 1 :]
    assert cone is None or end_point_c(cone, rate) <= top_c
    assert all(end_point_c(other, rate) > top_c for other in standing)


def test_an_unknown_cone_is_refused() -> None:
    with pytest.raises(KeyError):
        end_point_c("13", 60)
