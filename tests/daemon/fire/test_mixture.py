"""Air and fuel: against stoichiometry, flue gas and what grate and bed let pass, all from other people's code."""

from __future__ import annotations

from itertools import pairwise
from math import inf

import pytest
from chemicals import Hfg, combustion_stoichiometry, molecular_weight
from chemicals.heat_capacity import TRC_gas_data, TRCCp_integral
from fluids.flow_meter import flow_meter_discharge
from fluids.packed_bed import Ergun
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq  # type: ignore[import-untyped]

from daemon.fire.mixture import (
    AIR_PER_KG,
    AT_PA,
    LHV_J_PER_KG,
    ROOM_C,
    SMOKE_LOSS,
    air_kg_per_h,
    draught_for_air_pa,
    flue_loss_kg_per_kg,
    fuel_for_heat_kg_per_h,
    heat_release_frac,
    net_heat_kg_per_h,
)

AIR_O2_FRAC, AIR_KG_PER_MOL = 0.2095, 28.9647e-3
MOISTURE, ASH = 0.08, 0.006
WOODS = {  # shares of C, H, O, N in the wood, dry and free of ash (handbooks, memory)
    "the usual figures": (0.50, 0.06, 0.43, 0.01),
    "softwood": (0.508, 0.061, 0.428, 0.003),
    "hardwood": (0.495, 0.060, 0.442, 0.003),
}
GASES = {"N2": "7727-37-9", "O2": "7782-44-7", "CO2": "124-38-9", "H2O": "7732-18-5"}


def moles(wood: tuple[float, float, float, float]) -> dict[str, float]:
    """The elements in a kilo of pellets as received, mol; water apart."""
    daf_kg = (1 - MOISTURE) * (1 - ASH)
    weights = {e: molecular_weight({e: 1}) / 1000 for e in "CHON"}
    return {e: daf_kg * share / weights[e] for e, share in zip("CHON", wood, strict=True)}


def needs_kg(wood: tuple[float, float, float, float]) -> float:
    """Air that just burns a kilo of pellets, kg, by chemicals' stoichiometry."""
    return float(-combustion_stoichiometry(moles(wood))["O2"] / AIR_O2_FRAC * AIR_KG_PER_MOL)


@pytest.mark.parametrize("wood", WOODS.values(), ids=WOODS.keys())
def test_the_air_that_just_burns_a_kilo_is_that_of_the_chemistry(wood: tuple[float, float, float, float]) -> None:
    """8 % moisture, 0.6 % ash. Woods differ among themselves by more than by 2 %."""
    assert pytest.approx(needs_kg(wood), rel=0.05) == AIR_PER_KG
    softwood = needs_kg(WOODS["softwood"])
    assert pytest.approx(softwood, rel=0.02) == AIR_PER_KG  # what pellets are usually made of


def flue_gas(ratio: float) -> dict[str, float]:
    """What a kilo of softwood pellets makes at an air ratio, mol; complete combustion."""
    made = combustion_stoichiometry(moles(WOODS["softwood"]))
    air = -made["O2"] / AIR_O2_FRAC * ratio
    return {
        "CO2": made["CO2"], "H2O": made["H2O"] + MOISTURE / 18.015e-3, "O2": -made["O2"] * (ratio - 1),
        "N2": air * (1 - AIR_O2_FRAC),
    }  # fmt: skip


def carries_j_per_kg(gas: dict[str, float], flue_c: float) -> float:
    """The heat of a gas between the room and `flue_c`, by chemicals' TRC heat capacities; water stays vapour."""
    heat, mass = 0.0, 0.0
    for name, mol in gas.items():
        a = [float(TRC_gas_data.loc[GASES[name], f"a{k}"]) for k in range(8)]
        at = [TRCCp_integral(c + 273.15, *a) for c in (ROOM_C, flue_c)]
        heat += mol * (at[1] - at[0])
        mass += mol * molecular_weight({"N2": {"N": 2}, "O2": {"O": 2}, "CO2": {"C": 1, "O": 2},
                                        "H2O": {"H": 2, "O": 1}}[name]) / 1000  # fmt: skip
    return heat / mass


@pytest.mark.parametrize("flue_c", [150.0, 400.0, 700.0, 1000.0, 1300.0])
@pytest.mark.parametrize("ratio", [1.2, 1.4])
def test_a_kilo_of_flue_gas_carries_away_what_its_gases_do(ratio: float, flue_c: float) -> None:
    """Independent: chemicals' data for N2, O2, CO2 and steam."""
    ours = flue_loss_kg_per_kg(flue_c) * LHV_J_PER_KG
    assert ours == pytest.approx(carries_j_per_kg(flue_gas(ratio), flue_c), rel=0.03)


def test_gas_at_the_rooms_temperature_carries_nothing() -> None:
    assert flue_loss_kg_per_kg(ROOM_C) == flue_loss_kg_per_kg(ROOM_C - 30) == 0.0


