"""The runner: whatever happens the outputs are off when it ends, and a fault is kept with its traceback."""

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest

from daemon.command.runner import ScanFailed, run
from daemon.course.asks import Ask
from daemon.memory import Memory
from daemon.record.journal import Record
from hardware.port import Outputs, Readings, RigFault
from tests.daemon.house import FakeRig, feeding_kiln


class NobodySpeaks:
    """No asks."""

    def asks(self) -> tuple[Ask, ...]:
        """None."""
        return ()


@dataclass
class Breaking(FakeRig):
    """A rig that fails to read after so many scans, and keeps what was written."""

    scans_left: int = 20
    fault: Exception | None = None
    closed: bool = False

    def __post_init__(self) -> None:
        """Nothing written yet."""
        self.written: list[Outputs] = []

    def read(self, due_s: float) -> Readings:
        """Read, until it breaks."""
        self.scans_left -= 1
        if self.scans_left < 0 and self.fault is not None:
            raise self.fault
        return super().read(due_s)

    def write(self, wanted: Outputs) -> Outputs:
        """Write, and keep it."""
        self.written.append(wanted)
        return super().write(wanted)

    def close(self) -> None:
        """Give it back."""
        self.closed = True


def feeding_rig(fault: Exception | None) -> tuple[Breaking, Memory]:
    """A kiln that is feeding, on a rig that will break."""
    kiln = feeding_kiln()
    return Breaking(kiln.rig.image, kiln.rig.wanted, kiln.rig.live, fault=fault), kiln.memory._replace(readings=None)


@pytest.mark.parametrize("fault", [ValueError("a bug"), RigFault("no bus"), ZeroDivisionError()])
def test_a_scan_that_raises_drops_the_feed_and_is_kept(fault: Exception, tmp_path: Path) -> None:
    (rig, memory), record = feeding_rig(fault), Record(tmp_path / "r.sqlite", "fake")
    with pytest.raises(ScanFailed, match="the feed is off"):
        run(rig, memory, record, NobodySpeaks(), lambda memory, due_s: True)
    record.close()
    assert any(wanted.auger for wanted in rig.written)
    assert rig.written[-1].auger is False
    assert rig.written[-1].fan_frac == 0.0
    assert rig.closed
    with closing(sqlite3.connect(tmp_path / "r.sqlite")) as db:
        kept = db.execute("SELECT happened FROM events WHERE kind = 'trip'").fetchall()
    assert len(kept) == 1
    assert "Traceback" in kept[0][0]


def test_an_end_that_was_asked_for_drops_the_feed_too(tmp_path: Path) -> None:
    (rig, memory), record = feeding_rig(None), Record(tmp_path / "r.sqlite", "fake")
    last = run(rig, memory, record, NobodySpeaks(), lambda memory, due_s: not memory.done.auger)
    record.close()
    assert last.done.auger
    assert rig.written[-1].auger is False
    assert rig.closed


def test_scans_that_were_missed_are_not_made_up_for(tmp_path: Path) -> None:
    (rig, memory), record = feeding_rig(None), Record(tmp_path / "r.sqlite", "fake")
    due: list[float] = []

    def between(memory: Memory, due_s: float) -> bool:
        due.append(due_s)
        if len(due) == 5:
            rig.read(rig.image.now_s + 30.0)  # the machine hung for half a minute
        return len(due) < 10

    run(rig, memory, record, NobodySpeaks(), between)
    record.close()
    steps = [after - before for before, after in pairwise(due)]
    assert steps == pytest.approx([0.1] * 4 + [30.1] + [0.1] * 4, abs=0.11)
