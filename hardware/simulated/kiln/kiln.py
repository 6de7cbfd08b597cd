"""The simulated kiln: its parts put together, seen from its terminals."""

from __future__ import annotations

import random

from .air import WEAK_FAN_FRAC, Air
from .auger import Auger
from .bed import CHARCOAL_FLAME_W, DEAD_C, GRATE_HOLDS_KG, VISIBLE_FLAME_W, Bed
from .build import Build
from .chamber import Chamber
from .feed_tube import FeedTube
from .fuel import CHAR_J_PER_KG, OXYGEN_IN_AIR_FRAC, Fuel
from .gas import AIR, mixture
from .ledger import Ledger
from .oxygen import OxygenProbe
from .sheath import Sheath

FIRE_STEP_S = 0.5  # auger and fan move every step, fire and heat at this pace
SLOW_STEP_S = 60.0
CHAR_CO2 = 1.0 + 31.998 / 12.011
FLOOD_KG = 1.5  # pellets that come down when a bridge in the hopper falls
BURNER_W = 40e3  # a hand-held gas burner for roofing work (memory)...
BURNER_KG_PER_S = 0.016  # ...which brings its own air: 46 MJ/kg of propane, 15.7 kg of air for each, some to spare
FAINT_W = 150.0  # a bed that gives off less than this shows no smoke worth the name
PROBE_SEES = (0.4, 0.35, 0.25)  # gas, wall, ware: what a sheath in the chamber settles at (memory)


