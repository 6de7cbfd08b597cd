"""A daemon that only talks: sends statuses and collects asks on the two sockets of a channel."""

from __future__ import annotations

import json
import socket
from pathlib import Path
from typing import Any

STAGES: list[dict[str, Any]] = [
    {"name": "water smoking", "kind": "climb", "feed_frac": 0.1, "draught_pa": 20.0, "to_c": 120.0, "cone": None,
     "rate_c_per_h": 60.0, "for_s": None, "trim": True, "atmosphere": "oxidation"},
    {"name": "candle", "kind": "soak", "feed_frac": 0.1, "draught_pa": 20.0, "to_c": 120.0, "cone": None,
     "rate_c_per_h": None, "for_s": 3600.0, "trim": True, "atmosphere": "oxidation"},
    {"name": "to cone 6", "kind": "climb", "feed_frac": 0.3, "draught_pa": 37.4, "to_c": 1222.0, "cone": "6",
     "rate_c_per_h": 100.0, "for_s": None, "trim": True, "atmosphere": "oxidation"},
    {"name": "soak", "kind": "soak", "feed_frac": 0.35, "draught_pa": 37.4, "to_c": 1222.0, "cone": None,
     "rate_c_per_h": None, "for_s": 1200.0, "trim": True, "atmosphere": "neutral"},
    {"name": "burn out", "kind": "fixed", "feed_frac": 0.0, "draught_pa": 30.0, "to_c": None, "cone": None,
     "rate_c_per_h": None, "for_s": 900.0, "trim": False, "atmosphere": "oxidation"},
]  # fmt: skip

STOPPED: dict[str, Any] = {"frac": 0.0, "ff": 0.0, "p": 0.0, "i": 0.0, "d": 0.0, "limited_by": "none"}

HEAT: dict[str, Any] = {
    "chamber_c": 801.2, "mass_kg_per_k": 0.0042, "load_kg_per_h": -0.06, "walls_kg_per_h": 0.84, "work_owed_s": None,
}  # fmt: skip
AIR: dict[str, Any] = {
    "burns_kg_per_h": 2.27, "air_kg_per_h": 15.8, "air_ratio": 1.243, "spread_frac": 0.15, "wanted_air_ratio": 1.32,
    "taught_factor": 1.0, "aside_frac": 0.0, "oxygen_air_ratio": None, "reduced_s": 0.0,
}  # fmt: skip
REDUCING: dict[str, Any] = {
    "stage": {"index": 1, "name": "body reduction", "kind": "climb"},
    "plan": {"name": "Cone 10", "temperature_unit": "F", "draught_unit": "inH2O", "stages": [
        {"name": "warm-up", "kind": "fixed", "feed_frac": 0.1, "draught_pa": None, "to_c": None, "cone": None,
         "rate_c_per_h": None, "for_s": 1800.0, "trim": False, "atmosphere": "oxidation"},
        {"name": "body reduction", "kind": "climb", "feed_frac": None, "draught_pa": None, "to_c": 982.0, "cone": None,
         "rate_c_per_h": 67.0, "for_s": None, "trim": True, "atmosphere": "medium reduction"},
    ]},
    "feed": {"frac": 0.36, "ff": 0.4, "p": 0.02, "i": 0.01, "d": -0.01, "limited_by": "waits for the air"},
    "mixture": {**AIR, "air_ratio": 0.912, "spread_frac": 0.02, "wanted_air_ratio": 0.9, "taught_factor": 1.12,
                "oxygen_air_ratio": 0.904, "reduced_s": 1500.0},
}  # fmt: skip
"""Changes of a kiln with an oxygen probe in a plan that leaves feed and draught to the daemon."""

