"""From an edge at the kiln to the auger's pin going low, in real time, with a crowd at the page.

    python -m tests.bench.wires                200 edges of four kinds, at two kilns (about half an hour)
    python -m tests.bench.wires --quick        8 edges (about two minutes)
    python -m tests.bench.wires --edges N      as many as that
    python -m tests.bench.wires --json         one JSON object as the last line

The kiln lives in a process of its own; both moments, of the edge and of the pin's fall, are the kiln's. The feed is at
its ceiling, so the contact is closed when the edge comes. Each kiln has its daemon and its page, and the page is asked
at least 200 times a second. The exit status is 1 when a time limit was missed or the wrong cause answered.
"""

from __future__ import annotations

import argparse
import json
import socket
import subprocess
import sys
import time
import traceback
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from queue import Empty, SimpleQueue
from random import Random
from typing import Any

from tests.bench.moment import ask_to_stop, spread
from tests.bench.pair import Pair, side_by_side
from tests.bench.unit import PATIENCE_S, ROOT, UnitFile

KINDS = {
    "stop-pressed": "STOP_BUTTON",
    "stop-wire-breaks": "STOP_BUTTON",
    "airflow-switch-wire-breaks": "AIRFLOW_LOST",
    "probe-open": "PROBE_BLIND",
}
"""What happens at the kiln, and the cause that must answer."""
WORST_S, MEDIAN_S = 0.3, 0.2
GIVEN_UP_S = 3.0
LOCKED_WITHIN_S = 8.0
FEED_PERCENT = 100
PAIRS = 2


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge: from the moment it happened until the auger's pin was low, s."""

    kind: str
    low_s: float
    late_s: float
    """How late the kiln's own process was: the machine was too busy."""
    wrong: tuple[str, ...]


