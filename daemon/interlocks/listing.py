"""The table of interlocks in words, as `stokehand interlocks` and `daemon/interlocks/README.md` print it."""

from __future__ import annotations

import inspect
from collections.abc import Iterator

from daemon.course.state import State
from daemon.interlocks.interlock import GROUPS, Interlock, SafeDamper, SafeHorn
from daemon.interlocks.table import INTERLOCKS
from daemon.notice import Level
from daemon.settings import Settings
from daemon.units import words_duration

HEADINGS = ("cause", "what it looks for", "limit", "looks", "after", "what happens", "why")


def rows(settings: Settings) -> Iterator[tuple[str, ...]]:
    """Each interlock with the limits of these settings, one cell under each heading."""
    limits = {name: words_number(value) for name, value in settings.limits.model_dump().items()}
    for lock in INTERLOCKS:
        delay_s = lock.delay_s(settings.limits, State.COLD)
        yield (
            lock.cause.value,
            (inspect.getdoc(lock.finds) or "").splitlines()[0].rstrip("."),
            lock.limit.format(**limits),
            GROUPS[lock.states],
            "at once" if delay_s == 0 else words_duration(delay_s) if delay_s >= 1 else f"{delay_s:g} s",
            what_happens(lock),
            lock.why,
        )


def words_number(value: float | None) -> str:
    """A limit as a person writes it."""
    return "none" if value is None else f"{value:g}"


def what_happens(lock: Interlock) -> str:
    """What the outputs do. The auger always opens on a trip, and nothing but the reset at the kiln lets it close."""
    held = "feed held off meanwhile" if lock.holds_feed else ""
    if lock.level is Level.WARNING:
        return "warning" + (f"; {held}" if held else "")
    parts = ["**trip**: auger off", f"fan {lock.safe.fan.value}"]
    if lock.safe.damper is SafeDamper.OPEN:
        parts.append("damper open")
    parts.append("horn until acknowledged" if lock.safe.horn is SafeHorn.UNTIL_SEEN else "horn 2 min")
    if held and lock.delay_s.__name__ != "at_once":
        parts.append(held)
    parts.append("may be resumed" if lock.resumes else "ends the firing")
    return ", ".join(parts)


def markdown(settings: Settings) -> str:
    """The whole table for a README."""
    lines = [HEADINGS, ("---",) * len(HEADINGS), *rows(settings)]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines)
