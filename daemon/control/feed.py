"""The feed: what the setpoint asks in heat, what that takes in fuel, and what the air can burn.

    heat  = ff + p + i + d                                            kg/h of pellets by heat, net (stays in the kiln)
    ff    = m · (s2 - s1) / LEAD_S + walls                            what the climb takes and the walls draw, ahead
    p     = k · (gap + min(gap + HOT_K, 0)),   k = m / CLOSE_S        gap = setpoint - chamber, clipped to MOST_GAP_K
    i     = load + slow integral                                      learnt by the heat balance, and by gaps that last
    d     = k · (s1 - setpoint - rate · LEAD_S)                       what is on its way already
    burns = fuel_for_heat(heat, flue, ratio, least air)               `fire/mixture.py`
    feed  = (burns - char - charcoal) / (1 - CHAR_SHARE)              what wood gas has to make up for

    m, walls, load, chamber: the heat balance (`fire/heat_balance.py`); s1, s2: the setpoint LEAD_S and twice that
    ahead; rate: dc/dt by the mean of the heat that the probe has seen and the heat that burns now

The parts are recorded as fractions of the auger's full time, each by its share of `burns`. What does not depend on the
heat (the flue at zero heat, the char) counts as feed-forward. Then come the limits: floor and ceiling, the air that the
gauge shows, and after a stop what the embers take. The slow integral stands still against a limit, so nothing winds up:
what the kiln can't do is learnt as load.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from daemon.fire.bed import CHAR_SHARE, Bed
from daemon.fire.estimate import Estimate
from daemon.fire.heat_balance import HeatBalance
from daemon.fire.mixture import AIR_PER_KG, fuel_for_heat_kg_per_h, net_heat_kg_per_h
from daemon.settings import FeedRange

LEAD_S = 75.0
"""How far ahead the setpoint is looked at: from the auger to the probe, by the lags of bed and probe."""
CLOSE_S = 220.0
"""A gap to the setpoint is closed in about this time. Found on the bench: `python -m tests.bench.control`."""
UNGAUGED = 1.25
"""Without a gauge nobody knows the air. Then the feed is at most this many times the feed-forward, so that it does not
smoke. What burns already may always be fed: a fire that gets less because it is cooler goes out. Found on the fault
bench: `python -m tests.bench.faults --healthy`."""
REDUCING_SLACK = 0.02
"""The slack in a reduction (`RATIO_SLACK` is the other). Small: more fuel alone cools the kiln there. Found on the
bench."""
MOST_GAP_K = 15.0
"""A wider gap is closed no faster: what the ware takes has a limit (memory)."""
HOT_K = 1.0
"""What the chamber is beyond this above the setpoint counts twice: over-firing can't be taken back. Found on the bench,
with `CLOSE_S`."""
LASTING_S, LASTING_K = 900.0, 2.0
"""The slow integral closes a gap that lasts in about this time; a wider one is some upset, and counts as so
much. Found on the bench."""
RATIO_SLACK = 0.12
"""How far the air ratio may fall below the wanted one before the feed waits for the air. A hard limit costs tracking.
Found on the bench."""
TAKEN_UP_PER_S = 0.0005
"""After a stop the feed rises no faster: a bed of embers takes no more (memory)."""
ASKED_FRAC, ASKED_LEAST_FRAC = 0.1, 0.15
"""When the fire is asked whether it burns, the feed is so much more, and at least so much: it warms a burning kiln by a
kelvin within a minute or two, and is over then. The count of unproven pellets goes on (chosen)."""
LEAST_WANTED = 0.9
"""Where the air is judged, a reduction counts as wanting at least this ratio, so that thick smoke is still found."""
SMALL = 0.01
"""The step, kg/h, over which the slope of fuel over heat is taken."""


class FeedLimit(Enum):
    """Which limit acted on the feed."""

    NONE = "none"
    FLOOR = "feed floor"
    CEILING = "feed ceiling"
    AIR = "waits for the air"
    UNGAUGED = "no gauge tells the air"
    EMBERS = "waits for the embers"
    JAM = "held: the auger does not turn"
    BLIND = "held: the chamber can't be read"
    FIXED = "the stage's own feed"
    ASKS = "asks the fire: does the kiln get warmer?"


class Feed(NamedTuple):
    """The feed and its parts, as fractions of the auger's full time: `frac` = ff + p + i + d, within the limits."""

    frac: float = 0.0
    ff_frac: float = 0.0
    p_frac: float = 0.0
    i_frac: float = 0.0
    d_frac: float = 0.0
    limited_by: FeedLimit = FeedLimit.NONE
    wanted_air_ratio: float | None = None
    air_enough_frac: float | None = None
    """The air for the fuel fed or burning, of what is wanted; None where no gauge tells."""
    wanted_frac: float = 0.0
    """The feed before air or embers limited it."""
    embers_frac: float | None = None
    """After a stop: what the embers take by now."""
    slow_integral_kg_per_h: float = 0.0
    """The heat that gaps which lasted have added."""
    balance_s: float | None = None
    """When the heat balance stepped that the parts are from; they are reckoned anew when it steps again."""


