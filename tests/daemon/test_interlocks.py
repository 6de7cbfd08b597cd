"""Every interlock of the table: it trips while the feed is running, in the scan it should, and says what to do."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest

from daemon.asks import Word
from daemon.course import State
from daemon.interlocks import INTERLOCKS
from daemon.notice import Cause, Level
from hardware.port import NOT_FITTED, Blind, Blindness, Draught, NotFitted, Readings, Temperature
from tests.daemon.house import SHORT_PLAN, Kiln, cold_kiln, feeding_kiln, short_plan, short_settings


def with_probe(seen: Readings, name: str, value: Temperature | Blind) -> Readings:
    """The same image with one probe changed."""
    return replace(seen, probes={**seen.probes, name: value})


def hot(name: str, value_c: float) -> Callable[[Readings], Readings]:
    """A probe at a temperature."""
    return lambda seen: with_probe(seen, name, Temperature(value_c, 0.0, "fake"))


def blind(name: str) -> Callable[[Readings], Readings]:
    """A probe that can't be believed."""
    return lambda seen: with_probe(seen, name, Blind(Blindness.OPEN_CIRCUIT, "fake"))


def gauge_only(value: float | Blindness) -> Callable[[Readings], Readings]:
    """No airflow switch, a draught gauge alone."""
    draught = Blind(value, "fake") if isinstance(value, Blindness) else Draught(value, 0.0, "fake")
    return lambda seen: replace(seen, airflow_proven=NOT_FITTED, draught=draught)


@dataclass(frozen=True)
class Break:
    """Something that breaks, and what must follow."""

    name: str
    see: Callable[[Readings], Readings]
    cause: Cause
    after_s: float
    words: str


BREAKS = [
    Break("stop pressed", lambda seen: replace(seen, stop_pressed=True), Cause.STOP_BUTTON, 0.0, "stop button"),
    Break("chamber at its limit", hot("chamber", 1310.0), Cause.OVER_TEMPERATURE, 0.0, "chamber 1310 °C, limit 1310"),
    Break("flue too hot", hot("flue", 1350.5), Cause.OVER_TEMPERATURE, 0.0, "flue 135"),
    Break("limit probe too hot", hot("limit", 1330.0), Cause.OVER_TEMPERATURE, 0.0, "limit 1330 °C"),
    Break("chamber blind", blind("chamber"), Cause.PROBE_BLIND, 2.0, "open circuit"),
    Break("limit probe blind", blind("limit"), Cause.PROBE_BLIND, 2.0, "limit probe"),
    Break("chamber not a number", hot("chamber", float("nan")), Cause.PROBE_BLIND, 2.0, "out of the range"),
    Break(
        "chamber frozen",
        lambda seen: with_probe(seen, "chamber", Temperature(60.0, 3.1, "fake")),
        Cause.PROBE_BLIND, 2.0, "too old",
    ),
    Break(
        "feed tube hot",  # EN 303-5 and kin keep a stoker's surface below about 85 °C (memory)
        lambda seen: replace(seen, feed_tube=Temperature(85.0, 0.0, "fake")), Cause.BURN_BACK, 0.5, "limit 85 °C",
    ),
    Break("carbon monoxide", lambda seen: replace(seen, co_alarm=True), Cause.CO_ALARM, 0.5, "carbon monoxide"),
    Break("switch open", lambda seen: replace(seen, airflow_proven=False), Cause.AIRFLOW_LOST, 2.0, "switch is open"),
    Break("no draught", gauge_only(1.0), Cause.AIRFLOW_LOST, 2.0, "draught 1 Pa, needs 2 Pa"),
    Break(
        "switch stuck closed",
        lambda seen: replace(seen, airflow_proven=True, draught=Draught(0.5, 0.0, "fake")),
        Cause.AIRFLOW_LOST, 10.0, "the switch is closed",
    ),
    Break("gauge blind", gauge_only(Blindness.STALE), Cause.AIRFLOW_LOST, 2.0, "can't be believed"),
    Break(
        "no air instrument at all",
        lambda seen: replace(seen, airflow_proven=NOT_FITTED, draught=NOT_FITTED),
        Cause.AIRFLOW_LOST, 2.0, "no airflow switch",
    ),
]  # fmt: skip


