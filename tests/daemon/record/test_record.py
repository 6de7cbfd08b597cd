"""The record: rows and events land, the same firing gives the same bytes, and a sick disk never stops a scan."""

import sqlite3
import time
from contextlib import closing
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import pytest

from daemon.control.feed import FeedLimit
from daemon.course.asks import Word
from daemon.course.state import State
from daemon.fire.mixture import AIR_PER_KG
from daemon.memory import Memory
from daemon.notice import Cause
from daemon.record.found import Found
from daemon.record.journal import Record
from daemon.record.start import first_memory
from daemon.row import Row
from daemon.setup import setup_of
from hardware.port import Blind, Blindness
from tests.daemon.house import (
    SHORT_PLAN,
    UTC_AT_0_S,
    FakeRig,
    Kiln,
    cold_kiln,
    feeding_kiln,
    living,
    short_plan,
    short_settings,
)

BRIEF = short_plan(SHORT_PLAN.replace("to = 100", "to = 50"))
MOST_WAITING = 100


class Copying:
    """Offers every row to a record, and keeps it for the test too.

    `patient`: it waits for the writer, a real thread, that a kiln whose time is simulated leaves behind.
    """

    trouble: str | None = None

    def __init__(self, kiln: Kiln, record: Record, patient: bool = False) -> None:
        self._clerk, self._record, self._patient = kiln.clerk, record, patient
        kiln.clerk = self  # type: ignore[assignment]
        self.rows = self._clerk.rows

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Pass it to both."""
        self._record.offer(row, before, after)
        while self._patient and self._record.waiting() > MOST_WAITING:
            time.sleep(0.001)
        self._clerk.offer(row, before, after)


def recorded(path: Path, play: str = "whole", kiln: Kiln | None = None) -> Kiln:
    """A firing played into a record; `play` says how it ends."""
    kiln, record = kiln or cold_kiln(plan=BRIEF), Record(path, "fake")
    Copying(kiln, record, patient=True)
    record.begin(kiln.memory, kiln.rig.image)
    endings = {"purge": State.PURGE, "climbing": State.CLIMBING, "locked out": State.SOAKING, "whole": State.SOAKING}
    if play == "purge":
        kiln.scan(Word.MADE_READY).scan(Word.BEGIN).run(2)
    elif play in endings:
        kiln.lit(endings[play]).run(3)
    else:
        kiln.run(3)
    if play == "locked out":
        kiln.scan(Word.STOP).run(2)
    if play == "whole":
        kiln.until(State.BURN_DOWN)
        kiln.rig.show(flame_seen=False)
        kiln.run(61).scan(Word.BED_OUT).until(State.FINISHED).run(3)
    record.close()
    return kiln


def rows(path: Path, sql: str, *values: float | str) -> list[tuple[Any, ...]]:
    """What the file says."""
    with closing(sqlite3.connect(path)) as db:
        return list(db.execute(sql, values))


def found(path: Path) -> Found | None:
    """What the next start finds."""
    record = Record(path, "fake")
    record.close()
    return record.found


@pytest.mark.slow
def test_a_whole_firing_is_read_back_from_the_file(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    kiln = recorded(path)
    states = [cause for (cause,) in rows(path, "SELECT cause FROM events WHERE kind = 'state' ORDER BY id")]
    assert states == [
        s.value for s in State if s not in (State.COLD, State.LOCKED_OUT)
    ]  # the states are listed in a firing's order
    told = [cause for (cause,) in rows(path, "SELECT cause FROM events WHERE kind = 'told' ORDER BY id")]
    assert told == ["made_ready", "begin", "lit", "bed_out"]
    stages = rows(path, "SELECT cause, happened FROM events WHERE kind = 'stage' ORDER BY id")
    assert stages == [("1", "warm-up"), ("2", "up"), ("3", "even out")]
    (name, plan, rig) = rows(path, "SELECT plan_name, plan, rig FROM firings")[0]
    assert (name, plan, rig) == (kiln.memory.plan.name, kiln.memory.plan.text, "fake")


@pytest.mark.slow
def test_a_reading_is_kept_once_a_second_from_made_ready_until_the_kiln_is_cold(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    kiln = recorded(path)
    beats = [
        (row.now_s, after.beat.course.state.value)
        for row, _, after in kiln.clerk.rows
        if row.wish.beat.at_s == row.now_s and after.beat.course.state not in (State.COLD, State.FINISHED)
    ]
    assert rows(path, "SELECT now_s, state FROM readings ORDER BY now_s") == beats
    gaps = [after - before for (before, _), (after, _) in pairwise(beats)]
    assert max(gaps) <= 1.05


@pytest.mark.slow
def test_the_auger_time_in_the_record_is_what_the_contact_was_closed(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    kiln = recorded(path)
    closed_s = sum(0.1 for row, _, _ in kiln.clerk.rows if row.done.auger)
    assert closed_s > 10
    assert rows(path, "SELECT sum(auger_s) FROM readings")[0][0] == pytest.approx(closed_s, abs=0.01)
    kept_kg = rows(path, "SELECT max(pellets_kg) FROM readings")[0][0]
    assert kept_kg == pytest.approx(closed_s * 9.0 / 3600, rel=1e-6)


@pytest.mark.slow
def test_every_term_of_the_decision_is_in_the_row(tmp_path: Path) -> None:
    """Why so much was fed, and why so much air: the parts add up where no limit acted."""
    path = tmp_path / "r.sqlite"
    recorded(path)
    parts = rows(
        path,
        "SELECT feed_frac, ff_frac, p_frac, i_frac, d_frac FROM readings WHERE limited_by = ? AND feed_frac > 0",
        FeedLimit.NONE.value,
    )
    assert len(parts) > 60
    for frac, *terms in parts:
        assert frac == pytest.approx(sum(terms), abs=1e-6)
    columns = (
        "draught_setpoint_pa, burns_kg_per_h, air_kg_per_h, air_ratio, wanted_air_ratio, mass_kg_per_k, "
        "walls_kg_per_h, load_kg_per_h"
    )
    climbing = rows(path, f"SELECT {columns} FROM readings WHERE state = ? ORDER BY now_s", State.CLIMBING.value)
    assert all(None not in row for row in climbing)
    setpoint_pa, burns, air, ratio, wanted, mass, _, _ = climbing[-1]
    assert ratio == pytest.approx(air / (AIR_PER_KG * burns))
    assert 1.0 < wanted < 1.6
    assert setpoint_pa > 0
    assert mass > 0
    assert rows(path, "SELECT count(*) FROM readings WHERE oxygen_air_ratio IS NOT NULL") == [(0,)]  # not fitted


def test_a_file_begun_with_fewer_columns_gets_the_rest_and_keeps_what_it_has(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE readings (firing INTEGER, now_s REAL, utc_s REAL, state TEXT, base_frac REAL, "
                   "PRIMARY KEY (firing, now_s)) WITHOUT ROWID")  # fmt: skip
        db.execute("INSERT INTO readings VALUES (99, 5.0, 1.0, 'climbing', 0.25)")
        db.commit()
    recorded(path, "climbing")
    assert rows(path, "SELECT now_s, state, base_frac, ff_frac FROM readings WHERE firing = 99") == [
        (5.0, "climbing", 0.25, None)
    ]
    assert rows(path, "SELECT count(*) FROM readings WHERE firing != 99 AND ff_frac > 0")[0][0] > 5


def test_a_blind_probe_is_kept_as_nothing_with_its_reason(tmp_path: Path) -> None:
    kiln, path = cold_kiln(), tmp_path / "r.sqlite"
    kiln.rig.override = lambda seen: replace(seen, probes={**seen.probes, "flue": Blind(Blindness.OPEN_CIRCUIT)})
    recorded(path, "climbing", kiln)
    flues = rows(path, "SELECT DISTINCT flue_c, blind FROM readings")
    assert flues == [(None, '{"flue": "open circuit: the thermocouple or its wire is broken or unplugged"}')]


@pytest.mark.slow
def test_two_identical_firings_give_the_same_bytes(tmp_path: Path) -> None:
    one, other, another = (tmp_path / name for name in ("a.sqlite", "b.sqlite", "c.sqlite"))
    recorded(one)
    recorded(other)
    recorded(another, "climbing")
    assert one.read_bytes() == other.read_bytes()
    assert one.read_bytes() != another.read_bytes()


def test_a_batch_is_closed_by_the_rigs_clock_so_nothing_waits_longer_than_two_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kiln = cold_kiln()
    handed: list[float] = []

    class Watched(SimpleQueue[object]):
        """Notes the rig's time when a batch is put into it."""

        def put(self, item: object, block: bool = True, timeout: float | None = None) -> None:
            handed.append(kiln.rig.image.now_s)
            super().put(item)

    monkeypatch.setattr("daemon.record.journal.SimpleQueue", Watched)
    record = Record(tmp_path / "r.sqlite", "fake")
    Copying(kiln, record)
    kiln.lit(State.CLIMBING)
    record.close()
    began_s = handed[0]
    assert began_s <= 2.0
    assert all(0.95 <= after - before <= 1.15 for before, after in pairwise(handed[:-2]))


