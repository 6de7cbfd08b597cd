"""The real board: `--rig hardware.pi:open_rig`."""

from __future__ import annotations

import time
from collections.abc import Mapping

from hardware.board import Board
from hardware.off import pin_library
from hardware.port import Rig, RigFault
from hardware.wiring import Wiring

REHEARSAL_ONLY = ("seed", "speed", "kiln")


class WallClock:
    """Real time: monotonic for decisions, the system's clock for people."""

    def now_s(self) -> float:
        """Return seconds that only ever go forward."""
        return time.monotonic()

    def utc_s(self) -> float:
        """Return Unix seconds; they may jump when the clock is set."""
        return time.time()

    def wait_until(self, due_s: float) -> None:
        """Sleep until `due_s`."""
        left_s = due_s - time.monotonic()
        if left_s > 0.0:
            time.sleep(left_s)


def open_rig(options: Mapping[str, object]) -> Rig:
    """Open the kiln that is wired to this board. Raises ValueError for bad wiring, RigFault when there is no board.

    It never turns to another pin library or to a simulated kiln: a kiln that only seems to be driven is worse than one
    that says it isn't.
    """
    wrong = [f"rig.{key}: only a simulated kiln knows this" for key in REHEARSAL_ONLY if key in options]
    try:
        wiring = Wiring.from_options({key: value for key, value in options.items() if key not in REHEARSAL_ONLY})
    except ValueError as error:
        raise ValueError("\n".join([*wrong, str(error)])) from error
    if wrong:
        raise ValueError("\n".join(wrong))
    return Board(_real_pins(), wiring, WallClock(), "pi")


def _real_pins() -> object:
    """Return the board's own pins. Raises RigFault that says what to do."""
    try:
        pin_library()  # before gpiozero imports it, because it minds where that is done
        from gpiozero.pins.lgpio import LGPIOFactory
    except (ImportError, OSError) as error:
        raise RigFault(
            f"No pins: the lgpio library can't be loaded here ({error}). On the Raspberry Pi run `sudo "
            "./systemd/install`; to rehearse without a board, ask for hardware.simulated:open_rig."
        ) from error
    try:
        return LGPIOFactory()
    except Exception as error:  # lgpio and gpiozero raise several kinds; each means the same here
        raise RigFault(
            f"No pins: {error!r}. Is this a Raspberry Pi, and may this user open /dev/gpiochip0 (group gpio)? To "
            "rehearse without a board, ask for hardware.simulated:open_rig."
        ) from error
