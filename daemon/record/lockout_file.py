"""The lock-out file: what a restart must never forget, in a tiny file of its own beside the record.

It holds the state and what tripped, no more. A thread of its own writes it, so no scan waits for the disk: a new file
is written, flushed to the disk (fsync) and put in the old one's place (rename), and the folder is flushed. So a power
cut leaves the old file or the new one, never half of one. It is read before the record, and the stronger of the two
counts. A trip in the very moment of a power cut, before the disk has it, comes back as an interruption.

A first start has neither record nor file, and begins cold. A record of a firing without its file has lost it: that is a
lock-out, cleared at the kiln. So is the first start after a version that had no such file.
"""

from __future__ import annotations

import json
import os
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from daemon.course.state import FIRE, State
from daemon.memory import Memory
from daemon.notice import RESET_NEXT, Cause, Notice
from daemon.record.found import Found

VERSION = 1
STALE_S = 60.0
"""A record that ends so long before the file was written has missed what came after (readings come once a second)."""
STUCK_S = 5.0
"""A disk that has not answered for so long (real time) counts as one that can't be written."""
LOST = "it is gone, though the record tells of a firing (usual once, after a version that had no such file)"
NOT_COLD = FIRE | {State.PURGE, State.LIT_BY_HAND, State.BURN_DOWN}


class Kept(NamedTuple):
    """What the file says: the state, since when (Unix s), the chamber then (°C), what tripped, the first-out first."""

    state: State
    utc_s: float
    chamber_c: float | None
    trips: tuple[tuple[Cause, Notice], ...] = ()


class LockoutFile:
    """Keeps the state and the lock-out. `offer` is called by the scan; a thread writes."""

    def __init__(
        self, path: Path, save: Callable[[Path, bytes], None] | None = None, again_s: float = 1.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        """Read what the file says. Nothing is raised: what can't be read counts as a lock-out."""
        self.path = path
        self.found = read_kept(path)
        self._fault: str | None = None
        self._clock, self._waits_since_s = clock, 0.0
        self._save, self._again_s = save if save is not None else save_whole, again_s
        self._last: tuple[object, ...] | None = None
        self._wanted: bytes | None = None
        self._ends = False
        self._changed = threading.Condition()
        self._writer = threading.Thread(target=self._write, name="lock-out file", daemon=True)
        self._writer.start()

    @property
    def trouble(self) -> str | None:
        """What keeps the file from being written: the disk refuses it, or does not answer."""
        if self._fault is None and self.waiting() and self._clock() - self._waits_since_s >= STUCK_S:
            return "the disk does not answer: the lock-out file is not written"
        return self._fault

    def offer(self, memory: Memory, utc_s: float) -> None:
        """Hand the state over if it has changed, or if it could not be written. Doesn't wait."""
        course, lockout = memory.beat.course, memory.lockout
        key = (course.state, lockout.causes if lockout is not None else (), course.begun_s)
        if key == self._last:
            return
        self._last = key
        trips = tuple((trip.cause, trip.notice) for trip in lockout.trips) if lockout is not None else ()
        trace = memory.beat.traces.get("chamber")
        kept = Kept(course.state, utc_s, trace.good_c if trace is not None else None,
                    trips)  # fmt: skip
        with self._changed:
            if self._wanted is None:
                self._waits_since_s = self._clock()
            self._wanted = text_of(kept)
            self._changed.notify()

    def waiting(self) -> bool:
        """Whether something is still to be written."""
        return self._wanted is not None

    def _write(self) -> None:
        """The writing thread: the latest that was handed over; once a second again while the disk refuses it."""
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._wanted is not None or self._ends, timeout=None)
                if self._wanted is None:
                    return
                text = self._wanted
            try:
                self._save(self.path, text)
                self._fault = None
                with self._changed:
                    self._waits_since_s = self._clock()
                    if self._wanted is text:
                        self._wanted = None
            except OSError as fault:
                self._fault = f"the lock-out file can't be written: {fault.strerror or fault}"
                with self._changed:
                    if self._changed.wait_for(lambda: self._ends, timeout=self._again_s):
                        return

    def close(self) -> None:
        """Write what is left, if the disk takes it."""
        with self._changed:
            self._ends = True
            self._changed.notify()
        self._writer.join(timeout=10)


