"""The second world of the fault bench: fires that die or were never lit, and healthy firings, on other kilns.

`python -m tests.bench.second` judges by an observer that sees the outside only (`tests/bench/outside.py`). The kilns
are those of the control bench, also with hard brick, heavy ware, warm from yesterday, and with instruments missing. The
numbers of `daemon/fire/signs.py` were found on yet other kilns, so all of these only judge.

`--world package.module:name` takes a foreign world: a callable that makes kiln `number` at `start_c` and keeps to
`ForeignKiln`.
"""

from __future__ import annotations

import argparse
import importlib
import json
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from random import Random
from typing import NamedTuple, Protocol

from daemon.course.asks import Ask, Word
from daemon.course.attendance import Call
from daemon.course.state import FEEDING, State
from daemon.memory import Memory
from daemon.plans.file import parse_plan
from daemon.record.found import Found
from daemon.record.start import first_memory
from daemon.scan import scan
from daemon.settings import SCAN_S, read_settings
from daemon.setup import setup_of
from hardware.port import NOT_FITTED, Draught, Outputs, Readings, Temperature
from tests.bench.control.kiln import Kiln
from tests.bench.control.make import Make, make
from tests.bench.control.ours import UTC_S, Forgets, fan_lowest
from tests.bench.outside import Outside

SCANS = round(1 / SCAN_S)
HEAT_W = 300.0
"""A grate that gives less gives none: a tenth of the feed's floor."""
WARM_C = (None, 60.0, 120.0, 200.0)
AFTER_DEATH_S = 5400.0
LONGEST_S = 16 * 3600.0
PLANS = {
    "climb": [("climb", 200, 600), ("climb", 200, 1000), ("climb", 100, 1222), ("soak", 0, 20)],
    "low": [("climb", 100, 200), ("soak", 0, 180)],
    "bisque": [("climb", 80, 250), ("climb", 150, 1000), ("soak", 0, 20)],
}


class ForeignKiln(Protocol):
    """A kiln that this project need not have written: what can be done to it, and what can be seen of it."""

    @property
    def full_kg_per_h(self) -> float:
        """What the auger really drops, always on."""

    @property
    def kiln_table(self) -> dict[str, object]:
        """What a careful owner writes into `[kiln]`."""

    @property
    def air_table(self) -> dict[str, object]:
        """The same for `[air]`."""

    @property
    def chamber_c(self) -> float:
        """What the chamber's probe shows."""

    @property
    def flue_c(self) -> float:
        """What the flue's probe shows."""

    @property
    def gauge_pa(self) -> float:
        """What the draught gauge shows."""

    @property
    def heat_w(self) -> float:
        """What the grate gives."""

    @property
    def air_moves(self) -> bool:
        """Air moves through the grate."""

    @property
    def flame(self) -> bool:
        """What a flame eye would see."""

    def second(self, auger_frac: float, fan_frac: float) -> None:
        """A second passes."""

    def light(self) -> None:
        """Lay and light the charcoal."""

    def die(self) -> None:
        """The fire goes out, and what falls on the grate from now on does not burn."""

    def upset(self, kind: str, on: bool) -> None:
        """Begin or end a half bridge ("half bridge"), a look through the open door ("door") or wind ("wind")."""


