"""The site: kiln, cabinet, chips and copper, with a person's hands and everything that can break; no board drives it.

`rig.py` puts a board on it in the same process; `apart.py` lets it live in a process of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from random import Random

from hardware.port import Hands
from hardware.simulated.cabinet import CABINET_WARMER_K, Cabinet
from hardware.simulated.clock import SimulatedClock
from hardware.simulated.faults import Fault, faults
from hardware.simulated.hands import KilnHands
from hardware.simulated.max31856 import Max31856
from hardware.simulated.mcp3008 import Mcp3008
from hardware.simulated.pins import EmulatedFactory
from hardware.simulated.plant import Plant
from hardware.simulated.spi import SpiWires
from hardware.wiring import Transmitter, Wiring

CONVERTER_SELECT = 8


class Site:
    """What the terminals are wired to, with `hands` for the attendant, faults by name, and the parts to look at.

    Its time passes only while somebody calls `clock.wait_until`: `speed` times faster than real time, or flat out.
    """

    def __init__(self, plant: Plant, wiring: Wiring, seed: int, watchdog: bool, speed: float | None = None) -> None:
        self.world = plant
        self.wires = SpiWires()
        self.pins = EmulatedFactory(self.wires)
        self.cabinet = Cabinet(self.pins, wiring, plant, Random(f"flame {seed}"), watchdog_fitted=watchdog)
        self.clock = SimulatedClock(plant, self.cabinet, speed)
        self.chips = {name: self._amplifier(name, wiring, seed) for name in wiring.probes}
        self.converter = self._converter(wiring, seed)
        self.hands: Hands = KilnHands(plant, self.cabinet, damper_by_hand=wiring.damper is None)
        self._faults: dict[str, Fault] = faults(plant, self.cabinet, self.chips, self.converter, self.wires, wiring)

    def _amplifier(self, name: str, wiring: Wiring, seed: int) -> Max31856:
        probe = wiring.probes[name]
        plant = self.world
        chip = Max31856(
            probe.type,
            self._hot_junction(name),
            lambda: plant.room_c + CABINET_WARMER_K,
            self.clock.now_s,
            Random(f"{name} {seed}"),
        )
        self.pins.pin(probe.select).on_level = self.wires.attach_to_pin(chip)
        return chip

    def _hot_junction(self, name: str) -> Callable[[], float]:
        """Say where the probe of that name sits; one the kiln knows nothing of hangs in the room."""
        plant, cabinet = self.world, self.cabinet
        match name:
            case "chamber":
                return lambda: plant.chamber_sheath_c + cabinet.torch_k
            case "limit":
                return lambda: plant.limit_sheath_c + cabinet.torch_k
            case "flue":
                return lambda: plant.flue_sheath_c
            case _:
                return lambda: plant.room_c

    def _converter(self, wiring: Wiring, seed: int) -> Mcp3008:
        plant = self.world
        converter = Mcp3008(Random(f"converter {seed}"))
        if wiring.draught is not None:
            converter.wire(wiring.draught.channel, _transmitter(wiring.draught, lambda: plant.draught_pa))
        if wiring.feed_tube is not None:
            converter.wire(wiring.feed_tube.channel, _transmitter(wiring.feed_tube, lambda: plant.feed_tube_c))
        if wiring.oxygen is not None:
            converter.wire(wiring.oxygen.channel, _transmitter(wiring.oxygen, lambda: plant.flue_air_ratio))
        self.wires.attach_to_port(CONVERTER_SELECT, converter)
        return converter

    def fault_names(self) -> Mapping[str, str]:
        """Return every fault this kiln can have: name and one line of what breaks."""
        return {name: fault.line for name, fault in self._faults.items()}

    def inject(self, name: str) -> None:
        """Break it now. Raises KeyError for a name it doesn't know."""
        self._faults[name].strike()

    def mend(self) -> None:
        """Mend what broke between the pins and the kiln: wires, contacts, relay, amplifiers, copper. Stop is let go."""
        cabinet = self.cabinet
        self.wires.repair()
        self.converter.repair()
        cabinet.auger_relay.repair()
        cabinet.stop.closed = cabinet.co_alarm.closed = True
        cabinet.torch_lit = cabinet.eye_dirty = False
        for chip in self.chips.values():
            chip.repair()
        for contact in (cabinet.airflow, cabinet.flame, cabinet.shaft, cabinet.stop, cabinet.confirm, cabinet.reset,
                        cabinet.co_alarm):  # fmt: skip
            contact.repair()


def _transmitter(line: Transmitter, value: Callable[[], float]) -> Callable[[], float]:
    """An instrument that sends `value` as volts; at the ends of its range it sends the end."""
    low_v, low, high = line.low_v, line.low, line.high
    per_unit = (line.high_v - low_v) / (high - low)

    def volts() -> float:
        seen = value()
        seen = low if seen < low else high if seen > high else seen
        return low_v + (seen - low) * per_unit

    return volts
