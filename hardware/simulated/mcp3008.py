"""An emulated MCP3008 converter: eight voltages, asked for bit by bit.

After the data sheet (memory): a start bit, single/differential, three channel bits, one clock to sample, a null bit,
then ten bits with the highest first. Its answer depends on where the start bit lies, as the real one's does.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import repeat
from random import Random
from typing import NamedTuple

from hardware.simulated.noise import noise

REFERENCE_V = 3.3
FULL_SCALE = 1024
ANSWER_AFTER_START = 16  # clocks from the start bit to the lowest bit of the answer


class _Request(NamedTuple):
    """What a transfer's bits ask for; `channel` is None where no answer comes out."""

    channel: int | None
    against: int | None
    """The neighbour it is measured against; None: against 0 V."""
    left: int
    """Clocks after the lowest bit of the answer."""
    undriven: int
    """The bits before the null bit: nobody drives the line, and it floats high."""


def _decode(words: list[int]) -> _Request:
    """Find start bit and command in the bits that were sent. The same bytes are sent in every scan."""
    bits, length = int.from_bytes(bytes(words), "big"), 8 * len(words)
    start = length - bits.bit_length()  # clocks before the start bit
    left = length - start - 1 - ANSWER_AFTER_START
    if bits == 0 or left < 0:
        return _Request(None, None, 0, 0)  # nobody asked, or the clock stopped before the answer was out
    command = bits >> (length - start - 5) & 0x0F
    channel = command & 0x07
    against = None if command & 0x08 else channel ^ 1
    return _Request(channel, against, left, ((1 << length) - 1) & ~((1 << left + 11) - 1))


class Mcp3008:
    """One converter and what is wired to its eight inputs; an input with nothing on it is pulled to 0 V."""

    modes: tuple[int, ...] = (0, 3)

    def __init__(self, random: Random, noise_v: float = 0.0015) -> None:
        """`noise_v` is the standard deviation at an input: half a step of the converter."""
        self._inputs: list[Callable[[], float] | None] = [None] * 8
        self._broken = [False] * 8
        self._noise_v = noise(random, noise_v) if noise_v else repeat(0.0)
        self._requests: dict[tuple[int, ...], _Request] = {}

    def wire(self, channel: int, volts: Callable[[], float]) -> None:
        """Connect an instrument to a channel."""
        self._inputs[channel] = volts

    def wire_breaks(self, channel: int) -> None:
        """The wire to this channel breaks."""
        self._broken[channel] = True

    def repair(self) -> None:
        """Mend every wire."""
        self._broken = [False] * 8

    def select(self) -> None:
        """The select line falls; each transfer here is a transaction of its own."""

    def exchange(self, words: list[int]) -> list[int]:
        """Answer one conversion request."""
        asked = tuple(words)
        request = self._requests.get(asked)
        if request is None:
            request = self._requests[asked] = _decode(words)
        channel, against, left, undriven = request
        if channel is None:
            return [0xFF] * len(words)
        volts = self._volts(channel)
        if against is not None:
            volts -= self._volts(against)
        step = int(volts / REFERENCE_V * FULL_SCALE)
        step = 0 if step < 0 else step if step < FULL_SCALE else FULL_SCALE - 1
        return [*(undriven | step << left).to_bytes(len(words), "big")]

    def _volts(self, channel: int) -> float:
        source = self._inputs[channel]
        if source is None or self._broken[channel]:
            return 0.0
        return source() + next(self._noise_v)
