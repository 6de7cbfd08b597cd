"""The record's file: older, newer, damaged, foreign, deleted, full; copied and put back."""

from __future__ import annotations

import random
import sqlite3
import threading
import time
from contextlib import closing
from itertools import pairwise
from pathlib import Path

import pytest

from daemon.course.state import State
from daemon.notice import Cause
from daemon.record.backup import back_up, restore
from daemon.record.file import RecordNewer
from daemon.record.firings import FiringUnreadable, opened, read_firing
from daemon.record.journal import Record
from daemon.record.schema import VERSION, prepare
from tests.daemon.house import UTC_AT_0_S, cold_kiln, feeding_kiln
from tests.daemon.record.test_record import Copying, recorded, rows

FIXTURES = Path(__file__).parent / "versions"


def made(path: Path, dump: Path) -> Path:
    """A record from its SQL text."""
    with closing(sqlite3.connect(path)) as db:
        db.executescript(dump.read_text(encoding="utf-8"))
    return path


def whole(path: Path) -> bool:
    """What SQLite itself says of the file."""
    return rows(path, "PRAGMA integrity_check") == [("ok",)]


@pytest.mark.parametrize("version", range(VERSION + 1))
def test_a_file_of_every_version_is_taken_over_and_loses_nothing(version: int, tmp_path: Path) -> None:
    path = made(tmp_path / "r.sqlite", FIXTURES / f"{version}.sql")
    assert rows(path, "PRAGMA user_version") == [(version,)]
    events, old = rows(path, "SELECT * FROM events"), rows(path, "SELECT * FROM readings ORDER BY now_s")
    assert events and old
    Record(path, "fake").close()
    assert rows(path, "PRAGMA user_version") == [(VERSION,)]
    assert [row[: len(events[0])] for row in rows(path, "SELECT * FROM events")] == events
    assert [row[: len(old[0])] for row in rows(path, "SELECT * FROM readings ORDER BY now_s")] == old
    with opened(path) as db:
        firing = read_firing(db)
    assert (firing.readings[0].setpoint_c, firing.readings[0].chamber_c) == (801.5, 799.25)


def test_every_version_has_its_file_among_the_tests() -> None:
    assert {path.name for path in FIXTURES.iterdir()} == {f"{version}.sql" for version in range(VERSION + 1)}


def test_a_newer_file_is_refused_with_a_sentence_and_not_touched(tmp_path: Path) -> None:
    path = made(tmp_path / "r.sqlite", FIXTURES / f"{VERSION}.sql")
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version={VERSION + 1}")
    before = path.read_bytes()
    with pytest.raises(RecordNewer, match=rf"version {VERSION + 1}.*Install the newer program"):
        Record(path, "fake")
    assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.glob("r.sqlite*")) == ["r.sqlite"]


@pytest.mark.parametrize("content", [b"no database at all, and long enough that it can't be one " * 40, None])
def test_a_damaged_or_foreign_file_is_kept_beside_and_a_fresh_one_begun(content: bytes | None, tmp_path: Path) -> None:
    path, why = tmp_path / "r.sqlite", "damaged"
    if content is not None:
        path.write_bytes(content)
    else:
        why = "foreign"
        with closing(sqlite3.connect(path)) as db:
            db.execute("CREATE TABLE recipes (glaze TEXT)")
    before = path.read_bytes()
    kiln, record = cold_kiln(), Record(path, "fake")
    Copying(kiln, record)
    assert record.trouble is not None and why[:7] in record.trouble.replace("not a record", "foreign")
    record.begin(kiln.memory, kiln.rig.image)
    kiln.run(20)
    record.close()
    assert record.trouble is None
    assert (tmp_path / f"r.{why}-1.sqlite").read_bytes() == before
    assert whole(path) and rows(path, "SELECT kind FROM events") == [("start",)]


def test_a_file_put_aside_becomes_an_alarm_that_stays_until_it_is_seen(tmp_path: Path) -> None:
    (tmp_path / "r.sqlite").write_bytes(b"x" * 5000)
    kiln, record = cold_kiln(), Record(tmp_path / "r.sqlite", "fake")
    kiln.clerk = record  # type: ignore[assignment]
    record.begin(kiln.memory, kiln.rig.image)
    kiln.run(30)
    record.close()
    told = [a.finding for a in kiln.memory.alarms if a.finding.cause is Cause.RECORD_TROUBLE]
    assert len(told) == 1 and "r.damaged-1.sqlite" in told[0].notice.happened


def test_a_damaged_record_without_a_lockout_file_is_a_lockout(tmp_path: Path) -> None:
    (tmp_path / "r.sqlite").write_bytes(b"x" * 5000)
    record = Record(tmp_path / "r.sqlite", "fake")
    record.close()
    assert record.found is not None and record.found.state is State.LOCKED_OUT


