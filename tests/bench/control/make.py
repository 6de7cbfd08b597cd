"""How the bench's kilns are made: drawn from a number, and differing in kind from the project's simulated kiln.

Against `hardware/simulated/kiln`: the wall has two layers (brick before fibre), the ware is a shell around a core, the
grate's resistance has a linear part, the fan's curve a straight one, false air leaks into the chamber, wood gas comes
from two pools in a row, char burns by how much lies there and how hard it is blown, and smoke follows a soft knee.
Numbers are orders of magnitude from memory, spread so that no two kilns are alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, sqrt
from random import Random


@dataclass(frozen=True, slots=True)
class Make:
    """One kiln. SI units in the names; kg/h for what the auger delivers."""

    room_c: float
    # auger and pellets
    auger_kg_per_h: float
    weighed_kg_per_h: float
    """What the person believes of it."""
    ripple_frac: float
    chute_s: float
    lhv_j_per_kg: float
    bag_spread_frac: float
    """From bag to bag: heat in a kilo, and kilos in a turn."""
    air_per_kg: float
    """Air that just burns a kilo, kg."""
    char_share: float
    """Of the heat (and of the air): what burns as char."""
    wood_s: float
    """From falling on the bed to burning as wood gas, in two equal steps."""
    char_s: float
    """The char's time constant at the usual draught."""
    knee: float
    """How soft the passage into smoke is, in air ratio."""
    smoke_loss: float
    """Heat lost for each missing part of air."""
    flicker_frac: float
    # air
    fan_head_pa: float
    fan_slope_pa_s_per_kg: float
    grate_linear: float
    grate_square: float
    """Drop over grate and bed, clean: linear · m + square · m², Pa with m in kg/s."""
    ash_kg_per_kg: float
    ash_choke_kg: float
    flue_square: float
    """Of the flue, cold and open."""
    stack_m: float
    gust_pa: float
    leak_kg_per_s: float
    """False air at 10 Pa under the room's pressure."""
    fan_lag_s: float
    believed_kg_per_h: float
    """The air at 25 Pa on the gauge as the person believes it; the truth is `air_at_25_pa`."""
    gauge_noise_pa: float
    # chamber
    chamber_m3: float
    ware_kg: float
    ware_m2: float
    shell_frac: float
    ware_link_w_per_k: float
    wall_m2: float
    brick_m: float
    brick_kg_per_m3: float
    brick_w_per_m_k: float
    fibre_m: float
    fibre_w_per_m_k: float
    emissivity: float
    film_w_per_m2_k: float
    """Convection at 20 g/s of gas."""
    rays_frac: float
    """Of the fire's heat: what shines from the bed."""
    sees: tuple[float, float, float]
    """What the probe's sheath settles at: shares of gas, ware and wall."""
    sheath_s: float
    junction_s: float
    probe_noise_k: float

    @property
    def air_at_25_pa(self) -> float:
        """Air at 25 Pa over the clean grate, kg/h."""
        a, b = self.grate_linear, self.grate_square
        return 3600 * (-a + sqrt(a * a + 4 * b * 25.0)) / (2 * b)


def make(number: int, harsh: bool, air_error: float = 0.06) -> Make:
    """Kiln `number`. `air_error`: standard deviation of the air calibration, a share."""
    dice = Random(f"bench kiln {number}")
    between = dice.uniform
    size = between(0.7, 1.4)
    face = size ** (2 / 3)
    fuel = 4.4 * face * between(0.85, 1.15)  # what the last climb takes, kg/h, about
    auger = fuel * between(1.05, 2.0)
    air = fuel * 5.6 * 1.3 / 3600  # kg/s at that fuel
    drop = between(35.0, 70.0)
    linear = between(0.0, 0.2)
    spare = between(1.15, 1.9) ** 2
    flue = between(8.0, 25.0)
    head = (drop + flue) * spare * between(1.1, 1.4)
    rough = 1.8 if harsh else 1.0
    slow = between(1.4, 1.9) if harsh else 1.0
    lag = 2.0 if harsh else 1.0
    trusts = min(max(dice.gauss(0.0, 1.0), -2.0), 2.0)
    made = Make(
        room_c=between(3.0, 28.0),
        auger_kg_per_h=auger,
        weighed_kg_per_h=auger * (1 + between(-0.04, 0.04)),
        ripple_frac=between(0.05, 0.14) * rough,
        chute_s=between(1.5, 4.0),
        lhv_j_per_kg=between(16.4e6, 17.6e6),
        bag_spread_frac=0.03 * rough,
        air_per_kg=between(5.4, 5.85),
        char_share=between(0.24, 0.38),
        wood_s=between(45.0, 90.0) * slow,
        char_s=between(350.0, 900.0) * slow,
        knee=between(0.05, 0.10),
        smoke_loss=between(1.3, 2.0),
        flicker_frac=between(0.06, 0.13),
        fan_head_pa=head,
        fan_slope_pa_s_per_kg=(head - (drop + flue) * spare) / (air * sqrt(spare)),
        grate_linear=linear * drop / air,
        grate_square=(1 - linear) * drop / air**2,
        ash_kg_per_kg=between(0.003, 0.007),
        ash_choke_kg=between(0.35, 1.0),
        flue_square=flue / air**2 / 4.0,
        stack_m=between(0.6, 2.0),
        gust_pa=between(0.2, 1.0) * rough,
        leak_kg_per_s=air * between(0.0, 0.06),
        fan_lag_s=between(0.6, 2.5),
        believed_kg_per_h=0.0,
        gauge_noise_pa=between(0.1, 0.5),
        chamber_m3=0.12 * size,
        ware_kg=42.0 * size * between(0.75, 1.25),
        ware_m2=0.9 * face * between(0.85, 1.2),
        shell_frac=between(0.3, 0.55),
        ware_link_w_per_k=140.0 * size * between(0.7, 1.4),
        wall_m2=1.5 * face,
        brick_m=between(0.065, 0.115),
        brick_kg_per_m3=between(550.0, 950.0),
        brick_w_per_m_k=between(0.18, 0.34),
        fibre_m=between(0.04, 0.09),
        fibre_w_per_m_k=between(0.07, 0.13),
        emissivity=between(0.10, 0.22),
        film_w_per_m2_k=between(12.0, 25.0),
        rays_frac=between(0.04, 0.12),
        sees=shares(between(0.15, 0.45), between(0.2, 0.4)),
        sheath_s=between(14.0, 30.0) * lag,
        junction_s=between(2.0, 6.0) * lag,
        probe_noise_k=between(0.05, 0.2),
    )
    return replaced(made, exp(air_error * trusts))


def shares(gas: float, ware: float) -> tuple[float, float, float]:
    """What the probe sees, adding up to one."""
    return gas, ware, 1 - gas - ware


def replaced(made: Make, trust: float) -> Make:
    """The same kiln with what the person believes of its air."""
    return replace(made, believed_kg_per_h=made.air_at_25_pa * trust)
