"""What GET /status answers: the daemon's status as `daemon/window.py` has it, and how old it is."""

from __future__ import annotations

from pydantic import Field

from daemon.window import Status


class StatusAnswer(Status):
    """The last status heard, and how old it is."""

    age_s: float = Field(description="Time since it arrived here, s.")
    connected: bool = Field(description="False when nothing was heard for 3 s: the values are then history.")
    why_silent: str = Field(description="Where it isn't connected: why the daemon ended, if it said so; else empty.")
