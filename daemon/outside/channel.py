"""The local channel: the daemon drops a status datagram once a second and picks up asks. It never waits for anybody.

Two Unix datagram sockets in one folder: `status.sock` belongs to whoever listens (the api), `asks.sock` to the daemon.
The daemon sends without waiting and ignores that nobody listens. It holds the folder, so that a second daemon is
refused, and makes its socket again when somebody has taken it away.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
import socket
from collections.abc import Mapping
from pathlib import Path

from daemon.course.asks import Ask, Word
from daemon.outside.notices import Json
from daemon.outside.only_one import hold

MOST_A_SCAN = 16  # asks taken per scan, so that a flood can't hold a scan up
LARGEST_ASK = 2000
STATUS, ASKS = "status.sock", "asks.sock"
log = logging.getLogger(__name__)


class Channel:
    """The daemon's end."""

    def __init__(self, folder: Path) -> None:
        """Open it. Raises OSError when the folder can't be used, or another daemon uses it."""
        folder.mkdir(parents=True, exist_ok=True)
        self._listener = str(folder / STATUS)
        self._own = folder / ASKS
        self._held = hold(folder, f"the channel in {folder}")
        self._in, self._bound = self._bind()
        self._trouble = ""
        self._out = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._out.setblocking(False)

    def _bind(self) -> tuple[socket.socket, tuple[int, int]]:
        """A socket to hear asks at, and which file it is. Raises OSError."""
        fresh = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        try:
            fresh.setblocking(False)
            self._own.parent.mkdir(parents=True, exist_ok=True)
            self._own.unlink(missing_ok=True)
            fresh.bind(str(self._own))
            self._own.chmod(0o660)
            return fresh, which_file(self._own)
        except OSError:
            fresh.close()
            raise

    def _bind_again_if_gone(self) -> None:
        try:
            if which_file(self._own) == self._bound:
                self._trouble = ""
                return
        except OSError:
            pass
        try:
            fresh, self._bound = self._bind()
        except OSError as fault:
            if str(fault) != self._trouble:
                log.warning("%s has gone and can't be made again: %s", self._own, fault)
            self._trouble = str(fault)
            return
        self._in.close()
        self._in = fresh
        log.warning("%s had gone: the daemon listens there again", self._own)

    def asks(self) -> tuple[Ask, ...]:
        """What was asked since the last call, without waiting; what makes no sense is dropped and logged."""
        found: list[Ask] = []
        for _ in range(MOST_A_SCAN):
            try:
                datagram = self._in.recv(LARGEST_ASK)
            except OSError:
                break
            ask = read_ask(datagram)
            if ask is None:
                log.warning("an ask that makes no sense was dropped: %r", datagram[:80])
            else:
                found.append(ask)
        return tuple(found)

    def tell(self, status: Mapping[str, Json]) -> None:
        """Send the status to whoever listens; that nobody does is no concern. Listens again if need be."""
        self._bind_again_if_gone()
        with contextlib.suppress(OSError):
            self._out.sendto(json.dumps(status).encode(), self._listener)

    def close(self) -> None:
        """Close it and take the socket away."""
        self._in.close()
        self._out.close()
        with contextlib.suppress(OSError):
            if which_file(self._own) == self._bound:
                self._own.unlink()
        os.close(self._held)


def which_file(path: Path) -> tuple[int, int]:
    """Which file stands there: another one of the same name is another. Raises OSError when there is none."""
    found = path.stat()
    return found.st_dev, found.st_ino


def read_ask(datagram: bytes) -> Ask | None:
    """An ask from its datagram, or None when it makes no sense."""
    try:
        table = json.loads(datagram)
        source, nonce = str(table.get("from", "?"))[:20], str(table.get("nonce", ""))[:64]
        (source + nonce).encode()  # half a surrogate pair passes as JSON and could never be written down
        return Ask(Word(table["ask"]), source, nonce)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


def send_ask(folder: Path, ask: Ask) -> None:
    """The other end: one ask to the daemon. Raises OSError when no daemon listens."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
        out.sendto(json.dumps({"ask": ask.word.value, "from": ask.source, "nonce": ask.nonce}).encode(),
                   str(folder / ASKS))  # fmt: skip
