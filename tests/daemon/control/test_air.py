"""The air: held by the fan, held by a servo's damper, or asked of the person."""

from dataclasses import dataclass, field
from itertools import pairwise
from math import sin, sqrt
from random import Random

import pytest

from daemon.control.air import (
    FAN_AFTER_S,
    FAN_PER_S,
    OFF_FOR_S,
    WORTH_A_WALK,
    Air,
    AirOrder,
    AirTask,
    DraughtHold,
    next_air,
)
from daemon.settings import AirTable
from daemon.units import DraughtUnit, words_draught

INH2O, PA = DraughtUnit.INH2O, DraughtUnit.PA
HAND = AirTable(by="hand")
AIM_PA = 37.36  # 0.15 in. of water at 249.089 Pa an inch (NIST SP 811)


def order(
    value_pa: float | None,
    setpoint_pa: float = AIM_PA,
    unit: DraughtUnit = INH2O,
    hold: DraughtHold = DraughtHold.EXACT,
) -> AirOrder:
    """DraughtHold this draught."""
    return AirOrder(AirTask.HOLD, setpoint_pa, value_pa, unit, hold)


def by_hand(air: Air, value_pa: float | None, began_s: int, seconds: int, setpoint_pa: float = AIM_PA) -> Air:
    """The air after so many seconds with the gauge at one value."""
    for now_s in range(began_s, began_s + seconds):
        air = next_air(air, order(value_pa, setpoint_pa), float(now_s), 1.0, HAND)
    return air


@pytest.mark.parametrize("setpoint_pa", [5.0, 20.0, 60.0])
@pytest.mark.parametrize("full_pa", [70.0, 150.0])
def test_the_fan_reaches_the_draught_and_stays_there(setpoint_pa: float, full_pa: float) -> None:
    """A square-law fan: the draught goes with the square of its speed (fan laws)."""
    table, air = AirTable(by="fan", fan_lowest_frac=0.1), Air()
    gauge = []
    for now_s in range(600):
        air = next_air(air, order(full_pa * air.fan_frac**2, setpoint_pa), float(now_s), 1.0, table)
        gauge.append(full_pa * air.fan_frac**2)
    assert all(abs(pa - setpoint_pa) <= max(0.6, 0.02 * setpoint_pa) for pa in gauge[200:])
    assert max(gauge) <= 1.3 * setpoint_pa + 1.0
    assert air.damper_frac == table.damper_set_frac


@pytest.mark.parametrize("setpoint_pa", [5.0, 20.0, 45.0])
def test_a_servos_damper_reaches_the_draught_and_stays_there(setpoint_pa: float) -> None:
    """A fan at a set speed behind a damper whose draught goes with the square of its opening."""
    table, air = AirTable(by="damper"), Air()
    gauge = []
    for now_s in range(600):
        air = next_air(air, order(55.0 * air.damper_frac**2, setpoint_pa), float(now_s), 1.0, table)
        gauge.append(55.0 * air.damper_frac**2)
    assert all(abs(pa - setpoint_pa) <= max(0.6, 0.02 * setpoint_pa) for pa in gauge[200:])
    assert air.fan_frac == table.fan_set_frac


@pytest.mark.parametrize("by", ["fan", "damper"])
def test_fan_and_servo_never_go_below_their_lowest_while_a_draught_is_held(by: str) -> None:
    table, air = AirTable.model_validate({"by": by}), Air(fan_frac=0.9, damper_frac=0.9)
    lowest_frac = table.fan_lowest_frac if by == "fan" else table.damper_lowest_frac
    fracs = []
    for now_s in range(300):
        air = next_air(air, order(500.0), float(now_s), 1.0, table)
        fracs.append(air.fan_frac if by == "fan" else air.damper_frac)
    assert min(fracs) == fracs[-1] == lowest_frac
    shut = next_air(air, AirOrder(AirTask.SHUT, 0.0, 10.0, PA), 301.0, 1.0, table)
    assert (shut.fan_frac, shut.damper_frac) == (0.0, 0.0)


