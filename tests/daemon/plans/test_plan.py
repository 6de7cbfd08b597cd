"""The firing plan: the shipped ones, every kind of mistake, and whatever else can stand in a file."""

import tomllib
from pathlib import Path

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from daemon.plans.file import PlanFault, find_plan, load_plan, parse_plan, shipped_plans
from daemon.plans.plan import RATIO, Atmosphere, Plan, StageKind

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
HEAD = 'name = "n"\ntemperature = "C"\ndraught = "Pa"\n'
WARM = '[[stage]]\nname = "warm"\nkind = "fixed"\nfeed = 10\ndraught = 12\nfor = "30 min"\n'
UP = '[[stage]]\nname = "up"\nkind = "climb"\nto = 600\nrate = 100\nfeed = 20\ndraught = 30\n'
SOAK = '[[stage]]\nname = "hold"\nkind = "soak"\nfor = "10 min"\nfeed = 20\ndraught = 30\n'
GOOD = HEAD + WARM + UP + SOAK


def test_the_three_shipped_plans_load() -> None:
    assert set(shipped_plans()) == {"bisque", "cone-6", "cone-10-reduction"}
    for name, path in shipped_plans().items():
        plan = load_plan(find_plan(name))
        assert plan.text == path.read_text(encoding="utf-8")
        assert plan.stages[0].kind is StageKind.FIXED


@pytest.mark.parametrize("name", ["bisque", "cone-6", "cone-10-reduction"])
def test_a_shipped_plan_is_fired_in_our_units_as_it_is_written_in_the_persons(name: str) -> None:
    """Independent: pint converts what stands in the file (°F with 32 for a point, without for a rate)."""
    path = find_plan(name)
    written, plan = tomllib.loads(path.read_text(encoding="utf-8")), load_plan(path)
    degree, gauge = written["temperature"], {"Pa": "Pa", "inH2O": "inch_H2O"}[written["draught"]]
    assert [s.name for s in plan.stages] == [entry["name"] for entry in written["stage"]]
    for stage, entry in zip(plan.stages, written["stage"], strict=True):
        assert stage.kind.value == entry["kind"]
        assert stage.cone == entry.get("cone")
        assert stage.trim is (entry["kind"] != "fixed")
        assert stage.atmosphere.value == entry.get("atmosphere", "oxidation")
        assert (stage.feed_frac is None) is ("feed" not in entry)
        assert (stage.draught_pa is None) is ("draught" not in entry)
        if "feed" in entry:
            assert stage.feed_frac == pytest.approx(UNITS.Quantity(entry["feed"], "percent").to("").magnitude)
        if "draught" in entry:
            draught_pa = UNITS.Quantity(entry["draught"], gauge).to("Pa").magnitude
            assert stage.draught_pa == pytest.approx(draught_pa, rel=1e-4)
        if "to" in entry:
            assert stage.to_c == pytest.approx(UNITS.Quantity(entry["to"], f"deg{degree}").to("degC").magnitude)
        if "rate" in entry:
            gap_k = UNITS.Quantity(entry["rate"], f"delta_deg{degree}").to("kelvin").magnitude
            assert stage.rate_c_per_h == pytest.approx(gap_k)
        if "for" in entry:
            assert stage.for_s == pytest.approx(UNITS.Quantity(entry["for"]).to("s").magnitude)


def test_a_plan_in_fahrenheit_and_inches_of_water_by_hand() -> None:
    """°C = (°F - 32) / 1.8, a rate without 32; 249.089 Pa an inch (NIST SP 811)."""
    text = GOOD.replace('"C"', '"F"').replace('"Pa"', '"inH2O"').replace("draught = 12", "draught = 0.05")
    text = text.replace("draught = 30", "draught = 0.15").replace("to = 600", "to = 1650").replace("= 100", "= 230")
    warm, up, _ = parse_plan(text, "p").stages
    assert (warm.draught_pa, up.draught_pa) == pytest.approx((12.454, 37.363), abs=1e-3)
    assert (up.to_c, up.rate_c_per_h) == pytest.approx((898.889, 127.778), abs=1e-3)


def test_a_climb_to_a_cone_ends_at_the_temperature_of_the_rate_really_climbed() -> None:
    """End points from the published table, from memory: 1222 °C at 60 °C/h, 1243 °C at 150 °C/h."""
    climb = parse_plan(HEAD + WARM + UP.replace("to = 600", 'cone = "6"'), "p").stages[1]
    assert climb.target_c(60.0) == 1222.0
    assert climb.target_c(150.0) == 1243.0
    planned_c = climb.target_c(None)
    assert planned_c is not None
    assert 1222.0 < planned_c < 1243.0  # before a rate is known, the plan's 100 °C/h


