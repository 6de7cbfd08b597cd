"""The runner: scan after scan on the rig's clock. The one place with a broad `except`: it drops the feed and ends.

What is slow or talks to others happens in `between`, after the scan has acted.
"""

from __future__ import annotations

import math
import traceback
from collections.abc import Callable
from typing import Protocol

from daemon.course.asks import Ask
from daemon.memory import Memory
from daemon.record.journal import Record
from daemon.scan import scan
from daemon.settings import SCAN_S
from hardware.port import Outputs, Rig, RigFault

CATCH_UP_S = 1.0  # a scan later than this starts the grid afresh: scans that were missed are not made up for


class Hears(Protocol):
    """Where asks come from."""

    def asks(self) -> tuple[Ask, ...]:
        """What was asked since the last call, without waiting."""


class ScanFailed(Exception):
    """A scan raised. The feed was dropped; the traceback is in the record and in this error."""


def run(rig: Rig, memory: Memory, record: Record, ears: Hears, between: Callable[[Memory, float], bool]) -> Memory:
    """Scan until `between` says False; it gets the memory and when the next scan is due. Returns the last memory.

    Raises ScanFailed when a scan raises. Whatever happens, the outputs are off when it returns.
    """
    due_s = -math.inf
    try:
        while True:
            memory = scan(due_s, memory, ears.asks(), rig, record)
            now_s = memory.readings.now_s if memory.readings is not None else 0.0
            due_s = (min(due_s, now_s) if now_s - due_s < CATCH_UP_S else now_s) + SCAN_S
            if not between(memory, due_s):
                return memory
    except Exception as fault:
        text = traceback.format_exc()
        record.daemon_fault(memory, text)
        raise ScanFailed(f"the daemon's scan failed, the feed is off: {fault}\n{text}") from fault
    finally:
        make_safe(rig)


def make_safe(rig: Rig) -> None:
    """Everything off, as far as the rig can still be reached."""
    try:
        rig.write(Outputs(auger=False, fan_frac=0.0, horn=False, lamp=False, keep_alive=False))
    except RigFault:
        pass
    finally:
        rig.close()
