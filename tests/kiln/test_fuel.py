"""The pellets' air and heat, against the `chemicals` library."""

from __future__ import annotations

import pytest
from chemicals import combustion

from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.fuel import CHAR_J_PER_KG, OXYGEN_IN_AIR_FRAC, Fuel

BUILD = Build()
CARBON, HYDROGEN, OXYGEN = 12.011, 1.008, 15.999  # atomic weights, IUPAC


def test_pellets_need_as_much_air_as_their_combustion_equation_says() -> None:
    """Source: `chemicals.combustion.combustion_stoichiometry`, from the atoms in one kg of dry, ash-free wood."""
    atoms = {
        "C": BUILD.carbon_frac * 1000.0 / CARBON,
        "H": BUILD.hydrogen_frac * 1000.0 / HYDROGEN,
        "O": BUILD.oxygen_frac * 1000.0 / OXYGEN,
    }
    products = combustion.combustion_stoichiometry(atoms)
    oxygen = -products["O2"] * 2.0 * OXYGEN / 1000.0
    fuel = Fuel.of(BUILD)
    assert fuel.wood_o2 == pytest.approx(oxygen, rel=1e-3)
    assert fuel.stoichiometric_air() == pytest.approx(fuel.wood_frac * oxygen / OXYGEN_IN_AIR_FRAC, rel=1e-3)
    assert oxygen / OXYGEN_IN_AIR_FRAC == pytest.approx(6.0, abs=0.1)  # handbook figure for dry wood (memory)


def test_pellets_hold_the_heat_that_their_elements_suggest() -> None:
    """Source: Boie's equation in Perry's handbook, as `chemicals.combustion.HHV_Boie` (good to some 3 %)."""
    wood = {"C": BUILD.carbon_frac, "H": BUILD.hydrogen_frac, "O": BUILD.oxygen_frac}
    gross_j = -combustion.HHV_Boie(wood) * 1000.0
    vapour_j = 44011.496 / 0.018015 * BUILD.hydrogen_frac * 8.936  # heat of vaporisation as in LHV_from_HHV
    assert Fuel.of(BUILD).wood_j_per_kg == pytest.approx(gross_j - vapour_j, rel=0.04)


def test_char_gives_the_heat_of_forming_carbon_dioxide() -> None:
    """Source: 393.51 kJ/mol, standard enthalpy of formation (CODATA key values), atomic weight 12.011."""
    assert pytest.approx(393.51e3 / 0.012011, rel=2e-3) == CHAR_J_PER_KG


def test_char_and_volatiles_together_hold_what_the_pellet_holds() -> None:
    """Heat, oxygen and mass of the parts add up to the whole, for every kiln of an ensemble."""
    for seed in range(20):
        build = Build.varied(seed)
        fuel = Fuel.of(build)
        volatile = 1.0 - fuel.char_frac
        heat_j = fuel.char_frac * CHAR_J_PER_KG + volatile * fuel.volatile_j_per_kg
        assert heat_j == pytest.approx(fuel.wood_j_per_kg, rel=1e-12)
        received_j = fuel.wood_frac * heat_j - fuel.water_frac * 2.442e6
        assert received_j == pytest.approx(build.lhv_j_per_kg, rel=1e-12)
        assert fuel.water_frac + fuel.ash_frac + fuel.wood_frac == pytest.approx(1.0)
        burnt_kg = fuel.volatile_co2 + fuel.volatile_h2o
        # the wood's nitrogen (1 % of it) is not followed: that is all the mass that goes missing
        assert burnt_kg == pytest.approx(1.0 + fuel.volatile_o2, rel=0.01)


def test_every_kiln_burns_pellets_of_class_a1() -> None:
    """Source: ISO 17225-2 class A1, quoted from memory: moisture to 10 %, ash to 0.7 %, at least 16.5 MJ/kg."""
    for build in [Build(), *(Build.varied(seed) for seed in range(30))]:
        assert build.moisture_frac <= 0.10
        assert build.ash_frac <= 0.007
        assert build.lhv_j_per_kg >= 16.5e6
