"""An ask: what a person would like of the kiln. The daemon's next scan answers it, not this server.

Which asks are wanted comes from the daemon, and no rule for it stands here. Only `stop` is always in reach, because
stopping is safe at any time. There is no ask that resets a trip, moves a limit or drives an output.
"""

from __future__ import annotations

import json
import secrets
import socket
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from api.ear import Ear
from api.problem import Problem, Refusal, problem
from daemon.window import Status, Wanted

STOP = Wanted(ask="stop", words="Stop: lock the feed out now.")


class Ask(BaseModel):
    """The body of POST /asks."""

    model_config = ConfigDict(extra="forbid", strict=True)

    ask: str = Field(pattern="^[a-z][a-z0-9_]{0,39}$", description="Name of the ask, as in the status's `wanted`.")


class Sent(BaseModel):
    """The ask is on its way. Look for its nonce among the status's `answered`."""

    nonce: str = Field(description="Marks this ask in the answer.")


def wanted_now(status: Status) -> tuple[Wanted, ...]:
    """Return everything a person may ask now."""
    return (*status.wanted, STOP)


def check(ask: str, ear: Ear, lost_after_s: float) -> None:
    """Refuse an ask that the kiln doesn't want now, or that answers an old picture. Raises Refusal."""
    if ask == STOP.ask:
        return
    heard = ear.heard
    if heard is None or ear.age_s(heard) >= lost_after_s:
        raise Refusal(unheard(ear))
    wanted = wanted_now(heard.status)
    if all(w.ask != ask for w in wanted):
        names = ", ".join(w.ask for w in wanted)
        detail = f'"{ask}" is not wanted while the kiln is "{heard.status.state}". Wanted now: {names}.'
        raise Refusal(problem(409, "not-wanted", "Not wanted now", detail, "Look at the kiln's questions.", wanted))


def send(ask: str, to: Path) -> Sent:
    """Send the ask to the daemon's socket, without waiting. Raises Refusal when nobody listens there."""
    sent = Sent(nonce=secrets.token_hex(8))
    datagram = json.dumps({"ask": ask, "from": "page", "nonce": sent.nonce}).encode()
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sock:
        sock.setblocking(False)
        try:
            sock.sendto(datagram, str(to))
        except (FileNotFoundError, ConnectionRefusedError) as error:
            raise Refusal(_undelivered(f"Nobody listens on {to}: the daemon doesn't run.")) from error
        except BlockingIOError as error:
            raise Refusal(_undelivered(f"The daemon doesn't empty {to}: it hangs or is very busy.")) from error
        except OSError as error:
            raise Refusal(_undelivered(f"Can't send to {to}: {error}.")) from error
    return sent


def unheard(ear: Ear) -> Problem:
    """Return the problem of a daemon that says nothing (yet, or any more)."""
    if ear.heard is None:
        detail = "Nothing was heard from the daemon since this server started."
    else:
        detail = f"Nothing was heard from the daemon for {ear.age_s(ear.heard):.0f} s."
    if ear.unreadable is not None:
        detail += f" Something arrived that can't be read: {ear.unreadable}."
    if why := ear.why_silent():
        detail += f" {why}"
    return problem(503, "kiln-not-heard", "Kiln not heard", detail, "Go to the kiln and look.")


def _undelivered(detail: str) -> Problem:
    do_next = "The kiln did not get the ask. Go to the kiln, and use its own stop and buttons."
    return problem(503, "ask-not-delivered", "Ask not delivered", detail, do_next)
