"""The report of a firing: one HTML page that needs nothing else, on the screen and on A4 or letter paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from html import escape
from importlib.resources import files

from daemon.plans.plan import Plan, Stage, StageKind
from daemon.record.drawing import Band, Frame, Line, draw
from daemon.record.firings import UNENDED, Firing, Happened, Reading
from daemon.units import (
    BAG_KG,
    DraughtUnit,
    TemperatureUnit,
    from_c,
    from_pa,
    gap_from_k,
    words_duration,
    words_temperature,
)

ALARMS = frozenset({"trip", "warning"})
EVERYDAY = frozenset({("told", "here"), ("call", "reminder"), ("call", "quiet")})
"""Said all day long; the report counts them only."""
RESULTS = ("Cones seen, top and bottom of the setting", "Glazes and bodies, and how they came out",
           "Cracks, bloating, pinholes, flashing, ash", "What to try next time")  # fmt: skip


def report(firing: Firing, bag_price: float | None = None) -> str:
    """The page. `bag_price`: of one 40 lb bag, in whatever money the person pays."""
    line, unit = firing.line, unit_of(firing.plan)
    title = f"Firing {line.firing}: {line.plan or 'no plan named'}"
    runs = " The record ends before the kiln was cold: the firing still runs, or it was broken off." \
        if line.ended in UNENDED else ""  # fmt: skip
    body = f"""<h1>{text(title)}</h1>
<p>Begun {local(line.begun_utc_s)} on “{text(firing.rig)}”. It ended: {text(line.ended)}.{runs}</p>
<section aria-labelledby="short"><h2 id="short">In short</h2>{in_short(firing, unit, bag_price)}</section>
<section aria-labelledby="curve"><h2 id="curve">The curve</h2>{curve(firing)}</section>
<section aria-labelledby="plan"><h2 id="plan">The plan, and what happened</h2>{stages(firing, unit)}</section>
<section aria-labelledby="alarms"><h2 id="alarms">Alarms</h2>{alarms(firing)}</section>
<section aria-labelledby="results" class="results"><h2 id="results">Results</h2>
<p>To be filled in by hand when the kiln is unpacked. There is room for photos on the back.</p>
{"".join(f'<h3>{text(words)}</h3><div class="room"></div>' for words in RESULTS)}</section>
<section aria-labelledby="log"><h2 id="log">Said and done</h2>{log(firing)}</section>"""
    return page(title, body)


def page(title: str, body: str) -> str:
    """A page that needs nothing else."""
    style = (files("daemon.record") / "report.css").read_text(encoding="utf-8")
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{text(title)}</title><style>{style}</style></head>
<body><main>{body}
<footer><p>Temperatures are those of the chamber's thermocouple. Cones are reckoned from top and climb, soaks not
counted; only cones in the kiln tell the heat work. Pellets are reckoned from the auger's time. Stokehand is not a
certified burner control.</p></footer></main></body></html>
"""


def curve(firing: Firing) -> str:
    """Chamber and setpoint with the stages; feed and draught under them."""
    unit, draught_unit = unit_of(firing.plan), draught_unit_of(firing.plan)
    began_s = firing.readings[0].now_s if firing.readings else 0.0

    def line(panel: int, name: str, get: Callable[[Reading], float | None]) -> Line:
        return Line(panel, name, tuple(((r.now_s - began_s) / 3600, get(r)) for r in firing.readings))

    water = "in. w.c." if draught_unit is DraughtUnit.INH2O else "Pa"
    lines = [
        line(0, "setpoint", lambda r: from_c(r.setpoint_c, unit) if r.setpoint_c is not None else None),
        line(0, "chamber", lambda r: from_c(r.chamber_c, unit) if r.chamber_c is not None else None),
        line(1, "feed", lambda r: r.feed_frac * 100 if r.feed_frac is not None else None),
        line(2, "draught", lambda r: from_pa(r.draught_pa, draught_unit) if r.draught_pa is not None else None),
    ]
    bands = tuple(
        Band((seen[0].now_s - began_s) / 3600, (seen[-1].now_s - began_s) / 3600, str(number + 1))
        for number, seen in by_stage(firing.readings).items()
    )
    said = f"Chamber and setpoint, feed and draught over {words_duration(firing.line.lasted_s)}."
    names = (f"Chamber, °{unit.value}", "Feed, %", f"Draught, {water}")
    drawing = draw(Frame(said, "hours since made ready", lines, names, bands))
    return f"""<figure>{wide("Curve", drawing)}
<figcaption><span class="key chamber-key"></span> chamber, <span class="key setpoint-key"></span> setpoint. Feed is the
share of time the auger turns. The numbers at the top are the plan's stages.</figcaption></figure>"""


def in_short(firing: Firing, unit: TemperatureUnit, bag_price: float | None) -> str:
    """The figures that people ask for first."""
    line = firing.line
    bags = line.pellets_kg / BAG_KG
    cones = [stage.cone for stage in firing.plan.stages if stage.cone is not None] if firing.plan is not None else []
    figures = [
        ("Lasted", words_duration(line.lasted_s)),
        ("Top", words_temperature(line.top_c, unit) if line.top_c is not None else "not known"),
        ("Cone planned", cones[-1] if cones else "none"),
        ("Cone by the thermocouple", line.cone if line.cone is not None else "not known"),
        ("Pellets", f"{line.pellets_kg:.1f} kg, {bags:.1f} bags of 40 lb"),
        ("Less air than the fuel needs", words_duration(line.short_of_air_s)),
        ("Answers of the person", str(sum(e.kind == "told" for e in firing.events))),
        ("Trips", str(line.trips)),
    ]  # fmt: skip
    if bag_price is not None:
        figures.append(("Cost of the pellets", f"{bags * bag_price:.2f}"))
    return f"<dl>{''.join(f'<div><dt>{text(a)}</dt><dd>{text(b)}</dd></div>' for a, b in figures)}</dl>"


