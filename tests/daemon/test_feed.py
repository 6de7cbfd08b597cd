"""How much is fed: gently from stage to stage, never beyond the bounds, held when the kiln can't be read."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.decide import fed
from daemon.feed import NO_FEED, Feed, FeedOrder, next_feed
from daemon.pid import Clamp, Trim
from daemon.settings import Settings
from tests.daemon.house import cold_kiln

GAINS, RANGE = Settings().gains, Settings().feed_range
SLEW, CEILING, FLOOR = RANGE.slew_per_s, RANGE.ceiling_frac, RANGE.floor_frac
FRACS = st.floats(0, 0.9)


def step(last: Feed, order: FeedOrder, dt_s: float = 1.0) -> Feed:
    """The feed a second later, with the default settings."""
    return next_feed(last, order, dt_s, GAINS, RANGE)


STRETCHES = st.lists(
    st.tuples(FRACS, st.booleans(), st.booleans(), st.booleans(), st.integers(1, 60)), min_size=1, max_size=12
)
"""Base, whether it trims, whether the reading is stale, whether there is air, and for how many seconds."""


@settings(max_examples=80)
@given(FRACS, STRETCHES, st.floats(-15, 15), st.floats(-0.04, 0.04))
def test_the_feed_moves_without_a_bump_whatever_changes(
    first: float, stretches: list[tuple[float, bool, bool, bool, int]], off_k: float, slope_k_per_s: float
) -> None:
    """The reading moves slowly (off_k ± a slope up to 144 K/h); stage, trim, stale readings and air change at will."""
    feed, hot_c = step(NO_FEED, FeedOrder(first, None, 600.0, True, True)), 600.0 + off_k
    assert feed.frac == pytest.approx(first)
    # base and a fading trim at their pace; P and D as the reading moves; I of the largest error
    fastest = 2 * SLEW + GAINS.gain_frac_per_k * (abs(slope_k_per_s) * (1 + GAINS.rate_s / GAINS.rate_filter_s))
    reach_k = abs(off_k) + abs(slope_k_per_s) * 60 * len(stretches)
    fastest += GAINS.gain_frac_per_k * reach_k / GAINS.reset_s
    for base, trims, stale, air, seconds in stretches:
        for _ in range(seconds):
            hot_c += 0.0 if stale else slope_k_per_s
            order = FeedOrder(base, 600.0 if trims else None, None if stale else hot_c, air, False)
            after = step(feed, order)
            assert abs(after.frac - feed.frac) <= fastest + 1e-9
            feed = after


@settings(max_examples=80)
@given(STRETCHES, st.floats(20, 1300), st.floats(20, 1300))
def test_the_feed_never_leaves_its_bounds(
    stretches: list[tuple[float, bool, bool, bool, int]], aim_c: float, value_c: float
) -> None:
    feed = NO_FEED
    for place, (base, trims, stale, air, seconds) in enumerate(stretches):
        for second in range(min(seconds, 20)):
            order = FeedOrder(
                base, aim_c if trims else None, None if stale else value_c, air, place == 0 and second == 0
            )
            feed = step(feed, order)
            assert min(feed.base, FLOOR) - 1e-12 <= feed.frac <= CEILING + 1e-12
            assert abs(feed.frac - feed.base) <= GAINS.bound_frac + 1e-12


def test_the_first_feed_of_a_fire_starts_at_the_base_at_once() -> None:
    assert step(NO_FEED, FeedOrder(0.1, None, 80.0, False, True)).frac == pytest.approx(0.1)


def test_a_stale_reading_freezes_the_feed_as_it_was() -> None:
    feed = Feed(0.35, 0.3, Trim(0.03, 0.02, 0.0, 600.0, 0.0))
    for _ in range(100):
        after = step(feed, FeedOrder(0.8, 650.0, None, True, False))
        assert (after.frac, after.base, after.clamp) == (0.35, 0.3, Clamp.STALE)
        feed = after
    again = step(feed, FeedOrder(0.3, 650.0, 600.0, True, False))
    assert again.frac == pytest.approx(0.35)


def test_a_rising_base_waits_for_the_air_and_a_falling_one_does_not() -> None:
    """More air before more fuel, less fuel before less air: metered combustion practice, from memory."""
    feed = Feed(0.3, 0.3)
    waits = step(feed, FeedOrder(0.4, None, 600.0, False, False))
    assert (waits.base, waits.clamp) == (0.3, Clamp.AIR)
    assert step(feed, FeedOrder(0.4, None, 600.0, True, False)).base == pytest.approx(0.3 + SLEW)
    assert step(feed, FeedOrder(0.2, None, 600.0, False, False)).base == pytest.approx(0.3 - SLEW)


@pytest.mark.parametrize(
    ("base", "value_c", "clamp", "frac"),
    [
        (0.3, 400.0, Clamp.TRIM_BOUND, 0.42),
        (0.3, 800.0, Clamp.TRIM_BOUND, 0.18),
        (0.85, 400.0, Clamp.FEED_CEILING, 0.9),
        (0.05, 800.0, Clamp.FEED_FLOOR, FLOOR),
    ],
)
def test_the_row_says_which_limit_acted(base: float, value_c: float, clamp: Clamp, frac: float) -> None:
    feed = step(Feed(base, base), FeedOrder(base, 600.0, 600.0, True, False))
    feed = step(feed, FeedOrder(base, 600.0, value_c, True, False), 1.0)
    assert feed.clamp is clamp
    assert feed.frac == pytest.approx(frac)


def test_what_is_left_of_the_trim_fades_at_the_bases_pace_in_a_stage_that_does_not_trim() -> None:
    feed = Feed(0.33, 0.3, Trim(0.01, 0.02, 0.0, 600.0, 0.0))
    for second in range(1, 100):
        feed = step(feed, FeedOrder(0.3, None, 600.0, True, False))
        assert feed.frac == pytest.approx(max(0.3, 0.33 - second * SLEW), abs=1e-9)


def test_nothing_is_fed_outside_the_feeding_states() -> None:
    kiln = cold_kiln()
    assert fed(kiln.memory.course, kiln.rig.image, 1.0, kiln.memory) == NO_FEED
