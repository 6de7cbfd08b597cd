"""A rehearsal's attendant: does at the simulated kiln what the daemon asks, after the delays a person needs.

It knows only what a person can know: what the daemon shows, the gauge, the spy-hole and the hopper. It can be made
late, wrong or absent, so that a rehearsal shows what the daemon makes of that.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from random import Random

from daemon.course.answers import wanted_words
from daemon.course.asks import Ask, Word
from daemon.course.attendance import Call
from daemon.course.state import ATTENDED, FIRE, State
from daemon.memory import Memory
from daemon.units import BAG_KG
from hardware.port import Hands

CHARCOAL_KG = 1.0
ROUND_S = 20 * 60.0
RAKE_EVERY_S = 2.5 * 3600.0
REFILL_BELOW_KG = 7.0
CRACK_FRAC = 0.1
MOVE_S = 4.0  # between two moves of the damper: the gauge takes a moment


class Temper(Enum):
    """What kind of person stands at the kiln."""

    PROMPT = "prompt"
    LATE = "late"
    WRONG = "wrong"
    ABSENT = "absent"


DELAYS_S: dict[Temper, tuple[float, float]] = {
    Temper.PROMPT: (15.0, 75.0),
    Temper.LATE: (200.0, 330.0),
    Temper.WRONG: (15.0, 75.0),
    Temper.ABSENT: (15.0, 75.0),
}
"""Shortest and longest time before somebody does what was asked: guesses, so from memory."""


@dataclass
class Attendant:
    """One simulated person. `hands` is None at a rig that gives none: then it only answers."""

    temper: Temper
    hands: Hands | None
    random: Random
    _tasks: dict[str, float] = field(default_factory=dict)
    """Each task that it has noticed → when it will do it."""
    _round_s: float = 0.0
    _raked_s: float | None = None
    _move: tuple[float, float] | None = None
    """While the damper is being moved: between which two places, 0 to 1, the right one lies."""
    _moves_s: float = 0.0
    _asks: list[Ask] = field(default_factory=list)

    def asks(self) -> tuple[Ask, ...]:
        """What the person says to the daemon now."""
        if not self._asks:
            return ()
        said, self._asks = tuple(self._asks), []
        return said

    def live(self, memory: Memory) -> None:
        """One second of the person's life, by what the daemon shows and what there is to see."""
        if memory.readings is None:
            return
        now_s, state = memory.readings.now_s, memory.beat.course.state
        if self.temper is Temper.ABSENT and state not in (State.COLD, State.MADE_READY, State.PURGE,
                                                           State.LIT_BY_HAND, State.FIRE_PROVING):  # fmt: skip
            return
        for word in wanted_words(memory.circumstances):
            if word not in (Word.HERE, Word.BURN_DOWN) and state not in (State.COOLING, State.FINISHED):
                self._in_a_while(word.value, now_s)
        if memory.beat.attendance.call is not Call.QUIET:
            self._in_a_while(Word.HERE.value, now_s)
        if memory.beat.air.request is not None and self._move is None:
            self._in_a_while("damper", now_s)
        if self._move is not None and self.hands is not None and now_s >= self._moves_s:
            self._moves_s = now_s + MOVE_S
            self._move = self._halve(self.hands, self._move, memory)
        for task in [t for t, due_s in self._tasks.items() if now_s >= due_s]:
            del self._tasks[task]
            self._do(task, memory)
        if self.hands is not None and state in ATTENDED and now_s - self._round_s >= ROUND_S:
            self._round_s = now_s
            self._walk_round(self.hands, now_s, state)

    def _in_a_while(self, task: str, now_s: float) -> None:
        if task not in self._tasks:
            self._tasks[task] = now_s + self.random.uniform(*DELAYS_S[self.temper])

    def _do(self, task: str, memory: Memory) -> None:
        if task == "damper":
            if self.hands is not None:
                self._move_damper(self.hands, memory)
            return
        word = Word(task)
        if word not in wanted_words(memory.circumstances):
            return
        if self.hands is not None:
            if word is Word.MADE_READY:
                self.hands.rake_ash()
            if word is Word.LIT and self.temper is not Temper.WRONG:  # the wrong one says so without having lit it
                self.hands.light_charcoal(CHARCOAL_KG)
            if word is Word.BED_OUT and self.hands.look().flame_clear:
                return
        self._asks.append(Ask(word, "attendant"))

    def _move_damper(self, hands: Hands, memory: Memory) -> None:
        request = memory.beat.air.request
        if request is None:
            return
        if memory.beat.air.setpoint_pa is None:
            hands.set_damper(1.0 if request.startswith("Open") else CRACK_FRAC)
            return
        hands.set_damper(0.5)
        self._move = (0.0, 1.0)

    def _halve(self, hands: Hands, move: tuple[float, float], memory: Memory) -> tuple[float, float] | None:
        """By eye: halve the way, let the gauge settle, until it reads what was asked."""
        (low, high), setpoint_pa = move, memory.beat.air.setpoint_pa
        middle = (low + high) / 2
        if setpoint_pa is None or high - low < 0.01:
            return None
        move = (low, middle) if hands.look().gauge_pa > setpoint_pa else (middle, high)
        hands.set_damper(sum(move) / 2)
        return move

    def _walk_round(self, hands: Hands, now_s: float, state: State) -> None:
        if hands.look().hopper_kg < REFILL_BELOW_KG and state is not State.BURN_DOWN:
            hands.fill_hopper(BAG_KG)
        if state in FIRE:
            if self._raked_s is None:
                self._raked_s = now_s
            elif now_s - self._raked_s >= RAKE_EVERY_S:
                self._raked_s = now_s
                hands.rake_ash()
