"""The only thing that lives from scan to scan: in as an argument, out as a result. Everything in it is frozen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from daemon.air import Air
from daemon.asks import Answer
from daemon.attendance import Attendance
from daemon.course import Course, State
from daemon.feed import NO_FEED, Feed
from daemon.fire import Fire
from daemon.heat import Heat
from daemon.interlocks import SafeFan
from daemon.judge import NOTHING_SINCE, Since
from daemon.notice import Cause, Finding, Level, Notice
from daemon.plan import Plan
from daemon.pulse import Pulse
from daemon.settings import Settings
from hardware.port import Outputs, Readings

if TYPE_CHECKING:
    from daemon.scan import Row

BEAT_S = 1.0
"""Course, air and trim move once a second; judging, permitting and the feed contact move in every scan."""


@dataclass(frozen=True, slots=True)
class Lockout:
    """The feed is locked out. It outlasts good readings; the reset button, held at the kiln, ends it."""

    first_out: Finding
    at_s: float
    was: State
    fan: SafeFan
    also: tuple[Finding, ...] = ()

    @property
    def causes(self) -> tuple[Cause, ...]:
        """Every cause that has tripped since, the first-out first."""
        return (self.first_out.cause, *(f.cause for f in self.also))


class Memory(NamedTuple):
    """What the daemon remembers. `readings` and `done` are the last scan's; `beat_s` is the last beat."""

    settings: Settings
    plan: Plan
    course: Course = Course()
    feed: Feed = NO_FEED
    pulse: Pulse = Pulse(0.0, -1e9)
    air: Air = Air()
    attendance: Attendance = Attendance(0.0)
    fire: Fire = Fire(0.0)
    heat: Heat = Heat()
    since: Since = NOTHING_SINCE
    lockout: Lockout | None = None
    reset_since_s: float | None = None
    beat_s: float = -1e9
    fed_s: float = 0.0
    """Auger time since the fire was lit, seconds, by the levels read back."""
    readings: Readings | None = None
    done: Outputs = Outputs()
    held: bool = False
    """An interlock held the feed in the last scan."""
    turned_fed_s: float = 0.0
    """`fed_s` when the auger's shaft was last seen turning."""
    driven_s: float = -1e9
    """When the feed contact was last driven closed."""
    answers: tuple[Answer, ...] = ()
    """The last few, newest last."""
    findings: tuple[Finding, ...] = ()

    @property
    def fed_kg(self) -> float:
        """Pellets fed in this firing, kg, by the auger's weighed rate."""
        return self.fed_s * self.settings.kiln.auger_kg_per_h / 3600

    def after(self, row: Row) -> Memory:
        """The memory the next scan starts from. A trip locks out here, whatever the course wished."""
        wish, verdict = row.wish, row.verdict
        course, lockout, fed_s = wish.course, self.lockout, wish.fed_s
        if verdict.trip is not None and lockout is None:
            lockout = Lockout(verdict.trip, row.now_s, self.course.state, verdict.fan)
            course = locked_out(self.course, wish.course.lit, row.now_s)
        elif verdict.trip is not None and lockout is not None:
            fresh = tuple(f for f in verdict.findings if f.level is Level.TRIP and f.cause not in lockout.causes)
            if fresh:
                lockout = replace(lockout, also=(*lockout.also, *fresh))
        elif lockout is not None and wish.reset:
            lockout = None
        if lockout is not None and wish.reset:  # a cause still stands: nothing was reset
            course = self.course
        answers = (*self.answers, *wish.answers)[-8:] if wish.answers else self.answers
        turned = row.readings.shaft_turning is True
        turned_fed_s = fed_s if turned else min(self.turned_fed_s, fed_s)
        return Memory(
            self.settings, self.plan, course, wish.feed, wish.pulse, wish.air, wish.attendance, wish.fire, wish.heat,
            verdict.since, lockout, wish.reset_since_s, wish.beat_s, fed_s, row.readings, row.done,
            bool(verdict.holding), turned_fed_s,
            row.now_s if row.driven.auger else self.driven_s, answers,
            verdict.findings,
        )  # fmt: skip


def locked_out(course: Course, lit_now: bool, now_s: float) -> Course:
    """The course once the feed is locked out: no stage, no aim; what burns, or was lit in this very scan, burns on."""
    return Course(State.LOCKED_OUT, now_s, begun_s=course.begun_s, lit=course.lit or lit_now)


def interrupted(settings: Settings, plan: Plan, now_s: float, was: State, happened: str) -> Memory:
    """The memory to start from when the record ends in the middle of a firing: locked out, feed off, and saying so."""
    notice = Notice(
        happened,
        "The feed stays off and is locked out; fan at its lowest.",
        "Look at the kiln. When the bed is out or safe, hold reset there: the firing then ends in burn-down.",
    )
    finding = Finding(Cause.INTERRUPTED, Level.TRIP, now_s, notice)
    course = Course(State.LOCKED_OUT, now_s, begun_s=now_s, lit=True)
    return Memory(
        settings, plan, course, attendance=Attendance(now_s), lockout=Lockout(finding, now_s, was, SafeFan.LOWEST)
    )
