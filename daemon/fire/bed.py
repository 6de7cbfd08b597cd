"""What burns on the bed now: pellets fed a while ago, char fed long ago, and the charcoal laid by hand.

The air must follow what burns, not what is fed: a bed goes on giving wood gas for minutes after the auger has stopped,
and char for a quarter of an hour. Shares and times are those of 6 mm pellets on a hot bed (memory). Where a kiln
differs, the heat balance learns it. Amounts are kilos of pellets, by their heat; the air that burns it goes with the
heat, whatever it comes from (about 0.32 kg of air per MJ for wood, wood gas and char alike).
"""

from __future__ import annotations

from typing import NamedTuple

from daemon.fire.lag import lag_gain

WOOD_S = 62.0
"""From the chute to wood gas that burns, in two equal steps (memory)."""
CHAR_S = 600.0
"""A bed of char burns down in about this time (memory)."""
CHAR_SHARE = 0.31
"""Of the heat of a pellet: what stays as char, 18 % of the dry wood at 32.8 MJ/kg (memory)."""
CHARCOAL_S = 4000.0
"""The laid charcoal lasts over an hour (memory)."""
CHARCOAL_PER_KG = 1.65
"""A kilo of charcoal in kilos of pellets, by heat: 28 against 17 MJ/kg (memory)."""


class Bed(NamedTuple):
    """Kilos on the bed, and what they burn at, kg/h. All of it in pellets, by heat."""

    raw_kg: float = 0.0
    wood_kg: float = 0.0
    char_kg: float = 0.0
    charcoal_kg: float = 0.0
    gas_kg_per_h: float = 0.0
    char_kg_per_h: float = 0.0
    charcoal_kg_per_h: float = 0.0
    """Wood gas, char and charcoal, each by itself."""

    @property
    def burns_kg_per_h(self) -> float:
        """All of it together."""
        return self.gas_kg_per_h + self.char_kg_per_h + self.charcoal_kg_per_h


def charcoal_bed(charcoal_kg: float) -> Bed:
    """A bed of glowing charcoal."""
    return Bed(charcoal_kg=charcoal_kg * CHARCOAL_PER_KG)


def next_bed(last: Bed, fed_kg: float, dt_s: float) -> Bed:
    """The bed `dt_s` (s) later, `fed_kg` of pellets having fallen on it."""
    if dt_s <= 0:
        return last
    step = lag_gain(dt_s, WOOD_S / 2)
    raw_kg = last.raw_kg + fed_kg
    dried_kg = raw_kg * step
    gone_kg = last.wood_kg * step
    char_kg = last.char_kg * lag_gain(dt_s, CHAR_S)
    charcoal_kg = last.charcoal_kg * lag_gain(dt_s, CHARCOAL_S)
    return Bed(
        raw_kg - dried_kg,
        last.wood_kg + dried_kg - gone_kg,
        last.char_kg + gone_kg * CHAR_SHARE - char_kg,
        last.charcoal_kg - charcoal_kg,
        gone_kg * (1 - CHAR_SHARE) / dt_s * 3600,
        char_kg / dt_s * 3600,
        charcoal_kg / dt_s * 3600,
    )
