"""What the pellets are made of: how much air they need and how much heat they hold."""

from __future__ import annotations

from dataclasses import dataclass

from .build import Build

OXYGEN_IN_AIR_FRAC = 0.2314  # by mass, dry air
BOIL_J_PER_KG = 2.442e6  # latent heat of water at 25 °C, the reference of net calorific values
CHAR_J_PER_KG = 32.8e6  # carbon to carbon dioxide: 393.5 kJ/mol (standard enthalpy of formation)
CHAR_O2 = 31.998 / 12.011  # kg of oxygen per kg of carbon
HYDROGEN_O2 = 15.999 / 2.016  # kg of oxygen per kg of hydrogen
CHARCOAL_CARBON_FRAC = 0.90  # barbecue charcoal, the rest is ash and moisture (memory)
CHARCOAL_ASH_FRAC = 0.03


@dataclass(frozen=True, slots=True)
class Fuel:
    """One kind of pellet, split as the fire takes it apart: water, volatiles, char (taken as carbon) and ash.

    `wood` below is the dry, ash-free part. Pyrolysis is taken as heat-neutral, so the parts' heats add up to the
    pellet's.
    """

    water_frac: float
    ash_frac: float
    wood_frac: float
    char_frac: float
    lhv_j_per_kg: float
    wood_j_per_kg: float
    volatile_j_per_kg: float
    volatile_o2: float
    volatile_co2: float
    volatile_h2o: float
    wood_o2: float

    @classmethod
    def of(cls, build: Build) -> Fuel:
        """The pellets this kiln burns. Stoichiometry: C + O2 → CO2, 2 H2 + O2 → 2 H2O, less the wood's own oxygen."""
        wood_frac = (1.0 - build.moisture_frac) * (1.0 - build.ash_frac)
        wood_j = (build.lhv_j_per_kg + build.moisture_frac * BOIL_J_PER_KG) / wood_frac
        wood_o2 = build.carbon_frac * CHAR_O2 + build.hydrogen_frac * HYDROGEN_O2 - build.oxygen_frac
        char = build.char_frac
        volatile = 1.0 - char
        return cls(
            water_frac=build.moisture_frac,
            ash_frac=(1.0 - build.moisture_frac) * build.ash_frac,
            wood_frac=wood_frac,
            char_frac=char,
            lhv_j_per_kg=build.lhv_j_per_kg,
            wood_j_per_kg=wood_j,
            volatile_j_per_kg=(wood_j - char * CHAR_J_PER_KG) / volatile,
            volatile_o2=(wood_o2 - char * CHAR_O2) / volatile,
            volatile_co2=(build.carbon_frac - char) * (1.0 + CHAR_O2) / volatile,
            volatile_h2o=build.hydrogen_frac * (1.0 + HYDROGEN_O2) / volatile,
            wood_o2=wood_o2,
        )

    def stoichiometric_air(self) -> float:
        """Air that just burns one kg of pellets as received, kg/kg."""
        return self.wood_frac * self.wood_o2 / OXYGEN_IN_AIR_FRAC
