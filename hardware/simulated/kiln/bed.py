"""The fire bed: pellets dry, give off their volatiles whether or not there is air for them, and leave char and ash."""

from __future__ import annotations

from math import exp

from .build import Build
from .fuel import (
    BOIL_J_PER_KG,
    CHAR_J_PER_KG,
    CHAR_O2,
    CHARCOAL_ASH_FRAC,
    CHARCOAL_CARBON_FRAC,
    OXYGEN_IN_AIR_FRAC,
    Fuel,
)

STEFAN_BOLTZMANN = 5.670374e-8
KELVIN = 273.15
BED_EMISSIVITY = 0.9  # glowing char and ash (memory)
FUEL_J_PER_KG_K = 1500.0  # pellets and char (memory)
AIR_J_PER_KG_K = 1080.0  # mean of the primary air on its way through the bed
AIR_WARMING_FRAC = 0.85  # how near the primary air comes to the bed's temperature
VAPOUR_J_PER_KG_K = 2000.0  # steam and wood gas leaving the bed (memory)
BACK_RADIATION_FRAC = 0.08  # of the flame's heat that shines back on the bed (memory)
DRYING_FROM_C, DRYING_S = 95.0, 25.0  # pellets 6 mm thick dry in this time on a bed at 800 °C (memory)
PYROLYSIS_FROM_C, PYROLYSIS_S = 250.0, 40.0  # wood falls apart from 250 °C; 6 mm pellets in a minute or so (memory)
HOT_C = 800.0
CHAR_LIGHTS_FROM_C, CHAR_LIGHTS_BY_C = 290.0, 460.0  # char needs 300-400 °C to keep burning (memory)
FLAME_LIGHTS_FROM_C, FLAME_LIGHTS_BY_C = 360.0, 460.0  # wood gas over a glowing bed (memory)
HOT_CHAMBER_HELPS_K = 200.0  # without a glow beside it, wood gas lights at 560-660 °C (memory)
GLOW_C = 650.0  # charcoal laid by hand is blown on until it glows
DEAD_C = 300.0  # a bed colder than this doesn't light what falls on it
GRATE_HOLDS_KG = 6.0  # more pellets than this stand in the chute up to the auger
VISIBLE_FLAME_W = 250.0
CHARCOAL_FLAME_W = 1500.0  # glowing charcoal in a draught shows short flames of carbon monoxide
WET_C = 40.0  # a drowned bed is as hot as wet ash


