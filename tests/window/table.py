"""The table of what is told, as `api/README.md` has it: `python -m tests.window.table`."""

from __future__ import annotations

from types import NoneType
from typing import Any, get_args, get_origin

from daemon.window import FIELDS, PARTS, Status

KINDS: dict[Any, str] = {bool: "yes or no", int: "whole number", float: "number", str: "words"}
SHORT = {PARTS: "share of the auger's time"}


def value_words(kind: Any, unit: str) -> str:
    """What stands in a field: its unit, where it has one, else its type."""
    parts, origin = get_args(kind), get_origin(kind)
    if origin is tuple:
        return f"list of {value_words(parts[0], unit)}"
    if origin is dict:
        return f"{value_words(without_null(parts[1]), unit)} by name"
    if NoneType in parts:
        return f"{value_words(without_null(kind), unit)}, null"
    if unit or kind in KINDS:
        return unit or KINDS[kind]
    return str(parts[0]) if parts else f"`{kind.__name__}`"


def without_null(kind: Any) -> Any:
    """What a type is where it isn't null."""
    kept = [part for part in get_args(kind) if part is not NoneType]
    return kept[0] if NoneType in get_args(kind) and len(kept) == 1 else kind


def markdown() -> str:
    """The table: each field, its unit or type, and what it means; `†` beside what is told and not recorded."""
    rows = ["| Field | Value | Meaning |", "|---|---|---|"]
    for name, field in Status.model_fields.items():
        unit, mark = FIELDS[name].unit, "" if FIELDS[name].recorded else "†"
        meaning = (field.description or "").removesuffix(".").removesuffix(f", {unit}" if unit else "")
        rows.append(f"| `{name}`{mark} | {value_words(field.annotation, SHORT.get(unit, unit))} | {meaning} |")
    return "\n".join(rows)


if __name__ == "__main__":
    print(markdown())
