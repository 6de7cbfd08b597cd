"""A number's name ends in its unit: in the status, in the record's columns, and in what the API says of itself."""

from __future__ import annotations

import re
from pathlib import Path
from types import NoneType
from typing import Any, get_args

import pytest

from api.app import create_app
from api.ear import Ear
from daemon.record.schema import EVENT, READING
from daemon.window import FIELDS, PARTS, RECORDED, Status

UNITS: dict[str, set[str]] = {
    "_kg_per_h": {"kg/h", "kg/h of pellets"},
    "_kg_per_k": {"kg of pellets for each K"},
    "_c_per_h": {"°C an hour"},
    "_c": {"°C"},
    "_pa": {"Pa"},
    "_s": {"s"},
    "_kg": {"kg"},
    "_frac": {"0 to 1", "-1 to 1", PARTS},
    "_ratio": {""},
    "_factor": {""},
}
"""The units that a suffix may stand for, the longer suffix first: `_kg_per_h` is not `_h`."""
NO_UNIT = {
    "version": "counts the versions of the table",
    "firing": "a number in the record",
    "stage": "a place in the plan",
    "id": "a number in the record",
    "after": "an event's id",
    "points": "a count",
    "status": "an HTTP status (RFC 9457)",
    "value": "its unit stands beside it, in `unit`",
    "limit": "its unit stands beside it, in `unit`",
    "value_limit": "its unit stands beside it, in `unit`",
    "terms": "each by its own name, which is a column's",
}
"""The numbers whose names end in no unit, and why."""


def suffix_of(name: str) -> str | None:
    """The unit's suffix of a name; None where it has none."""
    return next((suffix for suffix in UNITS if name.endswith(suffix)), None)


def is_number(kind: Any) -> bool:
    """Whether a field's type is a number, or numbers by name."""
    if kind in (int, float):
        return True
    return any(is_number(part) for part in get_args(kind) if part is not NoneType)


def test_every_number_of_the_status_ends_in_its_unit_and_nothing_else_has_one() -> None:
    numbers = {name for name, field in Status.model_fields.items() if is_number(field.annotation)} | {"version"}
    assert {name for name in numbers if suffix_of(name) is None} == {"version", "firing", "stage"}
    for name in numbers - NO_UNIT.keys():
        assert FIELDS[name].unit in UNITS[suffix_of(name) or ""], name
    for name in FIELDS.keys() - numbers | {"version", "firing", "stage"}:
        assert (FIELDS[name].unit, suffix_of(name)) == ("", None), name


def test_every_number_of_the_record_ends_in_its_unit() -> None:
    flags = {name for name in READING if bool in kinds_of(name)}
    columns = {name for name, sql in {**READING, **EVENT}.items() if sql in ("REAL", "INTEGER")} - flags
    assert {name for name in columns if suffix_of(name) is None} == NO_UNIT.keys() & columns
    assert {column.name for column in RECORDED if column.unit} == {
        name for name in READING if suffix_of(name) not in (None, "_ratio", "_factor")
    }


def kinds_of(name: str) -> tuple[Any, ...]:
    """The types that a field of the status may have."""
    kind = Status.model_fields[name].annotation
    return get_args(kind) or (kind,)


def numbers_of(document: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    """Every number in the API's document: where it stands, its name, and what is said of it."""
    found = [
        (form, name, said)
        for form, schema in document["components"]["schemas"].items()
        for name, said in schema.get("properties", {}).items()
    ]
    for path, methods in document["paths"].items():
        for method in methods.values():
            found += [(path, p["name"], {**p["schema"], **p}) for p in method.get("parameters", [])]
    return [(where, name, said) for where, name, said in found if tells_numbers(said)]


def tells_numbers(schema: Any) -> bool:
    """Whether a JSON schema is of a number, or of numbers in a list or by name."""
    if not isinstance(schema, dict):
        return False
    inner = [*schema.get("anyOf", []), schema.get("items"), schema.get("additionalProperties")]
    return schema.get("type") in ("number", "integer") or any(tells_numbers(part) for part in inner)


WRITTEN = {
    "_kg_per_h": r"kg/h",
    "_kg_per_k": r"kg of pellets for each K",
    "_c_per_h": r"°C an hour",
    "_c": r"°C",
    "_pa": r"Pa",
    "_s": r"s",
    "_kg": r"kg",
    "_frac": r"-?[01] to 1|share",
    "_ratio": r"[Aa]ir (ratio|over)",
    "_factor": r"over",
}
"""How the unit stands in the words."""


def test_every_number_that_the_api_describes_ends_in_its_unit_and_its_words_name_it(tmp_path: Path) -> None:
    document = create_app(Ear(tmp_path / "status.sock", lambda: 0.0), tmp_path / "asks.sock").openapi()
    numbers = numbers_of(document)
    assert len(numbers) > 60
    assert {"due_in_s", "stood_s", "rate_c_per_h", "age_s", "since_start_s"} <= {name for _, name, _ in numbers}
    for where, name, said in numbers:
        suffix = suffix_of(name)
        if suffix is None:
            assert name in NO_UNIT, f"{where}: {name}"
            continue
        words = said.get("description", "")
        assert re.search(rf"(?<!\w)(?:{WRITTEN[suffix]})(?!\w)", words), f"{where}: {name}: {words}"
        if "unit" in said:
            assert said["unit"] in UNITS[suffix], f"{where}: {name}"
    assert {name for _, name, _ in numbers if suffix_of(name) is None} >= NO_UNIT.keys() - {"value_limit"}


@pytest.mark.parametrize("name", ["chamber_temp", "load_kw", "draught"])
def test_a_name_without_a_known_unit_is_found_out(name: str) -> None:
    assert suffix_of(name) is None
