"""What the scan costs: a firing flat out, a firing in real time, and whether the same seed gives the same bytes.

    python -m tests.bench.spine            12 simulated hours flat out, 5 minutes in real time
    python -m tests.bench.spine --quick    1 simulated hour, 20 s in real time
    python -m tests.bench.spine --json     one JSON object as the last line

Each part runs in a process of its own, so that its memory and processor time are the daemon's alone.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from daemon.command.attendant import Temper
from daemon.command.rehearse import Rehearsal, Rehearser
from daemon.memory import Memory
from daemon.plans.file import find_plan, load_plan
from daemon.record.journal import BATCH_S, FLAT_OUT_BATCH_S, Record
from daemon.settings import Settings
from hardware.port import Outputs, Readings, Rig

Figures = dict[str, float | int | bool]


class Timed:
    """A rig that notes how late each read comes back, by the wall clock; apart from that the rig it wraps."""

    def __init__(self, rig: Rig) -> None:
        self._rig = rig
        self._first: tuple[float, float] | None = None
        self.late_s: list[float] = []

    def read(self, due_s: float) -> Readings:
        """Read, and note the lateness against the grid of the first scans."""
        readings = self._rig.read(due_s)
        wall_s = time.perf_counter()
        if self._first is None and due_s > 0:
            self._first = (due_s, wall_s)
        elif self._first is not None:
            self.late_s.append(wall_s - self._first[1] - (due_s - self._first[0]))
        return readings

    def write(self, wanted: Outputs) -> Outputs:
        """Write."""
        return self._rig.write(wanted)

    def close(self) -> None:
        """Close."""
        self._rig.close()


def worker(speed: float | None, span_s: float, path: Path) -> Figures:
    """One rehearsal of the cone 6 plan in this process, cut off after `span_s` of the kiln's time."""
    plan = load_plan(find_plan("cone-6"))
    rehearsal = Rehearsal(plan, Settings(), "simulated", 1, speed, Temper.PROMPT, longest_s=span_s)
    record = Record(path, "simulated", BATCH_S if speed is not None else FLAT_OUT_BATCH_S)
    run = Rehearser(rehearsal, record, None)
    timed = Timed(run.rig)
    if speed is not None:
        run.rig = timed
    gc.collect()
    gc.freeze()
    cpu_s, wall_s = time.process_time(), time.perf_counter()
    memory = run.run(show)
    wall_s = time.perf_counter() - wall_s
    record.close()
    cpu_s = time.process_time() - cpu_s
    late_ms = sorted(1000 * late_s for late_s in timed.late_s)
    figures: Figures = {
        "scans": run.story.scans,
        "wall_s": round(wall_s, 2),
        "cpu_s": round(cpu_s, 2),
        "us_a_scan": round(1e6 * wall_s / run.story.scans, 1),
        "peak_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1),
        "core_percent": round(100 * cpu_s / wall_s, 2),
        "pellets_kg": round(memory.fed_kg, 2),
    }
    if late_ms:
        figures |= {
            "late_p50_ms": round(late_ms[len(late_ms) // 2], 3),
            "late_p999_ms": round(late_ms[min(len(late_ms) - 1, int(0.999 * len(late_ms)))], 3),
            "late_max_ms": round(late_ms[-1], 3),
        }
    return figures


def show(memory: Memory) -> None:
    """Nobody watches a benchmark."""


def measured(speed: str, span_s: float, path: Path) -> Figures:
    """The worker's figures, from a process of its own."""
    command = [sys.executable, "-m", "tests.bench.spine", "--worker", speed, str(span_s), str(path)]
    figures: Figures = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    return figures


def main() -> None:
    """Run the parts and print them."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="a minute at most")
    parser.add_argument("--json", action="store_true", help="one JSON object as the last line")
    parser.add_argument("--worker", nargs=3, metavar=("SPEED", "SPAN_S", "PATH"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.worker:
        speed, span_s, path = given.worker
        print(json.dumps(worker(None if speed == "max" else float(speed), float(span_s), Path(path))))
        return
    hours, real_s = (1, 20) if given.quick else (12, 300)
    with tempfile.TemporaryDirectory() as folder:
        flat = measured("max", hours * 3600, Path(folder) / "flat.sqlite")
        print(f"{hours} h flat out, 10 scans a second: {flat}", flush=True)
        real = measured("1", real_s, Path(folder) / "real.sqlite")
        print(f"{real_s} s in real time: {real}", flush=True)
        twins = [Path(folder) / "a.sqlite", Path(folder) / "b.sqlite"]
        for path in twins:
            measured("max", 1800, path)
        same = len({hashlib.sha256(path.read_bytes()).hexdigest() for path in twins}) == 1
        print(f"same seed, same bytes: {same}", flush=True)
    if given.json:
        print(json.dumps({"hours": hours, "flat": flat, "real": real, "same_bytes": same}))


if __name__ == "__main__":
    main()
