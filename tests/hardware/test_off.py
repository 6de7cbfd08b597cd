"""The real board's off switch, over a pin library that keeps what was asked of it. No board is needed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from hardware.off import OUTPUT_PINS, drive_off
from hardware.wiring import Wiring

ROOT = Path(__file__).parents[2]


class FakeLgpio(ModuleType):
    """The pin library: its calls as its own documentation has them. `busy` are lines that another process holds."""

    class error(Exception):  # its name there
        """What the library raises."""

    def __init__(self, busy: frozenset[int] = frozenset(), chips: tuple[int, ...] = (0,)) -> None:
        super().__init__("lgpio")
        self.low: list[int] = []
        self._busy, self._chips = busy, chips

    def gpiochip_open(self, number: int) -> int:
        """A handle."""
        if number not in self._chips:
            raise self.error("can not open gpiochip")
        return number

    def gpio_claim_output(self, handle: int, pin: int, level: int = 0, flags: int = 0) -> int:
        """Drive a line."""
        if pin in self._busy:
            raise self.error("GPIO busy")
        assert level == 0
        self.low.append(pin)
        return 0


def library(monkeypatch: pytest.MonkeyPatch, **given: frozenset[int] | tuple[int, ...]) -> FakeLgpio:
    fake = FakeLgpio(**given)  # type: ignore[arg-type]
    monkeypatch.setitem(sys.modules, "lgpio", fake)
    return fake


def test_the_auger_goes_off_first_then_the_watchdogs_pulse_and_the_damper_is_left_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pins = library(monkeypatch)
    assert drive_off({"auger": 5, "lamp": False, "damper": {"pin": 19}}) == []
    assert pins.low == [5, 23, 18, 22]


def test_the_default_pins_are_the_wirings() -> None:
    wiring = Wiring()
    assert {name: getattr(wiring, name) for name in OUTPUT_PINS} == OUTPUT_PINS
    outputs = {name for name, _ in wiring.pins() if name in ("auger", "fan", "horn", "lamp", "keep_alive")}
    assert outputs == OUTPUT_PINS.keys()


def test_a_line_that_a_daemon_holds_is_told_and_the_others_are_driven(monkeypatch: pytest.MonkeyPatch) -> None:
    pins = library(monkeypatch, busy=frozenset({17}))
    (wrong,) = drive_off({})
    assert "auger" in wrong
    assert "another process holds it" in wrong
    assert pins.low == [23, 18, 22, 27]


def test_no_board_and_no_library_are_sentences(monkeypatch: pytest.MonkeyPatch) -> None:
    library(monkeypatch, chips=())
    assert "gpiochip0" in drive_off({})[0]
    monkeypatch.setitem(sys.modules, "lgpio", None)
    assert "pin library" in drive_off({})[0]


def test_the_pin_library_is_imported_where_it_can_make_its_pipe(tmp_path: Path) -> None:
    (tmp_path / "lgpio.py").write_text(
        "open('.pipe', 'w').close()\nclass error(Exception): pass\ngpiochip_open = 1 .__truediv__\n"
    )
    nowhere = Path("/proc/self")  # nobody can write here
    program = "from hardware.off import pin_library; import os; pin_library(); print(os.getcwd().startswith('/proc'))"
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=nowhere, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": f"{tmp_path}:{ROOT}"},
    )  # fmt: skip
    assert (done.stdout.strip(), done.stderr) == ("True", "")


def test_it_brings_neither_the_drivers_nor_the_daemon_into_the_process() -> None:
    program = (
        "import sys; sys.argv = ['stokehand', 'make-safe', '--config', '/nowhere']; from daemon.__main__ import main\n"
    )
    program += "try: main()\nexcept SystemExit: pass\nimport hardware.off\n"
    program += "print(sorted({m.partition('.')[0] for m in sys.modules} & {'gpiozero', 'pydantic', 'typer', 'rich'}))"
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "[]", done.stderr
