"""The firing's course: the whole map of states, and that the feed contact is closed in no other than it should be."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daemon.course.asks import Word
from daemon.course.state import FEEDING, TRANSITIONS, Course, State, has_airflow
from daemon.course.transitions import count_heat_work, has_arrived, work_of_climb_s
from daemon.notice import Cause
from daemon.plans.plan import Stage, StageKind
from hardware.port import NOT_FITTED, Blind, Blindness, Readings, Temperature
from tests.daemon.house import (
    SHORT_PLAN,
    FakeRig,
    Kiln,
    cold_kiln,
    feeding_kiln,
    good_readings,
    short_plan,
    short_settings,
    with_beat,
)

ALLOWED = {(was, now) for was, nexts in TRANSITIONS.items() for now in nexts}


def check_every_scan(kiln: Kiln) -> None:
    """What must hold in every scan of every history."""
    for row, before, after in kiln.clerk.rows:
        was, now = before.beat.course.state, after.beat.course.state
        assert was is now or now is State.LOCKED_OUT or (was, now) in ALLOWED, f"{was} to {now}"
        assert (after.lockout is not None) == (now is State.LOCKED_OUT)
        if row.done.auger:
            assert was in FEEDING
            assert now in FEEDING
            assert before.lockout is None
            assert after.lockout is None
            assert isinstance(row.readings.probes["chamber"], Temperature)
            assert has_airflow(row.readings, before.settings.limits.draught_least_pa)
            assert row.readings.stop_pressed is not True
            assert Word.STOP not in {ask.word for ask in row.asks}
            assert row.readings.probes["chamber"].value_c < before.settings.limits.chamber_c


def states_seen(kiln: Kiln) -> list[State]:
    """The states in the order they were in."""
    seen = [kiln.clerk.rows[0][1].beat.course.state]
    for _, _, after in kiln.clerk.rows:
        if after.beat.course.state is not seen[-1]:
            seen.append(after.beat.course.state)
    return seen


@pytest.mark.slow
def test_a_whole_firing_goes_through_every_state_in_order() -> None:
    kiln = cold_kiln().lit(State.SOAKING).until(State.BURN_DOWN)
    kiln.rig.show(flame_seen=False)
    kiln.run(61).scan(Word.BED_OUT).until(State.FINISHED).run(5)
    assert states_seen(kiln) == [
        State.COLD, State.MADE_READY, State.PURGE, State.LIT_BY_HAND, State.FIRE_PROVING, State.WARM_UP,
        State.CLIMBING, State.SOAKING, State.BURN_DOWN, State.COOLING, State.FINISHED,
    ]  # fmt: skip
    check_every_scan(kiln)
    assert kiln.memory.fed_kg > 0.05
    kiln.scan(Word.MADE_READY)
    assert kiln.state is State.MADE_READY
    kiln.rig.show(stop_pressed=True)
    kiln.scan()
    assert set(states_seen(kiln)) == set(State)  # together with the lock-out that is all of them


def test_the_map_names_every_state_and_none_without_a_way_out() -> None:
    assert set(TRANSITIONS) == set(State)
    assert all(TRANSITIONS.values())
    assert set(State) - {State.LOCKED_OUT} == {now for _, now in ALLOWED}


ASKS = st.lists(st.sampled_from(Word), max_size=2)
TEMPS = st.floats(-20, 1400) | st.sampled_from(list(Blindness)) | st.just(float("nan"))
CONTACT = st.sampled_from([True, False])
MOMENTS = st.tuples(
    st.sampled_from([0.1, 0.1, 0.1, 0.5, 1.0, 2.5, 20.0]),
    ASKS,
    st.none() | st.tuples(TEMPS, st.floats(-5, 100), CONTACT, CONTACT, CONTACT, CONTACT, CONTACT),
    st.integers(1, 40),
)
"""Time step, words, what the instruments turn to (None: they go on by themselves), for how many scans."""


def played(kiln: Kiln, moments: list[tuple[float, list[Word], tuple[object, ...] | None, int]]) -> Kiln:
    """Play the moments to the kiln."""
    for step_s, words, seen, scans in moments:
        kiln.step_s = step_s
        if seen is not None:
            hot, pa, air, flame, stop, confirm, reset = seen
            assert isinstance(hot, float | Blindness)
            assert isinstance(pa, float)
            kiln.rig.probe("chamber", hot)
            kiln.rig.gauge(pa)
            kiln.rig.show(airflow_proven=air, flame_seen=flame, stop_pressed=stop, confirm_pressed=confirm,
                          reset_pressed=reset)  # fmt: skip
        kiln.scan(*words)
        for _ in range(scans):
            kiln.scan()
    return kiln


@pytest.mark.slow
@settings(max_examples=60)
@given(st.sampled_from(State), st.booleans(), st.lists(MOMENTS, max_size=12))
def test_whatever_happens_the_map_is_followed_and_the_feed_is_closed_only_where_it_may_be(
    begin: State, lives: bool, moments: list[tuple[float, list[Word], tuple[object, ...] | None, int]]
) -> None:
    kiln = cold_kiln()
    if begin in {State.LIT_BY_HAND, State.FIRE_PROVING} | FEEDING:
        kiln.lit(begin)
    if not lives:
        kiln.rig.live = lambda rig, dt_s: None
    played(kiln, moments)
    check_every_scan(kiln)


def test_the_random_histories_are_able_to_feed() -> None:
    kiln = feeding_kiln()
    played(kiln, [(0.1, [Word.HERE], None, 100)])
    assert any(row.done.auger for row, _, _ in kiln.clerk.rows[-100:])
    check_every_scan(kiln)


def test_no_word_is_obeyed_in_a_state_it_does_not_fit_and_the_answer_says_which_do() -> None:
    kiln = cold_kiln().scan(Word.BEGIN, Word.LIT, Word.BED_OUT, Word.HERE)
    assert kiln.state is State.COLD
    assert [answer.accepted for answer in kiln.memory.answers] == [False] * 4
    assert all("made_ready" in answer.why for answer in kiln.memory.answers)


def test_two_words_at_once_lead_one_step_only() -> None:
    kiln = cold_kiln().scan(Word.MADE_READY, Word.BEGIN)
    assert kiln.state is State.MADE_READY


def test_purge_time_counts_only_while_air_is_proven_and_starts_again_when_it_is_lost() -> None:
    kiln = cold_kiln().scan(Word.MADE_READY).scan(Word.BEGIN).run(4)
    assert kiln.memory.beat.course.counted_s > 2
    kiln.rig.override = lambda seen: replace(seen, airflow_proven=False)
    kiln.run(15)
    assert (kiln.state, kiln.memory.beat.course.counted_s) == (State.PURGE, 0.0)
    kiln.rig.override = lambda seen: seen
    kiln.run(4)
    assert kiln.state is State.PURGE
    assert kiln.run(3).state is State.LIT_BY_HAND


def test_a_flame_must_be_seen_steadily_to_prove_the_fire() -> None:
    kiln = cold_kiln(short_settings(limits={"proven_flame_s": 10})).lit(State.FIRE_PROVING)
    for _ in range(8):
        kiln.rig.show(flame_seen=True)
        kiln.run(7)
        kiln.rig.show(flame_seen=False)
        kiln.run(3)
    assert kiln.state is State.FIRE_PROVING
    kiln.rig.show(flame_seen=True)
    assert kiln.run(13).state is State.WARM_UP


def proving(**limits: float) -> Kiln:
    """A kiln without an eye whose fire is to be proven, its air proven for as long as it takes."""
    kiln = cold_kiln(short_settings(limits={"fire_proving_s": 600, **limits})).lit(State.FIRE_PROVING)
    kiln.rig.live = lambda rig, dt_s: rig.show(airflow_proven=True, flame_seen=NOT_FITTED)
    kiln.rig.gauge(12.0)
    kiln.step_s = 1.0
    return kiln


def warmed(kiln: Kiln, chamber_k: float, flue_k: float) -> Kiln:
    """The same kiln ten seconds after both probes have become so much warmer than 20 °C."""
    kiln.rig.probe("chamber", 20.0 + chamber_k)
    kiln.rig.probe("flue", 20.0 + flue_k)
    return kiln.run(10)


@pytest.mark.parametrize(
    ("short", "enough"),
    [((9.5, 9.5), (10.0, 0.0)), ((3.0, 19.5), (3.0, 20.0)), ((2.5, 60.0), (3.0, 60.0))],
    ids=["the chamber", "the flue", "the flue while the chamber gets warmer too"],
)
def test_without_an_eye_the_fire_is_proven_by_the_chamber_or_by_the_flue_and_the_chamber_along_with_it(
    short: tuple[float, float], enough: tuple[float, float]
) -> None:
    kiln = proving().run(40)
    assert warmed(kiln, *short).state is State.FIRE_PROVING
    assert warmed(kiln, *enough).state is State.WARM_UP


def test_what_the_fan_alone_does_in_a_warm_kiln_proves_no_fire() -> None:
    """The stagnant flue warms by 60 K and the stirred chamber by 15 K within half a minute of air; nothing burns."""
    kiln = proving(proven_air_s=60)
    kiln.run(20)
    assert warmed(kiln, 15.0, 60.0).run(120).state is State.FIRE_PROVING
    assert warmed(kiln, 25.0, 60.0).state is State.WARM_UP  # ten kelvins more, after that: the charcoal


def test_air_that_is_lost_while_the_fire_is_proven_is_counted_anew() -> None:
    kiln = proving(proven_air_s=60, airflow_lost_s=30)
    kiln.run(50)
    kiln.rig.override = lambda seen: replace(seen, airflow_proven=False)
    kiln.run(3)
    kiln.rig.override = lambda seen: seen
    kiln.run(30)
    assert warmed(kiln, 15.0, 60.0).run(60).state is State.FIRE_PROVING
    assert warmed(kiln, 25.0, 60.0).state is State.WARM_UP


def test_a_kiln_that_is_still_cooling_after_a_firing_must_warm_up_from_its_coolest() -> None:
    kiln = proving()
    for hot_c in (55.0, 50.0, 40.0, 30.0, 39.0):
        kiln.rig.probe("chamber", hot_c)
        assert kiln.run(40).state is State.FIRE_PROVING
    kiln.rig.probe("chamber", 40.5)
    assert kiln.run(5).state is State.WARM_UP


def test_two_false_readings_prove_no_fire_end_no_climb_and_finish_no_cooling() -> None:
    kiln = proving().run(40)
    kiln.rig.probe("chamber", 59.0)
    kiln.run(2)
    kiln.rig.probe("chamber", 20.0)
    assert kiln.run(10).state is State.FIRE_PROVING
    kiln = feeding_kiln(plan=short_plan(SHORT_PLAN.replace("to = 100", "to = 400")))
    stage, hot_c = kiln.memory.beat.course.stage, kiln.rig.hot_c
    kiln.memory = with_beat(kiln.memory, course=replace(kiln.memory.beat.course, target_c=hot_c + 30.0))
    kiln.rig.override = lambda seen: replace(
        seen, probes={**seen.probes, "chamber": Temperature(hot_c + 39.0, 0.0, "fake:chamber")}
    )
    kiln.run(2)
    assert kiln.memory.beat.course.stage == stage
    kiln.rig.override = lambda seen: seen
    assert kiln.run(5).memory.beat.course.stage == stage
    kiln = cold_kiln()
    kiln.rig.live = lambda rig, dt_s: None
    kiln.rig.probe("chamber", 90.0)
    kiln.run(6)
    kiln.memory = with_beat(kiln.memory, course=Course(State.COOLING, kiln.rig.image.now_s, begun_s=0.0))
    kiln.rig.probe("chamber", 55.0)
    kiln.run(2)
    kiln.rig.probe("chamber", 90.0)
    assert kiln.run(10).state is State.COOLING
    kiln.rig.probe("chamber", 55.0)
    assert kiln.run(4).state is State.FINISHED


def test_the_plan_waits_for_a_kiln_that_can_not_follow_and_says_so() -> None:
    kiln = cold_kiln(short_settings(limits={"wait_gap_k": 5})).lit(State.CLIMBING)
    held_c = kiln.rig.hot_c
    kiln.rig.live = lambda rig, dt_s: rig.show(airflow_proven=True, flame_seen=True)
    kiln.step_s = 1.0
    kiln.run(150)
    setpoint_c = kiln.memory.beat.course.setpoint_c
    assert setpoint_c is not None
    assert 5.0 < setpoint_c - held_c < 5.5
    assert kiln.memory.beat.course.waits
    kiln.rig.probe("chamber", held_c + 5)
    assert not kiln.run(5).memory.beat.course.waits


def test_the_aim_climbs_at_the_plans_rate() -> None:
    """400 °C/h is 400/3600 K every second, by hand."""
    kiln = cold_kiln().lit(State.CLIMBING)
    kiln.rig.live = lambda rig, dt_s: rig.show(airflow_proven=True, flame_seen=True)
    before_c = kiln.memory.beat.course.setpoint_c
    kiln.run(60)
    after_c = kiln.memory.beat.course.setpoint_c
    assert before_c is not None
    assert after_c is not None
    assert after_c - before_c == pytest.approx(400 / 60, rel=0.01)


@pytest.mark.parametrize(
    ("hot_c", "setpoint_c", "last", "cone", "done"),
    [
        (998.0, 990.0, False, None, True),  # a kiln ahead of its line has arrived all the same
        (997.5, 997.5, False, None, False),
        (995.5, 998.5, False, None, True),  # the line is there, and nothing lingers for the last kelvins
        (994.5, 1000.0, False, None, False),
        (995.5, 1000.0, True, None, False),  # the last climb has nobody after it to go on
        (999.5, 1000.0, False, "6", False),  # a cone is down or it is not
        (1000.0, 1000.0, False, "6", True),
    ],
)
def test_a_climb_is_done_when_kiln_or_line_has_arrived(
    hot_c: float, setpoint_c: float, last: bool, cone: str | None, done: bool
) -> None:
    stage = Stage("up", StageKind.CLIMB, None, None, True, to_c=1000.0, rate_c_per_h=100.0, cone=cone)
    assert has_arrived(Course(setpoint_c=setpoint_c, target_c=1000.0), stage, last, hot_c) is done
    assert not has_arrived(Course(), stage, last, hot_c)


@pytest.mark.slow
@given(st.floats(60, 300), st.floats(60, 300), st.floats(-3.0, 3.0))
def test_a_kiln_on_its_line_owes_nothing_and_one_below_it_heat_work(first: float, then: float, off_k: float) -> None:
    """Climbed second by second, two climbs in a row, `off_k` beside the line: over the last 20 K that tells."""
    course, hot_c = Course(State.CLIMBING), 1000.0
    for to_c, rate in ((1150.0, first), (1222.0, then)):
        stage = Stage("up", StageKind.CLIMB, None, None, True, to_c=to_c, rate_c_per_h=rate)
        course = replace(course, owed_s=work_of_climb_s(course, stage, hot_c, to_c), target_c=to_c)
        while hot_c < to_c:
            hot_c += rate / 3600
            course = count_heat_work(course, hot_c + off_k, 1.0)
    due_s = 22.6 / then * 3600  # by hand: e times slower 22.6 K further down
    assert course.owed_s == pytest.approx(-due_s * off_k / 22.6, abs=0.03 * due_s + 0.2 * due_s * abs(off_k) / 22.6)


def test_what_a_climb_to_a_cone_owes_nobody_can_tell() -> None:
    """Of the end of its climb only the first guess is known before."""
    course = Course(State.CLIMBING, target_c=1000.0, owed_s=300.0)
    to_cone = Stage("up", StageKind.CLIMB, None, None, True, cone="6", rate_c_per_h=80.0)
    assert work_of_climb_s(course, to_cone, 1000.0, 1222.0) is None


def test_of_a_firing_taken_up_after_a_restart_nobody_knows_what_it_owes() -> None:
    """The climb before the stop isn't in the account: it would look as if the rest of it were work beyond the plan."""
    assert count_heat_work(Course(State.CLIMBING, target_c=1222.0), 1222.0, 600.0).owed_s is None
    assert count_heat_work(Course(State.SOAKING, target_c=1222.0), 1220.0, 600.0, 600.0).owed_s is None