@given(st.floats(0.5, 150), st.floats(1, 500))
def test_air_goes_with_the_draught_as_through_a_grate_with_a_bed_on_it(pa: float, at_25_pa: float) -> None:
    """Independent, by fluids: between an orifice (ISO 5167's equation) and 5 cm of 6 mm pellets (Ergun's)."""
    bounds = sorted((orifice(pa) / orifice(AT_PA), bed(pa) / bed(AT_PA)))
    assert bounds[0] * (1 - 1e-9) <= air_kg_per_h(pa, at_25_pa) / at_25_pa <= bounds[1] * (1 + 1e-9)


def orifice(pa: float) -> float:
    """What goes through an orifice, kg/s."""
    flow = flow_meter_discharge(0.2, 0.1, 101325.0, 101325.0 - pa, 1.2, 0.61)  # type: ignore[no-untyped-call]
    return float(flow)


def bed(pa: float) -> float:
    """What goes through a bed of pellets, m/s over its face."""
    return float(brentq(lambda v: Ergun(dp=0.006, voidage=0.4, vs=v, rho=1.2, mu=1.8e-5, L=0.05) - pa, 1e-6, 20.0))


@given(st.floats(0.1, 500), st.floats(1, 500))
def test_the_draught_for_an_air_gives_that_air(air: float, at_25_pa: float) -> None:
    assert air_kg_per_h(draught_for_air_pa(air, at_25_pa), at_25_pa) == pytest.approx(air)


def test_a_draught_the_wrong_way_round_brings_no_air() -> None:
    assert air_kg_per_h(-5.0, 20.0) == 0.0


def test_more_air_never_burns_less_and_with_enough_of_it_all_burns() -> None:
    fracs = [heat_release_frac(ratio / 100) for ratio in range(301)]
    assert all(more >= less for less, more in pairwise(fracs))
    assert all(0.0 < frac <= 1.0 for frac in fracs)
    assert fracs[130] > 0.99
    assert fracs[300] == pytest.approx(1.0, abs=1e-6)
    assert fracs[85] < 0.85


def test_short_of_air_the_heat_is_lost_that_carbon_monoxide_takes_and_a_little_more() -> None:
    """Independent: chemicals' heats of formation. The oxygen that CO lacks gives more heat than wood's does."""
    co_j = (Hfg("630-08-0") - Hfg("124-38-9")) * 2  # for a mole of oxygen
    wood_j = LHV_J_PER_KG / -combustion_stoichiometry(moles(WOODS["softwood"]))["O2"]
    assert co_j / wood_j <= SMOKE_LOSS <= 1.25 * co_j / wood_j
    assert (heat_release_frac(0.8) - heat_release_frac(0.6)) / 0.2 == pytest.approx(SMOKE_LOSS, rel=0.05)


HEATS, FLUES, RATIOS = st.floats(0.1, 10), st.floats(20, 1300), st.floats(0.82, 1.6)


@given(HEATS, FLUES, RATIOS)
def test_what_is_needed_for_a_heat_leaves_that_heat_in_the_kiln(heat: float, flue_c: float, ratio: float) -> None:
    per_kg = net_heat_kg_per_h(1.0, ratio * AIR_PER_KG, flue_c)
    assume(per_kg > 0.1)  # else it can't be heated so
    burns = fuel_for_heat_kg_per_h(heat, flue_c, ratio, 0.0)
    assert net_heat_kg_per_h(burns, ratio * AIR_PER_KG * burns, flue_c) == pytest.approx(heat, rel=1e-6)


@given(HEATS, st.floats(20, 900), st.floats(30, 120))
def test_where_the_air_can_not_be_less_more_must_burn_to_warm_it(heat: float, flue_c: float, least_air: float) -> None:
    """With plenty of air nothing smokes, so what is needed leaves its heat at the air that there is."""
    burns = fuel_for_heat_kg_per_h(heat, flue_c, 1.2, least_air)
    air = max(least_air, 1.2 * AIR_PER_KG * burns)
    assume(air > 1.7 * AIR_PER_KG * burns)
    assert net_heat_kg_per_h(burns, air, flue_c) == pytest.approx(heat, rel=0.01, abs=0.01)
    assert burns >= 0.98 * fuel_for_heat_kg_per_h(heat, flue_c, 1.2, 0.0)  # at 1.2 a hundredth still smokes


@given(st.floats(-50, 200), st.floats(-60, 1900), st.floats(0.5, 3), st.floats(0, 500))
def test_whatever_is_asked_the_fuel_for_it_is_a_number(
    heat: float, flue_c: float, ratio: float, least_air: float
) -> None:
    assert -inf < fuel_for_heat_kg_per_h(heat, flue_c, ratio, least_air) < inf
    assert -inf < net_heat_kg_per_h(max(heat, 0.0), least_air, flue_c) < inf


def test_a_cold_or_dead_fire_only_cools() -> None:
    assert net_heat_kg_per_h(0.0, 30.0, 600.0) == pytest.approx(-30.0 * flue_loss_kg_per_kg(600.0))
