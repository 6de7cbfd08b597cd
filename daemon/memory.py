"""The only thing that lives from scan to scan: in as an argument, out as a result. Everything in it is frozen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from daemon.control.air import Air
from daemon.control.feed import NO_FEED, Feed
from daemon.control.pulse import Pulse
from daemon.course.alarms import Alarms, next_alarms
from daemon.course.asks import Answer
from daemon.course.attendance import Attendance
from daemon.course.resume import leave_off
from daemon.course.state import Course, LeftOff, State
from daemon.fire.estimate import NO_ESTIMATE, Estimate
from daemon.fire.probe_drift import ProbeDrift
from daemon.fire.signs import FireSigns
from daemon.fire.trace import Trace
from daemon.interlocks import LESS_AIR, Safe, resumes
from daemon.judge import NOTHING_SINCE, Since
from daemon.notice import RESET_NEXT, Cause, Finding, Level, Notice
from daemon.plans.heat_work import Climb
from daemon.plans.plan import Plan
from daemon.settings import Settings
from hardware.port import Outputs, Readings

if TYPE_CHECKING:
    from daemon.scan import Row

BEAT_S = 1.0
"""Course, air and feed move once a second; judging, permitting and the feed contact move in every scan."""


@dataclass(frozen=True, slots=True)
class Lockout:
    """The feed is locked out. It outlasts good readings; the reset button, held at the kiln, ends it."""

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


class Memory(NamedTuple):
    """What the daemon remembers. `readings` and `done` are the last scan's; `beat_s` is the last beat."""

    settings: Settings
    plan: Plan
    course: Course = Course()
    feed: Feed = NO_FEED
    pulse: Pulse = Pulse(0.0, -1e9)
    air: Air = Air()
    attendance: Attendance = Attendance(0.0)
    fire: FireSigns = FireSigns(0.0)
    heat: Climb = Climb()
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
    alarms: Alarms = ()
    traces: Mapping[str, Trace] = MappingProxyType({})
    trouble: str | None = None
    """What keeps the record from being written."""
    balance: ProbeDrift | None = None
    hearth: Estimate = NO_ESTIMATE
    paused_turning_s: float = 0.0
    """For how long, in the pauses of the feed, the shaft turned, since it was last seen standing."""

    @property
    def fed_kg(self) -> float:
        """Pellets fed in this firing, kg, by the auger's weighed rate."""
        return self.fed_s * self.settings.kiln.auger_kg_per_h / 3600

    @property
    def unproven_kg(self) -> float:
        """Pellets fed since the last sign that they burn, kg."""
        return (self.fed_s - self.fire.sign_fed_s) * self.settings.kiln.auger_kg_per_h / 3600

    def after(self, row: Row, trouble: str | None = None) -> Memory:
        """The memory the next scan starts from. A trip locks out here, whatever the course wished."""
        wish, verdict = row.wish, row.verdict
        course, air, lockout, fed_s = wish.course, wish.air, self.locked(row), wish.fed_s
        if lockout is not None and wish.reset:  # a cause still stands: nothing was reset
            course, air = self.course, self.air
        if lockout is not None and self.lockout is None:
            course = locked_out(self, wish.course.lit, row)
        elif course.left is not None and not resumes(verdict.findings):
            course = replace(course, left=None)
        alarms = self.alarms
        if alarms or verdict.findings or lockout is not None:
            locked_by = lockout.trips if lockout is not None else ()
            alarms = next_alarms(alarms, verdict.findings, locked_by, wish.seen or wish.reset)
        answers = (*self.answers, *wish.answers)[-8:] if wish.answers else self.answers
        turned = row.readings.shaft_turning is True
        turned_fed_s = fed_s if turned else min(self.turned_fed_s, fed_s)
        return Memory(
            self.settings, self.plan, course, wish.feed, wish.pulse, air, wish.attendance, wish.fire, wish.heat,
            verdict.since, lockout, wish.reset_since_s, wish.beat_s, fed_s, row.readings, row.done,
            bool(verdict.holding), turned_fed_s,
            row.now_s if row.driven.auger else min(self.driven_s, row.now_s), answers,
            verdict.findings, alarms, wish.traces, trouble, wish.balance, wish.hearth, self.paused_turning(row),
        )  # fmt: skip

    def paused_turning(self, row: Row) -> float:
        """The pauses gone by with a shaft that turned."""
        if row.readings.shaft_turning is not True:
            return 0.0
        if self.done.auger or self.readings is None:
            return self.paused_turning_s
        return self.paused_turning_s + max(row.now_s - self.readings.now_s, 0.0)

    def locked(self, row: Row) -> Lockout | None:
        """The lock-out after this scan: begun by a trip, gone by the reset once no cause stands, else as it was."""
        verdict, lockout = row.verdict, self.lockout
        if verdict.trip is None:
            return None if row.wish.reset else lockout
        safe = verdict.safe or LESS_AIR
        tripped = tuple(f for f in verdict.findings if f.level is Level.TRIP)
        if lockout is None:
            return Lockout(verdict.trip, row.now_s, self.course.state, safe, tripped[1:])
        fresh = tuple(f for f in tripped if f.cause not in lockout.causes)
        return replace(lockout, also=(*lockout.also, *fresh), safe=safe) if fresh else lockout


def locked_out(memory: Memory, lit_now: bool, row: Row) -> Course:
    """The course once the feed is locked out: no stage, no aim; what burns, or was lit in this very scan, burns on.

    Where the firing was is kept when it may be taken up again.
    """
    course, left = memory.course, memory.course.left
    if not resumes(row.verdict.findings):
        left = None
    elif left is None:
        left = leave_off(row.now_s, memory)
    return Course(State.LOCKED_OUT, row.now_s, begun_s=course.begun_s, lit=course.lit or lit_now, left=left)


def interrupted(
    settings: Settings, plan: Plan, now_s: float, was: State, happened: str, burns: bool, left: LeftOff | None = None
) -> Memory:
    """The memory to start from when the record ends in the middle of a firing: locked out, feed off, and saying so.

    `burns`: a fire was there, and gets the fan at its lowest.
    """
    go_on = " While the bed still burns and the kiln is hot enough the firing can be resumed." if left else ""
    notice = Notice(
        happened,
        f"The feed stays off and is locked out; fan {'at its lowest' if burns else 'off'}.",
        f"Look at the kiln through the spy-hole with eye protection. {RESET_NEXT} What burns then burns down.{go_on}",
    )
    finding = Finding(Cause.INTERRUPTED, Level.TRIP, now_s, notice)
    course = Course(State.LOCKED_OUT, now_s, begun_s=now_s, lit=True, left=left)
    air = Air(fan_frac=settings.air.fan_lowest_frac if burns else 0.0, damper_frac=settings.air.damper_set_frac)
    lockout = Lockout(finding, now_s, was, LESS_AIR)
    return Memory(
        settings, plan, course, air=air, attendance=Attendance(now_s), lockout=lockout,
        alarms=next_alarms((), (), lockout.trips, seen=False),
    )  # fmt: skip
