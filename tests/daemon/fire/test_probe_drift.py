"""A chamber probe that slowly reads too low, on simulated kilns fired by the daemon's own feed and air."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.beat import Beat
from daemon.course.state import Course, State
from daemon.decide import decide
from daemon.fire.bed import charcoal_bed as lit_bed
from daemon.fire.estimate import Estimate
from daemon.fire.probe_drift import (
    AGREE_K,
    ALONE_K,
    CHARCOAL_KG,
    DRIFT_K,
    FORGET_S,
    LEARN_S,
    Look,
    ProbeDrift,
    next_probe_drift,
)
from daemon.memory import Memory
from daemon.plans.file import find_plan, load_plan
from daemon.plans.plan import Plan
from daemon.settings import Settings
from daemon.setup import setup_of
from daemon.units import BAG_KG
from hardware.port import NOT_FITTED, Draught, Outputs, Readings, Temperature
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln

H = 3600.0
SETTINGS = Settings()
PLAN = load_plan(find_plan("cone-6"))


@dataclass
class Firing:
    """One kiln fired along a plan by what the daemon decides; a person fills, rakes and looks in. No interlock acts."""

    kiln: Kiln
    dice: Random
    memory: Memory
    behind_k_per_h: float = 0.0
    behind_k: float = 0.0
    feed_by: Callable[[float], float] = lambda frac: frac
    usual_kg_per_rev: float = 0.0
    now_s: float = 0.0
    warned: list[float] = field(default_factory=list)
    most_k: float = -math.inf

    @property
    def drift(self) -> ProbeDrift | None:
        """What the balance has seen so far."""
        return self.memory.beat.drift

    @property
    def over(self) -> bool:
        """The plan's last stage is over."""
        return self.memory.beat.course.state is State.BURN_DOWN

    def run(self, seconds: float) -> Firing:
        """Fire for so long, or to the plan's end."""
        until_s = self.now_s + seconds
        while self.now_s < until_s and not self.over:
            self.second()
        return self

    def second(self) -> None:
        """One second at the kiln."""
        kiln, memory = self.kiln, self.memory
        kiln.auger_powered = self.now_s % 10 < round(10 * memory.beat.feed.frac)
        kiln.fan_frac, kiln.damper_frac = memory.beat.air.fan_frac, memory.beat.air.damper_frac
        kiln.step(0.5)
        kiln.step(0.5)
        self.now_s += 1
        self.behind_k += self.behind_k_per_h / H
        self.person()
        seen = self.seen()
        wish = decide(seen, (), memory)
        feed = wish.beat.feed._replace(frac=self.feed_by(wish.beat.feed.frac))
        done = Outputs(kiln.auger_powered, wish.fan_frac, wish.damper_frac)
        self.memory = memory._replace(
            beat=wish.beat._replace(feed=feed, attendance=memory.beat.attendance), readings=seen,
            auger=memory.auger._replace(fed_s=memory.auger.fed_s + kiln.auger_powered),
            done=replace(done, auger=False),
        )  # fmt: skip
        if self.drift is not None:
            self.most_k = max(self.most_k, self.drift.flue.drift_k)
            if self.drift.drift_k is not None:
                self.warned.append(self.now_s)

    def seen(self) -> Readings:
        """What the instruments show: the chamber probe reads too little by so much."""
        kiln = self.kiln
        chamber_c = kiln.chamber_sheath_c - self.behind_k + self.dice.gauss(0.0, 0.3)
        return Readings(
            self.now_s, self.now_s,
            {"chamber": Temperature(chamber_c, 0.0, "kiln"), "flue": Temperature(kiln.flue_sheath_c, 0.0, "kiln")},
            draught=Draught(kiln.draught_pa, 0.0, "kiln"), airflow_proven=True, flame_seen=NOT_FITTED,
        )  # fmt: skip

    def person(self) -> None:
        """Fill the hopper, each bag a little other; rake the ash; now and then look in through the door."""
        kiln, second = self.kiln, round(self.now_s)
        if kiln.hopper_kg < 7:
            kiln.fill_hopper(BAG_KG)
            kiln.auger._kg_per_rev = self.usual_kg_per_rev * self.dice.uniform(0.95, 1.05)
        if second % 9000 == 0:
            kiln.rake_ash()
        if second % 4500 == 4000:
            kiln.open_door()
        elif second % 4500 == 4015:
            kiln.shut_door()


def lit(variation: int | None, plan: Plan = PLAN) -> Firing:
    """A kiln whose charcoal burns and whose fire is proven."""
    build = Build() if variation is None else Build.varied(variation)
    kiln = Kiln(build, seed=variation or 0)
    kiln.light_charcoal(1.0)
    course = Course(State.WARM_UP, 0.0, 0, begun_s=0.0, lit=True)
    memory = Memory(setup_of(SETTINGS, plan), Beat(course=course, estimate=Estimate(bed=lit_bed(1.0))))
    return Firing(kiln, Random(f"firing {variation}"), memory, usual_kg_per_rev=kiln.auger._kg_per_rev)


@cache
def half_fired(variation: int | None) -> Firing:
    """The same, hours later, when both looks have learnt what is usual."""
    firing = lit(variation).run(6 * H)
    assert firing.drift is not None
    assert firing.drift.fuel.learnt_s > LEARN_S
    return firing


def again(firing: Firing, **changes: object) -> Firing:
    """The same firing once more from here on, with something changed."""
    return replace(copy.deepcopy(firing), **changes)  # type: ignore[arg-type]


KILNS = [None, 3]


