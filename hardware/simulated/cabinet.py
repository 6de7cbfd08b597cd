"""The control cabinet: relays, watchdog, switches and sensors between the board's pins and the kiln."""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from random import Random

from hardware.simulated.pins import EmulatedFactory, EmulatedPin
from hardware.simulated.world import World
from hardware.wiring import Servo, Wiring

WATCHDOG_S = 1.0  # the watchdog relay drops when its pulse has not changed for this long
AIRFLOW_CLOSES_PA = 5.0  # a small differential pressure switch, set near its lowest (memory)
AIRFLOW_OPENS_PA = 3.5
WHEEL_CHANGE_S = 0.2  # running time of the auger between two level changes of the shaft's wheel
FLICKER_FRAC = 0.05  # share of looks at which a burning pellet fire happens to show the eye no flame
CABINET_WARMER_K = 6.0  # the amplifiers sit in a box beside the kiln, a little warmer than the room
TORCH_K = 800.0  # how much hotter a gas torch makes the sheaths it plays on...
TORCH_K_PER_S = 4.0  # ...and how fast


class Relay:
    """A relay's contact: closed while its coil is driven, unless it has welded shut or burnt open."""

    __slots__ = ("_driven", "_stuck", "_tell")

    def __init__(self, tell: Callable[[], None]) -> None:
        self._driven = False
        self._stuck: bool | None = None
        self._tell = tell

    @property
    def closed(self) -> bool:
        """True while the contact carries current."""
        return self._driven if self._stuck is None else self._stuck

    def drive(self, level: float) -> None:
        """The coil's level changes."""
        self._driven = bool(level)
        self._tell()

    def weld_shut(self) -> None:
        """The contact welds: it stays closed whatever the coil does."""
        self._stuck = True
        self._tell()

    def fail_open(self) -> None:
        """The contact burns away: it stays open whatever the coil does."""
        self._stuck = False
        self._tell()

    def repair(self) -> None:
        """Put in a new relay."""
        self._stuck = None
        self._tell()


def _unwired(_grounded: bool) -> None:
    """No input is wired to the contact."""


class Contact:
    """A switch between an input and ground, and the wire to it; it tells `on_ground` when it pulls down or lets go."""

    __slots__ = ("_broken", "_closed", "_jammed", "on_ground")

    def __init__(self, closed: bool = False) -> None:
        self._closed = closed
        self._broken = False
        self._jammed = False
        self.on_ground: Callable[[bool], None] = _unwired

    @property
    def closed(self) -> bool:
        """True while whatever works the switch holds it closed."""
        return self._closed

    @closed.setter
    def closed(self, closed: bool) -> None:
        if closed is not self._closed:
            self._closed = closed
            self.tell()

    def tell(self) -> None:
        """Tell whether the input is pulled to ground."""
        self.on_ground((self._closed or self._jammed) and not self._broken)

    def wire_breaks(self) -> None:
        """The wire breaks."""
        self._broken = True
        self.tell()

    def jams(self) -> None:
        """The contact sticks closed, whatever works it."""
        self._jammed = True
        self.tell()

    def repair(self) -> None:
        """Mend wire and contact."""
        self._broken = self._jammed = False
        self.tell()


