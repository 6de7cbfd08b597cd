"""A kiln of a few seconds for the explorer: a plan and delays that short, what it can show, and what can be done."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

from daemon.course.asks import Word
from daemon.plans.file import parse_plan
from daemon.plans.plan import Plan
from daemon.settings import Settings
from hardware.port import NOT_FITTED, Blind, Blindness, Draught, Outputs, Readings, Temperature

STEP_S = 1.0
LATE_S = 3.0
STOPPED_S = 9.0
UTC_AT_0_S = 1_900_000_000.0
STARTS_AT_S = 5.0  # the board's clock at the first scan after it got power
CHAMBER_C = {"cold": 20.0, "warm": 50.0, "hot": 85.0, "hotter": 120.0, "hottest": 150.0, "too hot": 320.0}
"""Neighbours are no further apart than a sheath can follow in a second; from \"hot\" on a kiln may stand still."""

PLAN = """
name = "A few seconds"
temperature = "C"
draught = "Pa"
[[stage]]
name = "warm-up"
kind = "fixed"
feed = 90
draught = 20
for = "0.1 min"
[[stage]]
name = "up"
kind = "climb"
to = 120
rate = 400
trim = false
feed = 90
draught = 20
[[stage]]
name = "even out"
kind = "soak"
for = "0.1 min"
[[stage]]
name = "to the end"
kind = "climb"
to = 150
rate = 400
atmosphere = "medium reduction"
"""


@cache
def quick_plan() -> Plan:
    """Warm-up, climb and soak of a few seconds."""
    return parse_plan(PLAN, "explored.toml")


@cache
def quick_settings() -> Settings:
    """Every delay a few seconds long: shorter than the file's checks let a real kiln have, hence `model_copy`."""
    usual = Settings()
    limits = usual.limits.model_copy(
        update={
            "chamber_c": 300.0, "limit_probe_c": 310.0, "flue_c": None, "cold_c": 40.0, "open_c": 150.0,
            "purge_least_s": 4.0, "proven_air_s": 1.0, "proven_flame_s": 3.0, "fire_proving_s": 9.0, "dark_s": 2.0,
            "burn_down_least_s": 2.0,
            "burn_down_most_s": 7.0, "soak_band_k": 30.0, "soak_over_s": 3.0, "reset_held_s": 2.0,
            "reset_jammed_s": 5.0, "probe_blind_s": 1.0,
            "airflow_lost_s": 1.0, "unproven_fuel_kg": 0.2, "cold_fed_kg": 20.0, "auger_runs_s": 1.5,
            "auger_still_s": 1.0, "frozen_s": 3.0, "apart_warn_k": 20.0, "apart_k": 30.0, "apart_s": 1.0,
            "fan_idle_s": 2.0, "air_scant_s": 1.0, "air_low_s": 2.0, "rise_k_per_min": 200.0, "scan_late_s": 2.5,
            "scan_stopped_s": 8.0, "resume_within_s": 12.0, "resume_fall_k": 50.0, "resume_least_c": 50.0,
            "ahead_k": 60.0, "reduction_from_c": 100.0,
        }
    )  # fmt: skip
    kiln = usual.kiln.model_copy(
        update={
            "auger_kg_per_h": 100.0, "chamber_m3": 0.3, "fan_m3_per_h": 5000.0, "feed_cycle_s": 2.0,
            "feed_floor_frac": 0.6, "charcoal_kg": 0.0,
        }
    )  # fmt: skip
    air = usual.air.model_copy(update={"kg_per_h_at_25_pa": 1000.0})
    attendance = usual.attendance.model_copy(
        update={"every_min": 4 / 60, "horn_after_min": 1 / 60, "trip_after_min": 2 / 60}
    )
    return usual.model_copy(update={"limits": limits, "kiln": kiln, "attendance": attendance, "air": air})


class Scene(NamedTuple):
    """What there is to see at the kiln. Everything but `chamber`, `fire`, `reset` and `confirm` is something wrong."""

    chamber: str = "cold"
    fire: bool = False
    limit: str = "as chamber"
    air: str = "as driven"
    auger: str = "as driven"
    tube_hot: bool = False
    co: bool = False
    stop: bool = False
    frozen: bool = False
    unrecorded: bool = False
    reset: bool = False
    confirm: bool = False

    @property
    def wrong(self) -> int:
        """How many things are wrong at once."""
        usual = (self.limit == "as chamber", self.air == "as driven", self.auger == "as driven")
        flags = (self.tube_hot, self.co, self.stop, self.frozen, self.unrecorded, self.chamber in ("too hot", "blind"))
        return usual.count(False) + flags.count(True)


