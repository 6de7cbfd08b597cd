"""The door between people's units and ours, against pint and scipy.constants."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants  # type: ignore[import-untyped]

from daemon.units import (
    BAG_KG,
    KG_PER_LB,
    PA_PER_INCH_OF_WATER,
    DraughtUnit,
    TemperatureUnit,
    from_c,
    from_pa,
    gap_from_k,
    gap_to_k,
    to_c,
    to_pa,
    words_draught,
    words_duration,
    words_temperature,
)

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
F, C = TemperatureUnit.F, TemperatureUnit.C
INH2O, PA = DraughtUnit.INH2O, DraughtUnit.PA
SCALE = st.floats(-300, 3000)


@given(SCALE)
def test_a_point_in_fahrenheit_becomes_celsius_as_two_libraries_have_it(hot_f: float) -> None:
    """Independent: scipy.constants.convert_temperature and pint's offset units."""
    assert to_c(hot_f, F) == pytest.approx(float(constants.convert_temperature(hot_f, "F", "C")), abs=1e-9)
    assert to_c(hot_f, F) == pytest.approx(UNITS.Quantity(hot_f, "degF").to("degC").magnitude, abs=1e-9)
    assert from_c(to_c(hot_f, F), F) == pytest.approx(hot_f, abs=1e-9)
    assert to_c(hot_f, C) == hot_f == from_c(hot_f, C)


@given(SCALE)
def test_a_difference_or_a_rate_in_fahrenheit_has_no_32(gap_f: float) -> None:
    """Independent: pint's delta_degF, and scipy.constants.degree_Fahrenheit (K per °F)."""
    assert gap_to_k(gap_f, F) == pytest.approx(UNITS.Quantity(gap_f, "delta_degF").to("kelvin").magnitude, abs=1e-9)
    assert gap_to_k(gap_f, F) == pytest.approx(gap_f * constants.degree_Fahrenheit, abs=1e-9)
    assert gap_from_k(gap_to_k(gap_f, F), F) == pytest.approx(gap_f, abs=1e-9)
    assert gap_to_k(gap_f, C) == gap_f == gap_from_k(gap_f, C)


def test_an_inch_of_water_is_what_the_conventional_density_and_gravity_make_it() -> None:
    """Independent: an inch and standard gravity of scipy.constants on 1000 kg/m³; pint's inch of water."""
    assert pytest.approx(constants.inch * 1000 * constants.g, rel=1e-5) == PA_PER_INCH_OF_WATER
    pints = UNITS.Quantity(1, "inch_H2O").to("Pa").magnitude
    assert to_pa(1.0, INH2O) == pytest.approx(pints, rel=1e-4)


@given(st.floats(-10, 10))
def test_a_draught_survives_the_way_to_pascals_and_back(gauge: float) -> None:
    assert from_pa(to_pa(gauge, INH2O), INH2O) == pytest.approx(gauge, abs=1e-12)
    assert to_pa(gauge, PA) == gauge == from_pa(gauge, PA)


def test_a_bag_of_pellets_weighs_forty_pounds() -> None:
    """Independent: scipy.constants.pound."""
    assert pytest.approx(constants.pound, rel=1e-12) == KG_PER_LB
    assert pytest.approx(UNITS.Quantity(40, "pound").to("kg").magnitude) == BAG_KG


def test_what_is_read_out_is_in_the_persons_unit() -> None:
    assert words_temperature(1222.0, F) == "2232 °F"
    assert words_temperature(811.6, C) == "812 °C"
    assert words_draught(37.36, INH2O) == "0.15 in. of water"
    assert words_draught(37.36, PA) == "37 Pa"


@pytest.mark.parametrize(
    ("span_s", "words"),
    [(45, "45 s"), (89, "89 s"), (90, "2 min"), (720, "12 min"), (3599, "1 h 00 min"), (11100, "3 h 05 min")],
)
def test_a_time_is_said_as_people_say_it(span_s: float, words: str) -> None:
    assert words_duration(span_s) == words
