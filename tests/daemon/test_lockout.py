"""The lock-out: first-out is kept, and only the reset button held at the kiln ends it, with the causes gone."""

from dataclasses import replace

import pytest

from daemon.course.state import State
from daemon.interlocks.interlock import SafeDamper
from daemon.notice import Cause
from hardware.port import Blind, Blindness, Readings, Temperature
from tests.daemon.house import Kiln, cold_kiln, feeding_kiln


def too_hot(seen: Readings) -> Readings:
    """The chamber is over its limit."""
    return replace(seen, probes={**seen.probes, "chamber": Temperature(1400.0, 0.0, "fake")})


def blind(seen: Readings) -> Readings:
    """The chamber's wire is broken."""
    return replace(seen, probes={**seen.probes, "chamber": Blind(Blindness.OPEN_CIRCUIT)})


def well(seen: Readings) -> Readings:
    """Nothing is wrong."""
    return seen


def hold_reset(kiln: Kiln, seconds: float) -> Kiln:
    """Press reset, hold it so long, let go."""
    kiln.rig.show(reset_pressed=True)
    kiln.run(seconds)
    kiln.rig.show(reset_pressed=False)
    return kiln.run(0.6)


def locked_out() -> Kiln:
    """A feeding kiln that got too hot and is well again."""
    kiln = feeding_kiln()
    kiln.rig.override = too_hot
    kiln.run(2)
    kiln.rig.override = well
    return kiln.run(1)


def test_the_first_cause_stays_first_when_others_follow() -> None:
    kiln = locked_out()
    kiln.rig.show(stop_pressed=True)
    kiln.run(2)
    kiln.rig.override = blind
    kiln.run(5)
    assert kiln.first_out is Cause.OVER_TEMPERATURE
    assert kiln.also == [Cause.STOP_BUTTON, Cause.PROBE_BLIND]
    kiln.rig.override = too_hot
    kiln.run(5)
    assert kiln.also == [Cause.STOP_BUTTON, Cause.PROBE_BLIND]


def test_two_causes_in_one_scan_are_both_kept() -> None:
    kiln = feeding_kiln()
    kiln.rig.override = lambda seen: too_hot(replace(seen, stop_pressed=True))
    kiln.run(1)
    assert {kiln.first_out, *kiln.also} == {Cause.STOP_BUTTON, Cause.OVER_TEMPERATURE}


def test_reset_held_at_the_kiln_ends_it_and_the_bed_burns_down_without_feed() -> None:
    kiln = hold_reset(locked_out(), 3.3)
    assert (kiln.first_out, kiln.state) == (None, State.BURN_DOWN)
    assert kiln.run(60).fed_s(60) == 0


def test_a_kiln_that_was_never_lit_is_cold_after_the_reset() -> None:
    kiln = cold_kiln()
    kiln.rig.show(stop_pressed=True)
    kiln.run(1)
    kiln.rig.show(stop_pressed=False)
    assert hold_reset(kiln, 4).state is State.COLD


def test_a_short_press_resets_nothing() -> None:
    kiln = locked_out()
    for _ in range(10):
        hold_reset(kiln, 2.5).run(1)
    assert kiln.state is State.LOCKED_OUT


@pytest.mark.parametrize("cause", [too_hot, blind, lambda seen: replace(seen, stop_pressed=True)])
def test_reset_does_nothing_while_the_cause_stands(cause: object) -> None:
    kiln = feeding_kiln()
    kiln.rig.override = cause  # type: ignore[assignment]
    kiln.run(4)
    first_out = kiln.first_out
    assert first_out is not None
    assert hold_reset(kiln, 20).first_out is first_out
    assert kiln.state is State.LOCKED_OUT


def test_a_reset_button_that_was_jammed_before_the_trip_resets_nothing() -> None:
    kiln = feeding_kiln()
    kiln.rig.show(reset_pressed=True)
    kiln.run(10)
    kiln.rig.override = too_hot
    kiln.run(2)
    kiln.rig.override = well
    kiln.run(60)
    assert (kiln.state, kiln.first_out) == (State.LOCKED_OUT, Cause.OVER_TEMPERATURE)
    kiln.rig.show(reset_pressed=False)
    kiln.run(0.6)
    assert hold_reset(kiln, 4).first_out is None  # let go and pressed again it counts


def test_a_jammed_reset_button_does_not_undo_the_next_trip() -> None:
    kiln = locked_out()
    hold_reset(kiln, 4)
    assert kiln.first_out is None
    kiln.rig.show(reset_pressed=True, stop_pressed=True)
    kiln.run(1)
    kiln.rig.show(stop_pressed=False)
    assert kiln.run(60).first_out is Cause.STOP_BUTTON


def test_a_reset_button_that_jams_in_a_lockout_resets_nothing_even_when_it_is_freed_later() -> None:
    kiln = locked_out()
    kiln.rig.show(reset_pressed=True)
    kiln.run(60)
    assert kiln.state is State.LOCKED_OUT
    kiln.rig.show(reset_pressed=False)
    kiln.run(5)
    assert kiln.state is State.LOCKED_OUT
    assert hold_reset(kiln, 4).first_out is None


def test_a_reset_button_that_jams_while_the_cause_stands_resets_nothing_when_the_cause_goes() -> None:
    kiln = feeding_kiln()
    kiln.rig.override = too_hot
    kiln.run(2)
    kiln.rig.show(reset_pressed=True)  # pressed too early, and it sticks
    kiln.run(30)
    kiln.rig.override = well  # the kiln has cooled, nobody is there any more
    kiln.run(60)
    assert kiln.state is State.LOCKED_OUT