class Known:
    """A kiln of the control bench as a foreign one. By its number: hard brick, heavy ware, a still stack."""

    def __init__(self, number: int, start_c: float | None) -> None:
        made = make(100 + number, harsh=False)
        made = KINDS[number % len(KINDS)](made)
        self.kiln, self.full_kg_per_h = Kiln(made, number), made.auger_kg_per_h
        self.kiln_table: dict[str, object] = {
            "auger_kg_per_h": round(made.weighed_kg_per_h, 3), "chamber_m3": round(made.chamber_m3, 3),
        }  # fmt: skip
        self.air_table: dict[str, object] = {
            "kg_per_h_at_25_pa": round(made.believed_kg_per_h, 2), "fan_lowest_frac": fan_lowest(made),
        }  # fmt: skip
        self._dead, self._half, self._charcoal_kg = False, False, 1.0
        if start_c is not None:
            self._warm(start_c)

    def _warm(self, start_c: float) -> None:
        kiln = self.kiln
        room_c = kiln.make.room_c
        kiln.shell_c = kiln.core_c = kiln.gas_c = kiln.flue_c = start_c
        kiln.sheath_c = kiln.junction_c = kiln.probe_c = kiln.flue_probe_c = start_c
        kiln.brick_c = [start_c - (start_c - room_c) * 0.08 * place for place in range(5)]
        kiln.fibre_c = [start_c - 0.6 * (start_c - room_c), start_c - 0.8 * (start_c - room_c)]

    @property
    def chamber_c(self) -> float:
        """What the probe shows."""
        return self.kiln.probe_c

    @property
    def flue_c(self) -> float:
        """The same in the flue."""
        return self.kiln.flue_probe_c

    @property
    def gauge_pa(self) -> float:
        """The draught gauge."""
        return self.kiln.gauge_pa

    @property
    def heat_w(self) -> float:
        """What the grate gives."""
        return self.kiln.release_w

    @property
    def air_moves(self) -> bool:
        """Air moves through the grate."""
        return self.kiln.air_kg_per_s > 5e-4

    @property
    def flame(self) -> bool:
        """A flame, or walls that glow."""
        return self.kiln.release_w > 1500.0 or self.kiln.brick_c[0] > 750.0

    def second(self, auger_frac: float, fan_frac: float) -> None:
        """A second passes; on a dead grate nothing dries, gasses or glows."""
        kiln = self.kiln
        kiln.auger_frac, kiln.fan_frac = auger_frac * (0.4 if self._half else 1.0), fan_frac
        if self._dead:
            kiln.raw_kg = kiln.wood_kg = kiln.char_kg = kiln.charcoal_kg = 0.0
            kiln.chute = [0.0] * len(kiln.chute)
            kiln.auger_frac = 0.0
        kiln.step()

    def light(self) -> None:
        """A kilo of charcoal."""
        self.kiln.light(self._charcoal_kg)

    def die(self) -> None:
        """It is out."""
        self._dead = True

    def upset(self, kind: str, on: bool) -> None:
        """Everyday upsets."""
        if kind == "half bridge":
            self._half = on
        elif kind == "door":
            self.kiln.door_open = on
        else:
            self.kiln.wind_pa = 6.0 if on else 0.0


KINDS: tuple[Callable[[Make], Make], ...] = (
    lambda m: m,
    lambda m: replace(m, brick_w_per_m_k=1.0, brick_kg_per_m3=2000.0, brick_m=0.115),
    lambda m: replace(m, ware_kg=2.0 * m.ware_kg, ware_m2=1.5 * m.ware_m2),
    lambda m: replace(m, stack_m=0.2, gust_pa=0.1),
    lambda m: replace(m, probe_noise_k=0.8, gust_pa=2.0),
)
"""Soft brick, hard brick, heavy ware, a still stack, noise and gusts."""


class Case(NamedTuple):
    """One run: the kiln, how warm it begins, the plan, what is fitted, and when the fire dies, if it does."""

    number: int
    start_c: float | None
    plan: str
    fitted: frozenset[str]
    dies: str
    """`healthy`, `never lit`, or the chamber's °C or a state at which the fire dies."""

    def words(self) -> str:
        """For the table."""
        start = "cold" if self.start_c is None else f"{self.start_c:.0f} °C"
        return (
            f"kiln {self.number}, {start}, {self.plan}, with {' '.join(sorted(self.fitted)) or 'nothing'}, {self.dies}"
        )


@dataclass
class Result:
    """What came of it."""

    case: Case
    ended: str
    hours: float
    dead_kg: float
    most_kg: float
    broken: list[str]
    tripped_s: float | None
    at_c: float
    upset: str


class Rig:
    """A foreign kiln behind the daemon's port; ten scans are a second."""

    def __init__(self, kiln: ForeignKiln, fitted: frozenset[str], outside: Outside) -> None:
        self.kiln, self.fitted, self.outside = kiln, fitted, outside
        self.ticks, self._on, self._auger, self._fan = 0, 0, False, 0.0

    def read(self, due_s: float) -> Readings:
        """Time passes a scan at a time."""
        while self.ticks * SCAN_S < due_s - 1e-6:
            self.ticks += 1
            self._on += self._auger
            self.outside.scan(self._auger)
            if self.ticks % SCANS == 0:
                frac, self._on = self._on / SCANS, 0
                self.kiln.second(frac, self._fan)
                self.outside.second(
                    frac * self.kiln.full_kg_per_h / 3600, self.kiln.heat_w > HEAT_W, self.kiln.air_moves
                )
        kiln, fitted, now_s = self.kiln, self.fitted, self.ticks * SCAN_S
        probes = {"chamber": Temperature(kiln.chamber_c, 0.0, "foreign:chamber")}
        if "flue" in fitted:
            probes["flue"] = Temperature(kiln.flue_c, 0.0, "foreign:flue")
        return Readings(
            now_s, UTC_S + now_s, probes,
            draught=Draught(kiln.gauge_pa, 0.0, "foreign:gauge") if "gauge" in fitted else NOT_FITTED,
            airflow_proven=kiln.air_moves if "switch" in fitted else NOT_FITTED,
            flame_seen=kiln.flame if "eye" in fitted else NOT_FITTED,
        )  # fmt: skip

    def write(self, wanted: Outputs) -> Outputs:
        """Everything follows at once."""
        self._auger = wanted.auger
        self._fan = wanted.fan_frac if isinstance(wanted.fan_frac, float) else 0.0
        return wanted

    def close(self) -> None:
        """Off."""
        self._auger = False


