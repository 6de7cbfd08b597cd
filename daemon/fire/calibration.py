"""What is known of this kiln's feed, air and size before the first fire, and how sure that is."""

from __future__ import annotations

from typing import NamedTuple

from daemon.fire.heat_balance import USUAL_M3
from daemon.fire.mixture import AIR_PER_KG, air_kg_per_h
from daemon.settings import AirTable, KilnTable

USUAL_RATIO = 1.3
"""The air ratio of a fire that burns clean, where nothing tells it (memory)."""
AIR_MEASURED, AIR_BY_PAIR, AIR_GUESSED = 0.07, 0.15, 0.25
"""How sure the air at a draught is, one standard deviation as a share: measured, by a plan's pair, guessed.

The weight of the feed counts in it, and what air pellets need: 4 and 3 % (memory)."""
USUAL_AIR_KG_PER_H = 20.0
"""At 25 Pa, for a chamber of 0.12 m³ (simulated kilns)."""


class Calibration(NamedTuple):
    """What this kiln is: pellets with the auger always on (weighed), air at 25 Pa (kg/h) and how sure, its size."""

    auger_kg_per_h: float
    air_at_25_pa: float
    air_std_frac: float
    """One standard deviation of the air, a share of it."""
    chamber_m3: float


def calibration_of(kiln: KilnTable, air: AirTable, pair: tuple[float, float] | None) -> Calibration:
    """What the settings tell, or what takes its place.

    Air that was never measured goes by a `pair` of the plan, feed (fraction) and draught (Pa) that burn clean together;
    failing that by what kilns of this size usually have.
    """
    at_25_pa, std_frac = air.kg_per_h_at_25_pa, AIR_MEASURED
    if at_25_pa is None and pair is not None:
        feed_frac, pair_pa = pair
        at_25_pa = USUAL_RATIO * AIR_PER_KG * feed_frac * kiln.auger_kg_per_h / air_kg_per_h(pair_pa, 1.0)
        std_frac = AIR_BY_PAIR
    if at_25_pa is None:
        at_25_pa, std_frac = USUAL_AIR_KG_PER_H * (kiln.chamber_m3 / USUAL_M3) ** (2 / 3), AIR_GUESSED
    return Calibration(kiln.auger_kg_per_h, at_25_pa, std_frac, kiln.chamber_m3)
