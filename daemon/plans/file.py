"""The plan's file: TOML that a potter writes, read into a plan.

The shipped plans beside this module have their keys explained. A bad plan gets one message that names the file, the
stage, what is wrong and what would be right.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from importlib import resources
from pathlib import Path

from daemon.plans.cones import END_POINTS_C
from daemon.plans.plan import Atmosphere, Plan, Stage, StageKind
from daemon.units import DraughtUnit, TemperatureUnit, gap_to_k, to_c, to_pa, words_draught, words_temperature


class PlanFault(ValueError):
    """The plan can't be fired. The message names the file, the stage, what is wrong and what would be right."""


LIMIT_MARGIN_K = 15.0  # what a climb may overshoot, and what a probe may be wrong

PLAN_KEYS = {"name", "temperature", "draught", "stage"}
STAGE_KEYS = {"name", "kind", "feed", "draught", "trim", "to", "cone", "rate", "for", "atmosphere"}
KEYS_OF_KIND = {
    StageKind.FIXED: ({"for"}, {"to", "cone", "rate"}),
    StageKind.CLIMB: ({"rate"}, {"for"}),
    StageKind.SOAK: ({"for"}, {"to", "cone", "rate"}),
}
SPAN = re.compile(r"(?:(\d+(?:\.\d+)?)\s*h)?\s*(?:(\d+(?:\.\d+)?)\s*min)?")


def shipped_plans() -> dict[str, Path]:
    """The plans that come with the project: name → file."""
    folder = resources.files("daemon") / "plans"
    return {Path(str(f)).stem: Path(str(f)) for f in sorted(folder.iterdir(), key=str) if f.name.endswith(".toml")}


def find_plan(name: str) -> Path:
    """A shipped plan by its name, or a file. Raises PlanFault naming what there is."""
    shipped = shipped_plans()
    if name in shipped:
        return shipped[name]
    path = Path(name)
    if path.is_file():
        return path
    raise PlanFault(f"{name}: there is no such plan. Give a file, or one of: {', '.join(shipped)}.")


def load_plan(path: Path) -> Plan:
    """Read a plan file. Raises PlanFault with one message for the person."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise PlanFault(f"{path}: can't be read ({fault}). A plan is a TOML text file in UTF-8.") from fault
    return parse_plan(text, str(path))


def parse_plan(text: str, file: str) -> Plan:
    """A plan from its text; `file` is what the message calls it. Raises PlanFault."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as fault:  # also numbers and nestings that no potter writes
        raise PlanFault(
            f"{file}: not valid TOML: {str(fault)[:120]}. Words go in quotes, one `key = value` a line."
        ) from fault
    top = Reader(file, "at the top", table)
    top.only(PLAN_KEYS)
    name = top.word("name")
    temperature = TemperatureUnit(top.one_of("temperature", [u.value for u in TemperatureUnit]))
    draught = DraughtUnit(top.one_of("draught", [u.value for u in DraughtUnit]))
    tables = table.get("stage")
    if not isinstance(tables, list) or not tables or not all(isinstance(t, dict) for t in tables):
        raise top.fault("there are no stages", "write at least one `[[stage]]`")
    stages: list[Stage] = []
    for number, entry in enumerate(tables, 1):
        where = f"stage {number}" + (f" ({entry['name']})" if isinstance(entry.get("name"), str) else "")
        stages.append(read_stage(Reader(file, where, entry), number, temperature, draught, stages))
    if not any(s.kind is StageKind.CLIMB for s in stages):
        raise top.fault("no stage climbs", 'add one with `kind = "climb"`, `to` or `cone`, and `rate`')
    return Plan(name, temperature, draught, tuple(stages), text)


