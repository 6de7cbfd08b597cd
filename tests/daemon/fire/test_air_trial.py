"""The air tried out: a wrong calibration shows in the chamber's answer, and nothing is tried where it must not be."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import exp, isfinite, log
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm  # type: ignore[import-untyped]

from daemon.beat import Beat
from daemon.control.air import Air
from daemon.control.atmosphere import SURE, TRIED_FROM_C, TRIED_K, may_try
from daemon.control.feed import Feed, FeedLimit
from daemon.course.state import Course, State
from daemon.decide import decide, stage_of
from daemon.fire.air_trial import (
    ASIDE_FRAC,
    BLOWN,
    HALF_S,
    NO_TRIAL,
    PLACES,
    AirTrial,
    next_period,
    posterior,
    spacing,
    wanted_aside_frac,
    weigh,
)
from daemon.fire.bed import Bed
from daemon.fire.calibration import AIR_MEASURED, Calibration
from daemon.fire.estimate import Estimate, Observation, next_estimate
from daemon.fire.heat_balance import (
    COLD_MASS_KG_PER_K,
    PROBE_LAG_S,
    STEP_S,
    USUAL_M3,
    HeatBalance,
    first_heat_balance,
    next_heat_balance,
)
from daemon.fire.mixture import AIR_PER_KG, net_heat_kg_per_h
from daemon.memory import Memory
from daemon.plans.file import parse_plan
from daemon.plans.plan import Atmosphere
from daemon.settings import read_settings
from daemon.setup import setup_of
from hardware.port import NOT_FITTED, AirRatio, Blind, Blindness, Draught, Readings
from tests.daemon.house import good_readings, with_beat

H = 3600.0
BURNS, RATIO, FLUE_C = 3.5, 1.25, 1000.0
MEANS = Calibration(9.0, 20.0, AIR_MEASURED, USUAL_M3)


@dataclass
class Tried:
    """A kiln held at a heat, whose air is really so much of what is believed, and the daemon's knowledge of it."""

    truth: float
    dice: Random = field(default_factory=lambda: Random(3))
    trial: AirTrial = NO_TRIAL
    balance: HeatBalance = field(default_factory=lambda: first_heat_balance(0.0, FLUE_C, USUAL_M3))
    now_s: float = 0.0
    chamber_c: float = FLUE_C
    reaches: float | None = None
    rough: float = 0.0
    """The feed is more or less than it should be, for some seconds."""

    def run(self, seconds: float) -> Tried:
        """Second by second. What the walls draw is what a steady fire leaves, and the feed is uneven by a tenth."""
        draws = net_heat_kg_per_h(BURNS, self.truth * RATIO * AIR_PER_KG * BURNS, FLUE_C)
        for _ in range(round(seconds)):
            self.now_s += 1
            self.trial = next_period(self.trial, self.now_s, may=True)
            air = RATIO * AIR_PER_KG * BURNS * (1 + wanted_aside_frac(self.trial, self.now_s))
            self.rough += -self.rough / 12 + 0.04 * self.dice.gauss(0.0, 1.0)
            heat = net_heat_kg_per_h(BURNS * (1 + self.rough), self.truth * air, FLUE_C)
            last = heat if self.reaches is None else self.reaches
            self.reaches = last + (1 - exp(-1 / PROBE_LAG_S)) * (heat - last)
            back = 0.2 * (self.chamber_c - FLUE_C)  # what the controller would do about it, kg/h
            self.chamber_c += (self.reaches - draws - back) / H / (COLD_MASS_KG_PER_K * (1 + FLUE_C / 2500))
            before, seen_c = self.balance, self.chamber_c + self.dice.gauss(0.0, 0.15)
            believed = net_heat_kg_per_h(BURNS, air, FLUE_C) - back
            self.balance = next_heat_balance(before, self.now_s, 1.0, seen_c, believed)
            if self.balance.at_s > before.at_s:
                step_s = self.balance.at_s - before.at_s
                self.trial = weigh(self.trial, BURNS, air, FLUE_C, self.balance, step_s, AIR_MEASURED)
        return self


