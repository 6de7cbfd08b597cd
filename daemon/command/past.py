"""The commands for firings that are past: they read the record, also while the daemon writes it, and never write to it.

What they need is loaded when they are called: the daemon has no use for it.
"""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import Enum
from pathlib import Path
from typing import Annotated

import typer

from daemon.command.off import DEFAULT_CONFIG
from daemon.record.firings import FiringUnreadable
from daemon.settings import SettingsFault, load_settings

CONFIG = Path(DEFAULT_CONFIG)
BAD_INPUT = 2
CONFIG = Path(DEFAULT_CONFIG)

past = typer.Typer()


class ReportForm(Enum):
    """What a report is written as."""

    HTML = "html"
    CSV = "csv"
    JSON = "json"


@contextmanager
def explained() -> Iterator[None]:
    """Ends with 2 and a sentence where the record, the configuration or the file to write is not as it should be."""
    try:
        yield
    except BrokenPipeError:
        raise
    except (FiringUnreadable, SettingsFault, OSError, sqlite3.Error) as fault:
        typer.secho(str(fault), bold=True, err=True)
        raise typer.Exit(BAD_INPUT) from None


def record_path(record: Path | None, config: Path) -> Path:
    """The record that was named, or the configuration's. Raises SettingsFault."""
    return record if record is not None else load_settings(config).record.path


def say(message: str) -> None:
    """A line for the person, apart from what a script reads."""
    print(message, file=sys.stderr, flush=True)


@past.command()
def firings(
    search: Annotated[str, typer.Argument(help="Words of a plan or an event, or a cone: 'cone 6'.")] = "",
    config: Annotated[Path, typer.Option(help="The configuration file: where the record is.")] = CONFIG,
    record: Annotated[Path | None, typer.Option(help="A record, instead of the configuration's.")] = None,
) -> None:
    """List the firings in the record: date, plan, hours, top, cone by the thermocouple, pellets, trips."""
    from daemon.command.history import print_firings

    with explained():
        print_firings(record_path(record, config), search)


@past.command()
def report(
    firing: Annotated[
        int | None, typer.Argument(help="Its number, as `stokehand firings` has it. Else the last.")
    ] = None,
    form: Annotated[
        ReportForm, typer.Option(help="A page to read and print, a table, or all of it for a program.")
    ] = ReportForm.HTML,
    to: Annotated[Path | None, typer.Option(help="The file to write; - is standard output.")] = None,
    bag_price: Annotated[float | None, typer.Option(min=0, help="Of one 40 lb bag of pellets, for the cost.")] = None,
    config: Annotated[Path, typer.Option(help="The configuration file: where the record is.")] = CONFIG,
    record: Annotated[Path | None, typer.Option(help="A record, instead of the configuration's.")] = None,
) -> None:
    """Write the report of a firing: one HTML file to read, print and keep; or CSV, or JSON."""
    from daemon.command.history import write_report

    with explained():
        written = write_report(record_path(record, config), firing, form.value, to, bag_price)
    if written is not None:
        say(f"Written: {written}")


@past.command()
def compare(
    one: Annotated[int, typer.Argument(help="A firing's number.")],
    other: Annotated[int, typer.Argument(help="Another's.")],
    over_temperature: Annotated[bool, typer.Option("--over-temperature", help="Over temperature, not time.")] = False,
    to: Annotated[Path | None, typer.Option(help="The file to write.")] = None,
    config: Annotated[Path, typer.Option(help="The configuration file: where the record is.")] = CONFIG,
    record: Annotated[Path | None, typer.Option(help="A record, instead of the configuration's.")] = None,
) -> None:
    """Lay two firings over each other on one page, over time or over temperature."""
    from daemon.command.history import write_comparison

    with explained():
        written = write_comparison(record_path(record, config), one, other, over_temperature, to)
    say(f"Written: {written}")


@past.command()
def backup(
    to: Annotated[Path, typer.Argument(help="The copy: a new file, on another disk.")],
    config: Annotated[Path, typer.Option(help="The configuration file: where the record is.")] = CONFIG,
    record: Annotated[Path | None, typer.Option(help="A record, instead of the configuration's.")] = None,
) -> None:
    """Copy the record to another file and check the copy. Safe during a firing."""
    from daemon.record.backup import back_up

    with explained():
        firings = back_up(record_path(record, config), to)
    say(f"Copied and checked: {to}, {firings} firings.")


@past.command()
def restore(
    copy: Annotated[Path, typer.Argument(help="A copy that `stokehand backup` made.")],
    config: Annotated[Path, typer.Option(help="The configuration file: where the record is.")] = CONFIG,
    record: Annotated[Path | None, typer.Option(help="A record, instead of the configuration's.")] = None,
) -> None:
    """Put a copy in the record's place, once it is found whole. The present record is kept beside it.

    Refused while the daemon runs. A lock-out stays: it has a file of its own.
    """
    from daemon.record.backup import restore as put_back

    with explained():
        path = record_path(record, config)
        aside = put_back(copy, path)
    kept = f" What was there is kept as {aside}." if aside is not None else ""
    say(f"Restored: {path}.{kept}")
