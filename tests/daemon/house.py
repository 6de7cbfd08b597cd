"""A rig without drivers, a clerk that keeps every row, and a person at the kiln: what the sentences are built from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from math import exp
from typing import Any

from daemon.course.asks import Ask, Word
from daemon.course.attendance import Call
from daemon.course.state import State
from daemon.memory import Memory
from daemon.notice import Cause
from daemon.plans.file import parse_plan
from daemon.plans.plan import Plan
from daemon.row import Row
from daemon.scan import scan
from daemon.settings import SCAN_S, Settings, read_settings
from daemon.setup import setup_of
from hardware.port import (
    NOT_FITTED,
    Blind,
    Blindness,
    Draught,
    NotFitted,
    Outputs,
    Readings,
    Temperature,
)

UTC_AT_0_S = 1_900_000_000.0

SHORT_PLAN = """
name = "A short firing"
temperature = "C"
draught = "Pa"
[[stage]]
name = "warm-up"
kind = "fixed"
feed = 10
draught = 12
for = "1 min"
[[stage]]
name = "up"
kind = "climb"
to = 100
rate = 400
feed = 30
draught = 30
[[stage]]
name = "even out"
kind = "soak"
for = "1 min"
feed = 20
draught = 25
"""

SHORT_WAITS: dict[str, dict[str, object]] = {
    "kiln": {"chamber_m3": 0.3, "fan_m3_per_h": 1800.0, "charcoal_kg": 0.1},
    "air": {"kg_per_h_at_25_pa": 20.0},
    "limits": {
        "purge_least_s": 5,
        "proven_flame_s": 2,
        "proven_air_s": 30,
        "fire_proving_s": 120,
        "burn_down_least_s": 60,
        "burn_down_most_s": 120,
        "soak_band_k": 30,
        "cold_c": 60,
        "scan_late_s": 1.5,
    },
}
"""Purge, proving and burn-down cut short, so that a whole firing takes few scans.

Scans a second apart are not late, and a kiln that heats in minutes and has no noise is believed. Its air is measured.
"""

NO_KILN_HAS = {"rise_k_per_min": 200.0, "frozen_s": None}
"""Limits that no file may set. The small kiln heats in minutes and its probe has no noise."""

BURNS_S = 60.0
CHARCOAL_KG_PER_H = 0.15
MASS_KG_PER_K, LOSS_KG_PER_H_K = 0.0045, 0.003
"""The small kiln's heat, in pellets: what a kelvin takes, and what is lost for each kelvin above the room."""
OUT_TIMES = 10.0  # as much is lost once the fire is out, so that no test waits long for a cold kiln


def short_settings(**tables: dict[str, object]) -> Settings:
    """The short waits, with single settings changed: `limits={"chamber_c": 900}`."""
    table: dict[str, object] = {
        name: {**SHORT_WAITS.get(name, {}), **tables.get(name, {})} for name in SHORT_WAITS.keys() | tables.keys()
    }
    settings = read_settings(table, "house")
    missing = {name: value for name, value in NO_KILN_HAS.items() if name not in tables.get("limits", {})}
    return settings.model_copy(update={"limits": settings.limits.model_copy(update=missing)})


def short_plan(text: str = SHORT_PLAN) -> Plan:
    """The short firing: fixed, climb, soak."""
    return parse_plan(text, "short.toml")


def good_readings(now_s: float = 0.0, chamber_c: float = 20.0) -> Readings:
    """A cold kiln on which everything is fitted and well."""
    return Readings(
        now_s=now_s,
        utc_s=UTC_AT_0_S + now_s,
        probes={
            "chamber": Temperature(chamber_c, 0.0, "fake:chamber"),
            "flue": Temperature(chamber_c, 0.0, "fake:flue"),
            "limit": Temperature(chamber_c, 0.0, "fake:limit"),
        },
        feed_tube=Temperature(25.0, 0.0, "fake:tube"),
        draught=Draught(0.0, 0.0, "fake:gauge"),
        airflow_proven=False,
        flame_seen=False,
        shaft_turning=NOT_FITTED,
        stop_pressed=False,
        confirm_pressed=False,
        reset_pressed=False,
        co_alarm=False,
    )


