"""The tables of `daemon/interlocks/README.md` are true: the interlocks are printed, the hazards name real tests."""

import re
from pathlib import Path

from daemon.interlocks.interlock import GROUPS
from daemon.interlocks.listing import markdown, rows
from daemon.interlocks.table import INTERLOCKS
from daemon.notice import Cause
from daemon.settings import Settings, read_settings

ROOT = Path(__file__).parents[3]
README = (ROOT / "daemon" / "interlocks" / "README.md").read_text(encoding="utf-8")


def between(start: str, end: str) -> str:
    """What the README has between two marks."""
    return README.split(start)[1].split(end)[0].strip()


def test_the_interlocks_in_the_readme_are_those_of_the_table() -> None:
    assert between("<!-- the interlocks -->", "<!-- end of the interlocks -->") == markdown(Settings())


def test_the_printed_table_follows_the_settings() -> None:
    settings = read_settings({"limits": {"chamber_c": 1200, "flue_c": None, "frozen_s": None}}, "test")
    printed = list(rows(settings))
    assert len(printed) == len(INTERLOCKS)
    limits = {row[0] + row[1]: row[2] for row in printed}
    assert any("chamber 1200 °C, flue none °C" in limit for limit in limits.values())
    assert any("the same for none s" in limit for limit in limits.values())


def test_every_group_of_states_has_words() -> None:
    assert {lock.states for lock in INTERLOCKS} <= GROUPS.keys()


def test_every_hazard_names_tests_that_exist() -> None:
    hazards = between("<!-- the hazards -->", "<!-- end of the hazards -->")
    named = re.findall(r"`((?:[a-z_]+/)*test_[a-z_]+\.py)::(test_\w+)`", hazards)
    assert len(named) > 30
    for file, test in named:
        assert f"def {test}(" in (ROOT / "tests" / file).read_text(encoding="utf-8"), f"{file}::{test}"


def test_every_cause_stands_in_the_hazards() -> None:
    hazards = between("<!-- the hazards -->", "<!-- end of the hazards -->")
    missing = [cause.value for cause in Cause if cause.value not in hazards]
    assert missing == []
