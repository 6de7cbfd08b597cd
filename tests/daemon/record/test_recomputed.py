"""A decision can be recomputed from its row: each part of the feed, from what was recorded beside it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from itertools import pairwise
from pathlib import Path

import pytest

from daemon.control.feed import CLOSE_S, HOT_K, MOST_GAP_K, FeedLimit
from daemon.course.state import State
from daemon.fire.mixture import AIR_PER_KG, LEAST_GAIN, flue_loss_kg_per_kg, heat_release_frac
from tests.daemon.house import SHORT_PLAN, cold_kiln, short_plan
from tests.daemon.record.test_record import recorded

Row = dict[str, float]
STRADDLES = 0.02
"""Where the air comes to its least fuel over heat has a kink, and the daemon's slope, taken over a small step, may lie
across it: in so many rows at most."""


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The record of a firing with a climb of some minutes and a soak."""
    path = tmp_path_factory.mktemp("recomputed") / "r.sqlite"
    recorded(path, kiln=cold_kiln(plan=short_plan(SHORT_PLAN.replace("to = 100", "to = 80"))))
    return path


def rows(path: Path) -> list[Row]:
    """The readings of the feeding states whose feed the daemon found."""
    with closing(sqlite3.connect(path)) as db:
        db.row_factory = sqlite3.Row
        states = (State.CLIMBING.value, State.SOAKING.value)
        return [dict(r) for r in db.execute("SELECT * FROM readings WHERE state IN (?, ?) ORDER BY now_s", states)]


def stepped(path: Path) -> Iterator[tuple[Row, Row]]:
    """Each row in which the heat balance has stepped, with the row before it."""
    for before, row in pairwise(rows(path)):
        if row["estimated_chamber_c"] != before["estimated_chamber_c"]:
            yield before, row


def auger_kg_per_h(path: Path) -> float:
    """The auger's rate by the settings that were recorded with the firing."""
    with closing(sqlite3.connect(path)) as db:
        ((settings,),) = db.execute("SELECT settings FROM firings")
    rate: float = json.loads(settings)["kiln"]["auger_kg_per_h"]
    return rate


def fuel_per_heat(row: Row) -> tuple[float, float]:
    """Pellets for each part of heat that has to stay: with the air that is wanted, and with the air at its least."""
    lost = flue_loss_kg_per_kg(row["flue_c"])
    ratio = row["wanted_air_ratio"]
    free = 1 / max(heat_release_frac(ratio) - (ratio * AIR_PER_KG + 1) * lost, LEAST_GAIN)
    return free, 1 / max(1 - lost, LEAST_GAIN)


def heats(before: Row, row: Row) -> tuple[float, float]:
    """The heat that P and I ask for, kg/h; the slow integral is the one of the beat before, for it moves afterwards."""
    gap_k = min(max(row["setpoint_c"] - row["estimated_chamber_c"], -MOST_GAP_K), MOST_GAP_K)
    p_heat = row["mass_kg_per_k"] * 3600 / CLOSE_S * (gap_k + min(gap_k + HOT_K, 0.0))
    return p_heat, row["load_kg_per_h"] + before["slow_integral_kg_per_h"]


def test_p_and_i_are_the_heat_of_gap_load_and_slow_integral_by_what_a_part_of_heat_takes(path: Path) -> None:
    auger, asked, across = auger_kg_per_h(path), 0, 0
    for before, row in stepped(path):
        p_heat, i_heat = heats(before, row)
        assert row["p_frac"] * i_heat == pytest.approx(row["i_frac"] * p_heat, rel=1e-6, abs=1e-12)
        asked += p_heat != 0.0 and before["slow_integral_kg_per_h"] != 0.0
        across += not any(
            row["p_frac"] == pytest.approx(per * p_heat / auger, rel=1e-5)
            and row["i_frac"] == pytest.approx(per * i_heat / auger, rel=1e-5)
            for per in fuel_per_heat(row)
        )
    assert asked > 50
    assert across <= STRADDLES * asked


def test_the_feed_is_the_sum_of_its_parts_or_what_its_limit_says(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        ((text,),) = db.execute("SELECT settings FROM firings")
    kiln = json.loads(text)["kiln"]
    limits = set()
    for row in rows(path):
        total = row["ff_frac"] + row["p_frac"] + row["i_frac"] + row["d_frac"]
        limited_by = FeedLimit(row["limited_by"])
        limits.add(limited_by)
        match limited_by:
            case FeedLimit.NONE:
                assert row["feed_frac"] == pytest.approx(total, abs=1e-9)
            case FeedLimit.FLOOR:
                assert total < row["feed_frac"] == kiln["feed_floor_frac"]
            case FeedLimit.CEILING:
                assert total > row["feed_frac"] == kiln["feed_ceiling_frac"]
            case _:
                assert row["feed_frac"] < total
    assert FeedLimit.NONE in limits and len(limits) > 1