def read_stage(
    at: Reader, number: int, temperature: TemperatureUnit, draught: DraughtUnit, before: list[Stage]
) -> Stage:
    """One stage, checked for itself and against the stages before it. Raises PlanFault."""
    at.only(STAGE_KEYS)
    kind = StageKind(at.one_of("kind", [k.value for k in StageKind]))
    needs, mustnt = KEYS_OF_KIND[kind]
    for key in sorted(mustnt & at.table.keys()):
        raise at.fault(f"a {kind.value} stage has no `{key}`", f"take `{key}` out, or change `kind`")
    for key in sorted(needs - at.table.keys()):
        raise at.fault(f"a {kind.value} stage needs `{key}`", EXAMPLES[key])
    trim = at.flag("trim", kind is not StageKind.FIXED)
    if kind is StageKind.FIXED and trim:
        raise at.fault("a fixed stage can't be trimmed: it has no temperature to hold", "take `trim` out")
    feed_frac, draught_pa = None, None
    if "feed" in at.table or not trim:
        meaning = "percent of the time the auger runs, for example `feed = 10`"
        feed_frac = at.number("feed", 0, 100, meaning) / 100
    if "draught" in at.table:
        most = 150 if draught is DraughtUnit.PA else 0.6
        usual = "37" if draught is DraughtUnit.PA else "0.15"
        meaning = f"{draught.value} on the gauge; {usual} is a usual climbing value"
        draught_pa = to_pa(at.number("draught", 0, most, meaning), draught)
    if trim and (feed_frac is None) is not (draught_pa is None):
        raise at.fault("`feed` and `draught` tell something only together", "give both, or neither")
    atmosphere = Atmosphere(at.one_of("atmosphere", [a.value for a in Atmosphere], Atmosphere.OXIDATION.value))
    if not trim and "atmosphere" in at.table and draught_pa is not None:
        raise at.fault("a draught that is held as it stands leaves no atmosphere to ask for", "take one of them out")
    common = (at.word("name", f"stage {number}"), kind, feed_frac, draught_pa, trim, atmosphere)
    if kind is StageKind.CLIMB:
        return read_climb(at, common, temperature, before)
    if kind is StageKind.FIXED and any(s.kind is not StageKind.FIXED for s in before):
        raise at.fault("a fixed stage after a climb has no temperature to hold", "put it first, or make it a soak")
    if kind is StageKind.SOAK and not any(s.kind is StageKind.CLIMB for s in before):
        raise at.fault("a soak before any climb has no temperature to hold", "put a climb before it")
    if before == [] and kind is not StageKind.FIXED:
        raise at.fault("the first stage must warm the kiln up", EXAMPLES["warm-up"])
    return Stage(*common, for_s=at.span("for"))


EXAMPLES = {
    "for": 'a time, for example `for = "30 min"` or `for = "1 h 15 min"`',
    "rate": "degrees an hour, for example `rate = 100`",
    "warm-up": 'begin with `kind = "fixed"`, `feed = 10` and `for = "30 min"`',
}


def read_climb(
    at: Reader,
    common: tuple[str, StageKind, float | None, float | None, bool, Atmosphere],
    temperature: TemperatureUnit,
    before: list[Stage],
) -> Stage:
    """The climb's own keys. Raises PlanFault."""
    if not before:
        raise at.fault("the first stage must warm the kiln up", EXAMPLES["warm-up"])
    if ("to" in at.table) == ("cone" in at.table):
        raise at.fault("a climb ends at one thing", "give either `to` (a temperature) or `cone`, not both or neither")
    degree = f"°{temperature.value}"
    scale = 1.0 if temperature is TemperatureUnit.C else 1.8
    rate = at.number("rate", 5 * scale, 400 * scale, f"{degree} an hour")
    rate_c_per_h = gap_to_k(rate, temperature)
    to, cone = None, None
    if "cone" in at.table:
        cone = at.one_of("cone", list(END_POINTS_C))
    else:
        low, high = (50.0, 1400.0) if temperature is TemperatureUnit.C else (120.0, 2550.0)
        to = to_c(at.number("to", low, high, degree), temperature)
    stage = Stage(*common, to_c=to, cone=cone, rate_c_per_h=rate_c_per_h)
    tops_c = [top_c for s in before if (top_c := s.target_c(None)) is not None]
    end_c = stage.target_c(None)
    if end_c is None or (tops_c and end_c <= max(tops_c)):
        raise at.fault("the climb ends no higher than the one before", "raise `to` or `cone`, or take the stage out")
    return stage