def test_by_hand_the_fan_comes_up_where_the_damper_can_give_no_more_and_goes_back_first() -> None:
    """A damper that is open all the way, and a draught that goes with the square of the fan (fan laws)."""
    air, table = Air(), HAND
    fans = []
    for now_s in range(1800):
        air = next_air(air, order(50.0 * air.fan_frac**2, hold=DraughtHold.FOR_FUEL), float(now_s), 1.0, table)
        fans.append(air.fan_frac)
    assert fans[: round(OFF_FOR_S + FAN_AFTER_S)] == [table.fan_set_frac] * round(OFF_FOR_S + FAN_AFTER_S)
    assert max(b - a for a, b in pairwise(fans)) == pytest.approx(FAN_PER_S)
    assert air.request is None  # it was done, if not by a person
    assert WORTH_A_WALK[DraughtHold.FOR_FUEL][0] <= sqrt(50.0 * air.fan_frac**2 / AIM_PA)
    assert air.fan_frac < 1.0
    for now_s in range(1800, 2400):
        air = next_air(air, order(50.0 * air.fan_frac**2, 15.0, hold=DraughtHold.FOR_FUEL), float(now_s), 1.0, table)
    assert air.fan_frac == pytest.approx(WORTH_A_WALK[DraughtHold.FOR_FUEL][1] * sqrt(15.0 / 50.0), abs=2 * FAN_PER_S)
    assert (air.fan_frac > table.fan_set_frac, air.request) == (True, None)


def test_by_hand_the_fan_is_no_help_in_a_reduction() -> None:
    """There heat comes from more of both, and a fan that helps would only burn more fuel."""
    air = Air()
    for now_s in range(1800):
        air = next_air(air, order(50.0 * air.fan_frac**2, hold=DraughtHold.CLOSE), float(now_s), 1.0, HAND)
        assert air.fan_frac == HAND.fan_set_frac
    assert air.request is not None


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
        value_pa = AIM_PA if now_s % 60 < 25 else 15.0
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
    air = by_hand(air, AIM_PA, 60, 60, setpoint_pa=60.0)
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


@dataclass
class Person:
    """Somebody who sets the damper by the gauge when asked, a minute or two later, and misses a little."""

    dice: Random
    set_pa: float
    air: Air = Air()
    asked_s: list[int] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    goes_s: int | None = None

    def second(self, now_s: int, setpoint_pa: float, hold: DraughtHold) -> None:
        """One second: the gauge flickers, the daemon asks or not, the person goes or not."""
        had = self.air.request
        gauge_pa = self.set_pa * self.dice.gauss(1.0, 0.03)
        self.air = next_air(self.air, order(gauge_pa, setpoint_pa, hold=hold), float(now_s), 1.0, HAND)
        if self.air.request is not None and had is None:
            self.asked_s.append(now_s)
            self.words.append(self.air.request)
            self.goes_s = now_s + self.dice.randint(30, 150)
        if self.goes_s == now_s and self.air.setpoint_pa is not None:
            self.set_pa, self.goes_s = self.air.setpoint_pa * self.dice.uniform(0.95, 1.05), None


def growing_pa(now_s: float, hours: float) -> float:
    """The draught for a fuel that grows from 1 to 4.5 kg/h and hunts a little; 5 Pa for the first kilo."""
    fuel = (1.0 + 3.5 * now_s / (3600 * hours)) * (1 + 0.03 * sin(now_s / 70))
    return 5.0 * fuel * fuel


