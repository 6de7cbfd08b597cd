"""What the auger did, by the levels read back from its contact and, where one is fitted, by its shaft sensor."""

from __future__ import annotations

from typing import NamedTuple


class AugerWatch(NamedTuple):
    """Auger time is counted by the levels read back, s, since the fire was lit."""

    fed_s: float = 0.0
    turned_fed_s: float = 0.0
    """`fed_s` when the shaft was last seen turning."""
    driven_s: float | None = None
    """When the feed contact was last driven closed; None when it never was."""
    paused_turning_s: float = 0.0
    """For how long, in the pauses of the feed, the shaft turned, since it was last seen standing."""

    idle_s: float = 0.0
    """Of `fed_s`: driven in jams that are over, by the shaft sensor. Nothing fell then."""
    row_s: float = 0.0
    """Auger time since the last beat, scan by scan."""

    @property
    def unturned_s(self) -> float:
        """Auger time since the shaft was last seen turning, s. Means something only where a sensor is fitted."""
        return self.fed_s - self.turned_fed_s