SHOWN: dict[str, tuple[object, ...]] = {
    "chamber": (*CHAMBER_C, "blind"),
    "fire": (True, False),
    "limit": ("as chamber", "blind", "apart"),
    "air": ("as driven", "lost", "low"),
    "auger": ("as driven", "still", "runs", "welded"),
    **{name: (True, False) for name in ("tube_hot", "co", "stop", "frozen", "unrecorded", "reset", "confirm")},
}
"""Everything a scene can show."""


POWER_LOST = ("", ", the record lost", ", an old record", ", the lock-out file torn")
"""The power is lost, and of record and lock-out file this is wrong."""


class Act(NamedTuple):
    """One scan: the scene it reads, what is said, how long after the last it comes, and a loss of power before it."""

    name: str
    scene: Scene
    words: tuple[Word, ...] = ()
    after_s: float = STEP_S
    power_lost: str | None = None
    """What the disk holds then: one of POWER_LOST."""


def acts(scene: Scene, most_wrong: int, both: bool) -> list[Act]:
    """Every act that may follow this scene, with at most so many things wrong; `both`: also a change with a word."""
    scene = scene._replace(confirm=False)  # a button that nobody holds comes back
    changes = [
        (f"{name} {value}", scene._replace(**{name: value}))  # type: ignore[arg-type]
        for name, values in SHOWN.items()
        for value in values
        if value != getattr(scene, name)
    ]
    changes = [(name, changed) for name, changed in changes if changed.wrong <= max(most_wrong, scene.wrong)]
    possible = [Act("wait", scene), *(Act(name, changed) for name, changed in changes)]
    possible += [Act(f"say {word.value}", scene, (word,)) for word in Word]
    possible += [Act("late", scene, after_s=LATE_S), Act("stopped", scene, after_s=STOPPED_S)]
    possible += [Act("clock back", scene, after_s=-STEP_S)]
    possible += [Act(f"power lost{disk}", scene, power_lost=disk) for disk in POWER_LOST]
    if both:
        possible += [Act(f"{name}, say {w.value}", changed, (w,)) for name, changed in changes for w in Word]
    return possible


@dataclass
class SceneRig:
    """Shows a scene. The air follows the fan that was driven, the shaft the auger."""

    scene: Scene
    eye: bool
    last: Readings | None
    done: Outputs
    now_s: float
    utc_s: float

    def read(self, due_s: float) -> Readings:
        """The image of the scene."""
        scene, done = self.scene, self.done
        was = self.last.probes["chamber"] if self.last is not None else None
        hot_c = CHAMBER_C.get(scene.chamber, 0.0)
        if isinstance(was, Temperature) and (scene.frozen or was.value_c == hot_c):  # noise, unless it is frozen
            hot_c = was.value_c if scene.frozen and abs(was.value_c - hot_c) < 1 else hot_c + 0.01
        chamber = Temperature(hot_c, 0.0, "scene") if scene.chamber in CHAMBER_C else Blind(Blindness.OPEN_CIRCUIT)
        limit = {"as chamber": chamber, "blind": Blind(Blindness.OPEN_CIRCUIT)}.get(
            scene.limit, Temperature(hot_c + 35.0, 0.0, "scene")
        )
        blows = isinstance(done.fan_frac, float) and done.fan_frac > 0.1 and scene.air != "lost"
        return Readings(
            now_s=self.now_s,
            utc_s=self.utc_s,
            probes={"chamber": chamber, "limit": limit},
            feed_tube=Temperature(90.0 if scene.tube_hot else 25.0, 0.0, "scene"),
            draught=Draught(0.0 if not blows else 3.0 if scene.air == "low" else 20.0, 0.0, "scene"),
            airflow_proven=blows,
            flame_seen=scene.fire if self.eye else NOT_FITTED,
            shaft_turning=scene.auger in ("runs", "welded") or (done.auger and scene.auger == "as driven"),
            stop_pressed=scene.stop,
            confirm_pressed=scene.confirm,
            reset_pressed=scene.reset,
            co_alarm=scene.co,
        )

    def write(self, wanted: Outputs) -> Outputs:
        """The levels read back: a welded contact reads closed."""
        return replace(wanted, auger=True) if self.scene.auger == "welded" else wanted

    def close(self) -> None:
        """Nothing to give back."""