@pytest.mark.slow
@pytest.mark.parametrize("kiln", KILNS)
@pytest.mark.parametrize(("k_per_h", "within_s"), [(120.0, H), (200.0, 0.75 * H)])
def test_a_probe_that_falls_behind_is_found(kiln: int | None, k_per_h: float, within_s: float) -> None:
    firing = again(half_fired(kiln), behind_k_per_h=k_per_h)
    assert firing.warned == []
    began_s = firing.now_s
    while not firing.warned and firing.now_s - began_s < within_s and not firing.over:
        firing.run(60)
    assert firing.warned
    assert firing.drift is not None
    assert firing.drift.drift_k is not None
    # it sees the drift ten minutes late or more: the sooner it is found, the smaller the share it has seen
    assert 0.5 * firing.behind_k < firing.drift.drift_k < firing.behind_k + 15


@pytest.mark.slow
@pytest.mark.parametrize("kiln", KILNS)
def test_a_sound_probe_is_believed_to_the_end_through_doors_refills_and_new_draughts(kiln: int | None) -> None:
    firing = again(half_fired(kiln)).run(12 * H)
    assert firing.over  # fired to the end
    assert firing.warned == []
    assert firing.most_k < DRIFT_K / 2


@pytest.mark.slow
def test_more_fuel_than_the_air_can_burn_is_not_taken_for_a_drift() -> None:
    firing = again(half_fired(None), feed_by=lambda frac: 1.0)
    ratios = []
    for _ in range(90):
        ratios.append(firing.run(60).kiln.air_ratio)
    assert sum(ratio < 1.0 for ratio in ratios if ratio is not None) > 45  # it smokes, and what it costs is no drift
    assert firing.warned == []


def test_without_a_flue_probe_nothing_is_said() -> None:
    drift = fed_for(8 * H, flue_c=None)
    drifted = fed_for(2 * H, drift, chamber_c=600.0, flue_c=None)
    assert drifted.fuel.drift_k > DRIFT_K
    assert drifted.drift_k is None


def fed_for(
    seconds: float, last: ProbeDrift | None = None, chamber_c: float | None = 900.0, flue_c: float | None = 940.0
) -> ProbeDrift:
    """A kiln that stands still in its heat, looked at once a second."""
    now_s = last.at_s if last is not None else 0.0
    for second in range(1, round(seconds) + 1):
        last = next_probe_drift(last, now_s + second, chamber_c, flue_c, 3.0 / H, 40.0)
    assert last is not None
    return last


def test_nothing_is_learnt_while_the_charcoal_still_heats() -> None:
    early = fed_for(0.9 * CHARCOAL_KG * H / 3.0)
    assert (early.fuel, early.flue) == (Look(), Look())
    assert fed_for(1.1 * CHARCOAL_KG * H / 3.0).flue.learnt_s > 0


def test_a_gap_that_opens_slowly_is_a_drift_and_one_that_closes_is_none() -> None:
    usual = fed_for(4 * H)
    assert usual.flue.usual == pytest.approx(40.0)
    assert fed_for(H, usual, flue_c=940.0 + ALONE_K + 5).drift_k == pytest.approx(ALONE_K + 5, abs=3)
    assert fed_for(H, usual, flue_c=840.0).drift_k is None


def test_a_smaller_drift_counts_when_both_looks_see_it() -> None:
    look = Look(40.0, 2 * LEARN_S, DRIFT_K)
    seen = fed_for(60)._replace(flue=look)
    assert seen._replace(fuel=Look(0.0, 2 * LEARN_S, AGREE_K)).drift_k == DRIFT_K
    assert seen._replace(fuel=Look(0.0, 2 * LEARN_S, AGREE_K - 1)).drift_k is None


def test_a_chamber_unknown_for_long_makes_it_begin_afresh_and_a_blink_does_not() -> None:
    usual = fed_for(4 * H)
    blinked = fed_for(60, fed_for(FORGET_S / 2, usual, chamber_c=None))
    assert blinked.flue.learnt_s > LEARN_S
    assert blinked.fed_kg > usual.fed_kg
    blind: ProbeDrift | None = usual
    for second in range(1, round(2 * FORGET_S)):
        blind = next_probe_drift(blind, usual.at_s + second, None, 940.0, 3.0 / H, 40.0)
    assert blind is None


@pytest.mark.parametrize("step_s", [-10.0, 0.0, FORGET_S + 31.0])
def test_a_clock_that_goes_back_or_leaps_makes_it_begin_afresh(step_s: float) -> None:
    usual = fed_for(4 * H)
    after = next_probe_drift(usual, usual.at_s + step_s, 900.0, 940.0, 3.0 / H, 40.0)
    assert after is not None
    assert (after.fed_kg, after.flue) == (0.0, Look())


MOMENTS = st.tuples(
    st.floats(0.1, 700.0),
    st.none() | st.floats(-60, 1900),
    st.none() | st.floats(-60, 1900),
    st.floats(0, 0.03),
    st.none() | st.floats(-1000, 1000),
    st.floats(0, 10),
)


@given(st.lists(MOMENTS, max_size=40))
def test_whatever_is_read_the_balance_stays_a_number(
    moments: list[tuple[float, float | None, float | None, float, float | None, float]],
) -> None:
    """Readings come here through `daemon/sight.py`, which lets nothing else through."""
    drift, now_s = fed_for(CHARCOAL_KG * H / 3.0), CHARCOAL_KG * H / 3.0
    after: ProbeDrift | None = drift
    for step_s, chamber_c, flue_c, feed_kg_per_s, draught_pa, air_frac in moments:
        now_s += step_s
        after = next_probe_drift(after, now_s, chamber_c, flue_c, feed_kg_per_s, draught_pa, air_frac)
        if after is not None:
            assert all(map(math.isfinite, (after.heat_kg_per_h, after.root_pa, *after.fuel, *after.flue)))
