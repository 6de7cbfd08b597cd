"""Probes and the feed tube."""

from __future__ import annotations

from math import exp

import pytest

from hardware.simulated.kiln.sheath import Sheath

from .stoker import hot, run


def test_a_sheathed_probe_sees_sixty_three_percent_in_one_time_constant() -> None:
    """First-order step response, 1 - exp(-t/τ)."""
    probe = Sheath(20.0, 15.0)
    for _ in range(40):
        probe.step(0.5, 1015.0)
    assert probe.probe_c == pytest.approx(15.0 + 1000.0 * (1.0 - exp(-1.0)))


def test_the_limit_probe_says_the_same_as_the_chamber_probe_a_little_later() -> None:
    """Same place, thicker sheath."""
    kiln = hot()
    run(kiln, 10, feed_frac=0.4, fan_frac=0.6)
    assert kiln.limit_sheath_c == pytest.approx(kiln.chamber_sheath_c, abs=10.0)
    kiln.open_door()
    run(kiln, 0.5, feed_frac=0.0, fan_frac=0.6)
    assert kiln.limit_sheath_c > kiln.chamber_sheath_c + 5.0


def test_the_feed_tube_is_cool_in_firing_and_hot_when_the_fire_creeps_back() -> None:
    """Below 60 °C with air and pellets moving; beyond the 85 °C that stokers are held to when the air stands still."""
    kiln = hot()
    run(kiln, 30, feed_frac=0.4, fan_frac=0.6)
    assert kiln.feed_tube_c < 60.0
    kiln.stop_fan()
    kiln.block_flue()
    run(kiln, 10, feed_frac=0.0, fan_frac=0.6)
    assert kiln.feed_tube_c > 85.0
