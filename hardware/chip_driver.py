"""The thermocouple chip's published driver, without the board library that it imports for its type hints alone.

On a small board that library takes seconds of the start to find out which board it is, and wants a pin library that
nothing here uses. Two empty stand-ins take its place while the driver is imported, and are gone afterwards.
"""

from __future__ import annotations

import sys
from types import ModuleType

HINTS = {"busio": "SPI", "digitalio": "DigitalInOut"}

_absent = [name for name in HINTS if name not in sys.modules]
for _name in _absent:
    sys.modules[_name] = ModuleType(_name)
    setattr(sys.modules[_name], HINTS[_name], object)

from adafruit_max31856 import MAX31856, ThermocoupleType  # noqa: E402

for _name in _absent:
    del sys.modules[_name]

__all__ = ["MAX31856", "ThermocoupleType"]
