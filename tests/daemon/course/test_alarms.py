"""Alarm states: unacknowledged, acknowledged, returned, latched; the first-out; what acknowledging can't do."""

from dataclasses import replace

import pytest

from daemon.course.alarms import Alarm, Alarms, Standing, has_unseen, next_alarms
from daemon.course.asks import Word
from daemon.course.state import State
from daemon.notice import Cause, Finding, Level, Notice
from hardware.port import Blind, Blindness, Readings, Temperature
from tests.daemon.house import Kiln, feeding_kiln

WARM = Finding(Cause.BURN_BACK, Level.WARNING, 5.0, Notice("warm", "", ""), 61.0, 60.0, "°C")
HOT = Finding(Cause.OVER_TEMPERATURE, Level.TRIP, 7.0, Notice("hot", "", ""), 1312.0, 1310.0, "°C")
STOP = Finding(Cause.STOP_BUTTON, Level.TRIP, 9.0, Notice("stop", "", ""))


def standings(alarms: Alarms) -> list[tuple[Cause, Standing]]:
    """Cause and state of each."""
    return [(alarm.finding.cause, alarm.standing) for alarm in alarms]


def test_a_warning_that_is_seen_while_it_stands_goes_with_its_condition() -> None:
    alarms = next_alarms((), (WARM,), (), acknowledged=False)
    assert standings(alarms) == [(Cause.BURN_BACK, Standing.UNACKNOWLEDGED)]
    alarms = next_alarms(alarms, (WARM,), (), acknowledged=True)
    assert standings(alarms) == [(Cause.BURN_BACK, Standing.ACKNOWLEDGED)]
    assert next_alarms(alarms, (), (), acknowledged=False) == ()


def test_a_warning_that_nobody_saw_stays_as_returned_until_it_is_seen() -> None:
    alarms = next_alarms(next_alarms((), (WARM,), (), acknowledged=False), (), (), acknowledged=False)
    assert standings(alarms) == [(Cause.BURN_BACK, Standing.RETURNED)]
    assert has_unseen(alarms)
    assert next_alarms(alarms, (), (), acknowledged=True) == ()


def test_a_returned_warning_that_comes_again_is_a_new_one() -> None:
    again = replace(WARM, since_s=50.0, value=63.0)
    alarms = next_alarms((), (WARM,), (), acknowledged=False)
    alarms = next_alarms(next_alarms(alarms, (), (), acknowledged=False), (again,), (), acknowledged=False)
    assert alarms == (Alarm(again),)


def test_a_trip_is_latched_when_its_condition_goes_seen_or_not_until_the_reset() -> None:
    alarms = next_alarms((), (HOT,), (HOT,), acknowledged=False)
    assert standings(alarms) == [(Cause.OVER_TEMPERATURE, Standing.UNACKNOWLEDGED)]
    for seen in (False, True, False):
        alarms = next_alarms(alarms, (), (HOT,), seen)
        assert standings(alarms) == [(Cause.OVER_TEMPERATURE, Standing.LATCHED)]
    assert not has_unseen(alarms)
    assert next_alarms(alarms, (), (), acknowledged=False) == ()


def test_the_first_out_is_marked_and_stays_first() -> None:
    alarms = next_alarms((), (HOT,), (HOT,), acknowledged=False)
    alarms = next_alarms(alarms, (STOP, HOT), (HOT, STOP), acknowledged=False)
    assert [(a.finding.cause, a.first_out) for a in alarms] == [
        (Cause.OVER_TEMPERATURE, True),
        (Cause.STOP_BUTTON, False),
    ]


def test_what_comes_in_the_scan_of_an_acknowledgement_is_not_acknowledged_by_it() -> None:
    alarms = next_alarms(next_alarms((), (WARM,), (), acknowledged=False), (WARM, HOT), (HOT,), acknowledged=True)
    assert [a.acknowledged for a in alarms] == [True, False]


def test_nothing_that_changed_is_the_same_tuple() -> None:
    alarms = next_alarms((), (WARM,), (), acknowledged=False)
    assert next_alarms(alarms, (WARM,), (), acknowledged=False) is alarms


