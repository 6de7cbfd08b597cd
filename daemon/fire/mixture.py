"""The mixture: how much air comes, how much the fuel needs, and what is left of the heat.

Air goes with a little more than the root of the draught over grate and bed. The air ratio is the air over what just
burns the fuel that burns now: 1 is just enough, above it there is excess air, below it gas leaves unburnt. Rates are
kg/h; fuel is counted in pellets, by its heat.
"""

from __future__ import annotations

from math import exp, log1p

AT_PA = 25.0
"""The draught for which a kiln's air is given."""
AIR_POWER = 0.54
"""Through the holes of a grate air goes with the root of the draught, through a bed of pellets with its power 0.6 or so
(Ergun 1952); a test holds it between the two. So a little air is not taken for more than it is."""
AIR_PER_KG = 5.6
"""Air that just burns a kilo of pellets: wood of 50 % C, 6 % H, 43 % O needs 6.0 kg dry and free of ash (memory;
a test reckons it from the elements)."""
LHV_J_PER_KG = 17.0e6
"""Net calorific value as received: ISO 17225-2 class A1 and a little more (memory)."""
GAS_J_PER_KG_K, GAS_PER_C = 1048.0, 0.141
"""Mean heat of flue gas between the room and t °C, J/(kg·K), and its rise.

Fitted to the Thermodynamics Research Center's ideal gas equations (data of the `chemicals` library) for air ratios of
1.2 to 1.4; a test holds it against them.
"""
KNEE, SMOKE_LOSS = 0.08, 1.5
"""Where air is short: how wide the transition into smoke is, as an air ratio, and the heat lost for each missing part.

Short of air, carbon leaves as monoxide, and each missing part of oxygen costs 1.3 to 1.5 parts of the heat: 566 kJ/mol
O2 for CO against 433 for wood (memory). The knee was found on the bench: `python -m tests.bench.control`.
"""
ROOM_C = 20.0
"""The air that comes in, °C: a room's (memory)."""
LEAST_GAIN = 0.1
"""The least share of its heat that a kilo of fuel counts as leaving in the kiln (chosen): it bounds the division."""


def air_kg_per_h(draught_pa: float, at_25_pa: float) -> float:
    """The air at a draught (Pa); `at_25_pa` is the kiln's, at 25 Pa."""
    return at_25_pa * float((max(draught_pa, 0.0) / AT_PA) ** AIR_POWER)


def draught_for_air_pa(air: float, at_25_pa: float) -> float:
    """The draught, Pa, at which so much air comes."""
    return AT_PA * float((air / at_25_pa) ** (1 / AIR_POWER))


def heat_release_frac(ratio: float) -> float:
    """How much of the heat comes free at an air ratio."""
    short = (1 - ratio) / KNEE
    return 1 - min(SMOKE_LOSS * KNEE * (log1p(exp(short)) if short < 30 else short), 0.9)


def flue_loss_kg_per_kg(flue_c: float) -> float:
    """The heat that a kilo of gas carries up the flue, in kilos of pellets."""
    return (GAS_J_PER_KG_K + GAS_PER_C * flue_c) * max(flue_c - ROOM_C, 0.0) / LHV_J_PER_KG


def net_heat_kg_per_h(burns: float, air: float, flue_c: float) -> float:
    """The heat that stays in the kiln: what burns, less smoke, less what air and fuel carry up the flue."""
    burnt = burns * heat_release_frac(air / (AIR_PER_KG * burns)) if burns > 1e-6 else 0.0
    return burnt - (air + burns) * flue_loss_kg_per_kg(flue_c)


def fuel_for_heat_kg_per_h(heat: float, flue_c: float, ratio: float, least_air: float) -> float:
    """What must burn so that `heat` stays, at an air ratio; or with `least_air` (kg/h) where the air can't be less."""
    carried = flue_loss_kg_per_kg(flue_c)
    burns = heat / max(heat_release_frac(ratio) - (ratio * AIR_PER_KG + 1) * carried, LEAST_GAIN)
    if burns * ratio * AIR_PER_KG >= least_air:
        return burns
    return (heat + carried * least_air) / max(1 - carried, LEAST_GAIN)
