"""Which terminal is wired to what: the `[rig]` table of the configuration, checked before anything is driven.

Pins are BCM numbers. The defaults put every output on a pin that the board itself pulls low while it starts (9 and
up), so a relay input that closes on a high level stays open until the daemon says otherwise, and every chip select on
a pin that is pulled high. A terminal that isn't wired is written `false`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Annotated, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from hardware.off import OUTPUT_PINS

TAKEN_PINS = {
    0: "the ID memory of add-on boards",
    1: "the ID memory of add-on boards",
    2: "I2C",
    3: "I2C",
    7: "SPI select 1 (the thermocouple bus)",
    8: "SPI select 0 (the analogue converter)",
    9: "SPI data in",
    10: "SPI data out",
    11: "SPI clock",
    14: "the serial console",
    15: "the serial console",
}


def _absent(value: object) -> object:
    return None if value is False else value


Pin = Annotated[int, Field(ge=0, le=27)]
OptionalPin = Annotated[Pin | None, BeforeValidator(_absent)]
ThermocoupleType = Literal["K", "N", "S", "R", "B"]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class Probe(_Table):
    """One thermocouple amplifier: the pin that selects it and the type of thermocouple screwed to it."""

    select: Pin
    type: ThermocoupleType = "K"


class Transmitter(_Table):
    """An analogue instrument with a live zero: two points of its straight line, at the converter's input.

    Beyond `margin_v` outside the two voltages nothing is believed: a broken wire reads about 0 V, a short the supply.
    """

    channel: int = Field(ge=0, le=7)
    low_v: float = Field(gt=0.0, lt=3.3)
    high_v: float = Field(gt=0.0, lt=3.3)
    low: float
    high: float
    margin_v: float = Field(default=0.1, gt=0.0, lt=1.0)

    @model_validator(mode="after")
    def _live_zero(self) -> Self:
        if self.high_v <= self.low_v:
            raise ValueError("high_v must be above low_v")
        if self.high <= self.low:
            raise ValueError("high must be above low")
        if self.low_v - self.margin_v <= 0.0 or self.high_v + self.margin_v >= 3.3:
            raise ValueError("low_v and high_v must stay margin_v clear of 0 V and 3.3 V, or a broken wire hides")
        return self


OptionalTransmitter = Annotated[Transmitter | None, BeforeValidator(_absent)]


class Servo(_Table):
    """The damper's servo: pulse widths at its two ends, and how often they are sent.

    The pin library drives whole percents of a period, so at 50 Hz a step is 0.2 ms and the damper has few places to
    stand; a servo that takes 200 Hz gets four times as many. What is read back is the place it was really sent to.
    """

    pin: Pin = 19
    shut_ms: float = Field(default=1.0, gt=0.0, le=3.0)
    open_ms: float = Field(default=2.0, gt=0.0, le=3.0)
    hz: float = Field(default=50.0, ge=40.0, le=330.0)

    @model_validator(mode="after")
    def _steps(self) -> Self:
        if abs(self.open_ms - self.shut_ms) * self.hz < 20.0:
            raise ValueError("shut_ms and open_ms are less than 2 % of a period apart: too close together")
        return self


OptionalServo = Annotated[Servo | None, BeforeValidator(_absent)]


class Wiring(_Table):
    """The whole terminal list. Only the auger and the chamber probe must be there."""

    probes: dict[str, Probe] = Field(
        default_factory=lambda: {
            "chamber": Probe(select=5, type="S"),
            "flue": Probe(select=6, type="K"),
            "limit": Probe(select=4, type="S"),
        }
    )
    mains_hz: Literal[50, 60] = 50
    cold_junction_low_c: int = Field(default=-20, ge=-55, le=125)
    cold_junction_high_c: int = Field(default=85, ge=-55, le=125)

    draught: OptionalTransmitter = Transmitter(channel=0, low_v=0.333, high_v=3.0, low=-25.0, high=100.0)
    feed_tube: OptionalTransmitter = Transmitter(channel=1, low_v=0.333, high_v=3.0, low=-40.0, high=160.0)
    oxygen: OptionalTransmitter = None
    """The controller of a wide-range oxygen probe in the flue: volts in proportion to the air ratio."""

    auger: Pin = OUTPUT_PINS["auger"]
    fan: OptionalPin = OUTPUT_PINS["fan"]
    fan_hz: int = Field(default=100, ge=10, le=1000)
    damper: OptionalServo = None
    horn: OptionalPin = OUTPUT_PINS["horn"]
    lamp: OptionalPin = OUTPUT_PINS["lamp"]
    keep_alive: OptionalPin = OUTPUT_PINS["keep_alive"]

    airflow: OptionalPin = 24
    flame: OptionalPin = 25
    shaft: OptionalPin = 12
    stop: OptionalPin = 16
    confirm: OptionalPin = 20
    reset: OptionalPin = 21
    co_alarm: OptionalPin = None

    @classmethod
    def from_options(cls, options: Mapping[str, object]) -> Wiring:
        """Check a `[rig]` table. Raises ValueError with one line for every wrong key, value and doubly used pin."""
        complaints: list[str] = []
        left = dict(options)
        left.pop("factory", None)  # names the rig itself; it was used to get here
        while True:
            try:
                wiring = cls.model_validate(left)
                break
            except ValidationError as error:
                fresh = [(".".join(map(str, item["loc"])), item["msg"]) for item in error.errors()]
                complaints += [f"rig.{where}: {what}" for where, what in fresh]
                # go on without the tables that are wrong, so that a clash between the others is named as well
                for where, _ in fresh:
                    left.pop(where.split(".")[0], None)
        complaints += wiring.clashes()
        if complaints:
            raise ValueError("\n".join(complaints))
        return wiring

    def pins(self) -> Iterator[tuple[str, int]]:
        """Every terminal that is wired, with its pin."""
        for name, probe in self.probes.items():
            yield f"probes.{name}.select", probe.select
        if self.damper is not None:
            yield "damper.pin", self.damper.pin
        for name in _PLAIN_PINS:
            pin = getattr(self, name)
            if pin is not None:
                yield name, pin

    def clashes(self) -> list[str]:
        """Say what can't be as wired, one line for each: a missing chamber probe, a pin or a channel used twice."""
        pins = list(self.pins())
        lines = [f"rig.{name}: pin {pin} belongs to {TAKEN_PINS[pin]}" for name, pin in pins if pin in TAKEN_PINS]
        for pin, count in Counter(pin for _, pin in pins).items():
            if count > 1:
                lines.append(f"pin {pin} is used {count} times: {', '.join(f'rig.{n}' for n, p in pins if p == pin)}")
        if "chamber" not in self.probes:
            lines.append("rig.probes.chamber: missing; the kiln can't be fired without it")
        gauges = [(name, gauge) for name in _GAUGES if (gauge := getattr(self, name)) is not None]
        for (one, gauge), (other, its) in combinations(gauges, 2):
            if gauge.channel == its.channel:
                lines.append(f"rig.{one} and rig.{other} both use converter channel {gauge.channel}")
        if self.cold_junction_low_c >= self.cold_junction_high_c:
            lines.append("rig.cold_junction_low_c must be below rig.cold_junction_high_c")
        return lines


_GAUGES = ("draught", "feed_tube", "oxygen")
_PLAIN_PINS = (
    "auger",
    "fan",
    "horn",
    "lamp",
    "keep_alive",
    "airflow",
    "flame",
    "shaft",
    "stop",
    "confirm",
    "reset",
    "co_alarm",
)
