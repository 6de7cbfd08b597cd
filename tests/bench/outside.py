"""An observer that knows nothing of the code: rules over the outside only, contacts, pellets, heat and air.

It is told once a scan whether the contact is closed, and once a second what the kiln really does. It knows the auger's
weighed rate, the ceiling that the owner has set, and nothing else. What it finds, it keeps as a sentence.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

SCAN_S = 0.1
DEAD_KG, DEAD_S = 0.3, 120.0
"""On a grate that gives no heat: so many pellets at most, or so many seconds of full feed where that is more."""
SHORTEST_S = 0.4
"""A closure that is shorter wears out a relay and moves no pellet; one a minute may be cut short by a stop."""
AIRLESS_S = 30.0


@dataclass
class Outside:
    """What was seen of one firing. `ceiling_frac` and `cycle_s` are the owner's; the rate is the true one, kg/h."""

    full_kg_per_h: float
    ceiling_frac: float = 0.9
    cycle_s: float = 10.0
    dead_kg: float = 0.0
    """Fed since the grate last gave heat."""
    worst_dead_kg: float = 0.0
    fed_kg: float = 0.0
    broken: list[str] = field(default_factory=list)
    _now_s: float = 0.0
    _closed_s: float = 0.0
    _short: deque[float] = field(default_factory=lambda: deque(maxlen=3))
    _minute: deque[bool] = field(default_factory=lambda: deque(maxlen=600))
    _in_minute: int = 0
    _airless_s: float = 0.0

    @property
    def most_dead_kg(self) -> float:
        """What may be fed onto a dead grate."""
        return max(DEAD_KG, DEAD_S * self.full_kg_per_h / 3600)

    def scan(self, closed: bool) -> None:
        """A tenth of a second with the contact like this."""
        self._now_s += SCAN_S
        if len(self._minute) == 600:
            self._in_minute -= self._minute[0]
        self._minute.append(closed)
        self._in_minute += closed
        if self._in_minute > self.ceiling_frac * 600 + 5:
            self.find(f"closed for {self._in_minute / 10:.1f} s of a minute")
        if closed:
            self._closed_s += SCAN_S
            if self.ceiling_frac < 1 and self._closed_s > self.ceiling_frac * self.cycle_s + 0.15:
                self.find(f"closed for {self._closed_s:.1f} s without a pause")
        elif self._closed_s:
            if self._closed_s < SHORTEST_S:
                self._short.append(self._now_s)
                if len(self._short) == 3 and self._now_s - self._short[0] < 60.0:
                    self.find("three closures of a tenth of a second or two within a minute")
            self._closed_s = 0.0

    def second(self, fed_kg: float, gives_heat: bool, air: bool) -> None:
        """A second in which so much fell; whether the grate gives heat, and whether air moves through it."""
        self.fed_kg += fed_kg
        self.dead_kg = 0.0 if gives_heat else self.dead_kg + fed_kg
        self.worst_dead_kg = max(self.worst_dead_kg, self.dead_kg)
        if self.dead_kg > self.most_dead_kg:
            self.find(f"more than {self.most_dead_kg:.2f} kg fed onto a grate that gives no heat")
        self._airless_s = 0.0 if air or not fed_kg else self._airless_s + 1.0
        if self._airless_s > AIRLESS_S:
            self.find(f"fed for {self._airless_s:.0f} s without air")

    def find(self, words: str) -> None:
        """Keep the first of each kind."""
        kind = words.split(" of ")[0].split(" for ")[0]
        if not any(kept.startswith(kind) for kept in self.broken):
            self.broken.append(f"{words}, {self._now_s:.0f} s after the start")
