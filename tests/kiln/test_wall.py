"""The wall against analytic solutions of one-dimensional conduction (Carslaw and Jaeger, chapters 2 and 3)."""

from __future__ import annotations

from math import erfc, exp, pi, sqrt

import pytest

from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.wall import Wall, outer_film_w_per_m2_k

# a plane wall: same surface on both sides, conductivity that does not change
PLANE = Build(chamber_m2=1.0, wall_outer_m2=1.0, wall_w_per_m_k=0.2, wall_w_per_m_k2=0.0, room_c=20.0)
DIFFUSIVITY = PLANE.wall_w_per_m_k / (PLANE.wall_kg_per_m3 * PLANE.wall_j_per_kg_k)


@pytest.mark.parametrize("minutes", [10, 30, 60])
def test_a_steady_fire_soaks_into_the_wall_as_into_a_thick_body(minutes: int) -> None:
    """Semi-infinite body under constant flux q: T = 2q/k·√(αt/π)·exp(-x²/4αt) - q·x/k·erfc(x/2√(αt)).

    Valid while the outer face has not felt it yet.
    """
    flux = 2500.0
    wall = Wall(PLANE)
    for _ in range(minutes * 120):
        wall.step(0.5, flux * 0.5)
    assert wall.nodes_c[-1] - 20.0 < 5.0
    time_s, k = minutes * 60.0, PLANE.wall_w_per_m_k
    reach_m = sqrt(DIFFUSIVITY * time_s)
    face_k = 2.0 * flux / k * reach_m / sqrt(pi)
    for place_m, node_c in zip(wall.places_m, wall.nodes_c, strict=True):
        if place_m > 2.0 * reach_m:
            continue
        expected_k = face_k * exp(-((place_m / (2.0 * reach_m)) ** 2)) - flux * place_m / k * erfc(
            place_m / (2.0 * reach_m)
        )
        assert node_c - 20.0 == pytest.approx(expected_k, abs=0.02 * face_k)


def test_a_wall_in_equilibrium_drops_its_temperature_along_a_straight_line() -> None:
    """Fourier's law: q = k·ΔT/L once nothing changes; what goes in comes out."""
    flux = 500.0
    wall = Wall(PLANE)
    out_j = 0.0
    for step in range(80 * 3600):
        out_j = wall.step(1.0, flux)
        if step % 60 == 0:
            wall.renew_film()
    assert out_j == pytest.approx(flux, rel=2e-3)
    drop_k = wall.nodes_c[0] - wall.nodes_c[-1]
    assert drop_k == pytest.approx(flux * PLANE.wall_m / PLANE.wall_w_per_m_k, rel=5e-3)


def test_no_heat_is_lost_inside_the_wall() -> None:
    """What went in, less what came out, is what the brick holds: for the widening wall with its rising conductivity."""
    wall = Wall(Build())
    in_j = out_j = 0.0
    for _ in range(20000):
        in_j += 4000.0
        out_j += wall.step(0.5, 4000.0)
    assert out_j > 0.0
    assert wall.stored_j() == pytest.approx(in_j - out_j, rel=1e-9)
    assert wall.nodes_c == sorted(wall.nodes_c, reverse=True)


def test_a_warm_outer_face_loses_what_handbooks_give_for_still_air() -> None:
    """Source: surface losses of furnace casings in still air, about 900 W/m² at 100 °C in a room at 20 °C (memory)."""
    assert outer_film_w_per_m2_k(100.0, 20.0) * 80.0 == pytest.approx(900.0, rel=0.15)
