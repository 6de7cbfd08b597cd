"""The air's way: room, fan, grate and bed, chamber, flue with its damper, stack.

Every resistance is an orifice, so each pressure drop goes with the square of the mass flow and the flow follows in
closed form: m = Cd·A·√(2·ρ·Δp) (any fluid mechanics handbook). Stack: Δp = g·H·(ρ room - ρ gas). Fan: head
H0·s² - k·Q² (fan laws).
"""

from __future__ import annotations

import random
from math import exp, sqrt

from .build import Build

GRAVITY = 9.80665
AIR_KG_K_PER_M3 = 353.05  # ρ·T of air at 101 325 Pa: 101325 · 0.0289647 / 8.314463
KELVIN = 273.15
BLOCKED_FRAC = 0.02  # what a blocked flue still lets through
WEAK_FAN_FRAC = 0.15  # of its head is left to a fan whose wheel slips on its shaft
STOPPED_FAN = 4.0  # a standing wheel resists this many times more than a turning one (memory)
DOOR_EXCHANGE_KG_PER_S = 0.03  # room air that rolls in through the open door of a hot chamber, for 0.05 m² (memory)


def air_density(air_c: float) -> float:
    """Density of air and, near enough, of flue gas at one atmosphere, kg/m³."""
    return AIR_KG_K_PER_M3 / (air_c + KELVIN)


def stack_draught(height_m: float, gas_c: float, room_c: float) -> float:
    """What a column of hot gas pulls, Pa."""
    return GRAVITY * height_m * (air_density(room_c) - air_density(gas_c))


def orifice_resistance(flow_m2: float, density: float) -> float:
    """Pressure drop per squared mass flow, Pa/(kg/s)², of an opening with `flow_m2` = Cd·A."""
    return 1.0 / (2.0 * density * flow_m2 * flow_m2)


class Air:
    """The draught and what it moves."""

    __slots__ = (
        "_build",
        "_dice",
        "_fan_k",
        "_grate_resistance",
        "_gust_pa",
        "_rho_room",
        "_stack_c",
        "air_kg_per_s",
        "door_kg_per_s",
        "door_open",
        "draught_pa",
        "fan_broken",
        "fan_head_frac",
        "fan_speed",
        "flue_blocked",
        "wind_pa",
    )

    def __init__(self, build: Build, dice: random.Random) -> None:
        """Cold stack, fan standing, door shut."""
        self._build = build
        self._dice = dice
        self._rho_room = air_density(build.room_c)
        self._fan_k = build.fan_head_pa / (build.fan_free_m3_per_s * self._rho_room) ** 2
        self._grate_resistance = orifice_resistance(build.grate_flow_m2, self._rho_room)
        self._stack_c = build.room_c
        self._gust_pa = 0.0
        self.fan_speed = 0.0
        self.fan_broken = False
        self.fan_head_frac = 1.0
        self.flue_blocked = False
        self.door_open = False
        self.wind_pa = 0.0
        self.air_kg_per_s = 0.0
        self.door_kg_per_s = 0.0
        self.draught_pa = 0.0

    def weather(self, dt_s: float, flue_c: float) -> None:
        """Let the gust and the stack's own temperature move on."""
        build = self._build
        if build.gust_pa > 0.0:
            fade = dt_s / build.gust_s
            self._gust_pa += -fade * self._gust_pa + build.gust_pa * sqrt(2.0 * fade) * self._dice.gauss(0.0, 1.0)
        gas_c = flue_c - build.stack_cools_frac * (flue_c - build.room_c)
        self._stack_c += (gas_c - self._stack_c) * min(1.0, dt_s / 20.0)

    def turn_fan(self, dt_s: float, fan_frac: float) -> bool:
        """Let the fan follow its drive; True while it is still on its way."""
        build = self._build
        aim = 0.0 if self.fan_broken or fan_frac < build.fan_least_frac else fan_frac if fan_frac < 1.0 else 1.0
        if aim == self.fan_speed:
            return False
        gap = aim - self.fan_speed
        if abs(gap) < 1e-3:
            self.fan_speed = aim
            return False
        self.fan_speed += gap * (1.0 - exp(-dt_s / build.fan_lag_s))
        return True

    def clog(self, ash_kg: float, bed_kg: float) -> None:
        """Set how far ash and fuel close the grate."""
        build = self._build
        open_frac = 1.0 / ((1.0 + ash_kg / build.ash_choke_kg) * (1.0 + (bed_kg / build.bed_choke_kg) ** 2))
        self._grate_resistance = orifice_resistance(build.grate_flow_m2 * open_frac, self._rho_room)

    def solve(self, damper_frac: float, fuel_gas_frac: float) -> None:
        """Find the flow at which all heads and drops balance.

        `fuel_gas_frac` is the gas that the fuel adds, kg per kg of air.
        """
        build = self._build
        stack_c = self._stack_c
        pull = GRAVITY * build.stack_m * (self._rho_room - AIR_KG_K_PER_M3 / (stack_c + KELVIN))
        pull += self.wind_pa + self._gust_pa
        speed = self.fan_speed
        push = build.fan_head_pa * self.fan_head_frac * speed * speed
        fan_k = self._fan_k if speed > 0.0 else STOPPED_FAN * self._fan_k
        leak = build.damper_leak_frac
        open_frac = BLOCKED_FRAC if self.flue_blocked else leak + (1.0 - leak) * min(1.0, max(0.0, damper_frac))
        flue_m2 = build.flue_flow_m2 * open_frac
        flue_resistance = (stack_c + KELVIN) / (2.0 * AIR_KG_K_PER_M3 * flue_m2 * flue_m2)
        grate_resistance = self._grate_resistance
        if self.door_open:  # the chamber stands at room pressure: the stack pulls through the door, not the fire
            flow = sqrt(push / (grate_resistance + fan_k))
            drawn = sqrt(max(0.0, pull) / flue_resistance)
            self.door_kg_per_s = max(0.0, drawn - flow) + DOOR_EXCHANGE_KG_PER_S * (
                (stack_c - build.room_c) / (stack_c + KELVIN)
            )
        else:
            swell = 1.0 + fuel_gas_frac
            total = grate_resistance + fan_k + flue_resistance * swell * swell
            flow = sqrt(max(0.0, push + pull) / total)
            self.door_kg_per_s = 0.0
        self.air_kg_per_s = flow
        self.draught_pa = grate_resistance * flow * flow
