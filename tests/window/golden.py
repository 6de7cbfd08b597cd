"""The golden statuses: for each scene the bytes that daemon and page are both held to, kept beside this module."""

from __future__ import annotations

import json
from math import isclose
from pathlib import Path
from typing import Any

from daemon.outside.notices import Json

FOLDER = Path(__file__).parent
FAR = 1e-9
"""Of a number: another processor's library may round `exp` otherwise in its last digit."""


def path_of(scene: str) -> Path:
    """Where the scene's status is kept."""
    return FOLDER / f"{scene}.json"


def golden_bytes(scene: str) -> bytes:
    """The scene's status as it is kept."""
    return path_of(scene).read_bytes()


def golden(scene: str) -> dict[str, Any]:
    """The scene's status, read."""
    table: dict[str, Any] = json.loads(golden_bytes(scene))
    return table


def written(status: dict[str, Json]) -> bytes:
    """A status as it is kept."""
    return (json.dumps(status, indent=1, ensure_ascii=False) + "\n").encode()


def differences(one: Json, other: Json, where: str = "") -> list[str]:
    """Where two statuses differ: in anything at all but a number's last digits."""
    match one, other:
        case dict(), dict() if one.keys() == other.keys():
            return [found for key in one for found in differences(one[key], other[key], f"{where}.{key}")]
        case list(), list() if len(one) == len(other):
            pairs = enumerate(zip(one, other, strict=True))
            return [found for place, (a, b) in pairs for found in differences(a, b, f"{where}[{place}]")]
        case float(), float() if isclose(one, other, rel_tol=FAR, abs_tol=FAR):
            return []
        case _:
            return [] if type(one) is type(other) and one == other else [f"{where}: {one!r}, kept {other!r}"]
