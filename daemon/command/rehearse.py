"""A rehearsal: the whole daemon on a simulated kiln, with a simulated attendant, at any pace."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from daemon.command.attendant import Attendant, Temper
from daemon.command.runner import run
from daemon.course.asks import Ask
from daemon.course.state import State
from daemon.memory import Memory
from daemon.notice import Level
from daemon.outside.channel import Channel
from daemon.outside.notices import Json
from daemon.outside.rigs import open_rig
from daemon.outside.status import status
from daemon.plans.cones import cone_reached
from daemon.plans.plan import Plan
from daemon.record.journal import Record
from daemon.record.start import first_look, first_memory
from daemon.settings import Settings
from daemon.setup import setup_of
from daemon.units import BAG_KG
from hardware.port import AttendedRig, BreakableRig, Rig, Temperature

LONGEST_S = 96 * 3600.0  # a rehearsal that has not ended by then won't
AFTER_TRIP_S = 60.0  # how long it goes on once locked out, so that the record shows what was done
STATUS_EVERY_S = 0.5  # of real time
MOST_WAITING = 200  # batches on their way to the disk before a flat-out rehearsal lets the writer catch up


@dataclass(frozen=True, slots=True)
class Fault:
    """Something to break, and when, in seconds from the start."""

    name: str
    at_s: float


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What to rehearse. `speed` is times real time, None is flat out."""

    plan: Plan
    settings: Settings
    rig: str
    seed: int
    speed: float | None
    temper: Temper
    faults: tuple[Fault, ...] = ()
    longest_s: float = LONGEST_S


@dataclass
class Story:
    """What happened, gathered while it happens. Times are seconds from the start."""

    began_s: float = 0.0
    course: list[tuple[str, float]] = field(default_factory=list)
    trips: list[dict[str, Json]] = field(default_factory=list)
    warnings: set[str] = field(default_factory=set)
    squares: float = 0.0
    beats: int = 0
    scans: int = 0

    def follow(self, memory: Memory) -> None:
        """Take in what the last second brought."""
        if memory.readings is None:
            return
        now_s, course = memory.readings.now_s - self.began_s, memory.beat.course
        if not self.course or self.course[-1][0] != course.state.value:
            self.course.append((course.state.value, round(now_s, 1)))
        self.warnings |= {f.cause.value for f in memory.findings if f.level is Level.WARNING}
        chamber = memory.readings.probes["chamber"]
        if course.state is State.CLIMBING and course.setpoint_c is not None and isinstance(chamber, Temperature):
            self.squares += (course.setpoint_c - chamber.value_c) ** 2
            self.beats += 1
        if memory.lockout is not None and not self.trips:
            first = memory.lockout.first_out
            self.trips.append(
                {"cause": first.cause.value, "at_s": round(now_s, 1), "during": memory.lockout.was.value,
                 "happened": first.notice.happened, "did": first.notice.did, "do_next": first.notice.do_next}
            )  # fmt: skip


