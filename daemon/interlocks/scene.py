"""The scene: all that an interlock may look at. Made once a scan, for all of them."""

from __future__ import annotations

from typing import NamedTuple

from daemon.beat import Beat
from daemon.course.asks import Ask
from daemon.fire.auger import AugerWatch
from daemon.plans.plan import Plan
from daemon.settings import LimitsTable, Settings
from hardware.port import Outputs, Readings


class Scene(NamedTuple):
    """This scan's readings and asks, and what was known before it."""

    readings: Readings
    asks: tuple[Ask, ...]
    last: Readings | None
    """The readings of the scan before; None in the first."""
    done: Outputs
    """The levels read back in the scan before."""
    settings: Settings
    limits: LimitsTable
    """Of the settings."""
    plan: Plan
    beat: Beat
    auger: AugerWatch
    record_trouble: str | None
    """What keeps the record from being written."""

    @property
    def fed_kg(self) -> float:
        """Pellets fed in this firing, kg, by the auger's weighed rate."""
        return self.auger.fed_s * self.settings.kiln.auger_kg_per_h / 3600

    @property
    def unproven_kg(self) -> float:
        """Pellets fed since the last sign that they burn, kg."""
        return (self.auger.fed_s - self.beat.signs.sign_fed_s) * self.settings.kiln.auger_kg_per_h / 3600
