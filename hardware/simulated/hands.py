"""What a person does at the simulated kiln."""

from __future__ import annotations

from hardware.port import Sight
from hardware.simulated.cabinet import Cabinet
from hardware.simulated.plant import Plant

SMOKY_FRAC = 0.15  # from here on anybody sees smoke at the stack (memory: a wood fire at its best loses a few percent)


class KilnHands:
    """The attendant's eyes and hands. Implements the port's `Hands`."""

    def __init__(self, plant: Plant, cabinet: Cabinet, damper_by_hand: bool) -> None:
        self._plant = plant
        self._cabinet = cabinet
        self._damper_by_hand = damper_by_hand

    def look(self) -> Sight:
        """Look at the gauge (to whole pascals), through the spy-hole and into the hopper."""
        plant = self._plant
        smoke = plant.smoke_frac > SMOKY_FRAC
        return Sight(float(round(plant.draught_pa)), plant.flame and not smoke, smoke, plant.hopper_kg)

    def light_charcoal(self, kg: float) -> None:
        """Lay and light this much charcoal, then shut the door."""
        self._plant.open_door()
        self._plant.light_charcoal(kg)
        self._plant.shut_door()

    def fill_hopper(self, kg: float) -> None:
        """Pour pellets into the hopper."""
        self._plant.fill_hopper(kg)

    def set_damper(self, frac: float) -> None:
        """Move the damper, 0 shut to 1 open; where a servo holds it nothing moves."""
        if self._damper_by_hand:
            self._plant.damper_frac = min(1.0, max(0.0, frac))

    def rake_ash(self) -> None:
        """Rake the grate clear."""
        self._plant.rake_ash()

    def press(self, button: str, pressed: bool) -> None:
        """Press or let go `stop`, `confirm` or `reset`. Raises KeyError for any other."""
        cabinet = self._cabinet
        if button == "stop":
            cabinet.stop.closed = not pressed
        else:
            {"confirm": cabinet.confirm, "reset": cabinet.reset}[button].closed = pressed
