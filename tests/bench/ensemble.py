"""An ensemble of kilns, each whole: the daemon, the shipped drivers, emulated pins and chips, physics, a person.

Kiln number `n` is always the same kiln with the same things fitted, so a bench can name it. There is no record and no
thread, so a process that fires a kiln can be forked at any moment.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

from daemon.command.attendant import Attendant, Temper
from daemon.command.runner import CATCH_UP_S
from daemon.course.asks import Ask
from daemon.memory import Memory
from daemon.plans.file import parse_plan
from daemon.plans.plan import Plan
from daemon.record.start import first_memory
from daemon.row import Row
from daemon.scan import scan
from daemon.settings import SCAN_S, Settings, read_settings
from daemon.setup import setup_of
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln
from hardware.simulated.rig import Scenario, SimulatedRig
from hardware.wiring import Wiring

AIRS = ("fan", "hand", "damper")
SECOND_SCANS = 10
COLD_AIR_KG_PER_M3 = 1.225  # ISO 2533 standard atmosphere, 15 °C

SHORT_PLAN = """
name = "Every state, in a few hours"
temperature = "C"
draught = "Pa"

[[stage]]
name = "warm-up"
kind = "fixed"
feed = 14
for = "12 min"

[[stage]]
name = "to quartz"
kind = "climb"
to = 400
rate = 330

[[stage]]
name = "to red heat"
kind = "climb"
to = 725
rate = 330
feed = 40
draught = 48

[[stage]]
name = "soak"
kind = "soak"
for = "12 min"
"""
"""One pair of feed and draught tells the kilns whose air was never measured how much comes."""


@dataclass(frozen=True, slots=True)
class Kit:
    """One kiln: which variation, how its air is set, and what is fitted. The rest is as shipped."""

    number: int
    by: str
    eye: bool
    shaft: bool
    limit: bool
    flue: bool
    switch: bool
    gauge: bool
    watchdog: bool

    @property
    def words(self) -> str:
        """The kit in a few words."""
        fitted = [
            name for name in ("eye", "shaft", "limit", "flue", "switch", "gauge", "watchdog") if getattr(self, name)
        ]
        return f"kiln {self.number}, air by {self.by}, with {' '.join(fitted) or 'nothing'}"


def kit(number: int) -> Kit:
    """Kiln number `number`. Twelve kilns in a row have every kind of air with and without eye and switch."""
    dice = Random(f"kit {number}")
    switch = number // 2 % 2 == 0
    return Kit(
        number,
        AIRS[number % 3],
        eye=number % 2 == 0,
        shaft=dice.random() < 0.5,
        limit=dice.random() < 0.6,
        flue=dice.random() < 0.8,
        switch=switch,
        gauge=not switch or AIRS[number % 3] != "hand" or dice.random() < 0.8,
        watchdog=number % 5 != 3,
    )


def rig_options(kit: Kit) -> dict[str, object]:
    """The `[rig]` table of this kiln."""
    probes = {"chamber": {"select": 5, "type": "S"}}
    probes |= {"flue": {"select": 6, "type": "K"}} if kit.flue else {}
    probes |= {"limit": {"select": 4, "type": "S"}} if kit.limit else {}
    options: dict[str, object] = {"probes": probes, "co_alarm": 26}
    for name, fitted in (("flame", kit.eye), ("shaft", kit.shaft), ("airflow", kit.switch), ("draught", kit.gauge)):
        if not fitted:
            options[name] = False
    if kit.by == "damper":
        options["damper"] = {"pin": 19, "hz": 200.0}
    return options


def settings_of(kit: Kit) -> Settings:
    """The configuration the person at this kiln would write: auger weighed (to 3 %), the rest as shipped.

    Three kilns of four had their air measured (to 6 %), over a clean grate at 25 Pa.
    """
    build, air = Build.varied(kit.number), {"by": kit.by}
    weighed = build.auger_kg_per_h * (1 + 0.03 * Random(f"scales {kit.number}").uniform(-1, 1))
    through = 3600 * build.grate_flow_m2 * math.sqrt(2 * COLD_AIR_KG_PER_M3 * 25.0)
    measured = through * (1 + 0.06 * Random(f"air {kit.number}").uniform(-1, 1))
    told = {"kg_per_h_at_25_pa": round(measured, 1)} if kit.number % 4 else {}
    return read_settings({"kiln": {"auger_kg_per_h": round(weighed, 2)}, "air": {**air, **told}}, "the bench")


class Forgets:
    """A record that keeps nothing. The daemon offers it every row; `look` may look at it."""

    def __init__(self) -> None:
        self.look: Callable[[Row, Memory, Memory], None] | None = None
        self.trouble: str | None = None

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Show the row to whoever looks, then forget it."""
        if self.look is not None:
            self.look(row, before, after)


class Firing:
    """One kiln being fired: `scan()` is one scan of the daemon, and once a second a second of the person's life."""

    def __init__(
        self, kit: Kit, plan: Plan, seed: int, temper: Temper = Temper.PROMPT, gust_pa: float | None = None
    ) -> None:
        """Open the rig with the kiln cold."""
        self.kit = kit
        build = Build.varied(kit.number)
        self.world = Kiln(build if gust_pa is None else replace(build, gust_pa=gust_pa), seed)
        scenario = Scenario(seed, kiln=kit.number, watchdog=kit.watchdog)
        self.rig = SimulatedRig(self.world, Wiring.from_options(rig_options(kit)), scenario)
        self.record = Forgets()
        self.attendant = Attendant(temper, self.rig.hands, Random(f"attendant {seed}"))
        self.memory = first_memory(setup_of(settings_of(kit), plan), None, self.rig.read(-math.inf))
        self._due_s = -math.inf
        self._scans = 0
        self.somebody = True
        """Somebody is at the kiln."""
        self.said: list[Ask] = []
        """What somebody else than the attendant says at the next scan."""

    @property
    def now_s(self) -> float:
        """The rig's time."""
        return self.rig.clock.now_s()

    def scan(self) -> Memory:
        """One scan; every tenth time the person lives a second as well."""
        asks = self.attendant.asks()
        if self.said:
            asks, self.said = (*asks, *self.said), []
        memory = self.memory = scan(self._due_s, self.memory, asks, self.rig, self.record)
        now_s = self.now_s
        self._due_s = self._due_s + SCAN_S if now_s - self._due_s < CATCH_UP_S else now_s + SCAN_S
        self._scans += 1
        if self._scans % SECOND_SCANS == 0 and self.somebody:
            self.attendant.live(memory)
        return memory

    def second(self) -> Memory:
        """Ten scans."""
        for _ in range(SECOND_SCANS):
            self.scan()
        return self.memory


def short_plan() -> Plan:
    """A plan that passes through every state in a few hours, above 700 °C in between."""
    return parse_plan(SHORT_PLAN, "the bench")
