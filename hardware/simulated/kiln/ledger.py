"""The energy ledger: every joule that the fuel brought is somewhere."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class Ledger:
    """Running sums in J since the kiln was built, all above room temperature.

    `fuel_j`, `lit_j` and `burner_j` came in; `smoke_j`, `flue_j`, `outside_j`, `door_j`, `quenched_j` and `cleared_j`
    left; the rest is on the grate or in grate, ware and wall now.
    """

    fuel_j: float = 0.0
    """Pellets that landed on the bed, at their net calorific value."""
    lit_j: float = 0.0
    """Charcoal laid by hand, with the heat of its glow."""
    burner_j: float = 0.0
    """A gas burner that has no business there."""
    smoke_j: float = 0.0
    flue_j: float = 0.0
    outside_j: float = 0.0
    """Through the wall."""
    door_j: float = 0.0
    """Shone out of the open door."""
    quenched_j: float = 0.0
    """Steam from a drowned fire."""
    cleared_j: float = 0.0
    """Unburnt pellets shovelled off the grate."""
    bed_fuel_j: float = 0.0
    grate_j: float = 0.0
    ware_j: float = 0.0
    wall_j: float = 0.0

    def came_j(self) -> float:
        """Everything that came in, J."""
        return self.fuel_j + self.lit_j + self.burner_j

    def left_j(self) -> float:
        """Everything that left, J."""
        return self.smoke_j + self.flue_j + self.outside_j + self.door_j + self.quenched_j + self.cleared_j

    def held_j(self) -> float:
        """Everything that is still here, J."""
        return self.bed_fuel_j + self.grate_j + self.ware_j + self.wall_j

    def error_frac(self) -> float:
        """What is missing from the ledger, as a share of what came in. Zero while nothing came in."""
        came_j = self.came_j()
        return (came_j - self.left_j() - self.held_j()) / came_j if came_j > 0.0 else 0.0
