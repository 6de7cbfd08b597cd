"""A crude hand at the simulated kiln: pulses the auger, trims the fan. Not the daemon, just enough to fire."""

from __future__ import annotations

import copy
from functools import cache

from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln

SCAN_S = 0.1
PERIOD_SCANS = 100


def run(kiln: Kiln, minutes: float, feed_frac: float, fan_frac: float | None = None, aim_pa: float = 37.0) -> None:
    """Feed in pulses of a ten-second period; without a fan speed the fan is trimmed to `aim_pa` of draught."""
    if fan_frac is not None:
        kiln.fan_frac = fan_frac
    for scan in range(round(minutes * 60.0 / SCAN_S)):
        kiln.auger_powered = scan % PERIOD_SCANS < round(feed_frac * PERIOD_SCANS)
        if fan_frac is None and scan % 20 == 0:
            kiln.fan_frac = min(1.0, max(0.2, kiln.fan_frac + (aim_pa - kiln.draught_pa) * 0.0015))
        kiln.step(SCAN_S)
    kiln.auger_powered = False


def lit(build: Build | None = None, seed: int = 1, damper_frac: float = 0.6) -> Kiln:
    """A kiln with plenty of pellets and a kilogram of glowing charcoal."""
    kiln = Kiln(build or Build(), seed)
    kiln.damper_frac = damper_frac
    kiln.fan_frac = 0.2
    kiln.fill_hopper(60.0)
    kiln.light_charcoal(1.0)
    return kiln


@cache
def _heated(build: Build, ware_c: float) -> Kiln:
    """Fired once for all tests that ask for the same kiln."""
    kiln = lit(build)
    run(kiln, 30, feed_frac=0.10, fan_frac=0.3)
    kiln.fan_frac = 0.6
    for _ in range(60):
        if kiln.ware_c >= ware_c:
            return kiln
        run(kiln, 5, feed_frac=0.38)
    raise AssertionError(f"never reached {ware_c} °C: {kiln.ware_c} °C after five hours")


def hot(build: Build | None = None, ware_c: float = 900.0) -> Kiln:
    """A kiln in full fire, ware at `ware_c`, a copy of your own; without wind unless the build has some."""
    return copy.deepcopy(_heated(build or Build(gust_pa=0.0), ware_c))