def test_a_soak_owes_what_it_counts_less_what_it_does() -> None:
    """By hand: 600 s counted 2 K low, where heat work is 2 / 22.6 slower, leave about 51 s."""
    course = Course(State.SOAKING, target_c=1222.0, owed_s=0.0)
    assert count_heat_work(course, 1220.0, 600.0, 600.0).owed_s == pytest.approx(51, abs=1)
    assert count_heat_work(course, 1222.0, 600.0).owed_s == -600.0  # time that does not count was not asked for


def test_a_blind_probe_owes_and_does_no_heat_work() -> None:
    assert count_heat_work(Course(State.SOAKING, target_c=1222.0, owed_s=7.0), None, 60.0).owed_s == 7.0


@pytest.mark.slow
def test_a_soak_counts_only_in_its_band() -> None:
    kiln = cold_kiln().lit(State.SOAKING)
    kiln.rig.live = lambda rig, dt_s: rig.show(airflow_proven=True, flame_seen=True)
    kiln.rig.probe("chamber", 100.0 - 31.0)
    kiln.run(90)
    assert kiln.memory.beat.course.counted_s < 5
    kiln.rig.probe("chamber", 100.0 - 29.0)
    kiln.run(62)
    assert kiln.state is State.BURN_DOWN


def test_the_bed_is_not_out_before_its_time_nor_while_the_eye_sees_flame() -> None:
    kiln = cold_kiln().lit(State.CLIMBING).scan(Word.BURN_DOWN)
    kiln.run(30).scan(Word.BED_OUT)
    assert not kiln.memory.answers[-1].accepted
    kiln.run(35).scan(Word.BED_OUT)
    assert kiln.state is State.BURN_DOWN  # a flame is still seen
    kiln.rig.show(flame_seen=False)
    assert kiln.scan(Word.BED_OUT).memory.beat.course.state is State.COOLING


