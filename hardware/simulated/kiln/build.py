"""How one kiln is built: every physical parameter of the simulated kiln, with the demo kiln as the default."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Build:
    """One kiln as its builder would describe it. Defaults are the demo kiln; SI units are in the names.

    Numbers without a source beside them are design choices of the demo kiln or orders of magnitude from memory.
    """

    room_c: float = 15.0
    """The day it is fired on."""

    # hopper and auger
    hopper_kg: float = 18.0
    """Pellets in the hopper at the start: one 40 lb bag (18.14 kg), some of it spilt."""
    auger_kg_per_h: float = 9.0
    """Delivery with the auger turning all the time and the hopper full."""
    auger_rev_per_s: float = 0.1
    flight_ripple_frac: float = 0.35
    """How far the delivery swings within one turn, as a flight edge comes round."""
    flight_spread_frac: float = 0.10
    """Standard deviation of one turn's load against the next."""
    motor_spin_s: float = 0.1
    chute_s: float = 2.0
    """From the end of the auger to the bed."""
    bridge_chance_per_kg: float = 0.0
    """Chance that the pellets bridge over the auger, for each kg fed. Off unless asked for."""

    # pellets: ISO 17225-2 A1 softwood, facts from memory
    carbon_frac: float = 0.50
    hydrogen_frac: float = 0.06
    oxygen_frac: float = 0.43
    """Of the dry, ash-free wood."""
    moisture_frac: float = 0.08
    """Of the pellet as received."""
    ash_frac: float = 0.006
    """Of the dry pellet."""
    lhv_j_per_kg: float = 17.0e6
    """Net calorific value as received."""
    char_frac: float = 0.18
    """Of the dry, ash-free wood: what stays as char when the volatiles have left (fast heating; memory)."""

    # grate and bed
    grate_j_per_k: float = 1700.0
    """Heat capacity of the grate and the ash on it: about 3 kg of steel."""
    grate_m2: float = 0.036
    """Area by which the bed shines into the chamber."""
    primary_frac: float = 0.6
    """Share of the air that goes through the char; the rest comes in above it."""
    char_reach_kg: float = 0.25
    """Char that takes up 63 % of the primary air's oxygen."""
    charcoal_reach_kg: float = 1.1
    """The same for charcoal laid by hand, whose lumps have less surface."""
    mixing_spread: float = 0.75
    """How uneven the air is in the flame: an air ratio this far above one is the least that burns everything."""
    smoke_slope: float = 2.1
    """Heat lost per missing part of air: carbon monoxide, hydrogen, tar and soot leave, not just wood gas.

    Equilibrium chemistry alone gives about 1.25 (566 kJ/mol O2 for CO against 433 for wood). This and `mixing_spread`
    are chosen so that heating is best near an air ratio of 1.3 and over-fuelling cools, as wood firers find.
    """
    ash_stays_frac: float = 0.7
    """Share of the ash that does not fall through the grate."""
    ash_choke_kg: float = 0.8
    """Ash that halves the grate's open area."""
    bed_choke_kg: float = 1.6
    """Fuel on the grate that halves the grate's open area."""

    # air
    fan_head_pa: float = 145.0
    """The fan's pressure at full speed with its outlet shut."""
    fan_free_m3_per_s: float = 0.026
    """The fan's delivery at full speed with nothing in the way."""
    fan_least_frac: float = 0.18
    """Below this the motor does not turn."""
    fan_lag_s: float = 0.7
    grate_flow_m2: float = 8.0e-4
    """Discharge coefficient × open area of clean grate and air ports."""
    flue_flow_m2: float = 3.8e-3
    """Discharge coefficient × open area of flue and stack, damper open."""
    damper_leak_frac: float = 0.06
    """What a shut damper still lets through, as a share of the open area."""
    stack_m: float = 1.1
    stack_cools_frac: float = 0.15
    """Share of the flue gas's excess temperature lost on the way up, on average."""
    gust_pa: float = 0.4
    """Standard deviation of the wind's pull on the stack."""
    gust_s: float = 8.0
    door_m2: float = 0.05

    # chamber
    ware_kg: float = 43.0
    """Ware, shelves and props."""
    ware_skin_frac: float = 0.4
    """Share of it that the gas reaches at once."""
    ware_link_w_per_k: float = 120.0
    """From the skin of the setting to its core."""
    ware_m2: float = 0.9
    chamber_m2: float = 1.46
    """Inner surface of a 0.12 m³ cube."""
    gas_emissivity: float = 0.12
    """A flame and gas 0.4 m thick; handbooks give 0.1 to 0.25 (memory)."""
    bypass_frac: float = 0.10
    """Share of the gas that goes straight to the flue."""

    # wall: insulating fire brick of the 1260 °C class, data-sheet orders of magnitude (memory)
    wall_m: float = 0.15
    wall_outer_m2: float = 2.75
    """Outer surface that counts; less than the geometric one, corners carry little heat."""
    wall_kg_per_m3: float = 680.0
    wall_j_per_kg_k: float = 1050.0
    wall_w_per_m_k: float = 0.13
    """Conductivity at 0 °C ..."""
    wall_w_per_m_k2: float = 9.0e-5
    """... and its rise per K: 0.22 W/(m·K) at 1000 °C."""

    # probes
    chamber_sheath_s: float = 20.0
    flue_sheath_s: float = 15.0
    limit_sheath_s: float = 32.0

    @classmethod
    def varied(cls, seed: int) -> Build:
        """Another plausible kiln for an ensemble; the same seed gives the same kiln."""
        dice = random.Random(f"build {seed}")
        demo = cls()

        def around(value: float, spread: float) -> float:
            """Within ± `spread` of the demo kiln's value."""
            return value * (1.0 + spread * (2.0 * dice.random() - 1.0))

        size = around(1.0, 0.25)  # chamber volume against the demo kiln's; its surface goes with the power 2/3
        face = size ** (2.0 / 3.0)
        strength = around(face, 0.1)  # auger, grate and fan come in sizes that go with the chamber
        lightness = around(1.0, 0.12)  # dense brick conducts better
        moisture = around(demo.moisture_frac, 0.15)
        return replace(
            demo,
            room_c=around(demo.room_c, 0.8),
            auger_kg_per_h=around(demo.auger_kg_per_h, 0.15) * strength,
            auger_rev_per_s=around(demo.auger_rev_per_s, 0.3),
            flight_ripple_frac=around(demo.flight_ripple_frac, 0.4),
            chute_s=around(demo.chute_s, 0.3),
            moisture_frac=moisture,
            ash_frac=around(demo.ash_frac, 0.1),
            # 18.7 MJ/kg dry, less the water's weight and the heat to boil it off
            lhv_j_per_kg=around(18.69e6, 0.01) * (1.0 - moisture) - 2.44e6 * moisture,
            char_frac=around(demo.char_frac, 0.12),
            grate_j_per_k=around(demo.grate_j_per_k, 0.25) * strength,
            grate_m2=around(demo.grate_m2, 0.15) * strength,
            mixing_spread=around(demo.mixing_spread, 0.15),
            char_reach_kg=around(demo.char_reach_kg, 0.2) * strength,
            fan_head_pa=around(demo.fan_head_pa, 0.12),
            fan_free_m3_per_s=around(demo.fan_free_m3_per_s, 0.15) * strength,
            grate_flow_m2=around(demo.grate_flow_m2, 0.08) * strength,
            flue_flow_m2=around(demo.flue_flow_m2, 0.15) * strength,
            stack_m=around(demo.stack_m, 0.4),
            gust_pa=around(demo.gust_pa, 0.8),
            ware_kg=around(demo.ware_kg, 0.2) * size,
            ware_m2=around(demo.ware_m2, 0.15) * face,
            chamber_m2=demo.chamber_m2 * face,
            wall_m=around(demo.wall_m, 0.12),
            wall_outer_m2=around(demo.wall_outer_m2, 0.1) * face,
            wall_kg_per_m3=demo.wall_kg_per_m3 * lightness,
            wall_w_per_m_k=around(demo.wall_w_per_m_k, 0.1) * lightness,
            bypass_frac=around(demo.bypass_frac, 0.4),
            chamber_sheath_s=around(demo.chamber_sheath_s, 0.3),
            limit_sheath_s=around(demo.limit_sheath_s, 0.3),
        )
