"""The lock-out file: a restart never comes up weaker than what was, whatever the disk did."""

from __future__ import annotations

import errno
import os
import sqlite3
import threading
import time
from contextlib import closing
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.course.asks import Word
from daemon.course.state import State
from daemon.memory import Memory
from daemon.notice import Cause, Notice
from daemon.record.found import Found
from daemon.record.journal import Record
from daemon.record.lockout_file import (
    STUCK_S,
    Kept,
    LockoutFile,
    last_known,
    read_kept,
    save_whole,
    text_of,
    weight,
)
from daemon.record.start import first_memory
from daemon.setup import setup_of
from hardware.port import Readings
from tests.bench.lockout_kills import kill_once
from tests.daemon.house import UTC_AT_0_S, Kiln, cold_kiln, good_readings, short_plan, short_settings
from tests.daemon.record.test_record import Copying

WORDS = Notice("The carbon monoxide alarm sounds.", "Feed stopped.", "Get out into the open air.")
STATES = st.sampled_from(State)
TRIPS = st.lists(st.sampled_from(Cause), max_size=3, unique=True).map(lambda found: tuple((c, WORDS) for c in found))


def kept_of(state: State, utc_s: float, trips: tuple[tuple[Cause, Notice], ...]) -> Kept:
    """What the file may say: a lock-out names its cause, and nothing else does."""
    if state is State.LOCKED_OUT:
        return Kept(state, utc_s, 700.0, trips or ((Cause.CO_ALARM, WORDS),))
    return Kept(state, utc_s, 700.0)


KEPT = st.builds(kept_of, STATES, st.floats(0, 2e9), TRIPS)


@pytest.mark.parametrize("state", State)
def test_what_is_written_is_read_again_and_nothing_is_left_beside_it(state: State, tmp_path: Path) -> None:
    path, kept = tmp_path / "f.lockout.json", kept_of(state, UTC_AT_0_S, ((Cause.CO_ALARM, WORDS),))
    assert read_kept(path) is None
    save_whole(path, text_of(kept))
    assert read_kept(path) == kept
    assert list(tmp_path.iterdir()) == [path]


GOOD = text_of(kept_of(State.CLIMBING, UTC_AT_0_S, ()))


@pytest.mark.parametrize(
    "text",
    [
        *(GOOD[:length] for length in range(0, len(GOOD) - 1, 7)),
        b"\x00" * 200,
        b"[]",
        b"{}",
        b"null",
        GOOD.replace(b"climbing", b"gliding"),
        GOOD.replace(b'"version": 1', b'"version": 2'),
        GOOD.replace(b"climbing", b"locked out"),
        text_of(kept_of(State.LOCKED_OUT, 0.0, ())).replace(b"carbon monoxide alarm", b"a cause of tomorrow"),
        GOOD.replace(b"[]", b"[" * 5000),
    ],
)
def test_a_torn_foreign_or_newer_file_is_a_lockout_with_a_sentence(text: bytes, tmp_path: Path) -> None:
    path = tmp_path / "f.lockout.json"
    path.write_bytes(text)
    kept = read_kept(path)
    assert kept is not None
    assert kept.state is State.LOCKED_OUT
    memory = first_memory(SETUP, last_known(None, kept), good_readings(1000.0, 30.0))
    assert memory.lockout is not None
    assert "can't be read" in memory.lockout.first_out.notice.happened
    assert "reset" in memory.lockout.first_out.notice.do_next
    assert memory.beat.course.lit


def test_a_folder_in_its_place_is_a_lockout_too(tmp_path: Path) -> None:
    kept = read_kept(tmp_path)
    assert kept is not None
    assert kept.state is State.LOCKED_OUT


FOUND = st.none() | st.builds(
    lambda state, utc_s, trips: Found(3, state, utc_s, 650.0, trips if state is State.LOCKED_OUT else ()),
    STATES, st.floats(0, 2e9), TRIPS,
)  # fmt: skip


