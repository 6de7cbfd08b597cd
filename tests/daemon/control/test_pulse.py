"""The feed contact: a fraction becomes closed and open times, and what was asked for is what is delivered."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate, groupby, pairwise
from math import pi, sin
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.control.pulse import Pulse, next_pulse
from daemon.settings import PulseLimits, Settings

LIMITS = Settings().pulse_limits
TICK_S = 0.1
WINDOW_S = 600.0
FEEDS = st.floats(0, 0.9)


@dataclass
class Auger:
    """Scans the pulse at given moments and keeps what was asked and what the contact did between them."""

    limits: PulseLimits = LIMITS
    pulse: Pulse = Pulse()
    times_s: list[float] = field(default_factory=list)
    asked: list[float] = field(default_factory=list)
    closed: list[bool] = field(default_factory=list)

    def scan(self, now_s: float, frac: float, may_close: bool = True, held: bool = False) -> bool:
        """One scan; the contact is read back as it was driven. `held`: an interlock held it open in the scan before."""
        read_back = self.closed[-1] if self.closed else False
        self.pulse = next_pulse(self.pulse, now_s, frac, read_back, self.limits, held)
        self.times_s.append(now_s)
        self.asked.append(frac)
        self.closed.append(self.pulse.closed and may_close)
        return self.closed[-1]

    def steps_s(self) -> list[float]:
        """The times between the scans."""
        return [after - before for before, after in pairwise(self.times_s)]

    def owed(self) -> list[float]:
        """Asked minus delivered since the start, auger seconds, at every scan."""
        gaps = zip(self.asked, self.closed, self.steps_s(), strict=False)
        return [0.0, *accumulate(frac * step - (step if closed else 0.0) for frac, closed, step in gaps)]

    def delivered_s(self) -> float:
        """How long the contact was closed."""
        return sum(step for closed, step in zip(self.closed, self.steps_s(), strict=False) if closed)


def worst_window_s(auger: Auger) -> float:
    """The largest difference of asked and delivered over any window of ten minutes, auger seconds."""
    owed, times, worst, end = auger.owed(), auger.times_s, 0.0, 0
    for begin, began_s in enumerate(times):
        while end < len(times) - 1 and times[end] - began_s < WINDOW_S - TICK_S / 4:
            end += 1
        if times[end] - began_s < WINDOW_S - TICK_S / 4:
            break
        worst = max(worst, abs(owed[end] - owed[begin]))
    return worst


def runs_of(levels: Sequence[bool]) -> list[tuple[bool, int]]:
    """Level and length in scans, in order."""
    return [(level, len(list(group))) for level, group in groupby(levels)]


@pytest.mark.parametrize(("frac", "on", "off"), [(0.1, 10, 90), (0.4, 40, 60), (0.9, 90, 10)])
def test_ten_percent_is_1_s_on_and_9_s_off_and_forty_is_4_on_and_6_off(frac: float, on: int, off: int) -> None:
    """Common practice for pellet augers, from memory."""
    auger = Auger()
    for tick in range(1000):
        auger.scan(tick * TICK_S, frac)
    assert runs_of(auger.closed) == [(True, on), (False, off)] * 10


@settings(max_examples=25)
@given(FEEDS)
def test_any_constant_feed_is_delivered_over_any_ten_minutes_to_a_tenth_of_a_point(frac: float) -> None:
    auger = Auger()
    for tick in range(10000):
        auger.scan(tick * TICK_S, frac)
    assert worst_window_s(auger) <= 0.6 + 2 * 0.02  # a jitter at either end


@settings(max_examples=15)
@given(FEEDS, st.floats(-1e-5, 1e-5))
def test_a_slowly_varying_feed_is_delivered_over_any_ten_minutes_too(frac: float, drift_per_s: float) -> None:
    """A drift of up to 3.6 points an hour, which is what the trim's integral does."""
    auger = Auger()
    for tick in range(10000):
        auger.scan(tick * TICK_S, min(max(frac + drift_per_s * tick * TICK_S, 1e-4), 0.9))
    assert worst_window_s(auger) <= 0.6 + 2 * 0.02  # a jitter at either end


