"""`stokehand make-safe`: drive every output off. The unit's stop hook, so it must be quick on a small board.

It imports as little as it can: `pathlib`, `tempfile` and `tomllib` alone would take half of its time there. The
real board has an off switch that is quick; any other rig is opened and driven off as the daemon would.
"""

from __future__ import annotations

import importlib
import json
import os
import sys

OFF_SWITCHES = {"pi": "hardware.off", "hardware.pi:open_rig": "hardware.off"}
DEFAULT_FACTORY = "hardware.pi:open_rig"
DEFAULT_CONFIG = "/etc/stokehand/stokehand.toml"
KEPT_RIG = "rig.json"
OFF, STILL_ON = 0, 2

RigOptions = dict[str, object]


def make_safe(config: str) -> int:
    """Drive everything off and say so; the exit status is 0 only if it was done.

    The rig is the one that the daemon drove last, where the unit remembers it: the configuration may have been changed
    or broken meanwhile. Else it is the configuration's.
    """
    try:
        rig = kept_rig() or configured_rig(config)
    except (OSError, ValueError, RecursionError) as fault:
        wrong = [f"{config}: can't be read, and no daemon has run since this board started: {str(fault)[:200]}"]
    else:
        wrong = switch_off(rig)
    print("\n".join(wrong) if wrong else "Every output is off.", file=sys.stderr)
    return STILL_ON if wrong else OFF


def switch_off(rig: RigOptions) -> list[str]:
    """Drive a rig off; what went wrong, a sentence each."""
    factory = str(rig.pop("factory", DEFAULT_FACTORY))
    if (switch := OFF_SWITCHES.get(factory)) is not None:
        wrong: list[str] = importlib.import_module(switch).drive_off(rig)
        return wrong
    from daemon.command.runner import make_safe as drive_off  # slow to import, and not wanted above
    from daemon.outside.rigs import open_rig
    from hardware.port import RigFault

    try:
        drive_off(open_rig(factory, rig))
    except RigFault as fault:
        return [str(fault)]
    return []


def configured_rig(config: str) -> RigOptions:
    """The `[rig]` table of the configuration. Raises OSError, ValueError."""
    import tomllib  # seldom needed

    with open(config, "rb") as file:
        return table(tomllib.load(file).get("rig", {}))


def kept_rig() -> RigOptions | None:
    """The rig that the daemon drove last, where the unit's runtime directory has it."""
    folder = os.environ.get("RUNTIME_DIRECTORY")
    if folder is None:
        return None
    try:
        with open(f"{folder}/{KEPT_RIG}", encoding="utf-8") as file:
            return table(json.load(file))
    except (OSError, ValueError, RecursionError):
        return None


def keep_rig(rig: RigOptions) -> None:
    """Keep the rig that is driven where the stop hook finds it. Raises OSError."""
    if (folder := os.environ.get("RUNTIME_DIRECTORY")) is not None:
        place = f"{folder}/{KEPT_RIG}"
        with open(f"{place}.new", "w", encoding="utf-8") as file:
            json.dump(rig, file, default=str)
        os.replace(f"{place}.new", place)


def table(found: object) -> RigOptions:
    """A table as it stands. Raises ValueError when it is something else."""
    if not isinstance(found, dict):
        raise ValueError("[rig] must be a table")
    return dict(found)
