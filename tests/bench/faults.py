"""Every fault at every moment: is it answered by the right cause in time, and is a healthy kiln left alone?

    python -m tests.bench.faults             the matrix (20 kilns), then 1000 healthy hours (60 kilns)
    python -m tests.bench.faults --matrix    the matrix alone
    python -m tests.bench.faults --healthy   the healthy hours alone; --hours says how many
    python -m tests.bench.faults --quick     two kilns and a few hours, about a minute
    python -m tests.bench.faults --json      one JSON object as the last line

The whole daemon runs over the shipped drivers on emulated pins and chips. In the matrix every kiln fires a short plan
through every state; at several moments of each state one forked process per fault breaks something and is judged by
`fault_table.py`. Healthy firings burn the shipped plans with wind, looks through the door, late people and uneven feed.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import resource
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from statistics import median
from typing import TypeVar

from tests.bench.fault_case import Case, names
from tests.bench.fault_healthy import PLANS, Healthy
from tests.bench.fault_healthy import fire as fire_healthy
from tests.bench.fault_matrix import Kilns
from tests.bench.fault_matrix import fire as fire_matrix

Figures = dict[str, object]
Done = TypeVar("Done")
KILNS, HEALTHY_KILNS, HOURS = 20, 60, 1000.0
QUICK_KILNS, QUICK_THIN, QUICK_HOURS, QUICK_FIRING_S = 2, 6, 6.0, 2 * 3600.0
GROUPS = ("quiet", "lighting", "feeding", "burn-down", "locked out")


def in_turn(
    works: Iterable[Callable[[], Done]], jobs: int, enough: Callable[[], bool], take: Callable[[Done], None]
) -> None:
    """Do the works in `jobs` processes, handing on each result, until there are no more or there is enough."""
    queue = iter(works)
    with ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("fork")) as pool:
        running: set[Future[Done]] = set()
        while True:
            while len(running) < jobs and not enough() and (work := next(queue, None)) is not None:
                running.add(pool.submit(work))
            if not running:
                return
            done, running = wait(running, return_when=FIRST_COMPLETED)
            for one in done:
                take(one.result())


class MatrixWork:
    """One kiln's share of the matrix, to be done in another process."""

    def __init__(self, number: int, thin: int) -> None:
        self._number, self._thin = number, thin

    def __call__(self) -> Kilns:
        """Do it."""
        return fire_matrix(self._number, self._thin)


class HealthyWork:
    """One healthy firing, to be done in another process."""

    def __init__(self, number: int, plan: str, seed: int, longest_s: float | None) -> None:
        self._number, self._plan, self._seed, self._longest_s = number, plan, seed, longest_s

    def __call__(self) -> Healthy:
        """Do it."""
        if self._longest_s is None:
            return fire_healthy(self._number, self._plan, self._seed)
        return fire_healthy(self._number, self._plan, self._seed, self._longest_s)


def matrix(kilns: int, thin: int, jobs: int) -> list[Kilns]:
    """The fault matrix."""
    fired: list[Kilns] = []
    began_s = time.monotonic()

    def take(kiln: Kilns) -> None:
        fired.append(kiln)
        failed = sum(bool(case.failures) for case in kiln.cases)
        after_min = (time.monotonic() - began_s) / 60
        words = f"{len(kiln.cases)} cases, {failed} failed, {kiln.hours:.1f} h"
        print(f"  kiln {kiln.number:2}: {words}; {len(fired)} of {kilns} kilns after {after_min:.1f} min", flush=True)
        for case in (case for case in kiln.cases if case.failures):
            where = f"{case.fault}, {case.state}, {case.chamber_c:.0f} °C"
            print(f"    {where}: {'; '.join(case.failures)}", flush=True)
        for words in kiln.false_trips:
            print(f"    tripped before anything was broken: {words}", flush=True)

    in_turn([MatrixWork(number, thin) for number in range(kilns)], jobs, lambda: False, take)
    return fired


