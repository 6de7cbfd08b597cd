"""The witness: sees every change of the outputs and of the auger's power, with its moment, and does what it is asked.

Moments are seconds of the machine's monotonic clock, which is the same in every process.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

from hardware.simulated.pins import EmulatedPin
from hardware.simulated.site import Site
from hardware.wiring import Wiring

KEPT = 8000  # changes; the keep-alive makes ten a second
Change = tuple[float, str, float]
"""When, what, and its level since: 1 is high, closed, powered."""
Truth = dict[str, float | bool | dict[str, float]]


class Witness:
    """Stands beside the site with a clock, and tells an observer what really is."""

    def __init__(self, site: Site, wiring: Wiring, real_s: Callable[[], float]) -> None:
        """Watch the outputs that are wired, the watchdog's contact and the auger's power."""
        self._site = site
        self._real_s = real_s
        self._poured_kg = site.world.hopper_kg
        cabinet, world = site.cabinet, site.world
        self._watched: dict[str, Callable[[], float]] = {
            "auger_powered": lambda: float(world.auger_powered),
            "watchdog": lambda: float(cabinet.watchdog_closed),
            "auger_contact": lambda: float(cabinet.auger_relay.closed),
        }
        self.outputs: dict[str, EmulatedPin] = {}
        servo = wiring.damper
        for name, number in (
            ("auger", wiring.auger),
            ("keep_alive", wiring.keep_alive),
            ("fan", wiring.fan),
            ("horn", wiring.horn),
            ("lamp", wiring.lamp),
            ("damper", servo.pin if servo is not None else None),
        ):
            if number is not None:
                self.outputs[name] = site.pins.pin(number)
        self._last: dict[str, float] = {}
        self._changes: deque[Change] = deque(maxlen=KEPT)
        self.look()

    def look(self) -> None:
        """Note what has changed since the last look."""
        at_s, last = self._real_s(), self._last
        for name, pin in self.outputs.items():
            level = pin.line
            if last.get(name) != level:
                last[name] = level
                self._changes.append((at_s, name, level))
        for name, value in self._watched.items():
            level = value()
            if last.get(name) != level:
                last[name] = level
                self._changes.append((at_s, name, level))

    def note(self, what: str, value: float) -> None:
        """Note something that happened to the site itself."""
        self._changes.append((self._real_s(), what, value))

    # what an observer may ask

    def truth(self) -> Truth:
        """What really is at this moment."""
        site, last = self._site, self._last
        world = site.world
        return {
            "at_s": self._real_s(),
            "now_s": site.clock.now_s(),
            "outputs": {name: last[name] for name in self.outputs},
            "auger_contact": bool(last["auger_contact"]),
            "watchdog_closed": bool(last["watchdog"]),
            "auger_powered": world.auger_powered,
            "hopper_kg": world.hopper_kg,
            "fed_kg": self._poured_kg - world.hopper_kg,
            "chamber_c": world.chamber_sheath_c + site.cabinet.torch_k,
            "draught_pa": world.draught_pa,
            "flue_air_ratio": world.flue_air_ratio,
            "flame": world.flame,
        }

    def since(self, at_s: float) -> list[Change]:
        """Every change from that moment on, as far back as it is remembered."""
        return [change for change in self._changes if change[0] >= at_s]

    def inject(self, name: str) -> float:
        """Break it, and say when. Raises KeyError for a fault that the site doesn't know."""
        at_s = self._real_s()
        self._site.inject(name)
        return at_s

    def mend(self) -> None:
        """Mend what broke between the pins and the kiln."""
        self._site.mend()

    def press(self, button: str, pressed: bool) -> float:
        """Press or let go `stop`, `confirm` or `reset`, and say when. Raises KeyError for any other."""
        at_s = self._real_s()
        self._site.hands.press(button, pressed)
        return at_s

    def light_charcoal(self, kg: float) -> None:
        """Lay and light charcoal."""
        self._site.hands.light_charcoal(kg)

    def fill_hopper(self, kg: float) -> None:
        """Pour pellets in."""
        self._poured_kg += kg
        self._site.hands.fill_hopper(kg)

    def rake_ash(self) -> None:
        """Rake the grate clear."""
        self._site.hands.rake_ash()

    def set_damper(self, frac: float) -> None:
        """Move the damper by hand."""
        self._site.hands.set_damper(frac)

    def fault_names(self) -> dict[str, str]:
        """Every fault that can be injected, with one line of what breaks."""
        return dict(self._site.fault_names())