def test_a_file_deleted_during_a_firing_is_begun_again_and_control_is_unmoved(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    kiln, record, alone = cold_kiln(), Record(path, "fake"), cold_kiln()
    Copying(kiln, record)
    record.begin(kiln.memory, kiln.rig.image)
    kiln.lit(State.CLIMBING)
    alone.lit(State.CLIMBING)
    while record.waiting():
        time.sleep(0.01)
    path.unlink()
    kiln.run(3)
    until_s = time.monotonic() + 5
    while record.trouble is None and time.monotonic() < until_s:
        time.sleep(0.01)
    assert record.trouble is not None and "deleted" in record.trouble
    kiln.run(30)
    alone.run(33)
    record.close()
    assert record.trouble is None
    assert [(r.now_s, r.done) for r, _, _ in kiln.clerk.rows] == [(r.now_s, r.done) for r, _, _ in alone.clerk.rows]
    assert whole(path)
    assert rows(path, "SELECT count(*) FROM readings")[0][0] >= 28
    assert rows(path, "SELECT id FROM firings") == [(1,)]


def test_a_disk_that_was_full_gets_what_it_missed(tmp_path: Path) -> None:
    """The file's own page limit stands for the disk's end: SQLite answers both with SQLITE_FULL."""
    path = tmp_path / "r.sqlite"
    kiln, record = feeding_kiln(), Record(path, "fake")
    Copying(kiln, record, patient=True)
    record.begin(kiln.memory, kiln.rig.image)
    kiln.run(5)
    (pages,) = record._db.execute("PRAGMA page_count").fetchone()
    record._db.execute(f"PRAGMA max_page_count={pages}")
    kiln.run(60)
    while record.waiting():
        time.sleep(0.01)
    assert record.trouble is not None and "full" in record.trouble
    record._db.execute("PRAGMA max_page_count=1000000")
    kiln.run(5)
    record.close()
    assert record.trouble is None
    seconds = [now_s for (now_s,) in rows(path, "SELECT now_s FROM readings ORDER BY now_s")]
    assert len(seconds) >= 69 and max(b - a for a, b in pairwise(seconds)) <= 1.05


@pytest.mark.slow
def test_a_file_torn_anywhere_is_kept_as_it_is_and_the_daemon_starts(tmp_path: Path) -> None:
    source = tmp_path / "source.sqlite"
    recorded(source, "climbing")
    main, chance = source.read_bytes(), random.Random(1)
    for turn in range(60):
        path = tmp_path / f"{turn}.sqlite"
        torn = main[: chance.randrange(1, len(main))]
        path.write_bytes(torn)
        Record(path, "fake").close()
        assert whole(path)
        assert (tmp_path / f"{turn}.damaged-1.sqlite").read_bytes() == torn


@pytest.mark.slow
def test_a_log_torn_anywhere_keeps_all_that_was_committed_before_the_tear(tmp_path: Path) -> None:
    source = tmp_path / "source.sqlite"
    kiln, record = feeding_kiln(), Record(source, "fake")
    Copying(kiln, record, patient=True)
    record.begin(kiln.memory, kiln.rig.image)
    kiln.run(40)
    while record.waiting():
        time.sleep(0.01)
    time.sleep(0.1)  # the batch that was taken last is committed
    main, log = source.read_bytes(), source.with_name("source.sqlite-wal").read_bytes()
    record.close()
    chance, kept = random.Random(2), []
    for turn, cut in enumerate(sorted({len(log), *(chance.randrange(len(log)) for _ in range(60))})):
        path = tmp_path / f"{turn}.sqlite"
        path.write_bytes(main)
        path.with_name(f"{turn}.sqlite-wal").write_bytes(log[:cut])
        Record(path, "fake").close()
        assert whole(path)
        kept.append(rows(path, "SELECT count(*) FROM readings")[0][0])
    assert kept == sorted(kept)
    assert kept[0] < 10 and kept[-1] >= 39


def test_a_copy_made_while_the_daemon_writes_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    kiln, record = feeding_kiln(), Record(path, "fake")
    Copying(kiln, record, patient=True)
    record.begin(kiln.memory, kiln.rig.image)
    writing = threading.Thread(target=lambda: kiln.run(120))
    writing.start()
    counts = []
    for turn in range(3):
        back_up(path, tmp_path / f"copy-{turn}.sqlite")
        assert whole(tmp_path / f"copy-{turn}.sqlite")
        counts.append(rows(tmp_path / f"copy-{turn}.sqlite", "SELECT count(*) FROM readings")[0][0])
    writing.join()
    record.close()
    assert counts == sorted(counts)
    assert rows(path, "SELECT count(*) FROM readings")[0][0] >= max(*counts, 119)
    with pytest.raises(FileExistsError, match="copy-0"):
        back_up(path, tmp_path / "copy-0.sqlite")


def test_a_copy_is_put_back_only_if_it_is_whole_and_no_daemon_runs(tmp_path: Path) -> None:
    path, copy = tmp_path / "r.sqlite", tmp_path / "copy.sqlite"
    recorded(path, "climbing")
    back_up(path, copy)
    before, torn = path.read_bytes(), tmp_path / "torn.sqlite"
    torn.write_bytes(copy.read_bytes()[:9000])
    with pytest.raises((FiringUnreadable, sqlite3.Error)):
        restore(torn, path)
    assert path.read_bytes() == before
    record = Record(path, "fake")
    with pytest.raises(OSError, match="another daemon"):
        restore(copy, path)
    record.close()
    with closing(sqlite3.connect(path)) as db:
        db.execute("DELETE FROM events")
        db.commit()
    aside = restore(copy, path)
    assert aside is not None and rows(aside, "SELECT count(*) FROM events") == [(0,)]
    assert rows(path, "SELECT count(*) FROM events")[0][0] > 5
    assert rows(path, "SELECT min(utc_s) FROM events")[0][0] >= UTC_AT_0_S


def test_the_tables_are_prepared_again_without_harm(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "r.sqlite")) as db:
        prepare(db)
        first = db.execute("SELECT sql FROM sqlite_master").fetchall()
        prepare(db)
        assert db.execute("SELECT sql FROM sqlite_master").fetchall() == first
