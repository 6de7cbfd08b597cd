"""The border between the daemon and the world: one vocabulary, two images, one port.

`daemon` imports this module from `hardware` and nothing else. A rig of your own needs only what stands here:
an object with `read`, `write` and `close`, made by a factory that the configuration names. `hardware/README.md`
walks through one.

Units are in the names: °C, Pa, seconds; a `_frac` runs from 0 to 1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Protocol, runtime_checkable


class NotFitted(Enum):
    """The input or output does not exist on this kiln. A type of its own, so that nobody takes it for `False` or 0."""

    NOT_FITTED = "not fitted"


NOT_FITTED = NotFitted.NOT_FITTED


class Blindness(Enum):
    """Why an instrument can't be believed. The value is the wording a person reads."""

    NO_READING_YET = "no reading yet"
    OPEN_CIRCUIT = "open circuit: the thermocouple or its wire is broken or unplugged"
    VOLTAGE = "over- or under-voltage at the input: a short to the supply or to a live part"
    OUT_OF_RANGE = "out of the range this instrument can measure"
    COLD_JUNCTION = "the amplifier's own temperature (cold junction) is out of range"
    BUS_STUCK_HIGH = "the data line reads all ones: the amplifier is absent or the line is stuck high"
    BUS_STUCK_LOW = "the data line reads all zeros: the amplifier has no power or the line is stuck low"
    FORGOT_SETTINGS = "the amplifier lost its settings (a dip in its supply); its last value is frozen"
    STALE = "the value is too old"
    DRIVER_FAILED = "the driver raised an error"


@dataclass(frozen=True, slots=True)
class Blind:
    """An instrument that is fitted but can't be believed. Nobody can do sums with it, which is the point."""

    reason: Blindness
    source: str = ""


@dataclass(frozen=True, slots=True)
class Temperature:
    """A believed temperature: °C, how many seconds old it is, and who measured it (`pi:chamber`, `sim:chamber`)."""

    value_c: float
    age_s: float
    source: str


@dataclass(frozen=True, slots=True)
class Draught:
    """A believed draught: the pressure that pushes air through the fire, Pa, and its age in seconds."""

    value_pa: float
    age_s: float
    source: str


@dataclass(frozen=True, slots=True)
class AirRatio:
    """What the oxygen probe in the flue reads, as an air ratio, and its age in seconds.

    The air over the air that just burns the fuel burning now; 1 is just enough, below it gas leaves unburnt. The top of
    the probe's range means that much or more.
    """

    value: float
    age_s: float
    source: str


@dataclass(frozen=True, slots=True)
class Readings:
    """The reading image: everything the daemon may know about the world at one moment.

    `now_s` is the rig's monotonic clock; decisions use nothing else for time. `utc_s` (Unix seconds) is for people.
    `probes` always has `chamber`; `flue` and `limit` (an independent over-temperature probe) mean what they say, any
    other name is recorded only. What a rig leaves out is not fitted.
    """

    now_s: float
    utc_s: float
    probes: Mapping[str, Temperature | Blind]
    feed_tube: Temperature | Blind | NotFitted = NOT_FITTED
    draught: Draught | Blind | NotFitted = NOT_FITTED
    airflow_proven: bool | NotFitted = NOT_FITTED
    flame_seen: bool | NotFitted = NOT_FITTED
    shaft_turning: bool | NotFitted = NOT_FITTED
    """True while the auger's shaft was seen turning within the last second."""
    stop_pressed: bool | NotFitted = NOT_FITTED
    """Wired normally closed: a broken wire reads as pressed."""
    confirm_pressed: bool | NotFitted = NOT_FITTED
    reset_pressed: bool | NotFitted = NOT_FITTED
    co_alarm: bool | NotFitted = NOT_FITTED
    oxygen: AirRatio | Blind | NotFitted = NOT_FITTED


@dataclass(frozen=True, slots=True)
class Outputs:
    """The output image. As an argument of `write` it is what is wanted; as its result, the levels read back.

    `auger` closes the contact that lets the auger turn. `fan_frac` 0 is off, 1 is full speed. `damper_frac` 0 is shut,
    1 is open. `keep_alive` is the level of the pulse that an external watchdog relay listens to.
    """

    auger: bool = False
    fan_frac: float | NotFitted = 0.0
    damper_frac: float | NotFitted = NOT_FITTED
    horn: bool | NotFitted = False
    lamp: bool | NotFitted = False
    keep_alive: bool | NotFitted = False


class RigFault(Exception):
    """The world can't be reached at all (no board, no bus, a pin that can't be written). Says what to look at."""


class Rig(Protocol):
    """One kiln's hardware, real or simulated: one read, one write. Used from one thread only."""

    def read(self, due_s: float) -> Readings:
        """Wait until the rig's clock has reached `due_s`, then read everything once.

        A `due_s` already past returns at once. Raises RigFault when nothing can be read; a single bad instrument is a
        Blind in the image, never an exception and never a wait.
        """

    def write(self, wanted: Outputs) -> Outputs:
        """Drive the outputs once; return the levels read back. Raises RigFault if a pin can't be written or read."""

    def close(self) -> None:
        """Drive everything off and give the hardware back. After it the rig can't be used."""


class RigFactory(Protocol):
    """What `--rig package.module:factory` and `rig.factory` in the configuration name."""

    def __call__(self, options: Mapping[str, object]) -> Rig:
        """Open the rig. `options` is the configuration's `[rig]` table; a rehearsal adds `seed` (int) and `speed`
        (float: times real time; `None`: flat out). Raises RigFault, or ValueError naming a bad option.
        """


@dataclass(frozen=True, slots=True)
class Sight:
    """What a person sees who walks up to a (simulated) kiln and looks: gauge, spy-hole, hopper."""

    gauge_pa: float
    flame_clear: bool
    smoke: bool
    hopper_kg: float


class Hands(Protocol):
    """What a person does at a simulated kiln. Only a rehearsal's attendant uses it; the daemon never does."""

    def look(self) -> Sight:
        """Look at the gauge, through the spy-hole and into the hopper."""

    def light_charcoal(self, kg: float) -> None:
        """Lay and light this much charcoal on the grate, then shut the door."""

    def fill_hopper(self, kg: float) -> None:
        """Pour pellets into the hopper."""

    def set_damper(self, frac: float) -> None:
        """Move the damper by hand: 0 shut, 1 open. Does nothing where a servo holds it."""

    def rake_ash(self) -> None:
        """Rake the grate clear of ash."""

    def press(self, button: str, pressed: bool) -> None:
        """Press (True) or let go (False) `stop`, `confirm` or `reset`."""


@runtime_checkable
class AttendedRig(Protocol):
    """A simulated rig that gives the rehearsal's attendant hands. A rig without them is attended by words alone."""

    hands: Hands


@runtime_checkable
class BreakableRig(Protocol):
    """A simulated rig whose parts can be broken on purpose, for `--fault NAME@TIME`."""

    def fault_names(self) -> Mapping[str, str]:
        """The faults it knows: name → one line of what breaks."""

    def inject(self, name: str) -> None:
        """Break it now. Raises KeyError for a name it doesn't know."""


__all__ = [
    "NOT_FITTED",
    "AirRatio",
    "AttendedRig",
    "Blind",
    "Blindness",
    "BreakableRig",
    "Draught",
    "Hands",
    "NotFitted",
    "Outputs",
    "Readings",
    "Rig",
    "RigFactory",
    "RigFault",
    "Sight",
    "Temperature",
]
