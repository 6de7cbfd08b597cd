"""The heated oxygen probe in the flue: it sees the gas of fire and door together, a little late."""

from __future__ import annotations

from math import exp

LAG_S = 4.0  # the gas finds its way through the shield round a heated cell, and the cell follows (memory)
LEAN = 4.0  # air ratio; from here on the flue is as good as room air to it


class OxygenProbe:
    """A first-order lag on the air ratio, exact for any step.

    The hot cell burns what reached it unburnt, so smoke counts as fuel and 1 means just enough air, well mixed or not.
    """

    __slots__ = ("_fade", "_fade_dt_s", "air_ratio")

    def __init__(self) -> None:
        """A probe that has long been in air."""
        self._fade_dt_s = 0.0
        self._fade = 0.0
        self.air_ratio = LEAN

    def step(self, dt_s: float, oxygen_kg: float, needed_kg: float) -> float:
        """Let time pass in a flue through which this much oxygen came for a fire that needed `needed_kg` of it.

        Returns what the probe reads. Where next to nothing burns, `needed_kg` is 0 and it reads air.
        """
        if dt_s != self._fade_dt_s:
            self._fade_dt_s = dt_s
            self._fade = exp(-dt_s / LAG_S)
        around = oxygen_kg / needed_kg if oxygen_kg < LEAN * needed_kg else LEAN
        self.air_ratio = around + (self.air_ratio - around) * self._fade
        return self.air_ratio
