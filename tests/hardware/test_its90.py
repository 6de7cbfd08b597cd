"""The thermocouple curves against published tables and an independent implementation."""

from __future__ import annotations

import pytest
import thermocouple_its90
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.its90 import CURVES

# NIST Monograph 175 / IEC 60584-1 tables, cold end at 0 °C, mV; quoted from memory
PUBLISHED_MV = [
    ("K", -100.0, -3.554),
    ("K", 100.0, 4.096),
    ("K", 500.0, 20.644),
    ("K", 1000.0, 41.276),
    ("K", 1200.0, 48.838),
    ("N", 100.0, 2.774),
    ("N", 1000.0, 36.256),
    ("N", 1300.0, 47.513),
    ("S", 100.0, 0.646),
    ("S", 1000.0, 9.587),
    ("S", 1300.0, 13.159),
    ("R", 100.0, 0.647),
    ("R", 1000.0, 10.506),
    ("B", 500.0, 1.242),
    ("B", 1000.0, 4.834),
    ("B", 1700.0, 12.433),
]


@pytest.mark.parametrize(("letter", "hot_c", "emf_mv"), PUBLISHED_MV)
def test_a_thermocouple_gives_the_published_millivolts(letter: str, hot_c: float, emf_mv: float) -> None:
    assert CURVES[letter].emf_mv(hot_c) == pytest.approx(emf_mv, abs=0.0006)  # tables are rounded to 0.001 mV


@pytest.mark.parametrize("letter", "KNSRB")
@settings(deadline=None)
@given(part=st.floats(0.0, 1.0))
def test_the_curves_agree_with_an_independent_implementation(letter: str, part: float) -> None:
    """Source: the package thermocouple-its90, which parses NIST's own tables."""
    curve = CURVES[letter]
    hot_c = curve.lowest_c + part * (curve.highest_c - curve.lowest_c)
    assert curve.emf_mv(hot_c) == pytest.approx(thermocouple_its90.get(letter).emf(hot_c), abs=1e-6)


@pytest.mark.parametrize("letter", "KNSRB")
@settings(deadline=None)
@given(part=st.floats(0.0, 1.0))
def test_the_quick_tables_lose_less_than_the_chip_can_show(letter: str, part: float) -> None:
    curve = CURVES[letter]
    hot_c = curve.lowest_c + part * (curve.highest_c - curve.lowest_c)
    assert curve.quick_emf_mv(hot_c) == pytest.approx(curve.emf_mv(hot_c), abs=5e-5)
    assert curve.quick_temperature_c(curve.emf_mv(hot_c)) == pytest.approx(hot_c, abs=1 / 128)


def test_beyond_its_range_a_curve_goes_on_instead_of_stopping_at_a_plausible_number() -> None:
    curve = CURVES["S"]
    assert curve.quick_temperature_c(curve.emf_mv(1768.0) + 0.5) > curve.highest_c
    assert curve.quick_temperature_c(curve.emf_mv(-50.0) - 0.1) < curve.lowest_c
    with pytest.raises(ValueError, match="type S"):
        curve.emf_mv(1800.0)
