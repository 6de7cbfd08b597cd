"""The second world: the observer sees each breach, a dead grate is found, and a daemon that looks away is caught."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from daemon.fire.signs import FireSigns
from tests.bench.outside import Outside
from tests.bench.second import BARE, FEW, Case, Known, run


def scans(closed: list[bool]) -> Outside:
    """What the observer finds in these scans."""
    seen = Outside(9.0)
    for level in closed:
        seen.scan(level)
    return seen


USUAL = ([True] * 10 + [False] * 90) * 12


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        (lambda: scans([True] * 95 + [False] * 5), "without a pause"),
        (lambda: scans(([True] * 90 + [False] * 4) * 10), "of a minute"),
        (lambda: scans(([True] * 2 + [False] * 50) * 5), "three closures"),
    ],
)
def test_the_observer_finds_what_a_contact_must_not_do(seen: Callable[[], Outside], words: str) -> None:
    assert scans(USUAL).broken == []
    assert any(words in found for found in seen().broken)


@pytest.mark.parametrize(("full_kg_per_h", "most_kg"), [(9.0, 0.3), (16.0, 16 / 30)])
def test_the_observer_weighs_what_falls_on_a_grate_that_gives_no_heat(full_kg_per_h: float, most_kg: float) -> None:
    """0.3 kg, or two minutes of full feed where that is more."""
    seen = Outside(full_kg_per_h)
    for _ in range(3000):
        seen.second(most_kg / 1000, gives_heat=False, air=True)
        if seen.broken:
            break
    assert seen.dead_kg == pytest.approx(most_kg, rel=0.01)
    assert "gives no heat" in seen.broken[0]
    seen = Outside(full_kg_per_h)
    for second in range(3000):
        seen.second(most_kg / 1000, gives_heat=second % 900 == 0, air=second % 20 == 0)
    assert seen.broken == []


def test_the_observer_finds_fuel_without_air() -> None:
    seen = Outside(9.0)
    for _ in range(40):
        seen.second(0.001, gives_heat=True, air=False)
    assert "without air" in seen.broken[0]


WARM = Case(1, 120.0, "climb", FEW, "warm-up")


@pytest.mark.slow
def test_a_fire_that_dies_in_a_warm_kiln_of_hard_brick_is_found_within_0_3_kg() -> None:
    result = run(WARM, Known)
    assert (result.ended, result.broken) == ("flame-out", [])
    assert 0.1 < result.dead_kg <= result.most_kg


@pytest.mark.slow
def test_a_fire_that_was_never_lit_in_a_warm_kiln_is_fed_nothing() -> None:
    result = run(Case(3, 120.0, "climb", BARE, "never lit"), Known)
    assert (result.ended, result.dead_kg, result.broken) == ("fire not proven", 0.0, [])


@pytest.mark.slow
def test_a_daemon_that_takes_every_kiln_for_a_burning_one_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(FireSigns, "chamber_shows_it", property(lambda signs: True))
    assert any("gives no heat" in found for found in run(WARM, Known).broken)