NO_FEED = Feed()


class FeedOrder(NamedTuple):
    """What is asked: the stage's own feed, or the setpoint: now, and `LEAD_S` and twice that ahead, °C."""

    fixed_frac: float | None
    setpoint_c: float
    ahead_c: float
    further_c: float
    wanted_air_ratio: float
    least_air_kg_per_h: float
    """The air can't be less than this."""
    blind: bool = False
    """The chamber can't be read."""
    asks_fire: bool = False
    """Nothing shows that what is fed burns: a little more of it must show."""


def next_feed(last: Feed, order: FeedOrder, estimate: Estimate, within: FeedRange, dt_s: float) -> Feed:
    """The feed `dt_s` (s) later. It stays as it is while the chamber can't be read, and never beyond the air."""
    balance = estimate.balance
    if order.fixed_frac is not None:
        held_frac = min(order.fixed_frac, within.ceiling_frac)
        feed = Feed(held_frac, ff_frac=order.fixed_frac, limited_by=FeedLimit.FIXED)
    elif order.blind or balance is None:
        feed = last._replace(limited_by=FeedLimit.BLIND, balance_s=None)
    elif last.balance_s == balance.at_s:  # nothing new is known
        parts_frac = last.ff_frac + last.p_frac + last.i_frac + last.d_frac
        feed = limit_range(last._replace(frac=parts_frac, limited_by=FeedLimit.NONE), within)
    else:
        feed = limit_range(feed_by_terms(last.slow_integral_kg_per_h, balance, estimate, order, within), within)
    if order.asks_fire:
        asked_frac = min(max(feed.frac + ASKED_FRAC, ASKED_LEAST_FRAC), within.ceiling_frac)
        feed = feed._replace(frac=asked_frac, limited_by=FeedLimit.ASKS)
    wanted_frac, most_frac = feed.frac, burnable_feed_frac(estimate, order.wanted_air_ratio, within)
    if not estimate.gauged and feed.limited_by is not FeedLimit.FIXED:
        burns_frac = estimate.bed.burns_kg_per_h / within.auger_kg_per_h
        most_frac = max(UNGAUGED * feed.ff_frac, burns_frac, within.floor_frac)
    if feed.frac > most_frac:
        limited_by = FeedLimit.AIR if estimate.gauged else FeedLimit.UNGAUGED
        feed = feed._replace(frac=most_frac, limited_by=limited_by)
    if last.embers_frac is not None:
        feed = limit_by_embers(feed, wanted_frac, last.embers_frac, dt_s)
    return feed._replace(
        slow_integral_kg_per_h=slow_integral_kg_per_h(
            last.slow_integral_kg_per_h, feed.limited_by, order, balance, dt_s
        ),
        wanted_air_ratio=order.wanted_air_ratio,
        wanted_frac=wanted_frac,
        air_enough_frac=air_enough_frac(feed.frac, order.wanted_air_ratio, estimate, within),
    )


def slow_integral_kg_per_h(
    last: float, limited_by: FeedLimit, order: FeedOrder, balance: HeatBalance | None, dt_s: float
) -> float:
    """The slow integral `dt_s` later; it stands still where a limit keeps the feed from closing the gap."""
    if limited_by is FeedLimit.FIXED:
        return 0.0
    if limited_by in (FeedLimit.BLIND, FeedLimit.ASKS) or balance is None:
        return last
    gap_k = min(max(order.setpoint_c - balance.chamber_c, -LASTING_K), LASTING_K)
    if limited_by is FeedLimit.FLOOR:
        gap_k = max(gap_k, 0.0)
    elif limited_by is not FeedLimit.NONE:
        gap_k = min(gap_k, 0.0)
    return last + gap_k * balance.mass_kg_per_k * 3600 / CLOSE_S * dt_s / LASTING_S


