"""What happens at a kiln on any day, and more often on a bad one: doors, wind, damp pellets, bridges, ash."""

from __future__ import annotations

from random import Random

from tests.bench.control.kiln import Kiln

RAKE_EVERY_S = 2.5 * 3600.0


class Upsets:
    """Moves one kiln's fate on, a second at a time; the same for every controller on that kiln."""

    def __init__(self, kiln: Kiln, seed: int, harsh: bool) -> None:
        self.kiln = kiln
        self.dice = Random(f"upsets {seed}")
        self.harsh = harsh
        self.look_s = self._next(1200.0, 3600.0, 2400.0)
        self.wind_s = self._next(600.0, 3600.0, 1800.0)
        self.bad_s = self._next(1200.0, 3600.0) if harsh else self._next(7200.0, 36000.0, 3600.0)
        self.raked_s = 0.0
        self.until: dict[str, float] = {}

    def _next(self, low: float, high: float, after: float = 0.0) -> float:
        return after + self.dice.uniform(low, high)

    def second(self, now_s: float) -> None:
        """What befalls the kiln at `now_s` (s since it was lit)."""
        kiln, dice = self.kiln, self.dice
        for name in [n for n, end_s in self.until.items() if now_s >= end_s]:
            del self.until[name]
            self._over(name)
        if now_s >= self.look_s:
            kiln.door_open = True
            self.until["door"] = now_s + dice.uniform(4.0, 10.0) * (2.0 if self.harsh else 1.0)
            self.look_s = now_s + dice.uniform(2400.0, 5400.0)
        if now_s >= self.wind_s:
            kiln.wind_pa = dice.uniform(-4.0, 6.0)
            self.until["wind"] = now_s + dice.uniform(60.0, 600.0)
            self.wind_s = now_s + dice.uniform(1800.0, 5400.0)
        if now_s >= self.bad_s:
            self._bad(now_s, dice.choice(("bridge", "damp")))
            self.bad_s = now_s + (dice.uniform(1200.0, 2400.0) if self.harsh else dice.uniform(9000.0, 36000.0))
        if now_s - self.raked_s >= RAKE_EVERY_S:
            self.raked_s = now_s
            kiln.rake()

    def _bad(self, now_s: float, what: str) -> None:
        kiln, dice = self.kiln, self.dice
        if what == "bridge":
            kiln.bridged = True
            self.until["bridge"] = now_s + dice.uniform(40.0, 120.0)
        else:
            kiln.water_frac = dice.uniform(0.03, 0.08)
            self.until["damp"] = now_s + dice.uniform(600.0, 1500.0)

    def _over(self, name: str) -> None:
        kiln = self.kiln
        if name == "door":
            kiln.door_open = False
        elif name == "wind":
            kiln.wind_pa = 0.0
        elif name == "bridge":
            kiln.bridged = False
        else:
            kiln.water_frac = 0.0
