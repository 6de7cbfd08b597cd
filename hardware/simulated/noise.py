"""Electrical noise for the emulated chips."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle
from random import Random

PERIOD = 8191  # a prime: at ten looks a second it comes round after a quarter of an hour, in step with nothing


def noise(random: Random, spread: float) -> Iterator[float]:
    """Return endless normal noise of standard deviation `spread`, drawn beforehand because a scan has no time to."""
    return cycle([spread * random.gauss(0.0, 1.0) for _ in range(PERIOD)])
