"""The local channel: the daemon drops a status datagram once a second and picks up asks. It never waits for anybody.

Two Unix datagram sockets in one folder: `status.sock` belongs to whoever listens (the api), `asks.sock` to the daemon.
The daemon sends without waiting and ignores that nobody listens.
"""

from __future__ import annotations

import contextlib
import json
import logging
import socket
from collections.abc import Mapping
from pathlib import Path

from daemon.course.asks import Ask, Word
from daemon.outside.notices import Json

MOST_A_SCAN = 16  # asks taken per scan, so that a flood can't hold a scan up
LARGEST_ASK = 2000
STATUS, ASKS = "status.sock", "asks.sock"
log = logging.getLogger(__name__)


class Channel:
    """The daemon's end."""

    def __init__(self, folder: Path) -> None:
        """Open it. Raises OSError when the folder can't be used."""
        folder.mkdir(parents=True, exist_ok=True)
        self._listener = str(folder / STATUS)
        self._own = folder / ASKS
        self._own.unlink(missing_ok=True)
        self._in = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._in.setblocking(False)
        self._in.bind(str(self._own))
        self._own.chmod(0o660)
        self._out = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._out.setblocking(False)

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
        """Send the status to whoever listens; that nobody does is no concern of the daemon."""
        with contextlib.suppress(OSError):
            self._out.sendto(json.dumps(status).encode(), self._listener)

    def close(self) -> None:
        """Close it and take the socket away."""
        self._in.close()
        self._out.close()
        self._own.unlink(missing_ok=True)


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
