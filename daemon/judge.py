"""Judge: what the readings mean for safety, in every state, hand operation too. Pure: values in, a verdict out."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from daemon.asks import Ask
from daemon.course import FEEDING, State
from daemon.interlocks import INTERLOCKS, Interlock, SafeFan
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
    """What may be done. `feed_allowed` is the only way to a closed feed contact; `fan` overrides the wish."""

    feed_allowed: bool
    findings: tuple[Finding, ...]
    trip: Finding | None
    """The first trip of this scan. In a lock-out the first-out in the memory is the one that counts."""
    holding: tuple[Cause, ...]
    """Conditions that hold the feed now, whether or not they have lasted long enough to trip."""
    fan: SafeFan
    since: Since
    healthy: bool
    """False once the auger was found running by itself: the keep-alive then stands still until the reset."""


def judge(readings: Readings, asks: tuple[Ask, ...], memory: Memory) -> Verdict:
    """The verdict on this scan. Looks at every interlock of the table, in its order."""
    now_s, state = readings.now_s, memory.course.state
    allowed = state in FEEDING and memory.lockout is None
    fan = SafeFan.AS_IT_WAS
    since: Since = NOTHING_SINCE
    findings: tuple[Finding, ...] = ()
    holding: tuple[Cause, ...] = ()
    trip: Finding | None = None
    for place, lock in WATCHING[state]:
        evidence = lock.finds(readings, memory, asks)
        stood = memory.since[place]
        if evidence is None:
            if stood is not None and now_s - stood[1] < lock.delay_s(memory):
                since = (*since[:place], stood, *since[place + 1 :])
            continue
        began_s = now_s if stood is None else stood[0]
        since = (*since[:place], (began_s, now_s), *since[place + 1 :])
        if lock.holds_feed:
            holding = (*holding, lock.cause)
        if now_s - began_s < lock.delay_s(memory):
            continue
        finding = Finding(lock.cause, lock.level, began_s, lock.notice(evidence, now_s))
        findings = (*findings, finding)
        if lock.level is Level.TRIP and trip is None:
            trip, fan = finding, lock.fan
    runs = trip is not None and trip.cause is Cause.AUGER_RUNS
    known = memory.lockout is not None and Cause.AUGER_RUNS in memory.lockout.causes
    return Verdict(allowed and trip is None and not holding, findings, trip, holding, fan, since, not (runs or known))