class Rehearser:
    """Runs one rehearsal. `show` is called once a simulated second with the memory; it may be slow, the kiln waits."""

    def __init__(self, rehearsal: Rehearsal, record: Record, channel: Channel | None) -> None:
        """Open the rig. Raises RigFault, and ValueError for a fault that the rig does not know."""
        self.rehearsal = rehearsal
        self.record = record
        self.channel = channel
        options = {**rehearsal.settings.rig.options, "seed": rehearsal.seed, "speed": rehearsal.speed}
        self.rig: Rig = open_rig(rehearsal.rig, options)
        hands = self.rig.hands if isinstance(self.rig, AttendedRig) else None
        self.attendant = Attendant(rehearsal.temper, hands, Random(f"attendant {rehearsal.seed}"))
        self.faults = sorted(rehearsal.faults, key=lambda f: f.at_s)
        self.story = Story()
        self._check_faults()
        self._second_s = -math.inf
        self._told_s = 0.0
        self._show: Callable[[Memory], None]

    def _check_faults(self) -> None:
        if not self.faults:
            return
        if not isinstance(self.rig, BreakableRig):
            self.rig.close()
            raise ValueError(f"rig {self.rehearsal.rig!r} can't be broken on purpose: leave --fault out.")
        known = self.rig.fault_names()
        for fault in self.faults:
            if fault.name not in known:
                self.rig.close()
                listing = "\n".join(f"  {name}: {what}" for name, what in known.items())
                raise ValueError(f"no fault is called {fault.name!r}. This rig knows:\n{listing}")

    def run(self, show: Callable[[Memory], None]) -> Memory:
        """Rehearse to the end. Returns the last memory. Raises ScanFailed, RigFault, KeyboardInterrupt."""
        self._show = show
        readings = first_look(self.rig)
        self.story.began_s = readings.now_s
        setup = setup_of(self.rehearsal.settings, self.rehearsal.plan)
        first = first_memory(setup, self.record.found, readings)
        self.record.begin(first, readings)
        return run(self.rig, first, self.record, self, self._between)

    def asks(self) -> tuple[Ask, ...]:
        """What the page and the attendant ask."""
        heard = self.channel.asks() if self.channel is not None else ()
        return heard + self.attendant.asks()

    def _between(self, memory: Memory, due_s: float) -> bool:
        self.story.scans += 1
        if memory.readings is None or memory.readings.now_s < self._second_s:
            return True
        now_s = memory.readings.now_s
        self._second_s = now_s + 0.95
        self.story.follow(memory)
        self.attendant.live(memory)
        self._break_things(now_s)
        self._tell(memory)
        self._show(memory)
        if self.rehearsal.speed is None:
            while self.record.waiting() > MOST_WAITING:
                time.sleep(0.001)
        return not self._over(memory, now_s)

    def _break_things(self, now_s: float) -> None:
        while self.faults and isinstance(self.rig, BreakableRig) and now_s - self.story.began_s >= self.faults[0].at_s:
            self.rig.inject(self.faults.pop(0).name)

    def _tell(self, memory: Memory) -> None:
        wall_s = time.monotonic()
        if self.channel is not None and wall_s - self._told_s >= STATUS_EVERY_S:
            self._told_s = wall_s
            self.channel.tell(status(memory, self.record.context(rehearsal=True)))

    def _over(self, memory: Memory, now_s: float) -> bool:
        if memory.beat.course.state is State.FINISHED or now_s - self.story.began_s >= self.rehearsal.longest_s:
            return True
        return memory.lockout is not None and now_s - memory.lockout.at_s >= AFTER_TRIP_S

    def summary(self, memory: Memory, record: Path | None) -> dict[str, Json]:
        """What came of it, for the person and for `--json`."""
        story, climb = self.story, memory.beat.climb
        finished = memory.beat.course.state is State.FINISHED
        ended = "tripped" if story.trips else "fired to the end" if finished else "stopped"
        now_s = memory.readings.now_s - story.began_s if memory.readings is not None else 0.0
        begun = next((at for name, at in story.course if name == State.FIRE_PROVING.value), None)
        down = next((at for name, at in story.course if name == State.BURN_DOWN.value), now_s)
        cone = cone_reached(climb.top_c, climb.rate_c_per_h) if climb.rate_c_per_h is not None else None
        return {
            "ended": ended,
            "plan": memory.plan.name,
            "course": [{"state": name, "at_s": at} for name, at in story.course],
            "top_c": round(climb.top_c, 1),
            "rate_last_100_c_per_h": round(climb.rate_c_per_h, 1) if climb.rate_c_per_h is not None else None,
            "cone": cone,
            "hours": round(now_s / 3600, 2),
            "hours_fired": round((down - begun) / 3600, 2) if begun is not None else 0.0,
            "pellets_kg": round(memory.fed_kg, 2),
            "bags": round(memory.fed_kg / BAG_KG, 2),
            "climb_rms_c": round(math.sqrt(story.squares / story.beats), 2) if story.beats else None,
            "trips": [trip for trip in story.trips],
            "warnings": [name for name in sorted(story.warnings)],
            "seed": self.rehearsal.seed,
            "scans": story.scans,
            "record": str(record) if record is not None else None,
        }
