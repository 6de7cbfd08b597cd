"""The window between daemon and page: every field that is sent or recorded of a scan, named once.

`Status` is the table. Each line names a field, its type, its unit, where in a `Moment` its value comes from
(`daemon/outside/moment.py`), and what it means. From it come the status datagram, the recorded columns and their SQL,
the API's model and its documentation, and the tables of the tests. A field that is sent and recorded has one name and
one meaning.

This is all that `api` imports from `daemon`, and it imports nothing of either.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import NoneType, UnionType
from typing import Any, Literal, NamedTuple, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field
from pydantic.config import JsonDict

STOPPED = "stopped.json"
"""Beside the channel's sockets, while no daemon runs: why, as `happened`, `did` and `do_next`."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What the table says of a field beside its name, type and meaning. As a callable it writes into the schema."""

    get: str
    """Where the value is: a dotted path from a `Moment`."""
    unit: str
    recorded: bool

    def __call__(self, schema: JsonDict) -> None:
        """Show the unit in the API's documentation."""
        if self.unit:
            schema["unit"] = self.unit


def cell(get: str, what: str, unit: str = "", recorded: bool = False) -> Any:
    """One line of the table."""
    return Field(description=f"{what}, {unit}." if unit else f"{what}.", json_schema_extra=Cell(get, unit, recorded))


class Said(BaseModel):
    """Anything the daemon says: frozen, no guessing between types, no NaN. Keys that are new here are ignored."""

    model_config = ConfigDict(extra="ignore", frozen=True, strict=True, allow_inf_nan=False)


class Stage(Said):
    """One line of the plan."""

    name: str
    kind: Literal["fixed", "climb", "soak"] = Field(description="Fixed feed, a climb at a rate, or a soak.")
    feed_frac: float | None = Field(description="Feed as the plan has it, 0 to 1; null where the daemon finds it.")
    draught_pa: float | None = Field(description="Draught as the plan has it, Pa; null where it follows the fuel.")
    to_c: float | None = Field(description="Temperature that ends the stage (or is held), °C.")
    cone: str | None = Field(description="Cone that names the end, as written in the plan.")
    rate_c_per_h: float | None = Field(description="Rate of a climb, °C an hour.")
    for_s: float | None = Field(description="How long the stage lasts, s.")
    trim: bool = Field(description="Whether the daemon finds feed and draught; else they are held as they stand here.")
    atmosphere: str = Field(description="oxidation, neutral, or light, medium or heavy reduction.")


class Plan(Said):
    """The plan of the firing and the units its person reads. Values stay in °C and Pa."""

    name: str
    temperature_unit: Literal["C", "F"] = Field(description="What the page shows; values here are °C.")
    draught_unit: Literal["Pa", "inH2O"] = Field(description="What the page shows; values here are Pa.")
    stages: tuple[Stage, ...]


class Wanted(Said):
    """Something the person at the kiln may say now."""

    ask: str = Field(description="Name to send to /asks.")
    words: str = Field(description="What a person states by it.")


class Attendance(Said):
    """Whether somebody is known to be at the kiln."""

    level: Literal["quiet", "reminder", "horn", "overdue"]
    due_in_s: float | None = Field(
        description="Until the next look-in is due, s; below 0 when overdue; null where nobody has to be there."
    )


class Notice(Said):
    """Something the person should know: what happened, what was done, what to do next."""

    cause: str
    level: Literal["trip", "warning", "note"]
    happened: str
    did: str
    do_next: str
    stood_s: float = Field(description="For how long it has stood, s.")
    first_out: bool = Field(description="True for the one that came first.")
    standing: str | None = Field(description="An alarm's state: unacknowledged, acknowledged, returned, latched.")
    value: float | None = Field(description="What was found, in `unit`.")
    limit: float | None = Field(description="The limit it went against, in `unit`.")
    unit: str = Field(description="Unit of value and limit.")


class Answered(Said):
    """What became of an ask."""

    nonce: str = Field(description="The nonce that POST /asks gave.")
    ask: str
    accepted: bool
    why: str = Field(description="Why not; empty where it was accepted.")


PARTS = "a share of the auger's full time; frac = ff + p + i + d, within the limits"


