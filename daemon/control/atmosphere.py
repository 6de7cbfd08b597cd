"""The atmosphere: the air ratio that is wanted, and the draught that gives the fire so much air.

    ratio   = RATIO[oxidation] + UNSURE · (one standard deviation of the air) - leaner by
    fuel    = max(B, B + LEADS_FRAC · (fed - B), let · least ratio / ratio)        kg/h
    draught = 25 Pa · (fuel · AIR_PER_KG · ratio · (1 + aside) / (f · at_25_pa))^(1 / 0.54)

    B what burns; fed what the feed will burn at in a minute; let the same for the wanted feed where the feed waits for
    the air, else fed; f the air's factor (`fire/estimate.py`), aside the air trial's share (`fire/air_trial.py`)

`air.py` knows who is to move it.
"""

from __future__ import annotations

from daemon.control.air import Air, DraughtHold
from daemon.control.feed import Feed, FeedLimit, least_ratio
from daemon.fire.air_trial import wanted_aside_frac
from daemon.fire.bed import CHAR_SHARE
from daemon.fire.estimate import Estimate
from daemon.fire.mixture import AIR_PER_KG, air_kg_per_h, draught_for_air_pa
from daemon.plans.plan import RATIO, Atmosphere, Stage, StageKind
from daemon.settings import AirTable, LimitsTable, Settings
from daemon.setup import Setup
from hardware.port import Blind, Draught, NotFitted, Readings, Temperature

UNSURE = 0.9
"""How much the wanted air ratio rises with the standard deviation of the air: the less it is known, the more air. Found
on the bench: `python -m tests.bench.control`."""
LEADS_FRAC = 0.3
"""The share of the fuel fed beyond what burns that gets its air at once. It burns only in a minute; until then its air
cools the kiln, most of all after a fall, when much is fed. Found on the bench. By hand all of it gets its air: nobody
walks twice."""
REDUCING_LEAD = 1.08
"""In a reduction the air is at most this many times the air for what burns: more of it would be no reduction. Found on
the bench: `python -m tests.bench.control --reduce 6`."""
HARDLY_OXIDISING = 1.1
"""An air ratio below it counts as a reduction under way: between neutral and oxidation in `RATIO`."""
REDUCING_ON_K = 10.0
"""A reduction begins when the chamber is this near its setpoint. One that goes on ends only this far below
`reduction_from_c`: noise at the limit must not switch it to and fro (memory)."""
UNPROVEN_KG = 0.02
"""Fed since the last sign of fire: from then on the air goes no lower. A twelfth of what trips."""
LEAST_AIR, LEAST_BY_SERVO = 3.0, 5.0
"""Of the least draught that counts as airflow: a gust may take some, and one step of a servo near shut halves it."""
MOST_PA = 150.0
"""No more draught than this is asked for: more than the small fans of such kilns make (memory)."""
TRIED_FROM_C, TRIED_K, SPARE_FRAC, SURE = 500.0, 4.0, 0.95, 0.05
"""When the air may be tried out: above TRIED_FROM_C, within TRIED_K of the setpoint, with fan or servo below
SPARE_FRAC, until the standard deviation of the air is down to SURE. A kiln with less air than believed smokes most in
the half of a period with less air. Found on the bench."""


def wanted_draught(
    stage: Stage, estimate: Estimate, feed: Feed, air: Air, unproven_kg: float, setup: Setup
) -> tuple[float, DraughtHold]:
    """The draught a stage wants, Pa: its own where that is fixed, else the draught for what burns and will burn soon.

    `air` is where the air stands; `unproven_kg` was fed since the last sign of fire.
    """
    if not stage.trim and stage.draught_pa is not None:
        return stage.draught_pa, DraughtHold.EXACT
    ratio = feed.wanted_air_ratio if feed.wanted_air_ratio is not None else RATIO[Atmosphere.OXIDATION]
    auger = setup.settings.kiln.auger_kg_per_h
    burns, fed = estimate.bed.burns_kg_per_h, burning_of_feed_kg_per_h(feed.frac, estimate, auger)
    wants = burning_of_feed_kg_per_h(feed.wanted_frac, estimate, auger)
    if ratio < 1.0:  # without any lead the heat of a reduction could not grow
        fuel = min(max(burns, wants), REDUCING_LEAD * burns)
    else:
        leads = 1.0 if setup.settings.air.by == "hand" else LEADS_FRAC
        let = wants if feed.limited_by is FeedLimit.AIR else fed  # so far ahead that the feed needn't wait
        fuel = max(burns, burns + leads * (fed - burns), let * least_ratio(ratio) / ratio)
    aside_frac = wanted_aside_frac(estimate.trial, estimate.at_s)
    pa = draught_for_pa(fuel, ratio * (1 + aside_frac), estimate, setup)
    if unproven_kg > UNPROVEN_KG and air.setpoint_pa is not None:
        pa = max(pa, air.setpoint_pa)  # less air would slow the fall that shows a dead fire
    return pa, DraughtHold.FOR_FUEL if stage.atmosphere is Atmosphere.OXIDATION else DraughtHold.CLOSE


def burning_of_feed_kg_per_h(feed_frac: float, estimate: Estimate, auger_kg_per_h: float) -> float:
    """What a feed would burn at in a minute, with what glows now, kg/h."""
    bed = estimate.bed
    return feed_frac * auger_kg_per_h * (1 - CHAR_SHARE) + bed.char_kg_per_h + bed.charcoal_kg_per_h


