"""Attendance: somebody is at the kiln and says so. First a reminder, then the horn, then the feed locks out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from daemon.settings import AttendanceTable


class Call(Enum):
    """How loudly the daemon calls for the person."""

    QUIET = "quiet"
    REMINDER = "reminder"
    HORN = "horn"
    OVERDUE = "overdue"


@dataclass(frozen=True, slots=True)
class Attendance:
    """When somebody was last known to be there, and how loudly they are called now."""

    present_s: float
    call: Call = Call.QUIET


def next_attendance(last: Attendance, now_s: float, present: bool, table: AttendanceTable) -> Attendance:
    """The call at this moment. `present`: somebody answered since the last time."""
    if present:
        return Attendance(now_s)
    late_s = now_s - last.present_s - table.every_min * 60
    if late_s < 0:
        call = Call.QUIET
    elif late_s < table.horn_after_min * 60:
        call = Call.REMINDER
    elif late_s < table.trip_after_min * 60:
        call = Call.HORN
    else:
        call = Call.OVERDUE
    return last if call is last.call else Attendance(last.present_s, call)
