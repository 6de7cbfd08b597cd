"""A pair for benches in real time: a kiln in a process of its own, and the daemon that tends it as a service."""

from __future__ import annotations

import contextlib
import json
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from daemon.course.asks import Ask, Word
from daemon.outside.channel import send_ask
from hardware.simulated.observer import Observer
from tests.bench.unit import KILN_PRIORITY, PATIENCE_S, ROOT, Unit, UnitFile, first_in_line

FEEDING = ("warm-up", "climbing", "soaking")
ONWARDS = ("resume", "made_ready", "begin", "lit")
"""What is said to get to the fire, whenever the daemon wants to hear it."""
CHARCOAL_KG = 0.5
WARM_C = 140.0  # warm enough that a broken thermocouple makes a step, cold enough to be made ready
RESUMED_WITHIN_S = 15.0
HOLD_RESET_S, UP_S = 1.6, 0.8  # the settings below ask for 1 s held, the daemon for half a second up

SETTINGS = """plan = "{folder}/plan.toml"
[kiln]
chamber_m3 = 0.08
feed_ceiling_frac = 1.0
[air]
kg_per_h_at_25_pa = 1000
[limits]
purge_least_s = 5
purge_changes = 1
proven_flame_s = 2
proven_air_s = 30
dark_s = 120
airflow_lost_s = 2
unproven_fuel_kg = 0.5
reset_held_s = 1
[attendance]
every_min = 60
[record]
path = "{folder}/f.sqlite"
[channel]
folder = "{folder}/channel"
[rig]
factory = "hardware.simulated.apart:open_rig"
socket = "{folder}/kiln.sock"
"""
"""Short times, so that a fire is soon fed, and air that never holds the feed back; what is measured depends on none."""

PLAN = """name = "Soon fed"
temperature = "C"
draught = "Pa"
[[stage]]
name = "warm-up"
kind = "fixed"
feed = {feed}
draught = 40
for = "{warm_up}"
[[stage]]
name = "up"
kind = "climb"
to = {to}
rate = 200
trim = false
feed = {feed}
draught = 40
[[stage]]
name = "hold"
kind = "soak"
for = "5 h"
trim = false
feed = {feed}
draught = 40
"""
STATES = {
    "warm-up": {"warm_up": "5 h", "to": 1200},
    "climbing": {"warm_up": "0.02 min", "to": 1200},
    "soaking": {"warm_up": "0.02 min", "to": 60},  # the kiln is warmer than that already
}


class Ears:
    """Hears the daemon's status, as the api would."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(folder / "status.sock"))

    def close(self) -> None:
        """Stop listening."""
        self._socket.close()

    def __call__(self) -> Any:
        """The next status; what was said before is thrown away. Raises TimeoutError."""
        self._socket.setblocking(False)
        with contextlib.suppress(BlockingIOError):
            while True:
                self._socket.recv(100_000)
        self._socket.settimeout(PATIENCE_S)
        return json.loads(self._socket.recv(100_000))


class Pair:
    """One kiln and its daemon, in a folder."""

    def __init__(self, folder: Path, file: UnitFile, seed: int, state: str, feed: int) -> None:
        """Nothing lives yet. `state` is where the feeding will be, `feed` its percentage."""
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.state = state
        config = folder / "settings.toml"
        config.write_text(SETTINGS.format(folder=folder))
        (folder / "plan.toml").write_text(PLAN.format(feed=feed, **STATES[state]))
        self._seed = seed
        self._kiln: subprocess.Popen[str] | None = None
        self.unit = Unit(file, folder, config)

    def begin_afresh(self) -> None:
        """Another kiln, and the daemon with an empty record."""
        self._end_kiln()
        for path in self.folder.glob("f.*"):
            path.unlink()
        self._seed += 1000
        command = [*first_in_line(KILN_PRIORITY), sys.executable, "-m", "hardware.simulated.apart", "--socket",
                   str(self.folder / "kiln.sock"), "--seed", str(self._seed), "--warm", str(WARM_C)]  # fmt: skip
        self._kiln = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
        if self._kiln.stdout is None or not self._kiln.stdout.readline():
            raise RuntimeError("the kiln did not come up")
        self.observer = Observer(self.folder / "kiln.sock")
        self.unit.start()

    def _end_kiln(self) -> None:
        if self._kiln is not None:
            self.observer.close()
            self._kiln.terminate()
            self._kiln.communicate()
            self._kiln = None

    def tell(self, word: Word) -> None:
        """Say something to the daemon."""
        send_ask(self.folder / "channel", Ask(word, "terminal"))

    def feed(self, status: Callable[[], Any], within_s: float = PATIENCE_S) -> Any:
        """Do and say what leads to a fire that is fed; return the first status in that state. Raises RuntimeError."""
        until_s = time.monotonic() + within_s
        while time.monotonic() < until_s:
            said = status()
            if said["state"] == self.state:
                return said
            if said["state"] == "locked out":
                raise RuntimeError(f"locked out on the way: {[n['happened'] for n in said['notices']]}")
            wanted = {word["ask"] for word in said["wanted"]}
            word = next((word for word in ONWARDS if word in wanted), None)
            if word == Word.LIT.value:
                self.observer.light_charcoal(CHARCOAL_KG)
            if word is not None:
                self.tell(Word(word))
        raise RuntimeError(f"never came to {self.state}: it is {said['state']}")

    def taken_up(self, status: Callable[[], Any]) -> bool:
        """Take the firing up again after a reset, and say whether that could be."""
        try:
            self.feed(status, RESUMED_WITHIN_S)
        except RuntimeError:
            return False
        return True

    def reset(self) -> None:
        """Hold the reset button as long as it wants to be held; it must be seen up before and after."""
        time.sleep(UP_S)
        self.observer.press("reset", True)
        time.sleep(HOLD_RESET_S)
        self.observer.press("reset", False)
        time.sleep(UP_S)

    def close(self) -> None:
        """End both."""
        self.unit.close()
        self._end_kiln()


def side_by_side(pairs: int, tend: Callable[[int, Path], None], name: str) -> None:
    """Run `tend` for every pair at once, each with its number and a folder of its own."""
    with tempfile.TemporaryDirectory(prefix=f"{name}-") as folder:
        threads = [threading.Thread(target=tend, args=(number, Path(folder) / str(number))) for number in range(pairs)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