@given(FOUND, st.none() | KEPT)
def test_the_stronger_of_record_and_file_counts(found: Found | None, kept: Kept | None) -> None:
    known = last_known(found, kept)
    if found is None and (kept is None or weight(kept.state) == 0):
        assert known is None
        return
    assert known is not None
    for one in (found, kept):
        if one is not None:
            assert weight(known.state) >= weight(one.state)
            if one.state is State.LOCKED_OUT:
                assert set(one.trips) <= set(known.trips)


SETUP = setup_of(short_settings(), short_plan())


@cache
def history() -> tuple[tuple[Memory, Readings], ...]:
    """Every change of a firing: up to the soak, a carbon monoxide alarm, the reset, the burn-down, cold again."""
    kiln = cold_kiln()
    kiln.lit(State.SOAKING)
    kiln.rig.show(co_alarm=True)
    kiln.run(2)
    kiln.rig.show(co_alarm=False)
    kiln.run(2)
    kiln.rig.show(reset_pressed=True)
    kiln.run(4)
    kiln.rig.show(reset_pressed=False, flame_seen=False)
    kiln.run(70).scan(Word.BED_OUT).until(State.FINISHED).run(2)
    changes: list[tuple[Memory, Readings]] = []
    for row, _, after in kiln.clerk.rows:
        key = (after.beat.course.state, after.lockout is not None)
        if not changes or key != (changes[-1][0].beat.course.state, changes[-1][0].lockout is not None):
            changes.append((after, row.readings))
    assert {State.LOCKED_OUT, State.BURN_DOWN, State.SOAKING} <= {m.beat.course.state for m, _ in changes}
    return tuple(changes)


class SickDisk:
    """Saves as a disk may: whole, not at all, or, once the power goes, half."""

    def __init__(self, chance: Random, fails: float, torn: bool) -> None:
        self.chance, self.fails, self.torn, self.tries = chance, fails, torn, 0

    def save(self, path: Path, text: bytes) -> None:
        """As `save_whole`, unless it fails at one of its steps: those are tried against the real disk below."""
        try:
            if self.chance.random() >= self.fails:
                path.write_bytes(text)
                return
            if self.torn and self.chance.random() < 0.3:
                path.write_bytes(text[: self.chance.randrange(len(text))])
            raise OSError(errno.ENOSPC, "No space left on device")
        finally:
            self.tries += 1


def found_of(memory: Memory, readings: Readings) -> Found:
    """What a record that was written up to this moment ends with."""
    trips = memory.lockout.trips if memory.lockout is not None else ()
    return Found(1, memory.beat.course.state, readings.utc_s, 20.0, tuple((t.cause, t.notice) for t in trips))


def settled(file: LockoutFile) -> None:
    """Wait until the thread has written it, or found that it can't."""
    while file.waiting() and file.trouble is None:
        time.sleep(0.0002)


@pytest.mark.slow
@pytest.mark.parametrize("torn", [False, True])
def test_after_a_thousand_kills_with_failing_writes_no_fire_is_forgotten(torn: bool, tmp_path: Path) -> None:
    """Killed after a random change, some saves failed or torn, the record whole, behind, of another firing or lost."""
    burnt = locked = 0
    for seed in range(500):
        chance = Random(f"{seed} {torn}")
        path = tmp_path / f"{seed}.json"
        disk = SickDisk(chance, chance.choice([0.0, 0.0, 0.3, 0.7, 1.0]), torn)
        told: list[tuple[Memory, Readings]] = []
        on_disk = True
        for memory, readings in history()[: 1 + chance.randrange(len(history()))]:
            if memory.beat.course.state in (State.PURGE, State.LIT_BY_HAND) and not on_disk:
                break  # nothing begins and no purge ends
            told.append((memory, readings))
            file = LockoutFile(path, disk.save, again_s=60.0)
            file.offer(memory, readings.utc_s)
            settled(file)
            on_disk = file.trouble is None
            file.close()
        was, readings = told[-1]
        record = found_of(*told[max(len(told) - 1 - chance.choice([0, 0, 1, 2]), 0)])
        record_end = chance.choice([record, record, None, Found(7, State.FINISHED, UTC_AT_0_S - 9e6, 40.0)])
        again = first_memory(SETUP, last_known(record_end, read_kept(path)), good_readings(readings.now_s + 9.0, 70.0))
        if was.beat.course.lit:
            burnt += 1
            assert again.lockout is not None, (seed, was.beat.course.state)
            assert again.beat.course.lit
        if was.lockout is not None and on_disk:
            locked += 1
            assert again.lockout is not None
            assert set(was.lockout.causes) <= set(again.lockout.causes)
            assert again.beat.course.left_off is None
    assert burnt > 150
    assert locked > 5


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_a_writer_that_is_killed_on_a_failing_disk_leaves_a_whole_file(seed: int, tmp_path: Path) -> None:
    """A thousand of them: `python -m tests.bench.lockout_kills`."""
    _, wrong = kill_once(tmp_path, seed, "spawn")
    assert wrong == []


