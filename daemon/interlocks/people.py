"""What people say and what warns them: the stop button, a stop asked for, attendance, the carbon monoxide alarm."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daemon.course.asks import Ask, Word
from daemon.course.attendance import Call
from daemon.interlocks.interlock import Evidence
from daemon.units import words_duration
from hardware.port import Readings

if TYPE_CHECKING:
    from daemon.memory import Memory


def stop_button(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The stop button is pressed, or its wire (normally closed) is broken."""
    return Evidence("") if readings.stop_pressed is True else None


def stop_asked(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """Somebody asked for a stop on the page or the terminal."""
    for ask in asks:
        if ask.word is Word.STOP:
            return Evidence(ask.source)
    return None


def nobody_there(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The call for attendance went unanswered to its end."""
    if memory.attendance.call is not Call.OVERDUE:
        return None
    table, gone_s = memory.settings.attendance, readings.now_s - memory.attendance.seen_s
    return Evidence(words_duration(gone_s), gone_s, (table.every_min + table.trip_after_min) * 60, "s")


def co_alarm(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The carbon monoxide alarm sounds, or its wire (normally closed) is broken."""
    return Evidence("") if readings.co_alarm is True else None
