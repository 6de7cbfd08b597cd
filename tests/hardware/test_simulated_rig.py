"""The simulated kiln's cabinet, hands, faults and time, with the shipped drivers above them."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest
from gpiozero import Device

from hardware.port import AirRatio, AttendedRig, Blind, Blindness, BreakableRig, Draught, Outputs, Temperature
from hardware.simulated import open_rig
from hardware.simulated.cabinet import AIRFLOW_CLOSES_PA, AIRFLOW_OPENS_PA
from hardware.simulated.clock import START_UTC_S, SimulatedClock
from hardware.simulated.plant import Plant
from hardware.simulated.rig import SimulatedRig

MakeRig = Callable[..., SimulatedRig]


def run(rig: SimulatedRig, scans: int, auger: bool = False, pulse: bool = True, fan_frac: float = 0.0) -> Outputs:
    """Scan ten times a second, with the keep-alive moving unless told otherwise; return the last levels read back."""
    done = Outputs()
    for scan in range(scans):
        rig.read(rig.clock.now_s() + 0.1)
        done = rig.write(Outputs(auger=auger, fan_frac=fan_frac, keep_alive=pulse and scan % 2 == 0))
    return done


def test_the_auger_has_power_only_while_its_relay_is_closed(rig: SimulatedRig) -> None:
    run(rig, 5, auger=True)
    assert rig.world.auger_powered
    run(rig, 1)
    assert not rig.world.auger_powered


def test_the_watchdog_keeps_the_auger_still_until_the_first_pulse_and_drops_it_a_second_after_the_last(
    rig: SimulatedRig,
) -> None:
    run(rig, 20, auger=True, pulse=False)
    assert not rig.world.auger_powered
    run(rig, 2, auger=True)
    assert rig.world.auger_powered
    run(rig, 9, auger=True, pulse=False)
    assert rig.world.auger_powered  # the last pulse is not yet a second old
    run(rig, 2, auger=True, pulse=False)
    assert not rig.world.auger_powered


def test_without_a_watchdog_relay_the_auger_obeys_its_pin_alone(make_rig: MakeRig) -> None:
    rig = make_rig(watchdog=False)
    run(rig, 30, auger=True, pulse=False)
    assert rig.world.auger_powered


def test_a_welded_relay_feeds_while_the_pin_says_off_and_only_the_watchdog_stops_it(rig: SimulatedRig) -> None:
    run(rig, 2)
    rig.inject("relay-welds")
    assert run(rig, 5).auger is False  # the level read back is honest: it is the contact that lies
    assert rig.world.auger_powered
    run(rig, 12, pulse=False)
    assert not rig.world.auger_powered


def test_a_relay_burnt_open_never_feeds(rig: SimulatedRig) -> None:
    rig.inject("relay-fails-open")
    assert run(rig, 5, auger=True).auger is True
    assert not rig.world.auger_powered


def test_closing_the_rig_stops_everything(rig: SimulatedRig) -> None:
    rig.read(2.0)
    rig.write(Outputs(auger=True, fan_frac=1.0, horn=True, lamp=True, keep_alive=True))
    assert (rig.world.auger_powered, rig.cabinet.horn_sounding, rig.cabinet.lamp_lit) == (True, True, True)
    rig.close()
    assert (rig.world.auger_powered, rig.cabinet.horn_sounding, rig.cabinet.lamp_lit) == (False, False, False)
    assert rig.world.fan_frac == 0.0


def test_the_fan_turns_at_the_whole_percent_that_the_pins_can_make(rig: SimulatedRig) -> None:
    for percent in range(101):
        rig.write(Outputs(fan_frac=percent / 100))
        assert rig.world.fan_frac == percent / 100


def test_an_open_stop_loop_reads_as_pressed(rig: SimulatedRig) -> None:
    assert rig.read(2.0).stop_pressed is False
    rig.hands.press("stop", True)
    assert rig.read(2.1).stop_pressed is True
    rig.hands.press("stop", False)
    assert rig.read(2.2).stop_pressed is False
    rig.inject("stop-wire-breaks")
    assert rig.read(2.3).stop_pressed is True


def test_buttons_read_while_they_are_held(rig: SimulatedRig) -> None:
    for button, field in (("confirm", "confirm_pressed"), ("reset", "reset_pressed")):
        for held in (True, False):
            rig.hands.press(button, held)
            assert getattr(rig.read(2.0), field) is held
    with pytest.raises(KeyError):
        rig.hands.press("panic", True)


def test_the_airflow_switch_opens_at_less_draught_than_it_closes_at(rig: SimulatedRig, still: Plant) -> None:
    between = (AIRFLOW_OPENS_PA + AIRFLOW_CLOSES_PA) / 2
    proven = []
    for draught_pa in (2.0, between, 8.0, between, 2.0, between):
        still.draught_pa = draught_pa
        proven.append(rig.read(rig.clock.now_s() + 0.1).airflow_proven)
    assert proven == [False, False, True, True, False, False]
    still.draught_pa = 37.0
    rig.inject("airflow-switch-wire-breaks")
    assert rig.read(rig.clock.now_s() + 0.1).airflow_proven is False


def test_the_flame_eye_flickers_while_there_is_flame_and_sees_none_through_soot(
    rig: SimulatedRig, still: Plant
) -> None:
    def seen() -> int:
        return sum(rig.read(rig.clock.now_s() + 0.1).flame_seen is True for _ in range(1000))

    assert seen() == 0
    still.flame = True
    assert 900 < seen() < 990  # 5 % of the looks miss it
    rig.inject("flame-eye-dirty")
    assert seen() == 0


def test_the_shaft_is_seen_turning_and_for_a_second_after(rig: SimulatedRig) -> None:
    run(rig, 10, auger=True)
    assert rig.read(rig.clock.now_s() + 0.1).shaft_turning is True
    run(rig, 1)
    stopped_s = rig.clock.now_s()
    assert rig.read(stopped_s + 0.7).shaft_turning is True
    assert rig.read(stopped_s + 1.3).shaft_turning is False


def test_a_broken_shaft_sensor_reads_still(rig: SimulatedRig) -> None:
    rig.inject("shaft-sensor-wire-breaks")
    run(rig, 30, auger=True)
    assert rig.read(rig.clock.now_s() + 0.1).shaft_turning is False


@pytest.mark.parametrize("draught_pa", [-20.0, 0.0, 37.4, 95.0])
def test_the_draught_is_read_within_the_converters_steps(rig: SimulatedRig, still: Plant, draught_pa: float) -> None:
    still.draught_pa = draught_pa
    draught = rig.read(2.0).draught
    assert isinstance(draught, Draught)
    assert draught.value_pa == pytest.approx(draught_pa, abs=0.5)  # a step is 0.15 Pa, the noise half of one


def test_broken_gauge_wires_are_out_of_range_and_a_stuck_line_is_told_from_them(rig: SimulatedRig) -> None:
    before = rig.read(2.0)
    assert isinstance(before.draught, Draught)
    assert isinstance(before.feed_tube, Temperature)
    assert before.feed_tube.value_c == pytest.approx(30.0, abs=1.0)
    rig.inject("draught-wire-breaks")
    rig.inject("feed-tube-wire-breaks")
    broken = rig.read(2.4)  # after a gap everything is read again
    assert broken.draught == Blind(Blindness.OUT_OF_RANGE, "sim:draught")
    assert broken.feed_tube == Blind(Blindness.OUT_OF_RANGE, "sim:feed_tube")
    rig.inject("bus-high")
    assert rig.read(2.5).draught == Blind(Blindness.BUS_STUCK_HIGH, "sim:draught")


@pytest.mark.parametrize("ratio", [0.65, 0.9, 1.0, 1.35, 2.0])
def test_the_air_ratio_is_read_within_the_converters_steps(
    make_rig: MakeRig, still: Plant, oxygen: dict[str, object], ratio: float
) -> None:
    still.flue_air_ratio = ratio
    seen = make_rig(oxygen=oxygen).read(2.0).oxygen
    assert isinstance(seen, AirRatio)
    assert seen.value == pytest.approx(ratio, abs=0.006)  # a step is 0.0016, the noise half of one
    assert seen.source == "sim:oxygen"


@pytest.mark.parametrize(("ratio", "end"), [(4.0, 2.0), (60.0, 2.0), (0.2, 0.65)])
def test_an_oxygen_probe_at_the_end_of_its_range_is_believed_there(
    make_rig: MakeRig, still: Plant, oxygen: dict[str, object], ratio: float, end: float
) -> None:
    rig = make_rig(oxygen=oxygen)
    still.flue_air_ratio = ratio
    seen = [rig.read(2.0 + tenth / 10).oxygen for tenth in range(500)]
    values = [one.value for one in seen if isinstance(one, AirRatio)]
    assert len(values) == 500
    assert values == pytest.approx([end] * 500, abs=0.006)


def test_an_oxygen_probe_that_dies_is_out_of_range_and_a_stuck_line_is_told_from_it(
    make_rig: MakeRig, oxygen: dict[str, object]
) -> None:
    rig = make_rig(oxygen=oxygen)
    assert isinstance(rig.read(2.0).oxygen, AirRatio)
    rig.inject("oxygen-dead")
    broken = rig.read(2.1)
    assert broken.oxygen == Blind(Blindness.OUT_OF_RANGE, "sim:oxygen")
    assert isinstance(broken.draught, Draught)
    rig.mend()
    assert isinstance(rig.read(2.2).oxygen, AirRatio)
    rig.inject("bus-high")
    assert rig.read(2.3).oxygen == Blind(Blindness.BUS_STUCK_HIGH, "sim:oxygen")


def test_a_torch_on_the_probes_is_read_as_a_climb_to_over_temperature(rig: SimulatedRig) -> None:
    rig.inject("over-temperature")
    limits = [rig.read(rig.clock.now_s() + 1.0).probes["limit"] for _ in range(200)]
    values = [probe.value_c for probe in limits if isinstance(probe, Temperature)]
    assert len(values) == 200  # the climb itself is believable, so it can't hide behind blindness
    assert values[0] < 820.0
    assert values[-1] > 1550.0


def test_a_person_looks_and_tends(rig: SimulatedRig, still: Plant) -> None:
    still.flame, still.draught_pa = True, 37.4
    sight = rig.hands.look()
    assert (sight.gauge_pa, sight.flame_clear, sight.smoke, sight.hopper_kg) == (37.0, True, False, 10.0)
    still.smoke_frac = 0.4
    assert rig.hands.look().smoke
    assert not rig.hands.look().flame_clear
    rig.hands.fill_hopper(18.0)
    rig.hands.set_damper(0.3)
    assert (still.hopper_kg, still.damper_frac) == (28.0, 0.3)


def test_hands_move_nothing_that_a_servo_holds(make_rig: MakeRig, still: Plant) -> None:
    rig = make_rig(damper={"pin": 19, "hz": 200.0})
    rig.read(1.0)
    rig.write(Outputs(damper_frac=0.75))
    rig.hands.set_damper(0.1)
    assert still.damper_frac == pytest.approx(0.75, abs=0.026)


def test_every_fault_can_strike_and_has_one_line(make_rig: MakeRig, oxygen: dict[str, object]) -> None:
    rig = make_rig(co_alarm=26, oxygen=oxygen)
    names = rig.fault_names()
    wanted = """probe-open probe-short probe-forgets bus-low bus-high cold-junction-hot fan-stops flue-blocked fire-dies
        hopper-bridges auger-jams relay-welds stop-wire-breaks stop-pressed airflow-switch-wire-breaks
        draught-wire-breaks oxygen-dead flame-eye-dirty over-temperature co-alarm"""
    assert set(wanted.split()) <= set(names)
    for name, line in names.items():
        assert line.isprintable()
        assert line
        rig.inject(name)
    assert rig.read(1.0).co_alarm is True
    with pytest.raises(KeyError):
        rig.inject("gremlins")


def test_a_fault_of_what_is_not_fitted_is_not_offered(make_rig: MakeRig) -> None:
    assert "stop-pressed" not in make_rig(stop=False).fault_names()
    assert "oxygen-dead" not in make_rig().fault_names()


def test_the_real_kiln_model_lights_and_warms_under_the_shipped_drivers() -> None:
    rig = open_rig({"seed": 1})
    assert isinstance(rig, AttendedRig)
    assert isinstance(rig, BreakableRig)
    rig.hands.light_charcoal(1.0)
    run(rig, 3000, fan_frac=0.5)
    image = rig.read(rig.clock.now_s() + 0.1)
    rig.close()
    probe = image.probes["chamber"]
    assert isinstance(probe, Temperature)
    assert probe.value_c > 30.0
    assert probe.value_c == pytest.approx(rig.world.chamber_sheath_c, abs=1.0)
    assert image.airflow_proven is True


def history(seed: int) -> list[object]:
    """Everything a short firing read and drove."""
    rig = open_rig({"seed": seed, "kiln": 3})
    rig.hands.light_charcoal(0.5)
    rows: list[object] = []
    for tenth in range(600):
        rows.append(rig.read(tenth / 10))
        rows.append(rig.write(Outputs(auger=tenth % 50 < 10, fan_frac=0.6, keep_alive=tenth % 2 == 0)))
    rig.close()
    return rows


def test_the_same_seed_gives_the_same_firing_and_another_gives_another() -> None:
    first = history(7)
    assert len(first) == 1200
    assert history(7) == first
    assert history(8) != first


def test_two_rigs_stand_side_by_side_and_touch_no_default_pins() -> None:
    one, other = open_rig({"seed": 1}), open_rig({"seed": 1})
    one.read(1.0)
    one.write(Outputs(auger=True, keep_alive=True))
    other.read(1.0)
    assert one.world.auger_powered
    assert not other.world.auger_powered
    one.close()
    other.write(Outputs(auger=True, keep_alive=True))
    assert other.world.auger_powered
    other.close()
    assert Device.pin_factory is None


def test_bad_options_are_named_all_at_once() -> None:
    with pytest.raises(ValueError, match="seed") as caught:
        open_rig({"seed": "one", "speed": 0, "kiln": "mine", "watchdog": 1, "auger": 99})
    starts = [line.split(":")[0] for line in str(caught.value).splitlines()]
    assert starts == ["rig.seed", "rig.speed", "rig.kiln", "rig.watchdog", "rig.auger"]


def test_time_flat_out_lands_on_every_due_time_exactly(rig: SimulatedRig) -> None:
    assert rig.read(3600.05).now_s == 3600.05
    assert rig.read(3600.05).utc_s == START_UTC_S + 3600.05


def test_a_paced_clock_sleeps_real_time_divided_by_the_speed(rig: SimulatedRig, still: Plant) -> None:
    slept: list[float] = []
    real_s = [50.0]

    def sleep(seconds: float) -> None:
        slept.append(seconds)
        real_s[0] += seconds

    clock = SimulatedClock(still, rig.cabinet, 10.0, real_s=lambda: real_s[0], sleep=sleep)
    clock.wait_until(30.0)
    assert sum(slept) == pytest.approx(3.0)
    real_s[0] += 60.0  # the machine was asleep: the lost minute is let go, not raced through
    slept.clear()
    clock.wait_until(40.0)
    assert sum(slept) == pytest.approx(1.0, abs=0.02)


def chamber_c(rig: SimulatedRig) -> float:
    """What the chamber reads a second later."""
    probe = rig.read(rig.clock.now_s() + 1.0).probes["chamber"]
    assert isinstance(probe, Temperature)
    return probe.value_c


def test_a_frozen_chamber_probe_is_still_believed_by_the_driver(rig: SimulatedRig, still: Plant) -> None:
    rig.inject("probe-freezes")
    before_c = chamber_c(rig)
    still.chamber_sheath_c = 950.0
    assert chamber_c(rig) == before_c  # only time can tell


@pytest.mark.parametrize(("name", "gap_k"), [("probe-jumps-up", 200.0), ("probe-jumps-down", -200.0)])
def test_a_jump_blinds_for_the_open_circuit_test_and_is_then_believed(
    rig: SimulatedRig, name: str, gap_k: float
) -> None:
    before_c = chamber_c(rig)
    rig.inject(name)
    assert isinstance(rig.read(rig.clock.now_s() + 0.2).probes["chamber"], Blind)
    rig.read(rig.clock.now_s() + 2.0)
    assert chamber_c(rig) == pytest.approx(before_c + gap_k, abs=1.5)


def test_a_drifting_chamber_probe_falls_behind_without_a_step(rig: SimulatedRig) -> None:
    rig.inject("probe-drifts")
    seen = [chamber_c(rig) for _ in range(1800)]
    assert len(seen) == 1800
    assert max(abs(b - a) for a, b in pairwise(seen)) < 2.0
    assert seen[-1] == pytest.approx(800.0 - 60.0, abs=1.5)  # 120 K an hour, after half an hour


def test_a_limit_probe_that_slips_out_reads_low_while_the_chamber_reads_on(rig: SimulatedRig) -> None:
    rig.inject("limit-probe-off")
    for _ in range(70):
        image = rig.read(rig.clock.now_s() + 1.0)
    chamber, limit = image.probes["chamber"], image.probes["limit"]
    assert isinstance(chamber, Temperature)
    assert isinstance(limit, Temperature)
    assert chamber.value_c == pytest.approx(800.0, abs=1.0)
    assert limit.value_c == pytest.approx(660.0, abs=1.0)


def test_a_stuck_eye_and_a_stuck_airflow_switch_see_what_isnt_there(rig: SimulatedRig, still: Plant) -> None:
    still.flame, still.draught_pa = False, 0.0
    image = rig.read(2.0)
    assert (image.flame_seen, image.airflow_proven) == (False, False)
    rig.inject("flame-eye-stuck")
    rig.inject("airflow-switch-stuck")
    looks = [rig.read(2.0 + tenth / 10) for tenth in range(1, 101)]
    assert all(image.flame_seen is True and image.airflow_proven is True for image in looks)


def test_a_jammed_button_stays_pressed_when_it_is_let_go(rig: SimulatedRig) -> None:
    for name in ("reset", "confirm"):
        rig.inject(f"{name}-button-jams")
        rig.hands.press(name, True)
        rig.hands.press(name, False)
    image = rig.read(2.0)
    assert (image.reset_pressed, image.confirm_pressed, image.stop_pressed) == (True, True, False)


def test_a_damper_stays_open_when_the_daemon_ends_and_when_the_next_one_begins(make_rig: MakeRig, still: Plant) -> None:
    rig = make_rig(damper={"pin": 19, "hz": 200.0})
    rig.write(Outputs(damper_frac=0.75))
    rig.write(Outputs())
    rig.close()
    assert still.damper_frac == pytest.approx(0.75, abs=0.06)
    again = make_rig(damper={"pin": 19, "hz": 200.0})
    again.write(Outputs())
    assert still.damper_frac == pytest.approx(0.75, abs=0.06)


def test_a_damper_that_sticks_or_falls_shut_no_longer_follows_its_servo(make_rig: MakeRig, still: Plant) -> None:
    rig = make_rig(damper={"pin": 19, "hz": 200.0})
    rig.read(1.0)
    rig.write(Outputs(damper_frac=0.75))
    rig.inject("damper-sticks")
    assert rig.write(Outputs(damper_frac=0.2)).damper_frac == pytest.approx(0.2, abs=0.06)  # the pulse is sent...
    assert still.damper_frac == pytest.approx(0.75, abs=0.06)  # ...and nothing moves
    rig.inject("damper-falls-shut")
    rig.write(Outputs(damper_frac=0.9))
    assert still.damper_frac == 0.0
    assert "damper-sticks" not in make_rig().fault_names()
