"""Hopper, auger and chute: how pellets get from the bag to the bed."""

from __future__ import annotations

import random
from math import pi, sin

from .build import Build

SLOT_S = 0.1  # the chute is a ring of slots this long
LOW_HOPPER_KG = 0.4  # below this the flights no longer fill


class Auger:
    """The hopper, the screw under it and the chute to the bed."""

    __slots__ = (
        "_build",
        "_chance",
        "_chute",
        "_dice",
        "_falling",
        "_kg_per_rev",
        "_load",
        "_place",
        "_slot_s",
        "_spin",
        "_turn",
        "bridged",
        "choked",
        "hopper_kg",
        "jammed",
        "landed_kg",
        "turning",
    )

    def __init__(self, build: Build, dice: random.Random) -> None:
        """A full hopper, an empty chute and a shaft that stands still."""
        self._build = build
        self._dice = dice
        self._kg_per_rev = build.auger_kg_per_h / 3600.0 / build.auger_rev_per_s
        self._chance = build.bridge_chance_per_kg
        self._chute = [0.0] * max(1, round(build.chute_s / SLOT_S))
        self._place = 0
        self._slot_s = 0.0
        self._falling = 0
        self._spin = 0.0
        self._turn = dice.random()
        self._load = 1.0
        self.hopper_kg = build.hopper_kg
        self.landed_kg = 0.0
        self.bridged = False
        self.jammed = False
        self.choked = False
        """Pellets stand in the chute right up to the screw, which stalls against them."""
        self.turning = False

    def fill(self, kg: float) -> None:
        """Pour pellets in. Pouring and stirring breaks a bridge."""
        self.hopper_kg += kg
        self.bridged = False

    def flood(self, kg: float) -> None:
        """A bridge falls: as much of `kg` as the hopper holds lands at once."""
        kg = min(kg, self.hopper_kg)
        self.hopper_kg -= kg
        self.landed_kg += kg

    def take_landed(self) -> float:
        """The pellets that reached the bed since the last look, kg."""
        landed, self.landed_kg = self.landed_kg, 0.0
        return landed

    def step(self, dt_s: float, powered: bool) -> None:
        """Let time pass with the motor powered or not."""
        stuck = self.jammed or self.choked
        if powered and not stuck:
            if self._spin < 1.0:
                self._spin = min(1.0, self._spin + dt_s / self._build.motor_spin_s)
            self.turning = True
        elif self._spin > 0.0:
            self._spin = 0.0 if stuck else max(0.0, self._spin - dt_s / self._build.motor_spin_s)
            self.turning = self._spin > 0.0
        elif not self._falling:
            return
        delivered = self._deliver(dt_s) if self._spin > 0.0 else 0.0
        self._fall(dt_s, delivered)

    def _deliver(self, dt_s: float) -> float:
        """What comes off the end of the screw, kg: the mean load of a flight with its ripple."""
        build = self._build
        turned = self._spin * build.auger_rev_per_s * dt_s
        self._turn += turned
        if self._turn >= 1.0:
            self._turn -= 1.0
            self._load = max(0.0, 1.0 + build.flight_spread_frac * self._dice.gauss(0.0, 1.0))
        if self.bridged or self.hopper_kg <= 0.0:
            return 0.0
        kg = turned * self._kg_per_rev * self._load * (1.0 + build.flight_ripple_frac * sin(2.0 * pi * self._turn))
        if self.hopper_kg < LOW_HOPPER_KG:
            kg = min(self.hopper_kg, kg * (0.25 + 0.75 * self.hopper_kg / LOW_HOPPER_KG))
        self.hopper_kg -= kg
        if self._chance > 0.0 and self._dice.random() < self._chance * kg:
            self.bridged = True
        return kg

    def _fall(self, dt_s: float, delivered_kg: float) -> None:
        """Move the chute on; what has been in it for the whole delay lands on the bed."""
        chute = self._chute
        if delivered_kg > 0.0:
            # the slot behind the one about to land: the longest way round
            chute[self._place - 1] += delivered_kg
            self._falling = len(chute) + 1
        self._slot_s += dt_s
        while self._slot_s >= SLOT_S - 1e-9:
            self._slot_s -= SLOT_S
            place = self._place
            self.landed_kg += chute[place]
            chute[place] = 0.0
            self._place = place + 1 if place + 1 < len(chute) else 0
            self._falling -= 1
        if self._falling < 0:
            self._falling = 0
