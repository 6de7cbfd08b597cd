"""The guard at the door: a page on some other site must not be able to ask anything of the kiln.

Three cheap looks. The Host must be an address or a home name, which stops a foreign name that was pointed at this
machine. An Origin, when the browser sends one, must be this server. An ask must say it is JSON, which a plain form on
another site can't. None of this is a login: who is on the home network may use the page.
"""

from __future__ import annotations

import ipaddress
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problem import Problem, problem

ASKS_PATH = "/asks"
LONGEST_ASK_BYTES = 1024
HOME_SUFFIXES = (".local", ".localhost", ".home.arpa")

PAGE_HEADERS = {
    "Content-Security-Policy": "default-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-cache",
}


class Guard:
    """Stands before the app; turns requests away with a problem."""

    def __init__(self, app: ASGIApp, host_names: frozenset[str]) -> None:
        """Guard `app`; `host_names` are further names this machine goes by."""
        self.app = app
        self.host_names = host_names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the request through or turn it away."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(PAGE_HEADERS)
            await send(message)

        objection = objection_to(scope["method"], scope["path"], Headers(scope=scope), self.host_names)
        answer = self.app if objection is None else objection.response()
        await answer(scope, receive, send_guarded)


def objection_to(method: str, path: str, headers: Headers, host_names: frozenset[str]) -> Problem | None:
    """Return what is wrong with a request, or None."""
    host = headers.get("host", "")
    if not is_home(host, host_names):
        detail = f'This server doesn\'t go by the name "{host}".'
        return problem(421, "unknown-host", "Unknown host", detail, "Use its address, or start it with --host-name.")
    if method in ("GET", "HEAD"):
        return None
    origin = headers.get("origin")
    if origin is not None and urlsplit(origin).netloc.lower() != host.lower():
        detail = f'A page from "{origin}" tried to reach the kiln.'
        return problem(403, "other-site", "Request from another site", detail, "Ask from the kiln's own page.")
    if method == "POST" and path == ASKS_PATH:
        return _objection_to_body(headers)
    return None


def _objection_to_body(headers: Headers) -> Problem | None:
    if headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        detail = "An ask comes as application/json."
        return problem(415, "not-json", "Not JSON", detail, 'Send {"ask": "..."} as application/json.')
    length = headers.get("content-length")
    if length is None or not length.isdecimal():
        detail = "The ask doesn't say how long it is."
        return problem(411, "no-length", "No length", detail, "Send a Content-Length.")
    if int(length) > LONGEST_ASK_BYTES:
        detail = f"The ask has {length} bytes; {LONGEST_ASK_BYTES} are enough."
        return problem(413, "too-long", "Too long", detail, 'Send {"ask": "..."} and nothing else.')
    return None


def is_home(host: str, host_names: frozenset[str]) -> bool:
    """Tell whether a Host header names this machine: an address, a home name, or one it was told."""
    name = host_name(host)
    if name in host_names or name.endswith(HOME_SUFFIXES):
        return True
    if name and "." not in name and ":" not in name:
        return True  # a bare name, localhost among them, can't be a site on the internet
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def host_name(host: str) -> str:
    """Return the name in a Host header without its port, brackets and capitals."""
    if host.startswith("["):
        return host[1:].partition("]")[0].lower()
    return host.partition(":")[0].rstrip(".").lower()
