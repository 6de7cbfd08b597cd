"""The daemon killed and stopped at random moments while it feeds: what the auger does then, and how it comes back.

    python -m tests.bench.kills                500 moments, half SIGKILL, half SIGSTOP (about half an hour)
    python -m tests.bench.kills --quick        16 moments (about two minutes)
    python -m tests.bench.kills --moments N    as many as that
    python -m tests.bench.kills --pairs N      so many kilns and daemons side by side
    python -m tests.bench.kills --json         one JSON object as the last line

Each kiln lives in a process of its own and sees every change of its pins with its moment. The daemon is the shipped
one; what systemd would do (watchdog, stop hook, restart) is done as `systemd/stokehand.service` says. Nothing resets a
pin but a process that claims it: a pin whose owner dies keeps its level. The exit status is 1 when a moment went wrong.
"""

from __future__ import annotations

import argparse
import json
import sys
import traceback
from collections import Counter
from pathlib import Path
from queue import Empty, SimpleQueue
from random import Random
from signal import SIGKILL, SIGSTOP, Signals

from tests.bench.moment import Moment, Stop, ask_to_stop, kill, spread
from tests.bench.pair import STATES, Ears, Pair, side_by_side
from tests.bench.unit import UnitFile, first_in_line

FEED_PERCENT = 85
STOP_EVERY = 5  # moments of a pair, after which the daemon is asked to stop and begins afresh
PAIRS = 8


class Run:
    """The moments still to come, and what came of the others. Several threads share it."""

    def __init__(self, moments: int, seed: int) -> None:
        self.seed = seed
        hows = [SIGKILL, SIGSTOP] * ((moments + 1) // 2)
        self.hows: SimpleQueue[Signals] = SimpleQueue()
        for how in hows[:moments]:
            self.hows.put(how)
        self.asked = moments
        self.moments: list[Moment] = []
        self.stops: list[Stop] = []
        self.broken: list[str] = []
        self.resumed = self.afresh = 0

    def tend(self, number: int, folder: Path) -> None:
        """One pair's moments, one after the other, until there are none left."""
        dice = Random(f"kills {number} {self.seed}")
        state = list(STATES)[number % len(STATES)]
        pair = Pair(folder, UnitFile.read(), self.seed + number, state, FEED_PERCENT)
        ears = Ears(folder / "channel")
        try:
            self._moments(pair, ears, dice)
        except Exception:  # the other pairs go on, and the run is told as failed
            self.broken.append(f"{traceback.format_exc()}\n{pair.unit.log()}")
        finally:
            pair.close()
            ears.close()

    def _moments(self, pair: Pair, ears: Ears, dice: Random) -> None:
        count = 0
        feeding = False
        while True:
            try:
                how = self.hows.get_nowait()
            except Empty:
                return
            if not feeding:
                pair.begin_afresh()
                self.afresh += 1
                pair.feed(ears)
            moment = kill(pair, ears, how, wait_s=dice.uniform(0.0, 10.0))  # anywhere in the feed's cycle of 10 s
            self.moments.append(moment)
            count += 1
            if len(self.moments) % 20 == 0:
                print(f"{len(self.moments)} of {self.asked} moments", flush=True)
            feeding = count % STOP_EVERY != 0 and pair.taken_up(ears)
            self.resumed += feeding
            if not feeding:
                self.stops.append(ask_to_stop(pair))


def figures(run: Run) -> dict[str, object]:
    """All figures of the run."""
    moments, closed = run.moments, [m for m in run.moments if m.closed]
    stopped = [m for m in moments if m.how == "SIGSTOP"]
    wrong = [f"{m.how} in {m.state}: {words}" for m in moments for words in m.wrong]
    wrong += [words for stop in run.stops for words in stop.wrong]
    return {
        "moments": len(moments),
        "asked": run.asked,
        "by_signal": dict(Counter(m.how for m in moments)),
        "by_state": dict(Counter(m.state for m in moments)),
        "contact_closed": len(closed),
        "relay_open_s": spread([m.relay_s for m in moments]),
        "relay_open_after_pulse_s": spread([m.relay_after_pulse_s for m in moments]),
        "unpowered_s": spread([m.unpowered_s for m in closed]),
        "powered_after_s": spread([m.powered_s for m in moments]),
        "fed_after_g": spread([m.fed_g for m in moments]),
        "stop_to_dead_s": spread([m.dead_s for m in stopped]),
        "dead_to_pins_low_s": spread([m.low_s for m in moments]),
        "dead_to_ready_s": spread([m.ready_s for m in moments]),
        "locked_out_interrupted": sum(m.locked_out for m in moments),
        "tells_how_long_away": sum(m.tells_away for m in moments),
        "tells_how_hot": sum(m.tells_hot for m in moments),
        "temperature_in_the_words": sum(m.hot_in_words for m in moments),
        "record_behind_s": spread([m.record_behind_s for m in moments]),
        "record_sound": sum(m.record_sound for m in moments),
        "kiln_late_s": spread([m.late_s for m in moments]),
        "asked_to_stop": len(run.stops),
        "stop_to_pins_low_s": spread([s.low_s for s in run.stops]),
        "stop_to_ended_s": spread([s.ended_s for s in run.stops]),
        "in_real_time": bool(first_in_line(UnitFile.read().priority)),
        "taken_up_again": run.resumed,
        "begun_afresh": run.afresh,
        "wrong": wrong,
        "broken": run.broken,
    }


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--moments", type=int, default=500)
    parser.add_argument("--pairs", type=int, default=PAIRS, help=f"side by side (default: {PAIRS})")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--quick", action="store_true", help="16 moments")
    parser.add_argument("--json", action="store_true", help="one JSON object as the last line")
    given = parser.parse_args()
    run = Run(16 if given.quick else given.moments, given.seed)
    side_by_side(min(given.pairs, run.asked), run.tend, "kills")
    found = figures(run)
    for name, value in found.items():
        if name not in ("wrong", "broken"):
            print(f"{name:26} {value}")
    for words in (*run.broken, *(str(words) for m in run.moments for words in m.wrong)):
        print(f"WRONG: {words}")
    if given.json:
        print(json.dumps(found))
    sound = len(run.moments) == run.asked and not found["wrong"] and not run.broken
    sys.exit(0 if sound else 1)


if __name__ == "__main__":
    main()
