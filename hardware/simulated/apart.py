"""The simulated kiln in a process of its own, so that whoever drives it can be killed while it lives on.

    python -m hardware.simulated.apart --socket kiln.sock --seed 1

serves it in real time; the rig `hardware.simulated.apart:open_rig` with the option `socket` drives it with the shipped
drivers. `hardware.simulated.observer` looks at it from outside.
"""

from __future__ import annotations

import argparse
import signal
import sys
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path

from hardware.board import Board
from hardware.port import Rig, RigFault
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln
from hardware.simulated.link import Link, RemoteClock, RemoteFactory
from hardware.simulated.plant import Plant
from hardware.simulated.server import Server
from hardware.simulated.site import Site
from hardware.wiring import Wiring

OWN_KEYS = ("seed", "speed", "kiln", "watchdog")
STEP_S = 0.1
LONGEST_S = 12 * 3600.0


def open_rig(options: Mapping[str, object]) -> Rig:
    """Open the board that is wired to the kiln at `socket`; the wiring keys are the real board's.

    Raises ValueError with a line for each bad option, RigFault when no kiln stands there or a line is busy.
    """
    wrong = [f"rig.{key}: the kiln in its own process has this, give it there" for key in OWN_KEYS if key in options]
    place = options.get("socket")
    if not isinstance(place, str) or not place:
        wrong.append("rig.socket: must be the path of the socket at which the kiln is served")
    try:
        wiring = Wiring.from_options({k: v for k, v in options.items() if k not in (*OWN_KEYS, "socket")})
    except ValueError as error:
        raise ValueError("\n".join([*wrong, str(error)])) from error
    if wrong:
        raise ValueError("\n".join(wrong))
    try:
        link = Link(Path(str(place)))
        clock = RemoteClock(link)
    except OSError as error:
        raise RigFault(
            f"No simulated kiln answers at {place} ({error}). Start one: "
            f"python -m hardware.simulated.apart --socket {place}"
        ) from error
    return Board(RemoteFactory(link), wiring, clock, "sim")


def warmed(plant: Plant, to_c: float) -> None:
    """Fire the kiln by hand until its chamber is that warm, then put the fire out with water and fill the hopper up.

    Raises ValueError when it doesn't get there in half a day.
    """
    hopper_kg = plant.hopper_kg
    plant.light_charcoal(1.0)
    plant.fan_frac = 0.6
    gone_s = 0.0
    while plant.chamber_sheath_c < to_c:
        if gone_s > LONGEST_S:
            raise ValueError(f"fired by hand for half a day the kiln came to {plant.chamber_sheath_c:.0f} °C only")
        plant.auger_powered = gone_s % 10.0 < 3.0
        plant.step(STEP_S)
        gone_s += STEP_S
    plant.auger_powered = False
    plant.fan_frac = 0.0
    plant.drown_fire()
    plant.step(10.0)
    plant.fill_hopper(hopper_kg - plant.hopper_kg)


def parser() -> argparse.ArgumentParser:
    """Return the command line."""
    line = argparse.ArgumentParser(
        prog="python -m hardware.simulated.apart",
        description="Let a simulated kiln live in this process, in real time, until told to stop.",
    )
    line.add_argument("--socket", type=Path, required=True, metavar="PATH", help="where it is served")
    line.add_argument("--seed", type=int, default=0, help="chance (default: 0)")
    line.add_argument("--kiln", default="demo", metavar="K", help='"demo" or the number of a variation (default: demo)')
    line.add_argument("--speed", type=float, default=1.0, help="times real time (default: 1)")
    line.add_argument("--no-watchdog", action="store_true", help="no watchdog relay is fitted")
    line.add_argument("--warm", type=float, metavar="C", help="fired by hand beforehand, until this warm, then put out")
    line.add_argument("--wiring", type=Path, metavar="FILE", help="a configuration whose [rig] table says the wiring")
    return line


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until told to stop. Returns 2 when the kiln can't be set up."""
    given = parser().parse_args(argv)
    try:
        build = Build() if given.kiln == "demo" else Build.varied(int(given.kiln))
        wiring = Wiring() if given.wiring is None else _wiring(given.wiring)
        kiln = Kiln(build, given.seed)
        if given.warm is not None:
            warmed(kiln, given.warm)
        site = Site(kiln, wiring, given.seed, watchdog=not given.no_watchdog)
        server = Server(site, wiring, given.socket, given.speed, given.seed)
    except (OSError, ValueError) as error:
        print(error, file=sys.stderr)
        return 2
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: server.stop())
    print(f"The kiln stands at {given.socket}.", flush=True)
    server.serve()
    return 0


def _wiring(path: Path) -> Wiring:
    """The wiring from a configuration's `[rig]` table. Raises OSError, ValueError."""
    table = tomllib.loads(path.read_text(encoding="utf-8")).get("rig", {})
    return Wiring.from_options({k: v for k, v in table.items() if k not in (*OWN_KEYS, "socket")})


if __name__ == "__main__":
    sys.exit(main())
