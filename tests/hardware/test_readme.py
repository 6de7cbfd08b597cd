"""The worked example in hardware/README.md is a rig, as it stands there; the table in WIRING.md is the default one."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from gpiozero.pins.pi import PiBoardInfo

import hardware
from hardware.port import AttendedRig, Outputs, Rig, Temperature
from hardware.wiring import Wiring

FOLDER = Path(hardware.__file__).parent


def block(file: str, language: str) -> str:
    """Return the file's one block in that language."""
    text = (FOLDER / file).read_text(encoding="utf-8")
    found: list[str] = re.findall(rf"```{language}\n(.*?)```", text, flags=re.DOTALL)
    (only,) = found
    return only


def test_the_outside_rig_of_the_readme_warms_and_is_tended() -> None:
    space: dict[str, object] = {}
    exec(compile(block("README.md", "python"), "hardware/README.md", "exec"), space)
    open_rig = space["open_rig"]
    assert callable(open_rig)
    rig: Rig = open_rig({"start_c": 30.0})
    assert isinstance(rig, AttendedRig)
    rig.hands.light_charcoal(1.0)
    rig.write(Outputs(auger=True, fan_frac=0.5))
    probe = rig.read(60.0).probes["chamber"]
    assert isinstance(probe, Temperature)
    assert probe.value_c == 140.0
    assert rig.hands.look().gauge_pa == 30.0
    rig.close()


def test_the_wiring_that_is_shown_is_the_default_wiring_but_for_its_damper() -> None:
    table: dict[str, object] = tomllib.loads(block("WIRING.md", "toml"))["rig"]
    wiring = Wiring.from_options(table)
    assert wiring.damper is not None
    assert wiring.model_copy(update={"damper": None}) == Wiring()


def test_the_oxygen_probe_that_is_shown_is_wired_by_taking_its_marks_away() -> None:
    wiring = Wiring.from_options(
        tomllib.loads(re.sub(r"^# ", "", block("WIRING.md", "toml"), flags=re.MULTILINE))["rig"]
    )
    assert wiring.oxygen is not None
    assert wiring.oxygen.channel == 2


def test_the_header_pins_of_the_table_are_the_boards() -> None:
    """Against gpiozero's own table of the 40-pin header."""
    text = (FOLDER / "WIRING.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([\w.]+)` \| (\d+), pin (\d+) \|", text, flags=re.MULTILINE)
    wired = dict(Wiring.from_options({"damper": {}}).pins())
    header = PiBoardInfo.from_revision(0xC03114).headers["J8"].pins
    assert len(rows) == 12
    for name, pin, place in rows:
        assert wired[name] == int(pin)
        assert header[int(place)].name == f"GPIO{pin}"
    drawn = (FOLDER / "wiring.svg").read_text(encoding="utf-8")
    for name, pin, place in rows:
        assert f"{pin}, pin {place}" in drawn or (name in ("horn", "lamp") and "22, 27: pins 15, 13" in drawn)
