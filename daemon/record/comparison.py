"""Two firings laid over each other, over time or over temperature, as one HTML page."""

from __future__ import annotations

from collections.abc import Callable

from daemon.record.drawing import Frame, Line, draw
from daemon.record.firings import Firing, Reading
from daemon.record.report import draught_unit_of, in_short, page, text, unit_of, wide
from daemon.units import DraughtUnit, from_c, from_pa

STEP_C = 5.0
"""Over temperature: one point each time the chamber is so much hotter than ever before."""


def compare_page(one: Firing, other: Firing, over_temperature: bool) -> str:
    """The page, in the units of the first one's plan."""
    unit, draught_unit = unit_of(one.plan), draught_unit_of(one.plan)
    water = "in. w.c." if draught_unit is DraughtUnit.INH2O else "Pa"
    both = ((one, "one"), (other, "other"))

    def hot(reading: Reading) -> float | None:
        return from_c(reading.chamber_c, unit) if reading.chamber_c is not None else None

    def gone_h(firing: Firing) -> Callable[[Reading], float | None]:
        began_s = firing.readings[0].now_s if firing.readings else 0.0
        return lambda reading: (reading.now_s - began_s) / 3600

    gets: tuple[tuple[str, Callable[[Firing], Callable[[Reading], float | None]]], ...] = (
        ("Hours since made ready", gone_h) if over_temperature else (f"Chamber, °{unit.value}", lambda _: hot),
        ("Feed, %", lambda _: lambda r: r.feed_frac * 100 if r.feed_frac is not None else None),
        (
            f"Draught, {water}",
            lambda _: lambda r: from_pa(r.draught_pa, draught_unit) if r.draught_pa is not None else None,
        ),
    )
    lines, names = [], tuple(name for name, _ in gets)
    for firing, style in both:
        x = hot if over_temperature else gone_h(firing)
        readings = climbing(firing.readings) if over_temperature else firing.readings
        for place, (_, get) in enumerate(gets):
            lines.append(Line(place, style, tuple((x(r), get(firing)(r)) for r in readings)))
    under = f"chamber, °{unit.value}, while it climbs" if over_temperature else "hours since made ready"
    said = f"Firings {one.line.firing} and {other.line.firing} compared over {under}."
    drawing = draw(Frame(said, under, lines, names))
    title = f"Firings {one.line.firing} and {other.line.firing}"
    columns = "".join(
        f'<section aria-labelledby="f{place}"><h2 id="f{place}"><span class="key {style}-key"></span> '
        f"Firing {f.line.firing}: {text(f.line.plan)}</h2>{in_short(f, unit, None)}</section>"
        for place, (f, style) in enumerate(both)
    )
    return page(title, f"<h1>{title}</h1>{wide('Curves', drawing)}{columns}")


def climbing(readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """The readings at which the chamber was STEP_C hotter than ever before in the firing."""
    kept: list[Reading] = []
    top_c = -1e9
    for reading in readings:
        if reading.chamber_c is not None and reading.chamber_c >= top_c + STEP_C:
            kept.append(reading)
            top_c = reading.chamber_c
    return tuple(kept)
