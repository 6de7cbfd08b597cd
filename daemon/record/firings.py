"""The firings in a record, read only: a line for each, and one of them whole.

A line is made from a few rows found by the index, so that a long record is listed as fast as a short one. The report
reads every row.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from daemon.course.state import State
from daemon.plans.cones import cone_reached
from daemon.plans.file import PlanFault, parse_plan
from daemon.plans.heat_work import Climb, next_climb
from daemon.plans.plan import Plan
from daemon.record.schema import columns_of

LOOKS = 100
"""Rows looked at for a line of the list."""
WAIT_S = 2.0
UNENDED = frozenset(state.value for state in State if state not in (State.FINISHED, State.COLD))
"""A record that ends in one of these: the firing runs, or was broken off."""
NEXT_ROW = """
    SELECT now_s, chamber_c, air_ratio, pellets_kg FROM readings
    WHERE firing = ? AND now_s >= ? ORDER BY now_s LIMIT 1
"""
CURVE = ("now_s", "utc_s", "state", "stage", "setpoint_c", "chamber_c", "feed_frac", "draught_pa", "pellets_kg",
         "air_ratio")  # fmt: skip


class FiringUnreadable(Exception):
    """The record, or a firing in it, can't be read. Says which, and why."""


class FiringLine(NamedTuple):
    """A firing in the list. The cone is reckoned from top and climb, soaks not counted; look at the real ones."""

    firing: int
    begun_utc_s: float
    plan: str
    top_c: float | None
    cone: str | None
    lasted_s: float
    pellets_kg: float
    short_of_air_s: float
    """For how long less air than the fuel needs was reckoned: about the minutes of smoke, reductions included."""
    ended: str
    trips: int

    @property
    def kg_per_cone(self) -> float | None:
        """Pellets for each cone number, from cone 1 on; None for a cooler firing."""
        hot = self.cone is not None and not self.cone.startswith("0")
        return self.pellets_kg / int(self.cone) if hot and self.cone is not None else None


class Happened(NamedTuple):
    """An event of a firing."""

    now_s: float
    utc_s: float
    kind: str
    cause: str
    happened: str
    did: str
    do_next: str


class Reading(NamedTuple):
    """What a report shows of one second."""

    now_s: float
    utc_s: float
    state: str
    stage: int | None
    setpoint_c: float | None
    chamber_c: float | None
    feed_frac: float | None
    draught_pa: float | None
    pellets_kg: float | None
    air_ratio: float | None


@dataclass(frozen=True, slots=True)
class Firing:
    """One firing, whole. `plan` is None where today's program can't read the plan of then."""

    line: FiringLine
    plan: Plan | None
    rig: str
    readings: tuple[Reading, ...]
    events: tuple[Happened, ...]


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """The record, for reading only. Raises FiringUnreadable for whatever is wrong with it inside."""
    if not path.is_file():
        raise FiringUnreadable(f"There is no record at {path}.")
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=WAIT_S)) as db:
            if not {"firings", "readings", "events"} <= {n for (n,) in db.execute("SELECT name FROM sqlite_master")}:
                raise FiringUnreadable(f"{path} is an SQLite file, and not a record of firings.")
            yield db
    except sqlite3.Error as fault:
        raise FiringUnreadable(f"The record at {path} can't be read: {fault}.") from fault


def read_lines(db: sqlite3.Connection, search: str = "") -> list[FiringLine]:
    """A line for each firing, the first one first. `search`: words in its plan or in its events, or `cone 6`."""
    kept = db.execute("SELECT id, coalesce(begun_utc_s, 0), coalesce(plan_name, ''), coalesce(plan, '') FROM firings"
                      " ORDER BY id").fetchall()  # fmt: skip
    told = {firing for (firing,) in db.execute(
        "SELECT DISTINCT firing FROM events WHERE instr(lower(happened || ' ' || coalesce(did, '')), lower(?)) > 0",
        (search,))} if search else set()  # fmt: skip
    lines = []
    for firing, utc_s, name, plan in kept:
        line = read_line(db, firing, utc_s, name)
        words = f"{name}\n{plan}".lower()
        by_cone = search.lower().startswith("cone ") and search[5:].strip() == line.cone
        if not search or by_cone or firing in told or search.lower() in words:
            lines.append(line)
    return lines