@pytest.mark.slow
@pytest.mark.parametrize("state", [State.LIT_BY_HAND, State.FIRE_PROVING, State.WARM_UP, State.CLIMBING, State.SOAKING])
def test_the_person_can_end_the_firing_at_any_time_and_the_feed_opens_at_once(state: State) -> None:
    kiln = cold_kiln().lit(state)
    if state in FEEDING:
        for _ in range(200):
            if kiln.scan().feeds:
                break
        assert kiln.feeds
    kiln.scan(Word.BURN_DOWN)
    assert (kiln.state, kiln.feeds) == (State.BURN_DOWN, False)
    assert kiln.run(30).fed_s(30) == 0


@pytest.mark.parametrize(
    ("switch", "gauge", "proven"),
    [
        (True, NOT_FITTED, True),
        (False, 50.0, False),
        (NOT_FITTED, 3.0, True),
        (NOT_FITTED, 2.9, False),
        (NOT_FITTED, Blindness.STALE, False),
        (NOT_FITTED, NOT_FITTED, False),
    ],
)
def test_air_is_proven_by_the_switch_or_else_by_the_gauge_and_never_by_nothing(
    switch: object, gauge: object, proven: bool
) -> None:
    kiln = cold_kiln()
    kiln.rig.gauge(gauge)  # type: ignore[arg-type]
    kiln.rig.show(airflow_proven=switch)
    assert has_airflow(kiln.rig.image, 3.0) is proven