@settings(max_examples=15)
@given(FEEDS, FEEDS, st.floats(300, 7200))
def test_a_feed_that_moves_is_delivered_from_cycle_to_cycle(low: float, high: float, period_s: float) -> None:
    """A window that cuts a pulse sees a part of it, so these begin and end with cycles.

    What the feed moves by within a cycle is known only at the next one.
    """
    auger, begins = Auger(), []
    for tick in range(10000):
        now_s = tick * TICK_S
        wave = (low + high) / 2 + (high - low) / 2 * sin(2 * pi * now_s / period_s)
        auger.scan(now_s, min(max(wave, 1e-4), 0.9))
        if auger.pulse.cycle_began_s == now_s:
            begins.append(tick)
    moved_s = abs(high - low) * pi / period_s * LIMITS.cycle_s**2
    owed = auger.owed()
    at_begins = [owed[tick] for tick in begins]
    assert len(at_begins) == 100
    assert max(at_begins) - min(at_begins) <= 0.6 + moved_s


@settings(max_examples=15)
@given(FEEDS, st.integers(0, 2**32))
def test_scans_that_come_late_or_not_at_all_change_nothing_over_ten_minutes(frac: float, seed: int) -> None:
    """Scans jitter by ±20 ms, and one in 500 is skipped; the cycle shifts by a scan where it was due to begin."""
    chance, auger = Random(seed), Auger()
    for tick in range(10000):
        if chance.random() < 1 / 500:
            continue
        auger.scan(tick * TICK_S + chance.uniform(-0.02, 0.02), frac)
    assert worst_window_s(auger) <= 0.6 + 2 * 0.02  # a jitter at either end


@settings(max_examples=30)
@given(st.lists(st.tuples(FEEDS, st.integers(1, 400)), min_size=1, max_size=8))
def test_no_pulse_and_no_gap_is_shorter_than_relay_and_motor_can_make(stretches: list[tuple[float, int]]) -> None:
    auger, tick = Auger(), 0
    for frac, ticks in stretches:
        for _ in range(ticks):
            auger.scan(tick * TICK_S, max(frac, 1e-4))  # never nothing: that opens the contact at once
            tick += 1
    inner = runs_of(auger.closed)[1:-1]
    for closed, scans in inner:
        shortest_s = LIMITS.shortest_on_s if closed else LIMITS.shortest_off_s
        assert scans * TICK_S >= shortest_s - 1e-6


def test_a_feed_of_nothing_never_closes_the_contact() -> None:
    auger = Auger()
    for tick in range(6000):
        assert not auger.scan(tick * TICK_S, 0.0)


@given(FEEDS, st.integers(1, 300), st.integers(1, 6000))
@settings(max_examples=30)
def test_no_feed_opens_the_contact_at_once_and_nothing_is_made_up_for_afterwards(
    frac: float, ticks: int, rest: int
) -> None:
    auger = Auger()
    for tick in range(ticks):
        auger.scan(tick * TICK_S, frac)
    assert not auger.scan(ticks * TICK_S, 0.0)
    for tick in range(ticks + 1, ticks + rest):
        assert not auger.scan(tick * TICK_S, 0.0)
    assert auger.pulse.owed_s == 0.0
    fresh, again_s = Auger(), (ticks + rest) * TICK_S
    for tick in range(300):
        assert auger.scan(again_s + tick * TICK_S, frac) == fresh.scan(tick * TICK_S, frac)


@pytest.mark.parametrize("open_ticks", [300, 3000])
def test_a_contact_that_was_held_open_is_made_up_for_by_one_cycle_at_most(open_ticks: int) -> None:
    auger = Auger()
    for tick in range(open_ticks + 1000):
        auger.scan(tick * TICK_S, 0.3, may_close=tick >= open_ticks)
    assert sum(auger.closed[open_ticks:]) * TICK_S <= 0.3 * 100 + LIMITS.cycle_s


