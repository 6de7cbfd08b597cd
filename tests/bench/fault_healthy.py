"""Healthy firings of the shipped plans on many kilns, and what an interlock has to tolerate in them.

Nothing is broken. There is noise, uneven feed, wind, a door opened for a look, a person who is late, refills, raking.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from random import Random

from daemon.command.attendant import Temper
from daemon.course.state import FEEDING, FIRE, State
from daemon.interlocks.airflow import air_frac
from daemon.memory import Memory
from daemon.notice import Level
from daemon.plans.file import find_plan, load_plan, shipped_plans
from daemon.row import Row
from hardware.port import Draught, Temperature
from hardware.simulated.kiln.bed import DEAD_C
from tests.bench.ensemble import Firing, Kit, kit

PLANS = tuple(shipped_plans())
COOLING_S = 1800.0  # of cooling to look at; after that nothing moves but the temperature
LONGEST_S = 18 * 3600.0
AFTER_LOOK_S = 300.0  # the ware gives its heat back after a look
LOOKS_S = (10.0, 20.0)
BETWEEN_LOOKS_S = (1200.0, 3600.0)
MOST_GUST_PA = 3.0
WATCHED_EVERY = 4
"""Kilns: one in so many is looked at for what interlocks live by."""


@dataclass
class Spread:
    """Highest values of something, enough of them to say what 99.9 % stay below."""

    bins: dict[int, int] = field(default_factory=dict)
    most: float = -math.inf
    step: float = 0.01

    def add(self, value: float) -> None:
        """Take one in."""
        place = round(value / self.step)
        self.bins[place] = self.bins.get(place, 0) + 1
        self.most = max(self.most, value)

    def join(self, other: Spread) -> None:
        """Take another's in."""
        for place, count in other.bins.items():
            self.bins[place] = self.bins.get(place, 0) + count
        self.most = max(self.most, other.most)

    def below(self, share: float) -> float:
        """What this share of the values stays at or below."""
        left = (1 - share) * sum(self.bins.values())
        for place in sorted(self.bins, reverse=True):
            left -= self.bins[place]
            if left < 0:
                return place * self.step
        return math.nan


@dataclass
class Event:
    """A trip or a warning in a healthy firing."""

    kiln: str
    plan: str
    seed: int
    at_s: float
    state: str
    level: str
    cause: str
    words: str


@dataclass
class Healthy:
    """What came of some healthy firings."""

    hours: float = 0.0
    kilns: set[int] = field(default_factory=set)
    finished: int = 0
    firings: int = 0
    events: list[Event] = field(default_factory=list)
    spreads: dict[str, Spread] = field(default_factory=dict)

    def add(self, name: str, value: float) -> None:
        """Take one value of something in."""
        self.spreads.setdefault(name, Spread()).add(value)

    def join(self, other: Healthy) -> None:
        """Take other firings in."""
        self.hours += other.hours
        self.kilns |= other.kilns
        self.finished += other.finished
        self.firings += other.firings
        self.events += other.events
        for name, spread in other.spreads.items():
            self.spreads.setdefault(name, Spread()).join(spread)


