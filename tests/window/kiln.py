"""A kiln with everything fitted, for the scenes: the tests' kiln in memory, with flue, shaft and oxygen probe."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from daemon.course.asks import Word
from daemon.course.attendance import Call
from daemon.course.state import State
from daemon.memory import Memory
from daemon.plans.file import parse_plan
from daemon.row import Row
from daemon.settings import SCAN_S
from hardware.port import AirRatio, Temperature
from tests.daemon.house import Clerk, FakeRig, Kiln, cold_kiln, living, short_settings

SCENE_STEP_S = 1.0
MOST_SCANS = 40_000
FLUE_OF_CHAMBER, LIMIT_OF_CHAMBER = 0.6, 0.995
AIR_KG_PER_H_AT_25_PA, AIR_POWER, AIR_PER_KG = 21.0, 0.54, 5.8
"""A little more air than the settings say, and pellets that take a little more of it."""
LEAST_BURNS_KG_PER_H = 0.05


class Forgetful(Clerk):
    """A clerk that keeps nothing: whole firings run past it."""

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Let it go."""


def whole(rig: FakeRig, dt_s: float) -> None:
    """The tests' kiln with a flue that is cooler than the chamber, and a shaft that turns with the auger."""
    living(rig, dt_s)
    chamber = rig.image.probes["chamber"]
    if isinstance(chamber, Temperature):
        rig.probe("flue", 20.0 + FLUE_OF_CHAMBER * (chamber.value_c - 20.0))
        rig.probe("limit", 20.0 + LIMIT_OF_CHAMBER * (chamber.value_c - 20.0))
    rig.show(shaft_turning=rig.wanted.auger)


def with_oxygen(rig: FakeRig, dt_s: float) -> None:
    """The same with an oxygen probe in the flue, true to the air, and two more thermocouples."""
    whole(rig, dt_s)
    draught_pa = getattr(rig.image.draught, "value_pa", 0.0)
    air = AIR_KG_PER_H_AT_25_PA * float((draught_pa / 25.0) ** AIR_POWER)
    ratio = air / (AIR_PER_KG * max(rig.burns_kg_per_h, LEAST_BURNS_KG_PER_H))
    rig.show(oxygen=AirRatio(min(ratio, 4.0), 0.0, "fake:oxygen"))
    rig.probe("door", 20.0 + 0.3 * (rig.hot_c - 20.0))
    rig.probe("hopper", 27.5)


def scene_kiln(plan: str, **tables: dict[str, object]) -> Kiln:
    """A cold kiln with everything fitted, fired along this plan."""
    kiln = cold_kiln(short_settings(**tables), parse_plan(plan, "scene.toml"), SCENE_STEP_S)
    kiln.rig.live = whole
    return replace(kiln, clerk=Forgetful())


def twin(kiln: Kiln) -> Kiln:
    """The same kiln once more, to go another way from here: what isn't frozen in it is copied."""
    return Kiln(replace(kiln.rig), kiln.memory, Forgetful(), kiln.step_s)


def fire(kiln: Kiln, until: Callable[[Kiln], bool]) -> Kiln:
    """Fire on until this holds. Whoever is called answers."""
    if kiln.state is State.COLD:
        kiln.lit(State.WARM_UP)
    for _ in range(MOST_SCANS):
        if until(kiln):
            return kiln
        called = kiln.memory.beat.attendance.call is not Call.QUIET
        kiln.scan(*(Word.HERE,) if called else ())
    raise AssertionError(f"after {MOST_SCANS} scans still {kiln.state.value} at {kiln.rig.hot_c:.0f} °C")


def in_stage(place: int, chamber_c: float = 0.0) -> Callable[[Kiln], bool]:
    """Whether the plan's stage at this place runs and the chamber is so hot."""

    def there(kiln: Kiln) -> bool:
        return kiln.memory.beat.course.stage == place and kiln.rig.hot_c >= chamber_c

    return there


def closely(kiln: Kiln) -> Kiln:
    """From here on scan as the daemon does, ten times a second."""
    return replace(kiln, step_s=SCAN_S)


def befall(kiln: Kiln, happens: Callable[[FakeRig], None]) -> Kiln:
    """From here on this happens before every scan, after what the kiln does by itself."""
    lives = kiln.rig.live

    def live(rig: FakeRig, dt_s: float) -> None:
        lives(rig, dt_s)
        happens(rig)

    kiln.rig.live = live
    return kiln
