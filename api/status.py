"""What the daemon says once a second: one datagram, read strictly.

A key that is missing, a NaN or a version this page doesn't know makes the whole datagram unreadable: better a page that
says it hears nothing than one that shows half a kiln. Keys that are new here are ignored.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class Said(BaseModel):
    """Anything the daemon said: frozen, no guessing between types, no NaN."""

    model_config = ConfigDict(extra="ignore", frozen=True, strict=True, allow_inf_nan=False)


class Celsius(Said):
    """A believed temperature."""

    c: float = Field(description="Temperature, °C.")


class Pascal(Said):
    """A believed draught."""

    pa: float = Field(description="Draught: the pressure that pushes air through the fire, Pa.")


class BlindInstrument(Said):
    """An instrument that is fitted but can't be believed."""

    blind: str = Field(description="Why, in words for a person.")


class StageNow(Said):
    """The stage of the plan the firing is in."""

    index: int = Field(ge=0, description="Place in the plan's list of stages, counted from 0.")
    name: str
    kind: Literal["fixed", "climb", "soak"]


class Stage(Said):
    """One line of the plan."""

    name: str
    kind: Literal["fixed", "climb", "soak"] = Field(description="Fixed feed, a climb at a rate, or a soak.")
    feed_frac: float | None = Field(description="Feed as the plan has it, 0 to 1; null where the daemon finds it.")
    draught_pa: float | None = Field(description="Draught as the plan has it, Pa; null where it follows the fuel.")
    to_c: float | None = Field(description="Temperature that ends the stage (or is held), °C.")
    cone: str | None = Field(description="Cone that names the end, as written in the plan.")
    rate_c_per_h: float | None = Field(description="Rate of a climb, °C per hour.")
    for_s: float | None = Field(description="How long the stage lasts, s.")
    trim: bool = Field(description="Whether the daemon finds feed and draught; else they are held as they stand here.")
    atmosphere: str = Field(description="oxidation, neutral, or light, medium or heavy reduction.")


class Plan(Said):
    """The plan of the firing and the units its person reads. Values stay in °C and Pa."""

    name: str
    temperature_unit: Literal["C", "F"] = Field(description="What the page shows; values here are °C.")
    draught_unit: Literal["Pa", "inH2O"] = Field(description="What the page shows; values here are Pa.")
    stages: tuple[Stage, ...]


class Feed(Said):
    """The feed and its parts, so that "why 23 %?" has an answer: frac = ff + p + i + d, within the limits."""

    frac: float = Field(description="Feed asked for now: share of the time the auger turns, 0 to 1.")
    ff: float = Field(description="Feed-forward: what the line takes by the heat balance, as a fraction of full feed.")
    p: float = Field(description="Proportional part, for the gap to the line, as a fraction of full feed.")
    i: float = Field(description="Integral part, learnt beyond the heat balance's model, as a fraction of full feed.")
    d: float = Field(description="Derivative part, for what is on its way already, as a fraction of full feed.")
    limited_by: str = Field(description='Which limit acted on the feed, in words; "none" if none did.')


class Mixture(Said):
    """Fuel and air. An air ratio is the air over what just burns the fuel that burns now: 1 is just enough."""

    burns_kg_per_h: float = Field(description="What burns now, as pellets of the same heat, kg/h.")
    air_kg_per_h: float = Field(description="Air through the fire, kg/h.")
    air_ratio: float | None = Field(description="Air ratio as the daemon reckons it; null where nothing tells.")
    spread_frac: float = Field(description="How sure the air is: one standard deviation, a share of it.")
    wanted_air_ratio: float | None = Field(description="Air ratio wanted; below 1 is a reduction. Null without a feed.")
    taught_factor: float = Field(
        description="Air as oxygen probe or dither have taught it, over the air by the draught."
    )
    aside_frac: float = Field(description="By which share the air is put aside now, to see what the kiln makes of it.")
    oxygen_air_ratio: float | None = Field(description="Air ratio the oxygen probe reads; null where none can be read.")
    reduced_s: float = Field(description="For how long this firing has been reduced, s.")


