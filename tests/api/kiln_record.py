"""A record with the daemon's own tables, filled by formula: a firing that climbs 1 °C every 36 s from 20 °C."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from pathlib import Path

from daemon.record.schema import prepare

START_S = 500.0
CLIMB_K_PER_S = 1 / 36
INSERT = """
INSERT INTO readings(firing, now_s, setpoint_c, chamber_c, flue_c, draught_pa, feed_frac, air_ratio, wanted_air_ratio)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
"""


class KilnRecord:
    """The writer's end of a record, left open as the daemon leaves it."""

    def __init__(self, path: Path) -> None:
        """Make an empty record in WAL mode."""
        self.path = path
        self.db = sqlite3.connect(path)
        self.db.execute("PRAGMA journal_mode = WAL")
        prepare(self.db)

    def climb(self, firing: int, seconds: Iterable[int]) -> None:
        """Write a row for each of these seconds of the firing; before the 60th no setpoint and no air ratio."""
        rows = (
            (firing, START_S + s, None if s < 60 else 22 + s * CLIMB_K_PER_S, 20 + s * CLIMB_K_PER_S,
             15 + 0.6 * s * CLIMB_K_PER_S, 37.4, 0.3, None if s < 60 else 1.2 + s % 60 / 100, 1.32)
            for s in seconds
        )  # fmt: skip
        self.db.executemany(INSERT, rows)
        self.db.commit()

    def event(self, firing: int, kind: str, happened: str) -> None:
        """Write an event."""
        sql = "INSERT INTO events(firing, now_s, utc_s, kind, happened) VALUES (?, 600, 1900000000, ?, ?)"
        self.db.execute(sql, (firing, kind, happened))
        self.db.commit()
