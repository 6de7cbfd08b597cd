"""The lock-out: how it begins, what holds it, what ends it, and what the course becomes.

A trip begins it. It outlasts good readings and restarts. The reset button, held at the kiln and let go, ends it once no
cause stands. No ask can.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from daemon.beat import Beat
from daemon.course.resume import leave_off
from daemon.course.state import Course, State, chamber_c, enter
from daemon.interlocks.interlock import LESS_AIR, Safe
from daemon.interlocks.table import resumes
from daemon.interlocks.verdict import Verdict
from daemon.notice import RESET_NEXT, Cause, Finding, Level, Notice
from daemon.settings import LimitsTable
from hardware.port import Readings


@dataclass(frozen=True, slots=True)
class Lockout:
    """The feed is locked out. `was` is the state it began in."""

    first_out: Finding
    at_s: float
    was: State
    safe: Safe
    also: tuple[Finding, ...] = ()

    @property
    def trips(self) -> tuple[Finding, ...]:
        """Every trip since, the first-out first."""
        return (self.first_out, *self.also)

    @property
    def causes(self) -> tuple[Cause, ...]:
        """Every cause that has tripped since, the first-out first."""
        return tuple(f.cause for f in self.trips)


def next_lockout(last: Lockout | None, verdict: Verdict, state: State, reset: bool, now_s: float) -> Lockout | None:
    """The lock-out after a scan: begun by a trip, gone by the reset once no cause stands, else as it was."""
    if verdict.trip is None:
        return None if reset else last
    safe = verdict.safe if verdict.safe is not None else LESS_AIR
    trips = tuple(f for f in verdict.findings if f.level is Level.TRIP)
    if last is None:
        return Lockout(verdict.trip, now_s, state, safe, trips[1:])
    fresh = tuple(f for f in trips if f.cause not in last.causes)
    return replace(last, also=(*last.also, *fresh), safe=safe) if fresh else last


def beat_by_lockout(
    beat: Beat, before: Beat, began: bool, refused: bool, verdict: Verdict, unproven_s: float, now_s: float
) -> Beat:
    """The beat as the lock-out lets it be.

    `began`: the feed was locked out in this scan. `refused`: a reset found a cause standing, and nothing was reset.
    `unproven_s`: auger time since the last sign of fire.
    """
    if began:
        return beat._replace(course=course_after_trip(beat.course.lit, before, verdict, unproven_s, now_s))
    if refused:
        beat = beat._replace(course=before.course, air=before.air)
    if beat.course.left_off is not None and not resumes(verdict.findings):
        return beat._replace(course=replace(beat.course, left_off=None))
    return beat


def course_after_trip(lit_now: bool, before: Beat, verdict: Verdict, unproven_s: float, now_s: float) -> Course:
    """The course once the feed is locked out: no stage, no setpoint; what burns, or was lit in this scan, burns on.

    Where the firing was is kept when it may be taken up again.
    """
    course, left_off = before.course, before.course.left_off
    if not resumes(verdict.findings):
        left_off = None
    elif left_off is None:
        trace = before.traces.get("chamber")
        left_off = leave_off(now_s, course, trace.good_c if trace is not None else None, unproven_s)
    lit = course.lit or lit_now
    return Course(State.LOCKED_OUT, now_s, begun_s=course.begun_s, lit=lit, left_off=left_off)


def course_after_reset(course: Course, readings: Readings, limits: LimitsTable) -> Course:
    """After a reset: what may still burn burns down, what is hot or can't be read cools, else the kiln is cold."""
    now_s, hot_c = readings.now_s, chamber_c(readings)
    if course.lit:
        return enter(course, State.BURN_DOWN, now_s)
    if hot_c is None or hot_c >= limits.cold_c:
        return enter(course, State.COOLING, now_s)
    return Course(since_s=now_s)


def lockout_by_interruption(now_s: float, was: State, happened: str, burns: bool, may_resume: bool) -> Lockout:
    """The lock-out to start in when the record ends in the middle of a firing; `happened` says what was found.

    `burns`: a fire was there, and gets the fan at its lowest.
    """
    go_on = " While the bed still burns and the kiln is hot enough the firing can be resumed." if may_resume else ""
    notice = Notice(
        happened,
        f"The feed stays off and is locked out; fan {'at its lowest' if burns else 'off'}.",
        f"Look at the kiln through the spy-hole with eye protection. {RESET_NEXT} What burns then burns down.{go_on}",
    )
    return Lockout(Finding(Cause.INTERRUPTED, Level.TRIP, now_s, notice), now_s, was, LESS_AIR)
