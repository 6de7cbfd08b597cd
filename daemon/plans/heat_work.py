"""How hot the ware got, and how fast: the top, the rate of the last 100 °C, which is what a cone feels, and heat work.

Heat work is what heat does to clay and glaze, given as the time at some temperature that does as much. It follows the
law of rate processes (Arrhenius): a little hotter is a lot faster.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

STEP_C = 5.0
SPAN_C = 100.0  # a cone's published end points hold for the rate over about the last 100 °C
ACTIVATION_K = 99_000.0
"""E/R of heat work: what makes cone 6 fall at 1222 °C at 60 °C/h and at 1243 °C at 150; a test holds it against the
other cones. Of other changes in clay it is no more than a guess."""
MOST_APART_K = 50.0  # further above nothing is reckoned: no plan goes there
KELVIN = 273.15


@dataclass(frozen=True, slots=True)
class Climb:
    """The climb so far: top temperature, and when each 5 °C step of the last 100 °C was first passed."""

    top_c: float = 0.0
    passed: tuple[tuple[float, float], ...] = ()
    rate_c_per_h: float | None = None
    """Over the last 100 °C below the top; None until as much has been climbed."""


def next_climb(last: Climb, now_s: float, chamber_c: float) -> Climb:
    """The climb a moment later."""
    if chamber_c <= last.top_c:
        return last
    if last.passed and chamber_c < last.passed[-1][1] + STEP_C:
        return Climb(chamber_c, last.passed, last.rate_c_per_h)
    passed = (*(p for p in last.passed if p[1] > chamber_c - SPAN_C - STEP_C), (now_s, chamber_c))
    began_s, began_c = passed[0]
    full = chamber_c - began_c >= SPAN_C - STEP_C and now_s > began_s
    rate = (chamber_c - began_c) / (now_s - began_s) * 3600 if full else last.rate_c_per_h
    return Climb(chamber_c, passed, rate)


def e_fold_k(hot_c: float) -> float:
    """By how many K hotter heat work goes e times as fast, around this temperature."""
    return (hot_c + KELVIN) ** 2 / ACTIVATION_K


def work_s(hot_c: float, at_c: float, dt_s: float) -> float:
    """The heat work of `dt_s` (s) at `hot_c`, as time at `at_c`, s."""
    return dt_s * exp(min(hot_c - at_c, MOST_APART_K) / e_fold_k(at_c))


def climb_work_s(from_c: float, to_c: float, rate_c_per_h: float) -> float:
    """The heat work of a straight climb, as time at its end, s; a fall has none to speak of."""
    fold = e_fold_k(to_c)
    return 3600 / rate_c_per_h * fold * (1 - exp((from_c - to_c) / fold)) if to_c > from_c else 0.0
