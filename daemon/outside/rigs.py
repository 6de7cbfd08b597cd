"""Open the rig that the configuration names. Built-in or from another package, they all come the same way.

A name is looked up and looked at before anything of it is called: a slip of the pen must not run a stranger's function.
"""

from __future__ import annotations

import importlib
import inspect
import sys
from collections.abc import Callable, Mapping
from typing import Any, get_type_hints

from hardware.port import Rig, RigFault

SHORT_NAMES = {"pi": "hardware.pi:open_rig", "simulated": "hardware.simulated:open_rig"}
RIG_METHODS = ("read", "write", "close")
HOW = "A rig's factory takes `options`, as hardware/README.md shows."


class RigUnknown(RigFault):
    """The configuration names a rig that can't be had, or options that it doesn't understand: no retry mends that."""


def open_rig(name: str, options: Mapping[str, object]) -> Rig:
    """The rig `name` (`pi`, `simulated` or `package.module:factory`). Raises RigFault saying what to do."""
    factory = rig_factory(name)
    try:
        rig: Rig = factory(options)
    except ValueError as fault:
        raise RigUnknown(f"rig {name!r}: {fault}") from fault
    if not is_rig(rig):
        raise RigUnknown(f"rig {name!r}: its factory returned no rig: it can't {', '.join(RIG_METHODS)}.")
    return rig


def rig_factory(name: str) -> Callable[[Mapping[str, object]], Any]:
    """What makes the rig `name`, not yet called. Raises RigUnknown unless it looks like a rig's factory."""
    module_name, colon, factory_name = SHORT_NAMES.get(name, name).partition(":")
    words = (*module_name.split("."), factory_name)
    if not colon or not all(word.isidentifier() for word in words):
        raise RigUnknown(f"rig {name!r}: write it as package.module:factory, or one of {', '.join(SHORT_NAMES)}.")
    if words[0] in sys.stdlib_module_names:
        raise RigUnknown(f"rig {name!r}: {words[0]} belongs to Python itself and brings no rig. {HOW}")
    try:
        module = importlib.import_module(module_name)
    except ImportError as fault:
        raise RigUnknown(f"rig {name!r}: its package can't be imported ({fault}). Is it installed here?") from fault
    except Exception as fault:  # somebody else's module may raise anything; the daemon must not end in a traceback
        raise RigUnknown(f"rig {name!r}: its package breaks while it is imported ({fault!r}).") from fault
    factory = getattr(module, factory_name, None)
    if not callable(factory):
        raise RigUnknown(f"rig {name!r}: {module_name} has no factory called {factory_name}.")
    if not makes_rigs(factory):
        raise RigUnknown(f"rig {name!r}: {factory_name} is no rig's factory, so it wasn't called. {HOW}")
    return factory  # type: ignore[no-any-return]  # looked up by its name: mypy can't know


def makes_rigs(factory: Callable[..., object]) -> bool:
    """Whether it takes `options` and nothing else that must be given, and doesn't say that it returns no rig."""
    try:
        wanted = [p for p in inspect.signature(factory).parameters.values() if p.default is p.empty]
    except (TypeError, ValueError):
        return False
    makes = factory if isinstance(factory, type) else said_to_return(factory)
    return [p.name for p in wanted] == ["options"] and is_rig(makes)


def said_to_return(factory: Callable[..., object]) -> object:
    """The type that it says it returns; a rig where it says nothing, or nothing that can be looked up."""
    try:
        return get_type_hints(factory).get("return", Rig)
    except (TypeError, NameError):
        return Rig


def is_rig(thing: object) -> bool:
    """Whether it has what a rig has."""
    return all(callable(getattr(thing, method, None)) for method in RIG_METHODS)
