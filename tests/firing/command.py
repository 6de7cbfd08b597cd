"""Running the `stokehand` command as a person would, in a process of its own."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

REHEARSE = [sys.executable, "-m", "daemon", "rehearse"]
TEND = [sys.executable, "-m", "daemon", "tend"]

LOW_FIRE = """
name = "Low fire"
temperature = "C"
draught = "Pa"
[[stage]]
name = "warm-up"
kind = "fixed"
feed = 10
draught = 12
for = "20 min"
[[stage]]
name = "up"
kind = "climb"
to = 420
rate = 200
feed = 20
draught = 25
[[stage]]
name = "hold"
kind = "soak"
for = "5 min"
feed = 16
draught = 22
"""

WARM_ENOUGH = """
[limits]
cold_c = 150
"""


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended, and what it said where."""

    status: int
    story: Any
    out: str
    err: str


def query(record: Path, sql: str, *values: float | str) -> list[Any]:
    """What the record says."""
    with closing(sqlite3.connect(f"file:{record}?mode=ro", uri=True)) as db:
        return db.execute(sql, values).fetchall()


def rehearse(folder: Path, *options: str, plan: str = LOW_FIRE, settings: str = WARM_ENOUGH) -> Ended:
    """A rehearsal of a short plan with `--json`; give `--plan` to choose another."""
    (folder / "low.toml").write_text(plan)
    (folder / "settings.toml").write_text(settings)
    common = ["--json", "--config", str(folder / "settings.toml")]
    if "--plan" not in options:
        common += ["--plan", str(folder / "low.toml")]
    done = subprocess.run([*REHEARSE, *common, *options], capture_output=True, text=True, check=False)
    story = json.loads(done.stdout) if done.stdout else None
    return Ended(done.returncode, story, done.stdout, done.stderr)
