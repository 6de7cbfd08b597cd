"""Taking a firing up again: within its limits, through the reset at the kiln and the air of the burn-down, or not."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from daemon.control.feed import TAKEN_UP_PER_S, FeedLimit
from daemon.course.answers import wanted_words
from daemon.course.asks import Word
from daemon.course.resume import leave_off, resume, signs_after_resume, why_not_resume
from daemon.course.state import Course, LeftOff, State
from daemon.fire.signs import FireSigns, fall_limit_k_per_s
from daemon.notice import Cause
from daemon.record.found import Found
from daemon.record.start import first_memory
from daemon.setup import setup_of
from hardware.port import NOT_FITTED, Blind, Blindness, Readings
from tests.daemon.house import (
    SHORT_PLAN,
    UTC_AT_0_S,
    FakeRig,
    Kiln,
    feeding_kiln,
    good_readings,
    living,
    short_plan,
    short_settings,
    with_beat,
)

HOT_PLAN = short_plan(SHORT_PLAN.replace("to = 100", "to = 1200\ntrim = false"))


def holding(rig: FakeRig, dt_s: float) -> None:
    """A kiln at 900 °C that keeps its heat and its flame."""
    living(rig, dt_s)
    rig.probe("chamber", 900.0)
    rig.probe("limit", 900.0)


def stopped(flame: object = True) -> Kiln:
    """A kiln at 900 °C whose stop button was pressed while it climbed, and is released again."""
    kiln = feeding_kiln(plan=HOT_PLAN)
    kiln.rig.live = holding
    kiln.memory = with_beat(kiln.memory, traces={})
    kiln.run(5)
    kiln.rig.show(stop_pressed=True, flame_seen=flame)
    kiln.run(5)
    assert (kiln.first_out, kiln.feeds) == (Cause.STOP_BUTTON, False)
    kiln.rig.show(stop_pressed=False)
    return kiln.run(1)


def reset(kiln: Kiln) -> Kiln:
    """Hold reset at the kiln."""
    kiln.rig.show(reset_pressed=True)
    kiln.run(4)
    kiln.rig.show(reset_pressed=False)
    return kiln.run(0.6)


def test_no_word_leads_out_of_a_lockout() -> None:
    kiln = stopped()
    for word in Word:
        kiln.scan(word).run(1)
    assert kiln.state is State.LOCKED_OUT


def test_after_the_reset_the_bed_burns_down_first_and_the_firing_waits_for_a_word() -> None:
    kiln = reset(stopped())
    assert kiln.state is State.BURN_DOWN
    kiln.scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN  # the air has not blown for as long as a purge takes
    assert "blown" in kiln.memory.answers[-1].why
    kiln.run(11)
    assert Word.RESUME in wanted_words(kiln.memory.circumstances)
    assert kiln.run(30).state is State.BURN_DOWN
    assert kiln.fed_s(30) == 0


def test_resumed_it_climbs_on_in_the_same_stage_from_where_it_is_with_half_the_feed() -> None:
    kiln = reset(stopped()).run(11)
    kiln.scan(Word.RESUME)
    assert (kiln.state, kiln.memory.beat.course.stage, kiln.memory.beat.course.setpoint_c) == (State.CLIMBING, 1, 900.0)
    begun = kiln.memory.beat.feed
    assert 0 < begun.frac <= 0.15  # half of the stage's 30 %, or of what the air of the burn-down takes
    assert begun.limited_by is FeedLimit.EMBERS
    began_s = kiln.rig.image.now_s
    for _ in range(50):
        kiln.run(10)
        risen = kiln.memory.beat.feed.frac - begun.frac
        assert risen <= TAKEN_UP_PER_S * (kiln.rig.image.now_s - began_s + 1.0)
    assert kiln.fed_s(30) > 0
    assert kiln.memory.beat.course.left_off is None
    assert kiln.memory.beat.feed == kiln.memory.beat.feed._replace(
        frac=0.3, limited_by=FeedLimit.FIXED, embers_frac=None
    )


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda seen: replace(seen, flame_seen=False), "no flame"),
        (lambda seen: replace(seen, probes=good_readings(chamber_c=700.0).probes), "more than 150"),
        (
            lambda seen: replace(seen, flame_seen=NOT_FITTED, probes=good_readings(chamber_c=590.0).probes),
            "more than 150",
        ),
    ],
)
def test_a_firing_is_not_taken_up_when_its_limits_are_passed(
    change: Callable[[Readings], Readings], why: str
) -> None:  # fmt: skip
    kiln = reset(stopped()).run(11)
    kiln.rig.override = change
    kiln.run(1)
    assert Word.RESUME not in wanted_words(kiln.memory.circumstances)
    kiln.scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN
    assert why in kiln.memory.answers[-1].why


def test_a_kiln_without_an_eye_must_be_hot_enough_to_light_what_falls() -> None:
    kiln = stopped(flame=NOT_FITTED)
    course = kiln.memory.beat.course
    assert course.left_off is not None
    kiln.memory = with_beat(kiln.memory, course=replace(course, left_off=replace(course.left_off, chamber_c=650.0)))
    reset(kiln).run(11)
    kiln.rig.override = lambda seen: replace(seen, probes=good_readings(chamber_c=590.0).probes)
    kiln.run(1).scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN
    assert "600 °C" in kiln.memory.answers[-1].why


def test_after_a_quarter_of_an_hour_it_is_over() -> None:
    kiln = reset(stopped())
    settings = short_settings(limits={"burn_down_most_s": 7200})
    course = replace(kiln.memory.beat.course, since_s=kiln.rig.image.now_s)
    kiln.memory = with_beat(kiln.memory, course=course)._replace(setup=setup_of(settings, kiln.memory.plan))
    kiln.run(880)
    assert Word.RESUME in wanted_words(kiln.memory.circumstances)
    kiln.run(30)
    assert Word.RESUME not in wanted_words(kiln.memory.circumstances)


def test_a_firing_that_a_person_ended_is_not_taken_up() -> None:
    kiln = feeding_kiln(plan=HOT_PLAN).scan(Word.BURN_DOWN).run(10)
    kiln.scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN


def test_a_fire_that_went_out_is_not_taken_up() -> None:
    kiln = feeding_kiln(plan=HOT_PLAN)
    kiln.rig.live = holding
    kiln.memory = with_beat(kiln.memory, traces={})
    kiln.rig.show(flame_seen=False)
    kiln.until(State.LOCKED_OUT, within_s=60)
    assert kiln.first_out is Cause.FLAME_OUT
    kiln.rig.show(flame_seen=True)
    reset(kiln.run(1)).run(10).scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN


def test_a_later_trip_that_ends_a_firing_ends_it_even_when_the_first_did_not() -> None:
    kiln = stopped()
    kiln.rig.show(co_alarm=True)
    kiln.run(2)
    kiln.rig.show(co_alarm=False)
    reset(kiln.run(1)).run(10).scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN


def test_what_was_fed_without_a_sign_before_the_stop_still_counts_after_it() -> None:
    kiln = feeding_kiln(plan=HOT_PLAN)
    kiln.rig.live = holding
    kiln.memory = with_beat(kiln.memory, traces={})
    kiln.run(2)
    kiln.memory = with_beat(
        kiln.memory, signs=replace(kiln.memory.beat.signs, sign_fed_s=kiln.memory.auger.fed_s - 70.0)
    )
    kiln.rig.show(stop_pressed=True)
    kiln.run(2)
    kiln.rig.show(stop_pressed=False)
    reset(kiln.run(1)).run(11).scan(Word.RESUME)
    assert kiln.memory.auger.fed_s - kiln.memory.beat.signs.sign_fed_s == pytest.approx(70.0, abs=1.5)


def test_a_dead_grate_gets_no_more_by_stopping_and_resuming_again_and_again() -> None:
    """No eye, 900 °C and falling by 6 K a minute: five stops, and still no more than the count allows."""
    kiln = feeding_kiln(plan=HOT_PLAN)
    hot_c = [900.0]

    def dying(rig: FakeRig, dt_s: float) -> None:
        living(rig, dt_s)
        hot_c[0] -= 0.1 * dt_s
        rig.show(flame_seen=NOT_FITTED)
        rig.probe("chamber", hot_c[0])
        rig.probe("limit", hot_c[0])

    kiln.rig.live = dying
    fire = FireSigns(kiln.rig.image.now_s, sign_fed_s=kiln.memory.auger.fed_s)
    kiln.memory = with_beat(kiln.memory, traces={}, signs=fire)  # the chamber was moved by hand, which is no fault here
    before_kg = kiln.memory.fed_kg
    for _ in range(5):
        kiln.run(60)
        if kiln.first_out is not None:
            break
        kiln.rig.show(stop_pressed=True)
        kiln.run(2)
        kiln.rig.show(stop_pressed=False)
        reset(kiln.run(1)).run(11).scan(Word.RESUME)
    kiln.run(600)
    assert kiln.first_out is Cause.FLAME_OUT
    assert kiln.memory.fed_kg - before_kg < 0.27


def test_a_probe_that_jumped_is_measured_by_what_it_showed_before() -> None:
    kiln = feeding_kiln(plan=HOT_PLAN)
    kiln.rig.live = holding
    kiln.memory = with_beat(kiln.memory, traces={})
    kiln.run(5)

    def low(rig: FakeRig, dt_s: float) -> None:
        holding(rig, dt_s)
        rig.probe("chamber", 640.0)

    kiln.rig.live = low
    kiln.until(State.LOCKED_OUT, within_s=10)
    assert kiln.first_out is Cause.PROBE_JUMPED
    reset(kiln.run(1)).run(60).scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN
    assert "from where it was" in kiln.memory.answers[-1].why


def test_air_that_was_lost_in_the_burn_down_must_blow_anew() -> None:
    kiln = reset(stopped()).run(11)
    kiln.rig.override = lambda seen: replace(seen, airflow_proven=False)
    kiln.run(2).scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN
    kiln.rig.override = lambda seen: seen
    kiln.run(2).scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN
    assert kiln.run(10).scan(Word.RESUME).state is State.CLIMBING


def test_a_clock_that_is_set_while_the_firing_waits_ends_it() -> None:
    kiln = powered(found())
    kiln.rig.override = lambda seen: replace(seen, utc_s=seen.utc_s + 3 * 3600.0)
    kiln.run(1)
    reset(kiln).run(11).scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN


def found(**changes: object) -> Found:
    """A record that ended five minutes ago at 912 °C, in the second stage of this very plan."""
    end = Found(7, State.CLIMBING, UTC_AT_0_S + 700.0, 912.0, (), 1, 1200.0, 915.0, 5.0, 0.05, HOT_PLAN.text)
    return replace(end, **changes)  # type: ignore[arg-type]


def powered(end: Found) -> Kiln:
    """The kiln as it comes up after the power was away."""
    readings = good_readings(1000.0, 900.0)
    kiln = Kiln(FakeRig(readings, live=holding), first_memory(setup_of(short_settings(), HOT_PLAN), end, readings))
    kiln.rig.show(flame_seen=True)
    return kiln.run(2)


@pytest.mark.parametrize(
    ("ends", "stage", "target_c"),
    [("to = 1200", 2, 1200.0), ('cone = "6"', 2, 1198.3), ("to = 1200", 1, 1198.3)],
    ids=["climb", "cone", "a record whose stage lags behind its state"],
)
def test_a_soak_goes_on_where_its_climb_ended_not_at_the_aim_that_was_still_coming_up(
    ends: str, stage: int, target_c: float
) -> None:
    plan = short_plan(SHORT_PLAN.replace("to = 100", ends))
    end = found(state=State.SOAKING, stage=stage, setpoint_c=1198.3, plan_text=plan.text)
    left_off = first_memory(setup_of(short_settings(), plan), end, good_readings(1000.0, 1190.0)).beat.course.left_off
    assert left_off is not None
    assert left_off.target_c == target_c


def test_power_that_comes_back_says_how_long_and_how_hot_and_lets_the_person_resume() -> None:
    kiln = powered(found())
    assert kiln.memory.lockout is not None
    happened = kiln.memory.lockout.first_out.notice.happened
    assert "5 min" in happened
    assert "912 °C" in happened
    assert "900 °C now" in happened
    assert kiln.memory.done.fan_frac == kiln.memory.settings.air.fan_lowest_frac  # what burns gets its air
    assert kiln.memory.fed_kg == pytest.approx(5.0)
    reset(kiln).run(11).scan(Word.RESUME)
    assert (kiln.state, kiln.memory.beat.course.stage) == (State.CLIMBING, 1)
    unproven_kg = (kiln.memory.auger.fed_s - kiln.memory.beat.signs.sign_fed_s) * 9.0 / 3600
    assert unproven_kg == pytest.approx(0.055, abs=0.003)  # what the record has, and 2 s that it may miss


def test_what_was_fed_before_the_power_went_is_not_taken_for_what_burns_now() -> None:
    """Five kilos were fed in hours. Taken up again no more burns than is fed from then on, and its air is no fault."""
    kiln = powered(found())
    assert kiln.memory.fed_kg == pytest.approx(5.0)
    assert kiln.memory.beat.estimate.bed.burns_kg_per_h < 0.1
    reset(kiln).run(11).scan(Word.RESUME)
    fed_before_kg = kiln.memory.fed_kg
    for _ in range(60):
        kiln.run(10)
        bed = kiln.memory.beat.estimate.bed
        assert bed.raw_kg + bed.wood_kg + bed.char_kg <= kiln.memory.fed_kg - fed_before_kg + 0.01
    assert Cause.AIR_LOW not in {finding.cause for finding in kiln.memory.findings}
    assert kiln.fed_s(300) > 0.1 * 300


@pytest.mark.parametrize(
    "end",
    [
        found(utc_s=UTC_AT_0_S - 100.0),
        found(chamber_c=1100.0),
        found(plan_text="another plan"),
        found(state=State.BURN_DOWN),
        found(stage=None),
        found(utc_s=UTC_AT_0_S + 1000.0),
    ],
    ids=["away too long", "fell too far", "another plan", "was burning down", "no stage", "clock not set"],
)
def test_power_that_comes_back_too_late_or_to_another_plan_ends_in_burn_down(end: Found) -> None:
    kiln = reset(powered(end)).run(10).scan(Word.RESUME)
    assert kiln.state is State.BURN_DOWN
    assert kiln.run(60).fed_s(60) == 0


def test_power_that_comes_back_while_the_charcoal_is_lit_by_hand_starts_no_fan() -> None:
    kiln = powered(found(state=State.LIT_BY_HAND, stage=None))
    assert kiln.memory.beat.course == replace(kiln.memory.beat.course, lit=True, left_off=None)
    assert kiln.memory.done.fan_frac == 0.0
    assert isinstance(kiln.memory.beat.course, Course)


BLOWN_S = 9.6
"""By hand: four changes of 0.3 m³ at a quarter of 1800 m³/h."""
HOT = Course(State.BURN_DOWN, 900.0, counted_s=BLOWN_S, begun_s=10.0, lit=True, waits=True)
SETUP = setup_of(short_settings(), HOT_PLAN)
LEFT = LeftOff(State.CLIMBING, 1, 200.0, 905.0, 300.0, 40.0, 1180.0, 70.0)
SEEN = replace(good_readings(1000.0, 800.0), airflow_proven=True, flame_seen=True)


def reason(
    seen: Readings = SEEN, counted_s: float = BLOWN_S + 1e-6, state: State = State.BURN_DOWN, **left: object
) -> str | None:
    """Why it can't be taken up."""
    course = Course(state, 900.0, counted_s=counted_s, left_off=replace(LEFT, **left))  # type: ignore[arg-type]
    return why_not_resume(course, seen, SETUP)


