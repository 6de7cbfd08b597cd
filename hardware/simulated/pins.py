"""Emulated pins: what a gpiozero pin factory finds on a board that isn't there."""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from typing import Any

from gpiozero import SPI
from gpiozero.exc import DeviceClosed, PinSetInput
from gpiozero.pins.mock import MockFactory, MockPWMPin

from hardware.simulated.spi import Wires

BOARD_REVISION = "c03112"  # a four-core board with the 40-pin header; only its list of pins matters


def _unheard(_level: float) -> None:
    """Nothing is wired to the output."""


class EmulatedPin(MockPWMPin):  # type: ignore[misc]  # gpiozero has no types
    """One pin: as an output it tells the wiring its level, as an input the wiring tells it whether it is grounded.

    Pulses have a duty of whole percents, as the real pin library makes them. It keeps no history.
    """

    def __init__(self, factory: Any, info: Any) -> None:
        self.on_level: Callable[[float], None] = _unheard
        self._grounded = False
        self._state: float = 0.0
        super().__init__(factory, info)

    def clear_states(self) -> None:
        """Keep no history of levels: a firing has hundreds of thousands."""

    def ground(self, grounded: bool) -> None:
        """The wiring pulls the line to ground, or lets go of it."""
        self._grounded = grounded
        self._settle()

    def _settle(self) -> None:
        """An input that nothing pulls to ground floats to its pull-up; without one it reads low."""
        if self._function == "input":
            self._state = self._pull == "up" and not self._grounded

    def _set_state(self, value: float) -> None:
        if self._function != "output":
            raise PinSetInput(f"cannot set state of pin {self!r}")
        level = bool(value) if self._frequency is None else int(value * 100) / 100
        if self._state != level:
            self._state = level
            self.on_level(level)

    state = property(attrgetter("_state"), _set_state)  # read without a call: a scan reads a dozen pins

    def _change_state(self, value: float) -> bool:
        """Take a level that comes with another setting (function, pull, frequency); the rest goes by `_set_state`."""
        changed = self._state != value
        self._state = value
        if changed and self._function == "output":
            self.on_level(value)
        self._settle()
        return changed

    def _set_pull(self, value: str) -> None:
        super()._set_pull(value)
        self._settle()

    def _set_function(self, value: str) -> None:
        """Claim the line anew: it falls, as on a real chip, whoever held it before and whatever it was left at.

        As an output it is low until a level is set; as an input the pull-down of whatever hangs on it wins.
        """
        was = self._state if self._function == "output" else 0.0
        super()._set_function(value)
        self._state = 0.0
        self._settle()
        if was:
            self.on_level(0.0)

    @property
    def line(self) -> float:
        """What the wire carries: the output's level or duty; 0 while nobody drives it."""
        return float(self._state) if self._function == "output" else 0.0

    def pulses_end(self, high: bool) -> None:
        """Whoever made the pulses has died: the line stays at the level it happened to be at."""
        self._frequency = None
        self._set_state(high)


class EmulatedFactory(MockFactory):  # type: ignore[misc]  # gpiozero has no types
    """A board of emulated pins with one SPI bus. Each is its own: two can be open side by side."""

    def __init__(self, wires: Wires, pin_class: type[MockPWMPin] = EmulatedPin) -> None:
        super().__init__(revision=BOARD_REVISION, pin_class=pin_class)
        self._wires = wires

    def _get_spi_class(self, shared: bool, hardware: bool) -> Callable[..., EmulatedSpi]:
        def connect(select_pin: str | int, pin_factory: Any, **_: object) -> EmulatedSpi:
            return EmulatedSpi(self._wires, select_pin, pin_factory)

        return connect


class EmulatedSpi(SPI):  # type: ignore[misc]  # gpiozero has no types
    """One select of the board's SPI port, as gpiozero's devices and our own bus use it."""

    def __init__(self, wires: Wires, select_pin: str | int, pin_factory: Any) -> None:
        self._wires: Wires | None = wires
        self._select_pin = int(str(select_pin).removeprefix("GPIO"))
        self._mode = 0
        super().__init__(pin_factory=pin_factory)
        pin_factory.reserve_pins(self, select_pin)

    def _conflicts_with(self, other: object) -> bool:
        return not isinstance(other, EmulatedSpi)

    @property
    def closed(self) -> bool:
        """True once it was given back."""
        return self._wires is None

    def close(self) -> None:
        """Give it back."""
        if getattr(self, "_wires", None) is not None:
            self.pin_factory.release_all(self)
        self._wires = None
        super().close()

    def transfer(self, data: list[int]) -> list[int]:
        """Clock `data` out and return what came in meanwhile."""
        wires = self._wires
        if wires is None:
            raise DeviceClosed("this SPI interface is closed")
        return wires.clock(self._select_pin, self._mode, data)

    def _get_clock_mode(self) -> int:
        return self._mode

    def _set_clock_mode(self, value: int) -> None:
        self._mode = value

    def _get_bits_per_word(self) -> int:
        return 8
