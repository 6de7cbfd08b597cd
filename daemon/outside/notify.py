"""systemd's notification socket: ready, still healthy, stopping. Without systemd it does nothing.

The protocol is sd_notify(3): one datagram of `KEY=value` lines to the socket named by NOTIFY_SOCKET.
"""

from __future__ import annotations

import contextlib
import os
import socket


class Notifier:
    """Tells systemd how the daemon is."""

    def __init__(self) -> None:
        """Look for the socket."""
        name = os.environ.get("NOTIFY_SOCKET", "")
        self._address = "\0" + name[1:] if name.startswith("@") else name
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) if name else None
        if self._socket is not None:
            self._socket.setblocking(False)

    def say(self, words: str) -> None:
        """Send `READY=1`, `WATCHDOG=1`, `STATUS=…` or `STOPPING=1`, without waiting."""
        if self._socket is not None:
            with contextlib.suppress(OSError):
                self._socket.sendto(words.encode(), self._address)
