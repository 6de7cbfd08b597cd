"""The air: held by the fan, held by a servo's damper, or asked of the person."""

from itertools import pairwise

import pytest

from daemon.air import Air, AirOrder, AirTask, air_ready, next_air
from daemon.settings import AirTable
from daemon.units import DraughtUnit

INH2O, PA = DraughtUnit.INH2O, DraughtUnit.PA
HAND = AirTable(by="hand")
AIM_PA = 37.36  # 0.15 in. of water at 249.089 Pa an inch (NIST SP 811)


def order(value_pa: float | None, aim_pa: float = AIM_PA, unit: DraughtUnit = INH2O) -> AirOrder:
    """Hold this draught."""
    return AirOrder(AirTask.HOLD, aim_pa, value_pa, unit)


def by_hand(air: Air, value_pa: float | None, began_s: int, seconds: int, aim_pa: float = AIM_PA) -> Air:
    """The air after so many seconds with the gauge at one value."""
    for now_s in range(began_s, began_s + seconds):
        air = next_air(air, order(value_pa, aim_pa), float(now_s), 1.0, HAND)
    return air


@pytest.mark.parametrize("aim_pa", [5.0, 20.0, 60.0])
@pytest.mark.parametrize("full_pa", [70.0, 150.0])
def test_the_fan_reaches_the_draught_and_stays_there(aim_pa: float, full_pa: float) -> None:
    """A square-law fan: the draught goes with the square of its speed (fan laws)."""
    table, air = AirTable(by="fan", fan_lowest_frac=0.1), Air()
    gauge = []
    for now_s in range(600):
        air = next_air(air, order(full_pa * air.fan_frac**2, aim_pa), float(now_s), 1.0, table)
        gauge.append(full_pa * air.fan_frac**2)
    assert all(abs(pa - aim_pa) <= max(0.6, 0.02 * aim_pa) for pa in gauge[200:])
    assert max(gauge) <= 1.3 * aim_pa + 1.0
    assert air.damper_frac == table.damper_set_frac


@pytest.mark.parametrize("aim_pa", [5.0, 20.0, 45.0])
def test_a_servos_damper_reaches_the_draught_and_stays_there(aim_pa: float) -> None:
    """A fan at a set speed behind a damper whose draught goes with the square of its opening."""
    table, air = AirTable(by="damper"), Air()
    gauge = []
    for now_s in range(600):
        air = next_air(air, order(55.0 * air.damper_frac**2, aim_pa), float(now_s), 1.0, table)
        gauge.append(55.0 * air.damper_frac**2)
    assert all(abs(pa - aim_pa) <= max(0.6, 0.02 * aim_pa) for pa in gauge[200:])
    assert air.fan_frac == table.fan_set_frac


def test_the_fan_never_goes_below_its_lowest_while_a_draught_is_held() -> None:
    table, air = AirTable(by="fan"), Air(fan_frac=0.9)
    for now_s in range(300):
        air = next_air(air, order(500.0), float(now_s), 1.0, table)
        assert air.fan_frac >= table.fan_lowest_frac
    assert air.fan_frac == table.fan_lowest_frac


@pytest.mark.parametrize("by", ["fan", "damper"])
def test_with_a_blind_gauge_the_actuator_stays_where_it_is(by: str) -> None:
    table = AirTable.model_validate({"by": by})
    air = Air(0.55, 0.45, AIM_PA)
    for now_s in range(100):
        after = next_air(air, order(None), float(now_s), 1.0, table)
        moving = (after.fan_frac, air.fan_frac) if by == "fan" else (after.damper_frac, air.damper_frac)
        assert moving[0] == moving[1] == (0.55 if by == "fan" else 0.45)
        air = after


