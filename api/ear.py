"""The ear: hears the daemon's status datagrams and keeps the last one.

Only the newest status is kept, with the moment it was heard. Each is read strictly, by the daemon's own table: a key
that is missing, a NaN or another version makes the whole datagram unreadable. Better a page that says it hears nothing
than one that shows half a kiln. What can't be read changes nothing but `unreadable`, so a status can go stale but never
be half replaced.
"""

from __future__ import annotations

import asyncio
import json
import logging
import os
import socket
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from daemon.window import STOPPED, Status

LONGEST_BYTES = 65_536
"""The daemon sends up to about 60 kB; what is longer wasn't sent by it."""
LOST_AFTER_S = 3.0
"""Three statuses missed in a row."""
CHECK_EVERY_S = 2.0
LONGEST_WORDS = 3000

log = logging.getLogger(__name__)


class ChannelFault(Exception):
    """The channel can't be used. Says what to look at."""


@dataclass(frozen=True, slots=True)
class Heard:
    """A status and when it arrived, on the ear's clock, seconds."""

    status: Status
    at_s: float


class Ear(asyncio.DatagramProtocol):
    """Listens on `status.sock` in the channel directory."""

    def __init__(self, path: Path, clock: Callable[[], float]) -> None:
        """Listen at `path` once opened; `clock` is monotonic seconds."""
        self.path = path
        self.clock = clock
        self.heard: Heard | None = None
        self.unreadable: str | None = None
        """Why the last datagram couldn't be read; None when it could."""
        self._sock: socket.socket | None = None
        self._transport: asyncio.BaseTransport | None = None

    def age_s(self, heard: Heard) -> float:
        """How long ago this was heard, seconds."""
        return max(0.0, self.clock() - heard.at_s)

    def why_silent(self) -> str:
        """What the daemon left behind when it ended by itself: why, and what to do. Empty when it left nothing."""
        try:
            said = json.loads(self.path.with_name(STOPPED).read_text(encoding="utf-8"))
            return " ".join([said["happened"], said["did"], said["do_next"]])[:LONGEST_WORDS]
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return ""

    def bind(self) -> None:
        """Take the socket's place, clearing away a stale one. Raises ChannelFault, with what to look at."""
        if self._sock is None:
            self._sock = _bind(self.path)

    async def open(self) -> None:
        """Begin to listen, bound or not. Raises ChannelFault, with what to look at."""
        self.bind()
        loop = asyncio.get_running_loop()
        self._transport, _ = await loop.create_datagram_endpoint(lambda: self, sock=self._sock)

    def close(self) -> None:
        """Stop listening and take the socket's file away."""
        if self._transport is not None:
            self._transport.close()
            self._transport = self._sock = None
            self.path.unlink(missing_ok=True)

    async def stay_open(self, every_s: float = CHECK_EVERY_S) -> None:
        """Bind again whenever the socket's file has gone, as when somebody cleared the channel directory."""
        while True:
            await asyncio.sleep(every_s)
            if self.path.exists():
                continue
            self.close()
            try:
                await self.open()
                log.warning("%s had gone; listening there again", self.path)
            except ChannelFault as fault:
                log.warning("%s", fault)

    def datagram_received(self, data: bytes, addr: object) -> None:
        """Keep the status, or say once why it can't be read."""
        if len(data) > LONGEST_BYTES:
            self._unread(f"a datagram of {len(data)} bytes, longest allowed {LONGEST_BYTES}")
            return
        try:
            status = Status.model_validate_json(data)
        except ValidationError as error:
            first = error.errors(include_url=False, include_input=False)[0]
            where = ".".join(map(str, first["loc"]))
            self._unread(f"{error.error_count()} fault(s), the first: {where or 'datagram'}: {first['msg']}")
            return
        self.heard = Heard(status, self.clock())
        self.unreadable = None

    def error_received(self, exc: Exception) -> None:
        """Log what the socket reports; the age of the last status tells the person."""
        log.warning("%s: %s", self.path, exc)

    def _unread(self, why: str) -> None:
        if why != self.unreadable:
            log.warning("status not readable: %s", why)
        self.unreadable = why


def _bind(path: Path) -> socket.socket:
    if _is_listened_to(path):
        raise ChannelFault(f"Another server of this page listens on {path}. Stop it, or choose another --channel.")
    sock = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    try:
        path.parent.mkdir(mode=0o770, exist_ok=True)
        path.unlink(missing_ok=True)
        sock.bind(str(path))
        os.chmod(path, 0o660)  # the daemon may run as another user of the same group
    except OSError as error:
        sock.close()
        raise ChannelFault(f"Can't listen on {path}: {error}. Look at --channel and who may write there.") from error
    sock.setblocking(False)
    return sock


def _is_listened_to(path: Path) -> bool:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(str(path))
        except OSError:
            return False
        return True