@dataclass
class FakeRig:
    """A rig in memory. `live` is called before each read with the time gone; `override` has the last word."""

    image: Readings = field(default_factory=good_readings)
    wanted: Outputs = field(default_factory=Outputs)
    live: Callable[[FakeRig, float], None] = lambda rig, dt_s: None
    override: Callable[[Readings], Readings] = lambda readings: readings
    read_back: Callable[[Outputs], Outputs] = lambda wanted: wanted
    burns_kg_per_h: float = 0.0
    """Of pellets, on the grate."""

    def read(self, due_s: float) -> Readings:
        """Let the time pass, then show the image."""
        now_s = max(self.image.now_s, due_s)
        dt_s = now_s - self.image.now_s
        if dt_s > 0:
            self.live(self, dt_s)
        self.image = replace(self.image, now_s=now_s, utc_s=UTC_AT_0_S + now_s)
        return self.override(self.image)

    def write(self, wanted: Outputs) -> Outputs:
        """Take the outputs; give the levels read back."""
        self.wanted = wanted
        return self.read_back(wanted)

    def close(self) -> None:
        """Everything off."""
        self.wanted = Outputs()

    def show(self, **changes: object) -> None:
        """Change the image: `show(stop_pressed=True)`."""
        self.image = replace(self.image, **changes)  # type: ignore[arg-type]

    def probe(self, name: str, value: float | Blindness) -> None:
        """Set one probe, in °C, or make it blind."""
        seen = Blind(value, f"fake:{name}") if isinstance(value, Blindness) else Temperature(value, 0.0, f"fake:{name}")
        self.image = replace(self.image, probes={**self.image.probes, name: seen})

    def gauge(self, value: float | Blindness | NotFitted) -> None:
        """Set the draught gauge, in Pa, make it blind, or take it away."""
        match value:
            case Blindness():
                self.show(draught=Blind(value, "fake:gauge"))
            case NotFitted():
                self.show(draught=NOT_FITTED)
            case _:
                self.show(draught=Draught(value, 0.0, "fake:gauge"))

    @property
    def hot_c(self) -> float:
        """The chamber, °C, where it is not blind."""
        chamber = self.image.probes["chamber"]
        assert isinstance(chamber, Temperature)
        return chamber.value_c


def living(rig: FakeRig, dt_s: float) -> None:
    """A small kiln: a square-law fan on the gauge, and pellets that burn up a minute after they fell, where a flame is.

    Nothing of it is taken from the daemon's own model: one lag for the fire, one mass, and a loss to the room.
    """
    fan_frac = rig.wanted.fan_frac if isinstance(rig.wanted.fan_frac, float) else 0.0
    probes, chamber = rig.image.probes, rig.image.probes["chamber"]
    fed_kg_per_h = 9.0 if rig.wanted.auger and rig.image.flame_seen is True else 0.0
    rig.burns_kg_per_h += (1 - exp(-dt_s / BURNS_S)) * (fed_kg_per_h - rig.burns_kg_per_h)
    if isinstance(chamber, Temperature):
        lit = rig.image.flame_seen is True
        fire = rig.burns_kg_per_h + CHARCOAL_KG_PER_H if lit else 0.0
        net = fire - LOSS_KG_PER_H_K * (1.0 if lit else OUT_TIMES) * (chamber.value_c - 20.0)
        hot_c = chamber.value_c + dt_s * net / 3600 / MASS_KG_PER_K
        probes = {
            **probes,
            "chamber": Temperature(hot_c, 0.0, "fake:chamber"),
            "limit": Temperature(hot_c, 0.0, "fake:limit"),
        }
    draught = Draught(100.0 * fan_frac**2, 0.0, "fake:gauge")
    rig.image = replace(rig.image, probes=probes, draught=draught, airflow_proven=fan_frac > 0.1)


