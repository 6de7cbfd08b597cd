"""Starting the server from the command line."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

import httpx
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


def test_systemd_hears_that_it_is_ready_only_once_it_answers(tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "notify"))
        manager.settimeout(30)
        server = subprocess.Popen(
            [sys.executable, "-m", "api", "--channel", str(tmp_path), "--port", str(port)],
            env={**os.environ, "NOTIFY_SOCKET": str(tmp_path / "notify")},
        )
        try:
            assert manager.recv(100) == b"READY=1"
            assert httpx.get(f"http://127.0.0.1:{port}/").status_code == 200
            assert manager.recv(100) == b"WATCHDOG=1"
        finally:
            server.terminate()
            assert server.wait(timeout=30) in (0, -15)


def test_a_port_that_is_taken_ends_the_start(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(SystemExit) as ended:
            main(["--channel", str(tmp_path), "--port", str(taken.getsockname()[1])])
    assert ended.value.code != 0
