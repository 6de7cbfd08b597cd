"""The part of a service manager that the daemon's unit file uses: start, readiness, watchdog, stop hook, restart.

What is done and when is read from `systemd/stokehand.service`; only paths are put where the bench has them.
"""

from __future__ import annotations

import os
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
UNIT = ROOT / "systemd" / "stokehand.service"
PATIENCE_S = 60.0
LOOK_S = 0.02
KILN_PRIORITY = 20  # above the daemon's: a kiln does not wait for a processor


def first_in_line(priority: int) -> list[str]:
    """What to put before a command so that it runs in real time, round robin; nothing where that isn't permitted."""
    tool = shutil.which("chrt")
    if tool is None:
        return []
    words = [tool, "--rr", str(priority)]
    permitted = subprocess.run([*words, "true"], capture_output=True, check=False).returncode == 0
    return words if permitted else []


@dataclass(frozen=True, slots=True)
class UnitFile:
    """What the unit file says about the daemon's life."""

    start: tuple[str, ...]
    stop_post: tuple[str, ...]
    watchdog_s: float
    watchdog_signal: signal.Signals
    restart_s: float
    stop_s: float
    """How long the daemon may take to stop, and its stop hook too: then they are killed."""
    priority: int
    """In real time, round robin."""

    @classmethod
    def read(cls, path: Path = UNIT) -> UnitFile:
        """Read it. Raises KeyError for a line that is missing, ValueError for one that isn't understood."""
        lines = [line.strip() for line in path.read_text(encoding="utf-8").splitlines()]
        said = dict(line.split("=", 1) for line in lines if "=" in line and not line.startswith(("#", ";")))
        known = {"Type": "notify", "Restart": "always", "CPUSchedulingPolicy": "rr"}
        if any(said[key] != value for key, value in known.items()):
            raise ValueError(f"{path}: this bench knows {known} only")
        return cls(
            tuple(shlex.split(said["ExecStart"])), tuple(shlex.split(said["ExecStopPost"])),
            float(said["WatchdogSec"]), signal.Signals[said["WatchdogSignal"]], float(said["RestartSec"]),
            float(said["TimeoutStopSec"]), int(said["CPUSchedulingPriority"]),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Hook:
    """How a stop hook went."""

    began_s: float
    ended_s: float
    status: int
    said: str


class Unit:
    """The daemon as a service: one process at a time, in a folder of its own."""

    def __init__(self, file: UnitFile, folder: Path, config: Path) -> None:
        """Nothing runs yet."""
        self.file = file
        self._folder = folder
        self._config = config
        self._first = first_in_line(file.priority)
        self._log = folder / "daemon.log"
        address = folder / "notify"
        address.unlink(missing_ok=True)
        self._notify = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._notify.bind(str(address))
        self._environment = {
            **os.environ,
            "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
            "PYTHONPATH": str(ROOT),
            "RUNTIME_DIRECTORY": str(folder),
        }
        self._notifying = {"NOTIFY_SOCKET": str(address), "WATCHDOG_USEC": str(int(file.watchdog_s * 1e6))}
        self.process: subprocess.Popen[bytes] | None = None
        self.ready = False
        self.petted_s = 0.0

    def _words(self, words: tuple[str, ...]) -> list[str]:
        """The unit's command with the bench's configuration, scheduled as the unit says where that is permitted."""
        place = words.index("--config") + 1
        return [*self._first, *words[:place], str(self._config), *words[place + 1 :]]

    def start(self) -> None:
        """Start the daemon and wait until it is ready. Raises RuntimeError when it never is."""
        self.ready, self.petted_s = False, time.monotonic()
        while self._hear(0.0):
            pass  # what an earlier process said
        self.ready = False
        with self._log.open("ab") as log:
            self.process = subprocess.Popen(
                self._words(self.file.start), cwd=self._folder, env={**self._environment, **self._notifying},
                stdin=subprocess.DEVNULL, stdout=log, stderr=log,
            )  # fmt: skip
        until_s = time.monotonic() + PATIENCE_S
        while not self.ready:
            self._hear(LOOK_S)
            if time.monotonic() > until_s or self.process.poll() is not None:
                raise RuntimeError(f"the daemon did not get ready:\n{self.log()}")

    def _hear(self, wait_s: float) -> bool:
        """Take one notification, if there is one."""
        self._notify.settimeout(wait_s) if wait_s else self._notify.setblocking(False)
        try:
            said = self._notify.recv(4096).decode().splitlines()
        except (TimeoutError, BlockingIOError):
            return False
        self.ready = self.ready or "READY=1" in said
        if "WATCHDOG=1" in said or "READY=1" in said:
            self.petted_s = time.monotonic()
        return True

    def send(self, number: signal.Signals) -> None:
        """Send the daemon a signal."""
        if self.process is None:
            raise RuntimeError("no daemon runs")
        self.process.send_signal(number)

    def wait(self) -> float:
        """Watch until the daemon has ended, shooting it when it stops petting; return when it was dead."""
        if self.process is None:
            raise RuntimeError("no daemon runs")
        while self.process.poll() is None:
            if not self._hear(LOOK_S) and time.monotonic() - self.petted_s > self.file.watchdog_s:
                self.process.send_signal(self.file.watchdog_signal)
        return time.monotonic()

    def stop_post(self) -> Hook:
        """Run the stop hook, as after every end of the daemon."""
        began_s = time.monotonic()
        done = subprocess.run(
            self._words(self.file.stop_post), cwd=self._folder, env=self._environment, stdin=subprocess.DEVNULL,
            capture_output=True, text=True, check=False, timeout=PATIENCE_S,
        )  # fmt: skip
        return Hook(began_s, time.monotonic(), done.returncode, done.stdout + done.stderr)

    def log(self) -> str:
        """What the daemon said so far, its end."""
        return self._log.read_text(encoding="utf-8", errors="replace")[-3000:] if self._log.exists() else ""

    def close(self) -> None:
        """End what still runs."""
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self._notify.close()
