"""Judge: what the readings mean for safety, in every state, hand operation too. Pure: values in, a verdict out."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daemon.course.asks import Ask
from daemon.course.state import FEEDING, State
from daemon.interlocks import INTERLOCKS, Evidence, Interlock, Safe
from daemon.notice import Cause, Finding, Level
from hardware.port import Readings

if TYPE_CHECKING:
    from daemon.memory import Memory

Since = tuple[tuple[float, float] | None, ...]
"""For each interlock of the table, since when its condition stands and when it was last seen; None where it doesn't.

A condition that comes and goes keeps its start until it has stayed away for as long as its delay: flapping trips too.
"""

NOTHING_SINCE: Since = (None,) * len(INTERLOCKS)

WATCHING: dict[State, tuple[tuple[int, Interlock], ...]] = {
    state: tuple((place, lock) for place, lock in enumerate(INTERLOCKS) if state in lock.states) for state in State
}
"""The interlocks that look in each state, with their places in the table."""


class Verdict(NamedTuple):
    """What may be done. `feed_allowed` is the only way to a closed feed contact; `safe` overrides the wish."""

    feed_allowed: bool
    findings: tuple[Finding, ...]
    trip: Finding | None
    """The first trip of this scan. In a lock-out the first-out in the memory is the one that counts."""
    holding: tuple[Cause, ...]
    """Conditions that hold the feed now, whether or not they have lasted long enough to trip."""
    safe: Safe | None
    """What the other outputs do while the feed is locked out; None while it isn't."""
    since: Since


def judge(readings: Readings, asks: tuple[Ask, ...], memory: Memory) -> Verdict:
    """The verdict on this scan. Looks at every interlock of the table, in its order."""
    state, lockout = memory.course.state, memory.lockout
    allowed = state in FEEDING and lockout is None
    found = {
        place: evidence
        for place, lock in WATCHING[state]
        if (evidence := lock.finds(readings, memory, asks)) is not None
    }
    if not found and memory.since is NOTHING_SINCE:  # the usual scan
        return Verdict(allowed, (), None, (), lockout.safe if lockout is not None else None, NOTHING_SINCE)
    since = stands_since(found, readings.now_s, memory)
    findings: list[Finding] = []
    trips: list[Interlock] = []
    trip: Finding | None = None
    for place, evidence in found.items():
        lock, clock = INTERLOCKS[place], since[place]
        if clock is None or clock[1] - clock[0] < lock.delay_s(memory):
            continue
        findings.append(lock.finding(evidence, clock[0]))
        if lock.level is Level.TRIP:
            trips.append(lock)
            trip = trip or findings[-1]
    safe = lockout.safe if lockout is not None else None
    for lock in trips:
        safe = lock.safe if safe is None else safe.joined(lock.safe)
    holding = tuple(INTERLOCKS[place].cause for place in found if INTERLOCKS[place].holds_feed)
    return Verdict(allowed and trip is None and not holding, tuple(findings), trip, holding, safe, since)


def stands_since(found: dict[int, Evidence], now_s: float, memory: Memory) -> Since:
    """The clocks of all conditions: those found go on or begin, those gone for as long as their delay end."""
    clocks = list(NOTHING_SINCE)
    for place, _ in WATCHING[memory.course.state]:
        stood = memory.since[place]
        if place in found:
            clocks[place] = (now_s if stood is None else min(stood[0], now_s), now_s)
        elif stood is not None and now_s - stood[1] < INTERLOCKS[place].delay_s(memory):
            clocks[place] = stood
    return tuple(clocks) if any(clocks) else NOTHING_SINCE
