"""The reset button at the kiln: what counts as a press, and what is a contact that jams or chatters."""

from __future__ import annotations

from typing import NamedTuple

from daemon.settings import SCAN_S, LimitsTable
from hardware.port import NotFitted, Readings

STAYS_UP_S = 0.5
"""The button is up once it has stayed up for so long: a contact that bounces is steady within 50 ms (memory)."""


class ResetButton(NamedTuple):
    """What the reset button has done in this lock-out, s on the rig's clock."""

    up_s: float | None = None
    """Since when it is up; None while it is down, or isn't known."""
    down_s: float | None = None
    """When a press began that may become a reset; openings shorter than STAYS_UP_S belong to it."""
    seen_down_s: float = 0.0
    """When it was last seen down."""


NOBODY_PRESSES = ResetButton()


def next_reset_button(
    last: ResetButton, readings: Readings, before: Readings | None, locked_out: bool, limits: LimitsTable
) -> tuple[ResetButton, bool]:
    """The reset button a scan later, and whether it was held long enough in a lock-out and let go.

    It must stay up before it is pressed, and again after it was let go: a button that jams or chatters resets nothing.
    Nor does a press with a late scan in it: nobody saw whether it was held.
    """
    now_s = readings.now_s
    late = before is None or not 0 <= now_s - before.now_s <= limits.scan_late_s
    if not locked_out or late or isinstance(readings.reset_pressed, NotFitted):
        return NOBODY_PRESSES, False
    if readings.reset_pressed:
        stayed_up = last.up_s is not None and now_s - last.up_s >= STAYS_UP_S - SCAN_S / 2
        down_s = last.down_s if last.down_s is not None else now_s if stayed_up else None
        return ResetButton(None, down_s, now_s), False
    up_s = last.up_s if last.up_s is not None else now_s
    if last.down_s is None or now_s - up_s < STAYS_UP_S - SCAN_S / 2:
        return ResetButton(up_s, last.down_s, last.seen_down_s), False
    held_s = last.seen_down_s - last.down_s
    return ResetButton(up_s), limits.reset_held_s - SCAN_S / 2 <= held_s <= limits.reset_jammed_s
