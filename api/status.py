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
    feed_frac: float | None = Field(description="Feed to start from, 0 to 1.")
    draught_pa: float | None = Field(description="Draught to aim for, Pa.")
    to_c: float | None = Field(description="Temperature that ends the stage (or is held), °C.")
    cone: str | None = Field(description="Cone that names the end, as written in the plan.")
    rate_c_per_h: float | None = Field(description="Rate of a climb, °C per hour.")
    for_s: float | None = Field(description="How long the stage lasts, s.")
    trim: bool = Field(description="Whether the controller trims the feed in this stage.")


class Plan(Said):
    """The plan of the firing and the units its person reads. Values stay in °C and Pa."""

    name: str
    temperature_unit: Literal["C", "F"] = Field(description="What the page shows; values here are °C.")
    draught_unit: Literal["Pa", "inH2O"] = Field(description="What the page shows; values here are Pa.")
    stages: tuple[Stage, ...]


class Feed(Said):
    """The feed and its parts, so that "why 23 %?" has an answer."""

    frac: float = Field(description="Feed asked for now: share of the time the auger turns, 0 to 1.")
    base: float | None = Field(description="The part from the plan, 0 to 1.")
    p: float | None = Field(description="Proportional part, as a fraction of full feed.")
    i: float | None = Field(description="Integral part, as a fraction of full feed.")
    d: float | None = Field(description="Derivative part, as a fraction of full feed.")
    limited_by: str = Field(description='What held the feed back, "none" if nothing.')


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
