"""The outputs: drive one where it isn't yet as wanted, and say what was read back."""

from __future__ import annotations

from typing import Any

from hardware.port import NOT_FITTED, NotFitted
from hardware.wiring import Servo

WHOLE_PERCENT = 1e-9  # the pin library cuts a duty down to whole percents; this keeps 0.29 from becoming 28 %
HALF_PERCENT = 0.0049  # a wish nearer than this to what is driven is what is driven


def switch(pin: Any, wanted: bool | NotFitted) -> bool | NotFitted:
    """Drive an on/off output if it isn't there already. What nobody asks for is off."""
    if pin is None:
        return NOT_FITTED
    on, level = wanted is True, bool(pin.state)
    if level is not on:
        pin.state = on
        level = bool(pin.state)
    return level


def _percent(frac: float) -> float:
    """Round a duty to the whole percent that the pin library can make."""
    return min(1.0, round(frac * 100.0) / 100.0 + WHOLE_PERCENT) if frac > 0.0 else 0.0


def turn(pin: Any, wanted_frac: float | NotFitted) -> float | NotFitted:
    """Drive a speed. What nobody asks for stands still."""
    if pin is None:
        return NOT_FITTED
    wanted = 0.0 if isinstance(wanted_frac, NotFitted) else wanted_frac
    state = pin.state
    if abs(state - wanted) > HALF_PERCENT:
        pin.state = _percent(wanted)
        state = pin.state
    return float(state)


def place(pin: Any, servo: Servo, wanted_frac: float | NotFitted) -> float | NotFitted:
    """Send the damper's servo to a place; return the place the pulse really stands for.

    What nobody asks for stays where it is: a damper that shuts because the daemon ended would smother a burning bed.
    A servo that was never sent anywhere stands where a person or the last daemon left it, and nobody knows where.
    """
    per_ms = servo.hz / 1000.0
    if not isinstance(wanted_frac, NotFitted):
        frac = min(1.0, max(0.0, wanted_frac))
        duty = _percent((servo.shut_ms + (servo.open_ms - servo.shut_ms) * frac) * per_ms)
        if abs(pin.state - duty) > HALF_PERCENT:
            pin.state = duty
    sent_ms = float(pin.state) / per_ms
    if sent_ms <= 0.0:
        return NOT_FITTED
    return min(1.0, max(0.0, (sent_ms - servo.shut_ms) / (servo.open_ms - servo.shut_ms)))