def too_hot(seen: Readings) -> Readings:
    """The chamber is over its limit."""
    return replace(seen, probes={**seen.probes, "chamber": Temperature(1400.0, 0.0, "fake")})


def tripped() -> Kiln:
    """A kiln that got too hot for two seconds."""
    kiln = feeding_kiln()
    kiln.rig.override = too_hot
    kiln.run(2)
    kiln.rig.override = lambda seen: seen
    return kiln.run(1)


def test_a_trip_is_shown_with_its_time_its_value_and_its_limit() -> None:
    (alarm,) = (a for a in tripped().memory.alarms if a.first_out)
    assert alarm.standing is Standing.LATCHED
    assert (alarm.finding.value, alarm.finding.limit, alarm.finding.unit) == (1400.0, 1310.0, "°C")
    assert alarm.finding.since_s > 0


@pytest.mark.parametrize("by_button", [True, False])
def test_acknowledging_stills_the_horn_and_resets_nothing(by_button: bool) -> None:
    kiln = tripped()
    assert kiln.memory.done.horn is True
    if by_button:
        kiln.rig.show(confirm_pressed=True)
        kiln.scan()
    else:
        kiln.scan(Word.SEEN)
    kiln.run(1)
    assert (kiln.memory.done.horn, kiln.state) == (False, State.LOCKED_OUT)
    assert kiln.run(60).fed_s(60) == 0


def test_another_trip_after_the_acknowledgement_sounds_the_horn_again() -> None:
    kiln = tripped().scan(Word.SEEN).run(1)
    kiln.rig.show(stop_pressed=True)
    assert kiln.run(1).memory.done.horn is True


def test_the_horn_of_a_carbon_monoxide_alarm_calls_until_somebody_says_that_they_have_seen_it() -> None:
    kiln = feeding_kiln()
    kiln.rig.show(co_alarm=True)
    kiln.run(300)
    assert kiln.memory.done.horn is True
    kiln.scan(Word.SEEN).run(1)
    assert kiln.memory.done.horn is False


def test_the_lamp_is_lit_while_a_warning_waits_to_be_seen() -> None:
    kiln = feeding_kiln()
    kiln.rig.override = lambda seen: replace(seen, feed_tube=Temperature(61.0, 0.0, "fake"))
    kiln.run(12)
    assert (kiln.memory.done.lamp, kiln.memory.done.horn) == (True, False)
    kiln.scan(Word.SEEN).run(1)
    assert kiln.memory.done.lamp is False


def test_a_carbon_monoxide_alarm_that_was_seen_and_comes_again_calls_again() -> None:
    kiln = feeding_kiln()
    kiln.rig.show(co_alarm=True)
    kiln.run(5).scan(Word.SEEN).run(1)
    assert kiln.memory.done.horn is False
    kiln.rig.show(co_alarm=False)
    kiln.run(60)
    kiln.rig.show(co_alarm=True)
    assert kiln.run(2).memory.done.horn is True


def test_a_trip_that_comes_late_into_a_lockout_calls_too() -> None:
    kiln = tripped().run(130)
    assert kiln.memory.done.horn is False
    kiln.rig.show(feed_tube=Temperature(90.0, 0.0, "fake"))
    assert kiln.run(2).memory.done.horn is True


def test_another_instrument_that_fails_is_another_alarm() -> None:
    kiln = feeding_kiln()
    kiln.rig.override = lambda seen: replace(seen, draught=Blind(Blindness.STALE))
    kiln.run(12).scan(Word.SEEN).run(1)
    assert not has_unseen(kiln.memory.alarms)
    kiln.rig.override = lambda seen: replace(seen, draught=Blind(Blindness.STALE), feed_tube=Blind(Blindness.STALE))
    kiln.run(12)
    assert [a.finding.about for a in kiln.memory.alarms if not a.acknowledged] == ["feed tube"]


def test_two_trips_of_one_scan_stand_in_the_order_of_the_table() -> None:
    alarms = next_alarms((), (STOP, HOT), (STOP, HOT), acknowledged=False)
    assert [a.finding.cause for a in alarms] == [Cause.STOP_BUTTON, Cause.OVER_TEMPERATURE]
