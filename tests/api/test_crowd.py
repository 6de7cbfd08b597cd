"""Half-open requests by the thousand: a stop still gets through."""

from __future__ import annotations

import json
import resource
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

import httpx
import pytest

from api.crowd import REQUEST_WITHIN_S

HALVES = {
    "a connection that says nothing": b"",
    "half a header": b"GET /status HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Long: ",
    "a body that never comes": (
        b"POST /asks HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: 15\r\n\r\n{"
    ),
}
CROWD = 1100


@pytest.fixture
def many_files() -> Iterator[None]:
    """This process may have so many files open; the server keeps to what is usual."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard < 3 * CROWD:
        pytest.skip("this machine lets nobody have so many files open")
    resource.setrlimit(resource.RLIMIT_NOFILE, (3 * CROWD, hard))
    yield
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@contextmanager
def server(folder: Path) -> Iterator[tuple[int, socket.socket]]:
    """A page with the usual 1,024 files, its port, and the daemon's end of the channel."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    code = "import resource, sys; resource.setrlimit(resource.RLIMIT_NOFILE, (1024, 1024));"
    code += "from api.__main__ import main; sys.exit(main(sys.argv[1:]))"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as daemon:
        daemon.bind(str(folder / "asks.sock"))
        daemon.settimeout(5)
        started = subprocess.Popen([sys.executable, "-c", code, "--channel", str(folder), "--port", str(port)])
        try:
            for _ in range(300):
                with socket.socket() as probe:
                    if probe.connect_ex(("127.0.0.1", port)) == 0:
                        break
                time.sleep(0.1)
            yield port, daemon
        finally:
            started.terminate()
            started.wait(timeout=30)


@pytest.mark.slow
@pytest.mark.usefixtures("many_files")
@pytest.mark.parametrize("half", HALVES)
def test_a_stop_gets_through_eleven_hundred_half_open_requests(tmp_path: Path, half: str) -> None:
    with server(tmp_path) as (port, daemon), ExitStack() as held:
        for _ in range(CROWD):
            one = held.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10))
            one.sendall(HALVES[half])
        began_s = time.monotonic()
        answer = httpx.post(f"http://127.0.0.1:{port}/asks", json={"ask": "stop"}, timeout=5)
        assert answer.status_code == 202
        assert json.loads(daemon.recv(2000))["ask"] == "stop"
        assert time.monotonic() - began_s < 5
        assert httpx.get(f"http://127.0.0.1:{port}/", timeout=5).status_code == 200


@pytest.mark.slow
def test_who_does_not_finish_a_request_is_put_out_and_who_asks_again_and_again_stays(tmp_path: Path) -> None:
    with server(tmp_path) as (port, _), socket.create_connection(("127.0.0.1", port)) as slow:
        slow.settimeout(REQUEST_WITHIN_S + 5)
        slow.sendall(HALVES["half a header"])
        began_s = time.monotonic()
        with httpx.Client(base_url=f"http://127.0.0.1:{port}") as page:
            for _ in range(int(REQUEST_WITHIN_S) + 2):
                assert page.get("/openapi.json").status_code == 200
                time.sleep(1)
        with suppress(ConnectionResetError):
            assert slow.recv(100) == b""
        assert time.monotonic() - began_s < REQUEST_WITHIN_S + 5
