"""Simulated time: it passes only while somebody waits for it, flat out or at a chosen pace."""

from __future__ import annotations

import time
from collections.abc import Callable

from hardware.simulated.cabinet import Cabinet
from hardware.simulated.world import World

STEP_S = 0.1
START_UTC_S = 1_898_575_200.0  # 2030-03-01T06:00:00Z: always the same, so that a record can be made again
NEAR_S = 1e-9
BEHIND_S = 1.0  # more real time than this behind, and the lost time is let go


class SimulatedClock:
    """The clock that moves the world. `speed` is how many times faster than real time, `None` flat out."""

    def __init__(
        self,
        world: World,
        cabinet: Cabinet,
        speed: float | None,
        real_s: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._now_s = 0.0
        self._step = world.step
        self._tick = cabinet.tick
        self._speed = speed
        self._real_s = real_s
        self._sleep = sleep
        self._real_at_0_s = real_s()

    def now_s(self) -> float:
        """Return seconds since the rig was opened."""
        return self._now_s

    def utc_s(self) -> float:
        """Return the scenario's date and time as Unix seconds."""
        return START_UTC_S + self._now_s

    def wait_until(self, due_s: float) -> None:
        """Let the world live until `due_s`, a tenth of a second at a time."""
        now_s = self._now_s
        while (left_s := due_s - now_s) > NEAR_S:
            # an all but whole step is a whole one, and the last lands on `due_s` exactly: no drift
            dt_s = STEP_S if left_s > STEP_S - NEAR_S else left_s
            now_s = due_s if left_s - dt_s < NEAR_S else now_s + dt_s
            if self._speed is not None:
                self._pace(now_s, self._speed)
            self._step(dt_s)
            self._now_s = now_s
            self._tick(now_s, dt_s)

    def _pace(self, now_s: float, speed: float) -> None:
        ahead_s = self._real_at_0_s + now_s / speed - self._real_s()
        if ahead_s > 0.0:
            self._sleep(ahead_s)
        elif ahead_s < -BEHIND_S:
            self._real_at_0_s -= ahead_s