CLIMBING: dict[str, Any] = {
    "version": 1, "now_s": 123.4, "utc_s": 1_900_000_000.0, "firing": 3, "record": None, "rehearsal": False,
    "state": "climbing", "state_words": "Climbing", "state_since_s": 4000.0,
    "stage": {"index": 2, "name": "to cone 6", "kind": "climb"},
    "plan": {"name": "Cone 6", "temperature_unit": "C", "draught_unit": "Pa", "stages": STAGES},
    "aim_c": 803.0,
    "probes": {"chamber": {"c": 800.0}, "flue": {"c": 512.3}, "limit": {"c": 797.8}},
    "feed_tube": {"c": 41.2}, "draught": {"pa": 36.1}, "draught_aim_pa": 37.4,
    "airflow_proven": True, "flame_seen": True, "shaft_turning": True,
    "feed": {"frac": 0.314, "ff": 0.3, "p": 0.02, "i": -0.006, "d": 0.0, "limited_by": "none"},
    "mixture": AIR,
    "heat": HEAT,
    "auger": True, "fan_frac": 0.4, "damper_frac": 0.5, "horn": False, "lamp": True,
    "wanted": [],
    "attendance": {"level": "quiet", "due_in_s": 762.0},
    "notices": [], "pellets_kg": 27.2, "elapsed_s": 30600.0, "answered": [],
}  # fmt: skip

TRIPPED: dict[str, Any] = {
    "state": "tripped", "state_words": "Tripped: feed stopped", "stage": None, "aim_c": None, "auger": False,
    "airflow_proven": False, "flame_seen": True, "shaft_turning": False, "horn": True, "draught": {"pa": 4.0},
    "feed": STOPPED, "mixture": {**AIR, "burns_kg_per_h": 0.91, "air_ratio": 1.37, "wanted_air_ratio": None},
    "attendance": {"level": "horn", "due_in_s": 100.0},
    "notices": [
        {"cause": "FLUE_HOT", "level": "warning", "happened": "Flue 712 °C, usual below 650 °C.",
         "did": "Nothing.", "do_next": "Look at the damper.", "since_s": 300.0, "first_out": False},
        {"cause": "FLAME_LOST", "level": "trip", "happened": "The fire is no longer seen.",
         "did": "Feed kept stopped.", "do_next": "Let it burn down.", "since_s": 5.0, "first_out": False},
        {"cause": "AIRFLOW_LOST", "level": "trip", "happened": "Airflow lost: draught 4 Pa, needs 15 Pa.",
         "did": "Feed stopped at 14:02:07, fan left on.",
         "do_next": "Look at the fan and the damper, let the fire burn down, then reset at the kiln.",
         "since_s": 65.0, "first_out": True, "standing": "unacknowledged", "value": 4.0, "limit": 15.0, "unit": "Pa"},
    ],
}  # fmt: skip

WAITING: dict[str, Any] = {
    "state": "make_ready", "state_words": "Waiting for you: make ready", "stage": None, "aim_c": None,
    "firing": None, "elapsed_s": None, "auger": False, "shaft_turning": False, "flame_seen": False,
    "probes": {"chamber": {"c": 18.0}, "flue": {"c": 17.0}, "limit": {"blind": "no reading yet"}},
    "feed": STOPPED, "mixture": None, "heat": None,
    "attendance": {"level": "quiet", "due_in_s": None}, "pellets_kg": 0.0,
    "wanted": [
        {"ask": "made_ready", "words": "Hopper full, grate clean, damper open, nothing that burns within 2 m"},
        {"ask": "charcoal_lit", "words": "The charcoal is laid and lit, and the door is shut"},
    ],
}  # fmt: skip


class FakeDaemon:
    """The daemon's end of a channel."""

    def __init__(self, channel: Path) -> None:
        """Listen for asks; statuses go out when told."""
        self.status_path = channel / "status.sock"
        self.asks_path = channel / "asks.sock"
        self.now_s = 0.0
        self._mouth = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._ear = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._ear.bind(str(self.asks_path))
        self._ear.settimeout(5.0)

    def say(self, **changes: object) -> float:
        """Send a climbing kiln's status with these changes; return its `now_s`, which no other status has."""
        self.now_s += 1.0
        self.shout(json.dumps({**CLIMBING, "now_s": self.now_s, **changes}).encode())
        return self.now_s

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
