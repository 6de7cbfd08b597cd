"""What of an image can be believed: stale, impossible and nonsensical values become Blind before anybody judges."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.belief import POSSIBLE_AIR_RATIO, POSSIBLE_C, POSSIBLE_PA, believe
from hardware.port import NOT_FITTED, AirRatio, Blind, Blindness, Draught, NotFitted, Temperature
from tests.daemon.house import good_readings

STALE_S = 3.0
NAN, INF = float("nan"), float("inf")
IMPOSSIBLE = [NAN, INF, -INF, 1e300, -400.0, 5000.0]
FLOATS = st.floats(allow_nan=True, allow_infinity=True)


@pytest.mark.parametrize("value", IMPOSSIBLE)
def test_an_impossible_temperature_is_blind_wherever_it_is_measured(value: float) -> None:
    image, wrong = good_readings(), Temperature(value, 0.0, "fake")
    for name in image.probes:
        seen = believe(replace(image, probes={**image.probes, name: wrong}), STALE_S)
        assert seen.probes[name] == Blind(Blindness.OUT_OF_RANGE, "fake")
        assert all(seen.probes[other] == image.probes[other] for other in image.probes if other != name)
    tube = believe(replace(image, feed_tube=wrong), STALE_S).feed_tube
    assert tube == Blind(Blindness.OUT_OF_RANGE, "fake")


@pytest.mark.parametrize("value", [NAN, INF, -INF, 1e300, -1001.0, 1001.0])
def test_an_impossible_draught_is_blind(value: float) -> None:
    seen = believe(replace(good_readings(), draught=Draught(value, 0.0, "fake")), STALE_S)
    assert seen.draught == Blind(Blindness.OUT_OF_RANGE, "fake")


@pytest.mark.parametrize("value", [NAN, INF, -INF, 1e300, -1.0, 0.0, 0.29, 20.1])
def test_an_impossible_air_ratio_is_blind_and_nothing_else_is(value: float) -> None:
    image = replace(good_readings(), oxygen=AirRatio(value, 0.0, "fake"))
    assert believe(image, STALE_S) == replace(image, oxygen=Blind(Blindness.OUT_OF_RANGE, "fake"))


@pytest.mark.parametrize("oxygen", [AirRatio(0.3, 3.0, "fake"), AirRatio(2.0, 0.0, "fake"), AirRatio(20.0, 0.0, "fake"),
                                    Blind(Blindness.OUT_OF_RANGE, "fake"), NOT_FITTED])  # fmt: skip
def test_an_air_ratio_that_can_be_is_passed_on_as_it_is(oxygen: AirRatio | Blind | NotFitted) -> None:
    image = replace(good_readings(), oxygen=oxygen)
    assert believe(image, STALE_S) is image
    wrong = replace(image, draught=Draught(NAN, 0.0, "fake"))
    assert believe(wrong, STALE_S).oxygen == oxygen


@pytest.mark.parametrize("age_s", [3.01, 1e9, INF, NAN])
def test_a_value_that_is_too_old_or_of_no_age_is_stale(age_s: float) -> None:
    image = good_readings()
    old = replace(
        image, probes={"chamber": Temperature(900.0, age_s, "fake")}, draught=Draught(30.0, age_s, "fake"),
        feed_tube=Temperature(30.0, age_s, "fake"), oxygen=AirRatio(1.3, age_s, "fake"),
    )  # fmt: skip
    seen = believe(old, STALE_S)
    stale = Blind(Blindness.STALE, "fake")
    assert (seen.probes["chamber"], seen.draught, seen.feed_tube, seen.oxygen) == (stale, stale, stale, stale)


def test_a_good_image_is_passed_on_as_it_is() -> None:
    image = good_readings(5.0, 900.0)
    assert believe(image, STALE_S) is image


def test_a_rig_without_a_chamber_probe_is_blind_there() -> None:
    seen = believe(replace(good_readings(), probes={}), STALE_S)
    assert seen.probes["chamber"] == Blind(Blindness.NO_READING_YET)


def test_what_is_not_fitted_stays_not_fitted_beside_a_blind_probe() -> None:
    image = replace(good_readings(), feed_tube=NOT_FITTED, draught=NOT_FITTED)
    image = replace(image, probes={"chamber": Temperature(NAN, 0.0, "fake")})
    seen = believe(image, STALE_S)
    assert (seen.feed_tube, seen.draught) == (NOT_FITTED, NOT_FITTED)


@given(FLOATS, FLOATS, FLOATS, FLOATS)
def test_whatever_is_believed_is_a_number_in_range_and_young(hot: float, pa: float, age: float, other: float) -> None:
    image = replace(good_readings(), draught=Draught(pa, other, "fake"), oxygen=AirRatio(hot, other, "fake"))
    seen = believe(replace(image, probes={"chamber": Temperature(hot, age, "fake")}), STALE_S)
    chamber, draught = seen.probes["chamber"], seen.draught
    if isinstance(chamber, Temperature):
        assert POSSIBLE_C[0] <= chamber.value_c <= POSSIBLE_C[1]
        assert chamber.age_s <= STALE_S
    if isinstance(draught, Draught):
        assert POSSIBLE_PA[0] <= draught.value_pa <= POSSIBLE_PA[1]
        assert draught.age_s <= STALE_S
    if isinstance(seen.oxygen, AirRatio):
        assert POSSIBLE_AIR_RATIO[0] <= seen.oxygen.value <= POSSIBLE_AIR_RATIO[1]
        assert seen.oxygen.age_s <= STALE_S


@pytest.mark.parametrize(
    ("age_s", "believed"), [(-0.19, True), (-0.21, False), (-9.0, False), (2.9, True), (3.1, False)]
)
def test_a_reading_from_the_future_is_believed_no_more_than_an_old_one(age_s: float, believed: bool) -> None:
    """Two scans ahead at most, by rounding; 3 s old at most."""
    image = good_readings(100.0, 500.0)
    image = replace(
        image,
        probes={**image.probes, "chamber": Temperature(500.0, age_s, "fake")},
        draught=Draught(20.0, age_s, "fake"),
        feed_tube=Temperature(25.0, age_s, "fake"),
        oxygen=AirRatio(1.3, age_s, "fake"),
    )
    seen = believe(image, 3.0)
    for value in (seen.probes["chamber"], seen.draught, seen.feed_tube, seen.oxygen):
        assert isinstance(value, Blind) is not believed
