"""A record as the daemon writes it, made by formula: a firing that climbs 1 °C every 36 s from 20 °C."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from pathlib import Path

SCHEMA = """
CREATE TABLE firings(id INTEGER PRIMARY KEY, begun_utc_s REAL, plan_name TEXT, plan TEXT, rig TEXT, settings TEXT);
CREATE TABLE readings(firing INTEGER, now_s REAL, utc_s REAL, state TEXT, stage INTEGER, aim_c REAL, chamber_c REAL,
  flue_c REAL, limit_c REAL, feed_tube_c REAL, draught_pa REAL, airflow INTEGER, flame INTEGER, shaft INTEGER,
  feed_frac REAL, ff_frac REAL, p_frac REAL, i_frac REAL, d_frac REAL, limited_by TEXT, auger_s REAL, fan_frac REAL,
  damper_frac REAL, pellets_kg REAL, blind TEXT, unproven_kg REAL, draught_aim_pa REAL, burns_kg_per_h REAL,
  air_kg_per_h REAL, air_ratio REAL, wanted_air_ratio REAL, oxygen_air_ratio REAL, air_aside_frac REAL,
  taught_factor REAL, air_spread_frac REAL, mass_kg_per_k REAL, walls_kg_per_h REAL,
  load_kg_per_h REAL, work_owed_s REAL, PRIMARY KEY(firing, now_s)) WITHOUT ROWID;
CREATE TABLE events(id INTEGER PRIMARY KEY, firing INTEGER, now_s REAL, utc_s REAL, kind TEXT, cause TEXT,
  happened TEXT, did TEXT, do_next TEXT);
"""
START_S = 500.0
CLIMB_K_PER_S = 1 / 36
INSERT = """
INSERT INTO readings(firing, now_s, aim_c, chamber_c, flue_c, draught_pa, feed_frac, air_ratio, wanted_air_ratio)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
"""


class KilnRecord:
    """The writer's end of a record, left open as the daemon leaves it."""

    def __init__(self, path: Path) -> None:
        """Make an empty record in WAL mode."""
        self.path = path
        self.db = sqlite3.connect(path)
        self.db.execute("PRAGMA journal_mode = WAL")
        self.db.executescript(SCHEMA)

    def climb(self, firing: int, seconds: Iterable[int]) -> None:
        """Write a row for each of these seconds of the firing; before the 60th there is no aim and no air ratio."""
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