@pytest.mark.parametrize("step", ["open", "write", "fsync", "replace"])
def test_a_disk_that_fails_at_any_step_leaves_the_old_file_whole(
    step: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, old = tmp_path / "f.lockout.json", kept_of(State.CLIMBING, 1.0, ())
    save_whole(path, text_of(old))
    right, made = getattr(os, step), 0

    def fails(*args: object, **more: object) -> object:
        nonlocal made
        made += 1
        if made == 1:
            raise OSError(errno.ENOSPC, "No space left on device")
        return right(*args, **more)

    monkeypatch.setattr(os, step, fails)
    with pytest.raises(OSError, match="No space"):
        save_whole(path, text_of(kept_of(State.COLD, 2.0, ())))
    assert read_kept(path) == old


def recorded(folder: Path) -> tuple[Kiln, Record]:
    """A cold kiln with a record."""
    kiln = cold_kiln()
    record = Record(folder / "f.sqlite", "fake", batch_s=0.5)
    record.begin(kiln.memory, kiln.rig.image)
    Copying(kiln, record)
    return kiln, record


def test_nothing_begins_while_the_lockout_file_can_not_be_written(tmp_path: Path) -> None:
    kiln = cold_kiln()
    kiln.clerk.trouble = "the lock-out file can't be written: No space left on device"
    kiln.run(1).scan(Word.MADE_READY)
    assert kiln.state is State.COLD
    assert "No space left" in kiln.memory.answers[-1].why
    kiln.clerk.trouble = None
    kiln.run(1).scan(Word.MADE_READY)
    kiln.clerk.trouble = "the record can't be written: disk full"
    kiln.run(1).scan(Word.BEGIN)
    assert "a restart would forget" in kiln.memory.answers[-1].why
    kiln.clerk.trouble = None
    kiln.run(1).scan(Word.BEGIN)
    kiln.clerk.trouble = "the record can't be written: disk full"
    assert kiln.run(60).state is State.PURGE  # nothing is lit meanwhile
    kiln.clerk.trouble = None
    assert kiln.run(2).state is State.LIT_BY_HAND


def test_a_carbon_monoxide_trip_outlasts_a_restart_though_the_record_never_got_it(tmp_path: Path) -> None:
    """A full disk: SQLite takes nothing any more, the tiny file was written over in its place."""
    kiln, record = recorded(tmp_path)
    kiln.lit(State.CLIMBING)
    kiln.rig.show(co_alarm=True)
    kiln.run(3)
    file = record.lockout_file
    settled(file)
    record.close()
    stale = Found(1, State.CLIMBING, kiln.rig.image.utc_s - 5, 90.0, stage=1, plan_text=kiln.memory.plan.text)
    again = first_memory(SETUP, last_known(stale, read_kept(file.path)), replace(kiln.rig.image, co_alarm=False))
    assert again.lockout is not None
    assert again.lockout.first_out.cause is Cause.CO_ALARM
    assert again.beat.course.left_off is None


def test_the_file_is_read_at_the_next_start_and_a_lost_record_forgets_no_fire(tmp_path: Path) -> None:
    kiln, record = recorded(tmp_path)
    kiln.lit(State.WARM_UP)
    settled(record.lockout_file)
    record.close()
    for part in tmp_path.glob("f.sqlite*"):
        part.unlink()
    again = Record(tmp_path / "f.sqlite", "fake")
    assert again.found is not None
    assert again.found.state is State.WARM_UP
    memory = first_memory(SETUP, again.found, good_readings(9.0, 60.0))
    assert memory.lockout is not None
    assert memory.lockout.first_out.cause is Cause.INTERRUPTED
    again.close()


@pytest.mark.parametrize("state", [State.FINISHED, State.CLIMBING, State.LOCKED_OUT])
def test_a_record_that_has_lost_its_lockout_file_comes_up_locked_out_and_says_so(state: State) -> None:
    trips = ((Cause.CO_ALARM, WORDS),) if state is State.LOCKED_OUT else ()
    found = Found(3, state, UTC_AT_0_S, 20.0, trips, stage=1, plan_text=short_plan().text)
    memory = first_memory(SETUP, last_known(found, None), good_readings(9.0, 20.0))
    assert memory.lockout is not None
    assert "it is gone" in memory.lockout.first_out.notice.happened
    assert memory.beat.course.left_off is None
    assert set(memory.lockout.causes) == {Cause.INTERRUPTED, *(cause for cause, _ in trips)}


def test_a_first_start_has_no_file_and_begins_cold(tmp_path: Path) -> None:
    record = Record(tmp_path / "f.sqlite", "fake")
    assert first_memory(SETUP, record.found, good_readings(9.0, 20.0)).lockout is None
    record.close()


def test_a_burn_down_that_the_record_has_missed_is_not_resumed() -> None:
    """A carbon monoxide trip was reset; the record, on a full disk, still ends in the climb a few seconds before."""
    stale = Found(1, State.CLIMBING, UTC_AT_0_S - 20.0, 90.0, stage=1, plan_text=SETUP.plan.text)
    memory = first_memory(SETUP, last_known(stale, Kept(State.BURN_DOWN, UTC_AT_0_S, 90.0)), good_readings(9.0, 80.0))
    assert memory.lockout is not None
    assert memory.beat.course.left_off is None


def test_a_disk_that_never_answers_is_told_and_holds_nobody_up(tmp_path: Path) -> None:
    """fsync on a dying card may hang instead of failing."""
    kiln, now_s, answers = cold_kiln().scan(), [0.0], threading.Event()

    def hangs(path: Path, text: bytes) -> None:
        answers.wait(60)
        save_whole(path, text)

    file = LockoutFile(tmp_path / "f.json", hangs, clock=lambda: now_s[0])
    file.offer(kiln.memory, UTC_AT_0_S)
    now_s[0] = STUCK_S - 0.1
    assert file.trouble is None
    now_s[0] = STUCK_S
    assert file.trouble is not None
    assert "does not answer" in file.trouble
    answers.set()
    file.close()
    assert file.trouble is None
    assert read_kept(tmp_path / "f.json") is not None


def test_a_quiet_end_is_a_quiet_start(tmp_path: Path) -> None:
    kiln, record = recorded(tmp_path)
    kiln.run(5)
    record.close()
    again = Record(tmp_path / "f.sqlite", "fake")
    assert first_memory(SETUP, again.found, good_readings(9.0, 20.0)).lockout is None
    again.close()


@pytest.mark.parametrize(("kind", "state"), [("state", State.BURN_DOWN), ("trip", State.LOCKED_OUT)])
def test_a_word_of_another_version_in_the_record_is_a_fire_or_a_lockout(
    kind: str, state: State, tmp_path: Path
) -> None:
    kiln, record = recorded(tmp_path)
    kiln.lit(State.WARM_UP)
    if kind == "trip":
        kiln.rig.show(co_alarm=True)
        kiln.run(3)
    record.close()
    save_whole(record.lockout_file.path, text_of(Kept(State.MADE_READY, 0.0, None)))  # it weighs nothing
    with closing(sqlite3.connect(tmp_path / "f.sqlite")) as db, db:
        db.execute("UPDATE events SET cause = 'gliding' WHERE kind = ? AND id = (SELECT max(id) FROM events"
                   " WHERE kind = ?)", (kind, kind))  # fmt: skip
    again = Record(tmp_path / "f.sqlite", "fake")
    assert again.found is not None
    assert again.found.state is state
    memory = first_memory(SETUP, again.found, good_readings(9.0, 60.0))
    assert memory.lockout is not None
    assert memory.beat.course.left_off is None
    again.close()