@pytest.mark.parametrize("breaks", BREAKS, ids=lambda b: b.name)
def test_the_contact_opens_in_the_scan_that_finds_it_and_the_feed_locks_out_after_the_delay(breaks: Break) -> None:
    kiln = feeding_kiln()
    assert kiln.feeds  # it was feeding, so this test is able to fail
    began_s = kiln.rig.image.now_s
    kiln.rig.override = breaks.see
    kiln.scan()
    assert not kiln.feeds
    while kiln.state is not State.LOCKED_OUT and kiln.rig.image.now_s - began_s < 30:
        kiln.scan()
        assert not kiln.feeds
    assert kiln.first_out is breaks.cause
    assert kiln.rig.image.now_s - began_s == pytest.approx(breaks.after_s + 0.1, abs=0.11)
    assert kiln.memory.lockout is not None
    notice = kiln.memory.lockout.first_out.notice
    assert breaks.words in notice.happened
    assert "locked out" in notice.did
    assert notice.do_next


@pytest.mark.parametrize("breaks", BREAKS, ids=lambda b: b.name)
def test_the_lockout_outlasts_good_readings_and_every_word(breaks: Break) -> None:
    kiln = feeding_kiln()
    kiln.rig.override = breaks.see
    kiln.run(breaks.after_s + 1)
    kiln.rig.override = lambda seen: seen
    for word in Word:
        kiln.scan(word).run(5)
    kiln.rig.show(confirm_pressed=True)
    kiln.run(60)
    assert (kiln.state, kiln.first_out) == (State.LOCKED_OUT, breaks.cause)
    assert kiln.fed_s(90) == 0


@pytest.mark.parametrize("breaks", [b for b in BREAKS if b.after_s > 1.5], ids=lambda b: b.name)
def test_what_lasts_less_than_the_delay_only_holds_the_feed(breaks: Break) -> None:
    kiln = feeding_kiln()
    kiln.rig.override = breaks.see
    kiln.run(1.5)
    assert kiln.fed_s(1.4) == 0
    kiln.rig.override = lambda seen: seen
    kiln.run(20)
    assert kiln.first_out is None
    assert kiln.fed_s(20) > 0


def test_a_stop_that_somebody_asks_for_opens_the_contact_in_the_same_scan_and_names_who() -> None:
    kiln = feeding_kiln()
    kiln.scan(Word.STOP, source="page")
    assert (kiln.feeds, kiln.first_out) == (False, Cause.STOP_ASKED)
    assert kiln.memory.lockout is not None
    assert "page" in kiln.memory.lockout.first_out.notice.happened


@pytest.mark.parametrize("state", [State.COLD, State.LIT_BY_HAND, State.FIRE_PROVING, State.WARM_UP, State.SOAKING])
@pytest.mark.parametrize("name", ["stop pressed", "chamber at its limit"])
def test_stop_and_over_temperature_lock_out_in_every_state(state: State, name: str) -> None:
    kiln = cold_kiln() if state is State.COLD else cold_kiln().lit(state)
    kiln.rig.override = next(b for b in BREAKS if b.name == name).see
    kiln.scan()
    assert kiln.state is State.LOCKED_OUT


def test_the_eye_goes_dark_and_after_45_s_the_fire_is_out() -> None:
    kiln = feeding_kiln()
    fed_before = kiln.fed_s(10)
    assert fed_before > 0
    dark_s = kiln.rig.image.now_s
    kiln.rig.show(flame_seen=False)
    kiln.until(State.LOCKED_OUT, within_s=60)
    assert kiln.first_out is Cause.FLAME_OUT
    assert kiln.rig.image.now_s - dark_s == pytest.approx(45.0, abs=1.2)
    assert not kiln.feeds


def dying(kiln: Kiln, fall_k_per_s: float, eye: bool | NotFitted) -> None:
    """From now on the kiln only cools, whatever is fed; the eye sees glowing walls or isn't fitted."""
    began_s, began_c = kiln.rig.image.now_s, kiln.rig.hot_c
    kiln.rig.live = lambda rig, dt_s: rig.show(airflow_proven=True, flame_seen=eye)
    kiln.rig.override = lambda seen: with_probe(
        seen, "chamber", Temperature(began_c - fall_k_per_s * (seen.now_s - began_s), 0.0, "fake")
    )


@pytest.mark.parametrize("eye", [True, NOT_FITTED])
def test_pellets_fed_onto_a_dead_grate_trip_by_their_weight(eye: bool | NotFitted) -> None:
    """0.2 kg at 9 kg/h are 80 s of auger time."""
    kiln = feeding_kiln(plan=short_plan(SHORT_PLAN.replace("to = 100", "to = 1200")))
    kiln.rig.gauge(30.0)
    kiln.rig.probe("chamber", 900.0)
    before_kg = kiln.memory.fed_kg
    dying(kiln, 0.03, eye)
    kiln.until(State.LOCKED_OUT, within_s=1800)
    assert kiln.first_out is Cause.FLAME_OUT
    assert 0.2 <= kiln.memory.fed_kg - before_kg < 0.35
    assert kiln.memory.lockout is not None
    assert "without a sign" in kiln.memory.lockout.first_out.notice.happened


