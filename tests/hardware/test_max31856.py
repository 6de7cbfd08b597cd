"""The emulated amplifier, asked over its registers as a driver would ask it."""

from __future__ import annotations

from random import Random

import pytest
import thermocouple_its90
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.simulated.max31856 import Max31856

OPEN, OVUV, TC_RANGE, CJ_RANGE, CJ_HIGH = 0x01, 0x02, 0x40, 0x80, 0x20
TYPE_CODE = {"B": 0, "K": 3, "N": 4, "R": 5, "S": 6}


class Bench:
    """An amplifier on a bench, with a knob for each quantity around it."""

    def __init__(self, wire: str = "K", set_to: str | None = None, noise_k: float = 0.0) -> None:
        self.hot_c = 800.0
        self.cold_c = 25.0
        self.now_s = 0.0
        self.chip = Max31856(
            wire, lambda: self.hot_c, lambda: self.cold_c, lambda: self.now_s, Random(1), noise_k=noise_k
        )
        self.write(0x01, TYPE_CODE[set_to or wire])
        self.write(0x00, 0x90)

    def write(self, address: int, *words: int) -> None:
        """Write registers from `address` on."""
        self.chip.select()
        self.chip.exchange([0x80 | address, *words])

    def registers(self, after_s: float = 0.5) -> list[int]:
        """Read all registers after some time."""
        self.now_s += after_s
        self.chip.select()
        self.chip.exchange([0x00])
        return self.chip.exchange([0] * 16)

    def reads_c(self, after_s: float = 0.5) -> float:
        """Read the temperature after some time."""
        high, middle, low = self.registers(after_s)[12:15]
        raw = (high << 16 | middle << 8 | low) >> 5
        return (raw - 0x80000 if raw & 0x40000 else raw) / 128.0


def test_it_powers_on_with_the_data_sheets_defaults() -> None:
    """Source: MAX31856 data sheet, register memory map (memory)."""
    chip = Max31856("K", lambda: 100.0, lambda: 25.0, lambda: 0.0, Random(1))
    chip.select()
    chip.exchange([0x00])
    assert bytes(chip.exchange([0] * 10)) == bytes.fromhex("00 03 ff 7f c0 7f ff 80 00 00")


@pytest.mark.parametrize(
    ("hot_c", "registers"),
    [(1000.0, "3e8000"), (100.9375, "064f00"), (25.0, "019000"), (0.0625, "000100"), (-1.0, "fff000")],
)
def test_a_temperature_is_written_as_the_data_sheet_shows(hot_c: float, registers: str) -> None:
    """Source: MAX31856 data sheet, table of linearised temperature data (memory)."""
    bench = Bench("K")
    bench.hot_c = hot_c
    assert bytes(bench.registers()[12:15]) == bytes.fromhex(registers)


def test_the_cold_junction_is_written_in_sixty_fourths() -> None:
    bench = Bench("K")
    for cold_c, word in ((25.0, "1900"), (-0.5, "ff80"), (60.0 + 1 / 64, "3c04")):  # data sheet (memory)
        bench.cold_c = cold_c
        assert bytes(bench.registers()[10:12]) == bytes.fromhex(word)


@pytest.mark.parametrize("letter", "KNSRB")
@settings(deadline=None, max_examples=40)
@given(part=st.floats(0.02, 0.98), cold_c=st.floats(0.0, 60.0))
def test_the_right_type_shows_the_hot_junction_whatever_the_cold_one_does(
    letter: str, part: float, cold_c: float
) -> None:
    curve = thermocouple_its90.get(letter)
    low_c = 300.0 if letter == "B" else 0.0
    bench = Bench(letter)
    bench.hot_c = low_c + part * (curve.range[1] - low_c)
    bench.cold_c = cold_c
    # the cold junction is known to 1/128 °C; that error, times the ratio of the slopes, is the most there can be
    slope = max(1.0, curve.seebeck(cold_c) / curve.seebeck(bench.hot_c))
    assert bench.reads_c() == pytest.approx(bench.hot_c, abs=0.012 + slope / 128)


@pytest.mark.parametrize(("wire", "set_to"), [("S", "K"), ("K", "S"), ("R", "S"), ("N", "K"), ("K", "N")])
def test_the_wrong_type_shows_the_wrong_number_that_the_tables_predict(wire: str, set_to: str) -> None:
    """Source: thermocouple-its90, an independent implementation of NIST Monograph 175."""
    bench = Bench(wire, set_to)
    bench.hot_c, bench.cold_c = 400.0, 25.0
    real, told = thermocouple_its90.get(wire), thermocouple_its90.get(set_to)
    expected_c = told.temperature(real.emf(400.0) - real.emf(25.0) + told.emf(25.0))
    assert abs(expected_c - 400.0) > 10.0 or {wire, set_to} == {"R", "S"}
    assert bench.reads_c() == pytest.approx(expected_c, abs=0.06)  # the package's own inverse errs by up to 0.05 K