@pytest.mark.parametrize("truth", [0.80, 0.85])
def test_air_that_is_much_less_than_believed_is_found_out_within_two_hours(truth: float) -> None:
    """At a believed ratio of 1.25 the fire has 1.0 or 1.06, and smokes."""
    trial = Tried(truth).run(2 * H).trial
    assert trial.air_factor == pytest.approx(truth, abs=0.06)
    assert trial.std_frac is not None
    assert trial.std_frac < AIR_MEASURED


@pytest.mark.parametrize("truth", [1.0, 1.1])
def test_enough_air_is_not_taken_for_too_little(truth: float) -> None:
    assert Tried(truth).run(3 * H).trial.air_factor > 0.95


@pytest.mark.parametrize(("told", "factor"), [(0.9, 0.9), (1.0, 1.0), (1.1, 1.05)])
def test_what_is_told_corrects_the_air_down_by_all_of_it_and_up_by_half(told: float, factor: float) -> None:
    """Too little air shows in smoke, too much only in what it carries off: so it is believed by half."""
    estimate = Estimate(0.0, bed=Bed(raw_kg=1.0), trial=NO_TRIAL._replace(air_factor=told, std_frac=0.03))
    for second in range(1, 1201):
        estimate = next_estimate(estimate, Observation(float(second), 900.0, 900.0, True, 25.0, None, 0.0), MEANS)
    assert estimate.air_factor == pytest.approx(factor, abs=0.001)
    assert estimate.air_kg_per_h == pytest.approx(20.0 * factor, rel=0.01)
    assert estimate.air_std_frac == 0.03


def test_a_guess_is_felt_as_the_balance_would_feel_it_that_knew() -> None:
    """Independent of the bank: two balances on the same readings, one of which is told the heat of the guess."""
    place, air = PLACES[1], RATIO * AIR_PER_KG * BURNS
    guess = exp(place * spacing(AIR_MEASURED)) * air
    knows = told_nothing = first_heat_balance(0.0, FLUE_C, USUAL_M3)
    trial, dice, most_k = NO_TRIAL, Random(5), 0.0
    for second in range(1, 3601):
        now_s = float(second)
        trial = next_period(trial, now_s, may=True)
        reading = FLUE_C + dice.gauss(0.0, 0.15)
        heat, aside_frac = told_nothing.holding_kg_per_h, trial.aside_frac
        more = more_by_air(guess, aside_frac, BLOWN) - more_by_air(air, aside_frac, 0.0)
        before, told_nothing = told_nothing, next_heat_balance(told_nothing, now_s, 1.0, reading, heat)
        knows = next_heat_balance(knows, now_s, 1.0, reading, heat + more)
        if told_nothing.at_s > before.at_s:
            trial = weigh(trial, BURNS, air, FLUE_C, told_nothing, STEP_S, AIR_MEASURED)
            off_k = knows.chamber_c - told_nothing.chamber_c
            most_k = max(most_k, abs(off_k))
            assert trial.effects[1][0] == pytest.approx(off_k, abs=0.08)
    assert most_k > 0.2


def more_by_air(air: float, aside: float, blown: float) -> float:
    """The heat that the air as it is leaves in the kiln, less that without the trial, kg/h."""
    return net_heat_kg_per_h(BURNS * (1 + blown * aside), air, FLUE_C) - net_heat_kg_per_h(
        BURNS, air / (1 + aside), FLUE_C
    )