class Disk:
    """A record with the file spoilt under it from outside."""

    def __init__(self, path: Path) -> None:
        self.kiln, self.record, self.path = cold_kiln(), Record(path, "fake"), path
        Copying(self.kiln, self.record)

    def spoil(self) -> None:
        """Take a table away."""
        with closing(sqlite3.connect(self.path)) as db:
            db.execute("DROP TABLE readings")
            db.commit()

    def settled(self) -> None:
        """Wait for the writer (a real thread) by closing the record."""
        self.record.close()


def test_a_record_that_can_not_be_written_tells_of_it_and_the_firing_goes_on(tmp_path: Path) -> None:
    disk = Disk(tmp_path / "r.sqlite")
    disk.kiln.lit(State.WARM_UP)
    disk.spoil()
    disk.kiln.until(State.CLIMBING).run(5)
    assert disk.kiln.state is State.CLIMBING
    disk.settled()
    assert disk.record.trouble is not None
    assert "readings" in disk.record.trouble


def test_a_stuck_disk_drops_batches_counts_them_and_holds_nothing_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full(SimpleQueue[object]):
        """A queue that the writer doesn't empty."""

        def qsize(self) -> int:
            return 10_000

    monkeypatch.setattr("daemon.record.journal.SimpleQueue", Full)
    disk = Disk(tmp_path / "r.sqlite")
    disk.kiln.lit(State.CLIMBING)
    assert disk.record.dropped >= 10
    assert disk.record.trouble is not None
    assert str(disk.record.dropped) in disk.record.trouble
    disk.settled()


