"""How the record ended when the daemon last wrote to it."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from daemon.course.state import State
from daemon.notice import Cause, Notice


@dataclass(frozen=True, slots=True)
class Found:
    """The last state, and what was known in it."""

    firing: int
    state: State
    utc_s: float
    chamber_c: float | None
    trips: tuple[tuple[Cause, Notice], ...] = ()
    """The first-out and what tripped since, where the record ends locked out."""
    stage: int | None = None
    stage_gone_s: float = 0.0
    setpoint_c: float | None = None
    pellets_kg: float = 0.0
    unproven_kg: float = 0.0
    """Fed since the last sign of fire."""
    plan_text: str | None = None
    reduced_s: float = 0.0
    """For how long the firing was reduced, by its readings, one a second."""


def find_last(db: sqlite3.Connection) -> Found | None:
    """What the file ends with; None for a new one. Raises sqlite3.Error."""
    event = db.execute(
        "SELECT firing, cause, utc_s, now_s FROM events WHERE kind = 'state' ORDER BY id DESC LIMIT 1"
    ).fetchone()
    if event is None:
        return None
    firing, cause, utc_s, now_s = event
    try:
        state = State(cause)
    except ValueError:  # a word of another version: something may burn
        state = State.BURN_DOWN
    trips = find_trips(db, firing, now_s)
    reading = db.execute(
        "SELECT utc_s, chamber_c, stage, setpoint_c, pellets_kg, unproven_kg, now_s FROM readings WHERE firing = ?"
        " ORDER BY now_s DESC LIMIT 1",
        (firing,),
    ).fetchone()
    if reading is None:
        return Found(firing, state, utc_s, None, trips)
    last_s, last_c, stage, setpoint_c, pellets_kg, unproven_kg, at_s = reading
    (began_s,) = db.execute(
        "SELECT min(now_s) FROM readings WHERE firing = ? AND stage = ?", (firing, stage)
    ).fetchone()
    plan = db.execute("SELECT plan FROM firings WHERE id = ?", (firing,)).fetchone()
    (reduced_s,) = db.execute(
        "SELECT count(*) FROM readings WHERE firing = ? AND wanted_air_ratio < 1", (firing,)
    ).fetchone()
    return Found(
        firing=firing, state=state, utc_s=max(last_s, utc_s), chamber_c=last_c, trips=trips, stage=stage,
        stage_gone_s=at_s - began_s if began_s is not None else 0.0, setpoint_c=setpoint_c,
        pellets_kg=pellets_kg if pellets_kg is not None else 0.0,
        unproven_kg=unproven_kg if unproven_kg is not None else 0.0,
        plan_text=plan[0] if plan is not None else None, reduced_s=float(reduced_s),
    )  # fmt: skip


def find_trips(db: sqlite3.Connection, firing: int, since_s: float) -> tuple[tuple[Cause, Notice], ...]:
    """What tripped since the state began; the first-out is kept in the scan that locks out. Raises sqlite3.Error."""
    kept: dict[Cause, Notice] = {}
    sql = (
        "SELECT cause, happened, did, do_next FROM events WHERE kind = 'trip' AND firing = ? AND now_s >= ? ORDER BY id"
    )
    for name, *words in db.execute(sql, (firing, since_s)):
        try:
            cause = Cause(name)
        except ValueError:  # a word of another version: its own words are told, and it ends the firing
            cause = Cause.DAEMON_FAULT
        kept.setdefault(cause, Notice(*words))
    return tuple(kept.items())