def draught_for_pa(fuel_kg_per_h: float, ratio: float, estimate: Estimate, setup: Setup) -> float:
    """The draught, Pa, at which so much fuel has its air."""
    air = fuel_kg_per_h * AIR_PER_KG * ratio / estimate.air_factor
    pa = draught_for_air_pa(air, setup.calibration.air_at_25_pa)
    return min(max(pa, least_held_pa(setup.settings)), MOST_PA)


def least_held_pa(settings: Settings) -> float:
    """The least draught that is held, Pa."""
    return settings.limits.draught_least_pa * (LEAST_BY_SERVO if settings.air.by == "damper" else LEAST_AIR)


def wanted_air_ratio(
    stage: Stage | None, readings: Readings, estimate: Estimate, feed: Feed, setpoint_c: float | None,
    limits: LimitsTable,
) -> float:  # fmt: skip
    """The air ratio wanted: more where the air is less sure, a little less where the kiln is short of power.

    What the fuel lacks in a reduction burns only in a hot chamber, and every reduction has an end. `feed` and
    `setpoint_c` are those of the beat before.
    """
    atmosphere = stage.atmosphere if stage is not None else Atmosphere.OXIDATION
    if atmosphere is not Atmosphere.OXIDATION and not may_reduce(readings, estimate, feed, setpoint_c, limits):
        atmosphere = Atmosphere.OXIDATION
    if atmosphere is Atmosphere.OXIDATION:
        return RATIO[atmosphere] + UNSURE * estimate.air_std_frac - estimate.leaner_by
    return RATIO[atmosphere]


def may_reduce(
    readings: Readings, estimate: Estimate, feed: Feed, setpoint_c: float | None, limits: LimitsTable
) -> bool:
    """Hot enough for unburnt gas to burn in the chamber, not longer than one firing may, and not where the kiln loses.

    A reduction in which the kiln falls behind stops until oxidation has brought the kiln back: more fuel would cool it.
    """
    chamber = readings.probes["chamber"]
    if not isinstance(chamber, Temperature) or gauge_pa(readings.draught) is None:
        return False
    going_on = feed.wanted_air_ratio is not None and feed.wanted_air_ratio < HARDLY_OXIDISING
    from_c = limits.reduction_from_c - (REDUCING_ON_K if going_on else 0.0)
    behind_k = setpoint_c - chamber.value_c if setpoint_c is not None else 0.0
    if behind_k > (limits.wait_gap_k if going_on else REDUCING_ON_K):
        return False
    return chamber.value_c >= from_c and estimate.reduced_s < limits.reduction_most_min * 60


def least_air_kg_per_h(estimate: Estimate, air: Air, setup: Setup) -> float:
    """The least air there can be, kg/h: the present air where fan or servo can't, or only a person could, lower it."""
    if is_at_least(air, setup.settings.air):
        return estimate.air_kg_per_h
    least_pa = least_held_pa(setup.settings)
    return estimate.air_factor * air_kg_per_h(least_pa, setup.calibration.air_at_25_pa)


def is_at_least(air: Air, table: AirTable) -> bool:
    """Whether fan or servo stand at their least, or only a person could move the air."""
    return (
        table.by == "hand"
        or (table.by == "fan" and air.fan_frac <= table.fan_lowest_frac + 0.01)
        or (table.by == "damper" and air.damper_frac <= table.damper_lowest_frac + 0.01)
    )


def may_try(
    stage: Stage | None, setpoint_c: float | None, waits: bool, readings: Readings, estimate: Estimate, feed: Feed,
    air: Air, table: AirTable,
) -> bool:  # fmt: skip
    """Whether the air may be tried: on a calm climb in oxidation, where nothing else tells the air.

    Not in a soak: the trial moves the chamber, and a look through the door or a bridge needs the whole band. `feed` and
    `air` are those of the beat before.
    """
    balance = estimate.balance
    if stage is None or balance is None or setpoint_c is None or waits or estimate.air_std_frac <= SURE:
        return False
    climbs = stage.kind is StageKind.CLIMB and balance.chamber_c >= TRIED_FROM_C
    calm = feed.limited_by is FeedLimit.NONE and abs(setpoint_c - balance.chamber_c) < TRIED_K
    untold = isinstance(readings.oxygen, NotFitted) and is_oxidation(stage)
    return climbs and calm and untold and can_follow(readings, air, table)


def is_oxidation(stage: Stage | None) -> bool:
    """Whether the daemon sets the air of this stage, in oxidation."""
    return stage is not None and stage.trim and stage.atmosphere is Atmosphere.OXIDATION


def can_follow(readings: Readings, air: Air, table: AirTable) -> bool:
    """Whether fan or servo can do a little less air and a little more; nobody is asked to for this."""
    drive_frac = air.damper_frac if table.by == "damper" else air.fan_frac
    return not is_at_least(air, table) and drive_frac < SPARE_FRAC and gauge_pa(readings.draught) is not None


def is_tube_warm(readings: Readings, fan_frac: float, limits: LimitsTable) -> bool:
    """Whether the fan has to cool the feed tube: heat travels back along it. Once on, it stays on for 10 K more."""
    tube, limit_c = readings.feed_tube, limits.feed_tube_warn_c
    if fan_frac > 0.0:
        limit_c -= 10.0
    return isinstance(tube, Temperature) and tube.value_c >= limit_c


def gauge_pa(draught: Draught | Blind | NotFitted) -> float | None:
    """The draught, Pa, or None where there is none to go by."""
    return draught.value_pa if isinstance(draught, Draught) else None
