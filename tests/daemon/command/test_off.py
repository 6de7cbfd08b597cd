"""`make-safe`: which rig is driven off, and that whatever is wrong is a sentence."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from daemon.command import off
from daemon.command.off import OFF, STILL_ON, keep_rig, make_safe


@pytest.fixture
def driven(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, object]]:
    """The rigs that were driven off."""
    found: list[dict[str, object]] = []

    def switch_off(rig: dict[str, object]) -> list[str]:
        found.append(rig)
        return []

    monkeypatch.setattr(off, "switch_off", switch_off)
    return found


def test_it_is_the_rig_that_was_driven_last_and_not_what_the_file_says_meanwhile(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, driven: list[dict[str, object]]
) -> None:
    config = tmp_path / "stokehand.toml"
    config.write_text("[rig]\nauger = 5\n")
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    assert make_safe(str(config)) == OFF
    keep_rig({"factory": "pi", "auger": 6})
    assert make_safe(str(config)) == OFF
    config.write_text("[rig\n")
    assert make_safe(str(config)) == OFF
    assert [rig["auger"] for rig in driven] == [5, 6, 6]


def test_by_hand_it_is_the_configurations(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, driven: list[dict[str, object]]
) -> None:
    monkeypatch.delenv("RUNTIME_DIRECTORY", raising=False)
    config = tmp_path / "stokehand.toml"
    config.write_text("[limits]\nnonsense = 1\n[rig]\nauger = 5\n")  # a fault elsewhere doesn't keep it from the pins
    assert make_safe(str(config)) == OFF
    assert driven == [{"auger": 5}]


@pytest.mark.parametrize("text", ["[rig\n", "rig = 3\n", "\x00", '[rig]\nfactory = "no.such:thing"\n'])
def test_what_can_not_be_done_is_a_sentence_and_a_status(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    config = tmp_path / "stokehand.toml"
    config.write_text(text)
    assert make_safe(str(config)) == STILL_ON
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert str(config) in said or "no.such" in said


def test_half_a_remembered_rig_is_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, driven: list[dict[str, object]]
) -> None:
    config = tmp_path / "stokehand.toml"
    config.write_text("[rig]\nauger = 5\n")
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    for half in ('{"factory": "pi", "aug', "[]", json.dumps("pi")):
        (tmp_path / "rig.json").write_text(half)
        assert make_safe(str(config)) == OFF
    assert [rig["auger"] for rig in driven] == [5, 5, 5]


def test_where_nothing_can_be_written_it_is_still_a_sentence(tmp_path: Path) -> None:
    config = tmp_path / "stokehand.toml"
    config.write_text("")
    command = [sys.executable, "-m", "daemon", "make-safe", "--config", str(config)]
    root = {"PYTHONPATH": str(Path(__file__).parents[3])}
    done = subprocess.run(command, cwd="/proc/self", env=root, capture_output=True, text=True, check=False)
    assert done.returncode == STILL_ON  # no board here
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 1
