"""The server as a systemd service: it says when it listens, and goes on saying that it still answers.

The protocol is sd_notify(3). Without systemd nothing is said. The words come from the loop that answers requests, so a
server that is stuck falls silent, and systemd starts another.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket

import uvicorn

STILL_HERE_EVERY_S = 5.0


class Service(uvicorn.Server):
    """The server, and what systemd hears of it."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen, and say so."""
        await super().startup(sockets)
        self._pet = asyncio.create_task(_say_still_here())

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Stop listening."""
        self._pet.cancel()
        await super().shutdown(sockets)


async def _say_still_here() -> None:
    tell_systemd("READY=1")
    while True:
        tell_systemd("WATCHDOG=1")
        await asyncio.sleep(STILL_HERE_EVERY_S)


def tell_systemd(words: str) -> None:
    """Send one notification without waiting, if anybody wants it."""
    name = os.environ.get("NOTIFY_SOCKET", "")
    if not name:
        return
    address = "\0" + name[1:] if name.startswith("@") else name
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out, contextlib.suppress(OSError):
        out.setblocking(False)
        out.sendto(words.encode(), address)
