"""Probes in their sheaths: they follow what surrounds them, late."""

from __future__ import annotations

from math import exp


class Sheath:
    """A first-order lag, exact for any step: after one time constant the junction has seen 63 % of a change."""

    __slots__ = ("_fade", "_fade_dt_s", "_lag_s", "probe_c")

    def __init__(self, lag_s: float, start_c: float) -> None:
        """A probe that has long been at `start_c`."""
        self._lag_s = lag_s
        self._fade_dt_s = 0.0
        self._fade = 0.0
        self.probe_c = start_c

    def step(self, dt_s: float, around_c: float) -> float:
        """Let time pass in surroundings at `around_c`; return what the junction has, °C."""
        if dt_s != self._fade_dt_s:
            self._fade_dt_s = dt_s
            self._fade = exp(-dt_s / self._lag_s)
        self.probe_c = around_c + (self.probe_c - around_c) * self._fade
        return self.probe_c
