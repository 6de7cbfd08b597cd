"""What walls take: heat as the root of time, for which three lags stand in, each weighed by one over its root."""

from __future__ import annotations

from math import exp, sqrt

SOAK_S = (600.0, 2400.0, 9600.0)
SOAK_PER_C = 1 / 1450  # hot brick conducts better: 0.13 W/(m·K) and 9e-5 more per °C (memory; simulated wall)


def come(dt_s: float, lag_s: float) -> float:
    """How far a first-order lag comes in `dt_s`."""
    return 1 - exp(-dt_s / lag_s)


def soaked(last_c: tuple[float, ...], chamber_c: float, dt_s: float) -> tuple[float, ...]:
    """The chamber's temperature as the lags have it, `dt_s` (s) later."""
    return tuple([c + come(dt_s, s) * (chamber_c - c) for c, s in zip(last_c, SOAK_S, strict=True)])


def draws(chamber_c: float, soaked_c: tuple[float, ...]) -> float:
    """What the walls draw at this moment, in K per root second."""
    pulls = sum([(chamber_c - c) / sqrt(s) for c, s in zip(soaked_c, SOAK_S, strict=True)])
    return (1 + SOAK_PER_C * chamber_c) * pulls
