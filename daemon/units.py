"""The one door between people's units and ours: °F, inches of water and pounds stay outside, °C, Pa and kg inside.

Sources: NIST SP 811 (conventional inch of water at 4 °C, 249.089 Pa), the pound (0.45359237 kg exactly), the Fahrenheit
scale. A *difference* or a *rate* in °F has no 32 in it, so those conversions are functions of their own.
"""

from __future__ import annotations

from enum import Enum

PA_PER_INCH_OF_WATER = 249.089
KG_PER_LB = 0.45359237
BAG_KG = 40 * KG_PER_LB  # pellets are sold in 40 lb bags


class TemperatureUnit(Enum):
    """The temperature scale a plan is written in."""

    C = "C"
    F = "F"


class DraughtUnit(Enum):
    """The pressure unit a plan is written in: pascals or inches of water."""

    PA = "Pa"
    INH2O = "inH2O"


def to_c(value: float, unit: TemperatureUnit) -> float:
    """A point on the scale, to °C."""
    return value if unit is TemperatureUnit.C else (value - 32) / 1.8


def from_c(value_c: float, unit: TemperatureUnit) -> float:
    """A point in °C, to the person's scale."""
    return value_c if unit is TemperatureUnit.C else value_c * 1.8 + 32


def gap_to_k(gap: float, unit: TemperatureUnit) -> float:
    """A difference or a rate, to K (or K/h): no 32."""
    return gap if unit is TemperatureUnit.C else gap / 1.8


def gap_from_k(gap_k: float, unit: TemperatureUnit) -> float:
    """A difference or a rate in K, to the person's scale: no 32."""
    return gap_k if unit is TemperatureUnit.C else gap_k * 1.8


def to_pa(value: float, unit: DraughtUnit) -> float:
    """A draught, to Pa."""
    return value if unit is DraughtUnit.PA else value * PA_PER_INCH_OF_WATER


def from_pa(value_pa: float, unit: DraughtUnit) -> float:
    """A draught in Pa, to the person's unit."""
    return value_pa if unit is DraughtUnit.PA else value_pa / PA_PER_INCH_OF_WATER


def words_temperature(value_c: float, unit: TemperatureUnit) -> str:
    """A temperature as it is read out: `812 °C`."""
    return f"{from_c(value_c, unit):.0f} °{unit.value}"


def words_draught(value_pa: float, unit: DraughtUnit) -> str:
    """A draught as the gauge shows it: `37 Pa` or `0.15 in. of water`."""
    value = from_pa(value_pa, unit)
    return f"{value:.0f} Pa" if unit is DraughtUnit.PA else f"{value:.2f} in. of water"


def words_duration(span_s: float) -> str:
    """A time as a person says it: `45 s`, `12 min`, `3 h 05 min`."""
    if span_s < 90:
        return f"{span_s:.0f} s"
    minutes = round(span_s / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"
