"""The board: every driver behind the port, on one gpiozero pin factory, real or emulated.

The shipped drivers run unchanged on both: the real factory comes from `hardware.pi`, the emulated one from
`hardware.simulated`. Nothing here starts a thread, a timer or a callback: pins move in `write`, and in `close`.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from itertools import cycle
from typing import Any, Protocol

from gpiozero import InputDevice, OutputDevice, PWMOutputDevice
from gpiozero.exc import SPISoftwareFallback

from hardware.contact import Shaft, closed, opened
from hardware.drive import place, switch, turn
from hardware.gauge import Channel, Gauge, Kind
from hardware.maker import maker
from hardware.port import NOT_FITTED, AirRatio, Blind, Draught, NotFitted, Outputs, Readings, RigFault, Temperature
from hardware.thermocouple import Amplifier, ChipSelect, ThermocoupleBus
from hardware.wiring import Transmitter, Wiring

CHAMBER = "chamber"
LOOK_AT_THE_BOARD = "Look at the terminal, the ribbon and the power of the board."
GAP_S = 0.25  # after a longer gap between two scans nothing is handed on: everything is read again

new_readings, new_outputs = maker(Readings), maker(Outputs)


class Clock(Protocol):
    """The rig's time: monotonic seconds for decisions, Unix seconds for people, and the wait between scans."""

    def now_s(self) -> float:
        """Return the monotonic time."""

    def utc_s(self) -> float:
        """Return the time for people."""

    def wait_until(self, due_s: float) -> None:
        """Come back when `due_s` is reached; at once when it is past."""


@contextmanager
def _pins(doing: str) -> Iterator[None]:
    """Turn whatever a pin or bus driver raises into the port's one error."""
    try:
        yield
    except RigFault:
        raise
    except Exception as error:
        busy = "busy" in str(error).lower()
        look = "Another process holds it: does a daemon run already?" if busy else LOOK_AT_THE_BOARD
        raise RigFault(f"{doing}: {error!r}. {look}") from error


