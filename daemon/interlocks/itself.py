"""The daemon looks at itself: scans that come late, clocks that lie, a record that can't be written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daemon.course.asks import Ask
from daemon.interlocks.interlock import Evidence
from daemon.units import words_duration
from hardware.port import Readings

if TYPE_CHECKING:
    from daemon.memory import Memory


def scan_late(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """This scan came late."""
    return gap_over(readings, memory, memory.settings.limits.scan_late_s)


def scan_stopped(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """Nothing was looked at for a while: whatever happened meanwhile nobody saw."""
    return gap_over(readings, memory, memory.settings.limits.scan_stopped_s)


def gap_over(readings: Readings, memory: Memory, limit_s: float) -> Evidence | None:
    """The time since the scan before, when it is over the limit."""
    if memory.readings is None:
        return None
    gap_s = readings.now_s - memory.readings.now_s
    if gap_s < limit_s:
        return None
    return Evidence(f"{gap_s:.1f} s after the one before, limit {limit_s:g} s", gap_s, limit_s, "s")


def clock_odd(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The clock that decisions go by stands still or runs backwards: no delay and no limit of time would hold."""
    if memory.readings is None or readings.now_s > memory.readings.now_s:
        return None
    back_s = memory.readings.now_s - readings.now_s
    return Evidence(f"{words_duration(back_s)} back" if back_s else "it stands still", -back_s, 0.0, "s")


def clock_set(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The clock for people was set. Decisions go by another."""
    last = memory.readings
    if last is None:
        return None
    step_s = readings.utc_s - last.utc_s - (readings.now_s - last.now_s)
    limit_s = memory.settings.limits.clock_set_s
    if abs(step_s) < limit_s:
        return None
    words = f"{words_duration(abs(step_s))} {'forward' if step_s > 0 else 'back'}"
    return Evidence(words, step_s, limit_s, "s")


def record_trouble(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> Evidence | None:
    """The record can't be written."""
    return Evidence(memory.trouble) if memory.trouble is not None else None
