"""The line through a schedule for controllers without a daemon, by the daemon's own rules; and the score of it all."""

from __future__ import annotations

from tests.bench.control.kiln import FLAT_W, Kiln
from tests.bench.control.schedule import Leg
from tests.bench.control.score import BAND_K, Score, heat_work_rate

WAIT_GAP_K = 25.0
NEAR_K, ARRIVED_K = 2.0, 5.0
SOAK_OVER_S = 7200.0
LOST_S = 5 * 3600.0
"""Waiting longer than this in one leg: the kiln won't get there."""
SETTLED_S = 600.0
"""What the probe has above the target within this long of a climb's end is overshoot."""


class Walk:
    """Where on the schedule one firing is."""

    def __init__(self, legs: tuple[Leg, ...]) -> None:
        self.legs = legs
        self.place = 0
        self.setpoint_c = 0.0
        self.counted_s = 0.0
        self.leg_s = 0.0
        self.waited_s = 0.0
        self.lost = False

    @property
    def over(self) -> bool:
        """The schedule is done, or given up."""
        return self.place >= len(self.legs) or self.lost

    @property
    def leg(self) -> Leg:
        """The leg now."""
        return self.legs[self.place]

    def begin(self, hot_c: float) -> None:
        """The first climb begins where the kiln is."""
        self.setpoint_c = hot_c

    def second(self, hot_c: float, at_floor: bool = False) -> None:
        """One second along."""
        if at_floor and hot_c < 600.0 and not self.leg.soak_s:
            self.setpoint_c = max(self.setpoint_c, min(hot_c - 1.0, self.leg.to_c))
        leg = self.leg
        self.leg_s += 1
        if leg.soak_s:
            self.setpoint_c = leg.to_c
            if abs(hot_c - leg.to_c) <= BAND_K:
                self.counted_s += 1
            over = self.counted_s >= leg.soak_s or self.leg_s >= leg.soak_s + SOAK_OVER_S
        else:
            if self.setpoint_c - hot_c <= WAIT_GAP_K:
                self.setpoint_c = min(leg.to_c, self.setpoint_c + leg.rate_c_per_h / 3600)
                self.waited_s = 0.0
            else:
                self.waited_s += 1
                self.lost = self.waited_s >= LOST_S
            over = hot_c >= leg.to_c - (ARRIVED_K if self.setpoint_c >= leg.to_c - NEAR_K else NEAR_K)
        if over:
            self.place += 1
            self.counted_s = self.leg_s = 0.0


def ideal_work_s(legs: tuple[Leg, ...]) -> float:
    """The heat work of the schedule followed to the letter, in seconds at 1200 °C."""
    hot_c, work_s = 400.0, 0.0
    for leg in legs:
        if leg.soak_s:
            work_s += leg.soak_s * heat_work_rate(leg.to_c)
        else:
            while hot_c < leg.to_c:
                hot_c += leg.rate_c_per_h / 3600
                work_s += heat_work_rate(hot_c)
    return work_s


class Judge:
    """Looks at one kiln each second and keeps the score."""

    def __init__(self, kiln: Kiln, legs: tuple[Leg, ...]) -> None:
        self.kiln = kiln
        self.score = Score(ideal_s=ideal_work_s(legs), target_c=max(leg.to_c for leg in legs))
        self._last_frac: float | None = None
        self._soaked_s = 0

    def second(
        self, kind: str, setpoint_c: float | None, target_c: float | None, feed_frac: float, smoke_asked: bool
    ) -> None:
        """`kind`: warm-up, climb or soak. `feed_frac` is what the controller holds now."""
        kiln, score = self.kiln, self.score
        hot_c = kiln.junction_c
        score.top_c = max(score.top_c, hot_c)
        score.work_s += heat_work_rate(hot_c)
        score.fed_kg = kiln.fed_kg
        if kiln.air_ratio < 1.0 and kiln.release_w > FLAT_W:
            if smoke_asked:
                score.asked_s += 1
            else:
                score.smoke_s += 1
        if kind == "warm-up":
            return
        if self._last_frac is not None:
            score.moves += abs(feed_frac - self._last_frac)
            score.holding_s += 1
        self._last_frac = feed_frac
        if kind == "climb" and setpoint_c is not None:
            score.squares += (hot_c - setpoint_c) ** 2
            score.climbing_s += 1
        if kind == "soak" and target_c is not None:
            score.soak_s += 1
            score.soak_in_s += abs(hot_c - target_c) <= BAND_K
            self._soaked_s += 1
            if self._soaked_s <= SETTLED_S:
                score.over_k = max(score.over_k, hot_c - target_c)
        else:
            self._soaked_s = 0
