"""What is read of past firings: the list, the report, the table for a spreadsheet, two firings compared."""

from __future__ import annotations

import csv
import json
import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from daemon.plans.file import find_plan
from daemon.record.comparison import compare_page
from daemon.record.export import as_json, write_csv
from daemon.record.firings import FiringUnreadable, opened, read_firing, read_lines
from daemon.record.report import report
from daemon.record.schema import prepare

UTC_S = 1_900_000_000.0
BAD_WORDS = "=HYPERLINK(1) <script>alert(1)</script> \x00 \U0001f525 " + "x" * 10_000


def kept(path: Path, rates_c_per_h: tuple[float, ...] = (60.0,), top_c: float = 1225.0) -> Path:
    """A record with one firing for each rate: a straight climb from 900 °C, a row each 10 s."""
    with closing(sqlite3.connect(path)) as db:
        prepare(db)
        for firing, rate in enumerate(rates_c_per_h, 1):
            plan = find_plan("cone-6").read_text(encoding="utf-8")
            db.execute("INSERT INTO firings VALUES (?, ?, 'Cone 6, oxidation', ?, 'test', '{}')", (firing, UTC_S, plan))
            for k in range(int((top_c - 900) / rate * 360) + 1):
                hot_c, now_s = 900 + rate * k / 360, 10.0 * k
                db.execute(
                    "INSERT INTO readings (firing, now_s, utc_s, state, stage, chamber_c, setpoint_c, feed_frac,"
                    " draught_pa, pellets_kg, air_ratio, limited_by)"
                    " VALUES (?, ?, ?, 'climbing', 3, ?, ?, 0.4, 30, ?, ?, ?)",
                    (firing, now_s, UTC_S + now_s, hot_c, hot_c, 0.01 * k, 0.9 if k < 60 else 1.2, "+1+1"),
                )
            db.execute("INSERT INTO events (firing, now_s, utc_s, kind, cause, happened, did, do_next) VALUES"
                       " (?, 5, ?, 'warning', 'hopper', ?, '', '')", (firing, UTC_S + 5, BAD_WORDS))  # fmt: skip
        db.commit()
    return path


def test_the_list_names_the_top_and_the_cone_that_top_and_climb_bend(tmp_path: Path) -> None:
    """Published end points of cone 6: 1222 °C at 60 °C/h and 1243 °C at 150 °C/h (tests/daemon/plans/test_cones.py)."""
    with opened(kept(tmp_path / "r.sqlite", (60.0, 150.0))) as db:
        slow, fast = read_lines(db)
    assert slow.cone == "6" and fast.cone == "5"
    assert slow.top_c == pytest.approx(1225.0, abs=0.2)
    assert slow.lasted_s == pytest.approx(325 / 60 * 3600, abs=10)
    assert slow.pellets_kg == pytest.approx(19.5, abs=0.01)
    assert slow.kg_per_cone == pytest.approx(19.5 / 6, abs=0.01)
    assert slow.short_of_air_s == pytest.approx(600, abs=slow.lasted_s / 100)
    assert slow.ended == "unknown"


def test_a_firing_is_found_by_words_of_its_plan_its_events_and_by_cone(tmp_path: Path) -> None:
    with opened(kept(tmp_path / "r.sqlite", (60.0, 150.0))) as db:
        assert [line.firing for line in read_lines(db, "OXIDATION")] == [1, 2]
        assert [line.firing for line in read_lines(db, "hyperlink")] == [1, 2]
        assert [line.firing for line in read_lines(db, "cone 5")] == [2]
        assert read_lines(db, "' OR 1=1 --") == []


def test_the_report_needs_nothing_else_and_what_was_written_in_it_stays_text(tmp_path: Path) -> None:
    with opened(kept(tmp_path / "r.sqlite")) as db:
        page = report(read_firing(db), bag_price=8.0)
    assert "<script" not in page and "&lt;script&gt;" in page
    assert "\x00" not in page and "\U0001f525" in page
    assert not re.search(r"""(src|href)=|url\(|@import|https?://""", page)
    assert "19.5 kg, 1.1 bags of 40 lb" in page  # 19.5 / (40 × 0.45359237)
    assert "<dd>8.60</dd>" in page


