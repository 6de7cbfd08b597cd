"""The table of `api/README.md` is true: it is printed from the daemon's window."""

from __future__ import annotations

from pathlib import Path

from daemon.window import FIELDS, RECORDED
from tests.window.table import markdown

README = (Path(__file__).parents[2] / "api" / "README.md").read_text(encoding="utf-8")
MOST_WORDS = 1500


def test_the_fields_in_the_readme_are_those_of_the_window() -> None:
    kept = README.split("<!-- what a status says -->")[1].split("<!-- end of what a status says -->")[0].strip()
    assert kept == markdown(), "print it anew: python -m tests.window.table"


def test_the_printed_table_has_every_field_with_its_unit_and_whether_it_is_recorded() -> None:
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in markdown().splitlines()[2:]]
    assert [row[0].strip("`†") for row in rows] == list(FIELDS)
    assert {row[0].strip("`†") for row in rows if not row[0].endswith("†")} == {column.name for column in RECORDED}
    found = {row[0]: row[1] for row in rows}
    assert found["`draught_pa`"] == "Pa, null"
    assert found["`more_probes_c`"] == "°C by name, null"
    assert found["`wanted`†"] == "list of `Wanted`"


def test_the_readme_stays_short() -> None:
    assert len(README.replace(markdown(), "").split()) < MOST_WORDS
