"""What one probe has shown so far: whether it moves, jumps, or rises, which its value of the moment can't tell."""

from __future__ import annotations

from math import exp
from typing import NamedTuple

from hardware.port import Blind, Temperature

STEP_K = 40.0
"""A sheath in a kiln makes no larger step: an opened door moves it by about 6 K/s at most (simulated kilns)."""
STEP_K_PER_S = 5.0
RISE_FILTER_S = 90.0  # longer than a door that was opened and shut takes to be forgotten


class ProbeTrace(NamedTuple):
    """A probe's last second and what it says of the ones before. `value_c` is None while the probe is blind."""

    at_s: float
    value_c: float | None = None
    same_since_s: float = 0.0
    """Since when the value is the same to the last bit. A real amplifier's noise never lets it."""
    good_c: float | None = None
    """The last value that could follow from the one before; it stays where it was while the value is a step away."""
    good_s: float = 0.0
    smooth_c: float | None = None
    slope_k_per_s: float = 0.0

    @property
    def step_k(self) -> float | None:
        """How far away the value has jumped, K; None when it hasn't."""
        if self.value_c is None or self.good_c is None or self.good_s == self.at_s:
            return None
        return self.value_c - self.good_c


def next_trace(last: ProbeTrace | None, now_s: float, probe: Temperature | Blind) -> ProbeTrace:
    """The trace a moment later."""
    if isinstance(probe, Blind):
        return ProbeTrace(now_s) if last is None else last._replace(at_s=now_s, value_c=None, same_since_s=now_s)
    value_c = probe.value_c
    if last is None or last.good_c is None or last.smooth_c is None:
        return ProbeTrace(now_s, value_c, now_s, value_c, now_s, value_c)
    dt_s = max(now_s - last.at_s, 0.0)
    same_since_s = last.same_since_s if value_c == last.value_c else now_s
    weight = 1 - exp(-dt_s / RISE_FILTER_S)
    if abs(value_c - last.good_c) > STEP_K + STEP_K_PER_S * max(now_s - last.good_s, 0.0):
        return ProbeTrace(now_s, value_c, same_since_s, last.good_c, last.good_s, last.smooth_c, last.slope_k_per_s)
    if last.step_k is not None:  # back, or accepted where it is: smoothing starts afresh, the slope is kept
        return ProbeTrace(now_s, value_c, same_since_s, value_c, now_s, value_c, last.slope_k_per_s)
    smooth_c = last.smooth_c + weight * (value_c - last.smooth_c)
    moved = (smooth_c - last.smooth_c) / dt_s if dt_s > 0 else last.slope_k_per_s
    slope = last.slope_k_per_s + weight * (moved - last.slope_k_per_s)
    return ProbeTrace(now_s, value_c, same_since_s, value_c, now_s, smooth_c, slope)
