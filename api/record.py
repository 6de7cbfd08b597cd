"""The record of a firing, read only: the curve so far and what happened. Its columns are those of the window.

The daemon writes the SQLite file; this module opens it for each question and never writes. Calls block on the disk, so
the server runs them in a thread.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, Field, WithJsonSchema

from daemon.window import FIELDS, RECORDED, Status

MOST_EVENTS = 500
WAIT_S = 1.0
"""How long to wait for a lock; in WAL mode a reader hardly ever meets one."""

_NEXT_ROW = """
    SELECT {columns} FROM readings
    WHERE firing = ? AND now_s >= ? ORDER BY now_s LIMIT 1
"""
_SPAN = """
    SELECT (SELECT min(now_s) FROM readings WHERE firing = :firing),
           (SELECT max(now_s) FROM readings WHERE firing = :firing)
"""


class RecordUnreadable(Exception):
    """The record can't be read. Says which file and why."""


def column(name: str) -> Any:
    """A column of the curve, with the window's words and unit for it."""
    return Field(description=Status.model_fields[name].description, json_schema_extra=FIELDS[name])


class Columns(BaseModel):
    """What every curve has, by the record's columns; null where an instrument was blind, not fitted or nothing was."""

    chamber_c: list[float | None] = column("chamber_c")
    setpoint_c: list[float | None] = column("setpoint_c")
    flue_c: list[float | None] = column("flue_c")
    draught_pa: list[float | None] = column("draught_pa")
    feed_frac: list[float | None] = column("feed_frac")


COLUMNS = tuple(Columns.model_fields)
TIME = "now_s"
TERMS = tuple(found.name for found in RECORDED if found.sql == "REAL" and found.name not in (TIME, *COLUMNS))
"""The recorded numbers that a curve gives when asked: the terms of the decision, and the rest."""


def known_term(name: str) -> str:
    """The name of a term. Raises ValueError for any other."""
    if name not in TERMS:
        raise ValueError("no recorded number has this name")
    return name


Term = Annotated[str, AfterValidator(known_term), WithJsonSchema({"type": "string", "enum": list(TERMS)})]


class Curve(Columns):
    """The firing so far, in columns of equal length."""

    firing: int | None
    since_start_s: list[float] = Field(description="Time since the firing's first row, s.")
    terms: dict[Term, list[float | None]] = Field({}, description="The recorded numbers that were asked for.")


NO_CURVE = Curve.model_validate({"firing": None, "since_start_s": [], **{name: [] for name in COLUMNS}})


class Event(BaseModel):
    """Something that happened in the firing, by the record's columns."""

    id: int
    now_s: float = Field(description="The firing's monotonic clock, which goes on over a restart, s.")
    utc_s: float = Field(description="Unix time, s.")
    kind: str
    cause: str | None
    happened: str | None
    did: str | None
    do_next: str | None


class Events(BaseModel):
    """Events of the firing in their order, at most 500; ask again with `after` the last id for more."""

    firing: int | None
    events: list[Event]


_EVENTS = f"SELECT {', '.join(Event.model_fields)} FROM events WHERE firing = ? AND id > ? ORDER BY id LIMIT ?"


def read_curve(path: Path, firing: int, points: int, terms: tuple[Term, ...] = ()) -> Curve:
    """Read at most `points` rows, evenly in time, the first and the last among them. Raises RecordUnreadable."""
    names = (TIME, *COLUMNS, *terms)
    with opened(path) as db:
        first_s, last_s = db.execute(_SPAN, {"firing": firing}).fetchone()
        next_row = _NEXT_ROW.format(columns=", ".join(names))
        rows = [] if first_s is None else list(_thinned(db, next_row, firing, first_s, last_s, points))
        now_s, *others = [list(values) for values in zip(*rows, strict=True)] or [[] for _ in names]
        columns = dict(zip(names[1:], others, strict=True))
        asked = {term: columns.pop(term) for term in terms}
        since_start_s = [s - first_s for s in now_s]
        return Curve.model_validate({"firing": firing, "since_start_s": since_start_s, **columns, "terms": asked})


def read_events(path: Path, firing: int, after: int) -> Events:
    """Read the events with an id above `after`. Raises RecordUnreadable."""
    with opened(path) as db:
        rows = db.execute(_EVENTS, (firing, after, MOST_EVENTS))
        events = [Event.model_validate(dict(zip(Event.model_fields, row, strict=True))) for row in rows]
    return Events(firing=firing, events=events)


def _thinned(
    db: sqlite3.Connection, next_row: str, firing: int, first_s: float, last_s: float, points: int
) -> Iterator[tuple[float | None, ...]]:
    # One look into the index per point: a long firing costs no more than a short one.
    reached_s = None
    for k in range(points):
        due_s = last_s if k == points - 1 else first_s + (last_s - first_s) * k / (points - 1)
        if reached_s is not None and due_s <= reached_s:
            continue  # the row for this point is the one already taken
        row = db.execute(next_row, (firing, due_s)).fetchone()
        reached_s = row[0]
        yield row


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open the record for reading only. Raises RecordUnreadable for whatever goes wrong with it inside."""
    if not path.is_file():
        raise RecordUnreadable(f"There is no record at {path}.")
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=WAIT_S)) as db:
            yield db
    except (sqlite3.Error, ValueError) as error:  # ValueError: a row that isn't what the record promises
        raise RecordUnreadable(f"The record at {path} can't be read: {error}") from error