class Page:
    """The kiln's page as a service of its own, with a crowd at it."""

    def __init__(self, folder: Path, rate_per_s: float, stack: ExitStack) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        command = [sys.executable, "-m", "api", "--channel", str(folder / "channel"), "--port", str(self.port)]
        self._page = subprocess.Popen(command, cwd=ROOT)
        stack.callback(self._page.wait)
        stack.callback(self._page.terminate)
        while not self._answers():
            time.sleep(0.1)
        command = [sys.executable, "-m", "tests.bench.load", "--port", str(self.port), "--rate", str(rate_per_s)]
        self._crowd = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        stack.callback(self._crowd.kill)

    def _answers(self) -> bool:
        if self._page.poll() is not None:
            raise RuntimeError("the page did not come up")
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def status(self) -> Any:
        """The status as the page shows it, once it is fresh. Raises RuntimeError when it never is."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            time.sleep(0.3)
            try:
                line = HTTPConnection("127.0.0.1", self.port, timeout=10)
                line.request("GET", "/status")
                said = json.loads(line.getresponse().read())
                line.close()
            except (OSError, HTTPException):
                continue
            if said.get("connected") and said["age_s"] < 1.5:
                return said
        raise RuntimeError("the page shows no fresh status")

    def crowd(self) -> dict[str, float]:
        """Send the crowd home; what it saw."""
        figures: dict[str, float] = json.loads(self._crowd.communicate(timeout=30)[0])
        return figures


def measure(pair: Pair, status: Callable[[], Any], kind: str, wait_s: float) -> Edge:
    """Let it happen while the contact is closed; wait for the pin and the lock-out; mend and reset."""
    observer, wrong = pair.observer, []
    time.sleep(wait_s)
    truth = observer.truth()
    if not truth["outputs"]["auger"]:
        wrong.append("the contact was open when it happened")
    at_s = observer.inject(kind)
    fell_s: float | None = None
    while fell_s is None and time.monotonic() - at_s < GIVEN_UP_S:
        time.sleep(0.05)
        fell_s = next((s for s, what, level in observer.since(at_s) if what == "auger" and not level), None)
    late_s = max((level for _, what, level in observer.since(truth["at_s"]) if what == "late"), default=0.0)
    said = status()
    while said["state"] != "locked out" and time.monotonic() - at_s < LOCKED_WITHIN_S:
        said = status()
    causes = [n["cause"] for n in said["notices"] if n["first_out"]]
    if causes != [KINDS[kind]]:
        wrong.append(f"it is {said['state']} and the first-out is {causes}, not {KINDS[kind]}")
    if any(what == "auger" and level for _, what, level in observer.since(fell_s or at_s)):
        wrong.append("the auger's pin went on again")
    low_s = (fell_s or time.monotonic()) - at_s
    if fell_s is None or low_s > WORST_S:
        wrong.append(f"the pin fell after {low_s:.3f} s; the kiln was late by {late_s:.3f} s")
    observer.mend()
    time.sleep(0.5)
    pair.reset()
    return Edge(kind, low_s, late_s, tuple(wrong))


class Run:
    """The edges still to come, and what came of the others. Several threads share it."""

    def __init__(self, edges: int, rate_per_s: float, seed: int) -> None:
        self.kinds: SimpleQueue[str] = SimpleQueue()
        for number in range(edges):
            self.kinds.put(list(KINDS)[number % len(KINDS)])
        self.asked, self.rate_per_s, self.seed = edges, rate_per_s, seed
        self.edges: list[Edge] = []
        self.crowds: list[dict[str, float]] = []
        self.broken: list[str] = []
        self.resumed = self.afresh = 0

    def tend(self, number: int, folder: Path) -> None:
        """One pair's edges, one after the other, until there are none left."""
        dice = Random(f"wires {number} {self.seed}")
        with ExitStack() as stack:
            try:
                pair = Pair(folder, UnitFile.read(), self.seed + number, "warm-up", FEED_PERCENT)
                stack.callback(pair.close)
                page = Page(folder, self.rate_per_s, stack)
                self._edges(pair, page, dice)
                self.crowds.append(page.crowd())
            except Exception:  # the other pairs go on, and the run is told as failed
                self.broken.append(traceback.format_exc())

    def _edges(self, pair: Pair, page: Page, dice: Random) -> None:
        feeding = False
        while True:
            try:
                kind = self.kinds.get_nowait()
            except Empty:
                return
            if not feeding:
                pair.begin_afresh()
                self.afresh += 1
                pair.feed(page.status)
            self.edges.append(measure(pair, page.status, kind, wait_s=dice.uniform(1.0, 2.0)))
            if len(self.edges) % 20 == 0:
                print(f"{len(self.edges)} of {self.asked} edges", flush=True)
            feeding = pair.taken_up(page.status)
            self.resumed += feeding
            if not feeding:
                ask_to_stop(pair)


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--edges", type=int, default=200)
    parser.add_argument("--pairs", type=int, default=PAIRS, help=f"side by side (default: {PAIRS})")
    parser.add_argument("--rate", type=float, default=240.0, help="requests a second at each page (default: 240)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--quick", action="store_true", help="8 edges")
    parser.add_argument("--json", action="store_true", help="one JSON object as the last line")
    given = parser.parse_args()
    run = Run(8 if given.quick else given.edges, given.rate, given.seed)
    side_by_side(min(given.pairs, run.asked), run.tend, "wires")
    kinds = {kind: spread([e.low_s for e in run.edges if e.kind == kind]) for kind in KINDS}
    wrong = [f"{e.kind}: {words}" for e in run.edges for words in e.wrong]
    wrong += [f"{kind}: the median is {s['median']} s" for kind, s in kinds.items() if (s["median"] or 9.0) > MEDIAN_S]
    wrong += [f"the crowd asked only {c['per_s']} times a second" for c in run.crowds if c["per_s"] < 200.0]
    for kind, found in kinds.items():
        print(f"{kind:28} {sum(e.kind == kind for e in run.edges):4} edges   {found}")
    print(f"kilns late by at most {max((e.late_s for e in run.edges), default=0.0):.3f} s; crowds: {run.crowds}")
    print(f"taken up again {run.resumed} times, begun afresh {run.afresh} times")
    for words in (*run.broken, *wrong):
        print(f"WRONG: {words}")
    if given.json:
        print(json.dumps({
            "edges": len(run.edges), "asked": run.asked, "low_s": kinds, "all": spread([e.low_s for e in run.edges]),
            "crowds": run.crowds, "kiln_late_s": max((e.late_s for e in run.edges), default=0.0),
            "taken_up_again": run.resumed, "begun_afresh": run.afresh, "wrong": wrong, "broken": run.broken,
        }))  # fmt: skip
    sys.exit(0 if len(run.edges) == run.asked and not wrong and not run.broken else 1)


if __name__ == "__main__":
    main()
