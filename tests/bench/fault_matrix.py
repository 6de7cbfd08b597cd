"""The fault matrix: one firing of every kiln, and at several moments of every state one forked process per fault."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from daemon.course.asks import Ask, Word
from daemon.course.state import FEEDING, State
from hardware.port import Temperature
from tests.bench.ensemble import Firing, kit, short_plan
from tests.bench.fault_case import Case, Judged, forked, possible
from tests.bench.fault_table import TABLE, Expected

COOLS_TIMES = 10  # while cooling the kiln's own time runs so much faster than the daemon's: the hours there are alike
LONGEST_S = 12 * 3600.0
EARLY, LATE = (0.05, 0.2), (0.6, 0.85)
STAYS_S = {
    State.COLD: 15.0,
    State.MADE_READY: 15.0,
    State.PURGE: 60.0,
    State.LIT_BY_HAND: 15.0,
    State.FIRE_PROVING: 9.0,
    State.WARM_UP: 720.0,
    State.SOAKING: 720.0,
    State.BURN_DOWN: 1200.0,
    State.COOLING: 600.0,
    State.FINISHED: 60.0,
}
"""How long each state lasts at least, with a prompt person; a climb is cut by its temperatures instead."""
CLIMB_C = ((150.0, 200.0), (260.0, 350.0), (420.0, 550.0), (600.0, 700.0))
FIRE_DIES_EVERY_S = 600.0
LOCKED_S = (3.0, 40.0)


@dataclass
class Kilns:
    """What came of firing one kiln through the matrix."""

    number: int
    cases: list[Case] = field(default_factory=list)
    false_trips: list[str] = field(default_factory=list)
    states: dict[str, int] = field(default_factory=dict)
    """Moments looked at, by state."""
    hours: float = 0.0


class Moments:
    """Says when it is time for the next round of faults."""

    def __init__(self, dice: Random) -> None:
        self._dice = dice
        self._state: State | None = None
        self._due_s: list[float] = []
        self._due_c = [dice.uniform(*span) for span in CLIMB_C]

    def due(self, firing: Firing) -> bool:
        """True at each moment once."""
        memory, now_s = firing.memory, firing.now_s
        state = memory.beat.course.state
        if state is not self._state:
            self._state = state
            stay_s = STAYS_S.get(state)
            self._due_s = [now_s + stay_s * self._dice.uniform(*part) for part in (EARLY, LATE)] if stay_s else []
        if state is State.CLIMBING and memory.readings is not None:
            chamber = memory.readings.probes["chamber"]
            if self._due_c and isinstance(chamber, Temperature) and chamber.value_c >= self._due_c[0]:
                self._due_c.pop(0)
                return True
        if self._due_s and now_s >= self._due_s[0]:
            self._due_s.pop(0)
            return True
        return False


def chosen(number: int, moment: int, state: State, thin: int) -> list[Expected]:
    """The faults of this round, drawn by lot: kilns and moments together have them all, in every state."""
    sparse = thin * (2 if state in FEEDING else 4)
    taken = []
    for expected in TABLE:
        every = 1 if expected.fault == "fire-dies" and state in FEEDING else sparse * expected.every
        if Random(f"{expected.fault} {number} {moment} {state.value}").random() * every < 1.0:
            taken.append(expected)
    return taken


def fire(number: int, thin: int, tell: Callable[[str], None] = lambda words: None) -> Kilns:
    """Fire one kiln from cold to cold, breaking what can be broken along the way."""
    into = Kilns(number)
    firing = Firing(kit(number), short_plan(), 1000 + number)
    dice = Random(f"moments {number}")
    moments, moment, dies_s = Moments(dice), 0, 0.0
    while firing.now_s < LONGEST_S:
        memory = firing.second()
        state = memory.beat.course.state
        if memory.lockout is not None:
            first = memory.lockout.first_out
            into.false_trips.append(
                f"{firing.kit.words}: {first.cause.name} at {firing.now_s:.0f} s while "
                f"{memory.lockout.was.value}: {first.notice.happened}"
            )
            break
        if moments.due(firing):
            moment += 1
            into.states[state.value] = into.states.get(state.value, 0) + 1
            into.cases += round_of(firing, chosen(number, moment, state, thin))
            dies_s = firing.now_s + FIRE_DIES_EVERY_S * dice.uniform(0.5, 1.5)
            if state is State.CLIMBING and moment % 2 == 0:
                into.cases += forked(lambda: locked_out(firing, number, thin))
        elif state in FEEDING and firing.now_s >= dies_s:
            dies_s = firing.now_s + FIRE_DIES_EVERY_S * dice.uniform(0.5, 1.5) * thin
            into.cases += round_of(firing, [e for e in TABLE if e.fault in ("fire-dies", "flame-eye-stuck+fire-dies")])
        if state is State.COOLING:
            firing.world.step(COOLS_TIMES - 1.0)
        if state is State.FINISHED and firing.now_s - memory.beat.course.since_s > STAYS_S[state]:
            break
    into.hours = firing.now_s / 3600
    tell(f"kiln {number}: {len(into.cases)} cases in {into.hours:.1f} h, {into.states}")
    firing.rig.close()
    return into


def round_of(firing: Firing, faults: list[Expected]) -> list[Case]:
    """One forked process for each of these faults that this kiln can have."""
    cases: list[Case] = []
    for expected in faults:
        if possible(firing, expected):
            cases += forked(lambda: [Judged(firing, expected).run()])  # noqa: B023  (done before it changes)
    return cases


def locked_out(firing: Firing, number: int, thin: int) -> list[Case]:
    """In a process of its own: somebody asks for a stop, and things break in the lock-out that follows."""
    cases: list[Case] = []
    firing.said.append(Ask(Word.STOP, "page"))
    began_s = firing.now_s
    for moment, at_s in enumerate(LOCKED_S):
        while firing.now_s < began_s + at_s:
            firing.second()
        cases += round_of(firing, chosen(number, moment, State.LOCKED_OUT, thin))
    return cases