class Cabinet:
    """Everything between the pins and the kiln, and its own small faults."""

    def __init__(
        self, factory: EmulatedFactory, wiring: Wiring, world: World, random: Random, watchdog_fitted: bool
    ) -> None:
        """Wire the cabinet; with `watchdog_fitted` a relay in the auger's line wants to see `keep_alive` move."""
        self._world = world
        self._random = random.random
        self._now_s = 0.0
        self._pulsed_at_s = -inf  # none yet: the watchdog's contact is open until pulses come
        self.watchdog_closed = not (watchdog_fitted and wiring.keep_alive is not None)
        self._watchdog_fitted = not self.watchdog_closed
        self.auger_relay = Relay(self._feed_line)
        self.airflow = Contact()
        self.flame = Contact()
        self.shaft = Contact()
        self.stop = Contact(closed=True)
        self.confirm = Contact()
        self.reset = Contact()
        self.co_alarm = Contact(closed=True)
        self.horn_sounding = False
        self.lamp_lit = False
        self.eye_dirty = False
        self.torch_lit = False
        self.torch_k = 0.0
        self._turned_s = 0.0
        self._servo: Servo | None = wiring.damper
        self._servo_dead = False
        self._wire_outputs(factory, wiring)
        self._wire_inputs(factory, wiring)

    def _wire_outputs(self, factory: EmulatedFactory, wiring: Wiring) -> None:
        def wire(pin: int | None, on_level: Callable[[float], None]) -> None:
            if pin is not None:
                emulated: EmulatedPin = factory.pin(pin)
                emulated.on_level = on_level

        wire(wiring.auger, self.auger_relay.drive)
        wire(wiring.fan, self._on_fan)
        wire(wiring.horn, self._on_horn)
        wire(wiring.lamp, self._on_lamp)
        wire(wiring.keep_alive, self._on_pulse)
        if wiring.damper is not None:
            wire(wiring.damper.pin, self._on_servo)

    def _wire_inputs(self, factory: EmulatedFactory, wiring: Wiring) -> None:
        for pin, contact in (
            (wiring.airflow, self.airflow),
            (wiring.flame, self.flame),
            (wiring.shaft, self.shaft),
            (wiring.stop, self.stop),
            (wiring.confirm, self.confirm),
            (wiring.reset, self.reset),
            (wiring.co_alarm, self.co_alarm),
        ):
            if pin is not None:
                emulated: EmulatedPin = factory.pin(pin)
                contact.on_ground = emulated.ground
                contact.tell()

    # outputs

    def _feed_line(self) -> None:
        self._world.auger_powered = self.auger_relay.closed and self.watchdog_closed

    def _on_fan(self, level: float) -> None:
        self._world.fan_frac = float(level)

    def _on_horn(self, level: float) -> None:
        self.horn_sounding = bool(level)

    def _on_lamp(self, level: float) -> None:
        self.lamp_lit = bool(level)

    def _on_pulse(self, _level: float) -> None:
        self._pulsed_at_s = self._now_s
        if not self.watchdog_closed:
            self.watchdog_closed = True
            self._feed_line()

    def _on_servo(self, level: float) -> None:
        servo = self._servo
        if servo is not None and level > 0.0 and not self._servo_dead:  # without pulses a servo stays where it is
            pulse_ms = level * 1000.0 / servo.hz
            frac = (pulse_ms - servo.shut_ms) / (servo.open_ms - servo.shut_ms)
            self._world.damper_frac = min(1.0, max(0.0, frac))

    def damper_sticks(self) -> None:
        """The servo dies and the damper stays where it is."""
        self._servo_dead = True

    def damper_falls_shut(self) -> None:
        """The damper's hold gives way and it falls shut; a servo then turns in vain."""
        self._servo_dead = True
        self._world.damper_frac = 0.0

    # time

    def tick(self, now_s: float, dt_s: float) -> None:
        """Let the switches and sensors follow the kiln, which has just lived through `dt_s`."""
        self._now_s = now_s
        world = self._world
        if self._watchdog_fitted and self.watchdog_closed and now_s - self._pulsed_at_s > WATCHDOG_S:
            self.watchdog_closed = False
            self._feed_line()
        draught_pa = world.draught_pa
        if draught_pa > AIRFLOW_CLOSES_PA:
            self.airflow.closed = True
        elif draught_pa < AIRFLOW_OPENS_PA:
            self.airflow.closed = False
        self.flame.closed = world.flame and not self.eye_dirty and self._random() >= FLICKER_FRAC
        if world.shaft_turning:
            self._turned_s += dt_s
            self.shaft.closed = bool(int(self._turned_s / WHEEL_CHANGE_S) & 1)
        if self.torch_lit:
            self.torch_k = min(TORCH_K, self.torch_k + TORCH_K_PER_S * dt_s)