def test_a_period_is_first_less_then_more_air_and_goes_through_whatever_happens() -> None:
    begun = next_period(NO_TRIAL, 100.0, may=True)
    for gone_s in range(int(2 * HALF_S)):
        assert next_period(begun, 100.0 + gone_s, may=False) is begun
        assert wanted_aside_frac(begun, 100.0 + gone_s) == (-ASIDE_FRAC if gone_s < HALF_S else ASIDE_FRAC)
    over_s = 100.0 + 2 * HALF_S
    assert next_period(begun, over_s, may=False).since_s is None
    assert next_period(begun, over_s, may=True).since_s == over_s
    assert next_period(begun, 50.0, may=False).since_s is None  # the clock went back
    assert next_period(begun, 150.0, may=True, ends=True).since_s is None
    assert next_period(NO_TRIAL, 150.0, may=True, ends=True) is NO_TRIAL
    assert wanted_aside_frac(NO_TRIAL, over_s) == 0.0


def test_what_is_learnt_is_the_mean_of_the_guesses_by_their_weight() -> None:
    """Independent: scipy's normal density over the same guesses; with nothing told it is what was believed."""
    marks = [0.0, 1.0, 4.0, 3.0, 0.5, -1.0, -2.0, -3.0, -5.0]
    at = [place * spacing(AIR_MEASURED) for place in PLACES]
    weights = [norm.pdf(x, 0.0, AIR_MEASURED) * exp(mark) for x, mark in zip(at, marks, strict=True)]
    mean = sum(w * x for w, x in zip(weights, at, strict=True)) / sum(weights)
    square = sum(w * (x - mean) ** 2 for w, x in zip(weights, at, strict=True)) / sum(weights)
    assert posterior(marks, AIR_MEASURED) == pytest.approx((exp(mean), square**0.5))
    assert posterior([0.0] * len(PLACES), AIR_MEASURED) == pytest.approx((1.0, AIR_MEASURED), rel=0.05)


STEPS = st.tuples(
    st.floats(0, 20), st.floats(0, 150), st.floats(-60, 1500), st.none() | st.floats(-60, 1900), st.booleans()
)


@settings(max_examples=80)
@given(st.lists(STEPS, max_size=40), st.sampled_from([0.02, 0.07, 0.15, 0.25]))
def test_whatever_happens_what_is_learnt_stays_a_share_of_what_was_believed(
    steps: list[tuple[float, float, float, float | None, bool]], believed: float
) -> None:
    trial, balance = next_period(NO_TRIAL, 0.0, may=True), first_heat_balance(0.0, 600.0, USUAL_M3)
    most = exp(PLACES[-1] * spacing(believed))
    for count, (burns, air, flue_c, reading, may) in enumerate(steps):
        now_s = 60.0 * (count + 1)
        balance = next_heat_balance(balance, now_s, 5.0, reading, burns / 2)
        trial = weigh(next_period(trial, now_s, may), burns, air, flue_c, balance, 60.0, believed)
        assert trial.std_frac is not None
        assert all(
            map(
                isfinite,
                [*trial.log_likelihoods, *trial.lagged_kg_per_h, *(part for felt in trial.effects for part in felt)],
            )
        )
        assert 1 / most - 1e-9 <= trial.air_factor <= most + 1e-9
        assert 0 <= trial.std_frac <= log(most) + 1e-9


PLAN = """
name = "tried"
temperature = "C"
draught = "Pa"
[[stage]]
name = "warm-up"
kind = "fixed"
feed = 10
for = "30 min"
[[stage]]
name = "up"
kind = "climb"
to = 1200
rate = 100
{}
[[stage]]
name = "even out"
kind = "soak"
for = "30 min"
"""


def climbing(atmosphere: Atmosphere = Atmosphere.OXIDATION, trim: bool = True, by: str = "fan") -> Memory:
    """A hot kiln on its line, with air to spare both ways."""
    table: dict[str, Any] = {"air": {"by": by, "kg_per_h_at_25_pa": 20.0}}
    how = f'atmosphere = "{atmosphere.value}"' if trim else "feed = 30\ndraught = 30\ntrim = false"
    plan = parse_plan(PLAN.format(how), "p")
    balance = first_heat_balance(1000.0, 900.0, USUAL_M3)
    estimate = Estimate(
        1000.0, bed=Bed(gas_kg_per_h=2.0), balance=balance, air_kg_per_h=20.0, air_std_frac=AIR_MEASURED
    )
    course = Course(State.CLIMBING, 0.0, 1, begun_s=0.0, setpoint_c=900.0, target_c=1200.0, lit=True)
    beat = Beat(1000.0, course, Feed(0.3, wanted_air_ratio=1.25), Air(0.5, 0.5, 25.0), estimate=estimate)
    return Memory(setup_of(read_settings(table, "s"), plan), beat)


