"""How much to feed: what the line asks in heat, what that takes in fuel, and what the air can burn.

Feed-forward comes from the running heat balance: what the climb takes, the walls draw and the flue carries off, a
little ahead of time, because a pellet needs a minute to burn and the probe half a minute to see it. P closes the gap to
the line, D takes off what is on its way already, I is what the balance has learnt beyond its model, and what a gap that
lasts adds to it. Nothing winds up: what the kiln can't do is learnt as such.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from daemon.fire.bed import CHAR_SHARE, Bed
from daemon.fire.estimate import Estimate
from daemon.fire.heat_balance import HeatBalance
from daemon.fire.mixture import AIR_PER_KG, fuel_for_heat_kg_per_h, net_heat_kg_per_h

LEAD_S = 75.0
"""How far ahead the line is looked at: from the auger to the probe."""
CLOSE_S = 220.0
"""A gap to the line is closed in about this time."""
UNGAUGED = 1.25
"""Without a gauge nobody knows the air: the feed goes little beyond what the balance expects, or it would smoke. What
burns already may always be made up for: a fire that is fed less for being cooler goes out."""
REDUCING_SLACK = 0.02
"""In a reduction next to none: there more fuel cools, and heat comes from more of both."""
MOST_GAP_K = 15.0
"""A wider gap is closed no faster: what the ware takes has a limit."""
HOT_K = 1.0
"""What the chamber is hotter than the line beyond this counts twice: what is over-fired can't be taken back."""
LASTING_S, LASTING_K = 900.0, 2.0
"""A gap that lasts is made up for in about this time; a wider one is some upset, and counts as so much."""
RATIO_SLACK = 0.12
"""So much of the wanted air ratio the feed may use up before the air holds it back: a hard limit costs the line."""
TAKEN_UP_PER_S = 0.0005
"""After a stop the feed rises no faster: a bed of embers takes no more."""


LEAST_WANTED = 0.9
SMALL = 0.01


class FeedLimit(Enum):
    """Which limit acted on the feed."""

    NONE = "none"
    FLOOR = "feed floor"
    CEILING = "feed ceiling"
    AIR = "waits for the air"
    UNGAUGED = "no gauge tells the air"
    EMBERS = "waits for the embers"
    BLIND = "held: the chamber can't be read"
    FIXED = "the stage's own feed"


class Feed(NamedTuple):
    """The feed and its parts, as fractions of the auger's full time: `frac` = ff + p + i + d, within the limits."""

    frac: float = 0.0
    ff: float = 0.0
    p: float = 0.0
    i: float = 0.0
    d: float = 0.0
    clamp: FeedLimit = FeedLimit.NONE
    ratio: float | None = None
    """The air ratio wanted."""
    enough_frac: float | None = None
    """The air for the fuel fed or burning, of what is wanted; None where no gauge tells. Thick smoke is nobody's plan,
    so a reduction counts as wanting no less than `LEAST_WANTED`."""
    wanted_frac: float = 0.0
    """Before the air and the embers held it back."""
    most_frac: float | None = None
    """After a stop: what the embers take by now."""
    lasting_kg_per_h: float = 0.0
    """The heat that gaps which lasted have added."""
    asked_s: float | None = None
    """When the heat balance stepped that the parts are from; they are asked anew when it steps again."""


NO_FEED = Feed()


class FeedOrder(NamedTuple):
    """What is asked: the stage's own feed, or the line: where it is now, and `LEAD_S` and twice that ahead, °C."""

    fixed_frac: float | None
    aim_c: float
    ahead_c: float
    further_c: float
    ratio: float
    """The air ratio wanted."""
    least_air: float
    """The air can't be less than this, kg/h."""
    blind: bool = False
    """The chamber can't be read."""


class FeedRange(NamedTuple):
    """Between which fractions the feed may be, and the auger's rate, kg/h."""

    floor_frac: float
    ceiling_frac: float
    auger_kg_per_h: float


def next_feed(last: Feed, order: FeedOrder, hearth: Estimate, within: FeedRange, dt_s: float) -> Feed:
    """The feed `dt_s` (s) later. It stays as it is while the chamber can't be read, and never beyond the air."""
    if order.fixed_frac is not None:
        feed = Feed(min(order.fixed_frac, within.ceiling_frac), order.fixed_frac, clamp=FeedLimit.FIXED)
    elif order.blind or hearth.warmth is None:
        feed = last._replace(clamp=FeedLimit.BLIND, asked_s=None)
    elif last.asked_s == hearth.warmth.at_s:  # nothing new is known
        feed = within_range(last._replace(frac=last.ff + last.p + last.i + last.d, clamp=FeedLimit.NONE), within)
    else:
        feed = within_range(feed_by_terms(last.lasting_kg_per_h, hearth.warmth, hearth, order, within), within)
    wanted_frac, most = feed.frac, burnable_feed_frac(hearth, order.ratio, within)
    if not hearth.gauged and feed.clamp is not FeedLimit.FIXED:
        most = max(UNGAUGED * feed.ff, hearth.bed.burns_kg_per_h / within.auger_kg_per_h, within.floor_frac)
    if feed.frac > most:
        feed = feed._replace(frac=most, clamp=FeedLimit.AIR if hearth.gauged else FeedLimit.UNGAUGED)
    if last.most_frac is not None:
        feed = limit_by_embers(feed, wanted_frac, last.most_frac, dt_s)
    return feed._replace(
        lasting_kg_per_h=slow_integral_kg_per_h(last.lasting_kg_per_h, feed.clamp, order, hearth.warmth, dt_s),
        ratio=order.ratio,
        wanted_frac=wanted_frac,
        enough_frac=air_enough_frac(feed.frac, order.ratio, hearth, within),
    )


