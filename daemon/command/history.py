"""What `stokehand firings`, `report` and `compare` print and write."""

from __future__ import annotations

import sqlite3
import sys
from datetime import datetime
from pathlib import Path
from typing import TextIO

from rich.console import Console
from rich.table import Table
from rich.text import Text

from daemon.record.comparison import compare_page
from daemon.record.export import as_json, write_csv
from daemon.record.firings import Firing, FiringLine, opened, read_firing, read_lines
from daemon.record.report import report
from daemon.units import words_duration

WIDTH = 150
out = Console(width=WIDTH)


HEADS = ("firing", "begun", "plan", "lasted", "top °C", "cone", "pellets kg", "kg per cone", "short of air",
         "trips", "ended")  # fmt: skip


def print_firings(path: Path, search: str) -> None:
    """The list of firings. Raises FiringUnreadable."""
    with opened(path) as db:
        lines = read_lines(db, search)
    table = Table(*HEADS, box=None)
    for line in lines:
        table.add_row(*(Text(cell) for cell in cells(line)))
    if lines:
        out.print(table)
    else:
        out.print(f"No firing has “{search}”." if search else "No firing is kept.", markup=False)


def cells(line: FiringLine) -> tuple[str, ...]:
    """A firing's row."""
    per_cone = line.kg_per_cone
    return (
        str(line.firing), datetime.fromtimestamp(line.begun_utc_s).astimezone().strftime("%Y-%m-%d %H:%M %z"),
        line.plan, words_duration(line.lasted_s), f"{line.top_c:.0f}" if line.top_c is not None else "",
        line.cone or "", f"{line.pellets_kg:.1f}", f"{per_cone:.1f}" if per_cone is not None else "",
        words_duration(line.short_of_air_s), str(line.trips), line.ended,
    )  # fmt: skip


def write_report(path: Path, firing: int | None, form: str, to: Path | None, bag_price: float | None) -> Path | None:
    """Write the report, to standard output where `to` is `-`. Raises FiringUnreadable and OSError."""
    with opened(path) as db:
        whole = read_firing(db, firing)
        number = whole.line.firing
        to = to if to is not None else Path(f"firing-{number}.{form}")
        if str(to) == "-":
            write_form(db, whole, form, sys.stdout, bag_price)
            return None
        with to.open("w", encoding="utf-8", newline="") as file:
            write_form(db, whole, form, file, bag_price)
    return to


def write_form(db: sqlite3.Connection, whole: Firing, form: str, file: TextIO, bag_price: float | None) -> None:
    """Write a firing in one of the forms."""
    if form == "html":
        file.write(report(whole, bag_price))
    elif form == "csv":
        write_csv(db, whole.line.firing, file)
    else:
        file.write(as_json(db, whole.line.firing))


def write_comparison(path: Path, one: int, other: int, over_temperature: bool, to: Path | None) -> Path:
    """Write the page that lays two firings over each other. Raises FiringUnreadable and OSError."""
    with opened(path) as db:
        firings = read_firing(db, one), read_firing(db, other)
    to = to if to is not None else Path(f"firings-{one}-{other}.html")
    to.write_text(compare_page(*firings, over_temperature), encoding="utf-8")
    return to