@pytest.mark.parametrize(
    ("found", "why"),
    [
        (lambda: reason(), None),
        (lambda: reason(at_s=100.0), None),
        (lambda: reason(at_s=99.9), "it was stopped more than 15 min ago"),
        (lambda: reason(state=State.CLIMBING), "there is no firing to take up again"),
        (lambda: reason(stage=3), "there is no firing to take up again"),
        (lambda: reason(stage=2), None),
        (lambda: reason(chamber_c=None), "it is not known how hot the chamber is, or was"),
        (lambda: reason(chamber_c=950.0), None),
        (lambda: reason(chamber_c=950.1), "the chamber is more than 150 °C from where it was"),
        (lambda: reason(chamber_c=649.9), "the chamber is more than 150 °C from where it was"),
        (lambda: reason(replace(SEEN, flame_seen=False)), "the flame eye sees no flame"),
        (
            lambda: reason(
                replace(good_readings(1000.0, 600.0), airflow_proven=True, flame_seen=NOT_FITTED), chamber_c=700.0
            ),
            None,
        ),
        (
            lambda: reason(
                replace(good_readings(1000.0, 599.9), airflow_proven=True, flame_seen=NOT_FITTED), chamber_c=700.0
            ),
            "below 600 °C and without a flame eye nothing shows a fire",
        ),
        (
            lambda: reason(
                replace(good_readings(1000.0, 500.0), airflow_proven=True, flame_seen=True), chamber_c=600.0
            ),
            None,
        ),
        (lambda: reason(counted_s=BLOWN_S - 0.1), "the air has not blown long enough yet"),
        (lambda: reason(replace(SEEN, airflow_proven=False)), "the air has not blown long enough yet"),
        (
            lambda: reason(replace(SEEN, probes={"chamber": Blind(Blindness.STALE)})),
            "it is not known how hot the chamber is, or was",
        ),
    ],
)
def test_the_reason_is_given_at_each_limit(found: Callable[[], str | None], why: str | None) -> None:
    assert found() == why