def test_a_climb_needs_neither_feed_nor_draught_and_a_warm_up_no_draught() -> None:
    text = GOOD.replace("draught = 12\n", "").replace("feed = 20\ndraught = 30\n", "")
    warm, up, hold = parse_plan(text, "p").stages
    assert (warm.feed_frac, warm.draught_pa, warm.trim) == (0.1, None, False)
    assert (up.feed_frac, up.draught_pa, up.trim) == (hold.feed_frac, hold.draught_pa, hold.trim) == (None, None, True)


def test_the_pair_that_burns_clean_is_that_of_the_trimmed_stage_that_feeds_most() -> None:
    """A stage that is held as it stands may burn as it likes."""
    more = UP.replace("600", "700").replace("feed = 20", "feed = 45").replace("draught = 30", "draught = 60")
    assert parse_plan(GOOD + more, "p").pair == (0.45, 60.0)
    assert parse_plan(GOOD + more.replace("to = 700", "to = 700\ntrim = false"), "p").pair == (0.2, 30.0)
    assert parse_plan(GOOD.replace("feed = 20\ndraught = 30\n", ""), "p").pair is None


@pytest.mark.parametrize("atmosphere", list(Atmosphere))
def test_the_atmosphere_of_a_stage_is_one_of_the_trades_and_oxidation_unless_said(atmosphere: Atmosphere) -> None:
    """A reduction lacks 5 to 20 % of the air, oxidation has a fifth to spare (memory)."""
    plan = parse_plan(GOOD.replace("to = 600", f'to = 600\natmosphere = "{atmosphere.value}"'), "p")
    assert [s.atmosphere for s in plan.stages] == [Atmosphere.OXIDATION, atmosphere, Atmosphere.OXIDATION]
    assert atmosphere.reduces is ("reduction" in atmosphere.value)
    assert (0.8 <= RATIO[atmosphere] <= 0.95) is atmosphere.reduces


def test_the_more_an_atmosphere_reduces_the_less_air_it_gets() -> None:
    ratios = [RATIO[atmosphere] for atmosphere in Atmosphere]
    assert ratios == sorted(ratios, reverse=True)
    assert len(set(ratios)) == len(ratios)


def test_a_bare_number_is_taken_for_the_cone_it_looks_like() -> None:
    plan = parse_plan(HEAD + WARM + UP.replace("to = 600", "cone = 6"), "p")
    assert plan.stages[1].cone == "6"


@pytest.mark.parametrize(
    ("words", "seconds"),
    [("30 min", 1800), ("1 h 15 min", 4500), ("2h", 7200), ("0.5 h", 1800), ("1h30min", 5400), ("24 h", 86400)],
)
def test_a_time_may_be_written_in_several_ways(words: str, seconds: float) -> None:
    assert parse_plan(GOOD.replace("30 min", words), "p").stages[0].for_s == seconds