def test_a_record_that_can_not_be_opened_says_so_at_the_start(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OSError, match="file"):
        Record(tmp_path / "file" / "r.sqlite", "fake")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("play", "state"),
    [
        ("nothing", None),
        ("purge", State.PURGE),
        ("climbing", State.CLIMBING),
        ("locked out", State.LOCKED_OUT),
        ("whole", State.FINISHED),
    ],
)
def test_the_next_start_finds_how_the_last_one_ended(play: str, state: State | None, tmp_path: Path) -> None:
    kiln = recorded(tmp_path / "r.sqlite", play)
    end = found(tmp_path / "r.sqlite")
    if state is None:
        assert end is None
        return
    assert end is not None
    assert (end.state, end.firing) == (state, 1)
    last_s = kiln.rig.image.now_s
    assert end.utc_s == pytest.approx(UTC_AT_0_S + last_s, abs=1.1 if play != "whole" else 4.0)
    if play == "climbing":
        assert end.chamber_c == pytest.approx(kiln.rig.hot_c, abs=2.0)
    if play == "locked out":
        ((cause, notice),) = end.trips
        assert cause is Cause.STOP_ASKED
        assert "A stop was asked for" in notice.happened


def test_a_fault_of_the_daemon_itself_is_kept_with_its_traceback(tmp_path: Path) -> None:
    path = tmp_path / "r.sqlite"
    kiln, record = feeding_kiln(), Record(path, "fake")
    record.daemon_fault(kiln.memory, "Traceback: the line")
    record.close()
    cause = Cause.DAEMON_FAULT.value
    assert rows(path, "SELECT kind, cause, happened FROM events") == [("trip", cause, "Traceback: the line")]


def test_after_a_restart_the_first_out_is_still_first(tmp_path: Path) -> None:
    kiln, record = cold_kiln(), Record(tmp_path / "r.sqlite", "fake")
    Copying(kiln, record)
    kiln.lit(State.CLIMBING).scan(Word.STOP).run(3)
    kiln.rig.show(stop_pressed=True)
    kiln.run(3)
    record.close()
    assert kiln.first_out is Cause.STOP_ASKED
    end = found(tmp_path / "r.sqlite")
    again = first_memory(setup_of(short_settings(), kiln.memory.plan), end, kiln.rig.image)
    assert again.lockout is not None
    assert "A stop was asked for" in again.lockout.first_out.notice.happened


def test_a_board_started_afresh_goes_on_in_the_same_firing_after_what_was_kept(tmp_path: Path) -> None:
    """Its monotonic clock begins at nought again, ten minutes after the power went."""
    path = tmp_path / "r.sqlite"
    kiln, record = cold_kiln(), Record(path, "fake")
    Copying(kiln, record)
    kiln.lit(State.CLIMBING).run(30)
    record.close()
    ((kept, last_s),) = rows(path, "SELECT count(*), max(now_s) FROM readings")
    assert last_s > 60
    end = found(path)
    assert end is not None
    assert (end.state, end.stage, end.plan_text) == (State.CLIMBING, 1, kiln.memory.plan.text)

    fresh = replace(kiln.rig.image, now_s=3.0, utc_s=kiln.rig.image.utc_s + 600.0)
    record = Record(path, "fake")
    again = Kiln(FakeRig(fresh, live=living), first_memory(setup_of(short_settings(), kiln.memory.plan), end, fresh))
    record.begin(again.memory, fresh)
    Copying(again, record)
    again.run(20)
    record.close()
    ((now_kept, first_s, now_last_s),) = rows(
        path, "SELECT count(*), min(now_s), max(now_s) FROM readings WHERE now_s > ?", last_s
    )
    assert now_kept == pytest.approx(20, abs=2)
    assert first_s == pytest.approx(last_s + 600, abs=3)
    assert rows(path, "SELECT count(*) FROM readings") == [(kept + now_kept,)]
    after = found(path)
    assert after is not None
    assert (after.state, len(after.trips)) == (State.LOCKED_OUT, 1)
    assert now_last_s > first_s


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_an_ask_with_half_a_character_does_not_end_the_record(tmp_path: Path) -> None:
    """JSON may hold half of a surrogate pair; anybody who can send an ask can send one."""
    path = tmp_path / "r.sqlite"
    kiln, record = cold_kiln(), Record(path, "fake")
    Copying(kiln, record)
    kiln.scan(Word.MADE_READY, source="\ud800").scan(Word.BEGIN).until(State.LIT_BY_HAND).run(5)
    record.close()
    assert len(rows(path, "SELECT 1 FROM readings")) > 5
