"""The link to a simulated kiln in another process: a board of pins and an SPI port whose copper is over there.

A pin here does what the real pin library does on a GPIO chip, in the same order: it begins as an input, an output
begins low, and giving it back makes it an input again. Every action is one request and its answer.
"""

from __future__ import annotations

import json
import socket
import time
from pathlib import Path
from typing import Any, Protocol

from gpiozero.exc import PinSetInput
from gpiozero.pins.mock import MockPWMPin

from hardware.simulated.pins import EmulatedFactory

PATIENCE_S = 2.0  # the other process answers in well under a millisecond, or it hangs


class Asks(Protocol):
    """Whoever can pass a request on to the site and bring the answer back."""

    closed: bool

    def ask(self, verb: str, *arguments: object) -> Any:
        """Ask, and wait for the answer. Raises OSError when it is refused or nobody answers."""

    def close(self) -> None:
        """Hang up."""


class Link:
    """One connection to the process in which the site lives."""

    def __init__(self, path: Path) -> None:
        """Connect. Raises OSError when nobody listens at `path`."""
        self.closed = False
        self._sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._sock.settimeout(PATIENCE_S)
        try:
            self._sock.connect(str(path))
        except OSError:
            self._sock.close()
            raise
        self._in = self._sock.makefile("rb")

    def ask(self, verb: str, *arguments: object) -> Any:
        """Send one request and wait for its answer. Raises OSError when it is refused or nobody answers."""
        self._sock.sendall(json.dumps([verb, *arguments]).encode() + b"\n")
        line = self._in.readline()
        if not line.endswith(b"\n"):
            raise ConnectionError("the process in which the simulated kiln lives has gone")
        value, *wrong = json.loads(line)
        if wrong:
            raise OSError(wrong[0])
        return value

    def close(self) -> None:
        """Hang up. Lines that are still claimed stay at their level."""
        self.closed = True
        self._in.close()
        self._sock.close()


class RemotePin(MockPWMPin):  # type: ignore[misc]  # gpiozero has no types
    """One line of the site's terminals."""

    def __init__(self, factory: Any, info: Any) -> None:
        super().__init__(factory, info)
        self._ask = factory.link.ask
        self._pull = "floating"
        self._frequency: float | None = None
        self._ask("claim", self._number, "input")

    def close(self) -> None:
        """Give the line back: an input again. After hanging up there is nothing left to give."""
        if not self._factory.link.closed:
            self._set_function("input")

    def _set_function(self, value: str) -> None:
        self._ask("claim", self._number, value)
        self._function = value
        self._frequency = None

    def _get_state(self) -> float:
        level: float = self._ask("level", self._number)
        return level

    def _set_state(self, value: float) -> None:
        if self._function != "output":
            raise PinSetInput(f"cannot set state of pin {self!r}")
        self._ask("drive", self._number, value)

    def _set_pull(self, value: str) -> None:
        self._ask("pull", self._number, value)
        self._pull = value

    def _set_frequency(self, value: float | None) -> None:
        if value != self._frequency and not self._factory.link.closed:
            self._ask("pulse", self._number, value)
            self._frequency = value


class RemoteSpi:
    """The way to the site's SPI wires."""

    def __init__(self, link: Asks) -> None:
        self._ask = link.ask

    def clock(self, select_pin: int, mode: int, words: list[int]) -> list[int]:
        """Clock `words` out over there and return as many that came in."""
        heard: list[int] = self._ask("spi", select_pin, mode, words)
        return heard


class RemoteFactory(EmulatedFactory):
    """A board whose pins are lines of a site in another process."""

    def __init__(self, link: Asks) -> None:
        self.link = link
        super().__init__(RemoteSpi(link), RemotePin)

    def close(self) -> None:
        """Give every line back and hang up."""
        try:
            super().close()
        finally:
            self.link.close()


class RemoteClock:
    """The site's time, told from this process's own monotonic clock: the two are the same, but for start and speed."""

    def __init__(self, link: Asks) -> None:
        how = link.ask("time")
        self._begun_s: float = how["begun_s"]
        self._speed: float = how["speed"]
        self._utc_at_0_s: float = how["utc_at_0_s"]

    def now_s(self) -> float:
        """Return seconds since the site was opened."""
        return (time.monotonic() - self._begun_s) * self._speed

    def utc_s(self) -> float:
        """Return the date and time as Unix seconds."""
        return self._utc_at_0_s + self.now_s()

    def wait_until(self, due_s: float) -> None:
        """Sleep until `due_s`."""
        left_s = (due_s - self.now_s()) / self._speed
        if left_s > 0.0:
            time.sleep(left_s)
