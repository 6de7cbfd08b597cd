"""The row of a scan: what was read, asked, judged, wished, driven, and read back as done."""

from __future__ import annotations

from typing import NamedTuple

from daemon.beat import Beat
from daemon.control.pulse import Pulse
from daemon.course.asks import Answer, Ask
from daemon.interlocks.verdict import Verdict
from daemon.reset_button import ResetButton
from hardware.port import Outputs, Readings


class Wish(NamedTuple):
    """What the schedule would like, with the parts it was made from."""

    auger: bool
    fan_frac: float
    damper_frac: float
    horn: bool
    lamp: bool
    beat: Beat
    pulse: Pulse
    reset: bool
    """The reset button was held long enough and let go."""
    reset_button: ResetButton
    fed_s: float
    """Auger time since the fire was lit, s, by the levels read back before this scan."""
    answers: tuple[Answer, ...]
    alarms_seen: bool
    """Somebody has seen the alarms."""


class Row(NamedTuple):
    """One scan, whole."""

    now_s: float
    readings: Readings
    asks: tuple[Ask, ...]
    verdict: Verdict
    wish: Wish
    driven: Outputs
    done: Outputs
