"""The air that state and stage want: how much for the fuel that burns, and when it may be little, or be tried.

`air.py` knows who is to move it.
"""

from __future__ import annotations

from daemon.control.air import AirOrder, AirTask, Hold
from daemon.control.feed import Feed, FeedLimit, least_ratio
from daemon.course.state import Course, State, chamber_c
from daemon.fire.air_trial import wanted_aside_frac
from daemon.fire.bed import CHAR_SHARE
from daemon.fire.estimate import Estimate
from daemon.fire.mixture import AIR_PER_KG, air_kg_per_h, draught_for_air_pa
from daemon.memory import Memory
from daemon.plans.plan import RATIO, Atmosphere, Stage
from daemon.settings import Settings
from hardware.port import Blind, Draught, NotFitted, Readings, Temperature

UNSURE = 0.9
"""More air ratio for each part of doubt about the air: without knowledge it errs towards more air."""
LEADS_FRAC = 0.3
"""Of what is fed beyond what burns so much has its air at once: it burns only in a minute, and till then its air cools
the kiln, most of all after a fall, when much is fed. Found on the bench's kilns. By hand all of it has: nobody walks
twice."""
CLEAN_RATIO, EMBERS_KG_PER_H = 1.3, 0.5
REDUCING_LEAD = 1.08
HARDLY_OXIDISING = 1.1
REDUCING_ON_K = 10.0  # noise at the limit is no reason to turn back and forth; so near the line a reduction begins
UNPROVEN_KG = 0.02
"""Fed since the last sign of fire: from then on the air goes no lower."""
LEAST_AIR, LEAST_BY_SERVO = 3.0, 5.0
"""Of the least draught that counts as airflow: a gust may take some, and one step of a servo near shut halves it."""
MOST_PA = 150.0
TRIED_FROM_C, TRIED_K, SPARE_FRAC, SURE = 500.0, 4.0, 0.95, 0.05
"""The air is tried from here on, so near the line, while fan or servo have something to spare, until it is so sure: the
lower half of a period is where a kiln with less air than believed smokes most."""


def air_order(course: Course, readings: Readings, hearth: Estimate, feed: Feed, memory: Memory) -> AirOrder:
    """What the state asks of the air."""
    aim_pa, hold = memory.air.aim_pa or 0.0, Hold.EXACT
    match course.state:
        case State.PURGE:
            task = AirTask.PURGE
        case State.FIRE_PROVING:
            task = AirTask.LOWEST
        case State.LOCKED_OUT:
            cools = not course.lit and is_tube_warm(readings, memory)
            task = AirTask.COOL_TUBE if cools else AirTask.KEEP  # `permit` narrows it by the cause
        case State.COOLING:
            task = AirTask.COOL_TUBE if is_tube_warm(readings, memory) else AirTask.SHUT
        case State.WARM_UP | State.CLIMBING | State.SOAKING:
            task = AirTask.HOLD
        case State.BURN_DOWN:  # what still burns has its air: a reduction ends clean
            burns = hearth.bed.burns_kg_per_h
            task = AirTask.HOLD if aim_pa or burns > EMBERS_KG_PER_H else AirTask.LOWEST
            if memory.settings.air.by == "hand":  # what was asked for may never have come
                aim_pa = gauge_pa(readings.draught) or aim_pa
            aim_pa, hold = max(aim_pa, draught_for(burns, CLEAN_RATIO, hearth, memory)), Hold.FOR_FUEL
        case State.COLD | State.MADE_READY | State.LIT_BY_HAND | State.FINISHED:
            task = AirTask.STILL
    if course.stage is not None and task is AirTask.HOLD:
        aim_pa, hold = wanted_draught(memory.plan.stages[course.stage], hearth, feed, memory)
    gauged = not isinstance(readings.draught, NotFitted)
    return AirOrder(task, aim_pa, gauge_pa(readings.draught), memory.plan.draught, hold, gauged)


def wanted_draught(stage: Stage, hearth: Estimate, feed: Feed, memory: Memory) -> tuple[float, Hold]:
    """The draught a stage wants, Pa: its own where it is held as it stands, else for what burns and is about to."""
    if not stage.trim and stage.draught_pa is not None:
        return stage.draught_pa, Hold.EXACT
    ratio = feed.ratio if feed.ratio is not None else RATIO[Atmosphere.OXIDATION]
    burns, fed = hearth.bed.burns_kg_per_h, burning_of_feed_kg_per_h(feed.frac, hearth, memory)
    wants = burning_of_feed_kg_per_h(feed.wanted_frac, hearth, memory)
    if ratio < 1.0:  # air far ahead of the fuel would be no reduction, and without any the heat could not grow
        fuel = min(max(burns, wants), REDUCING_LEAD * burns)
    else:
        leads = 1.0 if memory.settings.air.by == "hand" else LEADS_FRAC
        let = wants if feed.clamp is FeedLimit.AIR else fed  # so far ahead that the feed needn't wait
        fuel = max(burns, burns + leads * (fed - burns), let * least_ratio(ratio) / ratio)
    pa = draught_for(fuel, ratio * (1 + wanted_aside_frac(hearth.dither, hearth.at_s)), hearth, memory)
    if memory.unproven_kg > UNPROVEN_KG and memory.air.aim_pa is not None:
        pa = max(pa, memory.air.aim_pa)  # less air would slow the fall that shows a dead fire
    return pa, Hold.FOR_FUEL if stage.atmosphere is Atmosphere.OXIDATION else Hold.CLOSE


