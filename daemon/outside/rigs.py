"""Open the rig that the configuration names. Built-in or from another package, they all come the same way."""

from __future__ import annotations

import importlib
from collections.abc import Mapping

from hardware.port import Rig, RigFault

SHORT_NAMES = {"pi": "hardware.pi:open_rig", "simulated": "hardware.simulated:open_rig"}


class RigUnknown(RigFault):
    """The configuration names a rig that can't be had, or options that it doesn't understand: no retry mends that."""


def open_rig(name: str, options: Mapping[str, object]) -> Rig:
    """The rig `name` (`pi`, `simulated` or `package.module:factory`). Raises RigFault saying what to do."""
    module_name, colon, factory_name = SHORT_NAMES.get(name, name).partition(":")
    if not colon or not module_name or not factory_name:
        raise RigUnknown(f"rig {name!r}: write it as package.module:factory, or one of {', '.join(SHORT_NAMES)}.")
    try:
        module = importlib.import_module(module_name)
    except ImportError as fault:
        raise RigUnknown(f"rig {name!r}: its package can't be imported ({fault}). Is it installed here?") from fault
    factory = getattr(module, factory_name, None)
    if not callable(factory):
        raise RigUnknown(f"rig {name!r}: {module_name} has no factory called {factory_name}.")
    try:
        rig: Rig = factory(options)
    except ValueError as fault:
        raise RigUnknown(f"rig {name!r}: {fault}") from fault
    return rig
