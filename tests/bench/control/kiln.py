"""One kiln of the bench, moving on a second at a time. See `make.py` for what is different about it."""

from __future__ import annotations

from math import exp, log1p, sqrt
from random import Random

from tests.bench.control.make import Make

SIGMA = 5.670374e-8
KELVIN = 273.15
RHO_T = 353.05  # of air at one atmosphere, kg·K/m³
GAS_CP = (1040.0, 0.19)  # flue gas, J/(kg·K), rising with °C (handbook order, memory)
WARE_CP = (800.0, 0.35)
BRICK_CP = 1000.0
FIBRE_J_PER_M3_K = 1.3e5
OUTER_W_PER_M2_K = 14.0
BAG_KG = 18.14
CHARCOAL_J_PER_KG, CHARCOAL_AIR = 29.0e6, 10.3
FLAT_W = 600.0  # below this nobody would call what leaves smoke


class Kiln:
    """Drives: `auger_frac` (of this second), `fan_frac`, `damper_frac`. Everything else is to be looked at."""

    def __init__(self, make: Make, seed: int) -> None:
        self.make = make
        self.dice = Random(f"bench fire {seed}")
        self.auger_frac = 0.0
        self.fan_frac = 0.0
        self.damper_frac = 1.0
        room = make.room_c
        self.junction_c = self.sheath_c = room
        self.gas_c = self.flue_c = self.probe_c = self.flue_probe_c = room
        self.shell_c = self.core_c = room
        self.brick_c = [room] * 5
        self.fibre_c = [room] * 2
        self.chute: list[float] = [0.0] * max(1, round(make.chute_s))
        self.raw_kg = self.wood_kg = self.char_kg = self.charcoal_kg = 0.0
        self.water_frac = 0.0
        """More water in the pellets than usual: damp ones."""
        self.ash_kg = 0.0
        self.bag_left_kg = BAG_KG
        self.bag_heat = self.bag_load = 1.0
        self.fed_kg = 0.0
        self.bridged = False
        self.held_back_kg = 0.0
        self.door_open = False
        self.wind_pa = 0.0
        self.gust_pa = 0.0
        self.fan_speed = 0.0
        self.air_kg_per_s = 0.0
        self.false_air_kg_per_s = 0.0
        self.draught_pa = self.gauge_pa = 0.0
        self.need_kg_per_s = 0.0
        self.release_w = 0.0
        self.flicker = 0.0
        self.load = 0.0
        self.air_ratio = 9.0
        self.smoke_w = 0.0

    def light(self, kg: float) -> None:
        """Charcoal, glowing."""
        self.charcoal_kg += kg

    def rake(self) -> None:
        """Rake the grate."""
        self.ash_kg *= 0.1

    def step(self) -> None:
        """One second."""
        self._feed()
        self._blow()
        self._burn()
        self._warm()

    def _feed(self) -> None:
        m = self.make
        self.load += (0.0 - self.load) / 12.0 + m.ripple_frac * 0.4 * self.dice.gauss(0.0, 1.0)
        kg = self.auger_frac * m.auger_kg_per_h / 3600 * max(0.0, 1 + self.load) * self.bag_load
        if self.bridged:
            self.held_back_kg += kg
            kg = 0.0
        elif self.held_back_kg > 0.0:
            kg += self.held_back_kg * 0.6  # the bridge falls, and much of what it held comes at once
            self.held_back_kg = 0.0
        self.fed_kg += kg
        self.bag_left_kg -= kg
        if self.bag_left_kg <= 0.0:
            self.bag_left_kg += BAG_KG
            self.bag_heat = 1 + m.bag_spread_frac * self.dice.gauss(0.0, 1.0)
            self.bag_load = 1 + m.bag_spread_frac * self.dice.gauss(0.0, 1.0)
        chute = self.chute
        chute.append(kg)
        self.raw_kg += chute.pop(0)

    def _blow(self) -> None:
        m = self.make
        s = self.fan_frac if self.fan_frac >= 0.15 else 0.0
        self.fan_speed += (s - self.fan_speed) * (1 - exp(-1 / m.fan_lag_s))
        s = self.fan_speed
        self.gust_pa += -self.gust_pa / 7.0 + m.gust_pa * 0.53 * self.dice.gauss(0.0, 1.0)
        hot_k = 0.8 * self.flue_c + 0.2 * m.room_c + KELVIN
        room_k = m.room_c + KELVIN
        pull = 9.80665 * m.stack_m * RHO_T * (1 / room_k - 1 / hot_k) + self.wind_pa + self.gust_pa
        clog = (1 + self.ash_kg / m.ash_choke_kg) ** 2 * (1 + 0.1 * (self.raw_kg + self.wood_kg + self.char_kg))
        linear, square = m.grate_linear * sqrt(clog), m.grate_square * clog
        open_frac = 0.05 + 0.95 * self.damper_frac
        flue = m.flue_square * hot_k / room_k / (open_frac * open_frac)
        if self.door_open:
            pull, flue = 0.0, m.flue_square * 0.1
        push = m.fan_head_pa * s * s + pull
        a = linear + m.fan_slope_pa_s_per_kg * s + (0.0 if s > 0.02 else m.fan_slope_pa_s_per_kg)
        b = square + flue
        flow = (-a + sqrt(a * a + 4 * b * max(push, 0.0))) / (2 * b)
        self.air_kg_per_s += (flow - self.air_kg_per_s) * 0.7
        flow = self.air_kg_per_s
        self.draught_pa = linear * flow + square * flow * flow
        under_pa = pull - flue * flow * flow
        self.false_air_kg_per_s = m.leak_kg_per_s * sqrt(max(under_pa, 0.0) / 10.0)
        if self.door_open:
            self.false_air_kg_per_s = 0.005
        self.gauge_pa += (self.draught_pa + m.gauge_noise_pa * self.dice.gauss(0.0, 1.0) - self.gauge_pa) * 0.6

    def _burn(self) -> None:
        m = self.make
        half = 2.0 / m.wood_s / (1 + 4 * self.water_frac)
        dried = self.raw_kg * half
        gone = self.wood_kg * half
        self.raw_kg -= dried
        self.wood_kg += dried - gone
        self.flicker += -self.flicker / 6.0 + m.flicker_frac * 0.55 * self.dice.gauss(0.0, 1.0)
        gas = gone * max(0.0, 1 + self.flicker) * (1 - m.char_share)
        self.char_kg += gone * m.char_share
        blown = sqrt(max(self.draught_pa, 0.0) / 35.0)
        char = self.char_kg * min(1.0, (0.5 + 0.5 * blown) / m.char_s)
        self.char_kg -= char
        coal = self.charcoal_kg / 4000.0 * (0.4 + 0.6 * blown)
        self.charcoal_kg -= coal
        self.ash_kg += (gone * m.ash_kg_per_kg + coal * 0.02) * 0.7
        heat = (gas + char) * m.lhv_j_per_kg * self.bag_heat * (1 - 1.2 * self.water_frac) + coal * CHARCOAL_J_PER_KG
        self.need_kg_per_s = (gas + char) * m.air_per_kg + coal * CHARCOAL_AIR
        self.release_w = heat
        useful = self.air_kg_per_s + 0.4 * self.false_air_kg_per_s
        if heat < FLAT_W:
            self.air_ratio, self.smoke_w = 9.0, 0.0
            return
        ratio = useful / max(self.need_kg_per_s, 1e-9)
        self.air_ratio = ratio
        x = (1 - ratio) / m.knee
        loss = m.smoke_loss * m.knee * (log1p(exp(x)) if x < 30 else x)
        self.smoke_w = heat * min(loss, 0.9) if ratio < 3 else 0.0

    def _warm(self) -> None:
        m = self.make
        room = m.room_c
        flow = self.air_kg_per_s + self.false_air_kg_per_s + self.need_kg_per_s / m.air_per_kg
        heat = self.release_w - self.smoke_w
        rays = m.rays_frac * heat
        a, b = GAS_CP[0] * max(flow, 2e-4), GAS_CP[1] * max(flow, 2e-4)
        flame = _temperature(a, b, heat - rays, room)
        face = self.brick_c[0]
        shell = self.shell_c
        sink = (m.ware_m2 * shell + m.wall_m2 * face) / (m.ware_m2 + m.wall_m2)
        mean_k = 0.5 * (flame + sink) + KELVIN
        film = m.film_w_per_m2_k * (flow / 0.02) ** 0.7 + 4 * SIGMA * m.emissivity * mean_k * mean_k * mean_k
        both = m.ware_m2 + m.wall_m2
        cp_flow = a + b * (mean_k - KELVIN)
        left = sink + (flame - sink) * exp(-film * both / cp_flow)
        given = (a + 0.5 * b * (flame + left)) * (flame - left)
        gas = sink + given / (film * both)
        self.gas_c, self.flue_c = gas, left
        to_ware = film * m.ware_m2 * (gas - shell) + 0.5 * rays
        to_wall = film * m.wall_m2 * (gas - face) + 0.5 * rays
        between = 0.75 * SIGMA * m.ware_m2 * ((shell + KELVIN) ** 4 - (face + KELVIN) ** 4)
        if self.door_open:
            to_ware -= SIGMA * 0.05 * ((shell + KELVIN) ** 4 - (room + KELVIN) ** 4)
        inner = m.ware_link_w_per_k * (shell - self.core_c)
        cp = WARE_CP[0] + WARE_CP[1] * shell
        self.shell_c = shell + (to_ware - between - inner) / (m.ware_kg * m.shell_frac * cp)
        self.core_c += inner / (m.ware_kg * (1 - m.shell_frac) * cp)
        self._spread(to_wall + between)
        seen = m.sees[0] * gas + m.sees[1] * self.shell_c + m.sees[2] * self.brick_c[0]
        self.sheath_c += (seen - self.sheath_c) / m.sheath_s
        self.junction_c += (self.sheath_c - self.junction_c) / m.junction_s
        self.probe_c = self.junction_c + m.probe_noise_k * self.dice.gauss(0.0, 1.0)
        self.flue_probe_c += (left - self.flue_probe_c) / 20.0

    def _spread(self, watts: float) -> None:
        """Heat through brick and fibre. Thin cells first."""
        m = self.make
        brick, fibre = self.brick_c, self.fibre_c
        arriving = watts / m.wall_m2
        here = brick[0]
        for place in range(4):
            after = brick[place + 1]
            k = m.brick_w_per_m_k * (1 + 5e-4 * 0.5 * (here + after))
            passing = k / (_GAP[place] * m.brick_m) * (here - after)
            brick[place] = here + (arriving - passing) / (_CELL[place] * m.brick_m * m.brick_kg_per_m3 * BRICK_CP)
            arriving, here = passing, after
        k = m.fibre_w_per_m_k * (1 + 8e-4 * here)
        passing = k / (0.5 * m.fibre_m) * (here - fibre[0])
        brick[4] = here + (arriving - passing) / (_CELL[4] * m.brick_m * m.brick_kg_per_m3 * BRICK_CP)
        last = k / (0.5 * m.fibre_m) * (fibre[0] - fibre[1])
        fibre[0] += (passing - last) / (0.6 * m.fibre_m * FIBRE_J_PER_M3_K)
        fibre[1] += (last - OUTER_W_PER_M2_K * 1.6 * (fibre[1] - m.room_c)) / (0.4 * m.fibre_m * FIBRE_J_PER_M3_K + 4e3)


_GAP = (0.08, 0.16, 0.28, 0.48)
_CELL = (0.04, 0.12, 0.22, 0.38, 0.24)


def _temperature(a: float, b: float, heat: float, room: float) -> float:
    at_room = a + b * room
    return room + 2 * heat / (at_room + sqrt(at_room * at_room + 2 * b * max(heat, -1e4)))
