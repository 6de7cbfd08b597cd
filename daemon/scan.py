"""One scan, one straight line: read, judge, decide, act, record. Nothing else in the daemon acts."""

from __future__ import annotations

from typing import Protocol

from daemon.belief import believe
from daemon.course.asks import Ask
from daemon.decide import decide
from daemon.judge import judge
from daemon.memory import Memory
from daemon.permit import permit
from daemon.row import Row
from hardware.port import Rig


class Offer(Protocol):
    """Whoever keeps the rows. It must take one without waiting."""

    @property
    def trouble(self) -> str | None:
        """What keeps the rows from being kept, in words; None while all is well."""

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Take the row of a scan, with the memory it started from and the one it led to."""


def scan(due_s: float, memory: Memory, asks: tuple[Ask, ...], rig: Rig, record: Offer) -> Memory:
    """One scan, due at `due_s` on the rig's clock. Raises RigFault when the rig can't be reached."""
    readings = believe(rig.read(due_s), memory.settings.limits.stale_s, memory.readings)  # read the world, once
    verdict = judge(readings, asks, memory)  # judge it in every state, hand operation too
    wish = decide(readings, asks, memory)  # decide what the schedule would like
    driven = permit(wish, verdict, memory)
    done = rig.write(driven)  # act, never beyond what the verdict allows
    row = Row(readings.now_s, readings, asks, verdict, wish, driven, done)
    after = memory.after(row, record.trouble)
    record.offer(row, memory, after)  # record it whole, and without waiting for the disk
    return after
