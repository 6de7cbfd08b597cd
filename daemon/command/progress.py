"""What a rehearsal shows on the terminal while it runs, and what it says at the end."""

from __future__ import annotations

import time
from types import TracebackType
from typing import Self

from rich.console import Console
from rich.status import Status
from rich.table import Table

from daemon.command.rehearse import Rehearsal
from daemon.course.state import State
from daemon.interlocks.listing import rows
from daemon.memory import Memory
from daemon.outside.notices import Json
from daemon.plans.plan import Plan
from daemon.settings import Settings
from daemon.units import BAG_KG, gap_from_k, words_draught, words_duration, words_temperature
from hardware.port import Draught, Temperature

EVERY_S = 1800.0  # of the kiln's time: a line at least this often where the terminal can't keep one line moving
REFRESH_S = 0.25

out, err = Console(soft_wrap=True), Console(stderr=True, soft_wrap=True)


class Progress:
    """Follows the memory and prints what a person wants to know. On a terminal one line keeps moving."""

    def __init__(self, rehearsal: Rehearsal, console: Console = err) -> None:
        """Print to `console`: standard error, unless a test listens."""
        self._console = console
        self._plan = rehearsal.plan
        self._moving: Status | None = Status("", console=console) if console.is_terminal else None
        self._began_s: float | None = None
        self._told_s = 0.0
        self._drawn_s = 0.0
        self._last: tuple[object, ...] = ()

    def __enter__(self) -> Self:
        """Begin the moving line."""
        if self._moving is not None:
            self._moving.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        """End the moving line."""
        if self._moving is not None:
            self._moving.stop()

    def show(self, memory: Memory) -> None:
        """Show what changed."""
        if memory.readings is None:
            return
        now_s = memory.readings.now_s
        if self._began_s is None:
            self._began_s = now_s
        changed = (memory.beat.course.state, memory.beat.course.stage, memory.beat.air.request, memory.lockout is None,
                   memory.beat.attendance.call)  # fmt: skip
        if changed != self._last or (self._moving is None and now_s - self._told_s >= EVERY_S):
            self._last, self._told_s = changed, now_s
            self._console.print(self._line(memory, now_s - self._began_s), markup=False, highlight=False)
        elif self._moving is not None and time.monotonic() - self._drawn_s >= REFRESH_S:
            self._drawn_s = time.monotonic()
            self._moving.update(self._line(memory, now_s - self._began_s).replace("[", r"\["))

    def _line(self, memory: Memory, at_s: float) -> str:
        course, unit = memory.beat.course, self._plan.temperature
        clock = f"{int(at_s // 3600):3d}:{int(at_s % 3600 // 60):02d}"
        parts = [clock, f"{course.state.value:<13}"]
        chamber = memory.readings.probes["chamber"] if memory.readings is not None else None
        draught = memory.readings.draught if memory.readings is not None else None
        parts.append(words_temperature(chamber.value_c, unit) if isinstance(chamber, Temperature) else "blind")
        if course.setpoint_c is not None:
            parts.append(f"setpoint {words_temperature(course.setpoint_c, unit)}")
        if isinstance(draught, Draught):
            parts.append(words_draught(draught.value_pa, self._plan.draught))
        if memory.beat.feed.frac > 0:
            parts.append(f"feed {memory.beat.feed.frac * 100:.0f} %")
        if memory.fed_kg > 0:
            parts.append(f"{memory.fed_kg:.1f} kg")
        if course.stage is not None:
            parts.append(self._plan.stages[course.stage].name)
        if course.waits:
            parts.append("the plan waits for the kiln")
        if memory.beat.air.request is not None:
            parts.append(memory.beat.air.request)
        if memory.lockout is not None and course.state is State.LOCKED_OUT:
            parts.append(memory.lockout.first_out.notice.happened)
        elif memory.beat.attendance.call.value != "quiet":
            parts.append(f"is anybody there? ({memory.beat.attendance.call.value})")
        return "  ".join(parts)


def print_summary(summary: dict[str, Json]) -> None:
    """The end of a rehearsal, for people."""
    table = Table(title=f"{summary['plan']}: {summary['ended']}", show_header=False, box=None, title_justify="left")
    course = summary["course"] if isinstance(summary["course"], list) else []
    for step in course:
        if isinstance(step, dict) and isinstance(step["at_s"], int | float):
            table.add_row(f"  {step['state']}", f"after {words_duration(float(step['at_s']))}")
    cone = f"cone {summary['cone']}" if summary["cone"] else "below the coolest cone"
    table.add_row("Top temperature", f"{summary['top_c']} °C, {cone}")
    table.add_row("Hours", f"{summary['hours']}, of them {summary['hours_fired']} from lit to burn-down")
    table.add_row("Pellets", f"{summary['pellets_kg']} kg, {summary['bags']} bags of {BAG_KG:.1f} kg (40 lb)")
    if summary["climb_rms_c"] is not None:
        table.add_row("Off the setpoint", f"{summary['climb_rms_c']} °C RMS over the climbs")
    for trip in summary["trips"] if isinstance(summary["trips"], list) else []:
        if isinstance(trip, dict):
            table.add_row("Trip", f"{trip['cause']} while {trip['during']}: {trip['happened']}")
            table.add_row("", f"{trip['did']} {trip['do_next']}")
    warnings = summary["warnings"] if isinstance(summary["warnings"], list) else []
    table.add_row("Warnings", ", ".join(str(w) for w in warnings) or "none")
    if summary["record"]:
        table.add_row("Record", str(summary["record"]))
    out.print(table)


def print_plan(plan: Plan) -> None:
    """A plan as the daemon reads it, in the plan's own units."""
    table = Table(title=plan.name, title_justify="left", box=None)
    for heading in ("stage", "kind", "feed", "draught", "to", "rate", "for", "trim", "atmosphere"):
        table.add_column(heading)
    for stage in plan.stages:
        to = f"cone {stage.cone}" if stage.cone else ""
        if stage.to_c is not None:
            to = words_temperature(stage.to_c, plan.temperature)
        rate = f"{gap_from_k(stage.rate_c_per_h, plan.temperature):.0f} °{plan.temperature.value}/h" if (
            stage.rate_c_per_h is not None) else ""  # fmt: skip
        table.add_row(
            stage.name, stage.kind.value, f"{stage.feed_frac * 100:g} %" if stage.feed_frac is not None else "",
            words_draught(stage.draught_pa, plan.draught) if stage.draught_pa is not None else "",
            to, rate, words_duration(stage.for_s) if stage.for_s is not None else "", "yes" if stage.trim else "no",
            stage.atmosphere.value,
        )  # fmt: skip
    out.print(table)


def print_interlocks(settings: Settings) -> None:
    """Every interlock, a paragraph each: seven columns fit no terminal."""
    for cause, looks_for, limit, looks, after, happens, why in rows(settings):
        out.print(cause, style="bold", markup=False, highlight=False)
        happens = happens.replace("**", "")
        for line in (f"{looks_for}.", f"limit: {limit}; looks: {looks}; after: {after}", happens, why):
            out.print(f"  {line}", markup=False, highlight=False)