def test_a_plan_that_today_can_not_read_and_a_firing_without_rows_still_give_a_report(tmp_path: Path) -> None:
    path = kept(tmp_path / "r.sqlite")
    with closing(sqlite3.connect(path)) as db:
        db.execute("UPDATE firings SET plan = 'not = a plan'")
        db.execute("INSERT INTO firings (id) VALUES (2)")
        db.commit()
    with opened(path) as db:
        assert "Cone planned</dt><dd>none" in report(read_firing(db, 1))
        assert "Too little was recorded" in report(read_firing(db, 2))
        compare_page(read_firing(db, 1), read_firing(db, 2), over_temperature=False)
        with pytest.raises(FiringUnreadable, match="no firing 3; the latest are 2, 1"):
            read_firing(db, 3)


def test_the_table_opens_in_pandas_and_holds_no_formula(tmp_path: Path) -> None:
    pandas = pytest.importorskip("pandas")
    with opened(kept(tmp_path / "r.sqlite")) as db, (tmp_path / "f.csv").open("w", newline="") as file:
        write_csv(db, 1, file)
    table = pandas.read_csv(tmp_path / "f.csv")
    assert len(table) == 1951
    assert table["chamber_c (°C)"].iloc[-1] == pytest.approx(1225.0, abs=0.2)
    assert table["time (UTC)"].iloc[0] == "2030-03-17T17:46:40+00:00"
    with (tmp_path / "f.csv").open(newline="") as file:
        assert next(csv.DictReader(file))["limited_by"] == "'+1+1"


def test_the_json_holds_every_column_of_the_firing_as_it_is_kept(tmp_path: Path) -> None:
    path = kept(tmp_path / "r.sqlite", (60.0, 150.0))
    with opened(path) as db:
        told = json.loads(as_json(db, 2))
        for table, key in (("firings", "id"), ("readings", "firing"), ("events", "firing")):
            rows = db.execute(f"SELECT {', '.join(told[table]['columns'])} FROM {table} WHERE {key} = 2").fetchall()
            assert [tuple(row) for row in told[table]["rows"]] == rows and rows


@pytest.mark.parametrize("over_temperature", [False, True])
def test_two_firings_are_laid_over_each_other(tmp_path: Path, over_temperature: bool) -> None:
    with opened(kept(tmp_path / "r.sqlite", (60.0, 150.0))) as db:
        page = compare_page(read_firing(db, 1), read_firing(db, 2), over_temperature)
    lengths = [len(path) for path in re.findall(r'class="(?:one|other)" d="([^"]*)"', page)]
    assert len(lengths) == 6 and min(lengths) > 100
    assert ("while it climbs" in page) is over_temperature


def test_what_is_not_a_record_is_told_in_a_sentence_and_left_as_it_was(tmp_path: Path) -> None:
    for name, content in (("text.sqlite", b"no database at all, and long enough to tell\n" * 9), ("empty.sqlite", b"")):
        (tmp_path / name).write_bytes(content)
        for command in (["firings"], ["report"], ["compare", "1", "2"]):
            ended = subprocess.run([sys.executable, "-m", "daemon", *command, "--record", str(tmp_path / name)],
                                   capture_output=True, text=True, check=False)  # fmt: skip
            assert ended.returncode == 2 and name in ended.stderr and "Traceback" not in ended.stderr
        assert (tmp_path / name).read_bytes() == content


def test_a_report_never_changes_the_record(tmp_path: Path) -> None:
    path = kept(tmp_path / "r.sqlite")
    before = path.read_bytes()
    command = [sys.executable, "-m", "daemon", "report", "--to", str(tmp_path / "a.html"), "--record", str(path)]
    subprocess.run(command, check=True)
    assert (tmp_path / "a.html").read_text(encoding="utf-8").endswith("</html>\n")
    assert path.read_bytes() == before