def test_a_wire_beyond_the_range_of_the_type_set_raises_the_range_fault() -> None:
    bench = Bench("K", "S")
    bench.hot_c = 1000.0
    assert bench.registers()[15] & TC_RANGE


def test_it_converts_ten_times_a_second_and_not_oftener() -> None:
    bench = Bench("K", noise_k=0.15)
    bench.reads_c()
    seen = [bench.reads_c(after_s=0.01) for _ in range(100)]
    assert 9 <= len(set(seen)) <= 11


def test_nothing_is_converted_before_the_first_conversion_is_due() -> None:
    bench = Bench("K")
    assert bench.reads_c(after_s=0.05) == 0.0
    assert bench.reads_c(after_s=0.2) == pytest.approx(800.0, abs=0.05)


def test_a_one_shot_bit_clears_when_the_conversion_is_done() -> None:
    bench = Bench("K")
    bench.write(0x00, 0x40)
    assert bench.registers(after_s=0.1)[0] & 0x40
    registers = bench.registers(after_s=0.1)
    assert not registers[0] & 0x40
    bench.hot_c = 500.0
    assert bench.registers()[12:15] == registers[12:15]  # it rests until asked again


def test_its_noise_has_the_spread_it_is_set_to() -> None:
    bench = Bench("S", noise_k=0.15)
    bench.reads_c()
    seen = [bench.reads_c(after_s=0.1) for _ in range(4000)]
    mean_c = sum(seen) / len(seen)
    assert mean_c == pytest.approx(800.0, abs=0.02)
    assert (sum((c - mean_c) ** 2 for c in seen) / len(seen)) ** 0.5 == pytest.approx(0.15, rel=0.05)


def test_an_open_circuit_shows_at_the_next_test_and_goes_when_mended() -> None:
    bench = Bench("K")
    bench.registers()
    bench.chip.open_circuit()
    faults = [bench.registers(after_s=0.1)[15] for _ in range(17)]
    assert faults[-1] & OPEN
    assert not faults[0] & OPEN  # as the real chip: only every 16th conversion looks
    assert faults == sorted(faults)  # and once seen it stays seen
    bench.chip.repair()
    assert bench.registers()[15] == 0


def test_without_the_open_circuit_test_a_broken_wire_looks_like_a_cold_kiln() -> None:
    bench = Bench("K")
    bench.write(0x00, 0x80)
    bench.chip.open_circuit()
    assert bench.registers(after_s=5.0)[15] == 0
    assert bench.reads_c() == pytest.approx(bench.cold_c, abs=0.1)


def test_a_short_to_the_supply_freezes_the_value_and_says_so() -> None:
    bench = Bench("K")
    bench.reads_c()
    bench.chip.short_to_supply()
    bench.hot_c = 900.0
    assert bench.registers()[15] & OVUV
    assert bench.reads_c() == pytest.approx(800.0, abs=0.05)


def test_a_supply_dip_freezes_the_value_at_power_on_settings_and_no_fault_says_so() -> None:
    bench = Bench("S")
    before = bench.registers()
    bench.chip.supply_dips()
    bench.hot_c = 900.0
    after = bench.registers()
    assert after[12:16] == before[12:16]
    assert after[:2] == [0x00, 0x03]


def test_a_hot_cold_junction_raises_the_threshold_first_and_then_the_range_fault() -> None:
    bench = Bench("K")
    bench.write(0x03, 85)
    bench.cold_c = 90.0
    assert bench.registers()[15] == CJ_HIGH
    bench.cold_c = 130.0
    assert bench.registers()[15] == CJ_HIGH | CJ_RANGE


def test_registers_are_read_and_written_one_after_the_other() -> None:
    bench = Bench("K")
    bench.write(0x03, 0x50, 0xF0, 0x11)
    assert bench.registers()[3:6] == [0x50, 0xF0, 0x11]
    bench.write(0x0C, 0xAA)
    assert bench.registers()[12] != 0xAA  # a result can't be written


def test_an_amplifier_that_stops_converting_looks_healthy_and_keeps_its_last_value() -> None:
    bench = Bench("S", noise_k=0.15)
    bench.registers()
    bench.chip.freezes()
    frozen = bench.registers()
    bench.hot_c = 1000.0
    later = bench.registers(after_s=600.0)
    assert later == frozen  # settings, fault bits and the value, to the last bit
    bench.chip.repair()
    assert bench.reads_c() == pytest.approx(1000.0, abs=1.0)


def test_a_bad_joint_reads_wrong_at_once_and_ageing_wires_slowly() -> None:
    bench = Bench("S")
    assert bench.reads_c() == pytest.approx(800.0, abs=0.05)
    bench.chip.reads_wrong(-200.0)
    assert bench.reads_c() == pytest.approx(600.0, abs=0.05)
    bench.chip.reads_wrong(-120.0, over_s=3600.0)
    assert bench.reads_c(after_s=1800.0) == pytest.approx(740.0, abs=0.05)
    assert bench.reads_c(after_s=3600.0) == pytest.approx(680.0, abs=0.05)
    assert bench.registers()[15] == 0
