"""The terminal list: what it takes, and how it says what is wrong."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.wiring import TAKEN_PINS, Wiring


def test_the_default_wiring_is_sound_and_keeps_off_the_buses() -> None:
    pins = [pin for _, pin in Wiring().pins()]
    assert len(pins) == len(set(pins)) == 14
    assert not set(pins) & set(TAKEN_PINS)


def test_relays_hang_on_pins_that_the_board_holds_low_while_it_starts() -> None:
    """Source: BCM2835 peripherals guide, alternate function table: GPIO 0-8 start pulled up, 9-27 down (memory)."""
    wiring = Wiring()
    outputs = (wiring.auger, wiring.fan, wiring.horn, wiring.lamp, wiring.keep_alive)
    assert all(pin is not None and pin >= 9 for pin in outputs)
    assert all(probe.select <= 8 for probe in wiring.probes.values())  # a select idles high


def test_what_is_not_wired_is_written_false() -> None:
    wiring = Wiring.from_options({"horn": False, "draught": False, "factory": "hardware.pi:open_rig"})
    assert wiring.horn is None
    assert wiring.draught is None


def test_an_oxygen_probe_is_wired_only_where_the_table_says_so(oxygen: dict[str, object]) -> None:
    assert Wiring().oxygen is None
    wired = Wiring.from_options({"oxygen": oxygen}).oxygen
    assert wired is not None
    assert (wired.channel, wired.low, wired.high) == (2, 0.65, 2.0)


def test_every_pair_of_gauges_on_one_channel_is_named(oxygen: dict[str, object]) -> None:
    def lines(**options: object) -> list[str]:
        with pytest.raises(ValueError, match="converter channel") as caught:
            Wiring.from_options(options)
        return str(caught.value).splitlines()

    on_1, on_0 = oxygen | {"channel": 1}, oxygen | {"channel": 0}
    assert lines(oxygen=on_1) == ["rig.feed_tube and rig.oxygen both use converter channel 1"]
    assert lines(oxygen=on_0) == ["rig.draught and rig.oxygen both use converter channel 0"]
    assert lines(oxygen=on_0, feed_tube=on_0) == [
        "rig.draught and rig.feed_tube both use converter channel 0",
        "rig.draught and rig.oxygen both use converter channel 0",
        "rig.feed_tube and rig.oxygen both use converter channel 0",
    ]
    assert Wiring.from_options({"oxygen": on_1, "feed_tube": False}).clashes() == []


def test_every_mistake_is_named_at_once() -> None:
    with pytest.raises(ValueError, match=r"rig\.fan") as caught:
        Wiring.from_options(
            {
                "fan": 99,
                "horm": 5,
                "auger": 22,
                "lamp": 10,
                "mains_hz": 55,
                "probes": {"flue": {"select": 6, "type": "J"}},
                "draught": {"channel": 1, "low_v": 0.05, "high_v": 3.0, "low": 0.0, "high": 100.0},
            }
        )
    lines = str(caught.value).splitlines()
    for start in ("rig.fan", "rig.horm", "rig.mains_hz", "rig.probes.flue.type", "rig.draught", "rig.lamp", "pin 22"):
        assert any(line.startswith(start) for line in lines), start
    assert len(lines) == 7


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ({"probes": {"flue": {"select": 6}}}, "chamber"),
        ({"auger": False}, "rig.auger"),
        ({"auger": "17"}, "rig.auger"),
        ({"auger": 8}, "analogue converter"),
        ({"feed_tube": {"channel": 0, "low_v": 0.3, "high_v": 3.0, "low": 0.0, "high": 1.0}}, "channel 0"),
        ({"cold_junction_low_c": 90}, "cold_junction"),
        ({"damper": {"pin": 19, "shut_ms": 1.0, "open_ms": 1.1}}, "too close"),
        ({"damper": {"pin": 19, "hz": 340.0}}, "rig.damper.hz"),
        ({"draught": {"channel": 0, "low_v": 3.0, "high_v": 0.3, "low": 0.0, "high": 1.0}}, "above low_v"),
    ],
)
def test_a_wiring_that_cannot_be_is_refused(options: dict[str, object], what: str) -> None:
    with pytest.raises(ValueError, match=what):
        Wiring.from_options(options)


@settings(deadline=None)
@given(pins=st.lists(st.sampled_from(sorted(set(range(28)) - set(TAKEN_PINS))), min_size=4, max_size=4))
def test_no_pin_serves_two_terminals(pins: list[int]) -> None:
    bare: dict[str, object] = dict.fromkeys(
        ("horn", "lamp", "keep_alive", "shaft", "stop", "confirm", "reset", "fan"), False
    )
    options = bare | dict(zip(("auger", "airflow", "flame"), pins, strict=False))
    options["probes"] = {"chamber": {"select": pins[3]}}
    if len(set(pins)) == 4:
        assert sorted(pin for _, pin in Wiring.from_options(options).pins()) == sorted(pins)
    else:
        with pytest.raises(ValueError, match="is used"):
            Wiring.from_options(options)