@pytest.mark.slow
def test_a_cone_is_down_at_the_temperature_of_the_rate_really_climbed() -> None:
    """Cone 022 bends at 586 °C at 60 °C/h and below, 590 °C at 150 °C/h (published table, from memory)."""
    text = short_plan().text.replace("to = 100", 'cone = "022"')
    kiln = cold_kiln(plan=short_plan(text)).lit(State.CLIMBING)
    kiln.step_s, began_s = 1.0, kiln.rig.image.now_s

    def climbs(rig: FakeRig, dt_s: float) -> None:
        rig.show(airflow_proven=True, flame_seen=True)
        for name in ("chamber", "limit"):
            rig.probe(name, 450.0 + 150.0 * (rig.image.now_s + dt_s - began_s) / 3600)

    kiln.memory = with_beat(kiln.memory, traces={})  # taken to 450 °C by hand, which is no fault here
    kiln.rig.live = climbs
    for _ in range(7):
        kiln.scan(Word.HERE).run(600)
        if kiln.state is not State.CLIMBING:
            break
    kiln_c = next(before.readings for _, before, after in kiln.clerk.rows if after.beat.course.state is State.SOAKING)
    assert kiln_c is not None
    chamber = kiln_c.probes["chamber"]
    assert isinstance(chamber, Temperature)
    assert chamber.value_c == pytest.approx(590.0, abs=0.2)
    came = [after.beat.course for _, _, after in kiln.clerk.rows if after.beat.course.state is State.SOAKING]
    assert {course.owed_s for course in came} == {None}  # the cone has had its heat work


