"""The server: lets a site live in real time and answers whoever connects, one line of JSON for one line of JSON.

A request is `["verb", argument, ...]`; the answer is `[value]`, or `[null, "what is wrong"]`. Whoever claims lines is
their owner until the connection ends; whoever only looks is an observer. Nobody can hold the site's time up.
"""

from __future__ import annotations

import json
import selectors
import socket
import time
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

from hardware.simulated.site import Site
from hardware.simulated.terminals import Terminals
from hardware.simulated.witness import Witness
from hardware.wiring import Wiring

TICK_S = 0.02  # real time between two looks of the cabinet: how finely the watchdog's relay is timed
LATE_S = 0.05  # a tick that comes later than this after its time is noted: the machine was too busy
LONGEST = 65536  # of a request
OWNER_VERBS = ("claim", "pull", "level", "drive", "pulse", "spi")
MOVES = frozenset({"claim", "drive", "pulse"})


class Caller:
    """One connection and what has arrived of its next request."""

    __slots__ = ("line", "sock")

    def __init__(self, sock: socket.socket) -> None:
        self.sock = sock
        self.line = b""


class Server:
    """One site behind a Unix stream socket. The site's clock must run flat out: the pace is kept here."""

    def __init__(self, site: Site, wiring: Wiring, path: Path, speed: float = 1.0, seed: int = 0) -> None:
        """Listen at `path`. Raises OSError when that can't be."""
        self._site = site
        self._speed = speed
        self._terminals = Terminals(site.pins, site.wires, Random(f"pulses {seed}"))
        self._witness = witness = Witness(site, wiring, time.monotonic)
        self._owner_verbs: dict[str, Callable[..., Any]] = {
            verb: getattr(self._terminals, verb) for verb in OWNER_VERBS
        }
        self._observer_verbs: dict[str, Callable[..., Any]] = {
            "time": self._time, "held": lambda: self._terminals.held, "truth": witness.truth, "since": witness.since,
            "inject": witness.inject, "mend": witness.mend, "press": witness.press,
            "light_charcoal": witness.light_charcoal, "fill_hopper": witness.fill_hopper,
            "rake_ash": witness.rake_ash, "set_damper": witness.set_damper, "fault_names": witness.fault_names,
        }  # fmt: skip
        self._path = path
        self._door = _listen(path)
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._door, selectors.EVENT_READ, None)
        self._stop = False
        self._begun_s = self._due_s = time.monotonic()
        self._begun_s -= site.clock.now_s() / speed
        self._utc_at_0_s = time.time() - site.clock.now_s()

    def stop(self) -> None:
        """End `serve` at its next turn; a signal may call it."""
        self._stop = True

    def serve(self) -> None:
        """Live and answer until told to stop."""
        try:
            while not self._stop:
                ready = self._selector.select(max(0.0, self._due_s - time.monotonic()))
                self._live()
                for key, _ in ready:
                    if key.data is None:
                        self._accept()
                    else:
                        self._hear(key.data)
        finally:
            self._path.unlink(missing_ok=True)
            self._door.close()
            self._selector.close()

    def _live(self) -> None:
        """Let the site live up to now, whether or not anybody asks."""
        real_s = time.monotonic()
        if real_s < self._due_s:
            return
        if real_s - self._due_s > LATE_S:
            self._witness.note("late", real_s - self._due_s)
        self._site.clock.wait_until((real_s - self._begun_s) * self._speed)
        self._witness.look()
        self._due_s = real_s + TICK_S

    def _time(self) -> dict[str, float]:
        """How the site's clock goes: it can be told from the machine's monotonic clock alone."""
        return {"begun_s": self._begun_s, "speed": self._speed, "utc_at_0_s": self._utc_at_0_s}

    def _accept(self) -> None:
        sock, _ = self._door.accept()
        sock.setblocking(False)
        self._selector.register(sock, selectors.EVENT_READ, Caller(sock))

    def _hear(self, caller: Caller) -> None:
        try:
            heard = caller.sock.recv(LONGEST)
            *lines, caller.line = (caller.line + heard).split(b"\n")
            for line in lines:
                # an answer that doesn't fit is for a caller who has stopped listening
                caller.sock.sendall(json.dumps(self._answer(caller, line)).encode() + b"\n")
        except OSError:
            heard = b""
        if not heard or len(caller.line) > LONGEST:
            self._selector.unregister(caller.sock)
            caller.sock.close()
            self._terminals.dropped(caller)
            self._witness.look()

    def _answer(self, caller: Caller, line: bytes) -> list[Any]:
        try:
            verb, *arguments = json.loads(line)
            if verb in self._owner_verbs:
                value = self._owner_verbs[verb](caller, *arguments)
                if verb in MOVES:
                    self._witness.look()
            else:
                value = self._observer_verbs[verb](*arguments)
                self._witness.look()
        except Exception as error:  # whatever a caller gets wrong is said to the caller, and the site lives on
            return [None, str(error) if isinstance(error, OSError) else repr(error)]
        return [value]


def _listen(path: Path) -> socket.socket:
    """Open the door; a socket file that nobody listens at is cleared away. Raises OSError."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        if path.is_socket() and probe.connect_ex(str(path)) == 0:
            raise OSError(f"{path}: another simulated kiln stands there")
    if path.is_socket():
        path.unlink()
    door = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    door.bind(str(path))
    door.listen(16)
    return door