BAD = [
    ("no name", GOOD.replace('name = "n"\n', ""), "at the top", "`name`", 'name = "…"'),
    ("empty name", GOOD.replace('"n"', '" "'), "at the top", "`name`", 'name = "…"'),
    ("no temperature unit", GOOD.replace('temperature = "C"\n', ""), "at the top", "missing", "C, F"),
    ("unit in words", GOOD.replace('"C"', '"Celsius"'), "at the top", "'Celsius'", "C, F"),
    ("unknown draught unit", GOOD.replace('"Pa"', '"bar"'), "at the top", "'bar'", "Pa, inH2O"),
    ("unknown top key", "cone = 6\n" + GOOD, "at the top", "`cone`", "name"),
    ("misspelt key", GOOD.replace("feed = 10", "fed = 10"), "stage 1 (warm)", "`fed`", "`feed`"),
    ("no stages", HEAD, "at the top", "no stages", "[[stage]]"),
    ("stage as one table", HEAD + "[stage]\nfeed = 3\n", "at the top", "no stages", "[[stage]]"),
    ("stage as a number", HEAD + "stage = 3\n", "at the top", "no stages", "[[stage]]"),
    ("no climb", HEAD + WARM, "at the top", "no stage climbs", 'kind = "climb"'),
    ("unknown kind", GOOD.replace('"climb"', '"ramp"'), "stage 2 (up)", "'ramp'", "climb"),
    ("no kind", GOOD.replace('kind = "soak"\n', ""), "stage 3 (hold)", "`kind` is missing", "soak"),
    ("feed over 100", GOOD.replace("feed = 10", "feed = 101"), "stage 1 (warm)", "101", "0 to 100"),
    ("feed below 0", GOOD.replace("feed = 10", "feed = -1"), "stage 1 (warm)", "-1", "0 to 100"),
    ("feed as text", GOOD.replace("feed = 10", 'feed = "10"'), "stage 1 (warm)", "'10'", "number"),
    ("feed as yes", GOOD.replace("feed = 10", "feed = true"), "stage 1 (warm)", "True", "number"),
    ("feed not a number", GOOD.replace("feed = 10", "feed = nan"), "stage 1 (warm)", "nan", "0 to 100"),
    ("no feed", GOOD.replace("feed = 10\n", ""), "stage 1 (warm)", "`feed` is missing", "percent"),
    (
        "feed without draught",
        GOOD.replace("draught = 30\n", "", 1),
        "stage 2 (up)",
        "only together",
        "both, or neither",
    ),
    ("draught without feed", GOOD.replace("feed = 20\n", "", 1), "stage 2 (up)", "only together", "both, or neither"),
    (
        "untrimmed climb without feed",
        GOOD.replace("to = 600", "to = 600\ntrim = false").replace("feed = 20\n", "", 1),
        "stage 2 (up)",
        "`feed` is missing",
        "percent",
    ),
    (
        "unknown atmosphere",
        GOOD.replace("to = 600", 'to = 600\natmosphere = "smoky"'),
        "stage 2 (up)",
        "'smoky'",
        "medium reduction",
    ),
    (
        "atmosphere as a number",
        GOOD.replace("to = 600", "to = 600\natmosphere = 0.9"),
        "stage 2 (up)",
        "0.9",
        "oxidation",
    ),
    (
        "atmosphere on a held draught",
        GOOD.replace("feed = 10", 'feed = 10\natmosphere = "neutral"'),
        "stage 1 (warm)",
        "no atmosphere to ask for",
        "take one of them out",
    ),
    ("draught in the wrong unit", GOOD.replace('"Pa"', '"inH2O"'), "stage 1 (warm)", "12", "0.15"),
    ("fixed without a time", GOOD.replace('for = "30 min"\n', ""), "stage 1 (warm)", "needs `for`", "30 min"),
    ("time as a number", GOOD.replace('"30 min"', "30"), "stage 1 (warm)", "30", "30 min"),
    ("time in a wrong unit", GOOD.replace('"30 min"', '"30 s"'), "stage 1 (warm)", "30 s", "30 min"),
    ("no time at all", GOOD.replace('"30 min"', '"0 min"'), "stage 1 (warm)", "0 min", "more than nothing"),
    ("more than a day", GOOD.replace('"30 min"', '"25 h"'), "stage 1 (warm)", "25 h", "24 h"),
    ("empty time", GOOD.replace('"30 min"', '""'), "stage 1 (warm)", "''", "30 min"),
    ("climb with a time", GOOD.replace("to = 600", 'to = 600\nfor = "1 h"'), "stage 2 (up)", "`for`", "take"),
    ("climb without a rate", GOOD.replace("rate = 100\n", ""), "stage 2 (up)", "needs `rate`", "rate = 100"),
    ("climb to both", GOOD.replace("to = 600", 'to = 600\ncone = "6"'), "stage 2 (up)", "one thing", "`to`"),
    ("climb to neither", GOOD.replace("to = 600\n", ""), "stage 2 (up)", "one thing", "`cone`"),
    ("unknown cone", GOOD.replace("to = 600", 'cone = "13"'), "stage 2 (up)", "'13'", "022"),
    ("too fast", GOOD.replace("rate = 100", "rate = 4000"), "stage 2 (up)", "4000", "400"),
    ("no rate at all", GOOD.replace("rate = 100", "rate = 0"), "stage 2 (up)", "0", "5 to 400"),
    ("too hot", GOOD.replace("to = 600", "to = 1500"), "stage 2 (up)", "1500", "1400"),
    ("climb that falls", GOOD + UP.replace("600", "500"), "stage 4 (up)", "no higher", "raise"),
    ("trimmed fixed stage", GOOD.replace("feed = 10", "feed = 10\ntrim = true"), "stage 1 (warm)", "trimmed", "out"),
    ("trim in words", GOOD.replace("to = 600", 'to = 600\ntrim = "no"'), "stage 2 (up)", "'no'", "true or false"),
    ("climb first", HEAD + UP, "stage 1 (up)", "warm the kiln up", "fixed"),
    ("soak first", HEAD + SOAK + UP, "stage 1 (hold)", "before any climb", "climb"),
    ("fixed after a climb", GOOD + WARM, "stage 4 (warm)", "after a climb", "soak"),
    ("not TOML", "stage: [1]", "", "not valid TOML", "quotes"),
]


