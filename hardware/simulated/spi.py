"""The copper of the SPI bus: who is selected, who hears the clock, and what the data line comes back with."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol


class Chip(Protocol):
    """An emulated chip on the bus."""

    modes: tuple[int, ...]
    """The clock modes it understands."""

    def select(self) -> None:
        """The select line falls: a new transaction begins."""

    def exchange(self, words: list[int]) -> list[int]:
        """Take these bytes and give as many back."""


class Wires(Protocol):
    """What an SPI port clocks its bytes into: the copper here, or the way to copper in another process."""

    def clock(self, select_pin: int, mode: int, words: list[int]) -> list[int]:
        """Clock `words` out on the port's `select_pin` and return as many that came in."""


class SpiWires:
    """The bus's data lines, with the faults copper can have."""

    def __init__(self) -> None:
        self._on_port: dict[int, Chip] = {}
        self._selected: list[Chip] = []
        self._stuck: int | None = None

    def attach_to_port(self, select_pin: int, chip: Chip) -> None:
        """Wire a chip to one of the port's own select pins, which the port drives during a transfer."""
        self._on_port[select_pin] = chip

    def attach_to_pin(self, chip: Chip) -> Callable[[float], None]:
        """Wire a chip to any pin; return what that pin must tell its level to (low selects)."""
        selected = self._selected

        def on_level(level: float) -> None:
            if level:
                if chip in selected:
                    selected.remove(chip)
            elif chip not in selected:
                selected.append(chip)
                chip.select()

        return on_level

    def miso_stuck_low(self) -> None:
        """The data line from the chips is shorted to ground."""
        self._stuck = 0x00

    def miso_stuck_high(self) -> None:
        """The data line from the chips is shorted to the supply."""
        self._stuck = 0xFF

    def repair(self) -> None:
        """Mend the data line."""
        self._stuck = None

    def clock(self, select_pin: int, mode: int, words: list[int]) -> list[int]:
        """Clock `words` out on the port's `select_pin` and return what the data line brought back.

        A pull-up holds the line high when no chip drives it. Chips that talk at once pull it low between them.
        """
        on_port = self._on_port.get(select_pin)
        talking = self._selected
        if on_port is not None:
            on_port.select()
            talking = [on_port, *talking]
        if len(talking) == 1 and self._stuck is None:
            (chip,) = talking
            if mode in chip.modes:
                return chip.exchange(words)  # the usual case, and the quick one
        answer: list[int] | None = None
        for chip in talking:
            heard = chip.exchange(words)
            if mode not in chip.modes:
                heard = [byte >> 1 | 0x80 for byte in heard]  # sampled half a clock off: every bit one place late
            answer = heard if answer is None else [a & b for a, b in zip(answer, heard, strict=True)]
        if self._stuck is not None:
            return [self._stuck] * len(words)
        return [0xFF] * len(words) if answer is None else answer
