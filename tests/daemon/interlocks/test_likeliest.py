"""The text says what else was seen, with the likeliest cause first: an open switch, or no fire, has four of them."""

from dataclasses import replace

import pytest

from daemon.beat import Beat
from daemon.course.state import Course, State
from daemon.fire.auger import AugerWatch
from daemon.fire.signs import FireSigns
from daemon.fire.trace import ProbeTrace
from daemon.interlocks.likeliest import air_seen, fire_seen
from daemon.interlocks.scene import Scene
from hardware.port import NOT_FITTED, Blind, Blindness, Draught, NotFitted, Outputs
from tests.daemon.interlocks.test_evidence import BASE, SEEN


@pytest.mark.parametrize(
    ("fan_frac", "draught", "likeliest"),
    [
        (0.6, Draught(25.0, 0.0, "fake"), "the switch, its hose or its wire"),
        (0.6, Draught(0.3, 0.0, "fake"), "the fan or its supply, then a shut damper"),
        (0.0, Draught(0.3, 0.0, "fake"), "the fan was switched off"),
        (0.6, Blind(Blindness.STALE, "fake"), "a hose or a supply that both share"),
        (0.6, NOT_FITTED, "the fan or its supply"),
        (NOT_FITTED, Draught(0.3, 0.0, "fake"), "the fan was switched off or the damper shut"),
    ],
)
def test_an_open_switch_is_told_with_fan_and_gauge(
    fan_frac: float | NotFitted, draught: Draught | Blind | NotFitted, likeliest: str
) -> None:
    scene = BASE._replace(readings=replace(SEEN, draught=draught), done=Outputs(fan_frac=fan_frac))
    assert f"likeliest {likeliest}" in air_seen(scene)


def fire(slope_k_per_s: float, flame: bool | NotFitted, shaft: bool | NotFitted = NOT_FITTED) -> Scene:
    """A kiln whose fire seems lost; the flue falls by 6 K a minute."""
    beat = Beat(
        course=Course(State.CLIMBING, 900.0, 1),
        signs=FireSigns(1000.0, 500.0, slope_k_per_s),
        traces={"flue": ProbeTrace(1000.0, 300.0, slope_k_per_s=-0.1)},
    )
    auger = AugerWatch(fed_s=105.0, turned_fed_s=100.0)
    return BASE._replace(readings=replace(SEEN, flame_seen=flame, shaft_turning=shaft), beat=beat, auger=auger)


@pytest.mark.parametrize(
    ("scene", "words"),
    [
        (
            fire(-0.05, False),
            "the chamber falls 3.0 °C a minute, the flue falls 6.0 °C a minute and the eye is dark; l",
        ),
        (fire(-0.05, False), "likeliest an empty hopper or a bridge in it, then a grate choked"),
        (fire(0.05, False), "the chamber rises 3.0 °C a minute"),
        (fire(0.05, False), "likeliest soot on the eye"),
        (fire(0.0, NOT_FITTED), "the chamber is steady and the flue falls"),
        (fire(-0.05, True, False), "the auger does not turn; likeliest a jam, the auger's motor or its relay"),
        (fire(-0.05, True, True), "likeliest an empty hopper or a bridge in it, then wet pellets"),
    ],
)
def test_a_lost_fire_is_told_with_chamber_flue_eye_and_shaft(scene: Scene, words: str) -> None:
    assert words in fire_seen(scene)
