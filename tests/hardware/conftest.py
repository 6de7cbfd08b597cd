"""A kiln that stands still, so that the wiring can be looked at without a fire, and rigs made on it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest

from hardware.simulated.plant import Plant
from hardware.simulated.rig import Scenario, SimulatedRig
from hardware.wiring import Wiring


@dataclass
class StillKiln:
    """Every quantity stays where a test puts it; what is done to it is noted."""

    auger_powered: bool = False
    fan_frac: float = 0.0
    damper_frac: float = 0.5
    chamber_sheath_c: float = 800.0
    flue_sheath_c: float = 500.0
    limit_sheath_c: float = 810.0
    feed_tube_c: float = 30.0
    draught_pa: float = 37.0
    room_c: float = 15.0
    flame: bool = False
    shaft_turning: bool = False
    air_kg_per_s: float = 0.0
    hopper_kg: float = 10.0
    smoke_frac: float = 0.0
    flue_air_ratio: float = 1.35
    done: list[str] = field(default_factory=list)

    def step(self, dt_s: float) -> None:
        """Nothing changes, but the shaft turns while the auger has power."""
        self.shaft_turning = self.auger_powered

    def light_charcoal(self, kg: float) -> None:
        """Note it."""
        self.done.append(f"light {kg}")

    def fill_hopper(self, kg: float) -> None:
        """Take the pellets."""
        self.hopper_kg += kg

    def rake_ash(self) -> None:
        """Note it."""
        self.done.append("rake")

    def open_door(self) -> None:
        """Note it."""
        self.done.append("open door")

    def shut_door(self) -> None:
        """Note it."""
        self.done.append("shut door")

    def bridge_hopper(self) -> None:
        """Note it."""
        self.done.append("bridge")

    def jam_auger(self) -> None:
        """Note it."""
        self.done.append("jam")

    def stop_fan(self) -> None:
        """Note it."""
        self.done.append("stop fan")

    def block_flue(self) -> None:
        """Note it."""
        self.done.append("block flue")

    def drown_fire(self) -> None:
        """Note it."""
        self.done.append("drown")

    def weaken_fan(self) -> None:
        """Note it."""
        self.done.append("weaken fan")

    def empty_hopper(self) -> None:
        """Take the pellets out."""
        self.hopper_kg = 0.0

    def flood_grate(self) -> None:
        """Note it."""
        self.done.append("flood")

    def light_burner(self) -> None:
        """Note it."""
        self.done.append("light burner")

    def start_burn_back(self) -> None:
        """Note it."""
        self.done.append("burn back")


MakeRig = Callable[..., SimulatedRig]


@pytest.fixture
def oxygen() -> dict[str, object]:
    """The wiring table of an oxygen probe."""
    return {"channel": 2, "low_v": 0.333, "high_v": 3.0, "low": 0.65, "high": 2.0}


@pytest.fixture
def still() -> Plant:
    """A kiln that stands still."""
    return StillKiln()


@pytest.fixture
def make_rig(still: Plant) -> Iterator[MakeRig]:
    """Make a simulated rig on the still kiln from wiring keys; all are closed at the end."""
    opened: list[SimulatedRig] = []

    def make(watchdog: bool = True, **options: object) -> SimulatedRig:
        rig = SimulatedRig(still, Wiring.from_options(options), Scenario(watchdog=watchdog))
        opened.append(rig)
        return rig

    yield make
    for rig in opened:
        rig.close()


@pytest.fixture
def rig(make_rig: MakeRig) -> SimulatedRig:
    """A simulated rig on the still kiln, wired as by default and past its first conversions."""
    rig = make_rig()
    for tenth in range(10):
        rig.read(tenth / 10)
    return rig