def test_pellets_fed_onto_a_grate_that_never_burnt_trip_too_when_no_eye_is_fitted() -> None:
    """The charcoal warmed the chamber by 10 K and died: half an hour of warm-up at 10 % is 0.45 kg on a dead grate."""
    text = SHORT_PLAN.replace('for = "1 min"', 'for = "2 h"', 1)
    kiln = cold_kiln(plan=short_plan(text)).lit(State.FIRE_PROVING)
    kiln.rig.gauge(12.0)
    kiln.rig.live = lambda rig, dt_s: rig.show(airflow_proven=True, flame_seen=NOT_FITTED)
    kiln.rig.probe("chamber", 31.0)
    kiln.until(State.WARM_UP)
    kiln.rig.probe("chamber", 25.0)
    kiln.step_s = 0.5
    for _ in range(8):  # 10 minutes each: somebody is there all the time
        kiln.scan(Word.HERE).run(600)
        if kiln.state is State.LOCKED_OUT:
            break
    assert 0.15 < kiln.memory.fed_kg < 0.3
    assert kiln.first_out is Cause.FLAME_OUT


def test_a_fire_that_is_not_proven_in_time_locks_out() -> None:
    kiln = cold_kiln().lit(State.FIRE_PROVING)
    kiln.run(119)
    assert kiln.state is State.FIRE_PROVING
    kiln.run(2)
    assert (kiln.state, kiln.first_out) == (State.LOCKED_OUT, Cause.FIRE_NOT_PROVEN)


def test_nobody_answers_and_the_feed_locks_out_after_reminder_and_horn() -> None:
    settings = short_settings(attendance={"every_min": 1, "horn_after_min": 0.5, "trip_after_min": 1})
    kiln = feeding_kiln(settings)
    kiln.scan(Word.HERE)
    seen_s = kiln.rig.image.now_s
    kiln.run(61)
    assert (kiln.memory.done.lamp, kiln.memory.done.horn) == (True, False)
    kiln.run(30)
    assert kiln.memory.done.horn is True
    assert kiln.state is not State.LOCKED_OUT
    assert kiln.fed_s(60) > 0
    kiln.until(State.LOCKED_OUT, within_s=60)
    assert kiln.first_out is Cause.UNATTENDED
    assert kiln.rig.image.now_s - seen_s == pytest.approx(120.0, abs=2.0)
    assert not kiln.feeds


def test_the_confirm_button_at_the_kiln_is_an_answer_too_but_not_when_it_jams() -> None:
    settings = short_settings(attendance={"every_min": 1, "horn_after_min": 0.5, "trip_after_min": 1})
    kiln = feeding_kiln(settings).run(50)
    kiln.rig.show(confirm_pressed=True)
    kiln.run(50)
    assert kiln.memory.done.lamp is False
    kiln.until(State.LOCKED_OUT, within_s=100)
    assert kiln.first_out is Cause.UNATTENDED


@pytest.mark.parametrize(
    "see",
    [
        blind("flue"),
        lambda seen: replace(seen, feed_tube=Blind(Blindness.STALE)),
        lambda seen: replace(seen, draught=Blind(Blindness.STALE)),
    ],
    ids=["flue", "feed tube", "gauge beside a switch"],
)
def test_an_instrument_that_only_helps_warns_and_the_firing_goes_on(see: Callable[[Readings], Readings]) -> None:
    kiln = feeding_kiln()
    kiln.rig.override = see
    kiln.run(9)
    assert not kiln.memory.findings
    kiln.run(3)
    assert [(f.cause, f.level) for f in kiln.memory.findings] == [(Cause.PROBE_BLIND, Level.WARNING)]
    assert kiln.run(20).first_out is None
    assert kiln.fed_s(20) > 0


def test_every_row_of_the_table_has_words_for_the_person() -> None:
    for lock in INTERLOCKS:
        notice = lock.notice("EVIDENCE", 0.0)
        assert "EVIDENCE" in notice.happened
        assert notice.did
        assert notice.do_next


def test_no_row_of_the_table_is_left_without_a_scenario_here() -> None:
    """Causes that a scenario above trips; a new row of the table fails here until it has one."""
    tripped = {b.cause for b in BREAKS} | {
        Cause.STOP_ASKED, Cause.FLAME_OUT, Cause.FIRE_NOT_PROVEN, Cause.UNATTENDED, Cause.AUGER_RUNS,
    }  # fmt: skip
    assert {lock.cause for lock in INTERLOCKS if lock.level is Level.TRIP} == tripped
    assert len(INTERLOCKS) == 16


