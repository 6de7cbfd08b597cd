"""What the maker makes is what the class itself would have made, only sooner."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, astuple, replace
from typing import Any

import pytest

from hardware.maker import maker
from hardware.port import NOT_FITTED, AirRatio, Draught, Outputs, Readings, Temperature

VALUES = [
    Temperature(812.5, 0.1, "sim:chamber"),
    Draught(12.0, 0.0, "sim:draught"),
    AirRatio(1.3, 0.0, "sim:oxygen"),
    Outputs(True, 0.4, NOT_FITTED, False, NOT_FITTED, True),
    Readings(7.0, 1e9, {"chamber": Temperature(20.0, 0.1, "sim:chamber")}, stop_pressed=False),
]


@pytest.mark.parametrize("plain", VALUES, ids=lambda value: type(value).__name__)
def test_it_makes_a_frozen_value_of_the_very_class(plain: Any) -> None:
    kind = type(plain)
    fields = [getattr(plain, name) for name in kind.__slots__]
    made = maker(kind)(*fields)
    assert type(made) is kind
    assert made == plain
    assert repr(made) == repr(plain)
    assert astuple(made) == astuple(plain)
    first = kind.__slots__[0]
    with pytest.raises(FrozenInstanceError):
        setattr(made, first, fields[0])
    other = replace(made, **{first: 3.0})
    assert type(other) is kind
    assert getattr(other, first) == 3.0
    assert made == plain


def test_it_makes_nothing_with_a_field_left_out() -> None:
    with pytest.raises(TypeError, match="age_s"):
        maker(Temperature)(812.5, source="sim:chamber")  # type: ignore[call-arg]
