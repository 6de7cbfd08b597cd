"""What the decision code costs: believing, judging, deciding, permitting and remembering, at ten scans a second."""

from __future__ import annotations

import time

from daemon.course import FEEDING
from daemon.decide import decide
from daemon.judge import judge
from daemon.memory import Memory
from daemon.permit import permit
from daemon.scan import Row
from daemon.sight import believed
from hardware.port import Outputs, Readings
from tests.bench.control.firing import Job, kiln_of
from tests.bench.control.ours import Ours
from tests.bench.control.schedule import SCHEDULES

HOURS = 20.0
BATCH = 2000


def decision_cost_s(hours: float = HOURS) -> tuple[float, int]:
    """CPU seconds for so many hours of decisions, and how many scans were timed.

    A firing is run once and its readings kept; then the decisions are made again from them, timed, and have to come
    out as they did the first time.
    """
    kiln, upsets = kiln_of(Job("", 0, "stoneware", harsh=False))
    ours = Ours(kiln, upsets, SCHEDULES["stoneware"], 0)
    kept: list[tuple[Readings, Outputs]] = []
    rig, begun = ours.rig, ours.memory
    read, write = rig.read, rig.write
    last: list[Readings] = []

    def reading(due_s: float) -> Readings:
        last[:] = [read(due_s)]
        return last[0]

    def writing(wanted: Outputs) -> Outputs:
        done = write(wanted)
        kept.append((last[0], done))
        return done

    rig.read, rig.write = reading, writing  # type: ignore[method-assign]
    said = ours.attendant.asks
    asks: list[tuple[object, ...]] = []

    def saying() -> tuple[object, ...]:
        asks.append(said())
        return asks[-1]

    ours.attendant.asks = saying  # type: ignore[method-assign,assignment]
    ours.fire()
    ended = ours.memory
    memory: Memory = begun
    began_s = time.process_time()
    for (readings, done), words in zip(kept, asks, strict=True):
        seen = believed(readings, memory.settings.limits.stale_s, memory.readings)
        verdict = judge(seen, words, memory)  # type: ignore[arg-type]
        wish = decide(seen, words, memory)  # type: ignore[arg-type]
        driven = permit(wish, verdict, memory)
        memory = memory.after(Row(seen.now_s, seen, words, verdict, wish, driven, done))  # type: ignore[arg-type]
    spent_s = time.process_time() - began_s
    if memory.feed != ended.feed or memory.course != ended.course or memory.hearth != ended.hearth:
        raise RuntimeError("the same readings led to other decisions")
    if begun.course.state in FEEDING:
        raise RuntimeError("the kiln was not cold at the start")
    return spent_s / len(kept) * hours * 36_000, len(kept)
