"""An interlock: what it looks for, in which states, for how long, what is done about it, and the words for the person.

An interlock finds a condition (some evidence) or nothing. A condition that `holds_feed` opens the feed contact in the
same scan; only one that lasts longer than the interlock's delay becomes a finding, and a TRIP locks the feed out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

from daemon.course.state import ATTENDED, FEEDING, FIRE, State
from daemon.interlocks.scene import Scene
from daemon.notice import RESET_NEXT, Cause, Finding, Level, Notice
from daemon.settings import LimitsTable


class SafeFan(Enum):
    """What the fan does once a cause has locked the feed out."""

    AS_IT_WAS = "as it was"
    LOWEST = "at its lowest, or off"
    OFF = "off"


class SafeDamper(Enum):
    """What a servo's damper does once a cause has locked the feed out."""

    AS_IT_WAS = "as it was"
    OPEN = "open"


class SafeHorn(Enum):
    """How long the horn calls once a cause has locked the feed out; acknowledging always stills it."""

    TWO_MINUTES = "for 2 min"
    UNTIL_SEEN = "until acknowledged"


class Safe(NamedTuple):
    """The outputs beside the auger, which always opens, once a cause has locked the feed out."""

    fan: SafeFan = SafeFan.LOWEST
    damper: SafeDamper = SafeDamper.AS_IT_WAS
    horn: SafeHorn = SafeHorn.TWO_MINUTES

    def join(self, other: Safe) -> Safe:
        """With another cause that came later: the first-out's fan, a damper opened by either, the longer horn."""
        damper = SafeDamper.OPEN if SafeDamper.OPEN in (self.damper, other.damper) else self.damper
        horn = SafeHorn.UNTIL_SEEN if SafeHorn.UNTIL_SEEN in (self.horn, other.horn) else self.horn
        return Safe(self.fan, damper, horn)


LESS_AIR = Safe()
NO_AIR = Safe(fan=SafeFan.OFF)
KEEP_AIR = Safe(fan=SafeFan.AS_IT_WAS)
MORE_AIR = Safe(fan=SafeFan.AS_IT_WAS, damper=SafeDamper.OPEN)


class Evidence(NamedTuple):
    """What an interlock found: in words (`chamber 1312 °C, limit 1310 °C`), and the value and its limit in `unit`."""

    words: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    about: str = ""


Finds = Callable[[Scene], Evidence | None]
"""Looks for the condition; returns the evidence, or None."""
Delay = Callable[[LimitsTable, State], float]
"""For how long the condition must last, s."""


@dataclass(frozen=True, slots=True)
class Interlock:
    """One row of the table. `delay_s` may depend on the limits that are set."""

    cause: Cause
    level: Level
    states: frozenset[State]
    finds: Finds
    delay_s: Delay
    holds_feed: bool
    safe: Safe
    resumes: bool
    """The firing may be resumed after this trip, within the limits of `daemon/course/resume.py`."""
    happened: str
    do_next: str
    limit: str
    """The limit in words, for the printed table; names of `[limits]` in braces."""
    why: str
    """The reasoning behind limit and delay, and where they come from."""
    did: str | None = None
    """What the daemon did, where that is not what it does on every trip."""

    def finding(self, evidence: Evidence, since_s: float) -> Finding:
        """What was found, with the words for the person."""
        safe = self.safe
        damper = ", damper open where the daemon moves it" if safe.damper is SafeDamper.OPEN else ""
        tripped = f"Feed stopped and locked out; fan {safe.fan.value}{damper}."
        held = "Feed held off." if self.holds_feed else "Nothing but this warning."
        trips = self.level is Level.TRIP
        did = self.did or (tripped if trips else held)
        do_next = f"{self.do_next} {RESET_NEXT}" if trips else self.do_next
        notice = Notice(self.happened.format(evidence.words), did, do_next)
        number = evidence.value, evidence.limit, evidence.unit
        return Finding(self.cause, self.level, since_s, notice, *number, evidence.about)


ALL = frozenset(State)
BURNING = FIRE | {State.BURN_DOWN}
MINDED = ATTENDED | {State.LOCKED_OUT}
COOLING = frozenset({State.COOLING})
NOT_COOLING = ALL - COOLING
LIGHTING_ON = FIRE | {State.PURGE, State.LIT_BY_HAND}
PROVING = frozenset({State.FIRE_PROVING})
PURGE = frozenset({State.PURGE})
LEFT_BURNING = frozenset({State.BURN_DOWN, State.LOCKED_OUT})
GROUPS: dict[frozenset[State], str] = {
    ALL: "every state",
    NOT_COOLING: "every state but cooling",
    COOLING: "cooling",
    FIRE: "while a fire is meant to burn",
    BURNING: "while something burns",
    MINDED: "while somebody must be there, or locked out",
    ATTENDED: "while somebody must be there",
    FEEDING: "while feeding",
    LIGHTING_ON: "from the purge until the burn-down",
    PROVING: "fire proving",
    PURGE: "purge",
    LEFT_BURNING: "burn-down, locked out",
    frozenset({State.CLIMBING}): "climbing",
}
"""The groups of states that interlocks look in, in words."""


def at_once(limits: LimitsTable, state: State) -> float:
    """No delay: the first scan that finds it counts."""
    return 0.0


def after(seconds: float) -> Delay:
    """The same delay whatever the settings."""

    def always(limits: LimitsTable, state: State) -> float:
        return seconds

    return always
