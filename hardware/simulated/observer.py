"""An observer of a simulated kiln in another process: the truth, a person's hands, and what breaks."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hardware.simulated.link import Link
from hardware.simulated.witness import Change


class Observer:
    """One observer. It claims no line, so it can't disturb whoever drives the kiln."""

    def __init__(self, path: Path) -> None:
        """Connect. Raises OSError when no kiln stands at `path`."""
        self._link = Link(path)

    def close(self) -> None:
        """Go away."""
        self._link.close()

    def truth(self) -> dict[str, Any]:
        """What really is: levels of the outputs, contacts, the auger's power, pellets fed (kg), chamber (°C)."""
        told: dict[str, Any] = self._link.ask("truth")
        return told

    def since(self, at_s: float) -> list[Change]:
        """Every change since then: moment (monotonic seconds), what, and the level it has since."""
        return [(moment, what, level) for moment, what, level in self._link.ask("since", at_s)]

    def held(self) -> list[int]:
        """The lines that some process holds."""
        lines: list[int] = self._link.ask("held")
        return lines

    def inject(self, name: str) -> float:
        """Break it; return the moment. Raises OSError for a fault that the kiln doesn't know."""
        moment: float = self._link.ask("inject", name)
        return moment

    def mend(self) -> None:
        """Mend what broke between the pins and the kiln."""
        self._link.ask("mend")

    def press(self, button: str, pressed: bool) -> float:
        """Press or let go a button; return the moment."""
        moment: float = self._link.ask("press", button, pressed)
        return moment

    def light_charcoal(self, kg: float) -> None:
        """Lay and light charcoal."""
        self._link.ask("light_charcoal", kg)

    def fill_hopper(self, kg: float) -> None:
        """Pour pellets in."""
        self._link.ask("fill_hopper", kg)

    def rake_ash(self) -> None:
        """Rake the grate clear."""
        self._link.ask("rake_ash")

    def set_damper(self, frac: float) -> None:
        """Move the damper by hand."""
        self._link.ask("set_damper", frac)
