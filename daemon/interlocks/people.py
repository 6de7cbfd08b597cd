"""What people say and what warns them: the stop button, a stop asked for, attendance, the carbon monoxide alarm."""

from __future__ import annotations

from daemon.course.asks import Word
from daemon.course.attendance import Call
from daemon.interlocks.interlock import Evidence
from daemon.interlocks.scene import Scene
from daemon.units import words_duration


def stop_button(scene: Scene) -> Evidence | None:
    """The stop button is pressed, or its wire (normally closed) is broken."""
    return Evidence("") if scene.readings.stop_pressed is True else None


def stop_asked(scene: Scene) -> Evidence | None:
    """Somebody asked for a stop on the page or the terminal."""
    for ask in scene.asks:
        if ask.word is Word.STOP:
            return Evidence(ask.source)
    return None


def nobody_there(scene: Scene) -> Evidence | None:
    """The call for attendance went unanswered to its end."""
    if scene.beat.attendance.call is not Call.OVERDUE:
        return None
    table, gone_s = scene.settings.attendance, scene.readings.now_s - scene.beat.attendance.present_s
    return Evidence(words_duration(gone_s), gone_s, (table.every_min + table.trip_after_min) * 60, "s")


def co_alarm(scene: Scene) -> Evidence | None:
    """The carbon monoxide alarm sounds, or its wire (normally closed) is broken."""
    return Evidence("") if scene.readings.co_alarm is True else None
