"""The hot gas against the Thermodynamics Research Center's ideal gas equations, from the `chemicals` library."""

from __future__ import annotations

import pytest
from chemicals import MW
from chemicals.heat_capacity import TRC_gas_data, TRCCp_integral

from hardware.simulated.kiln import gas
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.fuel import OXYGEN_IN_AIR_FRAC, Fuel

CAS = {"nitrogen": "7727-37-9", "oxygen": "7782-44-7", "carbon dioxide": "124-38-9", "steam": "7732-18-5"}
OURS = {"nitrogen": gas.NITROGEN, "oxygen": gas.OXYGEN, "carbon dioxide": gas.CARBON_DIOXIDE, "steam": gas.STEAM}
ROOM_C = 15.0


def reference_j_per_kg(species: str, gas_c: float) -> float:
    """Heat above room temperature by the reference equations, J/kg."""
    cas = CAS[species]
    row = TRC_gas_data.loc[cas]
    numbers = [float(row[name]) for name in ("a0", "a1", "a2", "a3", "a4", "a5", "a6", "a7")]

    def enthalpy(at_c: float) -> float:
        return float(TRCCp_integral(at_c + 273.15, *numbers))

    return (enthalpy(gas_c) - enthalpy(ROOM_C)) / (float(MW(cas)) / 1000.0)


@pytest.mark.parametrize("species", sorted(CAS))
@pytest.mark.parametrize("gas_c", [400.0, 800.0, 1200.0, 1600.0])
def test_a_gas_holds_the_heat_that_the_reference_says(species: str, gas_c: float) -> None:
    """Within 3 % over the whole range of a firing."""
    a, b = OURS[species]
    heat_j = (a + 0.5 * b * (gas_c + ROOM_C)) * (gas_c - ROOM_C)
    assert heat_j == pytest.approx(reference_j_per_kg(species, gas_c), rel=0.03)
    assert gas.temperature_of(a, b, heat_j, ROOM_C) == pytest.approx(gas_c, abs=1e-6)


@pytest.mark.parametrize("air_ratio", [1.1, 1.3, 1.6, 2.5])
def test_a_wood_flame_is_as_hot_as_its_energy_balance_says(air_ratio: float) -> None:
    """Adiabatic flame temperature of pellets, without dissociation: products and heat by the reference equations."""
    build = Build()
    fuel = Fuel.of(build)
    air_kg = air_ratio * fuel.stoichiometric_air()
    carbon_kg = fuel.wood_frac * build.carbon_frac
    parts = {
        "nitrogen": air_kg * (1.0 - OXYGEN_IN_AIR_FRAC),
        "oxygen": air_kg * OXYGEN_IN_AIR_FRAC - fuel.wood_frac * fuel.wood_o2,
        "carbon dioxide": carbon_kg * 44.009 / 12.011,
        "steam": fuel.water_frac + fuel.wood_frac * build.hydrogen_frac * 18.015 / 2.016,
    }
    low_c, expected_c = 200.0, 2600.0
    for _ in range(40):  # halve the bracket until the products hold the pellets' heat
        middle_c = 0.5 * (low_c + expected_c)
        held_j = sum(kg * reference_j_per_kg(name, middle_c) for name, kg in parts.items())
        low_c, expected_c = (middle_c, expected_c) if held_j < build.lhv_j_per_kg else (low_c, middle_c)
    a, b = gas.mixture(parts["nitrogen"], parts["oxygen"], parts["carbon dioxide"], parts["steam"], 0.0)
    assert gas.temperature_of(a, b, build.lhv_j_per_kg, ROOM_C) == pytest.approx(expected_c, rel=0.015)
    assert 800.0 < expected_c < 2000.0
