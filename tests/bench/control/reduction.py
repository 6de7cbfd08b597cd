"""An asked-for reduction: what the air ratio really is three minutes after it was asked for."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import fmean

from daemon.memory import Memory
from daemon.plans.plan import RATIO, Atmosphere
from tests.bench.control.firing import Job, kiln_of
from tests.bench.control.ours import Ours
from tests.bench.control.schedule import SCHEDULES

STRENGTHS = (Atmosphere.LIGHT_REDUCTION, Atmosphere.MEDIUM_REDUCTION, Atmosphere.HEAVY_REDUCTION)
SCHEDULE, LEG = "stoneware", 2
"""Asked for from 1000 °C on."""
FROM_S, OVER_S = 180.0, 120.0
"""Looked at from three minutes on, over two minutes: the feed comes in pulses of ten seconds."""


@dataclass(frozen=True, slots=True)
class Reduced:
    """What came of one asked-for reduction. `off` is None where it never came to it."""

    wanted: float
    off: float | None
    at_least_frac: bool
    """The fan stood at its lowest: less air there was not."""
    smoke_after_s: int
    """Smoke more than three minutes after the reduction was over."""


def reduce(number: int, oxygen: bool) -> Reduced:
    """One firing with a reduction in its last climb."""
    atmosphere = STRENGTHS[number % len(STRENGTHS)]
    kiln, upsets = kiln_of(Job("", number, SCHEDULE, harsh=False))
    ours = Ours(kiln, upsets, SCHEDULES[SCHEDULE], number, "fan", oxygen, {LEG: atmosphere.value})
    seen: list[float] = []
    began_s: float | None = None
    lowest = False

    def look(memory: Memory) -> None:
        nonlocal began_s, lowest
        ratio = memory.beat.feed.wanted_air_ratio
        if ratio is None or ratio >= 1.0 or memory.readings is None:
            return
        began_s = memory.readings.now_s if began_s is None else began_s
        gone_s = memory.readings.now_s - began_s
        if FROM_S <= gone_s < FROM_S + OVER_S:
            seen.append(kiln.air_ratio)
            lowest = lowest or memory.beat.air.fan_frac <= memory.settings.air.fan_lowest_frac + 0.005

    ours.look = look
    score = ours.fire()
    wanted = RATIO[atmosphere]
    return Reduced(wanted, fmean(seen) - wanted if seen else None, lowest, score.smoke_s)