def save_whole(path: Path, text: bytes) -> None:
    """The whole file or none: write beside it, flush, rename, flush the folder. Raises OSError."""
    beside = path.with_name(f"{path.name}.new")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
    try:
        written = 0
        while written < len(text):
            written += os.write(handle, text[written:])
        os.fsync(handle)
    finally:
        os.close(handle)
    os.replace(beside, path)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def text_of(kept: Kept) -> bytes:
    """The file's text."""
    trips = [{"cause": cause.value, "happened": words.happened, "did": words.did, "do_next": words.do_next}
             for cause, words in kept.trips]  # fmt: skip
    table = {"version": VERSION, "state": kept.state.value, "utc_s": kept.utc_s, "chamber_c": kept.chamber_c,
             "trips": trips}  # fmt: skip
    return json.dumps(table, ensure_ascii=False).encode()


def read_kept(path: Path) -> Kept | None:
    """What the file says; None where there is none. One that can't be read counts as a lock-out."""
    try:
        table = json.loads(path.read_bytes())
        if table["version"] != VERSION:
            return unreadable(f"it is of version {table['version']!r}, this daemon reads version {VERSION}")
        trips = tuple(read_trip(trip) for trip in table["trips"])
        chamber_c = table["chamber_c"]
        state = State(table["state"])
        if state is State.LOCKED_OUT and not trips:
            return unreadable("it names no cause")
        return Kept(state, float(table["utc_s"]), float(chamber_c) if chamber_c is not None else None, trips)
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as fault:
        return unreadable(str(fault)[:100] or type(fault).__name__)


def read_trip(trip: Any) -> tuple[Cause, Notice]:
    """One trip. Raises ValueError, KeyError or TypeError."""
    return Cause(trip["cause"]), Notice(str(trip["happened"]), str(trip["did"]), str(trip["do_next"]))


def unreadable(why: str) -> Kept:
    """The lock-out that a file which can't be read stands for."""
    words = Notice(
        f"The file that says whether the kiln burns or is locked out can't be read: {why}.",
        "The feed stays off and is locked out, as after a trip.",
        f"Look at the kiln through the spy-hole with eye protection. {RESET_NEXT}",
    )
    return Kept(State.LOCKED_OUT, 0.0, None, ((Cause.INTERRUPTED, words),))


def weight(state: State) -> int:
    """How much a state means for a restart: nothing burns, it cools, something may burn, it is locked out."""
    return 3 if state is State.LOCKED_OUT else 2 if state in NOT_COLD else 1 if state is State.COOLING else 0


def last_known(found: Found | None, kept: Kept | None) -> Found | None:
    """What to start from: the stronger of the record's end and the lock-out file, and never less than either."""
    if found is None and (kept is None or weight(kept.state) == 0):
        return None
    if kept is None:
        kept = unreadable(LOST)
    by_file = Found(found.firing if found is not None else 0, kept.state, kept.utc_s, kept.chamber_c, kept.trips)
    if found is None:
        return by_file
    if kept.state is State.LOCKED_OUT:
        own = {cause for cause, _ in kept.trips}
        more = tuple(trip for trip in found.trips if trip[0] not in own)
        return replace(by_file, trips=(*kept.trips, *more), utc_s=max(found.utc_s, kept.utc_s))
    if weight(kept.state) > weight(found.state):
        return by_file
    # a burn-down ends the firing: a record that has missed it must not let the firing be resumed
    missed = kept.utc_s - found.utc_s > STALE_S or kept.state is State.BURN_DOWN
    return by_file if missed and weight(kept.state) == weight(found.state) else found
