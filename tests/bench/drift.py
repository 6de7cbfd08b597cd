"""How soon a drifting chamber probe is warned of, and how often a sound one is, on simulated kilns.

    python -m tests.bench.drift            24 kilns along the shipped plans, some minutes
    python -m tests.bench.drift --quick    3 kilns
    python -m tests.bench.drift --json     one JSON object as the last line

Each kiln is fired to the end with a sound probe (doors opened, bags that feed up to 5 % more or less), and again from
several moments on with a chamber probe that falls behind the truth. The firing is that of
`tests/daemon/fire/test_probe_drift.py`: the daemon's own feed, air and heat balance once a second, without its other
interlocks, some of which would trip first.
"""

from __future__ import annotations

import argparse
import json
from statistics import median

from daemon.fire.probe_drift import LEARN_S
from daemon.plans.file import find_plan, load_plan
from tests.daemon.fire.test_probe_drift import Firing, again, lit

PLANS = ("cone-6", "bisque", "cone-10-reduction")
ONSETS_H = (4.5, 6.0, 7.5)
RATES_K_PER_H = (60.0, 120.0, 200.0)
WATCHED_S = 2 * 3600.0
LONGEST_S = 20 * 3600.0
Figures = dict[str, float | int | list[int]]


def found_after_min(firing: Firing, rate_k_per_h: float) -> float | None:
    """Minutes from the onset to the warning; None where none came within two hours or before the plan's end."""
    drifting = again(firing, behind_k_per_h=rate_k_per_h, warned=[])
    began_s = drifting.now_s
    while not drifting.warned and not drifting.over and drifting.now_s - began_s < WATCHED_S:
        drifting.run(60)
    return (drifting.warned[0] - began_s) / 60 if drifting.warned else None


def measured(kilns: int) -> dict[str, Figures]:
    """Fire them all; print and return the figures."""
    hours, warned, most_k = 0.0, 0, 0.0
    found: dict[float, list[float | None]] = {rate: [] for rate in RATES_K_PER_H}
    early = 0
    for variation in range(1, kilns + 1):
        firing = lit(variation, load_plan(find_plan(PLANS[variation % len(PLANS)])))
        for onset_h in ONSETS_H:
            firing.run(onset_h * 3600 - firing.now_s)
            drift = firing.drift
            if firing.over or drift is None or drift.flue.learnt_s <= LEARN_S:
                early += 1
                continue
            for rate in RATES_K_PER_H:
                found[rate].append(found_after_min(firing, rate))
        firing.run(LONGEST_S - firing.now_s)
        hours, warned, most_k = hours + firing.now_s / 3600, warned + bool(firing.warned), max(most_k, firing.most_k)
    results: dict[str, Figures] = {
        "sound probes": {"firings": kilns, "hours": round(hours), "firings_warned": warned, "most_k": round(most_k, 1)}
    }
    for rate, minutes in found.items():
        seen = sorted(m for m in minutes if m is not None)
        results[f"{rate:.0f} K/h"] = {
            "onsets": len(minutes),
            "found": len(seen),
            "within_60_min": sum(m <= 60 for m in seen),
            "median_min": round(median(seen)) if seen else -1,
            "latest_min": round(seen[-1]) if seen else -1,
        }
    results["onsets while it still learnt"] = {"not_counted": early}
    for name, figures in results.items():
        print(f"{name}: {figures}")
    return results


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="3 kilns")
    parser.add_argument("--json", action="store_true", help="one JSON object as the last line")
    given = parser.parse_args()
    results = measured(3 if given.quick else 24)
    if given.json:
        print(json.dumps(results))


if __name__ == "__main__":
    main()
