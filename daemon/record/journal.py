"""The record's writer: one SQLite file. The scan offers rows and never waits; a thread of its own writes them.

Readings are kept at 1 Hz from "made ready" until the kiln is cold again, every event with its cause. A batch is closed
by the rig's clock, not by the disk's pace, so that the same firing gives the same bytes.
"""

from __future__ import annotations

import json
import os
import sqlite3
import threading
from collections.abc import Iterator
from itertools import chain, groupby
from math import inf
from operator import attrgetter
from pathlib import Path
from queue import SimpleQueue

from daemon.course.state import State
from daemon.memory import Memory
from daemon.notice import Cause, Notice
from daemon.outside.moment import Context, moment_of
from daemon.outside.only_one import hold
from daemon.record.events import Event, events_of, start_events
from daemon.record.file import open_file
from daemon.record.found import Found
from daemon.record.lockout_file import LockoutFile, last_known
from daemon.record.schema import PUT_EVENT, PUT_FIRING, PUT_READING
from daemon.row import Row
from daemon.window import RECORDED
from hardware.port import Readings

BATCH_S = 1.0
FLAT_OUT_BATCH_S = 30.0
"""Of the rig's time: in real time a batch a second, in a rehearsal flat out fewer and larger ones."""
MOST_WAITING = 600
"""Batches that may wait for a stuck disk; later ones are dropped, counted, and the person is told."""
TELL_ASIDE_S = 10.0
"""For so long a file that was put aside counts as trouble: long enough to become an alarm, which stays until seen."""
MOST_LATE = 20_000
"""Statements that a failing disk may still get later: some hours."""
ROWS_AT_ONCE = 30
UNRECORDED = frozenset({State.COLD, State.FINISHED})
VALUES = attrgetter(*(column.get for column in RECORDED))
"""The values of a reading's columns, from a `Moment`."""
DAEMON_FAULT_DID = "Every output was driven off."
DAEMON_FAULT_NEXT = (
    "Go to the kiln: until the daemon is back nothing watches it. Let the fire burn down, and keep this text for the "
    "developers."
)

Value = float | int | str | None
Statement = tuple[str, tuple[Value, ...]]


