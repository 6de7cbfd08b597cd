"""The terminals of a site as other processes find them: lines that one process at a time may claim, and the SPI port.

It is what the kernel's GPIO chip does at its worst: a line whose owner dies stays at its last level until somebody
claims it again, and a claim begins with the line low. A line that somebody holds is refused to everybody else.
"""

from __future__ import annotations

from random import Random

from hardware.simulated.pins import EmulatedFactory, EmulatedPin
from hardware.simulated.spi import SpiWires


class Terminals:
    """Claims, levels and transfers. `owner` is whoever asks: one connection, as on a real chip one open file."""

    def __init__(self, pins: EmulatedFactory, wires: SpiWires, random: Random) -> None:
        """Nothing is claimed yet; every line is low."""
        self._pins = pins
        self._wires = wires
        self._random = random
        self._held: dict[int, object] = {}

    @property
    def held(self) -> tuple[int, ...]:
        """The lines that somebody holds."""
        return tuple(sorted(self._held))

    def claim(self, owner: object, number: int, function: str) -> None:
        """Make a line `input` (floating) or `output` (low). Raises OSError while somebody else holds it."""
        if self._held.get(number, owner) is not owner:
            raise OSError(f"GPIO busy: another process holds GPIO{number}")
        pin = self._pins.pin(number)
        self._held[number] = owner
        pin.frequency = None
        pin.function = function
        if function == "input":
            pin.pull = "floating"

    def pull(self, owner: object, number: int, pull: str) -> None:
        """Pull an input `up`, `down` or leave it `floating`."""
        self._own(owner, number).pull = pull

    def level(self, owner: object, number: int) -> float:
        """Read a line; of a pulsed output the share of the time it is high."""
        return float(self._own(owner, number).state)

    def drive(self, owner: object, number: int, level: float) -> None:
        """Set an output's level, or the share of the time that its pulses are high."""
        self._own(owner, number).state = level

    def pulse(self, owner: object, number: int, hz: float | None) -> None:
        """Make pulses on an output, or stop making them."""
        self._own(owner, number).frequency = hz

    def spi(self, owner: object, select: int, mode: int, words: list[int]) -> list[int]:
        """Clock bytes through the SPI port, which several processes may open at once."""
        return self._wires.clock(select, mode, words)

    def dropped(self, owner: object) -> None:
        """The owner has died or gone: its lines are free and stay as they are. Pulses stop high or low, by chance."""
        for number in [number for number, holder in self._held.items() if holder is owner]:
            del self._held[number]
            pin = self._pins.pin(number)
            if pin.frequency is not None:
                pin.pulses_end(self._random.random() < pin.state)

    def _own(self, owner: object, number: int) -> EmulatedPin:
        if self._held.get(number) is not owner:
            raise OSError(f"GPIO not allocated: GPIO{number} was not claimed")
        pin: EmulatedPin = self._pins.pin(number)
        return pin
