"""Judge: what the readings mean for safety, in every state, hand operation too. Pure: values in, a verdict out."""

from __future__ import annotations

from daemon.course.asks import Ask
from daemon.course.state import FEEDING, State
from daemon.interlocks.interlock import Evidence, Finds
from daemon.interlocks.table import INTERLOCKS
from daemon.interlocks.verdict import NOTHING_SINCE, Since, Verdict
from daemon.memory import Memory
from daemon.notice import Finding, Level
from daemon.settings import LimitsTable
from hardware.port import Readings

WATCHING: dict[State, tuple[tuple[int, Finds], ...]] = {
    state: tuple((place, lock.finds) for place, lock in enumerate(INTERLOCKS) if state in lock.states)
    for state in State
}
"""What looks in each state: an interlock's place in the table, and its function."""


def judge(readings: Readings, asks: tuple[Ask, ...], memory: Memory) -> Verdict:
    """The verdict on this scan. Looks at every interlock of the table, in its order."""
    state, lockout, limits = memory.beat.course.state, memory.lockout, memory.setup.settings.limits
    allowed, safe = state in FEEDING and lockout is None, lockout.safe if lockout is not None else None
    scene = memory.scene(readings, asks)
    found = {place: evidence for place, finds in WATCHING[state] if (evidence := finds(scene)) is not None}
    if not found and memory.since is NOTHING_SINCE:  # the usual scan
        return Verdict(allowed, (), None, (), safe, NOTHING_SINCE)
    since = stands_since(found, readings.now_s, state, memory.since, limits)
    findings: list[Finding] = []
    trip: Finding | None = None
    for place, evidence in found.items():
        lock, clock = INTERLOCKS[place], since[place]
        if clock is None or clock[1] - clock[0] < lock.delay_s(limits, state):
            continue
        findings.append(lock.finding(evidence, clock[0]))
        if lock.level is Level.TRIP:
            safe = lock.safe if safe is None else safe.join(lock.safe)
            trip = findings[-1] if trip is None else trip
    holding = tuple(INTERLOCKS[place].cause for place in found if INTERLOCKS[place].holds_feed)
    return Verdict(
        feed_allowed=allowed and trip is None and not holding, findings=tuple(findings), trip=trip, holding=holding,
        safe=safe, since=since,
    )  # fmt: skip


def stands_since(found: dict[int, Evidence], now_s: float, state: State, last: Since, limits: LimitsTable) -> Since:
    """The clocks of all conditions: those found go on or begin, those gone for as long as their delay end."""
    clocks = list(NOTHING_SINCE)
    for place, _ in WATCHING[state]:
        stood = last[place]
        if place in found:
            clocks[place] = (now_s if stood is None else min(stood[0], now_s), now_s)
        elif stood is not None and now_s - stood[1] < INTERLOCKS[place].delay_s(limits, state):
            clocks[place] = stood
    return tuple(clocks) if any(clocks) else NOTHING_SINCE