def test_a_contact_that_stays_closed_by_itself_is_not_asked_to_close_until_it_is_even() -> None:
    pulse, wanted = Pulse(), 0
    for tick in range(600):
        pulse = next_pulse(pulse, tick * TICK_S, 0.3, True, LIMITS)
        wanted += pulse.closed and tick > 100
    assert wanted == 0


CEILINGS = st.sampled_from([0.3, 0.5, 0.75, 0.9, 0.97, 1.0])


@settings(max_examples=40)
@given(CEILINGS, st.floats(0.05, 1.0), st.lists(st.tuples(st.integers(0, 400), st.integers(0, 40)), max_size=6))
def test_no_closure_and_no_minute_is_above_the_ceiling_whatever_is_owed(
    ceiling: float, share: float, late: list[tuple[int, int]]
) -> None:
    """Relays that fail to close and scans that come late leave feed owed; none of it is made up above the ceiling.

    A scan that is late while the contact is closed lengthens that closure; the watchdog relay is there for that.
    """
    limits = LIMITS._replace(most_on_s=ceiling * LIMITS.cycle_s)
    auger, now_s = Auger(limits), 0.0
    dead = {tick for begin, length in late for tick in range(begin, begin + 10 * length)}
    for tick in range(3000):
        now_s += TICK_S
        auger.scan(now_s, share * ceiling, may_close=tick not in dead)
    closures = [scans * TICK_S for closed, scans in runs_of(auger.closed) if closed]
    if ceiling < 1.0:
        assert max(closures, default=0.0) <= limits.most_on_s + 1e-6
    minute = 600
    total = [0, *accumulate(auger.closed)]
    assert max(total[i + minute] - total[i] for i in range(len(total) - minute)) <= ceiling * minute + 1


def test_the_ceiling_can_be_reached_and_what_is_owed_is_made_up_for_below_it() -> None:
    limits = LIMITS._replace(most_on_s=5.0)
    auger = Auger(limits)
    for tick in range(1200):
        auger.scan(tick * TICK_S, 0.4, may_close=tick >= 150)
    assert max(scans for closed, scans in runs_of(auger.closed) if closed) == 50
    assert auger.delivered_s() == pytest.approx(0.4 * 105 + 6.0, abs=4.1)  # and no more than a cycle of what was missed


@pytest.mark.parametrize("every", [2, 3, 7, 13, 40, 90])
def test_an_instrument_that_flutters_makes_no_train_of_short_closures(every: int) -> None:
    """An airflow switch that opens for one scan in `every`: one closure a cycle at most, and none made up for."""
    auger, held = Auger(), False
    for tick in range(6000):
        open_now = tick % every == 0
        auger.scan(tick * TICK_S, 0.4, may_close=not open_now, held=held)
        held = open_now
    closures = [scans for closed, scans in runs_of(auger.closed) if closed]
    assert len(closures) <= 6000 * TICK_S / LIMITS.cycle_s + 1
    assert closures or every == 2
    assert auger.delivered_s() <= 0.4 * 600


def test_after_a_pulse_that_was_cut_short_the_contact_rests_for_a_cycle() -> None:
    auger = Auger()
    for tick in range(20):
        assert auger.scan(tick * TICK_S, 0.4)
    auger.scan(20 * TICK_S, 0.4, may_close=False)
    rest = [auger.scan(tick * TICK_S, 0.4, held=tick == 21) for tick in range(21, 121)]
    assert not any(rest)
    after = [auger.scan(tick * TICK_S, 0.4) for tick in range(121, 221)]
    assert runs_of(after) == [(True, 28), (False, 72)]  # 4 s, less the 2.0 s - 0.4 · 2.0 s that the cut pulse had ahead
