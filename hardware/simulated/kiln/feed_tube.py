"""The feed tube: it stays cool while pellets and air pass, and warms when the fire creeps back into it."""

from __future__ import annotations

TUBE_J_PER_K = 250.0  # half a kilogram of steel (memory)
ROOM_W_PER_K = 1.5
AIR_J_PER_KG_K = 400.0  # cooling by the share of the air that washes round the tube
GRATE_W_PER_K = 0.10
CREEP_KG = 0.6  # fuel piled this high carries the fire into the tube
BURN_BACK_K_PER_S = 1.0  # how fast a fire in the tube itself heats it (memory)
STILL_AIR_KG_PER_S = 1.5e-3  # with less air than this the hot gas finds its way back up the tube


class FeedTube:
    """A lump of steel between the hot grate, the room and the air. Too small to count in the energy ledger.

    Coefficients are orders of magnitude from memory, set so that it stays below 60 °C in normal running.
    """

    __slots__ = ("_room_c", "burning", "tube_c")

    def __init__(self, room_c: float) -> None:
        """A cold tube."""
        self._room_c = room_c
        self.burning = False
        self.tube_c = room_c

    def step(self, dt_s: float, bed_c: float, bed_kg: float, air_kg_per_s: float) -> float:
        """Let time pass; returns the tube's temperature, °C."""
        pile = bed_kg / CREEP_KG
        from_grate = GRATE_W_PER_K * (1.0 + min(pile * pile, 16.0))
        if air_kg_per_s < STILL_AIR_KG_PER_S:
            from_grate *= 1.0 + 2.0 * (1.0 - air_kg_per_s / STILL_AIR_KG_PER_S)
        to_room = ROOM_W_PER_K + AIR_J_PER_KG_K * air_kg_per_s
        heating_w = from_grate * (bed_c - self.tube_c) - to_room * (self.tube_c - self._room_c)
        if self.burning:
            heating_w = BURN_BACK_K_PER_S * TUBE_J_PER_K
        self.tube_c += heating_w * dt_s / TUBE_J_PER_K
        return self.tube_c