def healthy(hours: float, jobs: int, quick: bool) -> Healthy:
    """Healthy firings, until there are enough hours."""
    total = Healthy()
    began_s = time.monotonic()

    def take(one: Healthy) -> None:
        total.join(one)
        for event in one.events:
            print(
                f"    {event.level} {event.cause} at {event.at_s} s while {event.state}, plan {event.plan}, "
                f"{event.kiln}: {event.words}",
                flush=True,
            )
        done = f"{total.firings} firings, {len(total.kilns)} kilns, {total.finished} to the end"
        after_min = (time.monotonic() - began_s) / 60
        print(f"  {total.hours:.0f} of {hours:.0f} h, {done}, after {after_min:.1f} min", flush=True)

    longest_s = QUICK_FIRING_S if quick else None
    works = (
        HealthyWork(n % HEALTHY_KILNS, PLANS[(n + n // HEALTHY_KILNS) % len(PLANS)], n, longest_s)
        for n in range(100_000)
    )
    in_turn(works, jobs, lambda: total.hours >= hours, take)
    return total


def by_fault(cases: list[Case]) -> dict[str, list[Case]]:
    """Cases by what broke, in the table's order of appearance."""
    sorted_out: defaultdict[str, list[Case]] = defaultdict(list)
    for case in cases:
        sorted_out[case.fault].append(case)
    return dict(sorted(sorted_out.items()))


def times(cases: list[Case], group: str | None = None) -> list[float]:
    """How soon it was answered, where it had to be and was, s."""
    return [c.answered_s for c in cases if c.answered_s is not None and c.must and group in (None, c.group)]


def print_matrix(fired: list[Kilns]) -> None:
    """The matrix as a person reads it."""
    cases = [case for kiln in fired for case in kiln.cases]
    heads = "".join(f"{group:>16}" for group in GROUPS[1:])
    print(f"\n{'':59}median / worst s, by state{'':40}  kg on a")
    print(f"{'fault':40} cases  in time  {heads}  dead fire  answered by")
    for fault, mine in by_fault(cases).items():
        judged = [case for case in mine if not case.blind]
        line = f"{fault:40} {len(mine):5}  {sum(not case.failures for case in judged):4}/{len(judged):<4}"
        for group in GROUPS[1:]:
            found = times(mine, group)
            both = f"{median(found):.1f} / {max(found):.1f}" if found else "-"
            line += f"{both:>16}"
        line += f"{max(unburnt_judged(case) for case in mine):11.2f}"
        seen = Counter(f"{case.cause} {case.level}" for case in mine if case.cause)
        print(line + "  " + ", ".join(f"{words} {count}" for words, count in seen.most_common()))
    failures = Counter((case.fault, words) for case in cases for words in case.failures)
    print(f"\n{sum(failures.values())} failures" + (":" if failures else ""))
    for (fault, words), count in sorted(failures.items()):
        where = Counter(case.state for case in cases if case.fault == fault and words in case.failures)
        kilns = sorted({case.kiln for case in cases if case.fault == fault and words in case.failures})
        print(f"  {count:3} x {fault}: {words} ({', '.join(f'{s} {n}' for s, n in where.items())}; kilns {kilns})")
    for words, count in (("one fault", 1), ("two faults at once", 2)):
        worst = max((c for c in cases if len(names(c.fault)) == count), key=unburnt_judged, default=None)
        if worst is not None:
            place = f"{worst.fault}, {worst.state}, {worst.kit}"
            print(f"\nMost pellets on a dead fire, {words}: {unburnt_judged(worst):.3f} kg ({place})")
    blind = Counter(case.fault for case in cases if case.blind)
    if blind:
        told = {fault: sum(c.blind and bool(c.cause) for c in cases if c.fault == fault) for fault in blind}
        listed = ", ".join(f"{fault} {count} (answered all the same {told[fault]})" for fault, count in blind.items())
        print(f"Not judged, because no instrument that is fitted there can tell: {listed}")


def unburnt_judged(case: Case) -> float:
    """Pellets on a dead fire in a case that counts, kg."""
    return 0.0 if case.blind or case.free else case.unburnt_kg


def worst_unburnt_kg(cases: list[Case], faults: int) -> float:
    """The most pellets on a dead fire in the cases with so many faults at once, kg."""
    return max((unburnt_judged(case) for case in cases if len(names(case.fault)) == faults), default=0.0)


def matrix_figures(fired: list[Kilns]) -> Figures:
    """The matrix as figures."""
    cases = [case for kiln in fired for case in kiln.cases]
    judged = [case for case in cases if not case.blind]
    faults: dict[str, Figures] = {}
    for fault, mine in by_fault(cases).items():
        found = times(mine)
        faults[fault] = {
            "cases": len(mine),
            "in_time": sum(not case.failures for case in mine if not case.blind),
            "median_s": round(median(found), 1) if found else None,
            "worst_s": round(max(found), 1) if found else None,
            "worst_unburnt_kg": max(unburnt_judged(case) for case in mine),
            "causes": dict(Counter(case.cause for case in mine if case.cause)),
        }
    blamed = [case for case in judged if any(words.startswith("blamed") for words in case.failures)]
    states = Counter[str]()
    for kiln in fired:
        states.update(kiln.states)
    return {
        "kilns": len(fired),
        "moments": dict(states),
        "cases": len(cases),
        "cases_judged": len(judged),
        "must_answer": sum(case.must for case in judged),
        "in_time": sum(not case.failures for case in judged),
        "wrong_cause": len(blamed),
        "matrix_false_trips": sum(len(kiln.false_trips) for kiln in fired),
        "worst_unburnt_kg": worst_unburnt_kg(cases, 1),
        "worst_unburnt_of_two_faults_kg": worst_unburnt_kg(cases, 2),
        "faults": faults,
        "failures": [
            {"fault": c.fault, "state": c.state, "kiln": c.kiln, "at_s": c.onset_s, "why": c.failures}
            for c in judged
            if c.failures
        ],
    }


def print_healthy(total: Healthy) -> None:
    """Healthy hours as a person reads them."""
    trips, warnings = (sum(e.level == level for e in total.events) for level in ("trip", "warning"))
    done = f"{total.firings} firings on {len(total.kilns)} kilns, {total.finished} to the end"
    print(f"\n{total.hours:.0f} healthy hours, {done}: {trips} trips, {warnings} warnings")
    print(f"{'':72} {'50 %':>9} {'99.9 %':>9} {'most':>9}")
    for name in sorted(total.spreads):
        spread = total.spreads[name]
        print(f"{name:72} {spread.below(0.5):9.3f} {spread.below(0.999):9.3f} {spread.most:9.3f}")


def healthy_figures(total: Healthy) -> Figures:
    """Healthy hours as figures."""
    return {
        "healthy_hours": round(total.hours, 1),
        "healthy_kilns": len(total.kilns),
        "healthy_firings": total.firings,
        "healthy_finished": total.finished,
        "healthy_trips": sum(event.level == "trip" for event in total.events),
        "healthy_warnings": sum(event.level == "warning" for event in total.events),
        "healthy_events": [vars(event) for event in total.events],
    }


def main() -> None:
    """Run what was asked for and print it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--matrix", action="store_true")
    parser.add_argument("--healthy", action="store_true")
    parser.add_argument("--hours", type=float, default=None, help=f"healthy hours; default {HOURS:.0f}")
    parser.add_argument("--kilns", type=int, default=None, help=f"kilns in the matrix; default {KILNS}")
    parser.add_argument("--thin", type=int, default=None, help="leave out all but every so-manieth case; default 1")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    quick: bool = asked.quick
    began_s = time.monotonic()
    figures: Figures = {}
    if asked.matrix or not asked.healthy:
        print("The fault matrix:", flush=True)
        kilns, thin = asked.kilns or (QUICK_KILNS if quick else KILNS), asked.thin or (QUICK_THIN if quick else 1)
        fired = matrix(kilns, thin, asked.jobs)
        print_matrix(fired)
        figures |= matrix_figures(fired)
    if asked.healthy or not asked.matrix:
        print("Healthy firings:", flush=True)
        total = healthy(asked.hours or (QUICK_HOURS if quick else HOURS), asked.jobs, quick)
        print_healthy(total)
        figures |= healthy_figures(total)
    trips = [figures.get("matrix_false_trips", 0), figures.get("healthy_trips", 0)]
    figures["false_trips"] = sum(count for count in trips if isinstance(count, int))
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    figures["cpu_s"] = round(sum(each.ru_utime + each.ru_stime for each in used))
    figures["wall_s"] = round(time.monotonic() - began_s)
    print(f"\n{figures['cpu_s']} s of processor time in {figures['wall_s']} s")
    if asked.json:
        print(json.dumps(figures))


if __name__ == "__main__":
    main()
