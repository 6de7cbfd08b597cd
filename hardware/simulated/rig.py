"""The simulated rig: the shipped drivers on emulated pins and chips, in a kiln that lives in simulated time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from hardware.board import Board
from hardware.port import Outputs, Readings
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln
from hardware.simulated.plant import Plant
from hardware.simulated.site import Site
from hardware.wiring import Wiring


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


class SimulatedRig(Site):
    """The port's `Rig`: a site and, in the same process, the board that is wired to it."""

    def __init__(self, plant: Plant, wiring: Wiring, scenario: Scenario) -> None:
        super().__init__(plant, wiring, scenario.seed, scenario.watchdog, scenario.speed)
        self._board = Board(self.pins, wiring, self.clock, "sim")

    def read(self, due_s: float) -> Readings:
        """Let the kiln live until `due_s`, then read every instrument."""
        return self._board.read(due_s)

    def write(self, wanted: Outputs) -> Outputs:
        """Drive the outputs; return the levels read back."""
        return self._board.write(wanted)

    def close(self) -> None:
        """Drive everything off and give the pins back."""
        self._board.close()


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
