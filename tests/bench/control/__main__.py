"""`python -m tests.bench.control`: who holds the climb best, on kilns that none of the controllers knows.

The whole takes hours of CPU; `--kilns 6` gives the picture in half an hour, `--quick` a first look in some minutes.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable
from multiprocessing import Pool
from statistics import fmean, median
from typing import Annotated

import typer

from tests.bench.control.cost import HOURS, decision_cost
from tests.bench.control.firing import BY_HAND, KNOWS, OTHERS, OURS, OXYGEN, Job, fire
from tests.bench.control.reduction import Reduced, reduce
from tests.bench.control.schedule import SCHEDULES
from tests.bench.control.score import Score

Row = dict[str, float | str | int | None]
HEADS = (
    ("who", "who holds feed and air"), ("rms", "RMS on the climb, °C, median / 90th"),
    ("over", "overshoot, °C, median / 90th"), ("soak_percent", "soak in ±5 °C"), ("smoke", "smoke, min, mean / 90th"),
    ("pellets", "pellets"), ("heat_work_90", "heat work, 90th"), ("top_percent", "top reached"),
    ("moves", "feed moves, points/min"), ("asks", "air moves asked for"), ("all_five_percent", "all five"),
)  # fmt: skip


def job(one: Job) -> tuple[Job, Score]:
    """For the pool."""
    return one, fire(one)


def reduced(one: tuple[int, bool]) -> tuple[bool, Reduced]:
    """For the pool."""
    return one[1], reduce(*one)


def at(values: Iterable[float], share: float) -> float:
    """The value that this share stays at or below."""
    ranked = sorted(values)
    return ranked[min(len(ranked) - 1, int(share * len(ranked)))]


def row(who: str, life: str, scores: dict[Job, Score], knows: dict[tuple[int, str], Score]) -> Row:
    """One line of the table. Top and pellets count the kilns that the all-knowing controller brings to the top."""
    able = {place: score for place, score in knows.items() if score.reached}
    here = list(scores.values())
    pellets = [
        s.fed_kg / able[j.number, j.schedule].fed_kg
        for j, s in scores.items()
        if s.reached and (j.number, j.schedule) in able
    ]
    tops = [s.reached for j, s in scores.items() if (j.number, j.schedule) in able]
    return {
        "who": who, "life": life, "firings": len(here),
        "rms_median_k": median(s.rms_k for s in here), "rms_90_k": at((s.rms_k for s in here), 0.9),
        "over_median_k": median(s.over_k for s in here), "over_90_k": at((s.over_k for s in here), 0.9),
        "soak_percent": 100 * sum(s.soak_in_s for s in here) / max(1, sum(s.soak_s for s in here)),
        "smoke_mean_min": fmean(s.smoke_s / 60 for s in here), "smoke_90_min": at((s.smoke_s / 60 for s in here), 0.9),
        "pellets": fmean(pellets) if pellets else None, "pellets_median": median(pellets) if pellets else None,
        "heat_work_90_k": at((s.heat_k for s in here), 0.9),
        "top_percent": 100 * fmean(tops) if tops else None, "able": len(able),
        "moves_per_min": median(s.moves_per_min for s in here),
        "asks_10_h": median(s.asks / s.hours * 10 for s in here),
        "all_five_percent": 100 * fmean(s.all_five for s in here),
        "ended": "; ".join(sorted({s.ended for s in here})),
    }  # fmt: skip


def shown(one: Row) -> str:
    """A row for people."""

    def number(key: str, digits: int = 1) -> str:
        value = one[key]
        return "–" if not isinstance(value, int | float) else f"{value:.{digits}f}"

    cells = (
        one["who"], f"{number('rms_median_k')} / {number('rms_90_k')}",
        f"{number('over_median_k')} / {number('over_90_k')}", f"{number('soak_percent')} %",
        f"{number('smoke_mean_min')} / {number('smoke_90_min')}", number("pellets", 3), number("heat_work_90_k"),
        f"{number('top_percent', 0)} % of {one['able']}", number("moves_per_min"), number("asks_10_h"),
        f"{number('all_five_percent', 0)} %",
    )  # fmt: skip
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def table(life: str, numbers: range, who: list[str], pool: object) -> list[Row]:
    """Every controller on every kiln and schedule, on one kind of day."""
    jobs = [Job(w, n, s, life == "harsher kilns") for w in who for n in numbers for s in SCHEDULES]
    done: dict[str, dict[Job, Score]] = {w: {} for w in who}
    for place, (one, score) in enumerate(pool.imap_unordered(job, jobs), 1):  # type: ignore[attr-defined]
        done[one.who][one] = score
        if place % 10 == 0 or place == len(jobs):
            print(f"{life}: {place} of {len(jobs)} firings", file=sys.stderr, flush=True)
    ranked = {w: dict(sorted(done[w].items(), key=lambda item: (item[0].number, item[0].schedule))) for w in who}
    knows = {(j.number, j.schedule): s for j, s in ranked.get(KNOWS, {}).items()}
    return [row(w, life, ranked[w], knows) for w in who]


def reductions(numbers: range, pool: object) -> list[Row]:
    """Asked-for reductions, with and without an oxygen probe."""
    rows: list[Row] = []
    came = list(pool.imap_unordered(reduced, [(n, probe) for n in numbers for probe in (False, True)]))  # type: ignore[attr-defined]
    for probe, bound in ((False, 0.15), (True, 0.05)):
        some = [r for had, r in came if had is probe and r.off is not None]
        free = [abs(r.off) for r in some if r.off is not None and not r.at_least_frac]
        rows.append({
            "who": f"reduction {'with' if probe else 'without'} an oxygen probe", "life": "reduction",
            "firings": len(some), "at_lowest_fan": sum(r.at_least_frac for r in some),
            "off_median": median(free) if free else None, "off_90": at(free, 0.9) if free else None, "bound": bound,
            "within_percent": 100 * fmean(off <= bound for off in free) if free else None,
        })  # fmt: skip
    return rows


def main(
    kilns: Annotated[int, typer.Option(help="how many kilns; three schedules each")] = 40,
    harsh: Annotated[int | None, typer.Option(help="how many of the harsher kilns; as many unless said")] = None,
    hand: Annotated[int | None, typer.Option(help="how many kilns with air by hand and with a probe")] = None,
    reduce_kilns: Annotated[int, typer.Option("--reduce", help="how many kilns with a reduction")] = 12,
    only_ours: Annotated[bool, typer.Option(help="leave the other controllers out, but for the all-knowing")] = False,
    quick: Annotated[bool, typer.Option(help="one kiln of each, ours alone, no reduction: some minutes")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="a list of rows")] = False,
    processes: Annotated[int, typer.Option(help="as many as there are cores unless said")] = 0,
) -> None:
    """Run the bench and print the tables."""
    if quick:
        kilns, harsh, hand, reduce_kilns, only_ours = 1, 1, 0, 0, True
    others = [KNOWS] if only_ours else list(OTHERS)
    harsh = kilns if harsh is None else harsh
    hand = min(kilns, 12) if hand is None else hand
    rows: list[Row] = []
    with Pool(processes or os.cpu_count()) as pool:
        if kilns:
            rows += table("daily life", range(kilns), [*others, OURS], pool)
        if harsh:
            rows += table("harsher kilns", range(harsh), [*others, OURS], pool)
        if hand:
            rows += table("by hand, and with a probe", range(hand), [KNOWS, BY_HAND, OXYGEN], pool)
        if reduce_kilns:
            rows += reductions(range(reduce_kilns), pool)
    cost = decision_cost()
    whole_s, decide_s = cost.hours()
    rows.append({"who": "decision code", "life": "cost", "hours": HOURS, "cpu_s": whole_s, "decide_cpu_s": decide_s,
                 "scans_timed": cost.scans})  # fmt: skip
    if as_json:
        print(json.dumps(rows, indent=1, ensure_ascii=False))
        return
    for life in dict.fromkeys(str(r["life"]) for r in rows):
        here = [r for r in rows if r["life"] == life]
        print(f"\n{life}\n")
        if "rms_median_k" not in here[0]:
            for one in here:
                print("  " + ", ".join(f"{k} {v:.3f}" if isinstance(v, float) else f"{k} {v}" for k, v in one.items()))
            continue
        print("| " + " | ".join(head for _, head in HEADS) + " |")
        print("|" + "---|" * len(HEADS))
        for one in here:
            print(shown(one))


if __name__ == "__main__":
    typer.run(main)
