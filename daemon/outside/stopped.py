"""Why no daemon runs: kept beside the channel's sockets, where the page finds it when it hears nothing."""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import asdict
from pathlib import Path

from daemon.notice import Notice
from daemon.window import STOPPED


def keep_why(notice: Notice) -> None:
    """Keep why the daemon ends, if the unit has a runtime directory for it. Never raises: it is ending anyway."""
    if (place := _place()) is not None:
        with contextlib.suppress(OSError):
            place.write_text(json.dumps(asdict(notice)), encoding="utf-8")


def forget_why() -> None:
    """A daemon runs again."""
    if (place := _place()) is not None:
        with contextlib.suppress(OSError):
            place.unlink(missing_ok=True)


def _place() -> Path | None:
    folder = os.environ.get("RUNTIME_DIRECTORY")
    return Path(folder, STOPPED) if folder else None