class Bed:
    """The grate with what lies on it. Amounts burnt are those of the latest `burn`."""

    __slots__ = (
        "_build",
        "_fuel",
        "_heat_j",
        "_room_c",
        "ash_kg",
        "bed_c",
        "burnt_char_kg",
        "burnt_volatile_kg",
        "char_kg",
        "charcoal_kg",
        "drowned",
        "dry_kg",
        "gas_heat_j",
        "oxygen_needed_kg",
        "oxygen_used_kg",
        "radiated_j",
        "released_j",
        "smoke_j",
        "steam_kg",
        "unburnt_kg",
        "unburnt_volatile_kg",
        "water_kg",
    )

    def __init__(self, build: Build, fuel: Fuel) -> None:
        """A clean, cold, empty grate."""
        self._build = build
        self._fuel = fuel
        self._room_c = build.room_c
        self._heat_j = 0.0
        self.bed_c = build.room_c
        self.water_kg = 0.0
        self.dry_kg = 0.0
        self.char_kg = 0.0
        self.charcoal_kg = 0.0
        self.ash_kg = 0.0
        self.unburnt_kg = 0.0
        self.drowned = False
        self.burnt_char_kg = 0.0
        self.burnt_volatile_kg = 0.0
        self.unburnt_volatile_kg = 0.0
        self.steam_kg = 0.0
        self.oxygen_needed_kg = 0.0
        self.oxygen_used_kg = 0.0
        self.gas_heat_j = 0.0
        self.radiated_j = 0.0
        self.released_j = 0.0
        self.smoke_j = 0.0

    @property
    def fuel_kg(self) -> float:
        """Everything on the grate that can still burn, with its water, kg."""
        return self.water_kg + self.dry_kg + self.char_kg + self.charcoal_kg

    @property
    def pellets_kg(self) -> float:
        """What still has the shape of pellets, kg: this is what piles up into the feed tube."""
        return self.water_kg + self.dry_kg

    def fuel_j(self) -> float:
        """Heat that the fuel on the grate would still give, J."""
        carbon_kg = self.char_kg + self.charcoal_kg
        return self.dry_kg * self._fuel.wood_j_per_kg + carbon_kg * CHAR_J_PER_KG - self.water_kg * BOIL_J_PER_KG

    def stored_j(self) -> float:
        """Heat in grate and fuel above room temperature, J."""
        return self._heat_j

    def land(self, kg: float) -> None:
        """Pellets fall on the bed."""
        fuel = self._fuel
        self.water_kg += kg * fuel.water_frac
        self.dry_kg += kg * fuel.wood_frac
        if self.bed_c < DEAD_C:
            self.unburnt_kg += kg

    def light(self, kg: float) -> float:
        """Lay glowing charcoal; return the heat it brought, chemical and sensible, J."""
        if kg <= 0.0:
            return 0.0
        before_j = self.fuel_j() + self._heat_j
        self.drowned = False
        self.charcoal_kg += kg * CHARCOAL_CARBON_FRAC
        self.ash_kg += kg * CHARCOAL_ASH_FRAC * self._build.ash_stays_frac
        self._heat_j = max(self._heat_j, self._capacity() * (GLOW_C - self._room_c))
        self._renew()
        return self.fuel_j() + self._heat_j - before_j

    def clear(self) -> float:
        """Shovel unburnt pellets off the grate; return the heat that would have been in them, J."""
        before_j = self.fuel_j()
        self.water_kg = self.dry_kg = 0.0
        self._renew()
        return before_j - self.fuel_j()

    def drown(self) -> float:
        """Water on the fire: it is out and stays out until it is lit again. Returns the heat that left as steam, J."""
        self.drowned = True
        before_j = self._heat_j
        self._heat_j = min(before_j, self._capacity() * max(0.0, WET_C - self._room_c))
        self._renew()
        return before_j - self._heat_j

    def rake(self) -> None:
        """Rake the grate clear; a little ash always stays."""
        self.ash_kg *= 0.1

    def burn(self, dt_s: float, air_kg: float, wall_c: float) -> None:
        """Let the bed dry, pyrolyse, glow and flame for one step with this much air.

        `wall_c` is what the bed sees above it.
        """
        fuel = self._fuel
        above_k = self.bed_c - self._room_c
        oxygen_kg = air_kg * OXYGEN_IN_AIR_FRAC
        primary_kg = air_kg * self._build.primary_frac
        char_kg = self._glow(oxygen_kg * self._build.primary_frac)
        released_kg = self._fall_apart(dt_s)
        needed_kg = released_kg * fuel.volatile_o2
        left_kg = oxygen_kg - char_kg * CHAR_O2
        flame_j = self._flame(released_kg, needed_kg, left_kg, wall_c)

        glow_j = char_kg * CHAR_J_PER_KG
        self.released_j = released_kg * fuel.volatile_j_per_kg + glow_j
        self.oxygen_needed_kg = needed_kg + char_kg * CHAR_O2
        self.oxygen_used_kg = self.burnt_volatile_kg * fuel.volatile_o2 + char_kg * CHAR_O2
        back_j = BACK_RADIATION_FRAC * flame_j
        carried_j = above_k * (
            AIR_WARMING_FRAC * AIR_J_PER_KG_K * primary_kg
            + VAPOUR_J_PER_KG_K * (released_kg + self.steam_kg)
            + AIR_J_PER_KG_K * char_kg
        )
        self.radiated_j = 0.0 if self.drowned else self._shine(wall_c) * dt_s
        self._heat_j += glow_j + back_j - carried_j - self.steam_kg * BOIL_J_PER_KG - self.radiated_j
        self.gas_heat_j = flame_j - back_j + carried_j
        self._renew()

    def _glow(self, oxygen_kg: float) -> float:
        """Burn char with what oxygen reaches it; thin char lets some pass. Returns the char burnt, kg."""
        lit = (self.bed_c - CHAR_LIGHTS_FROM_C) / (CHAR_LIGHTS_BY_C - CHAR_LIGHTS_FROM_C)
        if lit <= 0.0 or self.drowned:
            self.burnt_char_kg = 0.0
            return 0.0
        from_char = self.char_kg / self._build.char_reach_kg
        from_charcoal = self.charcoal_kg / self._build.charcoal_reach_kg
        share = from_char + from_charcoal
        if share <= 0.0:
            self.burnt_char_kg = 0.0
            return 0.0
        taken_kg = min(1.0, lit) * (1.0 - exp(-share)) * oxygen_kg / CHAR_O2
        char_kg = min(self.char_kg, taken_kg * from_char / share)
        charcoal_kg = min(self.charcoal_kg, taken_kg * from_charcoal / share)
        self.char_kg -= char_kg
        self.charcoal_kg -= charcoal_kg
        self.burnt_char_kg = char_kg + charcoal_kg
        return self.burnt_char_kg

    def _fall_apart(self, dt_s: float) -> float:
        """Drive off steam and volatiles at the pace the bed's heat allows. Returns the volatiles, kg."""
        hot_c = self.bed_c
        self.steam_kg = 0.0
        if hot_c <= DRYING_FROM_C or self.drowned:
            return 0.0
        pace = (hot_c - DRYING_FROM_C) / (HOT_C - DRYING_FROM_C) * dt_s / DRYING_S
        self.steam_kg = self.water_kg * min(1.0, pace)
        self.water_kg -= self.steam_kg
        if hot_c <= PYROLYSIS_FROM_C:
            return 0.0
        fuel = self._fuel
        pace = (hot_c - PYROLYSIS_FROM_C) / (HOT_C - PYROLYSIS_FROM_C) * dt_s / PYROLYSIS_S
        gone = self.dry_kg * min(1.0, pace)
        self.dry_kg -= gone
        self.char_kg += gone * fuel.char_frac
        self.ash_kg += gone * fuel.ash_frac / fuel.wood_frac * self._build.ash_stays_frac
        return gone * (1.0 - fuel.char_frac)

    def _flame(self, released_kg: float, needed_kg: float, oxygen_kg: float, wall_c: float) -> float:
        """Burn the volatiles as far as air and mixing allow. Returns their heat, J; the rest is smoke.

        Where the flame is short of air it leaves carbon monoxide, hydrogen, tar and soot, so each missing part of air
        costs more than a part of the heat; uneven mixing rounds the corner off.
        """
        hottest_c = max(self.bed_c, wall_c - HOT_CHAMBER_HELPS_K)
        lit = (hottest_c - FLAME_LIGHTS_FROM_C) / (FLAME_LIGHTS_BY_C - FLAME_LIGHTS_FROM_C)
        burnt_frac = 0.0
        if lit > 0.0 and needed_kg > 0.0:
            build = self._build
            spread = build.mixing_spread
            short = 1.0 - oxygen_kg / needed_kg
            # a parabola that rounds the corner at `short` = 0 and never promises more heat than the oxygen allows
            missing = (short + spread) ** 2 / (4.0 * spread) if short > -spread else 0.0
            burnt_frac = min(1.0, lit) * max(0.0, 1.0 - build.smoke_slope * missing)
        burnt_kg = released_kg * burnt_frac
        self.burnt_volatile_kg = burnt_kg
        self.unburnt_volatile_kg = released_kg - burnt_kg
        self.smoke_j = self.unburnt_volatile_kg * self._fuel.volatile_j_per_kg
        return burnt_kg * self._fuel.volatile_j_per_kg

    def _shine(self, wall_c: float) -> float:
        """Radiation between the bed and what it sees, W."""
        bed_k2 = (self.bed_c + KELVIN) ** 2
        wall_k2 = (wall_c + KELVIN) ** 2
        return BED_EMISSIVITY * STEFAN_BOLTZMANN * self._build.grate_m2 * (bed_k2 * bed_k2 - wall_k2 * wall_k2)

    def _capacity(self) -> float:
        """Heat capacity of grate and fuel, J/K."""
        return self._build.grate_j_per_k + FUEL_J_PER_KG_K * self.fuel_kg

    def _renew(self) -> None:
        """Temperature from heat: cold pellets falling on the bed cool it."""
        self.bed_c = self._room_c + self._heat_j / self._capacity()
