"""The line: a straight climb that bends into a soak and not into a climb, seen a little ahead, and why it waits."""

from __future__ import annotations

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.control.feed import FeedLimit
from daemon.control.setpoint import (
    LEAST_OFF_K,
    MOST_OFF_K,
    OFF_AFTER_S,
    PAST_K,
    SETTLE_S,
    STEP_S,
    preview_c,
    slope_k_per_s,
)
from daemon.course.state import Course, State
from daemon.course.transitions import NEAR_K
from daemon.course.waiting import wait_notice
from daemon.plans.plan import Stage, StageKind


def climb(to_c: float, rate_c_per_h: float) -> Stage:
    """A climb."""
    return Stage("up", StageKind.CLIMB, None, None, True, to_c=to_c, rate_c_per_h=rate_c_per_h)


SOAK = Stage("hold", StageKind.SOAK, None, None, True, for_s=600.0)
WARM = Stage("warm", StageKind.FIXED, 0.1, None, False, for_s=600.0)


def walked(stages: tuple[Stage, ...], place: int, setpoint_c: float, seconds: int) -> list[float]:
    """The aim as it is moved on second by second, by the plan's own words, in a kiln that keeps up."""
    aims, target_c = [setpoint_c], stages[place].to_c
    for _ in range(seconds):
        after = stages[place + 1] if place + 1 < len(stages) else None
        setpoint_c += slope_k_per_s(stages[place], after, setpoint_c, target_c)
        if target_c is not None and setpoint_c >= target_c:
            setpoint_c = target_c
            if after is not None and after.kind is StageKind.CLIMB:
                place, target_c = place + 1, after.to_c
        aims.append(setpoint_c)
    return aims


RATES = st.floats(30, 400)


@given(RATES, RATES, st.booleans(), st.floats(0.0, 40.0), st.integers(1, 300))
def test_what_lies_ahead_is_where_the_aim_comes_to(
    first: float, then: float, climbs_on: bool, before_k: float, by_s: int
) -> None:
    """It is looked ahead in steps of a quarter of a minute, and an end between two of them is met a step late."""
    stages = (climb(600.0, first), climb(900.0, then)) if climbs_on else (climb(600.0, first), SOAK)
    comes_c = walked(stages, 0, 600.0 - before_k, by_s)[-1]
    late_k = max(first, then) / 3600 * STEP_S if climbs_on else 0.0
    assert preview_c(stages, 0, 600.0 - before_k, 600.0, (by_s,)) == pytest.approx([comes_c], abs=0.3 + late_k)


@given(RATES, st.floats(0.0, 100.0), st.floats(0.0, 600.0))
def test_the_line_never_runs_past_the_end_of_a_climb_before_a_soak(
    rate: float, before_k: float, by_s: float
) -> None:  # fmt: skip
    [ahead] = preview_c((climb(600.0, rate), SOAK), 0, 600.0 - before_k, 600.0, (by_s,))
    assert 600.0 - before_k <= ahead <= 600.0 + PAST_K
    assert ahead <= 600.0 - before_k + rate / 3600 * by_s + 1e-9  # nor is it ever faster than the plan


def test_a_climb_slows_down_before_a_soak_and_before_the_end_and_not_before_another_climb() -> None:
    """100 K/h is 100/3600 K every second, by hand."""
    up = climb(600.0, 100.0)
    for after in (SOAK, None):
        slopes = [slope_k_per_s(up, after, setpoint_c, 600.0) for setpoint_c in (400.0, 598.0, 599.0, 599.9)]
        assert slopes[0] == pytest.approx(100 / 3600)
        assert slopes == sorted(slopes, reverse=True)
        assert slopes[-1] < slopes[0] / 2
    assert slope_k_per_s(up, climb(900.0, 50.0), 599.9, 600.0) == pytest.approx(100 / 3600)


@pytest.mark.parametrize("rate", [30.0, 100.0, 400.0])
def test_the_bend_gets_there_in_a_few_minutes(rate: float) -> None:
    """The end of all is crossed, not only neared: a cone is down or it is not. Before a soak near is enough."""
    begin_c = 600.0 - rate * 0.25
    for after, near_k, most_s in (((), 0.0, 900), ((SOAK,), NEAR_K, 1200)):
        aims = walked((climb(600.0, rate), *after), 0, begin_c, 3600)
        reached_s = next(second for second, setpoint_c in enumerate(aims) if setpoint_c >= 600.0 - near_k)
        assert 900 * (1 - near_k / (rate * 0.25)) - 1 <= reached_s <= 900 + most_s


