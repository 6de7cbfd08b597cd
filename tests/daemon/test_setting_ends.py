"""No value that a setting may have defeats its purpose: both ends are there, and at both its interlock still trips."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from math import isfinite, nextafter
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from daemon.course.state import State
from daemon.notice import Cause
from daemon.settings import Settings, SettingsFault, read_settings
from hardware.port import NOT_FITTED, Blind, Blindness, Draught, Readings, Temperature
from tests.daemon.house import feeding_kiln, short_settings

TABLES = ("kiln", "air", "limits", "attendance")
Ends = tuple[float, float]


def numeric_fields() -> Iterator[tuple[str, str, FieldInfo]]:
    """Every setting that is a number."""
    for table in TABLES:
        kind = Settings.model_fields[table].annotation
        assert isinstance(kind, type)
        assert issubclass(kind, BaseModel)
        for name, field in kind.model_fields.items():
            if field.annotation is float or float in get_args(field.annotation):
                yield table, name, field


def ends_of(field: FieldInfo) -> Ends:
    """The least and the most that it may be."""
    low = next(m.ge for m in field.metadata if hasattr(m, "ge"))
    high = next(m.le for m in field.metadata if hasattr(m, "le"))
    return float(low), float(high)


FIELDS = {f"{table}.{name}": (table, name, field) for table, name, field in numeric_fields()}


@pytest.mark.parametrize("path", FIELDS)
def test_every_number_has_both_ends_and_its_default_lies_between(path: str) -> None:
    _, _, field = FIELDS[path]
    low, high = ends_of(field)
    assert isfinite(low)
    assert isfinite(high)
    assert field.default is None or low <= field.default <= high


@given(st.sampled_from(sorted(FIELDS)), st.data())
def test_what_lies_beyond_an_end_or_is_no_number_is_refused_and_named(path: str, data: st.DataObject) -> None:
    table, name, field = FIELDS[path]
    low, high = ends_of(field)
    beyond = data.draw(
        st.floats(max_value=nextafter(low, -1e300), allow_nan=False)
        | st.floats(min_value=nextafter(high, 1e301), allow_nan=False)
        | st.just(float("nan"))
        | st.booleans()
        | st.sampled_from(["9", "", [], {}, "1e3"])
    )
    with pytest.raises(SettingsFault) as told:
        read_settings({table: {name: beyond}}, "stokehand.toml")
    assert path in str(told.value)
    assert "pydantic" not in str(told.value)


def seeing(name: str, value_c: float) -> Callable[[Readings], Readings]:
    """One probe at a temperature."""
    return lambda seen: replace(seen, probes={**seen.probes, name: Temperature(value_c, 0.0, "fake")})


def blind(seen: Readings) -> Readings:
    """The chamber probe broken."""
    return replace(seen, probes={**seen.probes, "chamber": Blind(Blindness.OPEN_CIRCUIT, "fake")})


@dataclass(frozen=True)
class Must:
    """What must trip at the kiln whatever a setting is within its ends, and within what time."""

    name: str
    see: Callable[[Readings], Readings]
    cause: Cause
    within_s: float


MUSTS = {
    "chamber_c": Must("chamber at 1750 °C", seeing("chamber", 1750), Cause.OVER_TEMPERATURE, 5),
    "flue_c": Must("flue at 1750 °C", seeing("flue", 1750), Cause.OVER_TEMPERATURE, 5),
    "limit_probe_c": Must("limit probe at 1750 °C", seeing("limit", 1750), Cause.OVER_TEMPERATURE, 5),
    "probe_blind_s": Must("a broken thermocouple", blind, Cause.PROBE_BLIND, 31),
    "stale_s": Must(
        "a value a quarter of a minute old",
        lambda seen: replace(seen, probes={**seen.probes, "chamber": Temperature(60.0, 15.0, "fake")}),
        Cause.PROBE_BLIND, 20,
    ),
    "airflow_lost_s": Must("the switch opens", lambda s: replace(s, airflow_proven=False), Cause.AIRFLOW_LOST, 31),
    "draught_least_pa": Must(
        "a gauge at half a pascal",
        lambda s: replace(s, airflow_proven=NOT_FITTED, draught=Draught(0.5, 0.0, "fake")),
        Cause.AIRFLOW_LOST, 11,
    ),
    "feed_tube_c": Must(
        "a feed tube at 120 °C", lambda s: replace(s, feed_tube=Temperature(120.0, 0.0, "fake")), Cause.BURN_BACK, 5
    ),
    "dark_s": Must("a dark eye", lambda s: replace(s, flame_seen=False), Cause.FLAME_OUT, 130),
    "frozen_s": Must("a probe that stands still", seeing("limit", 61.25), Cause.PROBE_FROZEN, 310),
}  # fmt: skip
ONE_END = {"frozen_s": 1, "draught_least_pa": 0}
"""Where the other end is so strict that the small kiln, without noise and with a gentle fan, never gets to a fire."""
CASES = [(name, end) for name in MUSTS for end in (0, 1) if ONE_END.get(name, end) == end]


@pytest.mark.parametrize(("name", "end"), CASES)
def test_the_interlock_trips_at_both_ends_of_its_setting(name: str, end: int) -> None:
    must = MUSTS[name]
    value = ends_of(FIELDS[f"limits.{name}"][2])[end]
    limits: dict[str, object] = {name: value}
    if name == "feed_tube_c":
        limits["feed_tube_warn_c"] = 40
    kiln = feeding_kiln(short_settings(limits=limits))
    kiln.rig.override = must.see
    began_s = kiln.rig.image.now_s
    while kiln.state is not State.LOCKED_OUT and kiln.rig.image.now_s - began_s < must.within_s:
        kiln.scan()
    assert kiln.first_out is must.cause, must.name


@pytest.mark.parametrize("kg", [0.05, 0.5])
def test_a_fire_that_is_out_gets_no_more_than_the_limit_at_either_end(kg: float) -> None:
    """By hand: 0.5 kg are 3.3 minutes of full feed of the usual auger."""
    settings = short_settings(limits={"unproven_fuel_kg": kg})
    assert settings.unproven_most_kg == max(kg, 80 * settings.kiln.auger_kg_per_h / 3600) <= 0.5


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"kiln": {"auger_kg_per_h": True}}, "kiln.auger_kg_per_h: must be a number, without quotes; it is True."),
        ({"kiln": {"auger_kg_per_h": "9"}}, "kiln.auger_kg_per_h: must be a number, without quotes; it is '9'."),
        ({"limits": {"frozen_s": 1e300}}, "limits.frozen_s: must be at most 300; it is 1e+300."),
        ({"limits": {"proven_chamber_rise_k": 0.01}}, "must be at least 5; it is 0.01."),
        ({"limits": {"frosen_s": 60}}, "limits.frosen_s: there is no such setting; it is 60."),
        ({"record": {"path": "a\0b"}}, "record.path: must have 1 to 1000 characters that can be printed"),
        ({"channel": {"folder": 3}}, "channel.folder: must be text"),
        ({"plan": "cone\0"}, "plan: must have"),
        ({"rig": {"factory": "a\0:b"}}, "rig.factory: must have"),
        ({"rig": {"factory": 3}}, "rig.factory: must be text, in quotes; it is 3."),
        ({"limits": 3}, "limits: must be a table of settings; it is 3."),
        ({"kiln": {"fan_m3_per_h": 1.0, "chamber_m3": 1.0}}, "the purge would last"),
        ({"air": {"fan_set_frac": 0.1}}, "air.fan_set_frac must not be less"),
        ({"limits": {"frozen_s": 5, "stale_s": 9}}, "stale_s must not be more than frozen_s"),
        ({"air": {"by": "servo"}}, "air.by: must be one of 'hand', 'fan' or 'damper'; it is 'servo'."),
    ],
)
def test_a_complaint_is_a_sentence_that_says_what_would_be_right(table: dict[str, object], words: str) -> None:
    with pytest.raises(SettingsFault) as told:
        read_settings(table, "stokehand.toml")
    assert words in str(told.value)


def test_values_that_do_not_go_together_are_named_beside_a_value_that_is_wrong_alone() -> None:
    with pytest.raises(SettingsFault) as told:
        read_settings(
            {
                "limits": {"frozen_s": 1e9, "apart_warn_k": 120, "apart_k": 110, "scan_late_s": 90},
                "kiln": {"fan_m3_per_h": 1.0, "chamber_m3": 1.0},
            },
            "stokehand.toml",
        )
    message = str(told.value)
    for words in ("limits.frozen_s", "apart_warn_k must not", "limits.scan_late_s: must be at most 2", "purge would"):
        assert words in message
    assert message.count("scan_late_s") == 1  # named once, not again as more than scan_stopped_s


@settings(max_examples=200)
@given(
    st.dictionaries(
        st.sampled_from(["plan", "kiln", "air", "limits", "rig", "record", "?"]),
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
            lambda inner: (
                st.lists(inner, max_size=2)
                | st.dictionaries(
                    st.sampled_from(["frozen_s", "path", "factory", "by", "auger_kg_per_h", "folder", "", "\0"]), inner
                )
            ),
            max_leaves=8,
        ),
    )
)
def test_whatever_is_written_it_is_taken_or_refused_in_sentences(table: dict[str, object]) -> None:
    with suppress(SettingsFault):  # and nothing else
        assert isinstance(read_settings(table, "stokehand.toml"), Settings)
