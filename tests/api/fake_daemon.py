"""The daemon's end of a channel in the hand of a test: it says what the real one says in a scene, and collects asks."""

from __future__ import annotations

import json
import socket
from pathlib import Path

from daemon.control.feed import FeedLimit
from daemon.course.asks import WORDS
from daemon.course.state import State
from daemon.notice import Cause
from daemon.window import FIELDS, Status
from hardware.port import Blindness
from tests.window.golden import golden

STATES = {state.value for state in State}
LIMITS = {limit.value for limit in FeedLimit}
REASONS = {reason.value for reason in Blindness}
SAID = {(word.value, words) for word, words in WORDS.items()}
CAUSES = {cause.name for cause in Cause} | {"AIR", "PLAN_WAITS"}
"""The alarms' causes, and the two notes of `daemon/outside/notices.py`."""
NUMBERS: dict[str, object] = {
    "elapsed_s": 30600.0, "chamber_c": 800.0, "setpoint_c": 803.0, "flue_c": 512.3, "limit_c": 797.8,
    "draught_pa": 36.1, "draught_setpoint_pa": 37.4, "fan_frac": 0.4, "damper_frac": 0.5, "pellets_kg": 27.2,
    "auger": False, "shaft_turning": False,
    "feed_frac": 0.314, "ff_frac": 0.3, "p_frac": 0.02, "i_frac": -0.006, "d_frac": 0.0,
    "burns_kg_per_h": 2.27, "air_kg_per_h": 15.8, "air_ratio": 1.243, "air_std_frac": 0.15, "wanted_air_ratio": 1.32,
    "air_factor": 1.0, "air_aside_frac": 0.0,
    "estimated_chamber_c": 801.2, "mass_kg_per_k": 0.0042, "load_kg_per_h": -0.06, "walls_kg_per_h": 0.84,
    "attendance": {"level": "quiet", "due_in_s": 762.0},
}  # fmt: skip
"""Numbers of a climbing kiln whose rounding and signs can be checked by eye."""


def check_good(datagram: bytes, changes: dict[str, object]) -> None:
    """Fail unless the real daemon could say this: the window reads it, and its words are the daemon's."""
    assert changes.keys() <= FIELDS.keys(), f"no such field: {changes.keys() - FIELDS.keys()}"
    status = Status.model_validate_json(datagram)
    assert status.state in STATES and status.limited_by in LIMITS
    assert set((status.blind or {}).values()) <= REASONS
    assert {(wanted.ask, wanted.words) for wanted in status.wanted} <= SAID
    assert {notice.cause for notice in status.notices} <= CAUSES


class FakeDaemon:
    """Says a scene's status, on a clock of its own, of a record that exists."""

    def __init__(self, channel: Path, record: Path) -> None:
        """Listen for asks; statuses go out when told."""
        self.status_path = channel / "status.sock"
        self.asks_path = channel / "asks.sock"
        self.record = record
        self.now_s = 0.0
        self._mouth = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._ear.bind(str(self.asks_path))
        self._ear.settimeout(5.0)

    def say(self, scene: str = "climbing", /, **changes: object) -> float:
        """Send the scene's status with these fields changed; return its `now_s`, which no other status has."""
        datagram = self.words(scene, **changes)
        check_good(datagram, changes)
        self.shout(datagram)
        return self.now_s

    def words(self, scene: str = "climbing", /, **changes: object) -> bytes:
        """The next datagram of the scene with these fields changed, good or not."""
        self.now_s += 1.0
        told = {**golden(scene), "record": str(self.record), "now_s": self.now_s, **changes}
        return json.dumps(told).encode()

    def shout(self, datagram: bytes) -> None:
        """Send anything at all."""
        self._mouth.sendto(datagram, str(self.status_path))

    def next_ask(self) -> dict[str, str]:
        """Return the next ask, which must come within 5 s."""
        said: dict[str, str] = json.loads(self._ear.recv(4096))
        return said

    def asks_left(self) -> int:
        """Count and drop the asks not yet taken."""
        self._ear.setblocking(False)
        count = 0
        try:
            while self._ear.recv(4096):
                count += 1
        except BlockingIOError:
            return count
        finally:
            self._ear.settimeout(5.0)
        return count

    def die(self) -> None:
        """Leave the sockets as a killed process does: the file stays, nobody listens."""
        self._mouth.close()
        self._ear.close()