def test_a_soak_comes_to_its_temperature_from_below_and_stays_there() -> None:
    """Half way after ln 2 time constants, by hand."""
    aims = walked_soak(598.0, 4 * round(SETTLE_S))
    assert aims[round(SETTLE_S * log(2))] == pytest.approx(599.0, abs=0.01)
    assert aims == sorted(aims)
    assert 599.9 < aims[-1] <= 600.0
    assert slope_k_per_s(SOAK, None, 601.0, 600.0) < 0.0  # a soak that was held higher comes down again


@pytest.mark.parametrize(
    ("owed_s", "counted_s", "off_k"),
    [
        (0.0, OFF_AFTER_S, 0.0), (20.0, OFF_AFTER_S, 20 / 600 * 22.6), (-10.0, OFF_AFTER_S, -10 / 600 * 22.6),
        (600.0, OFF_AFTER_S, MOST_OFF_K), (-600.0, OFF_AFTER_S, LEAST_OFF_K),
        (600.0, OFF_AFTER_S / 3, MOST_OFF_K / 3), (600.0, 0.0, 0.0),
    ],
)  # fmt: skip
def test_a_soak_is_held_hotter_for_the_heat_work_it_owes(owed_s: float, counted_s: float, off_k: float) -> None:
    """By hand: at 1222 °C heat work goes e times as fast 22.6 K higher, so 1 K is a part in 22.6 more of it."""
    course = Course(State.SOAKING, target_c=1222.0, counted_s=counted_s, owed_s=owed_s)
    assert course.goal_c == pytest.approx(1222.0 + off_k, abs=0.01)


def test_a_soak_of_which_nobody_knows_what_it_owes_is_held_at_its_temperature() -> None:
    assert Course(State.SOAKING, target_c=1222.0, counted_s=OFF_AFTER_S).goal_c == 1222.0


@pytest.mark.parametrize("state", [State.CLIMBING, State.WARM_UP])
def test_no_climb_goes_beyond_its_end_for_what_is_owed(state: State) -> None:
    assert Course(state, target_c=1222.0, owed_s=600.0, counted_s=OFF_AFTER_S).goal_c == 1222.0


def walked_soak(setpoint_c: float, seconds: int) -> list[float]:
    """The aim of a soak at 600 °C."""
    aims = [setpoint_c]
    for _ in range(seconds):
        aims.append(aims[-1] + slope_k_per_s(SOAK, None, aims[-1], 600.0))
    return aims


@pytest.mark.parametrize("stage", [SOAK, WARM])
def test_the_aim_of_a_stage_that_does_not_climb_stands_still(stage: Stage) -> None:
    assert slope_k_per_s(stage, climb(900.0, 100.0), 600.0, 600.0) == 0.0
    assert preview_c((stage, climb(900.0, 100.0)), 0, 600.0, 600.0, (300.0,)) == [600.0]


def test_at_its_end_a_climb_moves_no_more() -> None:
    assert slope_k_per_s(climb(600.0, 100.0), SOAK, 600.0, 600.0) == 0.0
    assert preview_c((climb(600.0, 100.0), SOAK), 0, 612.0, 600.0, (300.0,)) == [612.0]


def test_a_climb_whose_end_is_not_known_yet_waits_for_it() -> None:
    assert slope_k_per_s(climb(600.0, 100.0), SOAK, 400.0, None) == 0.0


@pytest.mark.parametrize("limited_by", list(FeedLimit))
def test_why_the_plan_waits_is_said_with_what_to_look_at(limited_by: FeedLimit) -> None:
    notice = wait_notice(limited_by)
    assert "can't climb as fast as the plan asks" in notice.happened
    assert notice.did
    assert notice.do_next
    others = {wait_notice(other) for other in FeedLimit if other is not limited_by}
    if limited_by in (FeedLimit.CEILING, FeedLimit.AIR):  # no power, no air: what helps is not the same
        assert notice not in others
