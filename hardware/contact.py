"""The switches and sensors: contacts to ground on inputs with a pull-up, low when closed, high when open or broken."""

from __future__ import annotations

from typing import Any

from hardware.port import NOT_FITTED, NotFitted

TURNING_S = 1.0  # the shaft counts as turning this long after the wheel was last seen to move


def closed(pin: Any) -> bool | NotFitted:
    """Read a normally open contact; a broken wire reads as open."""
    return NOT_FITTED if pin is None else not pin.state


def opened(pin: Any) -> bool | NotFitted:
    """Read a normally closed contact; a broken wire reads as opened."""
    return NOT_FITTED if pin is None else bool(pin.state)


class Shaft:
    """The auger's shaft sensor: a wheel whose level changes as it turns, looked at once a scan.

    The wheel must change level less often than the scans come (at 10 scans a second: under 5 changes a second),
    or a turning wheel looks still. A broken wire never changes: not turning.
    """

    __slots__ = ("_level", "_moved_at_s", "_pin")

    def __init__(self, pin: Any) -> None:
        self._pin = pin
        self._level = bool(pin.state)
        self._moved_at_s: float | None = None

    def turning(self, now_s: float) -> bool:
        """Say whether the wheel was seen to move within the last second."""
        level = bool(self._pin.state)
        if level is not self._level:
            self._level = level
            self._moved_at_s = now_s
        return self._moved_at_s is not None and now_s - self._moved_at_s <= TURNING_S
