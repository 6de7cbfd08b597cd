"""What a simulated kiln must offer beyond its terminals: what a person does at it, and what breaks inside it."""

from __future__ import annotations

from typing import Protocol

from hardware.simulated.world import World


class Plant(World, Protocol):
    """A kiln that can be tended and broken."""

    def light_charcoal(self, kg: float) -> None:
        """Lay and light charcoal on the grate."""

    def fill_hopper(self, kg: float) -> None:
        """Pour pellets in."""

    def rake_ash(self) -> None:
        """Rake the grate clear."""

    def open_door(self) -> None:
        """Open the door."""

    def shut_door(self) -> None:
        """Shut the door."""

    def bridge_hopper(self) -> None:
        """Pellets arch over the auger."""

    def jam_auger(self) -> None:
        """The auger sticks."""

    def stop_fan(self) -> None:
        """The fan's motor dies."""

    def block_flue(self) -> None:
        """The flue is blocked."""

    def drown_fire(self) -> None:
        """The fire goes out."""

    def weaken_fan(self) -> None:
        """The fan loses most of its head."""

    def empty_hopper(self) -> None:
        """The hopper is empty."""

    def flood_grate(self) -> None:
        """A bridge of pellets falls on the grate at once."""

    def light_burner(self) -> None:
        """Somebody lights a gas burner in the fire mouth."""

    def start_burn_back(self) -> None:
        """The fire creeps back into the feed tube."""