def seen() -> Readings:
    """What it shows."""
    draught = Draught(25.0, 0.0, "fake")
    return replace(good_readings(1000.0, 900.0), draught=draught, airflow_proven=True, oxygen=NOT_FITTED)


def tries(memory: Memory, readings: Readings | None = None) -> bool:
    """Whether the air is tried."""
    beat, course = memory.beat, memory.beat.course
    stage = stage_of(course, memory)
    return may_try(
        stage, course.setpoint_c, course.waits, readings or seen(), beat.estimate, beat.feed, beat.air,
        memory.settings.air,
    )  # fmt: skip


@pytest.mark.parametrize("by", ["fan", "damper"])
def test_the_air_is_tried_on_a_calm_climb(by: str) -> None:
    assert tries(climbing(by=by))


def test_a_soak_is_left_in_peace() -> None:
    memory = climbing()
    assert not tries(with_beat(memory, course=replace(memory.beat.course, state=State.SOAKING, stage=2)))


@pytest.mark.parametrize(
    "memory",
    [climbing(by="hand"), climbing(trim=False), *(climbing(a) for a in Atmosphere if a is not Atmosphere.OXIDATION)],
    ids=["by hand", "as the plan has it", *(a.value for a in Atmosphere if a is not Atmosphere.OXIDATION)],
)
def test_nobody_is_asked_to_try_the_air_and_no_reduction_is_disturbed(memory: Memory) -> None:
    assert not tries(memory)


@pytest.mark.parametrize("atmosphere", list(Atmosphere))
def test_a_reduction_that_begins_ends_the_period_at_once(atmosphere: Atmosphere) -> None:
    """What the plan wants of the air it gets, and not 6 % less."""
    memory = climbing(atmosphere)
    under_way = next_period(NO_TRIAL, 990.0, may=True)
    memory = with_beat(memory, estimate=memory.beat.estimate._replace(trial=under_way))
    after = decide(replace(seen(), now_s=1001.0), (), memory).beat.estimate.trial
    assert (after.since_s is None) == (atmosphere is not Atmosphere.OXIDATION)


def test_the_air_is_not_tried_where_something_else_is_amiss() -> None:
    memory = climbing()
    course, estimate = memory.beat.course, memory.beat.estimate
    assert estimate.balance is not None
    assert not tries(memory, replace(seen(), draught=Blind(Blindness.OPEN_CIRCUIT)))
    assert not tries(memory, replace(seen(), draught=NOT_FITTED))
    assert not tries(memory, replace(seen(), oxygen=AirRatio(1.2, 0.0, "fake")))
    assert not tries(with_beat(memory, course=replace(course, waits=True)))
    assert not tries(with_beat(memory, course=replace(course, setpoint_c=900.0 + TRIED_K)))
    assert not tries(with_beat(memory, feed=Feed(0.3, limited_by=FeedLimit.AIR)))
    assert not tries(with_beat(memory, air=Air(0.99, 0.5, 25.0)))
    assert not tries(with_beat(memory, air=Air(memory.settings.air.fan_lowest_frac, 0.5, 25.0)))
    assert not tries(with_beat(memory, estimate=estimate._replace(air_std_frac=SURE)))
    cool = estimate.balance._replace(chamber_c=TRIED_FROM_C - 1)
    at = replace(course, setpoint_c=TRIED_FROM_C - 1)
    assert not tries(with_beat(memory, course=at, estimate=estimate._replace(balance=cool)))