def read_line(db: sqlite3.Connection, firing: int, utc_s: float, name: str) -> FiringLine:
    """The line of one firing."""
    first_s, last_s = (
        db.execute(f"SELECT now_s FROM readings WHERE firing = ? ORDER BY now_s {order} LIMIT 1", (firing,)).fetchone()
        for order in ("ASC", "DESC")
    )
    ended = db.execute("SELECT cause FROM events WHERE firing = ? AND kind = 'state' ORDER BY id DESC LIMIT 1",
                       (firing,)).fetchone()  # fmt: skip
    (trips,) = db.execute("SELECT count(*) FROM events WHERE firing = ? AND kind = 'trip'", (firing,)).fetchone()
    words = ended[0] if ended is not None else "unknown"
    if first_s is None or last_s is None:
        return FiringLine(firing, utc_s, name, None, None, 0.0, 0.0, 0.0, words, trips)
    began_s, lasted_s = first_s[0], last_s[0] - first_s[0]
    step_s = lasted_s / LOOKS
    looks = [db.execute(NEXT_ROW, (firing, began_s + step_s * k)).fetchone() for k in range(LOOKS + 1)]
    looks = [look for look in looks if look is not None]
    warmest = max(looks, key=lambda look: look[1] if look[1] is not None else -1e9)
    (top_c,) = db.execute("SELECT max(chamber_c) FROM readings WHERE firing = ? AND now_s BETWEEN ? AND ?",
                          (firing, warmest[0] - step_s, warmest[0] + step_s)).fetchone()  # fmt: skip
    climb = Climb()
    for now_s, chamber_c, _, _ in looks:
        if chamber_c is not None:
            climb = next_climb(climb, now_s, chamber_c)
    short_s = step_s * sum(1 for look in looks if look[2] is not None and look[2] < 1)
    fed_kg = looks[-1][3] if looks[-1][3] is not None else 0.0
    return FiringLine(firing, utc_s, name, top_c, cone_of(climb, top_c), lasted_s, fed_kg, short_s, words, trips)


def cone_of(climb: Climb, top_c: float | None) -> str | None:
    """The cone that top and climb bend, or None where the climb was too short to tell."""
    return cone_reached(top_c, climb.rate_c_per_h) if top_c is not None and climb.rate_c_per_h is not None else None


def read_firing(db: sqlite3.Connection, firing: int | None = None) -> Firing:
    """A firing, whole; without a number the last one. Raises FiringUnreadable when there is none."""
    row = db.execute(
        "SELECT id, coalesce(begun_utc_s, 0), coalesce(plan_name, ''), coalesce(plan, ''), coalesce(rig, '')"
        " FROM firings WHERE id = coalesce(?, (SELECT max(id) FROM firings))", (firing,),
    ).fetchone()  # fmt: skip
    if row is None:
        known = [str(number) for (number,) in db.execute("SELECT id FROM firings ORDER BY id DESC LIMIT 5")]
        which = f"no firing {firing}" if firing is not None else "no firing"
        rest = f"; the latest are {', '.join(known)}" if known else ""
        raise FiringUnreadable(f"The record has {which}{rest}.")
    number, utc_s, name, text, rig = row
    there = columns_of(db, "readings")
    columns = ", ".join(column if column in there else "NULL" for column in CURVE)
    readings = tuple(
        Reading(*values)
        for values in db.execute(f"SELECT {columns} FROM readings WHERE firing = ? ORDER BY now_s", (number,))
    )
    events = tuple(
        Happened(now_s, at_s, *(str(text) if text is not None else "" for text in texts))
        for now_s, at_s, *texts in db.execute(
            "SELECT now_s, utc_s, kind, cause, happened, did, do_next FROM events WHERE firing = ? ORDER BY id",
            (number,))
    )  # fmt: skip
    try:
        plan = parse_plan(text, "the plan in the record")
    except PlanFault:
        plan = None
    climb = Climb()
    for reading in readings:
        if reading.chamber_c is not None:
            climb = next_climb(climb, reading.now_s, reading.chamber_c)
    top_c = climb.top_c if climb.top_c > 0 else None
    short_s = sum(1.0 for r in readings if r.air_ratio is not None and r.air_ratio < 1)
    line = read_line(db, number, utc_s, name)._replace(
        top_c=top_c, cone=cone_of(climb, top_c), short_of_air_s=short_s,
    )  # fmt: skip
    return Firing(line, plan, rig, readings, events)
