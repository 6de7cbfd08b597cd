"""What the emulated chips and pins stand in: the physical quantities around a kiln, as the wiring sees them."""

from __future__ import annotations

from typing import Protocol


class World(Protocol):
    """A kiln's physics, seen from its terminals. Drives are set, quantities are looked at, `step` lets time pass.

    Looking at a quantity costs nothing and changes nothing. Units are in the names; gauge quantities are true values,
    instruments add their own noise and lag where that is part of the instrument (a thermocouple's sheath and an oxygen
    probe's cell are part of the world; an amplifier's noise is part of the chip).
    """

    # drives: what the relays and motors do to the kiln
    auger_powered: bool
    fan_frac: float
    damper_frac: float

    # quantities: what is there to be measured
    chamber_sheath_c: float
    flue_sheath_c: float
    limit_sheath_c: float
    feed_tube_c: float
    draught_pa: float
    room_c: float
    flame: bool
    shaft_turning: bool
    air_kg_per_s: float
    hopper_kg: float
    smoke_frac: float
    flue_air_ratio: float

    def step(self, dt_s: float) -> None:
        """Let `dt_s` seconds pass (normally 0.1)."""
