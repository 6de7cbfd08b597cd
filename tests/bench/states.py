"""The daemon as a state machine, explored for some minutes: what was covered, and which rule was broken, if any.

    python -m tests.bench.states               four explorations of 150,000 acts each, some minutes
    python -m tests.bench.states --quick       4,000 acts each, some seconds
    python -m tests.bench.states --limit 1e6   so many acts each
    python -m tests.bench.states --json        one JSON object as the last line

What an act is, which rules are watched, and what "covered" means stands in `tests/daemon/explorer.py` and `watch.py`.
The end status is 1 when a rule was broken; the acts that lead there are printed.
"""

from __future__ import annotations

import argparse
import gc
import json
import sys
import time
from collections.abc import Callable

from daemon.course.state import TRANSITIONS
from tests.daemon.explorer import Atlas, explore

Figures = dict[str, object]

KILNS: dict[str, Callable[[int], Atlas]] = {
    "one thing wrong at a time": explore,
    "two things wrong at a time": lambda limit: explore(limit, most_wrong=2),
    "a change and a word in the same scan": lambda limit: explore(limit, both=True),
    "no flame eye": lambda limit: explore(limit, eye=False),
}
"""What is explored: the usual alphabet of acts, and three others."""


def measured(name: str, limit: int) -> Figures:
    """Explore once; print and return what was covered."""
    began_s = time.perf_counter()
    atlas = KILNS[name](limit)
    gone_s = time.perf_counter() - began_s
    figures = covered(atlas) | {"wall_s": round(gone_s, 1), "acts_a_second": round(atlas.acts / gone_s)}
    print(f"{name}:")
    for key, value in figures.items():
        if key != "broken":
            print(f"  {key}: {value}")
    for rule, path in atlas.broken.items():
        print(f"  BROKEN: {rule}\n    {' / '.join(path)}")
    sys.stdout.flush()
    return figures


def covered(atlas: Atlas) -> Figures:
    """The figures of an exploration."""
    passages = {(was.value, state.value) for was, states in TRANSITIONS.items() for state in states if was is not state}
    return {
        "moments_known": atlas.known,
        "moments_left_out": atlas.left_out,
        "moments_tried": atlas.moments,
        "acts": atlas.acts,
        "acts_that_fed": atlas.fed,
        "exhausted": atlas.exhausted,
        "states": len(atlas.states),
        "passages_of_the_map": f"{len(passages & atlas.passages.keys())} of {len(passages)}",
        "states_that_led_to_the_lockout": len({was for was, state in atlas.passages if state == "locked out"}),
        "first_outs": dict(atlas.causes.most_common()),
        "broken": atlas.broken,
    }


def main() -> None:
    """Explore and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="some seconds")
    parser.add_argument("--limit", type=float, default=150_000, metavar="ACTS", help="acts of each exploration")
    parser.add_argument("--json", action="store_true", help="one JSON object as the last line")
    given = parser.parse_args()
    gc.freeze()
    results = {name: measured(name, 4_000 if given.quick else round(given.limit)) for name in KILNS}
    if given.json:
        print(json.dumps(results))
    if any(figures["broken"] for figures in results.values()):
        sys.exit(1)


if __name__ == "__main__":
    main()