def burning_of_feed_kg_per_h(feed_frac: float, hearth: Estimate, memory: Memory) -> float:
    """What a feed would burn at in a minute, with what glows now, kg/h."""
    bed = hearth.bed
    return feed_frac * memory.settings.kiln.auger_kg_per_h * (1 - CHAR_SHARE) + bed.glow_kg_per_h + bed.coal_kg_per_h


def draught_for(fuel: float, ratio: float, hearth: Estimate, memory: Memory) -> float:
    """The draught, Pa, at which so much fuel (kg/h) has its air."""
    settings = memory.settings
    air = fuel * AIR_PER_KG * ratio / hearth.factor
    pa = draught_for_air_pa(air, settings.means(memory.plan).air_at_25_pa)
    return min(max(pa, least_held_pa(settings)), MOST_PA)


def least_held_pa(settings: Settings) -> float:
    """The least draught that is held, Pa."""
    return settings.limits.draught_least_pa * (LEAST_BY_SERVO if settings.air.by == "damper" else LEAST_AIR)


def wanted_ratio(course: Course, readings: Readings, hearth: Estimate, memory: Memory) -> float:
    """The air ratio wanted: more where the air is less sure, a little less where the kiln is short of power.

    What the fuel lacks in a reduction burns only in a hot chamber, and every reduction has an end.
    """
    stage = memory.plan.stages[course.stage] if course.stage is not None else None
    atmosphere = stage.atmosphere if stage is not None else Atmosphere.OXIDATION
    if atmosphere is not Atmosphere.OXIDATION and not may_reduce(readings, hearth, memory):
        atmosphere = Atmosphere.OXIDATION
    if atmosphere is Atmosphere.OXIDATION:
        return RATIO[atmosphere] + UNSURE * hearth.spread - hearth.leaner
    return RATIO[atmosphere]


def may_reduce(readings: Readings, hearth: Estimate, memory: Memory) -> bool:
    """Hot enough for unburnt gas to burn in the chamber, not longer than one firing may, and not where the kiln loses.

    A reduction that costs the kiln its heat is broken off until oxidation has brought it back: more fuel would cool it.
    """
    hot_c, limits = chamber_c(readings), memory.settings.limits
    if hot_c is None or gauge_pa(readings.draught) is None:
        return False
    going_on = memory.feed.ratio is not None and memory.feed.ratio < HARDLY_OXIDISING
    from_c = limits.reduction_from_c - (REDUCING_ON_K if going_on else 0.0)
    behind_k = (memory.course.aim_c or hot_c) - hot_c
    if behind_k > (limits.wait_gap_k if going_on else REDUCING_ON_K):
        return False
    return hot_c >= from_c and hearth.reduced_s < limits.reduction_most_min * 60


def least_air(hearth: Estimate, memory: Memory) -> float:
    """The air can't be less than this, kg/h: as it is where a person would have to move it, or fan or servo can't."""
    if is_at_least(memory):
        return hearth.air_kg_per_h
    settings = memory.settings
    return hearth.factor * air_kg_per_h(least_held_pa(settings), settings.means(memory.plan).air_at_25_pa)


def is_at_least(memory: Memory) -> bool:
    """Whether fan or servo stand at their least, or only a person could move the air."""
    air, table = memory.air, memory.settings.air
    return (
        table.by == "hand"
        or (table.by == "fan" and air.fan_frac <= table.fan_lowest_frac + 0.01)
        or (table.by == "damper" and air.damper_frac <= table.damper_lowest_frac + 0.01)
    )


def may_try(course: Course, readings: Readings, hearth: Estimate, memory: Memory) -> bool:
    """Whether the air may be tried: on a calm climb in oxidation, where nothing else tells the air.

    Not in a soak: what the chamber makes of it would take from the band what a look or a bridge needs of it.
    """
    warmth, aim_c = hearth.warmth, course.aim_c
    if warmth is None or aim_c is None or course.waits or hearth.spread <= SURE:
        return False
    climbs = course.state is State.CLIMBING and warmth.chamber_c >= TRIED_FROM_C
    calm = memory.feed.clamp is FeedLimit.NONE and abs(aim_c - warmth.chamber_c) < TRIED_K
    untold = isinstance(readings.oxygen, NotFitted) and oxidises(course, memory)
    return climbs and calm and untold and can_follow(readings, memory)


def oxidises(course: Course, memory: Memory) -> bool:
    """Whether the stage leaves its air to the daemon, with enough for the fuel."""
    stage = memory.plan.stages[course.stage] if course.stage is not None else None
    return stage is not None and stage.trim and stage.atmosphere is Atmosphere.OXIDATION


def can_follow(readings: Readings, memory: Memory) -> bool:
    """Whether fan or servo can do a little less air and a little more; nobody is asked to for this."""
    drive_frac = memory.air.damper_frac if memory.settings.air.by == "damper" else memory.air.fan_frac
    return not is_at_least(memory) and drive_frac < SPARE_FRAC and gauge_pa(readings.draught) is not None


def is_tube_warm(readings: Readings, memory: Memory) -> bool:
    """The heat of a kiln that is shut up soaks back along the tube; once it blows the fan goes on for 10 K more."""
    tube, limit_c = readings.feed_tube, memory.settings.limits.feed_tube_warn_c
    if memory.air.fan_frac > 0.0:
        limit_c -= 10.0
    return isinstance(tube, Temperature) and tube.value_c >= limit_c


def gauge_pa(draught: Draught | Blind | NotFitted) -> float | None:
    """The draught, or None where there is none to go by."""
    return draught.value_pa if isinstance(draught, Draught) else None