def test_a_kiln_at_900_degrees_is_not_called_cold_after_a_reset() -> None:
    kiln = cold_kiln()
    kiln.memory = with_beat(kiln.memory, course=replace(kiln.memory.beat.course, state=State.COOLING))
    kiln.rig.live = lambda rig, dt_s: None
    kiln.rig.probe("chamber", 900.0)
    kiln.rig.show(stop_pressed=True)
    kiln.run(1)
    kiln.rig.show(stop_pressed=False)
    kiln.run(1)
    kiln.rig.show(reset_pressed=True)
    kiln.run(5)
    kiln.rig.show(reset_pressed=False)
    kiln.run(0.6)
    assert kiln.first_out is None
    assert kiln.state is not State.COLD


def test_made_ready_with_a_blind_chamber_is_refused_with_the_reason() -> None:
    kiln = cold_kiln()
    kiln.rig.override = blind_chamber
    kiln.scan().scan(Word.MADE_READY)
    assert kiln.state is State.COLD
    assert not kiln.memory.answers[-1].accepted
    assert kiln.memory.answers[-1].why


def blind_chamber(seen: Readings) -> Readings:
    """The chamber's wire is broken."""
    return replace(seen, probes={**seen.probes, "chamber": Blind(Blindness.OPEN_CIRCUIT)})


