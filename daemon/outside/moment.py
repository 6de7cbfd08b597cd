"""A moment: one scan's memory as the window tells it. Each property is a field of `daemon/window.py`."""

from __future__ import annotations

from typing import NamedTuple, TypeVar

from daemon.beat import Beat
from daemon.course.answers import wanted_words
from daemon.course.asks import WORDS
from daemon.course.state import ATTENDED, Course, State
from daemon.fire.estimate import Estimate
from daemon.fire.heat_balance import HeatBalance
from daemon.memory import Memory
from daemon.outside.notices import Json, notices
from daemon.plans.plan import Plan
from hardware.port import AirRatio, Blind, NotFitted, Outputs, Readings

T = TypeVar("T")
NAMED_PROBES = ("chamber", "flue", "limit")


class Context(NamedTuple):
    """What the status says beside the memory: which firing of which record, and whether it is only a rehearsal."""

    firing: int | None
    """None before the record's first firing."""
    record: str | None
    rehearsal: bool
    shift_s: float = 0.0
    """What the firing's clock is ahead of the rig's, after a restart, s."""


class Moment(NamedTuple):
    """One scan, after it was remembered, with what many fields are parts of at hand. Make it with `moment_of`."""

    memory: Memory
    readings: Readings
    done: Outputs
    """The levels read back."""
    beat: Beat
    course: Course
    estimate: Estimate
    balance: HeatBalance | None
    context: Context
    version: int = 2

    @property
    def firing(self) -> int | None:
        """The firing's number; none runs in a cold kiln."""
        return self.context.firing if self.course.state is not State.COLD else None

    @property
    def record(self) -> str | None:
        """Where the record lies."""
        return self.context.record

    @property
    def rehearsal(self) -> bool:
        """Whether the kiln is simulated."""
        return self.context.rehearsal

    @property
    def now_s(self) -> float:
        """The firing's clock, s."""
        return self.readings.now_s + self.context.shift_s

    @property
    def state_for_s(self) -> float:
        """For how long the state has lasted, s."""
        return self.readings.now_s - self.course.since_s

    @property
    def elapsed_s(self) -> float | None:
        """Time since the firing began, s."""
        return self.readings.now_s - self.course.begun_s if self.course.begun_s is not None else None

    @property
    def plan(self) -> Json:
        """The plan, in our units; which units the person reads is said beside them."""
        return plan_table(self.memory.plan)

    @property
    def chamber_c(self) -> float | None:
        """Chamber, °C."""
        return self.probe_c("chamber")

    @property
    def flue_c(self) -> float | None:
        """Flue, °C."""
        return self.probe_c("flue")

    @property
    def limit_c(self) -> float | None:
        """Limit probe, °C."""
        return self.probe_c("limit")

    def probe_c(self, name: str) -> float | None:
        """A probe's temperature, °C; None where it is blind or not fitted."""
        return getattr(self.readings.probes.get(name), "value_c", None)

    @property
    def more_probes_c(self) -> dict[str, float | None] | None:
        """The probes that have no column of their own."""
        more = {name: self.probe_c(name) for name in self.readings.probes if name not in NAMED_PROBES}
        return more or None

    @property
    def feed_tube_c(self) -> float | None:
        """Feed tube, °C."""
        return getattr(self.readings.feed_tube, "value_c", None)

    @property
    def draught_pa(self) -> float | None:
        """Draught, Pa."""
        return getattr(self.readings.draught, "value_pa", None)

    @property
    def oxygen_air_ratio(self) -> float | None:
        """What the oxygen probe reads."""
        oxygen = self.readings.oxygen
        return oxygen.value if isinstance(oxygen, AirRatio) else None

    @property
    def blind(self) -> dict[str, str] | None:
        """Instruments that can't be believed, each with why."""
        seen = self.readings
        named = {**seen.probes, "feed_tube": seen.feed_tube, "draught": seen.draught, "oxygen": seen.oxygen}
        return {name: value.reason.value for name, value in named.items() if isinstance(value, Blind)} or None

    @property
    def airflow_proven(self) -> bool | None:
        """The airflow switch."""
        return or_none(self.readings.airflow_proven)

    @property
    def flame_seen(self) -> bool | None:
        """The flame eye."""
        return or_none(self.readings.flame_seen)

    @property
    def shaft_turning(self) -> bool | None:
        """The auger's shaft sensor."""
        return or_none(self.readings.shaft_turning)

    @property
    def auger_s(self) -> float:
        """Auger time since the row before, s."""
        return round(self.memory.auger.row_s, 3)

    @property
    def fan_frac(self) -> float | None:
        """Fan, as read back."""
        return or_none(self.done.fan_frac)

    @property
    def damper_frac(self) -> float | None:
        """Damper, as read back."""
        return or_none(self.done.damper_frac)

    @property
    def horn(self) -> bool | None:
        """Horn, as read back."""
        return or_none(self.done.horn)

    @property
    def lamp(self) -> bool | None:
        """Lamp, as read back."""
        return or_none(self.done.lamp)

    @property
    def estimated_chamber_c(self) -> float | None:
        """Chamber by the heat balance, °C."""
        return self.balance.chamber_c if self.balance is not None else None

    @property
    def mass_kg_per_k(self) -> float | None:
        """What warms at once, kg/K."""
        return self.balance.mass_kg_per_k if self.balance is not None else None

    @property
    def walls_kg_per_h(self) -> float | None:
        """What the walls draw, kg/h."""
        return self.balance.walls_kg_per_h if self.balance is not None else None

    @property
    def load_kg_per_h(self) -> float | None:
        """What is not explained, kg/h."""
        return self.balance.load_kg_per_h if self.balance is not None else None

    @property
    def work_owed_s(self) -> float | None:
        """Heat work owed in a soak, s."""
        return self.course.owed_s if self.course.state is State.SOAKING else None

    @property
    def wanted(self) -> list[Json]:
        """What the person may say now, each with what saying it means."""
        return [{"ask": word.value, "words": WORDS[word]} for word in wanted_words(self.memory.circumstances)]

    @property
    def attendance(self) -> Json:
        """How long until somebody is called for, where somebody must be there."""
        attendance = self.beat.attendance
        if self.course.state not in ATTENDED:
            return {"level": "quiet", "due_in_s": None}
        due_s = attendance.present_s + self.memory.settings.attendance.every_min * 60
        return {"level": attendance.call.value, "due_in_s": due_s - self.readings.now_s}

    @property
    def notices(self) -> list[Json]:
        """What the person should know."""
        return notices(self.memory, self.readings.now_s)

    @property
    def answered(self) -> list[Json]:
        """What became of the last asks."""
        return [
            {"nonce": a.ask.nonce, "ask": a.ask.word.value, "accepted": a.accepted, "why": a.why}
            for a in self.memory.answers
        ]


def moment_of(memory: Memory, readings: Readings, context: Context) -> Moment:
    """The moment of a scan with these readings."""
    beat = memory.beat
    estimate = beat.estimate
    return Moment(memory, readings, memory.done, beat, beat.course, estimate, estimate.balance, context)


def plan_table(plan: Plan) -> Json:
    """The plan, in our units."""
    stages: list[Json] = [
        {
            "name": s.name, "kind": s.kind.value, "feed_frac": s.feed_frac, "draught_pa": s.draught_pa,
            "to_c": s.target_c(None), "cone": s.cone, "rate_c_per_h": s.rate_c_per_h, "for_s": s.for_s, "trim": s.trim,
            "atmosphere": s.atmosphere.value,
        }
        for s in plan.stages
    ]  # fmt: skip
    return {
        "name": plan.name, "temperature_unit": plan.temperature.value, "draught_unit": plan.draught.value,
        "stages": stages,
    }  # fmt: skip


def or_none(value: T | NotFitted) -> T | None:
    """A contact or an output; None where it is not fitted."""
    return None if isinstance(value, NotFitted) else value
