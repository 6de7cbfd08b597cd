"""A whole house around a talking daemon: channel, clock, and the real server on a real port."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import httpx
import uvicorn

from api.app import create_app
from api.ear import Ear
from tests.api.fake_daemon import FakeDaemon
from tests.api.kiln_record import KilnRecord


class HandClock:
    """A clock that moves only when it is told to."""

    def __init__(self) -> None:
        """Begin at an odd hour, so that nobody relies on zero."""
        self.now_s = 7000.0

    def __call__(self) -> float:
        """Return monotonic seconds."""
        return self.now_s

    def advance(self, seconds: float) -> None:
        """Let time pass."""
        self.now_s += seconds


class _Server(uvicorn.Server):
    """A server that says when it is up."""

    def __init__(self, config: uvicorn.Config) -> None:
        super().__init__(config)
        self.up = threading.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self.up.set()


@dataclass(frozen=True, slots=True)
class House:
    """Everything a test needs to be the daemon on one side and a browser on the other."""

    channel: Path
    clock: HandClock
    ear: Ear
    daemon: FakeDaemon
    client: httpx.Client
    url: str

    def newcomer(self) -> House:
        """Give the house a daemon that hasn't said anything yet; whatever an earlier one said is forgotten."""
        self.daemon.die()
        self.asks.unlink(missing_ok=True)
        fresh = replace(self, daemon=FakeDaemon(self.channel, self.daemon.record))
        fresh.hear()  # and so is whatever was still on its way
        self.ear.heard = self.ear.unreadable = None
        return fresh

    @property
    def asks(self) -> Path:
        """Where the daemon takes asks."""
        return self.channel / "asks.sock"

    def hear(self, scene: str = "climbing", /, **changes: object) -> None:
        """Have the daemon say a scene's status, and wait until the server has heard it."""
        self.await_status_of(self.daemon.say(scene, **changes))

    def await_status_of(self, now_s: float) -> None:
        """Wait until the server has heard the status of this moment."""
        for _ in range(2000):
            answer = self.client.get("/status")
            if answer.status_code == 200 and answer.json()["now_s"] == now_s:
                return
        raise AssertionError(f"the server never heard the status of {now_s} s: {answer.text}")

    def ask(self, name: str) -> httpx.Response:
        """Ask something of the kiln as the page does."""
        return self.client.post("/asks", json={"ask": name}, headers={"Origin": self.url})


@contextmanager
def open_house(channel: Path) -> Iterator[House]:
    """Start the server, give the house, stop the server."""
    clock = HandClock()
    ear = Ear(channel / "status.sock", clock)
    app = create_app(ear, channel / "asks.sock", ["kiln.example"])
    config = uvicorn.Config(app, port=0, log_level="warning", access_log=False, timeout_graceful_shutdown=1)
    server = _Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    if not server.up.wait(10):
        raise AssertionError("the server did not start")
    url = f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    record = channel / "firings.sqlite"
    KilnRecord(record).db.close()
    daemon = FakeDaemon(channel, record)
    try:
        with httpx.Client(base_url=url, timeout=10) as client:
            yield House(channel, clock, ear, daemon, client, url)
    finally:
        daemon.die()
        server.should_exit = True
        thread.join(10)
