"""What walls take: heat as the root of time, for which three lags stand in, each weighed by one over its root."""

from __future__ import annotations

from math import exp, sqrt

WALL_LAGS_S = (600.0, 2400.0, 9600.0)
WALL_PER_C = 1 / 1450  # hot brick conducts better: 0.13 W/(m·K) and 9e-5 more per °C (memory; simulated wall)


def lag_gain(dt_s: float, lag_s: float) -> float:
    """How far a first-order lag comes in `dt_s`."""
    return 1 - exp(-dt_s / lag_s)


def next_wall_lags(last_c: tuple[float, ...], chamber_c: float, dt_s: float) -> tuple[float, ...]:
    """The chamber's temperature as the lags have it, `dt_s` (s) later."""
    return tuple([c + lag_gain(dt_s, s) * (chamber_c - c) for c, s in zip(last_c, WALL_LAGS_S, strict=True)])


def wall_pull(chamber_c: float, soaked_c: tuple[float, ...]) -> float:
    """What the walls draw at this moment, in K per root second."""
    pulls = sum([(chamber_c - c) / sqrt(s) for c, s in zip(soaked_c, WALL_LAGS_S, strict=True)])
    return (1 + WALL_PER_C * chamber_c) * pulls
