"""Start the page's server: `python -m api --channel DIR`."""

from __future__ import annotations

import argparse
import contextlib
import socket
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import uvicorn

from api.app import create_app
from api.crowd import BACKLOG, Visitor
from api.ear import ChannelFault, Ear
from api.service import Service

EPILOG = """
With the default host only this machine can open the page. --host 0.0.0.0 opens it to the whole home network: whoever is
on it can watch, answer the kiln's questions and stop the firing. Don't forward the port to the internet: there is no
login. The kiln fires on just the same when this server is stopped.
"""
CHANNEL_HELP = """
where the daemon's sockets are (default: %(default)s): status.sock is made here, asks.sock is the daemon's
"""
HOST_NAME_HELP = """
a further name people type for this machine; addresses, bare names, *.local and *.home.arpa need none; may be repeated
"""


def parser() -> argparse.ArgumentParser:
    """Return the command line."""
    line = argparse.ArgumentParser(
        prog="python -m api",
        description="Serve the kiln's page and its REST API.",
        epilog=EPILOG,
    )
    line.add_argument("--channel", type=Path, default=Path("/run/stokehand"), metavar="DIR", help=CHANNEL_HELP)
    line.add_argument("--host", default="127.0.0.1", help="address to listen on (default: %(default)s, this machine)")
    line.add_argument("--port", type=int, default=8321, help="port to listen on (default: %(default)s)")
    line.add_argument("--host-name", action="append", default=[], metavar="NAME", help=HOST_NAME_HELP)
    return line


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until told to stop. Returns 2 when the channel or the port can't be used."""
    options = parser().parse_args(argv)
    ear = Ear(options.channel / "status.sock", time.monotonic)
    try:
        ear.bind()
    except ChannelFault as fault:
        print(fault, file=sys.stderr)
        return 2
    app = create_app(ear, options.channel / "asks.sock", [*options.host_name, socket.gethostname()])
    # No access log: fifty watchers at one look a second would bury everything else.
    config = uvicorn.Config(
        app, host=options.host, port=options.port, http=Visitor, ws="none", backlog=BACKLOG,
        access_log=False, server_header=False, log_level="warning",
    )  # fmt: skip
    server = Service(config)
    with contextlib.suppress(KeyboardInterrupt):
        server.run()
    return 0 if server.started else 2


if __name__ == "__main__":
    sys.exit(main())