class Board:
    """One kiln's terminals. Implements the port's `Rig`."""

    def __init__(self, factory: Any, wiring: Wiring, clock: Clock, name: str) -> None:
        """Claim every pin, outputs off, amplifiers set up. Raises RigFault; `name` is `pi` or `sim`."""
        self._clock = clock
        self._name = name
        self._open = True
        self._held = ExitStack()
        self._held.callback(factory.close)
        self._factory = factory
        try:
            with _pins("A terminal can't be set up"), warnings.catch_warnings():
                warnings.simplefilter("error", SPISoftwareFallback)  # no SPI is a fault, not a reason to go slow
                self._set_up(wiring)
        except RigFault:
            self._held.close()
            raise

    def _set_up(self, wiring: Wiring) -> None:
        self._auger = self._output(wiring.auger)  # first, so that it is off before anything else can fail
        self._fan = self._pwm(wiring.fan, wiring.fan_hz)
        self._damper_servo = wiring.damper
        self._damper = None if wiring.damper is None else self._pwm(wiring.damper.pin, wiring.damper.hz)
        self._horn = self._output(wiring.horn)
        self._lamp = self._output(wiring.lamp)
        self._keep_alive = self._output(wiring.keep_alive)
        self._airflow = self._input(wiring.airflow)
        self._flame = self._input(wiring.flame)
        shaft = self._input(wiring.shaft)
        self._shaft = None if shaft is None else Shaft(shaft)
        self._stop = self._input(wiring.stop)
        self._confirm = self._input(wiring.confirm)
        self._reset = self._input(wiring.reset)
        self._co_alarm = self._input(wiring.co_alarm)
        selects = {
            name: ChipSelect(self._keep(OutputDevice(probe.select, initial_value=True, pin_factory=self._factory)))
            for name, probe in wiring.probes.items()
        }  # all of them high before the first byte moves, or two chips answer at once
        bus = ThermocoupleBus(self._keep(self._factory.spi(port=0, device=1)))
        turns = len(wiring.probes)  # the other probes and the feed tube
        amplifiers = {
            name: Amplifier(
                bus, selects[name], f"{self._name}:{name}", probe, wiring, 0.0 if name == CHAMBER else turns * GAP_S
            )
            for name, probe in wiring.probes.items()
        }
        self._chamber = amplifiers.pop(CHAMBER)
        self._others = others = tuple(amplifiers.items())
        self._turns = cycle([*others[1:], None, *others[:1]])  # None: the feed tube's
        self._probes_at_s = 0.0
        self._probes: dict[str, Temperature | Blind] = {}
        self._feed_tube_seen: Temperature | Blind | NotFitted = NOT_FITTED
        self._draught = self._gauge(wiring.draught, "draught", Draught)
        self._feed_tube = self._gauge(wiring.feed_tube, "feed_tube", Temperature)
        self._oxygen = self._gauge(wiring.oxygen, "oxygen", AirRatio)

    def _keep(self, device: Any) -> Any:
        self._held.callback(device.close)
        return device

    def _output(self, pin: int | None) -> Any:
        """An on/off output, off from the start."""
        return None if pin is None else self._keep(OutputDevice(pin, pin_factory=self._factory)).pin

    def _pwm(self, pin: int | None, hz: float) -> Any:
        """A pulsed output, off from the start."""
        return None if pin is None else self._keep(PWMOutputDevice(pin, frequency=hz, pin_factory=self._factory)).pin

    def _input(self, pin: int | None) -> Any:
        """An input with a pull-up: a contact to ground reads low when closed, high when open or its wire is broken."""
        return None if pin is None else self._keep(InputDevice(pin, pull_up=True, pin_factory=self._factory)).pin

    def _gauge(self, transmitter: Transmitter | None, name: str, kind: type[Kind]) -> Gauge[Kind] | None:
        if transmitter is None:
            return None
        channel = self._keep(Channel(transmitter.channel, self._factory))
        return Gauge(channel, transmitter, f"{self._name}:{name}", kind)

    def read(self, due_s: float) -> Readings:
        """Wait until `due_s`, then read every instrument once. Raises RigFault when a pin can't be read."""
        if not self._open:
            raise RigFault("The rig is closed. Open it again to read it.")
        clock = self._clock
        clock.wait_until(due_s)
        now_s = clock.now_s()
        probes = self._read_probes(now_s)
        draught, shaft, oxygen = self._draught, self._shaft, self._oxygen
        try:
            return new_readings(
                now_s,
                clock.utc_s(),
                probes,
                self._feed_tube_seen,
                NOT_FITTED if draught is None else draught.read(),
                closed(self._airflow),  # closes when air flows; broken wire: no airflow
                closed(self._flame),  # closes when it sees flame; broken wire: no flame
                NOT_FITTED if shaft is None else shaft.turning(now_s),
                opened(self._stop),  # normally closed loop; broken wire: pressed
                closed(self._confirm),  # broken wire: not pressed
                closed(self._reset),  # broken wire: not pressed
                opened(self._co_alarm),  # normally closed; broken wire: alarm
                NOT_FITTED if oxygen is None else oxygen.read(),
            )
        except Exception as error:
            raise RigFault(f"An input can't be read: {error!r}. Look at the board and its ribbon.") from error

    def _read_probes(self, now_s: float) -> dict[str, Temperature | Blind]:
        """Read the chamber in every scan and what moves slowly in turn, one a scan; all of it after a gap."""
        chamber = self._chamber.read(now_s)
        gap, self._probes_at_s = now_s - self._probes_at_s > GAP_S, now_s
        if gap or not self._probes:
            seen = {CHAMBER: chamber} | {name: amplifier.read(now_s) for name, amplifier in self._others}
            self._read_feed_tube()
        else:
            seen = self._probes.copy()  # never the mapping that was handed on: whoever has it keeps it
            seen[CHAMBER] = chamber
            turn = next(self._turns)
            if turn is None:
                self._read_feed_tube()
            else:
                name, amplifier = turn
                seen[name] = amplifier.read(now_s)
        self._probes = seen
        return seen

    def _read_feed_tube(self) -> None:
        feed_tube = self._feed_tube
        self._feed_tube_seen = NOT_FITTED if feed_tube is None else feed_tube.read()

    def write(self, wanted: Outputs) -> Outputs:
        """Drive every output, the auger first, and return the levels read back. Raises RigFault."""
        if not self._open:
            raise RigFault("The rig is closed. Open it again to drive it.")
        try:
            auger = self._auger
            auger.state = wanted.auger
            keep_alive = switch(self._keep_alive, wanted.keep_alive)
            fan = turn(self._fan, wanted.fan_frac)
            servo = self._damper_servo
            damper = NOT_FITTED if servo is None else place(self._damper, servo, wanted.damper_frac)
            horn = switch(self._horn, wanted.horn)
            lamp = switch(self._lamp, wanted.lamp)
            return new_outputs(bool(auger.state), fan, damper, horn, lamp, keep_alive)
        except Exception as error:
            raise RigFault(f"An output can't be driven: {error!r}. Look at the board and its ribbon.") from error

    def close(self) -> None:
        """Drive everything off, the auger first, and give every pin back."""
        if not self._open:
            return
        self._open = False
        failures: list[Exception] = []
        for pin in (self._auger, self._fan, self._damper, self._horn, self._lamp, self._keep_alive):
            try:
                if pin is not None:
                    pin.state = 0
            except Exception as error:  # one dead pin must not keep the others on
                failures.append(error)
        with _pins("A terminal can't be given back"):
            self._held.close()
        if failures:
            raise RigFault(f"An output can't be driven off: {failures[0]!r}. Switch the kiln's supply off.")
