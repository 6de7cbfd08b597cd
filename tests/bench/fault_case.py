"""One case: something breaks at one kiln at one moment, in a forked process, and what comes of it is judged."""

from __future__ import annotations

import gc
import json
import math
import os
import traceback
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from typing import Any

from daemon.course.asks import Ask, Word
from daemon.course.state import FEEDING, State
from daemon.memory import Memory
from daemon.notice import Level
from hardware.port import Hands, Sight
from hardware.simulated.cabinet import WATCHDOG_S
from tests.bench.ensemble import Firing
from tests.bench.fault_table import UNLIT, Expected, Onset, Rule

AFTER_TRIP_S = 60.0
LOOK_ON_S = 30.0  # where nothing is fed and nothing need be said
LIGHTING_S = 400.0  # from made ready to the first feed, as a prompt person lights
MOST_UNBURNT_KG = 0.3
SLACK_S = 0.3  # three scans
HANGS_S = 6.0
GROUPS = {
    State.COLD: "quiet",
    State.MADE_READY: "quiet",
    State.FINISHED: "quiet",
    State.COOLING: "quiet",
    State.PURGE: "lighting",
    State.LIT_BY_HAND: "lighting",
    State.FIRE_PROVING: "lighting",
    State.WARM_UP: "feeding",
    State.CLIMBING: "feeding",
    State.SOAKING: "feeding",
    State.BURN_DOWN: "burn-down",
    State.LOCKED_OUT: "locked out",
}
LIGHTING = frozenset({State.MADE_READY, State.PURGE, State.LIT_BY_HAND, State.FIRE_PROVING})


@dataclass
class Case:
    """What broke, where, when, and what came of it."""

    fault: str
    kiln: int
    kit: str
    state: str
    group: str
    onset_s: float
    chamber_c: float
    must: bool = False
    blind: bool = False
    """Nothing that is fitted can tell: listed, not judged."""
    free: bool = False
    """Nothing the daemon can do takes the auger's power away."""
    answered_s: float | None = None
    """From the onset, or from the first feed or the harm where the deadline begins there."""
    cause: str = ""
    level: str = ""
    unburnt_kg: float = 0.0
    lived_s: float = 0.0
    failures: list[str] = field(default_factory=list)


class Careless:
    """Hands of a person who never looks into the hopper."""

    def __init__(self, hands: Hands) -> None:
        self._hands = hands

    def look(self) -> Sight:
        """Look."""
        return self._hands.look()

    def light_charcoal(self, kg: float) -> None:
        """Light."""
        self._hands.light_charcoal(kg)

    def fill_hopper(self, kg: float) -> None:
        """Forget to."""

    def set_damper(self, frac: float) -> None:
        """Move the damper."""
        self._hands.set_damper(frac)

    def rake_ash(self) -> None:
        """Rake."""
        self._hands.rake_ash()

    def press(self, button: str, pressed: bool) -> None:
        """Press."""
        self._hands.press(button, pressed)


def names(fault: str) -> list[str]:
    """What breaks, one by one: `a+b` is two, and what stands behind a comma is only said."""
    return fault.split(",")[0].split("+")


def strike(firing: Firing, name: str) -> None:
    """Break it now: a fault of the rig, or one of the people and the machine around it."""
    match name:
        case "nobody-there":
            firing.somebody = False
        case "stop-asked":
            firing.said.append(Ask(Word.STOP, "page"))
        case "record-fails":
            firing.record.trouble = "the disk is full"
        case "scan-hangs":
            firing.rig.clock.wait_until(firing.now_s + HANGS_S)
        case "bridge-falls-slowly":
            firing.world.fill_hopper(0.0)
        case _:
            firing.rig.inject(name)


OURS = frozenset({"nobody-there", "stop-asked", "record-fails", "scan-hangs"})


def possible(firing: Firing, expected: Expected) -> bool:
    """Whether this kiln has what breaks."""
    known = OURS | set(firing.rig.fault_names())
    return expected.needs(firing.kit) and all(name in known for name in names(expected.fault))