class Kiln:
    """A pellet-fired kiln that lives in simulated time: the `World` of the emulated wiring.

    Deterministic for a seed. Drives are plain attributes; `step` lets time pass; everything else is to be looked at.
    The parts (`auger`, `air`, `bed`, `chamber`) stand open for tests and benches: `kiln.air.wind_pa` is the wind's pull
    on the stack. `air_ratio` is None while next to nothing burns; `flue_air_ratio`, what the oxygen probe sees, counts
    the door's air too. Both leave out a gas burner, which brings its own air.
    """

    __slots__ = (
        "_chamber_sheath",
        "_damper_was",
        "_fan_was",
        "_feed_tube",
        "_flue_sheath",
        "_fuel_gas_frac",
        "_limit_sheath",
        "_oxygen",
        "_pending_s",
        "_slow_s",
        "air",
        "air_kg_per_s",
        "air_ratio",
        "auger",
        "auger_powered",
        "bed",
        "burn_w",
        "burner_w",
        "chamber",
        "chamber_sheath_c",
        "damper_frac",
        "draught_pa",
        "fan_frac",
        "fed_kg",
        "feed_tube_c",
        "flame",
        "flue_air_ratio",
        "flue_sheath_c",
        "fuel",
        "hopper_kg",
        "ledger",
        "limit_sheath_c",
        "room_c",
        "shaft_turning",
        "smoke_frac",
    )

    def __init__(self, build: Build, seed: int) -> None:
        """A cold kiln with a clean grate and its door shut."""
        self.fuel = Fuel.of(build)
        self.auger = Auger(build, random.Random(f"auger {seed}"))
        self.air = Air(build, random.Random(f"wind {seed}"))
        self.bed = Bed(build, self.fuel)
        self.chamber = Chamber(build)
        self._feed_tube = FeedTube(build.room_c)
        self._chamber_sheath = Sheath(build.chamber_sheath_s, build.room_c)
        self._limit_sheath = Sheath(build.limit_sheath_s, build.room_c)
        self._flue_sheath = Sheath(build.flue_sheath_s, build.room_c)
        self._oxygen = OxygenProbe()
        self._pending_s = 0.0
        self._slow_s = 0.0
        self._fan_was = 0.0
        self._damper_was = 1.0
        self._fuel_gas_frac = 0.0
        self.ledger = Ledger()
        self.auger_powered = False
        self.fan_frac = 0.0
        self.damper_frac = 1.0
        self.chamber_sheath_c = self.flue_sheath_c = self.limit_sheath_c = build.room_c
        self.feed_tube_c = build.room_c
        self.room_c = build.room_c
        self.draught_pa = 0.0
        self.air_kg_per_s = 0.0
        self.air_ratio: float | None = None
        self.flue_air_ratio = self._oxygen.air_ratio
        self.burn_w = 0.0
        self.burner_w = 0.0
        self.smoke_frac = 0.0
        self.flame = False
        self.shaft_turning = False
        self.hopper_kg = build.hopper_kg
        self.fed_kg = 0.0

    # what a person does at the kiln

    def light_charcoal(self, kg: float) -> None:
        """Lay this much charcoal and blow on it until it glows. A dead grate is cleared of pellets first."""
        if self.bed.bed_c < DEAD_C:
            self.ledger.cleared_j += self.bed.clear()
        self.ledger.lit_j += self.bed.light(kg)

    def fill_hopper(self, kg: float) -> None:
        """Pour pellets into the hopper; it breaks a bridge as well."""
        self.auger.fill(kg)
        self.hopper_kg = self.auger.hopper_kg

    def rake_ash(self) -> None:
        """Rake the grate clear of ash."""
        self.bed.rake()

    def open_door(self) -> None:
        """Open the door: cold air comes in above the fire, and the stack no longer pulls through the grate."""
        self.air.door_open = True

    def shut_door(self) -> None:
        """Shut the door."""
        self.air.door_open = False

    # what breaks

    def bridge_hopper(self) -> None:
        """Pellets arch over the auger: the shaft turns, nothing comes. Pouring pellets in breaks the arch."""
        self.auger.bridged = True

    def jam_auger(self) -> None:
        """A nail in the flights: the motor hums, the shaft stands."""
        self.auger.jammed = True

    def free_auger(self) -> None:
        """Pick the nail out."""
        self.auger.jammed = False

    def stop_fan(self) -> None:
        """The fan's motor dies; its wheel runs down."""
        self.air.fan_broken = True

    def mend_fan(self) -> None:
        """The fan runs again."""
        self.air.fan_broken = False

    def block_flue(self) -> None:
        """Something falls across the flue."""
        self.air.flue_blocked = True

    def clear_flue(self) -> None:
        """Pull it out again."""
        self.air.flue_blocked = False

    def drown_fire(self) -> None:
        """Water on the fire: it is out, and pellets pile up wet, until charcoal is laid and lit again."""
        self.ledger.quenched_j += self.bed.drown()

    def weaken_fan(self) -> None:
        """The fan's wheel slips on its shaft: most of its head is gone."""
        self.air.fan_head_frac = WEAK_FAN_FRAC

    def empty_hopper(self) -> None:
        """Nobody has filled the hopper: the screw turns in vain."""
        self.hopper_kg = self.auger.hopper_kg = 0.0

    def flood_grate(self) -> None:
        """A bridge in the hopper falls, through the flights and on to the grate, all at once."""
        self.auger.flood(FLOOD_KG)

    def light_burner(self) -> None:
        """Somebody lights a gas burner in the fire mouth: heat that no feed controls."""
        self.burner_w = BURNER_W

    def start_burn_back(self) -> None:
        """The fire creeps back into the feed tube."""
        self._feed_tube.burning = True

    # truths for tests and benches

    @property
    def ware_c(self) -> float:
        """The skin of the setting, °C."""
        return self.chamber.ware.skin_c

    @property
    def wall_nodes_c(self) -> tuple[float, ...]:
        """The wall from the hot face outwards, °C."""
        return tuple(self.chamber.wall.nodes_c)

    @property
    def bed_kg(self) -> float:
        """Fuel on the grate, kg."""
        return self.bed.fuel_kg

    @property
    def unburnt_kg(self) -> float:
        """Pellets that fell on a dead fire since the kiln was built, kg."""
        return self.bed.unburnt_kg

    def balance(self) -> Ledger:
        """The energy ledger with its standing stocks brought up to date."""
        ledger, ware = self.ledger, self.chamber.ware
        ledger.bed_fuel_j = self.bed.fuel_j()
        ledger.grate_j = self.bed.stored_j()
        ledger.ware_j = ware.skin_j + ware.core_j
        ledger.wall_j = self.chamber.wall.stored_j()
        return ledger

    # time

    def step(self, dt_s: float) -> None:
        """Let `dt_s` seconds pass (normally 0.1; longer is cut up)."""
        while dt_s > FIRE_STEP_S:
            self.step(FIRE_STEP_S)
            dt_s -= FIRE_STEP_S
        auger = self.auger
        auger.step(dt_s, self.auger_powered)
        self.shaft_turning = auger.turning
        air = self.air
        moved = air.turn_fan(dt_s, self.fan_frac)
        self._pending_s += dt_s
        if self._pending_s >= FIRE_STEP_S - 1e-6:
            self._burn(self._pending_s)
            self._pending_s = 0.0
        elif moved or self.fan_frac != self._fan_was or self.damper_frac != self._damper_was:
            self._blow()

    def _blow(self) -> None:
        """Bring the air up to the drives."""
        air = self.air
        self._fan_was = self.fan_frac
        self._damper_was = self.damper_frac
        air.solve(self.damper_frac, self._fuel_gas_frac)
        self.draught_pa = air.draught_pa
        self.air_kg_per_s = air.air_kg_per_s

    def _burn(self, dt_s: float) -> None:
        """Let fire and heat move on by one fire step."""
        auger, bed, air, chamber = self.auger, self.bed, self.air, self.chamber
        landed_kg = auger.take_landed()
        if landed_kg > 0.0:
            bed.land(landed_kg)
            self.fed_kg += landed_kg
            self.ledger.fuel_j += landed_kg * self.fuel.lhv_j_per_kg
        self.hopper_kg = auger.hopper_kg
        auger.choked = bed.pellets_kg > GRATE_HOLDS_KG
        air.clog(bed.ash_kg, bed.fuel_kg)
        air.weather(dt_s, chamber.flue_c)
        self._blow()
        air_kg = air.air_kg_per_s * dt_s
        bed.burn(dt_s, air_kg, chamber.wall.nodes_c[0])
        self._heat(dt_s, air_kg)
        self._look(dt_s, air_kg)
        self._slow_s += dt_s
        if self._slow_s >= SLOW_STEP_S:
            self._slow_s = 0.0
            chamber.wall.renew_film()

    def _heat(self, dt_s: float, air_kg: float) -> None:
        """Send the gas of this step through the chamber and enter everything in the ledger."""
        bed, chamber, fuel, air = self.bed, self.chamber, self.fuel, self.air
        burnt_kg = bed.burnt_volatile_kg
        oxygen_kg = air_kg * OXYGEN_IN_AIR_FRAC - bed.oxygen_used_kg
        co2_kg = bed.burnt_char_kg * CHAR_CO2 + burnt_kg * fuel.volatile_co2
        steam_kg = bed.steam_kg + burnt_kg * fuel.volatile_h2o
        smoke_kg = bed.unburnt_volatile_kg
        nitrogen_kg = air_kg * (1.0 - OXYGEN_IN_AIR_FRAC)
        a, b = mixture(nitrogen_kg, oxygen_kg, co2_kg, steam_kg, smoke_kg)
        burner_j = self.burner_w * dt_s
        if burner_j > 0.0:
            a += AIR[0] * BURNER_KG_PER_S * dt_s
            b += AIR[1] * BURNER_KG_PER_S * dt_s
        chamber.step(dt_s, a, b, bed.gas_heat_j + burner_j, bed.radiated_j, air.door_kg_per_s * dt_s, air.door_open)
        if air_kg > 0.0:
            self._fuel_gas_frac = (nitrogen_kg + oxygen_kg + co2_kg + steam_kg + smoke_kg) / air_kg - 1.0
        ledger = self.ledger
        ledger.burner_j += burner_j
        ledger.smoke_j += bed.smoke_j
        ledger.flue_j += chamber.flue_j
        ledger.outside_j += chamber.outside_j
        ledger.door_j += chamber.door_j

    def _look(self, dt_s: float, air_kg: float) -> None:
        """Bring what is there to be seen and measured up to date."""
        bed, chamber = self.bed, self.chamber
        released_j = bed.released_j
        faint = released_j < FAINT_W * dt_s
        self.smoke_frac = 0.0 if faint else bed.smoke_j / released_j
        needed_kg = bed.oxygen_needed_kg
        self.air_ratio = None if faint else air_kg * OXYGEN_IN_AIR_FRAC / needed_kg
        flue_air_kg = air_kg + self.air.door_kg_per_s * dt_s
        burning_kg = 0.0 if faint else needed_kg
        self.flue_air_ratio = self._oxygen.step(dt_s, flue_air_kg * OXYGEN_IN_AIR_FRAC, burning_kg)
        self.burn_w = (released_j - bed.smoke_j) / dt_s
        glow_w = bed.burnt_char_kg * CHAR_J_PER_KG / dt_s
        self.flame = self.burn_w - glow_w > VISIBLE_FLAME_W or glow_w > CHARCOAL_FLAME_W
        gas, wall, ware = PROBE_SEES
        around_c = gas * chamber.gas_c + wall * chamber.wall.nodes_c[0] + ware * chamber.ware.skin_c
        self.chamber_sheath_c = self._chamber_sheath.step(dt_s, around_c)
        self.limit_sheath_c = self._limit_sheath.step(dt_s, around_c)
        self.flue_sheath_c = self._flue_sheath.step(dt_s, chamber.flue_c)
        self.feed_tube_c = self._feed_tube.step(dt_s, bed.bed_c, bed.pellets_kg, self.air_kg_per_s)
