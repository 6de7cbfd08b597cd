"""Everything that has to hold before a change lands: style, types, arrows, tests. `python -m tests.check [--fast]`.

Which tests run when, said here and nowhere else:

- Tests run side by side, as many as there are cores, but for those marked `alone`: these run real processes against the
  clock, and get the machine for themselves afterwards.
- `--fast` leaves out `alone` and `slow`. A test is marked `slow` when it takes more than about a second or opens a
  browser; the five slowest of the rest are printed, so that an unmarked one shows.
"""

from __future__ import annotations

import argparse
import shlex
import subprocess
import sys
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
BESIDE = Path(sys.executable).parent  # the venv's own tools, not the machine's
SIDE_BY_SIDE = ("-n", "auto", "--maxprocesses", "4", "--dist", "worksteal")
MISSING = 127  # as a shell has it


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to check, and the command that checks it."""

    name: str
    command: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a step ended, and how long it took."""

    step: Step
    status: int
    took_s: float


def steps(fast: bool) -> tuple[Step, ...]:
    """What is checked, in this order."""
    pytest = (sys.executable, "-m", "pytest")
    lint = (
        Step("style", (str(BESIDE / "ruff"), "check", ".")),
        Step("format", (str(BESIDE / "ruff"), "format", "--check", ".")),
        Step("types", (str(BESIDE / "mypy"),)),
        Step("arrows", (str(BESIDE / "lint-imports"),)),
    )
    if fast:
        chosen = ("-m", "not slow and not alone", "--durations", "5", "--durations-min", "1")
        return (*lint, Step("quick tests", (*pytest, *SIDE_BY_SIDE, *chosen)))
    return (
        *lint,
        Step("tests side by side", (*pytest, *SIDE_BY_SIDE, "-m", "not alone")),
        Step("tests alone", (*pytest, "-m", "alone")),
    )


def run(step: Step) -> Outcome:
    """Run one step in the checkout; what it says goes straight to the terminal."""
    print(f"== {step.name}: {shlex.join(step.command)}", flush=True)
    began_s = time.monotonic()
    try:
        status = subprocess.run(step.command, cwd=ROOT, check=False).returncode
    except FileNotFoundError:
        print(f"{step.command[0]} is missing: .venv/bin/pip install -e '.[test]'")
        status = MISSING
    outcome = Outcome(step, status, time.monotonic() - began_s)
    print(f"-- {_line(outcome)}", flush=True)
    return outcome


def check(asked: Iterable[Step]) -> int:
    """Run every step, whatever became of the one before. Returns 1 when one of them failed."""
    outcomes = [run(step) for step in asked]
    failed = [outcome.step.name for outcome in outcomes if outcome.status != 0]
    print("\n".join(["", *map(_line, outcomes), f"failed: {', '.join(failed)}" if failed else "all of it holds"]))
    return 1 if failed else 0


def _line(outcome: Outcome) -> str:
    return f"{outcome.step.name:20} {outcome.took_s:6.1f} s  {'ok' if outcome.status == 0 else 'FAILED'}"


def main(argv: Sequence[str] | None = None) -> int:
    """Check what the command line asks for."""
    line = argparse.ArgumentParser(prog="python -m tests.check", description=str(__doc__).splitlines()[0])
    line.add_argument("--fast", action="store_true", help="the quick tests only: a minute at most on two free cores")
    return check(steps(line.parse_args(argv).fast))


if __name__ == "__main__":
    sys.exit(main())
