"""What burns on the bed: nothing is lost, nothing comes of nothing, and it comes as late as two lags let it."""

from __future__ import annotations

import pytest
from chemicals import Hfg
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import TransferFunction, step  # type: ignore[import-untyped]

from daemon.fire.bed import CHAR_S, CHAR_SHARE, CHARCOAL_PER_KG, CHARCOAL_S, WOOD_S, Bed, charcoal_bed, next_bed

DT_S = 1.0
KG_PER_H = 3.0


def fed_for(seconds: float, kg_per_h: float = KG_PER_H, bed: Bed | None = None, dt_s: float = DT_S) -> list[Bed]:
    """The bed after each step of a steady feed."""
    beds = [bed or Bed()]
    for _ in range(round(seconds / dt_s)):
        beds.append(next_bed(beds[-1], kg_per_h / 3600 * dt_s, dt_s))
    return beds[1:]


FEEDS = st.lists(st.tuples(st.floats(0, 0.2), st.floats(0.1, 600)), max_size=40)


@given(FEEDS, st.floats(0, 20))
def test_every_kilo_that_falls_burns_or_still_lies_there(feeds: list[tuple[float, float]], charcoal_kg: float) -> None:
    """Char and charcoal counted in pellets, by their heat."""
    bed, burnt_kg = charcoal_bed(charcoal_kg), 0.0
    for fed_kg, dt_s in feeds:
        bed = next_bed(bed, fed_kg, dt_s)
        assert min(bed) >= 0
        burnt_kg += bed.burns_kg_per_h * dt_s / 3600
    lies_kg = bed.wood_kg + bed.raw_kg + bed.char_kg + bed.charcoal_kg
    fed_kg = sum(kg for kg, _ in feeds) + CHARCOAL_PER_KG * charcoal_kg
    assert burnt_kg + lies_kg == pytest.approx(fed_kg, rel=1e-9, abs=1e-12)


def test_wood_gas_comes_as_two_equal_lags_in_a_row_let_it() -> None:
    """Independent: the step response of scipy 1.13's transfer function 1 / (1 + s·T/2)²."""
    lag_s = WOOD_S / 2
    times, response = step(TransferFunction([1.0], [lag_s**2, 2 * lag_s, 1.0]), T=[float(s) for s in range(601)])
    beds = fed_for(600, dt_s=0.25)
    for second in (10, 30, 62, 120, 300, 600):
        ours = beds[4 * second - 1].gas_kg_per_h / (KG_PER_H * (1 - CHAR_SHARE))
        assert ours == pytest.approx(response[times.tolist().index(second)], abs=0.012)


def test_char_glows_behind_the_wood_gas_by_one_lag_more() -> None:
    """Independent: scipy's step response of the three lags in a row."""
    lag_s = WOOD_S / 2
    lags = TransferFunction([1.0], [lag_s**2 * CHAR_S, lag_s**2 + 2 * lag_s * CHAR_S, 2 * lag_s + CHAR_S, 1.0])
    times, response = step(lags, T=[60.0 * minute for minute in range(61)])
    beds = fed_for(3600)
    for minute in (2, 5, 10, 20, 60):
        ours = beds[60 * minute - 1].char_kg_per_h / (KG_PER_H * CHAR_SHARE)
        assert ours == pytest.approx(response[times.tolist().index(60.0 * minute)], abs=0.01)


def test_a_steady_feed_burns_what_is_fed_and_its_char_is_the_last_to_go() -> None:
    steady = fed_for(3 * 3600)[-1]
    assert steady.burns_kg_per_h == pytest.approx(KG_PER_H, rel=1e-4)
    after = fed_for(300, 0.0, steady)
    assert after[-1].gas_kg_per_h < 0.01 * steady.gas_kg_per_h
    assert after[-1].char_kg_per_h > 0.5 * steady.char_kg_per_h


@pytest.mark.parametrize("dt_s", [0.1, 1.0, 2.0])
def test_how_often_it_is_looked_at_makes_little_difference(dt_s: float) -> None:
    fine, ours = fed_for(600, dt_s=0.1)[-1], fed_for(600, dt_s=dt_s)[-1]
    assert ours.burns_kg_per_h == pytest.approx(fine.burns_kg_per_h, rel=0.01)


def test_no_time_gone_burns_nothing() -> None:
    bed = fed_for(100)[-1]
    assert next_bed(bed, 0.0, 0.0) == bed


def test_charcoal_lasts_for_hours_and_gives_its_heat() -> None:
    """Two time constants leave 13.5 %, by hand."""
    beds = fed_for(2 * CHARCOAL_S, 0.0, charcoal_bed(1.0))
    assert sum(bed.charcoal_kg_per_h for bed in beds) / 3600 == pytest.approx(CHARCOAL_PER_KG * 0.8647, rel=1e-3)


def test_the_share_of_the_char_is_that_of_its_carbon() -> None:
    """Independent: chemicals' heat of formation of CO2, for 18 % of the dry wood left as carbon (memory).

    17 MJ/kg as received, 8 % moisture that takes 2.44 MJ/kg, 0.6 % ash: 18.8 MJ in a kilo that is dry and free of ash.
    """
    carbon_mj_per_kg = -Hfg("124-38-9") / 12.011e-3 / 1e6
    daf_mj_per_kg = (17.0 + 0.08 * 2.44) / (0.92 * 0.994)
    assert pytest.approx(0.18 * carbon_mj_per_kg / daf_mj_per_kg, rel=0.03) == CHAR_SHARE
    assert pytest.approx(0.87 * carbon_mj_per_kg / 17.0, rel=0.03) == CHARCOAL_PER_KG  # 87 % carbon, as sold (memory)