class Watch:
    """Looks at every scan of one firing and keeps what interlocks live by."""

    def __init__(self, into: Healthy) -> None:
        self._into = into
        self._last_c: float | None = None
        self._same = 0
        self._chamber: deque[float] = deque(maxlen=3601)
        self._gap: deque[float] = deque(maxlen=601)
        self._air: dict[int, deque[float]] = {10: deque(maxlen=10), 60: deque(maxlen=60), 300: deque(maxlen=300)}
        self._dark_s = 0.0
        self.looking = False
        self.since_look_s = 0.0

    def scan(self, row: Row, before: Memory, after: Memory) -> None:
        """Every scan: how long the amplifier gives the same value to the last bit."""
        chamber = row.readings.probes["chamber"]
        value = chamber.value_c if isinstance(chamber, Temperature) else None
        self._same = self._same + 1 if value is not None and value == self._last_c else 1
        self._last_c = value
        self._into.add("same chamber reading, scans", self._same)

    def second(self, memory: Memory, firing: Firing) -> None:
        """Every second: rates, gaps, draught, fuel without a sign of fire."""
        readings, state, add = memory.readings, memory.beat.course.state, self._into.add
        if readings is None:
            return
        chamber, limit = readings.probes["chamber"], readings.probes.get("limit")
        if isinstance(chamber, Temperature):
            self._rates(chamber.value_c, state)
            if isinstance(limit, Temperature):
                gap_k = chamber.value_c - limit.value_c
                self._gap.append(gap_k)
                add("|chamber - limit|, K", abs(gap_k))
                if len(self._gap) == 601:
                    add("|change of chamber - limit over 600 s|, K", abs(gap_k - self._gap[0]))
        if state in FIRE:
            self._air_and_fuel(memory, firing)
        self.since_look_s = 0.0 if self.looking else self.since_look_s + 1.0

    def _rates(self, value_c: float, state: State) -> None:
        rows, add = self._chamber, self._into.add
        rows.append(value_c)
        group = state.value if state in FIRE else "other states"
        for span in (10, 60, 600):
            if len(rows) > span:
                change = value_c - rows[-1 - span]
                add(f"rise over {span} s, K ({group})", change)
                add(f"fall over {span} s, K ({group})", -change)
                if state in FEEDING and self.since_look_s > span + AFTER_LOOK_S:
                    add(f"fall over {span} s, K (feeding, no look in it or just before)", -change)
                    add(f"rise over {span} s, K (feeding, no look in it or just before)", change)

    def _air_and_fuel(self, memory: Memory, firing: Firing) -> None:
        readings, add, setpoint_pa = memory.readings, self._into.add, memory.beat.air.setpoint_pa
        assert readings is not None
        draught, state = readings.draught, memory.beat.course.state
        feeding = state in FEEDING
        if feeding:
            sign_fed_s = getattr(memory.beat.signs, "sign_fed_s", memory.auger.fed_s)
            fed_kg = (memory.auger.fed_s - sign_fed_s) * memory.settings.kiln.auger_kg_per_h / 3600
            eye = "with eye" if firing.kit.eye else "no eye"
            add(f"fed without a sign of fire, kg ({eye})", fed_kg)
            if fed_kg > 0.08:
                dead = firing.world.bed.bed_c < DEAD_C
                add("truth: fed without a sign, bed dead, kg", fed_kg if dead else 0.0)
            ratio = firing.world.air_ratio
            if ratio is not None:
                add("truth: lack of air, needed/given", 1 / max(ratio, 1e-3))
        dark = readings.flame_seen is False
        self._dark_s = self._dark_s + 1 if dark and feeding else 0.0
        add("eye dark, s", self._dark_s)
        if isinstance(draught, Draught):
            if self.looking:
                add(f"door open: draught low, -Pa (air by {firing.kit.by})", -draught.value_pa)
                add(f"door open: draught high, Pa (air by {firing.kit.by})", draught.value_pa)
            if feeding:
                fan = readings and memory.done.fan_frac
                if isinstance(fan, float) and fan > 0.2:
                    add("draught with fan on, -Pa", -draught.value_pa)
                frac = air_frac(readings, memory.beat)
                if frac is not None:
                    add(f"air missing for the fuel, 1 - given/wanted (air by {firing.kit.by})", 1 - frac)
                for span, rows in self._air.items():
                    rows.append(draught.value_pa)
                    if len(rows) == span:
                        mean = sum(rows) / span
                        if setpoint_pa:
                            by = firing.kit.by
                            add(
                                f"draught missing, 1 - measured/wanted, {span} s mean (air by {by})",
                                1 - mean / setpoint_pa,
                            )
        if isinstance(readings.feed_tube, Temperature):
            add("feed tube, °C", readings.feed_tube.value_c)


def fire(number: int, plan: str, seed: int, longest_s: float = LONGEST_S) -> Healthy:
    """One healthy firing, from cold until it has cooled for half an hour, or to its trip."""
    into = Healthy(kilns={number}, firings=1)
    dice = Random(f"healthy {number} {plan} {seed}")
    one: Kit = kit(number)
    temper = Temper.LATE if dice.random() < 0.5 else Temper.PROMPT
    firing = Firing(one, load_plan(find_plan(plan)), seed, temper, gust_pa=dice.uniform(0.0, MOST_GUST_PA))
    watch = Watch(into)
    watched = number % WATCHED_EVERY == 0  # looking costs half as much again as firing
    if watched:
        firing.record.look = watch.scan
    said: set[tuple[str, str]] = set()
    look_s, shut_s = 0.0, math.inf
    while firing.now_s < longest_s:
        memory = firing.second()
        now_s, state = firing.now_s, memory.beat.course.state
        if watched:
            watch.second(memory, firing)
        if state not in FIRE:
            look_s = now_s + dice.uniform(*BETWEEN_LOOKS_S)
        elif now_s >= look_s and shut_s == math.inf:
            firing.world.open_door()
            shut_s = now_s + dice.uniform(*LOOKS_S)
        if now_s >= shut_s:
            firing.world.shut_door()
            shut_s, look_s = math.inf, now_s + dice.uniform(*BETWEEN_LOOKS_S)
        watch.looking = shut_s != math.inf
        into.events += events(memory, said, one, plan, seed, now_s)
        if memory.lockout is not None:
            break
        if state is State.FINISHED or (state is State.COOLING and now_s - memory.beat.course.since_s > COOLING_S):
            into.finished += 1
            break
    into.hours = firing.now_s / 3600
    firing.rig.close()
    return into


def events(memory: Memory, said: set[tuple[str, str]], one: Kit, plan: str, seed: int, at_s: float) -> Iterator[Event]:
    """Trips and warnings that are new. What locked the feed out may be gone from the findings a moment later."""
    tripped = (memory.lockout.first_out,) if memory.lockout is not None else ()
    for finding in (*tripped, *memory.findings):
        level = "trip" if finding.level is Level.TRIP else "warning"
        key = (level, finding.cause.name)
        if key not in said:
            said.add(key)
            was = memory.lockout.was.value if memory.lockout is not None else memory.beat.course.state.value
            yield Event(one.words, plan, seed, round(at_s), was, level, finding.cause.name, finding.notice.happened)
