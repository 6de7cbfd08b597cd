"""How hot the ware got, and how fast: the top, and the rate of the last 100 °C, which is what a cone feels."""

from __future__ import annotations

from dataclasses import dataclass

STEP_C = 5.0
SPAN_C = 100.0  # a cone's published end points hold for the rate over about the last 100 °C


@dataclass(frozen=True, slots=True)
class Heat:
    """The climb so far: top temperature, and when each 5 °C step of the last 100 °C was first passed."""

    top_c: float = 0.0
    passed: tuple[tuple[float, float], ...] = ()
    rate_c_per_h: float | None = None
    """Over the last 100 °C below the top; None until as much has been climbed."""


def next_heat(last: Heat, now_s: float, chamber_c: float) -> Heat:
    """The heat a moment later."""
    if chamber_c <= last.top_c:
        return last
    if last.passed and chamber_c < last.passed[-1][1] + STEP_C:
        return Heat(chamber_c, last.passed, last.rate_c_per_h)
    passed = (*(p for p in last.passed if p[1] > chamber_c - SPAN_C - STEP_C), (now_s, chamber_c))
    began_s, began_c = passed[0]
    full = chamber_c - began_c >= SPAN_C - STEP_C and now_s > began_s
    rate = (chamber_c - began_c) / (now_s - began_s) * 3600 if full else last.rate_c_per_h
    return Heat(chamber_c, passed, rate)