def test_charcoal_that_was_lit_in_the_scan_of_the_stop_still_burns_down_after_the_reset() -> None:
    kiln = cold_kiln().lit(State.LIT_BY_HAND)
    kiln.scan(Word.LIT, Word.STOP)
    assert kiln.first_out is Cause.STOP_ASKED
    assert kiln.memory.answers[0].accepted
    assert kiln.memory.beat.course.lit


def test_the_feed_goes_into_a_soak_without_a_bump_when_the_kiln_ran_ahead_of_its_aim() -> None:
    text = short_plan().text.replace("feed = 20", "feed = 30")
    kiln = cold_kiln(plan=short_plan(text)).lit(State.CLIMBING)
    kiln.rig.live = lambda rig, dt_s: rig.show(airflow_proven=True, flame_seen=True)
    kiln.rig.gauge(30.0)
    while kiln.state is State.CLIMBING:  # at the kiln's own pace, faster than the plan's
        kiln.rig.probe("chamber", kiln.rig.hot_c + 0.02)
        kiln.scan()
    assert kiln.state is State.SOAKING
    before, after = (memory.beat.feed.frac for memory in kiln.clerk.rows[-1][1:])
    assert abs(after - before) < 0.01


def test_good_readings_are_good() -> None:
    assert all(isinstance(probe, Temperature) for probe in good_readings().probes.values())


def test_a_burn_down_does_not_end_while_flame_is_seen_whoever_says_so_and_however_long_it_takes() -> None:
    kiln = cold_kiln().lit(State.SOAKING).until(State.BURN_DOWN)
    kiln.run(61).scan(Word.BED_OUT)
    assert kiln.state is State.BURN_DOWN
    assert "flame" in kiln.memory.answers[-1].why
    for _ in range(6):
        assert kiln.run(60).scan(Word.HERE).state is State.BURN_DOWN  # the longest time is 2 minutes here
    kiln.rig.show(flame_seen=False)
    assert kiln.run(2).state is State.COOLING


@pytest.mark.parametrize(("still_pa", "blown_pa", "lit"), [(20.0, 20.0, False), (20.0, 21.5, False), (18.0, 20.0, True),
                                                          (0.0, 1.9, False), (-4.0, 2.0, True)])  # fmt: skip
def test_without_a_switch_the_purge_counts_only_a_gauge_that_follows_the_fan(
    still_pa: float, blown_pa: float, lit: bool
) -> None:
    """A gauge that is stuck reads the same with the fan still and at full speed; 2 Pa are the least that counts."""
    kiln = cold_kiln()

    def gauge(rig: FakeRig, dt_s: float) -> None:
        blows = isinstance(rig.wanted.fan_frac, float) and rig.wanted.fan_frac > 0
        rig.show(airflow_proven=NOT_FITTED)
        rig.gauge(blown_pa if blows else still_pa)

    kiln.rig.live = gauge
    kiln.run(3).scan(Word.MADE_READY).run(5).scan(Word.BEGIN).run(30)
    assert kiln.state is (State.LIT_BY_HAND if lit else State.LOCKED_OUT)
    if not lit:
        assert kiln.first_out is Cause.FAN_IDLE
        assert kiln.memory.lockout is not None
        assert "with the fan still it read" in kiln.memory.lockout.first_out.notice.happened