class Judged:
    """Follows one case scan by scan."""

    def __init__(self, firing: Firing, expected: Expected) -> None:
        self.firing, self.expected = firing, expected
        memory, world, kit = firing.memory, firing.world, firing.kit
        self.state, self.onset_s = memory.beat.course.state, firing.now_s
        self.at = Onset(kit, self.state, world.chamber_sheath_c, memory.beat.feed.frac)
        self.case = Case(
            expected.fault,
            kit.number,
            kit.words,
            self.state.value,
            GROUPS[self.state],
            round(self.onset_s, 1),
            round(self.at.chamber_c, 1),
            blind=expected.blind(kit),
            free=expected.powered(kit),
        )
        self.rule: Rule | None = None
        self.began_s: float | None = None  # when there was something to answer
        self.deadline_s = math.inf
        self.tripped_s: float | None = None
        self.was_locked = memory.lockout is not None
        self.harmed_s = 0
        self.later = expected.later
        self.unburnt_before_kg = world.unburnt_kg
        self.fell_kg = 0.0
        """What the fault itself dropped on a dead grate."""

    def run(self) -> Case:
        """Break it and look on until it is judged. A program that breaks off is a failure as well."""
        try:
            self._run()
        except Exception:
            self._fails(f"broke off: {traceback.format_exc(limit=-2)}")
        return self.case

    def _run(self) -> None:
        firing, case = self.firing, self.case
        if self.expected.careless and firing.attendant.hands is not None:
            firing.attendant.hands = Careless(firing.attendant.hands)
        self._enter(self.state)
        for name in names(self.expected.fault):
            strike(firing, name)
            if name == "scan-hangs" and firing.kit.watchdog and firing.world.auger_powered:
                case.failures.append(f"the watchdog lets the auger run {HANGS_S:.0f} s without a scan")
        scans = 0
        while not self._over():
            memory = firing.scan()
            if scans == 5 and "grate-floods" in names(case.fault):
                self.fell_kg = firing.world.unburnt_kg - self.unburnt_before_kg
            scans += 1
            self._look(memory)
            if scans % 10 == 0:
                self._second()
        self._end()

    def _enter(self, state: State) -> None:
        """Take the rule of the state the kiln is in; a deadline that has begun goes on."""
        rule, now_s, expected = self.expected.rule(state), self.firing.now_s, self.expected
        if now_s > self.onset_s and (expected.passes or (expected.relit and self.at.state in UNLIT)):
            return
        if rule is not None and rule.harm.lasting_s == 0:
            self._begin(rule)
        self.rule = rule or (self.rule if self.began_s is not None and state is not State.BURN_DOWN else None)

    def _begin(self, rule: Rule) -> None:
        """There is something to answer from now on."""
        now_s = self.firing.now_s
        self.began_s = now_s if self.began_s is None else self.began_s
        self.deadline_s = min(self.deadline_s, now_s + rule.within_s(self.at) + SLACK_S)

    def _look(self, memory: Memory) -> None:
        """One scan: answers, and whether the auger has power when it mustn't."""
        now_s, case = self.firing.now_s, self.case
        if self.tripped_s is None:
            lockout = memory.lockout
            if lockout is not None:
                causes = [cause.name for cause in lockout.causes]
                if self.was_locked:
                    causes = [cause for cause in causes if cause in self._allowed()] if self.rule else []
                if causes:
                    self._answered(causes[0], "trip", now_s)
                    self.tripped_s = now_s
            elif memory.beat.course.state is not self.state:
                self.state = memory.beat.course.state
                self._enter(self.state)
        if self.tripped_s is None and self.rule is not None and self.rule.warns and not case.cause:
            for finding in memory.findings:
                if finding.level is Level.WARNING and finding.cause.name in self.rule.warns:
                    self._answered(finding.cause.name, "warning", now_s)
                    break
        if self.firing.world.auger_powered and not case.blind and not case.free:
            self._powered(now_s, memory)

    def _powered(self, now_s: float, memory: Memory) -> None:
        welded = "relay-welds" in self.case.fault  # only the watchdog relay takes its power
        watchdog_s = WATCHDOG_S if welded else 0.0
        if self.tripped_s is not None and now_s > self.tripped_s + watchdog_s + SLACK_S:
            self._fails("the auger has power after the trip")
        elif self.rule is None and memory.beat.course.state not in FEEDING:
            self._fails(f"the auger turns in {memory.beat.course.state.value}")

    def _fails(self, words: str) -> None:
        if words not in self.case.failures:
            self.case.failures.append(words)

    def _allowed(self) -> set[str]:
        """Every cause that may be named for this fault in any state."""
        allowed = {cause for rule in self.expected.rules for cause in rule.trips}
        return allowed | ({"FIRE_NOT_PROVEN"} if self.case.group in ("quiet", "lighting") else set())

    def _answered(self, cause: str, level: str, now_s: float) -> None:
        case = self.case
        case.cause, case.level = cause, level
        case.answered_s = round(now_s - (self.onset_s if self.began_s is None else self.began_s), 1)
        if level == "trip" and cause not in self._allowed():
            self._fails(f"blamed on {cause}")

    def _second(self) -> None:
        """Once a second: is there harm, and does something else happen."""
        firing, rule = self.firing, self.expected.rule(self.state)
        if self.began_s is None and rule is not None and rule.harm.lasting_s:
            self.harmed_s = self.harmed_s + 1 if rule.harm.there(firing.world) else 0
            if self.harmed_s >= rule.harm.lasting_s:
                self.rule = rule
                self._begin(rule)
        if self.later is not None and firing.now_s - self.onset_s >= self.later[0]:
            strike(firing, self.later[1])
            self.later = None

    def _over(self) -> bool:
        now_s, rule, case = self.firing.now_s, self.rule, self.case
        lived_s = now_s - self.onset_s
        if self.tripped_s is not None:
            return now_s - self.tripped_s >= AFTER_TRIP_S
        if case.answered_s is not None and self.began_s is not None:  # a warning
            return now_s - self.began_s - case.answered_s > 5.0
        if rule is not None and self.began_s is not None:
            case.must = not rule.heals
            if now_s <= self.deadline_s:
                return False
            if not rule.heals and not case.blind:
                self._fails(f"no answer within {self.deadline_s - self.began_s - SLACK_S:.0f} s")
            return True
        if self.state in FEEDING:  # harmless so far
            return lived_s >= (rule.harm.looked_at_s if rule is not None else LIGHTING_S)
        if self.state in LIGHTING:
            return lived_s >= LIGHTING_S
        return lived_s >= LOOK_ON_S

    def _end(self) -> None:
        case, memory, world = self.case, self.firing.memory, self.firing.world
        case.lived_s = round(self.firing.now_s - self.onset_s, 1)
        case.unburnt_kg = round(world.unburnt_kg - self.unburnt_before_kg - self.fell_kg, 4)
        if (self.tripped_s is not None or self.was_locked) and memory.lockout is None:
            self._fails("the lock-out went away by itself")
        if case.unburnt_kg > MOST_UNBURNT_KG and not (case.blind or case.free):
            self._fails(f"{case.unburnt_kg:.2f} kg on a dead fire")


def forked(work: Callable[[], list[Case]]) -> list[Case]:
    """Do `work` in a forked process, which has the whole kiln to itself, and hand back its cases."""
    gc.freeze()
    ear, mouth = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(ear)
            gc.disable()
            told: Any
            try:
                told = [asdict(case) for case in work()]
            except BaseException:
                told = traceback.format_exc()
            with os.fdopen(mouth, "w") as pipe:
                json.dump(told, pipe)
        finally:
            os._exit(0)
    os.close(mouth)
    with os.fdopen(ear) as pipe:
        heard = pipe.read()
    os.waitpid(child, 0)
    answer = json.loads(heard)
    if isinstance(answer, str):
        raise RuntimeError(f"a case broke off in its own process:\n{answer}")
    return [Case(**case) for case in answer]