class Record:
    """Keeps the firings. `offer` is called by the scan; everything slow happens in the writing thread."""

    def __init__(self, path: Path, rig: str, batch_s: float = BATCH_S) -> None:
        """Open or make the file. Raises OSError or sqlite3.Error: it can't be written, or another daemon writes it."""
        self._batch_s = batch_s
        path.parent.mkdir(parents=True, exist_ok=True)
        self._held = hold(path.with_name(f"{path.stem}.lock"), f"the record {path}")
        self.path = path
        self.rig = rig
        self.lockout_file = LockoutFile(path.with_name(f"{path.stem}.lockout.json"))
        self._trouble: str | None = None
        self.dropped = 0
        # in real time a power cut costs no committed second; flat out nobody waits for a disk's promise
        file = open_file(path, "FULL" if batch_s <= BATCH_S else "NORMAL")
        self._db, self._aside = file.db, file.aside
        self._aside_until_s: float | None = None
        self._identity = identity(path)
        self._begun: Statement | None = None
        self.firing = int(self._db.execute("SELECT coalesce(max(id), 0) FROM firings").fetchone()[0])
        known = file.found
        if file.damaged and self.lockout_file.found is None:  # nobody knows what was going on: something may burn
            known = Found(0, State.BURN_DOWN, 0.0, None)
        self.found = last_known(known, self.lockout_file.found)
        self.shift_s = 0.0
        """What this firing's clock is ahead of the rig's, after the board was started afresh, s."""
        self._statements: list[Statement] = []
        self._batch_began_s: float | None = None
        self._queue: SimpleQueue[list[Statement] | None] = SimpleQueue()
        self._writer = threading.Thread(target=self._write_batches, name="record", daemon=True)
        self._writer.start()

    @property
    def trouble(self) -> str | None:
        """What keeps the record or the lock-out file from being written; None while both are."""
        return self.lockout_file.trouble or self._trouble or self._aside

    def context(self, rehearsal: bool) -> Context:
        """What the status tells of the record."""
        return Context(self.firing if self.firing > 0 else None, str(self.path), rehearsal, self.shift_s)

    # the scan's side: no waiting, no file

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Take one scan's row. Keeps a reading on the beat, and every event at once."""
        self.lockout_file.offer(after, row.readings.utc_s)
        if self._aside is not None:
            self._tell_aside(row.now_s)
        if after.beat is not before.beat or row.wish.answers or after.alarms is not before.alarms:
            self._put_events(row, before, after)
        if after.beat.at_s == row.now_s and after.beat.course.state not in UNRECORDED:
            self._statements.append((PUT_READING, self._reading(row, after)))
        if self._batch_began_s is None:
            self._batch_began_s = row.now_s
        elif row.now_s - self._batch_began_s >= self._batch_s or after.lockout is not before.lockout:
            self._hand_over()
            self._batch_began_s = row.now_s

    def _tell_aside(self, now_s: float) -> None:
        if self._aside_until_s is None:
            self._aside_until_s = now_s + TELL_ASIDE_S
        elif now_s >= self._aside_until_s:
            self._aside = None

    def begin(self, memory: Memory, readings: Readings) -> None:
        """Keep that the daemon started, and what it found. Called once, before the first scan."""
        self.lockout_file.offer(memory, readings.utc_s)
        last_s = -inf
        for table in ("readings", "events"):
            (at_s,) = self._db.execute(f"SELECT max(now_s) FROM {table} WHERE firing = ?", (self.firing,)).fetchone()
            last_s = max(last_s, at_s if at_s is not None else -inf)
        if readings.now_s <= last_s:  # the board was started afresh and its clock with it: this firing's goes on
            away_s = max(readings.utc_s - self.found.utc_s, 1.0) if self.found is not None else 1.0
            self.shift_s = last_s - readings.now_s + away_s
        for event in start_events(self.found.state if self.found is not None else None, memory.lockout):
            self._put_event(readings.now_s, readings.utc_s, event)

    def daemon_fault(self, memory: Memory, text: str) -> None:
        """Keep a traceback. Called by the runner when a scan raised, after which nothing more is offered."""
        at = memory.readings
        now_s, utc_s = (at.now_s, at.utc_s) if at is not None else (0.0, 0.0)
        notice = Notice(text, DAEMON_FAULT_DID, DAEMON_FAULT_NEXT)
        self._put_event(now_s, utc_s, Event("trip", Cause.DAEMON_FAULT.value, notice))
        self._hand_over()

    def waiting(self) -> int:
        """How many batches the writer has not written yet."""
        return self._queue.qsize()

    def _hand_over(self) -> None:
        if not self._statements:
            return
        if self._queue.qsize() > MOST_WAITING:
            self.dropped += 1
            self._trouble = f"the disk does not take the record: {self.dropped} s are missing"
        else:
            self._queue.put(self._statements)
        self._statements = []

    def _put_events(self, row: Row, before: Memory, after: Memory) -> None:
        ready = State.MADE_READY
        if after.beat.course.state is ready and before.beat.course.state is not ready:
            self.firing += 1
            settings, plan = after.settings.model_dump_json(exclude={"record", "channel"}), after.plan
            begun = (self.firing, row.readings.utc_s, plan.name, plan.text, self.rig, settings)
            self._begun = (PUT_FIRING, begun)
            self._statements.append(self._begun)
        for event in events_of(row, before, after):
            self._put_event(row.readings.now_s, row.readings.utc_s, event)

    def _put_event(self, now_s: float, utc_s: float, event: Event) -> None:
        words, found = event.notice, event.found
        number = (found.value, found.limit, found.unit) if found is not None else (None, None, None)
        self._statements.append((PUT_EVENT, (
            self.firing, now_s + self.shift_s, utc_s, event.kind, event.cause, words.happened, words.did,
            words.do_next, *number,
        )))  # fmt: skip

    def _reading(self, row: Row, after: Memory) -> tuple[Value, ...]:
        context = Context(self.firing, None, rehearsal=False, shift_s=self.shift_s)
        values = VALUES(moment_of(after, row.readings, context))
        return tuple([json.dumps(value) if isinstance(value, dict) else value for value in values])

    # the writer's side

    def _write_batches(self) -> None:
        late: list[Statement] = []
        while (fresh := self._queue.get()) is not None:
            batch, late = [*late, *fresh], []
            try:
                self._look_at_file()
                self._db.execute("BEGIN")
                for sql, rows in merged_statements(batch):
                    self._db.execute(sql, rows)
                self._db.execute("COMMIT")
                if not self.dropped:
                    self._trouble = None
            except (sqlite3.Error, ValueError, OSError) as fault:
                self._trouble = f"the record can't be written: {fault}"
                # a full or busy disk: the next try has it too
                if isinstance(fault, sqlite3.OperationalError | OSError):
                    late = batch[-MOST_LATE:]
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")

    def _look_at_file(self) -> None:
        """Begin a fresh file where somebody has deleted or replaced it. Raises OSError and sqlite3.Error."""
        if identity(self.path) == self._identity:
            return
        self._aside_until_s = None
        self._aside = f"the file {self.path} was deleted or replaced while it was written; it goes on in what is there"
        file = open_file(self.path, "FULL" if self._batch_s <= BATCH_S else "NORMAL")
        self._db.close()
        self._db, self._identity = file.db, identity(self.path)
        if self._begun is not None:
            self._db.execute(*self._begun)

    def close(self) -> None:
        """Write what is left and close the files."""
        self.lockout_file.close()
        self._hand_over()
        self._queue.put(None)
        self._writer.join(timeout=10)
        self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._db.close()
        os.close(self._held)


def identity(path: Path) -> tuple[int, int] | None:
    """Which file is at the path; None where there is none."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    return found.st_dev, found.st_ino


def merged_statements(batch: list[Statement]) -> Iterator[Statement]:
    """The same statements with neighbours of a kind made one: every call hands the interpreter over and back."""
    for sql, same in groupby(batch, key=lambda statement: statement[0]):
        rows = [values for _, values in same]
        head, _, row = sql.rpartition("VALUES ")
        for place in range(0, len(rows), ROWS_AT_ONCE):
            part = rows[place : place + ROWS_AT_ONCE]
            yield f"{head}VALUES {', '.join([row] * len(part))}", tuple(chain.from_iterable(part))
