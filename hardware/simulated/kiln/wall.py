"""The brick wall: heat creeping outwards through a slab, node by node."""

from __future__ import annotations

from itertools import pairwise

from .build import Build

STEFAN_BOLTZMANN = 5.670374e-8  # CODATA 2018
KELVIN = 273.15
OUTER_EMISSIVITY = 0.85  # weathered sheet metal or plaster (memory)
NODES = 12
STRETCH = 1.2  # each gap is this much wider than the one inside it: thin cells where the heat comes in


def outer_film_w_per_m2_k(face_c: float, room_c: float) -> float:
    """What still air (1.31·ΔT^(1/3): handbook form for a warm wall, memory) and rays take from an outer face."""
    gap_k = face_c - room_c
    if gap_k <= 0.0:
        return 5.0
    face_k, room_k = face_c + KELVIN, room_c + KELVIN
    rays = OUTER_EMISSIVITY * STEFAN_BOLTZMANN * (face_k * face_k + room_k * room_k) * (face_k + room_k)
    return float(1.31 * gap_k ** (1.0 / 3.0)) + rays


class Wall:
    """A one-dimensional wall with nodes on both faces; conductivity rises linearly with temperature.

    Explicit and conservative: what leaves one cell enters the next. Stable for steps up to about a second.
    """

    __slots__ = ("_capacity", "_film", "_gap", "_k0", "_k1", "_outer_m2", "_room_c", "nodes_c", "places_m")

    def __init__(self, build: Build, start_c: float | None = None) -> None:
        """A wall at room temperature, or at `start_c` throughout."""
        self._room_c = build.room_c
        self._k0 = build.wall_w_per_m_k
        self._k1 = build.wall_w_per_m_k2
        self._outer_m2 = build.wall_outer_m2
        first = build.wall_m * (STRETCH - 1.0) / (STRETCH ** (NODES - 1) - 1.0)
        gaps = [first * STRETCH**i for i in range(NODES - 1)]
        places = [sum(gaps[:i]) for i in range(NODES)]

        def area(place_m: float) -> float:
            """The surface that the heat crosses at this depth, m²."""
            return build.chamber_m2 + (build.wall_outer_m2 - build.chamber_m2) * place_m / build.wall_m

        edges = [0.0, *(0.5 * (a + b) for a, b in pairwise(places)), build.wall_m]
        heat_j_per_m3_k = build.wall_kg_per_m3 * build.wall_j_per_kg_k
        self._capacity = [heat_j_per_m3_k * (b - a) * area(0.5 * (a + b)) for a, b in pairwise(edges)]
        self._gap = [area(0.5 * (a + b)) / (b - a) for a, b in pairwise(places)]
        self._film = 5.0
        self.places_m = tuple(places)
        self.nodes_c = [build.room_c if start_c is None else start_c] * NODES

    def stored_j(self) -> float:
        """Heat in the brick above room temperature, J."""
        room_c = self._room_c
        return sum(c * (t - room_c) for c, t in zip(self._capacity, self.nodes_c, strict=True))

    def step(self, dt_s: float, inward_j: float) -> float:
        """Take `inward_j` at the hot face, let it spread, and return what left the outer face, J."""
        nodes = self.nodes_c
        capacity = self._capacity
        k0, half_k1 = self._k0 * dt_s, 0.5 * self._k1 * dt_s
        arriving = inward_j
        here = nodes[0]
        place = 0
        for gap in self._gap:
            after = nodes[place + 1]
            passing = (k0 + half_k1 * (here + after)) * gap * (here - after)
            nodes[place] = here + (arriving - passing) / capacity[place]
            arriving = passing
            here = after
            place += 1
        outward = self._film * self._outer_m2 * (here - self._room_c) * dt_s
        nodes[place] = here + (arriving - outward) / capacity[place]
        return outward

    def renew_film(self) -> None:
        """Bring the outer film up to the face's temperature; it changes slowly, so once a minute is enough."""
        self._film = outer_film_w_per_m2_k(self.nodes_c[-1], self._room_c)
