"""The chamber: gas, bed and wall give their heat to the ware, and what they keep goes up the flue."""

from __future__ import annotations

from math import exp

from .build import Build
from .gas import AIR, temperature_of
from .wall import Wall

STEFAN_BOLTZMANN = 5.670374e-8
KELVIN = 273.15
WARE_EMISSIVITY = 0.8  # ware to brick, both rough ceramics (memory)
STILL_W_PER_M2_K = 4.0  # convection without flow (memory)
FLOW_W_PER_M2_K = 700.0  # more of it for each kg/s through the chamber (memory: 5 to 10 W/(m²·K) in kilns)
WARE_CP = (800.0, 0.35)  # J/(kg·K) = a + b·T: fired clay, 0.8 at 0 °C to 1.2 kJ/(kg·K) at 1200 °C (memory)


class Ware:
    """Pots, shelves and props as two lumps: the skin of the setting, and its core."""

    __slots__ = ("_core_kg", "_link", "_room_c", "_skin_kg", "core_c", "core_j", "skin_c", "skin_j")

    def __init__(self, build: Build) -> None:
        """Cold ware."""
        self._skin_kg = build.ware_kg * build.ware_skin_frac
        self._core_kg = build.ware_kg - self._skin_kg
        self._link = build.ware_link_w_per_k
        self._room_c = build.room_c
        self.skin_c = self.core_c = build.room_c
        self.skin_j = self.core_j = 0.0

    def step(self, dt_s: float, inward_j: float) -> None:
        """Take heat at the skin and pass some on to the core."""
        inner_j = self._link * (self.skin_c - self.core_c) * dt_s
        self.skin_j += inward_j - inner_j
        self.core_j += inner_j
        a, b = WARE_CP
        self.skin_c = temperature_of(a, b, self.skin_j / self._skin_kg, self._room_c)
        self.core_c = temperature_of(a, b, self.core_j / self._core_kg, self._room_c)


class Chamber:
    """Ware and wall around the gas."""

    __slots__ = ("_build", "_room_c", "door_j", "flue_c", "flue_j", "gas_c", "outside_j", "wall", "ware")

    def __init__(self, build: Build) -> None:
        """A cold chamber."""
        self._build = build
        self._room_c = build.room_c
        self.ware = Ware(build)
        self.wall = Wall(build)
        self.gas_c = self.flue_c = build.room_c
        self.flue_j = 0.0
        self.outside_j = 0.0
        self.door_j = 0.0

    def step(
        self, dt_s: float, a: float, b: float, gas_j: float, bed_j: float, door_air_kg: float, door_open: bool
    ) -> None:
        """Let the gas of one step (capacity a + b·T in J/K, holding `gas_j`) and the bed's rays heat ware and wall.

        The gas cools exponentially along the surfaces (number of transfer units). Afterwards `flue_j`, `outside_j`
        and `door_j` hold what left in this step.
        """
        build = self._build
        ware, wall = self.ware, self.wall
        skin_c, face_c = ware.skin_c, wall.nodes_c[0]
        if door_air_kg > 0.0:
            a += AIR[0] * door_air_kg
            b += AIR[1] * door_air_kg
        ware_j = wall_j = 0.5 * bed_j
        if a > 1e-6:
            to_ware, to_wall = self._bathe(dt_s, a, b, gas_j, skin_c, face_c)
            ware_j += to_ware
            wall_j += to_wall
            self.flue_j = gas_j - to_ware - to_wall
        else:
            self.gas_c = face_c
            self.flue_j = gas_j  # nothing flows: there is next to nothing to carry
        skin_k2, face_k2 = (skin_c + KELVIN) ** 2, (face_c + KELVIN) ** 2
        skin_k4 = skin_k2 * skin_k2
        rays_j = WARE_EMISSIVITY * STEFAN_BOLTZMANN * build.ware_m2 * (skin_k4 - face_k2 * face_k2) * dt_s
        self.door_j = 0.0
        if door_open:
            self.door_j = STEFAN_BOLTZMANN * build.door_m2 * (skin_k4 - (self._room_c + KELVIN) ** 4) * dt_s
        ware.step(dt_s, ware_j - rays_j - self.door_j)
        self.outside_j = wall.step(dt_s, wall_j + rays_j)

    def _bathe(
        self, dt_s: float, a: float, b: float, gas_j: float, skin_c: float, face_c: float
    ) -> tuple[float, float]:
        """Heat that the gas gives to ware and wall, J; sets the gas and flue temperatures."""
        build = self._build
        ware_m2, wall_m2 = build.ware_m2, build.chamber_m2
        both_m2 = ware_m2 + wall_m2
        sink_c = (ware_m2 * skin_c + wall_m2 * face_c) / both_m2
        flame_c = temperature_of(a, b, gas_j, self._room_c)
        mean_k = 0.5 * (flame_c + sink_c) + KELVIN
        flow_kg_per_s = a / (AIR[0] * dt_s)
        film = (
            STILL_W_PER_M2_K
            + FLOW_W_PER_M2_K * flow_kg_per_s
            + 4.0 * STEFAN_BOLTZMANN * build.gas_emissivity * mean_k * mean_k * mean_k
        )
        reach = film * both_m2 * dt_s / (a + b * (mean_k - KELVIN))
        left_c = sink_c + (flame_c - sink_c) * exp(-reach)
        given_j = (1.0 - build.bypass_frac) * (a + 0.5 * b * (flame_c + left_c)) * (flame_c - left_c)
        # the mean temperature that gives just this much, split so that the parts add up to it
        above_sink_k = given_j / (film * both_m2 * dt_s)
        self.gas_c = sink_c + above_sink_k
        self.flue_c = left_c + build.bypass_frac * (flame_c - left_c)
        ware_j = film * ware_m2 * dt_s * (self.gas_c - skin_c)
        return ware_j, given_j - ware_j

    def stored_j(self) -> float:
        """Heat in ware and wall above room temperature, J."""
        return self.ware.skin_j + self.ware.core_j + self.wall.stored_j()
