"""The simulated rig: the shipped drivers on emulated pins and chips, in a kiln that lives in simulated time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from random import Random

from hardware.board import Board
from hardware.port import Hands, Outputs, Readings
from hardware.simulated.cabinet import CABINET_WARMER_K, Cabinet
from hardware.simulated.clock import SimulatedClock
from hardware.simulated.faults import Fault, faults
from hardware.simulated.hands import KilnHands
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln
from hardware.simulated.max31856 import Max31856
from hardware.simulated.mcp3008 import Mcp3008
from hardware.simulated.pins import EmulatedFactory
from hardware.simulated.plant import Plant
from hardware.simulated.spi import SpiWires
from hardware.wiring import Transmitter, Wiring

CONVERTER_SELECT = 8


@dataclass(frozen=True, slots=True)
class Scenario:
    """What a rehearsal chooses: chance, pace, which kiln, and whether a watchdog relay is fitted."""

    seed: int = 0
    speed: float | None = None
    kiln: int | None = None
    watchdog: bool = True

    @classmethod
    def from_options(cls, options: Mapping[str, object]) -> tuple[Scenario, list[str]]:
        """Take the rehearsal's own keys from a `[rig]` table; return them, and what is wrong with them."""
        complaints = []
        seed, speed = options.get("seed", 0), options.get("speed")
        kiln, watchdog = options.get("kiln", "demo"), options.get("watchdog", True)
        if not _whole(seed):
            complaints.append(f"rig.seed: must be a whole number, not {seed!r}")
        if speed is not None and not (isinstance(speed, int | float) and not isinstance(speed, bool) and speed > 0):
            complaints.append(f"rig.speed: must be above 0 (times real time), or left out for flat out, not {speed!r}")
        if kiln != "demo" and not _whole(kiln):
            complaints.append(f'rig.kiln: must be "demo" or the whole number of a variation, not {kiln!r}')
        if not isinstance(watchdog, bool):
            complaints.append(f"rig.watchdog: must be true or false, not {watchdog!r}")
        if complaints:
            return cls(), complaints
        return cls(
            seed if isinstance(seed, int) else 0,
            float(speed) if isinstance(speed, int | float) else None,
            kiln if isinstance(kiln, int) else None,
            watchdog is True,
        ), []


SCENARIO_KEYS = ("seed", "speed", "kiln", "watchdog")


def _whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


class SimulatedRig:
    """The port's `Rig`, with `hands` for the attendant, faults by name, and the parts for tests to look at."""

    def __init__(self, plant: Plant, wiring: Wiring, scenario: Scenario) -> None:
        self.world = plant
        self.wires = SpiWires()
        self._factory = EmulatedFactory(self.wires)
        self.cabinet = Cabinet(
            self._factory, wiring, plant, Random(f"flame {scenario.seed}"), watchdog_fitted=scenario.watchdog
        )
        self.clock = SimulatedClock(plant, self.cabinet, scenario.speed)
        self.chips = {name: self._amplifier(name, wiring, scenario.seed) for name in wiring.probes}
        self.converter = self._converter(wiring, scenario.seed)
        self.hands: Hands = KilnHands(plant, self.cabinet, damper_by_hand=wiring.damper is None)
        self._faults: dict[str, Fault] = faults(plant, self.cabinet, self.chips, self.converter, self.wires, wiring)
        self._board = Board(self._factory, wiring, self.clock, "sim")

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
        self._factory.pin(probe.select).on_level = self.wires.attach_to_pin(chip)
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
        self.wires.attach_to_port(CONVERTER_SELECT, converter)
        return converter

    def read(self, due_s: float) -> Readings:
        """Let the kiln live until `due_s`, then read every instrument."""
        return self._board.read(due_s)

    def write(self, wanted: Outputs) -> Outputs:
        """Drive the outputs; return the levels read back."""
        return self._board.write(wanted)

    def close(self) -> None:
        """Drive everything off and give the pins back."""
        self._board.close()

    def fault_names(self) -> Mapping[str, str]:
        """Return every fault this kiln can have: name and one line of what breaks."""
        return {name: fault.line for name, fault in self._faults.items()}

    def inject(self, name: str) -> None:
        """Break it now. Raises KeyError for a name it doesn't know."""
        self._faults[name].strike()


def _transmitter(line: Transmitter, value: Callable[[], float]) -> Callable[[], float]:
    """An instrument that sends `value` as volts; at the ends of its range it sends the end."""
    per_unit = (line.high_v - line.low_v) / (line.high - line.low)

    def volts() -> float:
        return line.low_v + (min(max(value(), line.low), line.high) - line.low) * per_unit

    return volts


def open_rig(options: Mapping[str, object]) -> SimulatedRig:
    """Open a simulated kiln: `seed`, `speed`, `kiln`, `watchdog`, and the same wiring keys as the real board.

    Raises ValueError with a line for each bad option.
    """
    scenario, complaints = Scenario.from_options(options)
    try:
        wiring = Wiring.from_options({key: value for key, value in options.items() if key not in SCENARIO_KEYS})
    except ValueError as error:
        raise ValueError("\n".join([*complaints, str(error)])) from error
    if complaints:
        raise ValueError("\n".join(complaints))
    build = Build() if scenario.kiln is None else Build.varied(scenario.kiln)
    return SimulatedRig(Kiln(build, scenario.seed), wiring, scenario)