def plan_text(name: str) -> str:
    """The plan of a person who never fired this kiln."""
    lines = ['name = "second"', 'temperature = "C"', 'draught = "Pa"']
    lines += ["[[stage]]", 'name = "warm-up"', 'kind = "fixed"', "feed = 10", 'for = "30 min"']
    for place, (kind, rate, to) in enumerate(PLANS[name]):
        lines += ["[[stage]]", f'name = "{place}"', f'kind = "{kind}"']
        lines += [f"to = {to}", f"rate = {rate}"] if kind == "climb" else [f'for = "{to} min"']
    return "\n".join(lines)


def dies_now(case: Case, memory: Memory, kiln: ForeignKiln) -> bool:
    """Whether the moment has come."""
    course = memory.beat.course
    if case.dies in ("healthy", "never lit") or course.state not in FEEDING:
        return False
    if case.dies in ("warm-up", "soaking"):
        return (
            course.state.value == case.dies
            and memory.readings is not None
            and (memory.readings.now_s - course.stage_since_s > 600.0)
        )
    return kiln.chamber_c > float(case.dies)


def run(case: Case, world: Callable[[int, float | None], ForeignKiln]) -> Result:
    """One firing, or what the daemon lets become of it."""
    kiln, dice = world(case.number, case.start_c), Random(f"second {case}")
    outside = Outside(kiln.full_kg_per_h)
    settings = read_settings({"kiln": kiln.kiln_table, "air": kiln.air_table}, "second")
    rig, record = Rig(kiln, case.fitted, outside), Forgets()
    start_c = case.start_c
    found = Found(1, State.COOLING, UTC_S - 60, start_c) if start_c is not None else None
    memory = first_memory(setup_of(settings, parse_plan(plan_text(case.plan), "second")), found, rig.read(0.0))
    due_s, dead_s, upset, upset_until_s, late_s = 0.0, None, "", 0.0, 0.0
    while due_s < LONGEST_S:
        asks: tuple[Ask, ...] = ()
        if rig.ticks % SCANS == SCANS - 1:
            asks, late_s = said(memory, kiln, case, due_s, late_s, dice)
            if case.dies == "healthy":
                upset, upset_until_s = upsets(kiln, memory, due_s, upset, upset_until_s, dice)
        memory = scan(due_s, memory, asks, rig, record)
        due_s = round(due_s + SCAN_S, 1)
        if dead_s is None and dies_now(case, memory, kiln):
            kiln.die()
            dead_s = due_s
        state = memory.beat.course.state
        over = state is State.BURN_DOWN or (state is State.LOCKED_OUT and due_s > 5.0)
        if over or (dead_s is not None and due_s - dead_s > AFTER_DEATH_S):
            break
    ended = memory.lockout.first_out.cause.value if memory.lockout is not None else memory.beat.course.state.value
    tripped_s = due_s - dead_s if dead_s is not None and memory.lockout is not None else None
    return Result(case, ended, due_s / 3600, outside.worst_dead_kg, outside.most_dead_kg, outside.broken, tripped_s,
                  kiln.chamber_c, upset)  # fmt: skip


def said(
    memory: Memory, kiln: ForeignKiln, case: Case, now_s: float, late_s: float, dice: Random
) -> tuple[tuple[Ask, ...], float]:
    """What the person says, who answers late now and then; `late_s` is until when they don't."""
    course = memory.beat.course
    match course.state:
        case State.COLD | State.COOLING | State.FINISHED:
            return (Ask(Word.MADE_READY),), late_s
        case State.MADE_READY:
            return (Ask(Word.BEGIN),), late_s
        case State.LIT_BY_HAND if now_s - course.since_s > 90.0:
            if case.dies != "never lit":
                kiln.light()
            return (Ask(Word.LIT),), late_s
        case _:
            pass
    if memory.beat.attendance.call is Call.QUIET:
        return (), 0.0
    if late_s == 0.0:
        return (), now_s + dice.choice([5.0, 60.0, 200.0])
    return ((Ask(Word.HERE),), 0.0) if now_s >= late_s else ((), late_s)