class Status(Said):
    """The kiln as the daemon saw it in one scan. `null` is not known or not fitted; `blind` tells which."""

    version: Literal[2] = cell("version", "Version of this table")
    firing: int | None = cell("firing", "Number of the firing in the record; null when none runs", recorded=True)
    now_s: float = cell("now_s", "The firing's monotonic clock, which goes on over a restart", "s", recorded=True)
    utc_s: float = cell("readings.utc_s", "Unix time, for people only", "s", recorded=True)
    record: str | None = cell("record", "Where the record lies")
    rehearsal: bool = cell("rehearsal", "True on a simulated kiln")
    state: str = cell("course.state.value", "Where the firing is, in the trade's words", recorded=True)
    state_for_s: float = cell("state_for_s", "For how long this state has lasted", "s")
    stage: int | None = cell("course.stage", "Place in the plan's list of stages, counted from 0", recorded=True)
    plan: Plan = cell("plan", "The plan")
    setpoint_c: float | None = cell("course.setpoint_c", "Where the chamber is to be now", "°C", recorded=True)
    waits: bool = cell("course.waits", "The plan waits for the kiln, which can't climb as fast as asked")
    lit: bool = cell("course.lit", "Something may burn on the grate")
    chamber_c: float | None = cell("chamber_c", "Chamber", "°C", recorded=True)
    flue_c: float | None = cell("flue_c", "Flue", "°C", recorded=True)
    limit_c: float | None = cell("limit_c", "Limit probe, read and judged apart", "°C", recorded=True)
    feed_tube_c: float | None = cell("feed_tube_c", "Feed tube", "°C", recorded=True)
    more_probes_c: dict[str, float | None] | None = cell(
        "more_probes_c", "Other probes by name; null where there are none", "°C", recorded=True
    )
    blind: dict[str, str] | None = cell(
        "blind", "Instruments that are fitted and can't be believed, by name, each with why; null where none is",
        recorded=True,
    )  # fmt: skip
    draught_pa: float | None = cell("draught_pa", "Draught: what pushes air through the fire", "Pa", recorded=True)
    draught_setpoint_pa: float | None = cell("beat.air.setpoint_pa", "Draught to be held", "Pa", recorded=True)
    airflow_proven: bool | None = cell("airflow_proven", "The airflow switch is closed", recorded=True)
    flame_seen: bool | None = cell("flame_seen", "The flame eye sees flame", recorded=True)
    shaft_turning: bool | None = cell("shaft_turning", "The auger's shaft is seen turning", recorded=True)
    feed_frac: float = cell(
        "beat.feed.frac", "Feed asked for: the share of time the auger turns", "0 to 1", recorded=True
    )
    ff_frac: float = cell("beat.feed.ff_frac", "Feed-forward: what the setpoint takes", PARTS, recorded=True)
    p_frac: float = cell("beat.feed.p_frac", "Proportional: for the gap to the setpoint", PARTS, recorded=True)
    i_frac: float = cell(
        "beat.feed.i_frac", "Integral: for the load learnt and the slow integral together", PARTS, recorded=True
    )
    d_frac: float = cell("beat.feed.d_frac", "Derivative: for what is on its way already", PARTS, recorded=True)
    slow_integral_kg_per_h: float = cell(
        "beat.feed.slow_integral_kg_per_h", "Heat that gaps which lasted have added", "kg/h of pellets", recorded=True
    )
    limited_by: str = cell(
        "beat.feed.limited_by.value", 'Which limit acted on the feed, in words; "none" if none did', recorded=True
    )
    auger: bool = cell("done.auger", "The auger's contact is closed, as read back")
    auger_s: float = cell("auger_s", "Auger time since the row before, by the levels read back", "s", recorded=True)
    fan_frac: float | None = cell("fan_frac", "Fan, 0 off to 1 full speed", "0 to 1", recorded=True)
    damper_frac: float | None = cell("damper_frac", "Damper, 0 shut to 1 open", "0 to 1", recorded=True)
    horn: bool | None = cell("horn", "The horn sounds")
    lamp: bool | None = cell("lamp", "The lamp is lit")
    pellets_kg: float = cell("memory.fed_kg", "Pellets fed in this firing, by the auger's time", "kg", recorded=True)
    unproven_kg: float = cell(
        "memory.unproven_kg", "Pellets fed since the last sign that they burn", "kg", recorded=True
    )
    burns_kg_per_h: float = cell(
        "estimate.bed.burns_kg_per_h", "What burns now, as pellets of the same heat", "kg/h", recorded=True
    )
    air_kg_per_h: float = cell("estimate.air_kg_per_h", "Air through the fire", "kg/h", recorded=True)
    air_ratio: float | None = cell(
        "estimate.air_ratio", "Air over what just burns the fuel that burns now, as the daemon reckons it; 1 is just "
        "enough; null where nothing tells", recorded=True,
    )  # fmt: skip
    wanted_air_ratio: float | None = cell(
        "beat.feed.wanted_air_ratio", "Air ratio wanted; below 1 is a reduction; null without a feed", recorded=True
    )
    oxygen_air_ratio: float | None = cell(
        "oxygen_air_ratio", "Air ratio that the oxygen probe reads; null where none can be read", recorded=True
    )
    air_aside_frac: float = cell(
        "estimate.trial.aside_frac", "By which share the air trial changes the air now",
        "-1 to 1", recorded=True,
    )  # fmt: skip
    air_factor: float = cell(
        "estimate.air_factor", "The true air, as oxygen probe or air trial found it, over the air by the draught",
        recorded=True,
    )  # fmt: skip
    air_std_frac: float = cell(
        "estimate.air_std_frac", "How sure the air is: one standard deviation, a share of it", "0 to 1", recorded=True
    )
    reduced_s: float = cell("estimate.reduced_s", "For how long this firing has been reduced", "s")
    estimated_chamber_c: float | None = cell(
        "estimated_chamber_c", "Chamber by the heat balance; null before the first feed", "°C", recorded=True
    )
    mass_kg_per_k: float | None = cell(
        "mass_kg_per_k", "What warms at once with the chamber, at this temperature", "kg of pellets for each K",
        recorded=True,
    )  # fmt: skip
    walls_kg_per_h: float | None = cell("walls_kg_per_h", "What the walls draw", "kg/h of pellets", recorded=True)
    load_kg_per_h: float | None = cell(
        "load_kg_per_h", "What neither walls nor warming explain; below 0 a gain", "kg/h of pellets", recorded=True
    )
    work_owed_s: float | None = cell(
        "work_owed_s", "In a soak: heat work that the plan asked for and isn't done, as time at its temperature; below "
        "0 more is done; null where it isn't known", "s", recorded=True,
    )  # fmt: skip
    wanted: tuple[Wanted, ...] = cell("wanted", "What the person may say now, the likeliest first")
    attendance: Attendance = cell("attendance", "Whether somebody is known to be there")
    notices: tuple[Notice, ...] = cell("notices", "What the person should know, most urgent first")
    elapsed_s: float | None = cell("elapsed_s", "Time since the firing began; null when none runs", "s")
    answered: tuple[Answered, ...] = cell("answered", "What became of the last asks")


class Column(NamedTuple):
    """A recorded field: its name, its type in SQL, and where in a `Moment` it is."""

    name: str
    sql: str
    get: str
    unit: str
    what: str


def cell_of(name: str) -> Cell:
    """The cell of a field. Raises TypeError for a field that was written without one."""
    found = Status.model_fields[name].json_schema_extra
    if not isinstance(found, Cell):
        raise TypeError(f"{name}: a field of the window is written with `cell`.")
    return found


def sql_type(kind: Any) -> str:
    """How a field's type is kept in SQLite; what is neither number nor text is kept as JSON."""
    kinds = set(get_args(kind)) - {NoneType} if get_origin(kind) is UnionType or isinstance(kind, UnionType) else {kind}
    if kinds <= {int, bool}:
        return "INTEGER"
    return "REAL" if kinds <= {int, float} else "TEXT"


FIELDS: dict[str, Cell] = {name: cell_of(name) for name in Status.model_fields}
RECORDED: tuple[Column, ...] = tuple(
    Column(name, sql_type(field.annotation), FIELDS[name].get, FIELDS[name].unit, field.description or "")
    for name, field in Status.model_fields.items()
    if FIELDS[name].recorded
)
"""The columns of a reading, in the table's order."""
