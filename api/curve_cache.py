"""One curve for all watchers: fifty open pages cost the disk no more than one."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from api.record import Term, read_curve

KEEP_S = 4.0
MOST_KEPT = 8


@dataclass(frozen=True, slots=True)
class Asked:
    """Which curve: of which firing, in which record, how fine, and with which terms."""

    record: Path
    firing: int
    points: int
    terms: tuple[Term, ...]


class CurveCache:
    """Keeps each curve, ready to send, for a few seconds."""

    def __init__(self, clock: Callable[[], float]) -> None:
        """Measure ages on `clock`, monotonic seconds."""
        self.clock = clock
        self._kept: dict[Asked, tuple[float, bytes]] = {}
        self._reading = asyncio.Lock()

    async def curve(self, asked: Asked) -> bytes:
        """Return the curve as JSON, read anew if the kept one is old. Raises RecordUnreadable."""
        async with self._reading:  # whoever comes while the disk is read waits for the same answer
            kept = self._kept.get(asked)
            if kept is not None and self.clock() - kept[0] < KEEP_S:
                return kept[1]
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            json = await asyncio.to_thread(_read, asked)
            self._kept[asked] = (self.clock(), json)
            return json


def _read(asked: Asked) -> bytes:
    return read_curve(asked.record, asked.firing, asked.points, asked.terms).model_dump_json().encode()
