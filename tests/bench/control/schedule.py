"""Three schedules: what is asked of feed and air by hand, and of the temperature."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Leg:
    """A climb to `to_c` at `rate_c_per_h`, or a soak of `soak_s` there."""

    to_c: float
    rate_c_per_h: float = 0.0
    soak_s: float = 0.0


WARM_UP_S = 1800.0
WARM_UP_FRAC = 0.10

SCHEDULES: dict[str, tuple[Leg, ...]] = {
    "bisque": (Leg(600.0, 100.0), Leg(600.0, soak_s=1800.0), Leg(1060.0, 130.0), Leg(1060.0, soak_s=1200.0)),
    "stoneware": (Leg(600.0, 120.0), Leg(1000.0, 140.0), Leg(1222.0, 80.0), Leg(1222.0, soak_s=1200.0)),
    "short": (Leg(550.0, 180.0), Leg(1120.0, 200.0), Leg(1180.0, 60.0), Leg(1180.0, soak_s=1800.0)),
}