def test_a_person_is_asked_in_the_plans_unit_and_told_which_way() -> None:
    low = by_hand(by_hand(Air(), AIM_PA, 0, 5), 15.0, 5, 60)
    assert low.request == "Open the damper until the gauge reads 0.15 in. of water."
    high = by_hand(by_hand(Air(), AIM_PA, 0, 5), 60.0, 5, 60)
    assert high.request == "Close the damper until the gauge reads 0.15 in. of water."
    air = next_air(Air(), order(60.0, unit=PA), 0.0, 1.0, HAND)
    for now_s in range(1, 60):
        air = next_air(air, order(60.0, unit=PA), float(now_s), 1.0, HAND)
    assert air.request == "Close the damper until the gauge reads 37 Pa."


def test_nobody_is_asked_to_walk_over_for_a_gust() -> None:
    air = by_hand(Air(), AIM_PA, 0, 5)
    for gust in range(10):
        air = by_hand(air, 60.0, 5 + 30 * gust, 15)
        assert air.request is None
        air = by_hand(air, AIM_PA, 20 + 30 * gust, 15)
    assert air.request is None


def test_the_gauge_shows_that_it_was_done() -> None:
    asked = by_hand(by_hand(Air(), AIM_PA, 0, 5), 60.0, 5, 60)
    assert asked.request is not None
    swinging = by_hand(asked, AIM_PA, 65, 5)
    assert swinging.request is not None  # through the band is not in it yet
    assert by_hand(swinging, AIM_PA, 70, 20).request is None


def test_nobody_is_asked_again_before_they_had_time_to_rest() -> None:
    air, asked_s, last = Air(), [], None
    for now_s in range(2400):  # the gauge leaves the band again and again, whatever the person does
        value_pa = AIM_PA if now_s % 60 < 25 else 60.0
        air = next_air(air, order(value_pa), float(now_s), 1.0, HAND)
        if air.request is not None and last is None:
            asked_s.append(now_s)
        last = air.request
    assert len(asked_s) >= 5
    assert all(after - before >= HAND.ask_again_s for before, after in pairwise(asked_s))


def test_a_request_that_stands_is_not_taken_back_because_the_gauge_went_blind() -> None:
    asked = by_hand(by_hand(Air(), AIM_PA, 0, 5), 60.0, 5, 60)
    assert by_hand(asked, None, 65, 300).request == asked.request


def test_the_next_stages_draught_is_asked_for_even_when_somebody_was_asked_a_minute_ago() -> None:
    air = by_hand(by_hand(Air(), AIM_PA, 0, 5), 60.0, 5, 25)
    assert air.request is not None
    air = by_hand(air, AIM_PA, 30, 30)
    assert air.request is None
    air = by_hand(air, AIM_PA, 60, 60, aim_pa=60.0)
    assert air.request is not None


@pytest.mark.parametrize("by", ["hand", "fan", "damper"])
def test_the_purge_takes_all_the_air_there_is_and_cooling_takes_none(by: str) -> None:
    table = AirTable.model_validate({"by": by})
    purge = next_air(Air(), AirOrder(AirTask.PURGE, 0.0, None, PA), 0.0, 1.0, table)
    assert (purge.fan_frac, purge.damper_frac) == (1.0, 1.0)
    shut = next_air(purge, AirOrder(AirTask.SHUT, 0.0, None, PA), 1.0, 1.0, table)
    assert (shut.fan_frac, shut.damper_frac) == (0.0, 0.0)
    lowest = next_air(purge, AirOrder(AirTask.LOWEST, 0.0, None, PA), 1.0, 1.0, table)
    assert lowest.fan_frac == table.fan_lowest_frac
    still = next_air(Air(0.7, 0.4), AirOrder(AirTask.STILL, 0.0, None, PA), 1.0, 1.0, table)
    assert (still.fan_frac, still.damper_frac) == (0.0, 0.4)
    assert (purge.request is not None) == (by == "hand")


def test_there_is_air_enough_for_more_fuel_at_85_percent_of_the_draught() -> None:
    assert not air_ready(0.84 * AIM_PA, AIM_PA)
    assert air_ready(0.86 * AIM_PA, AIM_PA)
    assert air_ready(None, AIM_PA)
