"""The real board's off switch: every output low, with nothing in the way but the pin library.

The stop hook runs this when the daemon is dead and a fire may still be fed. So it imports neither gpiozero nor any of
our drivers: on a small board these take longer than the hook may. The damper isn't touched: a burning bed needs its
air.
"""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from types import ModuleType

OUTPUT_PINS = {"auger": 17, "keep_alive": 23, "fan": 18, "horn": 22, "lamp": 27}
"""Where the outputs are unless the configuration says otherwise, in the order in which they are driven off."""
MAY_BE_WRITTEN = (".", "/tmp", "/var/tmp", "/dev/shm")
PINS_ABOVE_0, LABEL_ABOVE_0 = 4, "pinctrl-rp1"  # on some boards the pins are on this chip instead of on 0


def pin_library() -> ModuleType:
    """lgpio. Raises ImportError, OSError. While it is imported it makes a pipe where it stands, so it stands apart."""
    before = os.getcwd()
    folder = _own_folder()
    os.chdir(folder)
    try:
        import lgpio
    finally:
        for pipe in os.listdir("."):
            os.unlink(pipe)
        os.chdir(before)
        os.rmdir(folder)
    return lgpio  # type: ignore[no-any-return]  # it has no types


def _own_folder() -> str:
    """Make a folder for this process, wherever that is allowed. Raises OSError. `tempfile` takes longer to import."""
    for place in MAY_BE_WRITTEN:
        folder = os.path.abspath(f"{place}/stokehand-pins-{os.getpid()}-{time.monotonic_ns()}")
        try:
            os.mkdir(folder, 0o700)
        except OSError:
            continue
        return folder
    raise OSError(f"no folder can be written: tried {', '.join(MAY_BE_WRITTEN)}")


def wired_outputs(options: Mapping[str, object]) -> dict[str, int]:
    """The pins of the outputs in a `[rig]` table; what isn't a pin there is left out."""
    found = {name: options.get(name, pin) for name, pin in OUTPUT_PINS.items()}
    return {name: pin for name, pin in found.items() if isinstance(pin, int) and not isinstance(pin, bool)}


def drive_off(options: Mapping[str, object]) -> list[str]:
    """Drive every output of a `[rig]` table low. Returns what went wrong, a sentence each; none: all is off."""
    try:
        lgpio = pin_library()
    except (ImportError, OSError) as fault:
        return [f"The pin library can't be loaded ({fault}). Run `sudo ./systemd/install` again."]
    try:
        chip = _open_chip(lgpio)
    except lgpio.error as fault:
        return [f"No pins: {fault}. Is this a Raspberry Pi, and may this user open /dev/gpiochip0 (group gpio)?"]
    wrong = []
    for name, pin in wired_outputs(options).items():
        try:
            lgpio.gpio_claim_output(chip, pin, 0)
        except lgpio.error as fault:
            held = ": another process holds it, so a daemon runs. Stop that." if "busy" in str(fault).lower() else ""
            wrong.append(f"Output {name} (pin {pin}) could not be driven off ({fault}){held}")
    return wrong  # the lines keep their level when this process gives them back by ending


def _open_chip(lgpio: ModuleType) -> int:
    """Open the chip that has the header's pins. Raises lgpio.error."""
    if os.path.exists(f"/dev/gpiochip{PINS_ABOVE_0}"):
        chip: int = lgpio.gpiochip_open(PINS_ABOVE_0)
        if lgpio.gpio_get_chip_info(chip)[3] == LABEL_ABOVE_0:
            return chip
        lgpio.gpiochip_close(chip)
    return lgpio.gpiochip_open(0)  # type: ignore[no-any-return]
