"""The events of a scan: what came, went or was said, each in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from daemon.control.air import Air
from daemon.course.alarms import Alarms
from daemon.course.attendance import Call
from daemon.course.state import State
from daemon.course.waiting import wait_notice
from daemon.lockout import Lockout
from daemon.memory import Memory
from daemon.notice import Finding, Level, Notice
from daemon.row import Row

CALLS = {
    Call.QUIET: "Somebody answered.",
    Call.REMINDER: "Is anybody there? The lamp is lit.",
    Call.HORN: "Is anybody there? The horn sounds.",
    Call.OVERDUE: "Nobody answered.",
}


class Event(NamedTuple):
    """One event. `found` has the number behind it, where there is one."""

    kind: str
    cause: str
    notice: Notice
    found: Finding | None = None


def events_of(row: Row, before: Memory, after: Memory) -> Iterator[Event]:
    """The events of a scan, in the order in which they are kept."""
    was, now = before.beat.course, after.beat.course
    for answer in row.wish.answers:
        word = answer.ask.word.value
        notice = Notice(f"{answer.ask.source}: {word}", "", answer.why)
        yield Event("told" if answer.accepted else "refused", word, notice)
    if after.alarms is not before.alarms:
        yield from alarm_events(before.alarms, after.alarms)
    if before.lockout is not None and after.lockout is None:
        yield Event("reset", before.lockout.first_out.cause.value, Notice("Reset at the kiln.", "", ""))
    if now.state is not was.state:
        yield state_event(was.state, now.state)
    if now.stage != was.stage and now.stage is not None:
        yield Event("stage", str(now.stage + 1), Notice(after.plan.stages[now.stage].name, "", ""))
    if now.waits is not was.waits:
        notice = wait_notice(after.beat.feed.limited_by) if now.waits else Notice("The plan goes on.", "", "")
        yield Event("plan", "waits" if now.waits else "goes on", notice)
    if request_changed(before.beat.air, after.beat.air):
        yield request_event(before.beat.air, after.beat.air)
    call = after.beat.attendance.call
    if call is not before.beat.attendance.call:
        yield Event("call", call.value, Notice(CALLS[call], "", ""))


def start_events(found: State | None, lockout: Lockout | None) -> Iterator[Event]:
    """What is kept when the daemon starts: what it found, and the lock-out it comes up in."""
    words = found.value if found is not None else "nothing"
    yield Event("start", words, Notice("The daemon started.", "The feed is off.", ""))
    if lockout is not None:
        for finding in lockout.trips:
            yield Event("trip", finding.cause.value, finding.notice, finding)
        yield state_event(lockout.was, State.LOCKED_OUT)


def state_event(was: State, now: State) -> Event:
    """From one state to another."""
    return Event("state", now.value, Notice(f"From {was.value} to {now.value}.", "", ""))


def alarm_events(before: Alarms, after: Alarms) -> Iterator[Event]:
    """Every alarm that came, was acknowledged, went, or was forgotten because it had been seen."""
    known, left = {alarm.key: alarm for alarm in before}, {alarm.key for alarm in after}
    for alarm in after:
        was, finding = known.get(alarm.key), alarm.finding
        if was is None or was.finding is not finding:
            kind = "trip" if finding.level is Level.TRIP else "warning"
            yield Event(kind, finding.cause.value, finding.notice, finding)
        elif was.standing is not alarm.standing:
            yield Event("alarm", finding.cause.value, Notice(alarm.standing.value.capitalize() + ".", "", ""))
    for alarm in before:
        if alarm.key not in left:
            yield Event("alarm", alarm.finding.cause.value, Notice("Normal again.", "", ""))


def request_event(was: Air, now: Air) -> Event:
    """A person was asked to move the damper, or it was done."""
    if now.request is not None:
        return Event("air", "asked", Notice("", "", now.request))
    return Event("air", "done", Notice(was.request if was.request is not None else "", "", ""))


def request_changed(was: Air, now: Air) -> bool:
    """Whether a request came, went, or is for another draught. Its words follow the gauge, and are not news."""
    came_or_went = (was.request is None) is not (now.request is None)
    return came_or_went or (now.request is not None and now.setpoint_pa != was.setpoint_pa)
