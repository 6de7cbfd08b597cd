"""The record: one SQLite file. The scan offers rows and never waits; a thread of its own writes them, once a second.

Readings are kept at 1 Hz from "made ready" until the kiln is cold again, every event with its cause. A batch is closed
by the rig's clock, not by the disk's pace, so that the same firing gives the same bytes.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, groupby
from math import inf
from pathlib import Path
from queue import SimpleQueue

from daemon.control.air import Air
from daemon.control.setpoint import wait_notice
from daemon.course.alarms import Alarms
from daemon.course.attendance import Call
from daemon.course.state import State
from daemon.fire.heat_balance import HeatBalance
from daemon.memory import Memory
from daemon.notice import Cause, Finding, Level, Notice
from daemon.scan import Row
from hardware.port import AirRatio, Blind, NotFitted, Readings

READING = {
    "firing": "INTEGER", "now_s": "REAL", "utc_s": "REAL", "state": "TEXT", "stage": "INTEGER", "aim_c": "REAL",
    "chamber_c": "REAL", "flue_c": "REAL", "limit_c": "REAL", "feed_tube_c": "REAL", "draught_pa": "REAL",
    "airflow": "INTEGER", "flame": "INTEGER", "shaft": "INTEGER", "feed_frac": "REAL", "ff_frac": "REAL",
    "p_frac": "REAL", "i_frac": "REAL", "d_frac": "REAL", "limited_by": "TEXT", "auger_s": "REAL", "fan_frac": "REAL",
    "damper_frac": "REAL", "pellets_kg": "REAL", "blind": "TEXT", "unproven_kg": "REAL", "draught_aim_pa": "REAL",
    "burns_kg_per_h": "REAL", "air_kg_per_h": "REAL", "air_ratio": "REAL", "wanted_air_ratio": "REAL",
    "oxygen_air_ratio": "REAL", "air_aside_frac": "REAL", "taught_factor": "REAL", "air_spread_frac": "REAL",
    "mass_kg_per_k": "REAL", "walls_kg_per_h": "REAL", "load_kg_per_h": "REAL", "work_owed_s": "REAL",
}  # fmt: skip
"""A reading's columns: what was seen, what was done, and every term of the decision."""
SCHEMA = f"""
CREATE TABLE IF NOT EXISTS firings (
    id INTEGER PRIMARY KEY, begun_utc_s REAL, plan_name TEXT, plan TEXT, rig TEXT, settings TEXT);
CREATE TABLE IF NOT EXISTS readings (
    {", ".join(f"{name} {kind}" for name, kind in READING.items())}, PRIMARY KEY (firing, now_s)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS events (
    id INTEGER PRIMARY KEY, firing INTEGER, now_s REAL, utc_s REAL, kind TEXT, cause TEXT, happened TEXT, did TEXT,
    do_next TEXT, value REAL, value_limit REAL, unit TEXT);
"""
PUT_FIRING = "INSERT INTO firings VALUES (?, ?, ?, ?, ?, ?)"
PUT_READING = f"INSERT OR REPLACE INTO readings ({', '.join(READING)}) VALUES ({', '.join('?' * len(READING))})"
PUT_EVENT = (
    "INSERT INTO events (firing, now_s, utc_s, kind, cause, happened, did, do_next, value, value_limit, unit)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
NEWER_COLUMNS = {
    "events": {"value": "REAL", "value_limit": "REAL", "unit": "TEXT"},
    "readings": {name: kind for name, kind in READING.items() if name not in ("firing", "now_s")},
}
"""By table: a file begun without them gets them."""
BATCH_S = 1.0
FLAT_OUT_BATCH_S = 30.0
"""Of the rig's time: in real time a batch a second, in a rehearsal flat out fewer and larger ones."""
MOST_WAITING = 600
"""Batches that may wait for a stuck disk; later ones are dropped, counted, and the person is told."""
MOST_LATE = 20_000
"""Statements that a failing disk may still get later: some hours."""
ROWS_AT_ONCE = 30
UNRECORDED = frozenset({State.COLD, State.FINISHED})

DAEMON_FAULT_NEXT = (
    "Go to the kiln: until the daemon is back nothing watches it. Let the fire burn down, and keep this text for the "
    "developers."
)
CALLS = {
    Call.QUIET: "Somebody answered.",
    Call.REMINDER: "Is anybody there? The lamp is lit.",
    Call.HORN: "Is anybody there? The horn sounds.",
    Call.OVERDUE: "Nobody answered.",
}

Value = float | int | str | None
Statement = tuple[str, tuple[Value, ...]]


@dataclass(frozen=True, slots=True)
class Found:
    """How the record ended when the daemon last wrote to it."""

    firing: int
    state: State
    utc_s: float
    chamber_c: float | None
    trips: tuple[tuple[Cause, Notice], ...] = ()
    """The first-out and what tripped since, where the record ends locked out."""
    stage: int | None = None
    stage_gone_s: float = 0.0
    aim_c: float | None = None
    pellets_kg: float = 0.0
    unproven_kg: float = 0.0
    """Fed since the last sign of fire."""
    plan_text: str | None = None
    reduced_s: float = 0.0
    """For how long the firing was reduced, by its readings, one a second."""


class Record:
    """Keeps the firings. `offer` is called by the scan; everything slow happens in the writing thread."""

    def __init__(self, path: Path, rig: str, batch_s: float = BATCH_S) -> None:
        """Open or make the file. Raises OSError or sqlite3.Error when it can't be written at all."""
        self._batch_s = batch_s
        path.parent.mkdir(parents=True, exist_ok=True)
        self.path = path
        self.rig = rig
        self.trouble: str | None = None
        self.dropped = 0
        self._db = sqlite3.connect(path, check_same_thread=False, isolation_level=None)
        self._db.execute("PRAGMA journal_mode=WAL")
        # in real time a power cut costs no committed second; flat out nobody waits for a disk's promise
        self._db.execute(f"PRAGMA synchronous={'FULL' if batch_s <= BATCH_S else 'NORMAL'}")
        self._db.executescript(SCHEMA)
        for table, newer in NEWER_COLUMNS.items():
            columns = {row[1] for row in self._db.execute(f"PRAGMA table_info({table})")}
            for name, kind in newer.items():
                if name not in columns:
                    self._db.execute(f"ALTER TABLE {table} ADD COLUMN {name} {kind}")
        self.firing = int(self._db.execute("SELECT coalesce(max(id), 0) FROM firings").fetchone()[0])
        self.found = self._last_state()
        self._statements: list[Statement] = []
        self._batch_began_s: float | None = None
        self._auger_s = 0.0
        self._shift_s = 0.0
        self._queue: SimpleQueue[list[Statement] | None] = SimpleQueue()
        self._writer = threading.Thread(target=self._write_batches, name="record", daemon=True)
        self._writer.start()

    def _last_state(self) -> Found | None:
        event = self._db.execute(
            "SELECT firing, cause, utc_s, now_s FROM events WHERE kind = 'state' ORDER BY id DESC LIMIT 1"
        ).fetchone()
        if event is None:
            return None
        firing, cause, utc_s, now_s = event
        kept: dict[Cause, Notice] = {}
        for name, *words in self._db.execute(
            "SELECT cause, happened, did, do_next FROM events WHERE kind = 'trip' AND firing = ? AND now_s >= ?"
            " ORDER BY id",
            (firing, now_s),  # the first-out is kept in the scan that locks out
        ):
            kept.setdefault(Cause(name), Notice(*words))
        trips = tuple(kept.items())
        reading = self._db.execute(
            "SELECT utc_s, chamber_c, stage, aim_c, pellets_kg, unproven_kg, now_s FROM readings WHERE firing = ?"
            " ORDER BY now_s DESC LIMIT 1",
            (firing,),
        ).fetchone()
        if reading is None:
            return Found(firing, State(cause), utc_s, None, trips)
        last_s, last_c, stage, aim_c, pellets_kg, unproven_kg, at_s = reading
        began = self._db.execute(
            "SELECT min(now_s) FROM readings WHERE firing = ? AND stage = ?", (firing, stage)
        ).fetchone()[0]
        plan = self._db.execute("SELECT plan FROM firings WHERE id = ?", (firing,)).fetchone()
        ((reduced_s,),) = self._db.execute(
            "SELECT count(*) FROM readings WHERE firing = ? AND wanted_air_ratio < 1", (firing,)
        )
        return Found(
            firing, State(cause), max(last_s, utc_s), last_c, trips, stage, at_s - began if began is not None else 0.0,
            aim_c, pellets_kg or 0.0, unproven_kg or 0.0, plan[0] if plan is not None else None, float(reduced_s),
        )  # fmt: skip

    # the scan's side: no waiting, no file

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Take one scan's row. Keeps a reading on the beat, and every event at once."""
        if row.done.auger:
            self._auger_s += 0.1
        if after.course is not before.course or row.wish.answers or after.alarms is not before.alarms or (
            request_changed(before.air, after.air) or after.attendance.call is not before.attendance.call
        ):  # fmt: skip
            self._events(row, before, after)
        if row.wish.beat_s == row.now_s and after.course.state not in UNRECORDED:
            self._statements.append((PUT_READING, self._reading(row, after)))
            self._auger_s = 0.0
        if self._batch_began_s is None:
            self._batch_began_s = row.now_s
        elif row.now_s - self._batch_began_s >= self._batch_s or after.lockout is not before.lockout:
            self._hand_over()
            self._batch_began_s = row.now_s

    def began(self, memory: Memory, readings: Readings) -> None:
        """Keep that the daemon started, and what it found. Called once, before the first scan."""
        last_s = max(
            self._db.execute(f"SELECT max(now_s) FROM {table} WHERE firing = ?", (self.firing,)).fetchone()[0] or -inf
            for table in ("readings", "events")
        )
        if readings.now_s <= last_s:  # the board was started afresh and its clock with it: this firing's goes on
            away_s = max(readings.utc_s - self.found.utc_s, 1.0) if self.found is not None else 1.0
            self._shift_s = last_s - readings.now_s + away_s
        found = self.found.state.value if self.found is not None else "nothing"
        self._put_event(readings, "start", found, Notice("The daemon started.", "The feed is off.", ""))
        if memory.lockout is not None:
            for finding in memory.lockout.trips:
                self._put_event(readings, "trip", finding.cause.value, finding.notice, finding)
            notice = Notice(f"From {memory.lockout.was.value} to {State.LOCKED_OUT.value}.", "", "")
            self._put_event(readings, "state", State.LOCKED_OUT.value, notice)

    def event(self, row: Row, kind: str, cause: str, notice: Notice) -> None:
        """Keep one event."""
        self._put_event(row.readings, kind, cause, notice)

    def _put_event(self, at: Readings, kind: str, cause: str, notice: Notice, found: Finding | None = None) -> None:
        number = (found.value, found.limit, found.unit) if found is not None else (None, None, None)
        values = (
            self.firing,
            at.now_s + self._shift_s,
            at.utc_s,
            kind,
            cause,
            notice.happened,
            notice.did,
            notice.do_next,
            *number,
        )
        self._statements.append((PUT_EVENT, values))

    def daemon_fault(self, memory: Memory, text: str) -> None:
        """Keep a traceback. Called by the runner when a scan raised, after which nothing more is offered."""
        now_s, utc_s = (memory.readings.now_s, memory.readings.utc_s) if memory.readings else (0.0, 0.0)
        values = (
            self.firing,
            now_s + self._shift_s,
            utc_s,
            "trip",
            Cause.DAEMON_FAULT.value,
            text,
            "Every output was driven off.",
            DAEMON_FAULT_NEXT, None, None, None,
        )  # fmt: skip
        self._statements.append((PUT_EVENT, values))
        self._hand_over()

    def waiting(self) -> int:
        """How many batches the writer has not written yet."""
        return self._queue.qsize()

    def _hand_over(self) -> None:
        if not self._statements:
            return
        if self._queue.qsize() > MOST_WAITING:
            self.dropped += 1
            self.trouble = f"the disk does not take the record: {self.dropped} s are missing"
        else:
            self._queue.put(self._statements)
        self._statements = []

    def _events(self, row: Row, before: Memory, after: Memory) -> None:
        was, now = before.course, after.course
        if now.state is State.MADE_READY and was.state is not State.MADE_READY:
            self.firing += 1
            settings = after.settings.model_dump_json(exclude={"record", "channel"})
            plan = after.plan
            self._statements.append(
                (PUT_FIRING, (self.firing, row.readings.utc_s, plan.name, plan.text, self.rig, settings))
            )
        for answer in row.wish.answers:
            kind = "told" if answer.accepted else "refused"
            notice = Notice(f"{answer.ask.source}: {answer.ask.word.value}", "", answer.why)
            self.event(row, kind, answer.ask.word.value, notice)
        if after.alarms is not before.alarms:
            self._alarm_events(row, before.alarms, after.alarms)
        if before.lockout is not None and after.lockout is None:
            self.event(row, "reset", before.lockout.first_out.cause.value, Notice("Reset at the kiln.", "", ""))
        if now.state is not was.state:
            self.event(row, "state", now.state.value, Notice(f"From {was.state.value} to {now.state.value}.", "", ""))
        if now.stage != was.stage and now.stage is not None:
            self.event(row, "stage", str(now.stage + 1), Notice(after.plan.stages[now.stage].name, "", ""))
        if now.waits is not was.waits:
            notice = wait_notice(after.feed.clamp) if now.waits else Notice("The plan goes on.", "", "")
            self.event(row, "plan", "waits" if now.waits else "goes on", notice)
        if request_changed(before.air, after.air):
            self._air_event(row, before.air, after.air)
        if after.attendance.call is not before.attendance.call:
            self.event(row, "call", after.attendance.call.value, Notice(CALLS[after.attendance.call], "", ""))

    def _alarm_events(self, row: Row, before: Alarms, after: Alarms) -> None:
        """Every alarm that came, was acknowledged, went, or was forgotten because it had been seen."""
        known, left = {alarm.key: alarm for alarm in before}, {alarm.key for alarm in after}
        for alarm in after:
            was, finding = known.get(alarm.key), alarm.finding
            if was is None or was.finding is not finding:
                kind = "trip" if finding.level is Level.TRIP else "warning"
                self._put_event(row.readings, kind, finding.cause.value, finding.notice, finding)
            elif was.standing is not alarm.standing:
                self.event(row, "alarm", finding.cause.value, Notice(alarm.standing.value.capitalize() + ".", "", ""))
        for alarm in before:
            if alarm.key not in left:
                self.event(row, "alarm", alarm.finding.cause.value, Notice("Normal again.", "", ""))

    def _air_event(self, row: Row, was: Air, now: Air) -> None:
        if now.request is not None:
            self.event(row, "air", "asked", Notice("", "", now.request))
        else:
            self.event(row, "air", "done", Notice(was.request or "", "", ""))

    def _reading(self, row: Row, after: Memory) -> tuple[Value, ...]:
        readings, course, feed, hearth = row.readings, after.course, row.wish.feed, after.hearth
        probes, draught = readings.probes, readings.draught
        tube_c = getattr(readings.feed_tube, "value_c", None)
        named = {**probes, "feed_tube": readings.feed_tube, "draught": draught, "oxygen": readings.oxygen}
        blind = {name: value.reason.value for name, value in named.items() if isinstance(value, Blind)}
        chamber_c, flue_c, limit_c = (
            getattr(probes.get(name), "value_c", None) for name in ("chamber", "flue", "limit")
        )
        return (
            self.firing, row.now_s + self._shift_s, readings.utc_s, course.state.value, course.stage, course.aim_c,
            chamber_c, flue_c, limit_c, tube_c, getattr(draught, "value_pa", None),
            or_null(readings.airflow_proven), or_null(readings.flame_seen), or_null(readings.shaft_turning),
            feed.frac, feed.ff, feed.p, feed.i, feed.d, feed.clamp.value, round(self._auger_s, 3),
            or_null(row.done.fan_frac), or_null(row.done.damper_frac), after.fed_kg, json.dumps(blind) if blind else None,
            after.unproven_kg, after.air.aim_pa, hearth.bed.burns_kg_per_h, hearth.air_kg_per_h, hearth.ratio,
            feed.ratio, readings.oxygen.value if isinstance(readings.oxygen, AirRatio) else None,
            hearth.dither.aside, hearth.factor, hearth.spread, *heat_terms(hearth.warmth),
            course.owed_s if course.state is State.SOAKING else None,
        )  # fmt: skip

    # the writer's side

    def _write_batches(self) -> None:
        late: list[Statement] = []
        while (fresh := self._queue.get()) is not None:
            batch, late = [*late, *fresh], []
            try:
                self._db.execute("BEGIN")
                for sql, rows in merged_statements(batch):
                    self._db.execute(sql, rows)
                self._db.execute("COMMIT")
                if not self.dropped:
                    self.trouble = None
            except (sqlite3.Error, ValueError) as fault:
                self.trouble = f"the record can't be written: {fault}"
                if isinstance(fault, sqlite3.OperationalError):  # a full or busy disk: the next try has it too
                    late = batch[-MOST_LATE:]
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")

    def close(self) -> None:
        """Write what is left and close the file."""
        self._hand_over()
        self._queue.put(None)
        self._writer.join(timeout=10)
        self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._db.close()


def merged_statements(batch: list[Statement]) -> Iterator[Statement]:
    """The same statements with neighbours of a kind made one: every call hands the interpreter over and back."""
    for sql, same in groupby(batch, key=lambda statement: statement[0]):
        rows = [values for _, values in same]
        head, _, row = sql.rpartition("VALUES ")
        for place in range(0, len(rows), ROWS_AT_ONCE):
            part = rows[place : place + ROWS_AT_ONCE]
            yield f"{head}VALUES {', '.join([row] * len(part))}", tuple(chain.from_iterable(part))


def heat_terms(warmth: HeatBalance | None) -> tuple[Value, Value, Value]:
    """What the heat balance has learnt: mass, what the walls draw, and the load."""
    if warmth is None:
        return None, None, None
    return warmth.mass_now, warmth.soak_kg_per_h * warmth.draws, warmth.load_kg_per_h


def request_changed(was: Air, now: Air) -> bool:
    """Whether a request came, went, or is for another draught. Its words follow the gauge, and are not news."""
    came_or_went = (was.request is None) is not (now.request is None)
    return came_or_went or (now.request is not None and now.aim_pa != was.aim_pa)


def or_null(value: float | NotFitted) -> float | None:
    """A reading for the record: None where nothing is fitted."""
    return None if isinstance(value, NotFitted) else value