def upsets(
    kiln: ForeignKiln, memory: Memory, now_s: float, upset: str, until_s: float, dice: Random
) -> tuple[str, float]:
    """One or two an hour while it is fed: a half bridge of one to four minutes, a look through the door, wind."""
    if now_s < until_s:
        return upset, until_s
    if upset and now_s < until_s + 1.5:
        kiln.upset(upset, on=False)
    if memory.beat.course.state in FEEDING and dice.random() < 1.5 / 3600:
        upset = dice.choice(["half bridge", "door", "wind"])
        kiln.upset(upset, on=True)
        return upset, now_s + {"half bridge": dice.uniform(60, 240), "door": dice.uniform(10, 30)}.get(upset, 120.0)
    return upset, until_s


ALL, FEW, BARE = frozenset({"eye", "flue", "gauge", "switch"}), frozenset({"flue", "gauge"}), frozenset({"switch"})


def cases(kilns: int, healthy: int) -> Iterator[Case]:
    """Dead and never-lit fires on each kiln, cold and warm, with all instruments and with few; then healthy firings."""
    for number in range(kilns):
        for start_c in WARM_C:
            yield Case(number, start_c, "climb", (ALL, FEW, BARE)[number % 3], "never lit")
        for fitted in (FEW, BARE, ALL):
            yield Case(number, WARM_C[number % 4], "climb", fitted, "warm-up")
            yield Case(number, 120.0, "low", fitted, "soaking")
        for at_c in ("300", "600", "900", "1150"):
            yield Case(number, WARM_C[(number + 1) % 4], "climb", (FEW, BARE)[number % 2], at_c)
    for number in range(healthy):
        yield Case(number, WARM_C[number % 4], ("climb", "bisque")[number % 2], (FEW, ALL, BARE)[number % 3], "healthy")


def world_of(name: str | None) -> Callable[[int, float | None], ForeignKiln]:
    """The world by its name, `package.module:name`."""
    if name is None:
        return lambda number, start_c: Known(number, start_c)
    module, _, what = name.partition(":")
    found: Callable[[int, float | None], ForeignKiln] = getattr(importlib.import_module(module), what)
    return found


def run_named(case: Case, world: str | None) -> Result:
    """For a process of its own."""
    return run(case, world_of(world))


def main() -> None:
    """Print what was found; status 1 when a rule of the outside was broken or a healthy firing tripped."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kilns", type=int, default=5, help="kilns on which fires die")
    parser.add_argument("--healthy", type=int, default=10, help="healthy firings")
    parser.add_argument("--quick", action="store_true", help="one kiln and one healthy firing")
    parser.add_argument("--world", help="a foreign world, package.module:name")
    parser.add_argument("--only", type=int, help="the case of this number, as it was printed")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", action="store_true")
    told = parser.parse_args()
    todo = list(enumerate(cases(1, 1) if told.quick else cases(told.kilns, told.healthy)))
    todo = [(place, case) for place, case in todo if told.only in (None, place)]
    with ProcessPoolExecutor(told.workers) as pool:
        results = list(pool.map(run_named, [case for _, case in todo], [told.world] * len(todo)))
    bad = 0
    for (place, _), result in zip(todo, results, strict=True):
        wrong = list(result.broken)
        if result.case.dies == "healthy" and result.ended != State.BURN_DOWN.value:
            wrong.append(
                f"a healthy firing ended as {result.ended} at {result.at_c:.0f} °C; last upset: {result.upset}"
            )
        bad += bool(wrong)
        kg = f"{result.dead_kg:.3f} of {result.most_kg:.2f} kg" if result.case.dies != "healthy" else ""
        print(f"{place:4d} {result.case.words():75s} {result.hours:5.1f} h  {result.ended:22s} {kg}")
        for words in wrong:
            print(f"     BROKEN: {words}. Again: python -m tests.bench.second --kilns {told.kilns} --only {place}")
    hours = sum(r.hours for r in results if r.case.dies == "healthy")
    dead = [r for r in results if r.case.dies != "healthy"]
    trips = sum(r.ended != State.BURN_DOWN.value for r in results if r.case.dies == "healthy")
    inside = sum(r.dead_kg <= r.most_kg for r in dead)
    print(f"{inside} of {len(dead)} dead or never lit within their limit; {trips} trips in {hours:.0f} healthy hours")
    if told.json:
        print(json.dumps([{"case": r.case.words(), "ended": r.ended, "dead_kg": round(r.dead_kg, 4),
                           "most_kg": round(r.most_kg, 4), "broken": r.broken} for r in results]))  # fmt: skip
    raise SystemExit(1 if bad else 0)


if __name__ == "__main__":
    main()
