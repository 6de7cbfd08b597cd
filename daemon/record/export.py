"""A firing as a table for a spreadsheet (CSV), and whole for a program (JSON)."""

from __future__ import annotations

import csv
import json
import sqlite3
from datetime import UTC, datetime
from typing import TextIO

from daemon.record.schema import columns_of
from daemon.window import RECORDED

FORMAT, VERSION = "stokehand firing", 1
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A cell that begins so is a formula to a spreadsheet. Words that do get an apostrophe in front."""


def write_csv(db: sqlite3.Connection, firing: int, out: TextIO) -> None:
    """A line a reading, the units in the heads, and the time in UTC as the first column."""
    writer = csv.writer(out, lineterminator="\n")
    there = columns_of(db, "readings")
    columns = [column for column in RECORDED if column.name in there]
    writer.writerow(["time (UTC)", *(f"{c.name} ({c.unit})" if c.unit else c.name for c in columns)])
    names = ", ".join(column.name for column in columns)
    for utc_s, *values in db.execute(f"SELECT utc_s, {names} FROM readings WHERE firing = ? ORDER BY now_s", (firing,)):
        writer.writerow([iso(utc_s), *(harmless(value) for value in values)])


def harmless(value: object) -> object:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA) else value


def iso(utc_s: float | None) -> str:
    """A time as ISO 8601 has it."""
    try:
        return datetime.fromtimestamp(utc_s, UTC).isoformat() if utc_s is not None else ""
    except (OverflowError, ValueError, OSError):
        return ""


def as_json(db: sqlite3.Connection, firing: int) -> str:
    """The firing whole: every column of its three tables, as they are kept."""
    kept = {}
    for table, key in (("firings", "id"), ("readings", "firing"), ("events", "firing")):
        names = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
        rows = db.execute(f"SELECT {', '.join(names)} FROM {table} WHERE {key} = ?", (firing,))
        kept[table] = {"columns": names, "rows": [list(row) for row in rows]}
    units = {column.name: {"unit": column.unit, "what": column.what} for column in RECORDED}
    return json.dumps({"format": FORMAT, "version": VERSION, "units": units, **kept}, ensure_ascii=False)