def slow_integral_kg_per_h(
    last: float, clamp: FeedLimit, order: FeedOrder, warmth: HeatBalance | None, dt_s: float
) -> float:
    """What a lasting gap has added, `dt_s` later; nothing winds up where a limit keeps the feed from closing it."""
    if clamp is FeedLimit.FIXED:
        return 0.0
    if clamp is FeedLimit.BLIND or warmth is None:
        return last
    gap_k = min(max(order.aim_c - warmth.chamber_c, -LASTING_K), LASTING_K)
    if clamp is FeedLimit.FLOOR:
        gap_k = max(gap_k, 0.0)
    elif clamp is not FeedLimit.NONE:
        gap_k = min(gap_k, 0.0)
    return last + gap_k * warmth.mass_now * 3600 / CLOSE_S * dt_s / LASTING_S


def air_enough_frac(frac: float, ratio: float, hearth: Estimate, within: FeedRange) -> float | None:
    """The air, of what the fuel that is fed or burns wants."""
    fuel = max(frac * within.auger_kg_per_h, hearth.bed.burns_kg_per_h)
    if not hearth.gauged or fuel <= 0:
        return None
    air = hearth.air_kg_per_h / max(hearth.factor, 1.0)  # what a probe says in favour of the air is no excuse
    return air / (AIR_PER_KG * fuel * max(ratio, LEAST_WANTED))


def feed_by_terms(
    lasting_kg_per_h: float, warmth: HeatBalance, hearth: Estimate, order: FeedOrder, within: FeedRange
) -> Feed:
    """The feed for the heat that the line asks, with its parts, before any limit."""
    bed, flue_c = hearth.bed, hearth.flue_c
    burning = net_heat_kg_per_h(bed.burns_kg_per_h, hearth.calm_kg_per_h, flue_c)
    rate = ((warmth.heat_kg_per_h + burning) / 2 - warmth.holds_kg_per_h) / 3600 / warmth.mass_now
    close = warmth.mass_now * 3600 / CLOSE_S  # kg/h for each K of gap
    climb = warmth.mass_now * 3600 * (order.further_c - order.ahead_c) / LEAD_S
    ff = climb + warmth.soak_kg_per_h * warmth.draws
    gap_k = min(max(order.aim_c - warmth.chamber_c, -MOST_GAP_K), MOST_GAP_K)
    p = close * (gap_k + min(gap_k + HOT_K, 0.0))
    i = warmth.load_kg_per_h + lasting_kg_per_h
    d = close * (order.ahead_c - order.aim_c - rate * LEAD_S)
    heat = ff + p + i + d
    burns = fuel_for_heat_kg_per_h(heat, flue_c, order.ratio, order.least_air)
    per = (fuel_for_heat_kg_per_h(heat + SMALL, flue_c, order.ratio, order.least_air) - burns) / SMALL
    extra = feed_for_burning_kg_per_h(burns, bed) - per * heat  # flue at rest, charcoal, char still to come or to go
    auger = within.auger_kg_per_h
    return Feed(feed_for_burning_kg_per_h(burns, bed) / auger, (per * ff + extra) / auger, per * p / auger, per * i / auger,
                per * d / auger, asked_s=warmth.at_s)  # fmt: skip


def feed_for_burning_kg_per_h(burns: float, bed: Bed) -> float:
    """The feed, kg/h, whose wood gas makes up for what char and charcoal don't burn of `burns`."""
    return (burns - bed.glow_kg_per_h - bed.coal_kg_per_h) / (1 - CHAR_SHARE)


def burnable_feed_frac(hearth: Estimate, ratio: float, within: FeedRange) -> float:
    """The feed that the air now measured can burn; without a gauge no limit, and never less than the floor."""
    if not hearth.gauged:
        return 1.0
    burns = hearth.air_kg_per_h / (AIR_PER_KG * least_ratio(ratio))
    return max(feed_for_burning_kg_per_h(burns, hearth.bed) / within.auger_kg_per_h, within.floor_frac)


def least_ratio(ratio: float) -> float:
    """The air ratio, where `ratio` is wanted, at which the feed begins to wait for the air."""
    return max(ratio - RATIO_SLACK, 1.0) if ratio >= 1.0 else ratio - REDUCING_SLACK


def within_range(feed: Feed, within: FeedRange) -> Feed:
    """Between floor and ceiling."""
    if feed.frac > within.ceiling_frac:
        return feed._replace(frac=within.ceiling_frac, clamp=FeedLimit.CEILING)
    if feed.frac < within.floor_frac:
        return feed._replace(frac=within.floor_frac, clamp=FeedLimit.FLOOR)
    return feed


def limit_by_embers(feed: Feed, wanted_frac: float, most: float, dt_s: float) -> Feed:
    """After a stop: slowly up from half, until what is wanted is reached; a gust that holds it back ends nothing."""
    most += TAKEN_UP_PER_S * dt_s
    if wanted_frac <= most:
        return feed._replace(most_frac=None)
    if feed.frac <= most:
        return feed._replace(most_frac=most)
    return feed._replace(frac=most, clamp=FeedLimit.EMBERS, most_frac=most)
