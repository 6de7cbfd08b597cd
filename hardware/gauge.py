"""The analogue instruments: draught transmitter, feed tube sensor and oxygen probe, behind a MCP3008 converter."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, TypeVar

from gpiozero import MCP3008

from hardware.maker import maker
from hardware.port import AirRatio, Blind, Blindness, Draught, Temperature
from hardware.wiring import Transmitter

NULL_BIT = 0x04  # in the last byte but one, just above the ten bits of the answer
STEPS = 1024
Kind = TypeVar("Kind", Draught, Temperature, AirRatio)


class StuckHigh(Exception):
    """The converter didn't answer with its null bit: it is absent, or the data line is stuck high."""


class Channel(MCP3008):  # type: ignore[misc]  # gpiozero has no types
    """One channel of the converter, asked once a scan.

    gpiozero throws the answer's null bit away; here it is looked at, because a data line that is stuck high has none.
    What is asked never changes, so it is worked out once.
    """

    def __init__(self, channel: int, factory: Any) -> None:
        """Claim the converter on the port's first select. Raises what gpiozero raises."""
        self._request: list[int] = []
        super().__init__(channel, port=0, device=0, pin_factory=factory)
        self._request = self._send()
        self._volts_a_step = self._max_voltage / STEPS

    def volts(self) -> float:
        """Return the voltage at the input. Raises StuckHigh, and whatever the bus raises."""
        high, low = self._spi.transfer(self._request)[-2:]
        if high & NULL_BIT:
            raise StuckHigh
        # the middle of a step stands for the whole step
        return (((high & 0x03) << 8 | low) + 0.5) * self._volts_a_step  # type: ignore[no-any-return]


class Gauge(Generic[Kind]):
    """One transmitter on one channel: a straight line between two voltages, and nothing believed outside them.

    A broken wire reads about 0 V (the divider pulls the input down), and so does a data line stuck low: both are out
    of range. A data line stuck high shows in the answer's null bit. A probe that stands at the top of its range is
    believed: that much or more.
    """

    __slots__ = (
        "_blind", "_channel", "_failed", "_from_v", "_new", "_per_volt", "_source", "_stuck", "_to_v", "_value_at_0_v",
    )  # fmt: skip

    def __init__(self, channel: Channel, transmitter: Transmitter, source: str, kind: type[Kind]) -> None:
        """`kind` is what it measures, in that kind's unit; `source` is who is named beside each value."""
        self._channel = channel
        self._source = source
        self._new: Callable[[float, float, str], Kind] = maker(kind)
        self._per_volt = (transmitter.high - transmitter.low) / (transmitter.high_v - transmitter.low_v)
        self._value_at_0_v = transmitter.low - self._per_volt * transmitter.low_v
        self._from_v = transmitter.low_v - transmitter.margin_v
        self._to_v = transmitter.high_v + transmitter.margin_v
        self._blind = Blind(Blindness.OUT_OF_RANGE, source)
        self._stuck = Blind(Blindness.BUS_STUCK_HIGH, source)
        self._failed = Blind(Blindness.DRIVER_FAILED, source)

    def read(self) -> Kind | Blind:
        """Read it once. Never raises: what can't be believed is a Blind with its reason."""
        try:
            volts = self._channel.volts()
        except StuckHigh:
            return self._stuck
        except Exception:  # a driver may raise anything; here it only ever means that this one value is missing
            return self._failed
        if self._from_v <= volts <= self._to_v:
            return self._new(self._value_at_0_v + self._per_volt * volts, 0.0, self._source)
        return self._blind
