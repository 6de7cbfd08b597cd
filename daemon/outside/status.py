"""The status: one moment in plain values, field by field as `daemon/window.py` has them.

The page shows nothing else.
"""

from __future__ import annotations

from operator import attrgetter

from daemon.memory import Memory
from daemon.outside.moment import Context, moment_of
from daemon.outside.notices import Json
from daemon.window import FIELDS

VALUES = attrgetter(*(cell.get for cell in FIELDS.values()))


def status(memory: Memory, context: Context) -> dict[str, Json]:
    """The status object. Raises ValueError before the first scan."""
    if memory.readings is None:
        raise ValueError("nothing was read yet")
    return dict(zip(FIELDS, VALUES(moment_of(memory, memory.readings, context)), strict=True))
