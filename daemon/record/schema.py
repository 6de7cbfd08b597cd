"""The record's tables, as SQL. The columns of a reading come from the window, which names them once."""

from __future__ import annotations

import sqlite3

from daemon.window import RECORDED

VERSION = 1
"""`PRAGMA user_version`. Files from before it was kept have 0. It goes up when something is renamed or changes its
meaning, and `prepare` takes older files over. A column that is only added needs no new version."""
TABLE_NAMES = frozenset({"firings", "readings", "events"})
EVENT = {
    "firing": "INTEGER", "now_s": "REAL", "utc_s": "REAL", "kind": "TEXT", "cause": "TEXT", "happened": "TEXT",
    "did": "TEXT", "do_next": "TEXT", "value": "REAL", "value_limit": "REAL", "unit": "TEXT",
}  # fmt: skip
"""An event's columns. `now_s` is the firing's clock, as in the readings."""
READING = {column.name: column.sql for column in RECORDED}
TABLES = f"""
CREATE TABLE IF NOT EXISTS firings (
    id INTEGER PRIMARY KEY, begun_utc_s REAL, plan_name TEXT, plan TEXT, rig TEXT, settings TEXT);
CREATE TABLE IF NOT EXISTS readings (
    {", ".join(f"{name} {kind}" for name, kind in READING.items())}, PRIMARY KEY (firing, now_s)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS events (
    id INTEGER PRIMARY KEY, {", ".join(f"{name} {kind}" for name, kind in EVENT.items())});
"""
RENAMED = {
    "aim_c": "setpoint_c", "airflow": "airflow_proven", "flame": "flame_seen", "shaft": "shaft_turning",
    "draught_aim_pa": "draught_setpoint_pa", "taught_factor": "air_factor", "air_spread_frac": "air_std_frac",
}  # fmt: skip
"""Columns of a reading that had another name in files of version 0.1."""
PUT_FIRING = "INSERT OR IGNORE INTO firings VALUES (?, ?, ?, ?, ?, ?)"


def put(verb: str, table: str, names: dict[str, str]) -> str:
    """The statement that puts one row into a table."""
    return f"{verb} INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})"


PUT_READING = put("INSERT OR REPLACE", "readings", READING)
PUT_EVENT = put("INSERT", "events", EVENT)


def prepare(db: sqlite3.Connection) -> None:
    """Make the tables, and give an older file the names and the columns that it lacks. Raises sqlite3.Error.

    Each step can be done again: a power cut in the middle leaves a file that the next start takes over.
    """
    db.executescript(TABLES)
    for name in columns_of(db, "readings") & RENAMED.keys():
        db.execute(f"ALTER TABLE readings RENAME COLUMN {name} TO {RENAMED[name]}")
    for table, columns in (("readings", READING), ("events", EVENT)):
        for name in columns.keys() - columns_of(db, table):
            db.execute(f"ALTER TABLE {table} ADD COLUMN {name} {columns[name]}")
    db.execute(f"PRAGMA user_version={VERSION}")


def columns_of(db: sqlite3.Connection, table: str) -> set[str]:
    """The columns that a table has."""
    return {row[1] for row in db.execute(f"PRAGMA table_info({table})")}
