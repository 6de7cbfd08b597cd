"""An emulated MAX31856 thermocouple amplifier: its registers, its conversions, and the ways it breaks.

Register map, defaults and fault bits follow the data sheet as remembered; `hardware/its90.py` gives the millivolts.
A conversion is worked out when somebody reads, from how long ago the last one was: nobody can tell the difference.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import repeat
from random import Random
from struct import Struct

from hardware.its90 import CURVES, Curve
from hardware.simulated.noise import noise

CR0, CR1, CJHF, CJLF, LTHF, LTLF = 0x00, 0x01, 0x03, 0x04, 0x05, 0x07
CJTO, CJT, LTC, SR = 0x09, 0x0A, 0x0C, 0x0F
RESULT = Struct(">i")  # 19 bits of temperature, 5 that stay zero, 8 of faults
POWER_ON = bytes((0x00, 0x03, 0xFF, 0x7F, 0xC0, 0x7F, 0xFF, 0x80, 0x00, 0x00))
AUTO, ONE_SHOT, OPEN_TEST, FAULT_CLEAR = 0x80, 0x40, 0x30, 0x02
CJ_RANGE, TC_RANGE, CJ_HIGH, CJ_LOW, TC_HIGH, TC_LOW, OVUV, OPEN = 0x80, 0x40, 0x20, 0x10, 0x08, 0x04, 0x02, 0x01
AUTO_S = 0.098  # between conversions in auto mode; at 60 Hz rejection it would be 82 ms (memory)
ONE_SHOT_S = 0.185  # one conversion on demand with 50 Hz rejection (memory)
OPEN_TEST_EVERY = 16  # conversions between looks for an open circuit in auto mode (memory)
TYPE_OF_CODE = {0b0000: "B", 0b0011: "K", 0b0100: "N", 0b0101: "R", 0b0110: "S"}


class Max31856:
    """One amplifier and the thermocouple screwed to it.

    `hot_c` and `cold_c` say where the junctions are now, `now_s` what time it is. `wire` is the type of wire really
    connected, whatever the chip is set to: a wrong setting gives a wrong number, as it does at a kiln.
    """

    modes: tuple[int, ...] = (1, 3)

    def __init__(
        self,
        wire: str,
        hot_c: Callable[[], float],
        cold_c: Callable[[], float],
        now_s: Callable[[], float],
        random: Random,
        noise_k: float = 0.15,
    ) -> None:
        self._wire: Curve = CURVES[wire]
        self._hot_c = hot_c
        self._cold_c = cold_c
        self._now_s = now_s
        self._noise_k = noise(random, noise_k) if noise_k else repeat(0.0)
        self._registers = bytearray(POWER_ON + bytes(6))
        self._address: int | None = None
        self._next_s: float | None = None
        self._was_cold_c: float | None = None  # None: settings have changed
        self._was_hot_c: float | None = None  # None: the cold junction has changed
        self._told_hot_c = 0.0
        self._cold_fault = 0
        self._cold_mv = self._told_cold_mv = 0.0
        self._curve = self._wire
        self._high_raw = self._low_raw = 0
        self._conversions = 0
        self._broken: int = 0
        self._here = True
        self._heated_k = 0.0
        self._touching = False
        self._frozen = False
        self._wrong: tuple[float, float, float] | None = None  # since when, how many K, reached over how long

    # what breaks, and its mending

    def open_circuit(self) -> None:
        """The thermocouple or its wire breaks."""
        self._broken = OPEN

    def short_to_supply(self) -> None:
        """A thermocouple wire touches the supply."""
        self._broken = OVUV

    def leads_touch(self) -> None:
        """The two wires touch each other at the amplifier: it measures the cabinet instead of the kiln."""
        self._touching = True

    def supply_dips(self) -> None:
        """The chip's power goes for a moment: settings at their power-on values, the last value left standing."""
        self._registers[: len(POWER_ON)] = POWER_ON
        self._was_cold_c = None
        self._next_s = None

    def heat_cold_junction(self, gap_k: float) -> None:
        """The amplifier itself gets this much hotter than the cabinet."""
        self._heated_k = gap_k

    def freezes(self) -> None:
        """Conversions stop: it goes on answering, settings and fault bits right, with its last value."""
        self._frozen = True

    def reads_wrong(self, gap_k: float, over_s: float = 0.0) -> None:
        """What it measures goes off by `gap_k`, at once or evenly over a time: a bad joint, wires that age."""
        self._wrong = (self._now_s(), gap_k, over_s)

    def absent(self) -> None:
        """The amplifier is unplugged."""
        self._here = False

    def repair(self) -> None:
        """Mend everything above; a chip that was unplugged comes back as it powers on."""
        if not self._here:
            self._registers[:] = POWER_ON + bytes(6)
            self._was_cold_c = None
            self._next_s = None
        self._broken = 0
        self._here = True
        self._heated_k = 0.0
        self._touching = False
        self._frozen = False
        self._wrong = None

    # the bus

    def select(self) -> None:
        """The select line falls: the next byte is an address."""
        self._address = None

    def exchange(self, words: list[int]) -> list[int]:
        """Take an address and then write, or read, one register after the other."""
        if not self._here:
            return [0xFF] * len(words)
        answer: list[int] = []
        address = self._address
        if address is None:
            answer = [0xFF]
            address, *words = words
        if address & 0x80:
            for place, word in enumerate(words):
                self._write(address + place & 0x7F, word)
            self._address = 0x80 | address + len(words) & 0x7F
            return answer + [0xFF] * len(words)
        if words:
            now_s, due_s = self._now_s(), self._next_s
            if due_s is not None and now_s >= due_s and not self._frozen:
                self._finish(now_s, due_s)
        registers = self._registers
        end = address + len(words)
        self._address = end & 0x0F
        if end > 16:
            registers = registers * (end // 16 + 1)  # after the last comes the first
        answer += registers[address:end]
        return answer

    def _write(self, address: int, word: int) -> None:
        if address > CJT + 1:
            return  # the results can't be written
        if address == CR0:
            self._start(word)
            word &= ~FAULT_CLEAR
        self._registers[address] = word
        self._was_cold_c = None

    def _start(self, cr0: int) -> None:
        """Begin converting as asked: on and on, once, or not at all."""
        if cr0 & AUTO:
            if not self._registers[CR0] & AUTO:
                self._conversions = 0
                self._next_s = self._now_s() + ONE_SHOT_S
        elif cr0 & ONE_SHOT:
            self._next_s = self._now_s() + ONE_SHOT_S
        else:
            self._next_s = None

    # the measurement

    def _finish(self, now_s: float, due_s: float) -> None:
        """Put the conversion that is due into the registers, and plan the next."""
        registers = self._registers
        conversions = OPEN_TEST_EVERY
        if registers[CR0] & AUTO:
            conversions = self._conversions + 1 + int((now_s - due_s) / AUTO_S)
            self._next_s = now_s + AUTO_S
        else:
            registers[CR0] &= ~ONE_SHOT & 0xFF
            self._next_s = None
        self._conversions = conversions
        cold_c = self._cold_c() + self._heated_k
        if cold_c != self._was_cold_c:  # it seldom changes, and what follows from it is a third of the work
            self._was_cold_c = cold_c
            self._measure_cold_junction(cold_c)
        fault = self._cold_fault
        if self._broken == OVUV:
            registers[SR] = fault | OVUV  # the input is cut off and conversions stop: the last value stands
            return
        # a break is noticed at the next test, and remembered until the chip finds the circuit whole
        if self._broken == OPEN and registers[CR0] & OPEN_TEST:
            fault |= OPEN if conversions >= OPEN_TEST_EVERY else registers[SR] & OPEN
        if conversions >= OPEN_TEST_EVERY:
            self._conversions = 0
        self._linearise(fault)

    def _measure_cold_junction(self, cold_c: float) -> None:
        """Measure the chip's own temperature to 1/64 °C; keep what follows from it and from the settings."""
        registers = self._registers
        code = registers[CR1] & 0x0F
        if code not in TYPE_OF_CODE:
            raise NotImplementedError(f"thermocouple type code {code:#06b} isn't emulated")
        self._curve = CURVES[TYPE_OF_CODE[code]]
        seen = round((cold_c + _signed(registers[CJTO]) / 16.0) * 64.0)
        told = min(max(seen, -55 * 64), 125 * 64)
        registers[CJT : CJT + 2] = (told * 4 & 0xFFFF).to_bytes(2, "big")
        self._cold_fault = (
            (CJ_RANGE if seen != told else 0)
            | (CJ_HIGH if told > _signed(registers[CJHF]) * 64 else 0)
            | (CJ_LOW if told < _signed(registers[CJLF]) * 64 else 0)
        )
        self._high_raw = _signed16(registers, LTHF) * 8  # limits come in 1/16 °C, results in 1/128
        self._low_raw = _signed16(registers, LTLF) * 8
        self._cold_mv = self._wire.quick_emf_mv(cold_c)
        self._told_cold_mv = self._curve.quick_emf_mv(told / 64.0)
        self._was_hot_c = None

    def _linearise(self, fault: int) -> None:
        """Turn the junctions' millivolts into 1/128 °C for the type that is set, and store it with its fault bits."""
        curve = self._curve
        hot_c = self._hot_c()
        if self._broken or self._touching:  # an open or shorted input leaves nothing but the cold junction
            value_c = curve.quick_temperature_c(self._told_cold_mv) + next(self._noise_k)
        else:
            if hot_c != self._was_hot_c:  # a kiln's heat moves on less often than the chip converts
                self._was_hot_c = hot_c
                emf_mv = self._wire.quick_emf_mv(hot_c) - self._cold_mv
                self._told_hot_c = curve.quick_temperature_c(emf_mv + self._told_cold_mv)
            value_c = self._told_hot_c + next(self._noise_k)
        if self._wrong is not None:
            since_s, gap_k, over_s = self._wrong
            gone_s = self._now_s() - since_s
            value_c += gap_k if gone_s >= over_s else gap_k * gone_s / over_s
        if not curve.lowest_c <= value_c <= curve.highest_c:
            fault |= TC_RANGE
            value_c = min(max(value_c, curve.lowest_c), curve.highest_c)
        raw = round(value_c * 128.0)
        if raw > self._high_raw:
            fault |= TC_HIGH
        elif raw < self._low_raw:
            fault |= TC_LOW
        RESULT.pack_into(self._registers, LTC, raw << 13 | fault)


def _signed(byte: int) -> int:
    return byte - 256 if byte & 0x80 else byte


def _signed16(registers: bytearray, address: int) -> int:
    word = registers[address] << 8 | registers[address + 1]
    return word - 0x10000 if word & 0x8000 else word
