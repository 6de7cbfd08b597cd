"""What the daemon says to the person: what happened, what it did, what to do next. Three fields, none forgotten."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Cause(Enum):
    """Everything that can stop a firing or warn about one. The value is what the trade would call it."""

    STOP_BUTTON = "stop button"
    STOP_ASKED = "stop asked for"
    OVER_TEMPERATURE = "over-temperature"
    PROBE_BLIND = "probe invalid"
    AIRFLOW_LOST = "lost airflow"
    FLAME_OUT = "flame-out"
    FIRE_NOT_PROVEN = "fire not proven"
    UNATTENDED = "attendance not answered"
    AUGER_RUNS = "auger runs by itself"
    AUGER_STILL = "auger does not turn"
    BURN_BACK = "burn-back"
    CO_ALARM = "carbon monoxide alarm"
    RISE_TOO_FAST = "rise too fast"
    FAN_IDLE = "fan asked for and no draught"
    AIR_LOW = "too little air for the fuel"
    FEED_IDLE = "feed does nothing"
    PROBE_FROZEN = "probe stands still"
    PROBE_JUMPED = "probe jumped"
    PROBES_DISAGREE = "probes disagree"
    PROBE_DRIFTS = "probe drifts"
    SCAN_LATE = "scan late"
    CLOCK_ODD = "clock wrong"
    RECORD_TROUBLE = "record not written"
    INTERRUPTED = "interrupted"
    DAEMON_FAULT = "fault in the daemon"


class Level(Enum):
    """How much a finding weighs."""

    WARNING = "warning"
    TRIP = "trip"


RESET_NEXT = "When the cause is gone, hold reset at the kiln for a few seconds and let go."
"""What follows on every trip."""


@dataclass(frozen=True, slots=True)
class Notice:
    """Words for the person."""

    happened: str
    did: str
    do_next: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One interlock's verdict at one moment: what it is, how much it weighs, since when, and the words.

    `value` and `limit` are in `unit` (`°C`, `Pa`, `s`, `kg`); None where the cause is not a number.
    """

    cause: Cause
    level: Level
    since_s: float
    notice: Notice
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    about: str = ""
    """Which instrument, where a cause has several that are told apart."""
