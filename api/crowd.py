"""The crowd at the door: connections that ask nothing must not keep a stop out.

A request must have come in whole within some seconds. When too many connections are open the oldest that still owes
its request is put out, so that a new one, which may be the stop, always gets in.
"""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

REQUEST_WITHIN_S = 10.0
MOST_CONNECTIONS = 200
"""A dozen phones with six connections each, several times over; far below the files that a process may have open."""
BACKLOG = 100
"""So many connections at once come in before the oldest are looked at."""

_crowd: dict[Visitor, None] = {}


class Visitor(H11Protocol):
    """One connection."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as the base has it
        """Let it in, and put the oldest out that owes a request when there are too many."""
        super().connection_made(transport)
        _crowd[self] = None
        self._clock: Any = self.loop.call_later(REQUEST_WITHIN_S, self._look)
        if len(_crowd) > MOST_CONNECTIONS:
            next((visitor for visitor in _crowd if visitor.owes), self).put_out()

    def connection_lost(self, exc: Exception | None) -> None:
        """It has gone."""
        _crowd.pop(self, None)
        self._clock.cancel()
        super().connection_lost(exc)

    @property
    def owes(self) -> bool:
        """Whether a request, or the rest of one, is still to come: nothing is being answered."""
        return self.cycle is None or self.cycle.response_complete or self.cycle.more_body

    def put_out(self) -> None:
        """Close it at once."""
        _crowd.pop(self, None)
        self.transport.abort()

    def _look(self) -> None:
        if self.cycle is None or self.cycle.more_body:
            self.put_out()
        else:
            self._clock = self.loop.call_later(REQUEST_WITHIN_S, self._look)