@pytest.mark.parametrize("seed", range(5))
def test_in_ten_hours_of_growing_fuel_a_person_is_asked_a_dozen_times_at_most_and_the_fire_has_its_air(
    seed: int,
) -> None:
    person, short_s = Person(Random(seed), growing_pa(0.0, 10.0) * 1.2), 0
    for now_s in range(36_000):
        setpoint_pa = growing_pa(now_s, 10.0)
        person.second(now_s, setpoint_pa, DraughtHold.FOR_FUEL)
        short_s += (
            person.set_pa < (0.9 * WORTH_A_WALK[DraughtHold.FOR_FUEL][0]) ** 2 * setpoint_pa
        )  # a tenth less than is let pass
    assert 3 <= len(person.asked_s) <= 12
    assert all(after - before >= HAND.ask_again_s for before, after in pairwise(person.asked_s))
    assert short_s < 600
    assert all(words.startswith("Open the damper until the gauge reads 0.") for words in person.words)


def test_in_a_reduction_the_air_is_kept_closer_than_for_a_clean_fire() -> None:
    """A tenth more air than wanted, or a twelfth less: a clean fire takes the first, a reduction neither."""
    assert WORTH_A_WALK[DraughtHold.CLOSE][2] < 1.1 < WORTH_A_WALK[DraughtHold.FOR_FUEL][2]
    for hold in (DraughtHold.FOR_FUEL, DraughtHold.CLOSE):
        person = Person(Random(1), AIM_PA * 1.1**2, Air(setpoint_pa=AIM_PA))
        for now_s in range(3600):
            person.second(now_s, AIM_PA, hold)
        assert len(person.asked_s) == (1 if hold is DraughtHold.CLOSE else 0)
        assert abs(person.set_pa - AIM_PA) < 0.1 * AIM_PA or hold is DraughtHold.FOR_FUEL


@pytest.mark.parametrize("hold", [DraughtHold.FOR_FUEL, DraughtHold.CLOSE])
@pytest.mark.parametrize("unit", [INH2O, PA])
@pytest.mark.parametrize("has", [0.5, 0.9, 1.02, 1.5, 2.5])
def test_whoever_is_asked_is_asked_for_the_air_worth_the_walk_in_the_gauges_unit(
    has: float, unit: DraughtUnit, hold: DraughtHold
) -> None:
    """`has` is the air against what is wanted; air goes with the root of the draught (an orifice's square law)."""
    least, spare, most = WORTH_A_WALK[hold]
    air = Air(setpoint_pa=AIM_PA)
    for now_s in range(60):
        air = next_air(air, order(AIM_PA * has * has, AIM_PA, unit, hold), float(now_s), 1.0, HAND)
    if least < has < most:
        assert air.request is None
        return
    move = "Open" if has < spare else "Close"
    assert air.request == f"{move} the damper until the gauge reads {words_draught(AIM_PA * spare * spare, unit)}."
    assert air.setpoint_pa == pytest.approx(AIM_PA * spare * spare)


def test_what_a_person_has_set_for_the_fuel_is_not_asked_for_anew_by_every_breath_of_the_fire() -> None:
    """The air wanted swings by a tenth, and the damper stands where it was asked for."""
    spare = WORTH_A_WALK[DraughtHold.FOR_FUEL][1]
    person = Person(Random(3), AIM_PA * spare * spare, Air(setpoint_pa=AIM_PA))
    for now_s in range(7200):
        person.second(now_s, AIM_PA * (1 + 0.1 * sin(now_s / 100)), DraughtHold.FOR_FUEL)
    assert person.asked_s == []


@pytest.mark.parametrize("by", ["fan", "damper"])
@pytest.mark.parametrize("hold", list(DraughtHold))
def test_fan_and_servo_hold_what_is_wanted_whatever_it_is_for(by: str, hold: DraughtHold) -> None:
    table, air = AirTable.model_validate({"by": by, "fan_lowest_frac": 0.1}), Air()
    for now_s in range(600):
        frac = air.fan_frac if by == "fan" else air.damper_frac
        air = next_air(air, order(90.0 * frac * frac, 20.0, hold=hold), float(now_s), 1.0, table)
    frac = air.fan_frac if by == "fan" else air.damper_frac
    assert 90.0 * frac * frac == pytest.approx(20.0, abs=0.6)
    assert (air.setpoint_pa, air.request) == (20.0, None)