class HeatTaken(Said):
    """What the running heat balance has learnt. Heat is counted in pellets that leave all of theirs in the kiln."""

    chamber_c: float = Field(description="Chamber by the balance, °C.")
    mass_kg_per_k: float = Field(description="What warms at once with the chamber, kg of pellets for each K.")
    load_kg_per_h: float = Field(description="What neither walls nor warming explain, kg/h; below 0 a gain.")
    walls_kg_per_h: float = Field(description="What the walls draw, kg/h.")
    work_owed_s: float | None = Field(
        description="In a soak: heat work that the plan asked for and isn't done, as time at its temperature, s; "
        "below 0 more is done. None where it isn't known."
    )


class Wanted(Said):
    """Something the person at the kiln may answer now."""

    ask: str = Field(description="Name to send to /asks.")
    words: str = Field(description="The question in words for a person.")


class Attendance(Said):
    """Whether somebody is known to be at the kiln."""

    level: Literal["quiet", "reminder", "horn", "overdue"]
    due_in_s: float | None = Field(description="Seconds until the next look-in is due; below 0 when overdue.")


class Notice(Said):
    """Something the person should know: what happened, what was done, what to do next."""

    cause: str
    level: Literal["trip", "warning", "note"]
    happened: str
    did: str
    do_next: str
    since_s: float | None = Field(description="For how many seconds it has stood.")
    first_out: bool = Field(description="True for the one that came first.")
    standing: str | None = Field(None, description="An alarm's state: unacknowledged, acknowledged, returned, latched.")
    value: float | None = Field(None, description="What was found, in `unit`.")
    limit: float | None = Field(None, description="The limit it went against, in `unit`.")
    unit: str = Field("", description="Unit of value and limit.")


class Answered(Said):
    """What became of an ask."""

    nonce: str = Field(description="The nonce that POST /asks gave.")
    ask: str
    accepted: bool
    why: str = Field(description="Why not, or what happens now.")


class Status(Said):
    """The kiln as the daemon saw it at its last scan but a few. `null` is not known or not fitted."""

    version: Literal[1]
    now_s: float = Field(description="The daemon's monotonic clock, s.")
    utc_s: float = Field(description="Unix time, s. For people only.")
    firing: int | None = Field(description="Number of the firing in the record; null when none runs.")
    record: str | None = Field(description="Where the record lies.")
    rehearsal: bool = Field(description="True on a simulated kiln.")
    state: str
    state_words: str
    state_since_s: float | None = Field(description="For how many seconds this state has lasted.")
    stage: StageNow | None
    plan: Plan | None
    aim_c: float | None = Field(description="Chamber temperature aimed for now, °C.")
    probes: dict[str, Celsius | BlindInstrument | None] = Field(description="By name: chamber, flue, limit and others.")
    feed_tube: Celsius | BlindInstrument | None
    draught: Pascal | BlindInstrument | None
    draught_aim_pa: float | None = Field(description="Draught aimed for now, Pa.")
    airflow_proven: bool | None
    flame_seen: bool | None
    shaft_turning: bool | None
    feed: Feed | None
    mixture: Mixture | None = Field(description="Null while nothing burns.")
    heat: HeatTaken | None = Field(description="Null before the first feed.")
    auger: bool = Field(description="Whether the auger's contact is closed, as read back.")
    fan_frac: float | None = Field(description="Fan, 0 off to 1 full.")
    damper_frac: float | None = Field(description="Damper, 0 shut to 1 open.")
    horn: bool | None
    lamp: bool | None
    wanted: tuple[Wanted, ...]
    attendance: Attendance
    notices: tuple[Notice, ...]
    pellets_kg: float | None = Field(description="Pellets fed in this firing, kg.")
    elapsed_s: float | None = Field(description="Time since the firing began, s.")
    answered: tuple[Answered, ...]


class StatusAnswer(Status):
    """The last status heard, and how old it is."""

    age_s: float = Field(description="Seconds since it arrived here.")
    connected: bool = Field(description="False when nothing was heard for 3 s: the values are then history.")
