"""What one probe has shown so far: whether it moves, jumps, or rises, which its value of the moment can't tell."""

from __future__ import annotations

from math import exp
from typing import NamedTuple

from hardware.port import Blind, Temperature

STEP_K = 40.0
"""A sheath in a kiln makes no larger step: an opened door moves it by about 6 K/s at most (simulated kilns)."""
STEP_K_PER_S = 5.0
RECENT, APART_S = 5, 0.9
"""The steady temperature is the median of the last RECENT readings, at least APART_S apart (chosen): two of them may
be false. It lags by two seconds, a tenth of a sheath's own lag."""
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
    recent_c: tuple[float, ...] = ()
    """The last RECENT readings that were believed, the newest last."""
    recent_s: float = 0.0
    """When the newest of them was."""

    @property
    def steady_c(self) -> float | None:
        """The temperature that no single false reading moves, °C; None while it is blind, and at first.

        What can't be taken back goes by this.
        """
        if self.value_c is None or len(self.recent_c) < RECENT:
            return None
        return sorted(self.recent_c)[RECENT // 2]

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
        return ProbeTrace(now_s, value_c, now_s, value_c, now_s, value_c, recent_c=(value_c,), recent_s=now_s)
    dt_s = max(now_s - last.at_s, 0.0)
    recent_c, recent_s = last.recent_c, last.recent_s
    if not 0 <= now_s - recent_s < APART_S:  # a clock that went back reads at once
        recent_c, recent_s = (*recent_c, value_c)[-RECENT:], now_s
    trace = last._replace(
        at_s=now_s, value_c=value_c, same_since_s=last.same_since_s if value_c == last.value_c else now_s,
        recent_c=recent_c, recent_s=recent_s,
    )  # fmt: skip
    if abs(value_c - last.good_c) > STEP_K + STEP_K_PER_S * max(now_s - last.good_s, 0.0):
        return trace
    if last.step_k is not None:  # back, or accepted where it is: smoothing starts afresh, the slope is kept
        return trace._replace(good_c=value_c, good_s=now_s, smooth_c=value_c)
    weight = 1 - exp(-dt_s / RISE_FILTER_S)
    smooth_c = last.smooth_c + weight * (value_c - last.smooth_c)
    moved = (smooth_c - last.smooth_c) / dt_s if dt_s > 0 else last.slope_k_per_s
    slope = last.slope_k_per_s + weight * (moved - last.slope_k_per_s)
    return trace._replace(good_c=value_c, good_s=now_s, smooth_c=smooth_c, slope_k_per_s=slope)
