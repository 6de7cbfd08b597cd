"""What the decision code costs: believing, judging, deciding, permitting and remembering, at ten scans a second."""

from __future__ import annotations

import time
from dataclasses import dataclass

from daemon.belief import believe
from daemon.course.asks import Ask
from daemon.decide import decide
from daemon.judge import judge
from daemon.memory import Memory
from daemon.permit import permit
from daemon.row import Row
from daemon.scan import scan
from daemon.settings import SCAN_S
from hardware.port import Outputs, Readings
from tests.bench.control.firing import Job, kiln_of
from tests.bench.control.ours import Forgets, Ours
from tests.bench.control.schedule import SCHEDULES

HOURS = 20.0
BATCH = 2000
LONGEST = 500_000

Moment = tuple[Readings, tuple[Ask, ...], Memory, Outputs]


@dataclass
class Cost:
    """CPU seconds so far, of all the decision code and of `decide` alone, and for how many scans."""

    whole_s: float = 0.0
    decide_s: float = 0.0
    scans: int = 0

    def add(self, moments: list[Moment]) -> None:
        """Decide these moments again, timed."""
        began_s = time.process_time()
        for readings, asks, memory, done in moments:
            seen = believe(readings, memory.settings.limits.stale_s, memory.readings)
            verdict = judge(seen, asks, memory)
            wish = decide(seen, asks, memory)
            driven = permit(wish, verdict, memory)
            memory.after(Row(seen.now_s, seen, asks, verdict, wish, driven, done))
        whole_s = time.process_time()
        for readings, asks, memory, _ in moments:
            decide(readings, asks, memory)
        self.decide_s += time.process_time() - whole_s
        self.whole_s += whole_s - began_s
        self.scans += len(moments)

    def hours(self, hours: float = HOURS) -> tuple[float, float]:
        """For so many hours: all of it, and `decide` alone, CPU seconds."""
        scale = hours * 3600 / SCAN_S / max(self.scans, 1)
        return self.whole_s * scale, self.decide_s * scale


def decision_cost() -> Cost:
    """A whole firing, each of its moments decided once more, timed, and the same again."""
    kiln, upsets = kiln_of(Job("", 0, "stoneware", harsh=False))
    ours = Ours(kiln, upsets, SCHEDULES["stoneware"], 0)
    cost, moments, record, memory = Cost(), list[Moment](), Forgets(), ours.memory
    for number in range(LONGEST):
        asks = ours.attendant.asks()
        before = memory
        memory = ours.memory = scan(number * SCAN_S, memory, asks, ours.rig, record)
        if memory.readings is not None:
            moments.append((memory.readings, asks, before, memory.done))
        if len(moments) == BATCH:
            same(moments, memory)
            cost.add(moments)
            moments.clear()
        if ours.over:
            break
    return cost


def same(moments: list[Moment], after: Memory) -> None:
    """The same inputs give the same outputs. Raises RuntimeError when they don't."""
    readings, asks, memory, _ = moments[-1]
    wish = decide(readings, asks, memory)
    if (wish.beat.course, wish.beat.feed, wish.beat.estimate) != (
        after.beat.course,
        after.beat.feed,
        after.beat.estimate,
    ):
        raise RuntimeError("the same readings led to other decisions")
