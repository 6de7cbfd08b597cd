"""The real board's door: without a board it says so, and never opens another."""

from __future__ import annotations

import sys
from types import ModuleType

import pytest
from gpiozero import Device
from gpiozero.exc import PinUnknownPi
from gpiozero.pins.mock import MockFactory, MockPWMPin

from hardware.board import Board
from hardware.pi import WallClock, open_rig
from hardware.port import RigFault
from hardware.wiring import Wiring


def test_without_the_pin_library_the_fault_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "lgpio", None)
    with pytest.raises(RigFault, match=r"systemd/install"):
        open_rig({})
    assert Device.pin_factory is None


def test_without_a_board_the_fault_says_what_to_look_at(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_board() -> None:
        raise PinUnknownPi("unable to locate Pi revision")

    library = ModuleType("gpiozero.pins.lgpio")
    library.LGPIOFactory = no_board  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "lgpio", ModuleType("lgpio"))
    monkeypatch.setitem(sys.modules, "gpiozero.pins.lgpio", library)
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "mock")  # what would tempt the pin library to pretend
    with pytest.raises(RigFault, match=r"Raspberry Pi.*gpiochip0.*hardware\.simulated"):
        open_rig({})


def test_bad_wiring_and_a_rehearsals_options_are_named_before_any_pin_is_touched() -> None:
    with pytest.raises(ValueError, match="seed") as caught:
        open_rig({"seed": 1, "speed": None, "horn": 17})
    lines = str(caught.value).splitlines()
    assert [line.split(":")[0] for line in lines] == ["rig.seed", "rig.speed", "pin 17 is used 2 times"]


class NoSpiFactory(MockFactory):  # type: ignore[misc]  # gpiozero has no types
    """A board whose SPI port is switched off."""

    def _get_spi_class(self, shared: bool, hardware: bool) -> object:
        def refuse(**_: object) -> object:
            raise OSError("can not open spidev0.1")

        return refuse if hardware else super()._get_spi_class(shared, hardware)


def test_a_switched_off_spi_port_is_a_fault_and_not_a_slower_bus() -> None:
    factory = NoSpiFactory(pin_class=MockPWMPin)
    with pytest.raises(RigFault, match=r"spidev0\.1"):
        Board(factory, Wiring(), WallClock(), "pi")
    assert not factory.pins  # everything was given back


def test_the_wall_clock_waits_for_no_time_that_is_past() -> None:
    clock = WallClock()
    now_s = clock.now_s()
    clock.wait_until(now_s - 10.0)
    clock.wait_until(now_s)
    assert clock.now_s() >= now_s
    assert clock.utc_s() > 1.6e9
