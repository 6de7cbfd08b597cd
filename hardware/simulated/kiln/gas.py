"""The hot gas: how much heat it holds at which temperature.

Each species has a specific heat that rises linearly with temperature, so that the temperature follows from the heat
in closed form. Dissociation is left out: below 1800 °C it is worth less than 1 %.
"""

from __future__ import annotations

from math import sqrt

# cp = a + b·T, J/(kg·K), T in °C. Fitted over 0 to 1700 °C to the enthalpies of the Thermodynamics Research Center's
# ideal gas equations (data of the `chemicals` library); tests hold them against it.
NITROGEN = (1023.8, 0.1828)
OXYGEN = (932.9, 0.1894)
CARBON_DIOXIDE = (920.8, 0.3756)
STEAM = (1817.9, 0.6501)
WOOD_GAS = (1500.0, 0.9)  # tar, carbon monoxide, methane and hydrogen mixed (memory; matters only when it smokes)
AIR = (0.2314 * OXYGEN[0] + 0.7686 * NITROGEN[0], 0.2314 * OXYGEN[1] + 0.7686 * NITROGEN[1])


def temperature_of(a: float, b: float, heat_j: float, room_c: float) -> float:
    """The temperature, °C, at which a body of capacity a + b·T (J/K) holds `heat_j` above room temperature.

    Heat is (a + b·(T + room)/2)·(T - room): a quadratic, solved in the form that keeps its digits.
    """
    at_room = a + b * room_c
    return room_c + 2.0 * heat_j / (at_room + sqrt(at_room * at_room + 2.0 * b * heat_j))


def mixture(
    nitrogen_kg: float, oxygen_kg: float, carbon_dioxide_kg: float, steam_kg: float, wood_gas_kg: float
) -> tuple[float, float]:
    """Heat capacity a + b·T of a gas mixture, J/K."""
    return (
        NITROGEN[0] * nitrogen_kg
        + OXYGEN[0] * oxygen_kg
        + CARBON_DIOXIDE[0] * carbon_dioxide_kg
        + STEAM[0] * steam_kg
        + WOOD_GAS[0] * wood_gas_kg,
        NITROGEN[1] * nitrogen_kg
        + OXYGEN[1] * oxygen_kg
        + CARBON_DIOXIDE[1] * carbon_dioxide_kg
        + STEAM[1] * steam_kg
        + WOOD_GAS[1] * wood_gas_kg,
    )