def test_horn_and_lamp_call_the_person_to_a_lockout_and_the_horn_rests_after_two_minutes() -> None:
    kiln = locked_out()
    assert (kiln.memory.done.horn, kiln.memory.done.lamp) == (True, True)
    kiln.run(121)
    assert (kiln.memory.done.horn, kiln.memory.done.lamp) == (False, True)


def test_the_horn_rests_too_while_the_stop_button_stays_pressed() -> None:
    kiln = feeding_kiln()
    kiln.rig.show(stop_pressed=True)
    kiln.run(200)
    assert kiln.memory.done.horn is False


def test_the_fan_blows_at_its_lowest_while_the_bed_burns_out() -> None:
    kiln = locked_out()
    assert kiln.run(10).memory.done.fan_frac == kiln.memory.settings.air.fan_lowest_frac


def test_what_locked_out_first_also_says_in_which_state() -> None:
    lockout = locked_out().memory.lockout
    assert lockout is not None
    assert lockout.was is State.CLIMBING


def press(kiln: Kiln, *moments: tuple[bool, float]) -> Kiln:
    """The reset button down or up, each for so long, s."""
    for down, seconds in moments:
        kiln.rig.show(reset_pressed=down)
        kiln.run(seconds)
    return kiln


def test_a_jammed_button_that_chatters_resets_nothing() -> None:
    """A worn spring: it opens for one scan in ten seconds, and once it is freed at last."""
    kiln = press(locked_out(), *[(True, 9.9), (False, 0.1)] * 6)
    assert kiln.state is State.LOCKED_OUT
    assert press(kiln, (True, 5), (False, 5)).state is State.LOCKED_OUT
    assert press(kiln, (True, 4), (False, 1)).first_out is None  # the next whole press counts


def test_a_contact_that_bounces_when_it_is_pressed_and_let_go_is_one_press() -> None:
    kiln = press(locked_out(), (True, 0.1), (False, 0.1), (True, 3.2), (False, 0.1), (True, 0.1), (False, 1.0))
    assert kiln.first_out is None


def test_a_button_that_is_not_seen_up_before_it_is_pressed_resets_nothing() -> None:
    kiln = feeding_kiln()
    kiln.rig.override = too_hot
    kiln.run(2)
    kiln.rig.override = well
    assert press(kiln, (False, 1), (True, 1), (False, 0.2), (True, 3.5), (False, 0.3)).state is State.LOCKED_OUT
    kiln = feeding_kiln()
    kiln.rig.show(stop_pressed=True)
    kiln.run(0.3)  # seen up for too short a time
    kiln.rig.show(stop_pressed=False)
    assert press(kiln, (True, 4), (False, 2)).first_out is Cause.STOP_BUTTON


@pytest.mark.parametrize("late_s", [1.6, 3.0, 5.0, 15.0])
def test_a_tap_with_a_late_scan_in_it_resets_nothing(late_s: float) -> None:
    """Two taps with nobody looking in between, or one: it was not seen that the button was held."""
    kiln = locked_out()
    kiln.rig.show(reset_pressed=True)
    kiln.run(0.3)
    kiln.step_s = late_s
    kiln.scan()
    kiln.step_s = 0.1
    assert press(kiln, (True, 0.2), (False, 2.0)).state is State.LOCKED_OUT
    assert press(kiln, (True, 3.3), (False, 1.0)).first_out is None


def test_it_is_held_for_the_shortest_time_and_no_longer_than_a_button_that_jams() -> None:
    """The limits are 3 s and 20 s; a scan is a tenth of a second."""
    for held_s, resets in ((2.9, False), (3.1, True), (20.0, True), (20.3, False)):
        kiln = press(locked_out(), (True, held_s), (False, 1.0))
        assert (kiln.first_out is None) is resets, held_s


def test_the_reset_counts_once_the_button_has_stayed_up() -> None:
    kiln = press(locked_out(), (True, 4.0), (False, 0.4))
    assert kiln.state is State.LOCKED_OUT
    assert press(kiln, (False, 0.2)).first_out is None


def damper_of(kiln: Kiln) -> SafeDamper | None:
    """What the lock-out wants of the damper."""
    return kiln.memory.lockout.safe.damper if kiln.memory.lockout is not None else None


def test_a_later_trip_adds_its_outputs_to_those_of_the_first() -> None:
    """Stop first, then the carbon monoxide alarm: the damper opens, and the horn calls until it is seen."""
    kiln = feeding_kiln()
    kiln.rig.show(stop_pressed=True)
    kiln.run(2)
    assert damper_of(kiln) is SafeDamper.AS_IT_WAS
    kiln.rig.show(co_alarm=True)
    kiln.run(2)
    kiln.rig.show(stop_pressed=False, co_alarm=False)
    kiln.run(200)
    assert damper_of(kiln) is SafeDamper.OPEN
    assert (kiln.rig.wanted.damper_frac, kiln.rig.wanted.horn) == (1.0, True)


def test_a_reset_held_while_another_trip_comes_resets_nothing() -> None:
    kiln = locked_out()
    kiln.rig.show(reset_pressed=True)
    kiln.run(2)
    kiln.rig.show(stop_pressed=True)
    kiln.run(2)
    kiln.rig.show(reset_pressed=False)
    kiln.run(2)
    assert kiln.state is State.LOCKED_OUT
    assert kiln.also == [Cause.STOP_BUTTON]
