"""The only thing that lives from scan to scan: in as an argument, out as a result. Everything in it is frozen."""

from __future__ import annotations

from typing import NamedTuple

from daemon.beat import Beat
from daemon.control.pulse import Pulse
from daemon.course.alarms import Alarms, has_unseen, next_alarms
from daemon.course.answers import Circumstances
from daemon.course.asks import Answer, Ask
from daemon.fire.auger import AugerWatch
from daemon.interlocks.scene import Scene
from daemon.interlocks.verdict import NOTHING_SINCE, Since
from daemon.lockout import Lockout, beat_by_lockout, next_lockout
from daemon.notice import Finding
from daemon.plans.plan import Plan
from daemon.reset_button import NOBODY_PRESSES, ResetButton
from daemon.row import Row
from daemon.settings import SCAN_S, Settings
from daemon.setup import Setup
from hardware.port import Outputs, Readings

ANSWERS_KEPT = 8


class Memory(NamedTuple):
    """What the daemon remembers. `readings` and `done` are the last scan's, `beat` is the last beat."""

    setup: Setup
    beat: Beat = Beat()
    pulse: Pulse = Pulse()
    auger: AugerWatch = AugerWatch()
    since: Since = NOTHING_SINCE
    lockout: Lockout | None = None
    reset_button: ResetButton = NOBODY_PRESSES
    readings: Readings | None = None
    done: Outputs = Outputs()
    feed_held: bool = False
    """An interlock held the feed in the last scan."""
    answers: tuple[Answer, ...] = ()
    """The last few, newest last."""
    findings: tuple[Finding, ...] = ()
    alarms: Alarms = ()
    record_trouble: str | None = None
    """What keeps the record from being written."""

    @property
    def settings(self) -> Settings:
        """The settings."""
        return self.setup.settings

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self.setup.plan

    @property
    def unproven_s(self) -> float:
        """Auger time since the last sign that what is fed burns, s."""
        return self.auger.fed_s - self.beat.signs.sign_fed_s

    @property
    def fed_kg(self) -> float:
        """Pellets fed in this firing, kg, by the auger's weighed rate. What a jammed auger was driven doesn't count."""
        idle_s = self.auger.idle_s + (self.auger.unturned_s if self.jammed else 0.0)
        return (self.auger.fed_s - idle_s) * self.setup.settings.kiln.auger_kg_per_h / 3600

    @property
    def jammed(self) -> bool:
        """The auger was driven for long enough without its shaft seen turning."""
        still = self.readings is not None and self.readings.shaft_turning is False
        return still and self.auger.unturned_s >= self.setup.settings.limits.auger_still_s

    @property
    def unproven_kg(self) -> float:
        """Pellets fed since the last sign that they burn, kg."""
        return self.unproven_s * self.setup.settings.kiln.auger_kg_per_h / 3600

    @property
    def circumstances(self) -> Circumstances:
        """What an ask is answered by."""
        fan_still = self.done.fan_frac == 0.0
        unseen = has_unseen(self.alarms)
        return Circumstances(self.setup, self.beat.course, self.readings, fan_still, unseen, self.record_trouble)

    def after(self, row: Row, record_trouble: str | None = None) -> Memory:
        """The memory the next scan starts from. A trip locks out here, whatever the course wished."""
        wish, verdict, now_s = row.wish, row.verdict, row.now_s
        lockout = next_lockout(self.lockout, verdict, self.beat.course.state, wish.reset, now_s)
        began, refused = lockout is not None and self.lockout is None, lockout is not None and wish.reset
        beat = wish.beat
        if began or refused or beat.course.left_off is not None:
            beat = beat_by_lockout(beat, self.beat, began, refused, verdict, self.unproven_s, now_s)
        alarms = self.alarms
        if alarms or verdict.findings or lockout is not None:
            locked_by = lockout.trips if lockout is not None else ()
            alarms = next_alarms(alarms, verdict.findings, locked_by, wish.alarms_seen or wish.reset)
        return Memory(
            setup=self.setup,
            beat=beat,
            pulse=wish.pulse,
            auger=self.auger_after(row),
            since=verdict.since,
            lockout=lockout,
            reset_button=wish.reset_button,
            readings=row.readings,
            done=row.done,
            feed_held=bool(verdict.holding),
            answers=(*self.answers, *wish.answers)[-ANSWERS_KEPT:] if wish.answers else self.answers,
            findings=verdict.findings,
            alarms=alarms,
            record_trouble=record_trouble,
        )

    def auger_after(self, row: Row) -> AugerWatch:
        """What the auger did, by the levels read back in this scan and its shaft."""
        last, now_s, fed_s = self.auger, row.now_s, row.wish.fed_s
        turns = row.readings.shaft_turning is True
        pause_s, row_s, driven_s = 0.0, last.row_s, last.driven_s
        moves = turns or row.done.auger or row.driven.auger or fed_s != last.fed_s
        if not moves and row_s == 0.0 and last.paused_turning_s == 0.0 and (driven_s is None or driven_s <= now_s):
            return last  # the usual scan: it stands still, and did before
        if self.readings is not None:
            if not self.done.auger:
                pause_s = max(now_s - self.readings.now_s, 0.0)
            if self.beat.at_s == self.readings.now_s:  # the last scan was a beat: its row has recorded what was counted
                row_s = 0.0
        if row.driven.auger:
            driven_s = now_s
        elif driven_s is not None:
            driven_s = min(driven_s, now_s)
        idle_s = last.idle_s if fed_s >= last.fed_s else 0.0  # a new firing counts from nothing
        if turns and self.jammed:
            idle_s += last.unturned_s
        return AugerWatch(
            fed_s=fed_s,
            idle_s=idle_s,
            turned_fed_s=fed_s if turns else min(last.turned_fed_s, fed_s),
            driven_s=driven_s,
            paused_turning_s=last.paused_turning_s + pause_s if turns else 0.0,
            row_s=row_s + SCAN_S if row.done.auger else row_s,
        )

    def scene(self, readings: Readings, asks: tuple[Ask, ...]) -> Scene:
        """What the interlocks look at in a scan with these readings and asks."""
        setup = self.setup
        return Scene(
            readings, asks, self.readings, self.done, setup.settings, setup.settings.limits, setup.plan, self.beat,
            self.auger, self.record_trouble,
        )  # fmt: skip