def test_without_a_place_to_go_on_from_there_is_nothing_to_take_up() -> None:
    assert why_not_resume(HOT, SEEN, SETUP) == "there is no firing to take up again"
    assert resume(HOT, 1000.0, 800.0) is HOT


@pytest.mark.parametrize(
    ("state", "setpoint_c"), [(State.WARM_UP, None), (State.CLIMBING, 800.0), (State.SOAKING, 1180.0)]
)
def test_taken_up_the_course_is_where_it_was_with_its_time_and_its_count(
    state: State, setpoint_c: float | None
) -> None:
    course = replace(HOT, left_off=replace(LEFT, state=state), lit=False)
    assert resume(course, 1000.0, 800.0) == Course(
        state,
        1000.0,
        1,
        700.0,
        begun_s=10.0,
        setpoint_c=setpoint_c,
        target_c=1180.0,
        counted_s=40.0,
        waits=False,
        lit=True,
    )


@pytest.mark.parametrize("flame", [True, NOT_FITTED])
def test_taken_up_the_fire_counts_as_one_that_falls_and_the_eyes_clock_begins(flame: object) -> None:
    fire = signs_after_resume(LEFT, replace(SEEN, flame_seen=flame), 500.0)  # type: ignore[arg-type]
    assert fire == FireSigns(1000.0, 800.0, -3 * fall_limit_k_per_s(800.0), 430.0, 1000.0, low_c=800.0)


def test_where_it_was_left_is_kept_with_what_the_probe_last_showed() -> None:
    course = Course(State.CLIMBING, 100.0, 1, 700.0, target_c=1180.0, counted_s=40.0)
    assert leave_off(1000.0, course, 905.0, 70.0) == LeftOff(
        State.CLIMBING, 1, 1000.0, 905.0, 300.0, 40.0, 1180.0, 70.0
    )
    assert leave_off(1000.0, course, None, 70.0) == LeftOff(State.CLIMBING, 1, 1000.0, None, 300.0, 40.0, 1180.0, 70.0)
    assert leave_off(1000.0, replace(course, stage=None), 905.0, 70.0) is None
    assert leave_off(1000.0, replace(course, state=State.PURGE), 905.0, 70.0) is None
