"""One firing of the bench: a kiln, what befalls it, a controller. The same kiln and the same upsets for every one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tests.bench.control.kiln import Kiln
from tests.bench.control.make import make
from tests.bench.control.others import (
    FLOOR_FRAC,
    AllKnowing,
    AttentiveHand,
    Controller,
    HandTimer,
    TextbookPid,
    Thermostat,
)
from tests.bench.control.ours import Ours
from tests.bench.control.schedule import SCHEDULES, WARM_UP_S
from tests.bench.control.score import Score
from tests.bench.control.upsets import Upsets
from tests.bench.control.walk import Judge, Walk

CHARCOAL_KG = 1.0
CYCLE_S = 10
LONGEST_S = 24 * 3600

OTHERS: dict[str, Callable[[], Controller]] = {
    "hand timer, set once a stage": HandTimer,
    "attentive person, every 10 min": AttentiveHand,
    "two-level thermostat": Thermostat,
    "textbook PID, air in fixed proportion": lambda: TextbookPid(by_gauge=False),
    "textbook PID, air held by the gauge": lambda: TextbookPid(by_gauge=True),
    "knows everything": AllKnowing,
}
KNOWS = "knows everything"
OURS = "this daemon"
BY_HAND = "this daemon, air by hand"
OXYGEN = "this daemon, with an oxygen probe"


@dataclass(frozen=True, slots=True)
class Job:
    """Who fires which kiln along which schedule."""

    who: str
    number: int
    schedule: str
    harsh: bool


def kiln_of(job: Job) -> tuple[Kiln, Upsets]:
    """The kiln and its fate. Seeds go by kiln and schedule alone."""
    place = list(SCHEDULES).index(job.schedule)
    kiln = Kiln(make(job.number, job.harsh), job.number * 7 + place)
    return kiln, Upsets(kiln, job.number * 11 + place, job.harsh)


def fire(job: Job) -> Score:
    """One firing, to its end."""
    kiln, upsets = kiln_of(job)
    legs = SCHEDULES[job.schedule]
    if job.who in OTHERS:
        return by_other(OTHERS[job.who](), kiln, upsets, job.schedule)
    by = "hand" if job.who == BY_HAND else "fan"
    return Ours(kiln, upsets, legs, job.number, by, oxygen=job.who == OXYGEN).fire()


def by_other(controller: Controller, kiln: Kiln, upsets: Upsets, schedule: str) -> Score:
    """A controller without a daemon, from the lit charcoal on: the same warm-up, then along the schedule."""
    legs = SCHEDULES[schedule]
    walk, judge, kind, on_s = Walk(legs), Judge(kiln, legs), "warm-up", 0.0
    kiln.light(CHARCOAL_KG)
    kiln.fan_frac = 0.3
    now_s = 0
    for now_s in range(1, LONGEST_S):
        if now_s % CYCLE_S == 1:
            on_s = controller.feed_frac * CYCLE_S
        kiln.auger_frac = min(1.0, max(0.0, on_s))
        on_s -= kiln.auger_frac
        upsets.second(now_s)
        kiln.step()
        if now_s == WARM_UP_S:
            walk.begin(kiln.probe_c)
        if now_s >= WARM_UP_S:
            walk.second(kiln.probe_c, controller.feed_frac <= FLOOR_FRAC)
            if walk.over:
                break
            kind = "soak" if walk.leg.soak_s else "climb"
        controller.second(now_s, kiln, walk, kind)
        judge.second(kind, walk.setpoint_c, walk.leg.to_c, controller.feed_frac, smoke_asked=False)
    judge.score.hours = now_s / 3600
    judge.score.ended = "lost" if walk.lost else "to its end"
    return judge.score
