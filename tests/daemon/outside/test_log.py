"""What reaches the system's journal: trips, and nothing else."""

from __future__ import annotations

import socket
import struct
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from daemon.notice import Cause
from daemon.outside.log import Log
from tests.daemon.house import cold_kiln, feeding_kiln


def fields_of(datagram: bytes) -> dict[str, str]:
    """Read what the journal would (systemd: "Native Journal Protocol", a name, a length, the value)."""
    found = {}
    while datagram:
        name, _, rest = datagram.partition(b"\n")
        (length,) = struct.unpack("<Q", rest[:8])
        found[name.decode()] = rest[8 : 8 + length].decode()
        assert rest[8 + length : 9 + length] == b"\n"
        datagram = rest[9 + length :]
    return found


@pytest.fixture
def journal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[socket.socket]:
    """The journal's end of the socket."""
    monkeypatch.setenv("JOURNAL_STREAM", "8:1")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ears:
        ears.bind(str(tmp_path / "journal"))
        ears.setblocking(False)
        yield ears


@pytest.fixture
def log(journal: socket.socket) -> Iterator[Log]:
    """The daemon's end."""
    with closing(Log(journal.getsockname())) as log:
        yield log


def test_a_trip_is_one_entry_in_three_parts_and_a_healthy_kiln_says_nothing(journal: socket.socket, log: Log) -> None:
    kiln = feeding_kiln()
    for _ in range(50):
        log.follow(kiln.scan().memory)
    with pytest.raises(BlockingIOError):
        journal.recv(10_000)
    kiln.rig.show(stop_pressed=True)
    for _ in range(50):
        log.follow(kiln.scan().memory)
    said = fields_of(journal.recv(10_000))
    assert said["PRIORITY"] == "2"
    assert kiln.first_out is Cause.STOP_BUTTON
    assert kiln.memory.lockout is not None
    words = kiln.memory.lockout.first_out.notice
    assert said["MESSAGE"].splitlines() == ["Locked out, stop button.", words.happened, words.did, words.do_next]
    with pytest.raises(BlockingIOError):  # once, though the button is held
        journal.recv(10_000)


def test_a_second_cause_is_an_entry_of_its_own(journal: socket.socket, log: Log) -> None:
    kiln = cold_kiln()
    kiln.rig.show(stop_pressed=True)
    log.follow(kiln.scan().memory)
    kiln.rig.show(co_alarm=True)
    log.follow(kiln.run(seconds=2).memory)
    heard = [fields_of(journal.recv(10_000))["MESSAGE"].splitlines()[0] for _ in range(2)]
    assert heard == ["Locked out, stop button.", "Locked out, carbon monoxide alarm."]


def test_a_journal_that_is_full_or_gone_holds_nothing_up(journal: socket.socket, log: Log) -> None:
    kiln = cold_kiln()
    free = kiln.scan().memory
    kiln.rig.show(stop_pressed=True)
    tripped = kiln.scan().memory
    for _ in range(2000):  # far more than its queue takes
        log.follow(tripped)
        log.follow(free)
    journal.close()
    log.follow(tripped)