def stages(firing: Firing, unit: TemperatureUnit) -> str:
    """A row for each stage: what the plan wanted, and what came."""
    rows = []
    for number, seen in by_stage(firing.readings).items():
        stage = firing.plan.stages[number] if firing.plan is not None and number < len(firing.plan.stages) else None
        hot = [reading.chamber_c for reading in seen if reading.chamber_c is not None]
        took_s = seen[-1].now_s - seen[0].now_s
        fed_kg = (seen[-1].pellets_kg or 0.0) - (seen[0].pellets_kg or 0.0)
        rate = gap_from_k((hot[-1] - hot[0]) / took_s * 3600, unit) if len(hot) > 1 and took_s > 0 else None
        rows.append((
            stage.name if stage is not None else f"stage {number + 1}", planned(stage, unit), local(seen[0].utc_s),
            words_duration(took_s),
            f"{words_temperature(hot[0], unit)} to {words_temperature(hot[-1], unit)}" if hot else "not known",
            f"{rate:.0f} °{unit.value}/h" if rate is not None else "", f"{fed_kg:.1f} kg",
        ))  # fmt: skip
    heads = ("Stage", "Planned", "Began", "Took", "Chamber", "On average", "Pellets")
    return table("Stages", heads, rows) if rows else "<p>No stage of the plan was begun.</p>"


def planned(stage: Stage | None, unit: TemperatureUnit) -> str:
    """What the plan wanted of a stage."""
    if stage is None:
        return ""
    words = []
    end_c = stage.target_c(None)
    if stage.kind is StageKind.CLIMB and end_c is not None:
        cone = f"cone {stage.cone}, about " if stage.cone is not None else ""
        words.append(f"to {cone}{words_temperature(end_c, unit)}")
    if stage.rate_c_per_h is not None:
        words.append(f"{gap_from_k(stage.rate_c_per_h, unit):.0f} °{unit.value}/h")
    if stage.for_s is not None:
        words.append(f"for {words_duration(stage.for_s)}")
    return ", ".join((*words, stage.atmosphere.value))


def by_stage(readings: tuple[Reading, ...]) -> dict[int, list[Reading]]:
    """The readings of each stage, in the order in which the stages were begun."""
    kept: dict[int, list[Reading]] = {}
    for reading in readings:
        if reading.stage is not None:
            kept.setdefault(reading.stage, []).append(reading)
    return kept


def alarms(firing: Firing) -> str:
    """Trips and warnings, with what was found, done and asked for."""
    rows = [
        (local(e.utc_s), "Trip" if e.kind == "trip" else "Warning", e.happened, e.did, e.do_next)
        for e in firing.events if e.kind in ALARMS
    ]  # fmt: skip
    heads = ("When", "Kind", "What happened", "What the daemon did", "What to do")
    return table("Alarms", heads, rows) if rows else "<p>There was none.</p>"


def log(firing: Firing) -> str:
    """What was said, asked for and done, and how the firing went on."""
    kept = (e for e in firing.events if e.kind not in ALARMS | {"alarm"} and (e.kind, e.cause) not in EVERYDAY)
    rows = [(local(e.utc_s), words_of(e)) for e in kept]
    return table("Said and done", ("When", "What"), rows) if rows else "<p>Nothing is kept.</p>"


def words_of(event: Happened) -> str:
    """An event in a line."""
    words = " ".join(part for part in (event.happened, event.did, event.do_next) if part)
    head = {"refused": "Refused: ", "air": f"Damper by hand, {event.cause}: ", "stage": "Stage: ", "plan": "Plan: "}
    return f"{head.get(event.kind, '')}{words or event.cause}"


def table(name: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    """A table."""
    head = "".join(f'<th scope="col">{text(cell)}</th>' for cell in heads)
    body = "".join(f"<tr>{''.join(f'<td>{text(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return wide(name, f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>")


def wide(name: str, inside: str) -> str:
    """What is too wide for a phone: it scrolls by itself, with the keyboard too."""
    return f'<div class="wide" tabindex="0" role="group" aria-label="{text(name)}">{inside}</div>'


def unit_of(plan: Plan | None) -> TemperatureUnit:
    """The scale the person reads."""
    return plan.temperature if plan is not None else TemperatureUnit.C


def draught_unit_of(plan: Plan | None) -> DraughtUnit:
    """The unit of draught the person reads."""
    return plan.draught if plan is not None else DraughtUnit.PA


def local(utc_s: float) -> str:
    """A time by this machine's clock, with its offset: two times across a change to summer time differ in it."""
    try:
        return datetime.fromtimestamp(utc_s).astimezone().strftime("%Y-%m-%d %H:%M:%S %z")
    except (OverflowError, ValueError, OSError):
        return "at an unknown time"


def text(words: str) -> str:
    """Words as HTML; control characters, which no page may hold, become a sign of their own."""
    return escape("".join(c if c.isprintable() or c in "\n\t" else "\ufffd" for c in words))