def test_the_fan_stays_as_it_was_when_airflow_was_lost() -> None:
    kiln = feeding_kiln()
    kiln.rig.override = lambda seen: replace(seen, airflow_proven=False)
    kiln.until(State.LOCKED_OUT, within_s=10)
    at_the_trip = kiln.memory.done.fan_frac
    assert isinstance(at_the_trip, float)
    assert at_the_trip > kiln.memory.settings.air.fan_lowest_frac
    kiln.run(30)
    assert kiln.first_out is Cause.AIRFLOW_LOST
    assert kiln.memory.done.fan_frac == at_the_trip


def test_an_auger_that_runs_by_itself_stops_the_keep_alive_so_that_the_watchdog_relay_opens() -> None:
    kiln = feeding_kiln()
    kiln.rig.show(shaft_turning=True)  # the relay has welded: the pin obeys, the shaft goes on turning
    kiln.run(2)
    assert kiln.first_out is None  # a pulse, and the sensor's own second
    kiln.run(12)
    assert kiln.first_out is Cause.AUGER_RUNS
    levels = {kiln.scan().memory.done.keep_alive for _ in range(20)}
    assert levels == {False}
    assert kiln.memory.lockout is not None
    did = kiln.memory.lockout.first_out.notice.did
    assert "Feed stopped" not in did  # the daemon alone can't stop it, and must not say so
    assert "watchdog relay" in did
    kiln.rig.show(shaft_turning=False)
    kiln.run(1)
    kiln.rig.show(reset_pressed=True)
    kiln.run(4)
    assert kiln.first_out is None
    assert {kiln.scan().memory.done.keep_alive for _ in range(20)} == {True, False}


def test_a_feed_contact_that_reads_closed_when_it_was_driven_open_is_found() -> None:
    kiln = feeding_kiln()
    kiln.rig.read_back = lambda wanted: replace(wanted, auger=True)
    kiln.run(12)
    assert kiln.first_out is Cause.AUGER_RUNS


def test_a_feed_tube_that_gets_warm_is_warned_of_before_it_trips() -> None:
    kiln = feeding_kiln()
    kiln.rig.override = lambda seen: replace(seen, feed_tube=Temperature(60.0, 0.0, "fake"))
    kiln.run(12)
    assert kiln.first_out is None
    assert [(f.cause, f.level) for f in kiln.memory.findings] == [(Cause.BURN_BACK, Level.WARNING)]


def test_air_that_comes_and_goes_trips_too() -> None:
    kiln = feeding_kiln()
    for _ in range(10):
        kiln.rig.override = lambda seen: replace(seen, airflow_proven=False)
        kiln.run(1.5)
        kiln.rig.override = lambda seen: seen
        kiln.run(0.5)
    assert kiln.first_out is Cause.AIRFLOW_LOST


def test_an_auger_that_is_driven_and_does_not_turn_is_warned_of() -> None:
    kiln = feeding_kiln()
    kiln.rig.show(shaft_turning=False)
    kiln.run(60)
    assert (Cause.AUGER_STILL, Level.WARNING) in [(f.cause, f.level) for f in kiln.memory.findings]


def test_what_was_held_back_is_not_made_up_for() -> None:
    kiln = feeding_kiln(short_settings(limits={"airflow_lost_s": 30.0}))
    asked = kiln.memory.feed.frac
    kiln.rig.override = lambda seen: replace(seen, airflow_proven=False)
    kiln.run(29)
    assert kiln.fed_s(28) == 0
    kiln.rig.override = lambda seen: seen
    kiln.run(20)
    assert 0 < kiln.fed_s(20) <= asked * 20 + 2.0  # one cycle's share may fall just inside


def test_an_eye_that_always_sees_flame_proves_no_fire() -> None:
    kiln = cold_kiln()
    kiln.rig.show(flame_seen=True)
    kiln.rig.live = lambda rig, dt_s: rig.show(airflow_proven=True, flame_seen=True)
    kiln.rig.gauge(12.0)
    kiln.scan(Word.MADE_READY).scan(Word.BEGIN).until(State.LIT_BY_HAND).scan(Word.LIT)
    kiln.run(60)
    assert kiln.state is State.FIRE_PROVING


def test_a_stop_at_a_kiln_that_was_never_lit_starts_no_fan() -> None:
    kiln = cold_kiln()
    kiln.rig.show(stop_pressed=True)
    kiln.run(5)
    assert kiln.first_out is Cause.STOP_BUTTON
    assert kiln.memory.done.fan_frac == 0.0


def test_a_stop_at_a_burning_kiln_leaves_the_fan_at_its_lowest() -> None:
    kiln = feeding_kiln()
    kiln.rig.show(stop_pressed=True)
    kiln.run(5)
    assert kiln.memory.done.fan_frac == kiln.memory.settings.air.fan_lowest_frac
