"""First-order lags, and what walls take through three of them.

A first-order lag of time constant T follows its input x by dy/dt = (x - y) / T. Over a step dt with x held it goes

    y(t + dt) = y + g · (x - y),    g = 1 - exp(-dt / T)

A wall takes heat as the root of time (half-infinite solid; Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed.
1959, ch. 2). Three lags stand in for the root, each weighed by one over the root of its time constant:

    wall pull = (1 + WALL_PER_C · chamber) · sum over T of (chamber - y_T) / sqrt(T)        K per root second
"""

from __future__ import annotations

from math import exp, sqrt

WALL_LAGS_S = (600.0, 2400.0, 9600.0)
"""Time constants: from ten minutes to some hours, four times apart; a test holds their sum against the root of time."""
WALL_PER_C = 1 / 1450  # hot brick conducts better: 0.13 W/(m·K) and 9e-5 more per °C (memory; simulated wall)


def lag_gain(dt_s: float, time_constant_s: float) -> float:
    """How far a first-order lag comes in `dt_s` (s), 0 to 1: g above."""
    return 1 - exp(-dt_s / time_constant_s)


def next_wall_lags(last_c: tuple[float, ...], chamber_c: float, dt_s: float) -> tuple[float, ...]:
    """The chamber's temperature as the wall's lags have it, °C, `dt_s` (s) later."""
    return tuple([c + lag_gain(dt_s, s) * (chamber_c - c) for c, s in zip(last_c, WALL_LAGS_S, strict=True)])


def wall_pull(chamber_c: float, lags_c: tuple[float, ...]) -> float:
    """How hard the walls draw heat at this moment, K per root second."""
    pulls = sum([(chamber_c - c) / sqrt(s) for c, s in zip(lags_c, WALL_LAGS_S, strict=True)])
    return (1 + WALL_PER_C * chamber_c) * pulls
