"""The configuration as a file, made from the settings themselves: every key, its value, its range, what it means."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from pydantic.fields import FieldInfo

from daemon.settings import Settings, Table

HEAD = """\
# Stokehand's configuration. Each line that begins with "# " and a key is a default: take the "# " away to change it.
# `stokehand config --check` says whether the file can be used. Then: sudo systemctl restart stokehand
"""
RIG = """\
[rig]
# which pin is which, probes, gauges, servo: hardware/WIRING.md has every key
factory = "hardware.pi:open_rig"
"""
ENDS = {"ge": "from", "gt": "above", "le": "to", "lt": "below"}


def commented_file() -> str:
    """A file that changes nothing, to begin with."""
    return "\n".join([HEAD, *_lines(Settings(), {}, "# "), RIG])


def effective_file(settings: Settings, given: dict[str, Any]) -> str:
    """The settings in force; `given` is what the file says itself, the rest are defaults."""
    rig = json.dumps(settings.rig.model_dump(), indent=1, default=str)
    return "\n".join(
        [*_lines(settings, given, ""), f"# [rig], as it stands in the file:\n# {rig.replace(chr(10), ' ')}"]
    )


def _lines(settings: Settings, given: dict[str, Any], mark: str) -> Iterator[str]:
    for name, field in type(settings).model_fields.items():
        value = getattr(settings, name)
        if isinstance(value, Table):
            yield f"\n[{name}]"
            said = given.get(name, {})
            yield from (_line(k, f, getattr(value, k), k in said, mark) for k, f in type(value).model_fields.items())
        elif name != "rig":
            yield _line(name, field, value, name in given, mark)


def _line(name: str, field: FieldInfo, value: object, is_given: bool, mark: str) -> str:
    written = "false" if value is False else json.dumps(value, default=str) if value is not None else None
    key = f"{mark}{name} = {written}" if written is not None else f"# {name} is not set"
    source = "" if mark else "file" if is_given else "default"
    notes = "; ".join(note for note in (source, field.description or "", _range(field)) if note)
    return f"{key}  # {notes}" if notes else key


def _range(field: FieldInfo) -> str:
    ends = [
        f"{word} {getattr(rule, end):g}" for rule in field.metadata for end, word in ENDS.items() if hasattr(rule, end)
    ]
    return " ".join(ends)
