"""Starting the server from the command line."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from api.__main__ import main, parser


def test_by_default_only_this_machine_can_open_the_page() -> None:
    options = parser().parse_args([])
    assert (options.host, options.port, options.channel) == ("127.0.0.1", 8321, Path("/run/stokehand"))
    assert "0.0.0.0" in parser().format_help()


def test_a_channel_that_can_not_be_used_ends_the_start_with_a_word(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--channel", str(tmp_path / "no" / "such")]) == 2
    assert "--channel" in capsys.readouterr().err


def test_of_daemon_and_hardware_the_page_knows_the_window_only() -> None:
    code = "import sys, api.__main__; print([m for m in sys.modules if m.split('.')[0] in ('daemon', 'hardware')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=30)
    assert done.stdout.strip() == "['daemon', 'daemon.window']"
