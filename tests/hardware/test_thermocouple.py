"""What the amplifiers' driver believes: every way to break one is seen for what it is, and never as a temperature."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from hardware.port import Blind, Blindness, Readings, Temperature
from hardware.simulated.plant import Plant
from hardware.simulated.rig import SimulatedRig

MakeRig = Callable[..., SimulatedRig]


def scans(rig: SimulatedRig, count: int) -> list[Temperature | Blind]:
    """Return what the chamber probe reads in the next scans, ten a second."""
    return [image.probes["chamber"] for image in images(rig, count)]


def images(rig: SimulatedRig, count: int) -> list[Readings]:
    """Return the next images, ten a second."""
    start_s = rig.clock.now_s()
    return [rig.read(start_s + tenth / 10) for tenth in range(1, count + 1)]


def reasons(seen: list[Temperature | Blind]) -> set[Blindness | None]:
    """Return why they are blind; None for a believed one."""
    return {probe.reason if isinstance(probe, Blind) else None for probe in seen}


def test_at_start_every_probe_is_blind_until_the_chip_has_converted_with_our_settings(make_rig: MakeRig) -> None:
    rig = make_rig()
    seen = [rig.read(tenth / 10).probes["chamber"] for tenth in range(6)]
    assert reasons(seen[:4]) == {Blindness.NO_READING_YET}
    assert reasons(seen[4:]) == {None}


def test_a_sound_probe_is_believed_with_its_age_and_its_source(rig: SimulatedRig) -> None:
    seen = scans(rig, 200)
    assert all(isinstance(probe, Temperature) for probe in seen)
    values = [probe.value_c for probe in seen if isinstance(probe, Temperature)]
    assert sum(values) / len(values) == pytest.approx(800.0, abs=0.1)
    assert {(probe.age_s, probe.source) for probe in seen if isinstance(probe, Temperature)} == {(0.1, "sim:chamber")}


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        ("probe-open", Blindness.OPEN_CIRCUIT),
        ("probe-short", Blindness.VOLTAGE),
        ("bus-low", Blindness.BUS_STUCK_LOW),
        ("bus-high", Blindness.BUS_STUCK_HIGH),
        ("cold-junction-hot", Blindness.COLD_JUNCTION),
        ("probe-unplugged", Blindness.BUS_STUCK_HIGH),
    ],
)
def test_a_broken_probe_is_blind_from_the_next_scan_on(rig: SimulatedRig, fault: str, reason: Blindness) -> None:
    assert reasons(scans(rig, 5)) == {None}  # it was believed, so this test is able to fail
    rig.inject(fault)
    assert reasons(scans(rig, 100)) == {reason}


def test_a_chip_that_forgot_is_blind_at_once_gets_its_settings_and_is_believed_again(
    rig: SimulatedRig, still: Plant
) -> None:
    rig.inject("probe-forgets")
    still.chamber_sheath_c = 812.0
    seen = scans(rig, 10)
    assert reasons(seen[:5]) == {Blindness.FORGOT_SETTINGS}
    assert reasons(seen[5:]) == {None}
    assert isinstance(seen[-1], Temperature)
    assert seen[-1].value_c == pytest.approx(812.0, abs=1.0)


def test_a_chip_that_keeps_forgetting_is_told_once_a_second_and_never_believed(rig: SimulatedRig) -> None:
    chip = rig.chips["chamber"]
    written: list[float] = []
    exchange = chip.exchange

    def listen(words: list[int]) -> list[int]:
        if words[0] == 0x81:
            written.append(rig.clock.now_s())
        return exchange(words)

    chip.exchange = listen  # type: ignore[method-assign]
    seen: list[Temperature | Blind] = []
    for _ in range(50):
        chip.supply_dips()
        seen += scans(rig, 1)
    assert reasons(seen) == {Blindness.FORGOT_SETTINGS}
    assert len(written) == 5


@pytest.mark.parametrize(("level", "reason"), [(0x00, Blindness.BUS_STUCK_LOW), (0xFF, Blindness.BUS_STUCK_HIGH)])
@pytest.mark.parametrize("sound", [0, 2, 9, 10, 11])
def test_a_line_that_sticks_in_the_middle_of_an_answer_is_told_as_well(
    rig: SimulatedRig, level: int, reason: Blindness, sound: int
) -> None:
    chip = rig.chips["chamber"]
    exchange = chip.exchange

    def stick(words: list[int]) -> list[int]:
        answer = exchange(words)
        # the first byte comes in while the address goes out; the registers follow
        return answer if len(answer) < 17 else answer[: 1 + sound] + [level] * (16 - sound)

    chip.exchange = stick  # type: ignore[method-assign]
    assert reasons(scans(rig, 30)) == {reason}


def test_a_driver_that_raises_makes_one_probe_blind_and_leaves_the_others(rig: SimulatedRig) -> None:
    def fail(words: list[int]) -> list[int]:
        raise OSError("no such transfer")

    rig.chips["chamber"].exchange = fail  # type: ignore[method-assign]
    (image,) = images(rig, 1)
    assert image.probes["chamber"] == Blind(Blindness.DRIVER_FAILED, "sim:chamber")
    assert isinstance(image.probes["limit"], Temperature)


def test_a_kiln_hotter_than_the_wire_can_measure_is_out_of_range(make_rig: MakeRig, still: Plant) -> None:
    rig = make_rig(probes={"chamber": {"select": 5, "type": "N"}})
    still.chamber_sheath_c = 1299.0
    assert isinstance(scans(rig, 20)[-1], Temperature)
    still.chamber_sheath_c = 1302.0
    assert reasons(scans(rig, 20)) == {Blindness.OUT_OF_RANGE}


def test_a_platinum_probe_of_type_b_sees_nothing_below_250_degrees(make_rig: MakeRig, still: Plant) -> None:
    rig = make_rig(probes={"chamber": {"select": 5, "type": "B"}})
    still.chamber_sheath_c = 200.0
    assert reasons(scans(rig, 20)[5:]) == {Blindness.OUT_OF_RANGE}


def test_wires_that_touch_are_doubted_at_once_though_no_fault_bit_is_set(rig: SimulatedRig) -> None:
    rig.inject("probe-leads-touch")
    seen = scans(rig, 30)
    assert reasons(seen[:20]) == {Blindness.OPEN_CIRCUIT}
    # the chip has looked and found the circuit whole: from here on only the kiln's behaviour can tell
    assert isinstance(seen[-1], Temperature)
    assert seen[-1].value_c == pytest.approx(21.0, abs=1.0)


def test_a_kiln_that_climbs_as_fast_as_a_kiln_can_is_never_doubted(rig: SimulatedRig, still: Plant) -> None:
    for _ in range(100):
        still.chamber_sheath_c += 3.0  # 30 K/s: a thin sheath held into a flame
        assert reasons(scans(rig, 1)) == {None}


def test_a_mended_probe_is_believed_again(rig: SimulatedRig) -> None:
    for fault in ("probe-open", "probe-short", "cold-junction-hot", "probe-unplugged", "bus-high"):
        rig.inject(fault)
        assert None not in reasons(scans(rig, 20))
        rig.chips["chamber"].repair()
        rig.wires.repair()
        assert reasons(scans(rig, 40)[-5:]) == {None}, fault


def test_one_stuck_line_blinds_all_probes(rig: SimulatedRig) -> None:
    rig.inject("bus-low")
    *_, image = images(rig, 3)  # the chamber at once, the others in turn
    assert {name: probe.reason for name, probe in image.probes.items() if isinstance(probe, Blind)} == dict.fromkeys(
        ("chamber", "flue", "limit"), Blindness.BUS_STUCK_LOW
    )


@pytest.mark.parametrize("wrong_mode", [0, 2])
def test_a_bus_in_the_wrong_clock_mode_is_never_believed(rig: SimulatedRig, wrong_mode: int) -> None:
    """Source: MAX31856 data sheet, serial interface: clock phase 1 (memory)."""
    clock = rig.wires.clock

    def wrongly(select_pin: int, mode: int, words: list[int]) -> list[int]:
        return clock(select_pin, wrong_mode, words)

    rig.wires.clock = wrongly  # type: ignore[method-assign]
    assert None not in reasons(scans(rig, 30))


@pytest.mark.parametrize(("register", "reserved"), [(0x01, 0x80), (0x02, 0xC0)])
def test_bits_that_the_chip_does_not_have_may_read_as_anything(rig: SimulatedRig, register: int, reserved: int) -> None:
    """CR1 has one reserved bit and MASK two (data sheet, from memory). Any other bit that differs is still found."""
    chip = rig.chips["chamber"]
    exchange = chip.exchange
    flipped = reserved

    def answer(words: list[int]) -> list[int]:
        said = exchange(words)
        if words[0] == 0x00 and len(said) > register + 1:
            said[register + 1] |= flipped
        return said

    chip.exchange = answer  # type: ignore[method-assign]
    assert reasons(scans(rig, 20)) == {None}
    flipped = reserved | 0x20
    assert None not in reasons(scans(rig, 5))
