"""What a firing is judged by."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import exp, log, sqrt

ACTIVATION_K = 98_900.0
"""Heat work as a rate process, E/R in K: what makes cone 6 fall at 1222 °C at 60 °C/h and at 1243 °C at 150 °C/h
(end points published by the Edward Orton Jr. Ceramic Foundation)."""
KELVIN = 273.15
IDEAL_RATE = 60.0
BAND_K = 5.0


def heat_work_rate(hot_c: float) -> float:
    """Relative to 1200 °C, a second."""
    return exp(ACTIVATION_K * (1 / 1473.15 - 1 / (hot_c + KELVIN)))


def equivalent_c(work_s: float) -> float:
    """Where a climb at 60 °C/h has done the same work, °C: ∫ = (R T²/E)(1 - 2 R T/E)/rate · rate constant, for T."""
    hot_k = 1473.15
    for _ in range(50):
        span = hot_k * hot_k / ACTIVATION_K * (1 - 2 * hot_k / ACTIVATION_K) / (IDEAL_RATE / 3600)
        hot_k = 1 / (1 / 1473.15 - log(max(work_s, 1e-12) / span) / ACTIVATION_K)
    return hot_k - KELVIN


@dataclass
class Score:
    """One firing, gathered a second at a time."""

    squares: float = 0.0
    climbing_s: int = 0
    over_k: float = 0.0
    soak_s: int = 0
    soak_in_s: int = 0
    smoke_s: int = 0
    asked_s: int = 0
    work_s: float = 0.0
    ideal_s: float = 0.0
    fed_kg: float = 0.0
    moves: float = 0.0
    holding_s: int = 0
    top_c: float = 0.0
    asks: int = 0
    hours: float = 0.0
    ended: str = ""
    target_c: float = 0.0
    notes: dict[str, float] = field(default_factory=dict)

    @property
    def rms_k(self) -> float:
        """On the climbs."""
        return sqrt(self.squares / self.climbing_s) if self.climbing_s else 0.0

    @property
    def soak_frac(self) -> float:
        """Of the soak in its band."""
        return self.soak_in_s / self.soak_s if self.soak_s else 0.0

    @property
    def heat_k(self) -> float:
        """The error in heat work, °C at 60 °C/h."""
        return abs(equivalent_c(self.work_s) - equivalent_c(self.ideal_s)) if self.ideal_s else 999.0

    @property
    def reached(self) -> bool:
        """The top."""
        return self.top_c >= self.target_c - 3.0

    @property
    def moves_per_min(self) -> float:
        """Of the feed, points a minute."""
        return self.moves * 100 / (self.holding_s / 60) if self.holding_s else 0.0

    @property
    def all_five(self) -> bool:
        """RMS ≤ 3, overshoot ≤ 3, soak ≥ 95 %, smoke ≤ 10 min, heat work ≤ 2."""
        return (
            self.reached and self.rms_k <= 3 and self.over_k <= 3 and self.soak_frac >= 0.95
            and self.smoke_s <= 600 and self.heat_k <= 2
        )  # fmt: skip
