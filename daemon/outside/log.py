"""The system's journal: every trip, in three parts, and nothing else that the kiln does.

Under systemd a datagram goes to the journal's own socket, which never makes a scan wait (systemd: "Native Journal
Protocol"). Elsewhere it is printed.
"""

from __future__ import annotations

import contextlib
import os
import socket
import struct
import sys

from daemon.lockout import Lockout
from daemon.memory import Memory
from daemon.notice import Finding

SOCKET = "/run/systemd/journal/socket"
CRITICAL = 2  # syslog's priority (RFC 5424, table 2)


class Log:
    """Follows the lock-out and writes down what is new in it."""

    def __init__(self, address: str = SOCKET) -> None:
        """Use the journal if this process's output goes there."""
        self._address = address
        self._lockout: Lockout | None = None
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) if "JOURNAL_STREAM" in os.environ else None
        if self._socket is not None:
            self._socket.setblocking(False)

    def follow(self, memory: Memory) -> None:
        """Write down the trips that came since the last call. Called after every scan."""
        before, now = self._lockout, memory.lockout
        if now is before:
            return
        self._lockout = now
        known = before.trips if before is not None else ()
        for trip in now.trips if now is not None else ():
            if trip not in known:
                self._write(trip)

    def _write(self, trip: Finding) -> None:
        words = trip.notice
        text = f"Locked out, {trip.cause.value}.\n{words.happened}\n{words.did}\n{words.do_next}"
        if self._socket is None:
            print(text, file=sys.stderr, flush=True)
            return
        fields = {"MESSAGE": text, "PRIORITY": str(CRITICAL), "SYSLOG_IDENTIFIER": "stokehand"}
        with contextlib.suppress(OSError):  # a journal that is stopped or full: the record has it too
            self._socket.sendto(b"".join(field(name, value) for name, value in fields.items()), self._address)

    def close(self) -> None:
        """Let the journal go."""
        if self._socket is not None:
            self._socket.close()


def field(name: str, value: str) -> bytes:
    """One field as the journal reads it: with its length before it, so that a value may have several lines."""
    data = value.encode()
    return name.encode() + b"\n" + struct.pack("<Q", len(data)) + data + b"\n"
