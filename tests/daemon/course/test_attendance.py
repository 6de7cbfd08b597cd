"""Attendance: first a reminder, then the horn, then the feed locks out."""

from daemon.course.attendance import Attendance, Call, next_attendance
from daemon.settings import AttendanceTable

TABLE = AttendanceTable(every_min=20, horn_after_min=3, trip_after_min=6)


def test_the_calls_come_in_their_order_at_their_times() -> None:
    attendance = Attendance(0.0)
    heard: list[tuple[int, Call]] = []
    for now_s in range(30 * 60):
        attendance = next_attendance(attendance, float(now_s), False, TABLE)
        if not heard or heard[-1][1] is not attendance.call:
            heard.append((now_s, attendance.call))
    assert heard == [(0, Call.QUIET), (1200, Call.REMINDER), (1380, Call.HORN), (1560, Call.OVERDUE)]


def test_an_answer_at_any_time_starts_the_clock_again() -> None:
    attendance = Attendance(0.0)
    for now_s in range(1550):
        attendance = next_attendance(attendance, float(now_s), False, TABLE)
    assert attendance.call is Call.HORN
    attendance = next_attendance(attendance, 1550.0, True, TABLE)
    assert attendance == Attendance(1550.0, Call.QUIET)
    assert next_attendance(attendance, 1550.0 + 1199, False, TABLE).call is Call.QUIET
    assert next_attendance(attendance, 1550.0 + 1200, False, TABLE).call is Call.REMINDER


def test_nobody_is_forgotten_when_scans_were_missed() -> None:
    assert next_attendance(Attendance(0.0), 1e5, False, TABLE).call is Call.OVERDUE