@pytest.mark.parametrize(("text", "where", "wrong", "right"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_a_bad_plan_gets_one_message_with_file_stage_what_is_wrong_and_what_would_be_right(
    text: str, where: str, wrong: str, right: str
) -> None:
    with pytest.raises(PlanFault) as told:
        parse_plan(text, "mine.toml")
    message = str(told.value)
    assert message.startswith("mine.toml")
    assert "\n" not in message
    for part in (where, wrong, right):
        assert part in message


def test_the_good_plan_that_the_mistakes_were_made_in_is_good() -> None:
    assert len(parse_plan(GOOD, "p").stages) == 3


def test_a_name_that_is_no_plan_is_answered_with_those_there_are() -> None:
    with pytest.raises(PlanFault, match=r"cone-7.*bisque, cone-10-reduction, cone-6"):
        find_plan("cone-7")


def test_a_file_that_can_not_be_read_is_a_plan_fault(tmp_path: Path) -> None:
    (tmp_path / "raw.toml").write_bytes(b"\xff\xfe")
    for path in (tmp_path / "raw.toml", tmp_path, tmp_path / "none.toml"):
        with pytest.raises(PlanFault, match="UTF-8"):
            load_plan(path)


SCALARS = st.sampled_from(
    ['"C"', '"F"', '"Pa"', '"inH2O"', '"fixed"', '"climb"', '"soak"', '"30 min"', '"1 h"', '"6"', '""', "6", "-1", "0",
     '"heavy reduction"', "nan", "inf", "1e300", "true", "[]", "{}", "[[1], {a = 2}]", "2020-01-01", "12:00:00", "0.1",
     "650"]
)  # fmt: skip
KEYS = st.sampled_from(
    ["name", "temperature", "draught", "stage", "kind", "feed", "trim", "to", "cone", "rate", "for", "atmosphere", "x",
     '"a b"']
)  # fmt: skip
LINES = st.builds("{} = {}".format, KEYS, SCALARS) | st.sampled_from(["[[stage]]", "[stage]", "[[stage.stage]]", "#"])


@given(st.lists(LINES, max_size=12).map("\n".join) | st.text(max_size=80))
@example('name = "n"\nstage = [1]')
def test_whatever_stands_in_a_file_it_loads_or_is_a_plan_fault(text: str) -> None:
    outcome = loaded_or_told(text)
    assert outcome.startswith("f") if isinstance(outcome, str) else outcome.stages


def loaded_or_told(text: str) -> Plan | str:
    """The plan, or the message of its fault; anything else is raised."""
    try:
        return parse_plan(text, "f")
    except PlanFault as fault:
        return str(fault)


@given(st.integers(0, GOOD.count("\n") - 1), SCALARS, st.sampled_from(["value", "drop", "twice"]))
def test_a_good_plan_with_one_line_spoilt_loads_or_is_a_plan_fault(place: int, value: str, how: str) -> None:
    lines = GOOD.splitlines()
    key = lines[place].partition(" = ")[0]
    lines[place : place + 1] = {"value": [f"{key} = {value}"], "drop": [], "twice": [lines[place]] * 2}[how]
    outcome = loaded_or_told("\n".join(lines))
    if isinstance(outcome, str):
        assert outcome.startswith("f")
    else:
        assert outcome.stages[0].kind is StageKind.FIXED
        assert all(s.feed_frac is None or 0 <= s.feed_frac <= 1 for s in outcome.stages)
        assert all(s.feed_frac is not None for s in outcome.stages if not s.trim)


@pytest.mark.parametrize(
    "text",
    ["x = " + "[" * 5000, "feed = " + "9" * 5000, GOOD.replace("feed = 10", "feed = 0x" + "f" * 5000)],
    ids=["deep", "5000 digits", "hexadecimal"],
)
def test_an_absurd_file_is_a_plan_fault_too(text: str) -> None:
    with pytest.raises(PlanFault):
        parse_plan(text, "f")
