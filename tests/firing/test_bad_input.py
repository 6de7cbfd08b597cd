"""Bad input ends with 2 and one message that says what would be right; standard output stays clean."""

import json
import os
import subprocess
from pathlib import Path

import pytest

from daemon.window import STOPPED
from tests.firing.command import TEND, rehearse

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--plan", "no-such-plan"], ["no-such-plan", "bisque", "cone-6"]),
        (["--speed", "0"], ["--speed 0", "max"]),
        (["--speed", "fast"], ["--speed fast", "max"]),
        (["--speed", "nan"], ["--speed nan", "max"]),
        (["--fault", "fan-stops"], ["fan-stops", "NAME@TIME"]),
        (["--fault", "fan-stops@"], ["NAME@TIME"]),
        (["--fault", "@5m"], ["NAME@TIME"]),
        (["--fault", "fan-melts@5m"], ["fan-melts", "fan-stops", "probe-open"]),
        (["--rig", "nonsense"], ["nonsense", "package.module:factory"]),
        (["--rig", "no.such:thing"], ["no.such", "import"]),
        (["--rig", "hardware.simulated:nothing"], ["no factory", "nothing"]),
        (["--rig", "pi"], ["rig"]),
        (["--record", "/proc/nowhere/f.sqlite"], ["/proc/nowhere/f.sqlite", "record"]),
        (["--attendant", "asleep"], ["asleep", "prompt"]),
        (["--seed", "one"], ["--seed", "integer"]),
    ],
)
def test_bad_input_is_refused_with_what_would_be_right(tmp_path: Path, options: list[str], words: list[str]) -> None:
    ended = rehearse(tmp_path, *options)
    assert ended.status == 2, ended.err
    assert ended.out == ""
    for word in words:
        assert word in ended.err
    assert "Traceback" not in ended.err


def test_bad_settings_are_all_named_at_once(tmp_path: Path) -> None:
    ended = rehearse(
        tmp_path, settings='[limits]\nchamber_c = "hot"\n[kiln]\nauger = 3\n[rig]\nfactory = "simulated"\n'
    )
    assert ended.status == 2
    assert "limits.chamber_c" in ended.err
    assert "kiln.auger" in ended.err


def test_a_bad_plan_gets_one_message_with_file_and_stage(tmp_path: Path) -> None:
    ended = rehearse(tmp_path, plan='name = "x"\ntemperature = "C"\ndraught = "Pa"\n[[stage]]\nkind = "climb"\n')
    assert ended.status == 2
    assert "low.toml" in ended.err
    assert "stage 1" in ended.err


def test_a_daemon_that_can_not_start_leaves_why_for_the_page_and_ends_with_what_no_restart_mends(
    tmp_path: Path,
) -> None:
    config = tmp_path / "settings.toml"
    config.write_text('[limits]\nchamber_c = "hot"\n')
    done = subprocess.run(
        [*TEND, "--config", str(config)], capture_output=True, text=True, check=False,
        env={**os.environ, "RUNTIME_DIRECTORY": str(tmp_path)},
    )  # fmt: skip
    assert done.returncode == 2
    assert "limits.chamber_c" in done.stderr
    left = json.loads((tmp_path / STOPPED).read_text())
    assert "limits.chamber_c" in left["happened"]
    assert "systemctl restart" in left["do_next"]


def test_a_board_that_is_not_there_is_tried_again(tmp_path: Path) -> None:
    config = tmp_path / "settings.toml"
    config.write_text("")
    done = subprocess.run([*TEND, "--config", str(config)], capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stderr
    assert "No pins" in done.stderr


def test_options_that_no_rig_knows_are_not(tmp_path: Path) -> None:
    config = tmp_path / "settings.toml"
    config.write_text("[rig]\nauger = 99\n")
    done = subprocess.run([*TEND, "--config", str(config)], capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stderr
