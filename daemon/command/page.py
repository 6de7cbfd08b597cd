"""Start the api beside a rehearsal: another process, named as a module, so that nothing of it is in this one."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

UP_WITHIN_S = 20.0


class PageFault(Exception):
    """The page could not be started. Says what to try."""


@contextmanager
def serve_page(channel: Path, port: int) -> Iterator[str]:
    """Run the api on this machine only, and stop it afterwards. Yields the page's address.

    Opens a browser where there is a screen for one. Raises PageFault when the api doesn't come up.
    """
    if answers(port):
        raise PageFault(f"Port {port} is taken. Give another one with --port.")
    command = [sys.executable, "-m", "api", "--channel", str(channel), "--host", "127.0.0.1", "--port", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    try:
        until_s = time.monotonic() + UP_WITHIN_S
        while not answers(port):
            if process.poll() is not None or time.monotonic() > until_s:
                raise PageFault("The page's process did not come up; its own message is above.")
            time.sleep(0.1)
        url = f"http://127.0.0.1:{port}/"
        if os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"):
            webbrowser.open(url)
        yield url
    finally:
        process.terminate()
        try:
            process.wait(timeout=5)
        except subprocess.TimeoutExpired:
            process.kill()


def answers(port: int) -> bool:
    """Whether somebody listens on the port."""
    with socket.socket() as probe:
        probe.settimeout(0.5)
        return probe.connect_ex(("127.0.0.1", port)) == 0
