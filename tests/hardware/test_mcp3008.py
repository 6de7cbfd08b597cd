"""The emulated converter, bit by bit, and through gpiozero's own driver."""

from __future__ import annotations

from random import Random

import pytest
from gpiozero import MCP3008
from hypothesis import given, settings
from hypothesis import strategies as st

from hardware.simulated.mcp3008 import Mcp3008
from hardware.simulated.pins import EmulatedFactory
from hardware.simulated.spi import SpiWires


def converter(*volts: float) -> Mcp3008:
    """A noiseless converter with these voltages on its first channels."""
    chip = Mcp3008(Random(1), noise_v=0.0)
    for channel, level in enumerate(volts):
        chip.wire(channel, lambda level=level: level)  # type: ignore[misc]
    return chip


def test_it_answers_with_a_null_bit_and_ten_bits() -> None:
    """Source: MCP3008 data sheet, figure "SPI communication using 8-bit segments" (memory)."""
    chip = converter(1.65)
    answer = chip.exchange([0b00000001, 0b10000000, 0])
    assert answer[1] & 0b111 == 0b010  # null bit, then B9 and B8 of 512
    assert answer[2] == 0


def test_the_answer_moves_with_the_start_bit() -> None:
    chip = converter(1.0)
    early = int.from_bytes(chip.exchange([0b00000011, 0b00000000, 0, 0]), "big")
    late = int.from_bytes(chip.exchange([0b00000001, 0b10000000, 0]), "big")
    assert early >> 9 & 0x7FF == late & 0x7FF == 310


def test_without_a_start_bit_or_clocks_enough_it_says_nothing() -> None:
    chip = converter(1.0)
    assert chip.exchange([0, 0, 0]) == [0xFF, 0xFF, 0xFF]
    assert chip.exchange([1, 0x80]) == [0xFF, 0xFF]


@settings(deadline=None, max_examples=30)
@given(volts=st.floats(-0.5, 4.0), channel=st.integers(0, 7))
def test_gpiozeros_driver_reads_every_channel_within_one_step(volts: float, channel: int) -> None:
    wires = SpiWires()
    chip = Mcp3008(Random(1), noise_v=0.0)
    chip.wire(channel, lambda: volts)
    wires.attach_to_port(8, chip)
    factory = EmulatedFactory(wires)
    with MCP3008(channel, pin_factory=factory) as device, MCP3008((channel + 1) % 8, pin_factory=factory) as other:
        assert device.voltage == pytest.approx(min(max(volts, 0.0), 3.3), abs=3.3 / 1023)
        assert other.raw_value == 0  # nothing wired: pulled down
    factory.close()


def test_a_differential_pair_is_subtracted_and_never_below_zero() -> None:
    chip = converter(2.0, 0.5)
    assert int.from_bytes(chip.exchange([0b1, 0b00000000, 0]), "big") & 0x3FF == int(1.5 / 3.3 * 1024)
    assert int.from_bytes(chip.exchange([0b1, 0b00010000, 0]), "big") & 0x3FF == 0
