"""The alarms as the person sees them, in the states that alarm management knows (ISA-18.2, from memory).

An alarm that comes is unacknowledged until somebody says that they have seen it. When its condition goes, a warning
that was not acknowledged is kept as returned; a trip is latched until the reset at the kiln. Acknowledging stills the
horn and changes nothing else: no lock-out ends by it.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from daemon.notice import Cause, Finding, Level


class Standing(Enum):
    """Where an alarm stands. Normal alarms are not listed."""

    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned, unacknowledged"
    LATCHED = "latched until the reset"


class Alarm(NamedTuple):
    """One alarm: as it was found, and what became of it since."""

    finding: Finding
    active: bool = True
    """The condition stands now."""
    acknowledged: bool = False
    latched: bool = False
    """It belongs to the lock-out and stays until the reset."""
    first_out: bool = False

    @property
    def standing(self) -> Standing:
        """The one word for it."""
        if self.active:
            return Standing.ACKNOWLEDGED if self.acknowledged else Standing.UNACKNOWLEDGED
        return Standing.LATCHED if self.latched else Standing.RETURNED

    @property
    def key(self) -> Key:
        """What makes it the same alarm when it comes again."""
        return key_of(self.finding)


Alarms = tuple[Alarm, ...]
Key = tuple[Cause, Level, str]


def key_of(finding: Finding) -> Key:
    """Cause, weight, and what it is about where one cause has several instruments."""
    return finding.cause, finding.level, finding.about


def by_key(findings: tuple[Finding, ...]) -> dict[Key, Finding]:
    """The first finding of each key, in their order."""
    kept: dict[Key, Finding] = {}
    for finding in findings:
        kept.setdefault(key_of(finding), finding)
    return kept


def next_alarms(last: Alarms, found: tuple[Finding, ...], locked_by: tuple[Finding, ...], acknowledged: bool) -> Alarms:
    """The alarms after a scan that found `found`; `locked_by` are the trips of the lock-out, the first-out first.

    `acknowledged`: somebody acknowledged what stood before this scan. Returns `last` itself when nothing changed.
    """
    if not last and not found and not locked_by:
        return last
    standing, latched = by_key(found), by_key(locked_by)
    first = locked_by[0] if locked_by else None
    alarms = []
    for alarm in last:
        finding, locked = standing.pop(alarm.key, None), latched.pop(alarm.key, None) is not None
        known = alarm.acknowledged or acknowledged
        if finding is not None and not alarm.active:  # it comes again: a new alarm
            alarms.append(Alarm(alarm.finding if alarm.latched else finding, latched=locked))
        elif finding is not None or locked or not known:
            alarms.append(Alarm(alarm.finding, finding is not None, known, locked))
    alarms += [Alarm(f, latched=latched.pop(key, None) is not None) for key, f in standing.items()]
    alarms += [Alarm(f, active=False, latched=True) for f in latched.values()]
    marked = tuple(
        alarm._replace(first_out=True) if first is not None and alarm.key == key_of(first) else alarm
        for alarm in alarms
    )
    return last if marked == last else marked


def has_unseen(alarms: Alarms) -> bool:
    """Whether any alarm waits to be acknowledged."""
    return any(not alarm.acknowledged for alarm in alarms)