def air_enough_frac(feed_frac: float, ratio: float, estimate: Estimate, within: FeedRange) -> float | None:
    """The air, of what the fuel that is fed or burns wants; None where no gauge tells."""
    fuel = max(feed_frac * within.auger_kg_per_h, estimate.bed.burns_kg_per_h)
    if not estimate.gauged or fuel <= 0:
        return None
    air = estimate.air_kg_per_h / max(estimate.air_factor, 1.0)  # a learnt factor above 1 must not hide too little air
    return air / (AIR_PER_KG * fuel * max(ratio, LEAST_WANTED))


def feed_by_terms(
    slow_integral: float, balance: HeatBalance, estimate: Estimate, order: FeedOrder, within: FeedRange
) -> Feed:
    """The feed for the heat that the setpoint asks, with its parts, before any limit: the equations at the top."""
    bed, flue_c, ratio, least_air = estimate.bed, estimate.flue_c, order.wanted_air_ratio, order.least_air_kg_per_h
    burning = net_heat_kg_per_h(bed.burns_kg_per_h, estimate.untried_air_kg_per_h, flue_c)
    mass = balance.mass_kg_per_k
    rate = ((balance.lagged_heat_kg_per_h + burning) / 2 - balance.holding_kg_per_h) / 3600 / mass
    k = mass * 3600 / CLOSE_S  # kg/h for each K of gap
    climb = mass * 3600 * (order.further_c - order.ahead_c) / LEAD_S
    ff = climb + balance.walls_kg_per_h
    gap_k = min(max(order.setpoint_c - balance.chamber_c, -MOST_GAP_K), MOST_GAP_K)
    p = k * (gap_k + min(gap_k + HOT_K, 0.0))
    i = balance.load_kg_per_h + slow_integral
    d = k * (order.ahead_c - order.setpoint_c - rate * LEAD_S)
    heat = ff + p + i + d
    burns = fuel_for_heat_kg_per_h(heat, flue_c, ratio, least_air)
    per_heat = (fuel_for_heat_kg_per_h(heat + SMALL, flue_c, ratio, least_air) - burns) / SMALL
    fed, auger = feed_for_burning_kg_per_h(burns, bed), within.auger_kg_per_h
    at_rest = fed - per_heat * heat  # what does not depend on the heat: flue at zero heat, charcoal, char
    return Feed(
        frac=fed / auger,
        ff_frac=(per_heat * ff + at_rest) / auger,
        p_frac=per_heat * p / auger,
        i_frac=per_heat * i / auger,
        d_frac=per_heat * d / auger,
        balance_s=balance.at_s,
    )


def feed_for_burning_kg_per_h(burns: float, bed: Bed) -> float:
    """The feed, kg/h, whose wood gas makes up for what char and charcoal don't burn of `burns`."""
    return (burns - bed.char_kg_per_h - bed.charcoal_kg_per_h) / (1 - CHAR_SHARE)


def burnable_feed_frac(estimate: Estimate, ratio: float, within: FeedRange) -> float:
    """The feed that the air now measured can burn; without a gauge no limit, and never less than the floor."""
    if not estimate.gauged:
        return 1.0
    burns = estimate.air_kg_per_h / (AIR_PER_KG * least_ratio(ratio))
    return max(feed_for_burning_kg_per_h(burns, estimate.bed) / within.auger_kg_per_h, within.floor_frac)


def least_ratio(ratio: float) -> float:
    """The air ratio, where `ratio` is wanted, at which the feed begins to wait for the air."""
    return max(ratio - RATIO_SLACK, 1.0) if ratio >= 1.0 else ratio - REDUCING_SLACK


def limit_range(feed: Feed, within: FeedRange) -> Feed:
    """Between floor and ceiling."""
    if feed.frac > within.ceiling_frac:
        return feed._replace(frac=within.ceiling_frac, limited_by=FeedLimit.CEILING)
    if feed.frac < within.floor_frac:
        return feed._replace(frac=within.floor_frac, limited_by=FeedLimit.FLOOR)
    return feed


def limit_by_embers(feed: Feed, wanted_frac: float, embers_frac: float, dt_s: float) -> Feed:
    """After a stop the feed rises slowly from half to what is wanted. A limit by the air does not end this."""
    embers_frac += TAKEN_UP_PER_S * dt_s
    if wanted_frac <= embers_frac:
        return feed._replace(embers_frac=None)
    if feed.frac <= embers_frac:
        return feed._replace(embers_frac=embers_frac)
    return feed._replace(frac=embers_frac, limited_by=FeedLimit.EMBERS, embers_frac=embers_frac)
