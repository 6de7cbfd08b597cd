"""The doctor, on boards with a fault each. What the commands say is planted; their words are as systemd prints them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from daemon.command.doctor import Board, Finding, card, examine

HEALTHY = {
    "timedatectl show -p NTPSynchronized --value": "yes",
    "systemctl is-active stokehand": "active",
    "systemctl is-active stokehand-page": "active",
    "systemctl is-enabled stokehand": "enabled",
    "systemctl is-enabled stokehand-page": "enabled",
    "systemctl show stokehand -p WatchdogUSec --value": "2s",
    "vcgencmd get_throttled": "throttled=0x0",
}


@dataclass(frozen=True, slots=True)
class PlantedBoard(Board):
    """A board whose commands say what a test planted."""

    says: dict[str, str] = field(default_factory=dict)
    groups: tuple[str, ...] = ("gpio", "spi")
    told: Mapping[str, object] | None = field(default_factory=lambda: {"connected": True, "blind": None})

    def run(self, *words: str) -> str:
        """What was planted, else what a healthy board says."""
        return (HEALTHY | self.says).get(" ".join(words), "")

    def members(self, group: str) -> list[str]:
        """The daemon's user."""
        return ["stokehand"] if group in self.groups else []

    def hears(self) -> Mapping[str, object] | None:
        """What the page hears."""
        return self.told


@pytest.fixture
def board_root(tmp_path: Path) -> Path:
    """A healthy board's files."""
    for path, text in {
        "dev/gpiochip0": "", "dev/spidev0.1": "", "sys/class/thermal/thermal_zone0/temp": "48312\n",
        "etc/stokehand.toml": f'[record]\npath = "{tmp_path}/firings.sqlite"\n',
    }.items():  # fmt: skip
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_text(text)
    return tmp_path


def wrong(board: Board) -> list[Finding]:
    return [f for f in examine(board, board.root / "etc/stokehand.toml") if not f.well]


def test_a_healthy_board_is_well_and_everything_was_looked_at(board_root: Path) -> None:
    findings = list(examine(PlantedBoard(board_root), board_root / "etc/stokehand.toml"))
    assert [f.about for f in findings if not f.well] == []
    looked_at = {f.about for f in findings}
    assert {"python", "/dev/gpiochip0", "/dev/spidev0.1", "group gpio", "group spi", "clock", "board"} <= looked_at
    assert {"card", "configuration", "unit stokehand", "unit stokehand-page", "watchdog", "instruments"} <= looked_at


@pytest.mark.parametrize(
    ("says", "about", "mend"),
    [
        ({"timedatectl show -p NTPSynchronized --value": "no"}, "clock", "network"),
        ({"systemctl is-active stokehand": "failed"}, "unit stokehand", "journalctl -u stokehand"),
        ({"systemctl is-enabled stokehand-page": "disabled"}, "unit stokehand-page", "install"),
        ({"systemctl show stokehand -p WatchdogUSec --value": "0"}, "watchdog", "install"),
        ({"vcgencmd get_throttled": "throttled=0x50005"}, "board", "supply"),
    ],
)
def test_each_fault_of_the_system_is_named_with_its_remedy(
    board_root: Path, says: dict[str, str], about: str, mend: str
) -> None:
    found = wrong(PlantedBoard(board_root, says=says))
    assert {f.about for f in found} == {about}
    assert mend in found[0].mend


def test_what_is_not_there_is_named(board_root: Path) -> None:
    (board_root / "dev/spidev0.1").unlink()
    (board_root / "sys/class/thermal/thermal_zone0/temp").write_text("83000")
    found = {f.about: f for f in wrong(PlantedBoard(board_root, groups=("gpio",)))}
    assert found.keys() == {"/dev/spidev0.1", "group spi", "board"}
    assert "do_spi" in found["/dev/spidev0.1"].mend
    assert "83 °C" in found["board"].said


def test_a_bad_configuration_is_told_whole(board_root: Path) -> None:
    (board_root / "etc/stokehand.toml").write_text("[kiln]\nauger = 3\n[limits]\nchamber_c = 1\n")
    (found,) = wrong(PlantedBoard(board_root))
    assert "kiln.auger" in found.said and "limits.chamber_c" in found.said


def test_a_blind_instrument_is_named_with_why(board_root: Path) -> None:
    told: dict[str, object] = {"connected": True, "blind": {"flue": "open circuit"}}
    (found,) = wrong(PlantedBoard(board_root, told=told))
    assert (found.about, found.said) == ("flue", "open circuit.")


def test_a_daemon_that_the_page_does_not_hear_is_named(board_root: Path) -> None:
    (found,) = wrong(PlantedBoard(board_root, told=None))
    assert found.about == "daemon"


def test_without_a_daemon_it_looks_at_the_rig_itself(board_root: Path) -> None:
    config = board_root / "etc/stokehand.toml"
    config.write_text(config.read_text() + '[rig]\nfactory = "simulated"\n')
    says = {"systemctl is-active stokehand": "inactive"}
    assert {f.about for f in wrong(PlantedBoard(board_root, says=says, told=None))} == {"unit stokehand"}
    config.write_text(config.read_text().replace("simulated", "pi"))
    found = {f.about: f for f in wrong(PlantedBoard(board_root, says=says, told=None))}
    assert "No pins" in found["pins"].said


def test_a_card_that_is_full_or_read_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert card(tmp_path / "no" / "such" / "firings.sqlite").well
    monkeypatch.setattr("daemon.command.doctor.FREE_LEAST_BYTES", 1e18)
    assert "MB are free" in card(tmp_path / "firings.sqlite").said
    if os.statvfs("/sys").f_flag & os.ST_RDONLY:
        assert "read-only" in card(Path("/sys/firings.sqlite")).said


def test_json_is_one_list(board_root: Path) -> None:

    command = [sys.executable, "-m", "daemon", "doctor", "--json", "--config", str(board_root / "etc/stokehand.toml")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stderr  # no Pi here
    assert {"about", "well", "said", "mend"} == json.loads(done.stdout)[0].keys()
