"""What is wrong with a configuration, in sentences: every wrong value, and what would be right."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

Kind = TypeVar("Kind", bound=BaseModel)
SHOWN_CHARACTERS = 60

SENTENCES = {
    "greater_than_equal": "must be at least {ge:g}",
    "greater_than": "must be more than {gt:g}",
    "less_than_equal": "must be at most {le:g}",
    "less_than": "must be less than {lt:g}",
    "finite_number": "must be a plain number",
    "float_type": "must be a number, without quotes",
    "int_type": "must be a whole number, without quotes",
    "string_type": "must be text, in quotes",
    "path_type": "must be text, in quotes",
    "string_too_long": "is too long",
    "literal_error": "must be one of {expected}",
    "extra_forbidden": "there is no such setting",
    "model_type": "must be a table of settings",
    "model_attributes_type": "must be a table of settings",
}


def checked(kind: type[Kind], table: Mapping[str, Any]) -> tuple[Kind | None, list[str]]:
    """The table as a `kind`, and what is wrong with it, a line for each; None if anything is.

    What is wrong by itself is left out and the rest looked at again, so that values which don't go together are named
    in the same message. A value that was left out isn't blamed a second time.
    """
    lines: list[str] = []
    blamed: set[str] = set()
    left = {name: dict(part) if isinstance(part, Mapping) else part for name, part in table.items()}
    while True:
        try:
            good = kind.model_validate(left)
        except ValidationError as fault:
            errors = fault.errors()
        else:
            return (None if lines else good), lines
        for error in errors:
            words = sentence(error)
            if not any(name in words for name in blamed):
                lines.append(f"  {words}")
        blamed |= {str(error["loc"][-1]) for error in errors if len(error["loc"]) > 1}
        for error in errors:
            _take_out(left, error["loc"])


def sentence(error: ErrorDetails) -> str:
    """One complaint: which setting, what it must be, and what it is."""
    where = ".".join(str(part) for part in error["loc"])
    context = error.get("ctx", {})
    template = SENTENCES.get(error["type"])
    words = template.format(**context) if template is not None else str(context.get("error", error["msg"]))
    if isinstance(error["input"], Mapping):
        return f"{where}: {words}." if where else f"{words}."
    given = repr(error["input"])
    shown = given if len(given) <= SHOWN_CHARACTERS else f"{given[:SHOWN_CHARACTERS]}…"
    return f"{where}: {words}; it is {shown}."


def _take_out(table: dict[str, Any], place: tuple[int | str, ...]) -> None:
    """Take a wrong value out; a whole table, where its values don't go together; everything, where the tables don't."""
    if not place:
        table.clear()
        return
    part = table.get(str(place[0]))
    if len(place) > 1 and isinstance(part, dict) and place[1] in part:
        del part[place[1]]
    else:
        table.pop(str(place[0]), None)