def check_fit(plan: Plan, file: str, limit_c: float, least_pa: float) -> None:
    """Whether this kiln's limits let the plan be fired at all. Raises PlanFault naming the stage."""
    for number, stage in enumerate(plan.stages, 1):
        at = Reader(file, f"stage {number} ({stage.name})", {})
        target_c = stage.target_c(None)
        if target_c is not None and target_c + LIMIT_MARGIN_K > limit_c:
            wrong = f"it ends at {words_temperature(target_c, plan.temperature)}, too near this kiln's limit"
            raise at.fault(wrong, f"stay {LIMIT_MARGIN_K:.0f} °C below {words_temperature(limit_c, plan.temperature)}")
        if stage.draught_pa is not None and stage.draught_pa < 2 * least_pa:
            wrong = f"its draught of {words_draught(stage.draught_pa, plan.draught)} is next to none"
            raise at.fault(wrong, f"ask for at least {words_draught(2 * least_pa, plan.draught)}")


def quote(value: object) -> str:
    """A value as the file has it, cut short where it is absurdly long."""
    if isinstance(value, int) and abs(value) > 10**15:
        return "an absurdly large number"
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


@dataclass(frozen=True, slots=True)
class Reader:
    """One table of the file, with the words for what is wrong in it."""

    file: str
    where: str
    table: dict[str, object]

    def fault(self, wrong: str, right: str) -> PlanFault:
        """One message: file, stage, what is wrong, what would be right."""
        return PlanFault(f"{self.file}, {self.where}: {wrong}; {right}.")

    def only(self, known: set[str]) -> None:
        """Refuse keys the plan doesn't know, with the nearest one it does."""
        for key in self.table.keys() - known:
            near = get_close_matches(key, known, 1)
            right = f"did you mean `{near[0]}`?" if near else f"the keys here are {', '.join(sorted(known))}"
            raise self.fault(f"`{key}` is not a key of the plan", right)

    def word(self, key: str, default: str | None = None) -> str:
        """A text."""
        value = self.table.get(key, default)
        if not isinstance(value, str) or not value.strip():
            raise self.fault(f"`{key}` is missing or not a text", f'write `{key} = "…"`')
        return value

    def one_of(self, key: str, choices: list[str], default: str | None = None) -> str:
        """One of a few words; a bare number is taken for the word it looks like (cone = 6)."""
        value = self.table.get(key, default)
        number = isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 100
        found = str(value) if number else value
        if found not in choices:
            raise self.fault(f"`{key}` is {quote(value)}" if key in self.table else f"`{key}` is missing",
                             f"it is one of {', '.join(choices)}, in quotes")  # fmt: skip
        return str(found)

    def number(self, key: str, low: float, high: float, meaning: str) -> float:
        """A number within its limits."""
        value = self.table.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            wrong = f"`{key}` is {quote(value)}" if key in self.table else f"`{key}` is missing"
            raise self.fault(wrong, f"it is a number from {low:g} to {high:g}, {meaning}")
        return float(value)

    def flag(self, key: str, default: bool) -> bool:
        """Yes or no."""
        value = self.table.get(key, default)
        if not isinstance(value, bool):
            raise self.fault(f"`{key}` is {quote(value)}", "it is true or false, without quotes")
        return value

    def span(self, key: str) -> float:
        """A time in words, to seconds."""
        value = self.table.get(key)
        match = SPAN.fullmatch(value.strip()) if isinstance(value, str) else None
        if match is None or not any(match.groups()):
            raise self.fault(f"`{key}` is {quote(value)}", EXAMPLES["for"])
        seconds = float(match[1] or 0) * 3600 + float(match[2] or 0) * 60
        if not 0 < seconds <= 24 * 3600:
            raise self.fault(f"`{key}` is {quote(value)}", "it is more than nothing and at most 24 h")
        return seconds