@dataclass(repr=False)
class Clerk:
    """Keeps every row with the memories around it."""

    rows: list[tuple[Row, Memory, Memory]] = field(default_factory=list)
    trouble: str | None = None

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Keep it."""
        self.rows.append((row, before, after))


@dataclass(repr=False)
class Kiln:
    """A kiln in the hand of a test: it scans, it is spoken to, and what it did can be looked at.

    Without a repr of all its rows: a test that fails would spend its time on it.
    """

    rig: FakeRig
    memory: Memory
    clerk: Clerk = field(default_factory=Clerk)
    step_s: float = SCAN_S

    def scan(self, *words: Word, source: str = "terminal") -> Kiln:
        """One scan, a step later, in which these words are said."""
        asks = tuple(Ask(word, source) for word in words)
        self.memory = scan(self.rig.image.now_s + self.step_s, self.memory, asks, self.rig, self.clerk)
        return self

    def run(self, seconds: float) -> Kiln:
        """Scan for so long."""
        for _ in range(round(seconds / self.step_s)):
            self.scan()
        return self

    def until(self, state: State, within_s: float = 3600.0, answers: bool = False) -> Kiln:
        """Scan until the kiln is in this state; fail when it doesn't get there. `answers`: who calls is answered."""
        began_s = self.rig.image.now_s
        while self.state is not state:
            assert self.rig.image.now_s - began_s < within_s, f"still {self.state} after {within_s} s"
            called = answers and self.memory.beat.attendance.call is not Call.QUIET
            self.scan(*(Word.HERE,) if called else ())
        return self

    def lit(self, until: State = State.CLIMBING) -> Kiln:
        """From cold to this state, done as a person would, with a flame that is seen from the lighting on."""
        self.scan(Word.MADE_READY).scan(Word.BEGIN).until(State.LIT_BY_HAND)
        if until is State.LIT_BY_HAND:
            return self
        self.scan(Word.LIT)
        if until is State.FIRE_PROVING:
            return self
        self.rig.show(flame_seen=True)
        return self.until(until, answers=True)

    def fed_s(self, last_s: float) -> float:
        """For how long the feed contact was closed in the last seconds, by the levels read back."""
        count = round(last_s / self.step_s)
        return sum(self.step_s for row, _, _ in self.clerk.rows[-count:] if row.done.auger)

    @property
    def state(self) -> State:
        """Where the firing is."""
        return self.memory.beat.course.state

    @property
    def feeds(self) -> bool:
        """Whether the feed contact is closed now."""
        return self.memory.done.auger

    @property
    def first_out(self) -> Cause | None:
        """What locked the feed out first."""
        return self.memory.lockout.first_out.cause if self.memory.lockout is not None else None

    @property
    def also(self) -> Sequence[Cause]:
        """What else was found since."""
        return [f.cause for f in self.memory.lockout.also] if self.memory.lockout is not None else []


def with_beat(memory: Memory, **changes: Any) -> Memory:
    """The memory with single parts of its beat changed, by name: `with_beat(memory, course=…)`."""
    return memory._replace(beat=memory.beat._replace(**changes))


def cold_kiln(settings: Settings | None = None, plan: Plan | None = None, step_s: float = SCAN_S) -> Kiln:
    """A cold kiln with the short plan."""
    settings, plan = settings or short_settings(), plan or short_plan()
    memory = Memory(setup_of(settings, plan))
    return Kiln(FakeRig(live=living), memory, step_s=step_s)


def feeding_kiln(settings: Settings | None = None, plan: Plan | None = None) -> Kiln:
    """A kiln that climbs and has its feed contact closed right now, so that whatever stops it can be seen to."""
    if settings is not None or plan is not None:
        return brought_to_feed(cold_kiln(settings, plan))
    usual = usual_feeding_kiln()  # everything in it is frozen but the rig and the clerk, which each test gets anew
    rig = FakeRig(usual.rig.image, usual.rig.wanted, living, burns_kg_per_h=usual.rig.burns_kg_per_h)
    return Kiln(rig, usual.memory, Clerk(list(usual.clerk.rows)))


@cache
def usual_feeding_kiln() -> Kiln:
    """The feeding kiln of the short plan, made once."""
    return brought_to_feed(cold_kiln())


def brought_to_feed(kiln: Kiln) -> Kiln:
    """Fire it until it climbs and a pulse has just begun."""
    kiln.lit(State.CLIMBING)
    for _ in range(200):
        kiln.scan()
        pulse = kiln.memory.pulse
        if kiln.feeds and pulse.cycle_began_s is not None and pulse.on_s - (pulse.at_s - pulse.cycle_began_s) > 0.5:
            return kiln
    raise AssertionError("the kiln never fed")
