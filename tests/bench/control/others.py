"""The other controllers: what hands, a thermostat and a textbook PID do with the same kiln, and one that knows it all.

Each is called once a second and sets feed and fan. None but the all-knowing one looks at more than gauge and probe.
"""

from __future__ import annotations

from copy import copy
from typing import Protocol

from simple_pid import PID

from tests.bench.control.kiln import Kiln
from tests.bench.control.schedule import WARM_UP_FRAC, Leg
from tests.bench.control.walk import Walk

FLOOR_FRAC, CEILING_FRAC = 0.04, 0.9
AIR_PER_KG = 5.6
USUAL_RATIO = 1.3
FAN_LEAST = 0.15
CHARCOAL_FRAC = 0.16  # what burns in the warm-up, as a feed
GAIN_PER_K, RESET_S, SMOOTH_S = 0.02, 500.0, 10.0
"""The textbook PID, tuned by trial on six of these kilns for the nearest line; a D only made the feed restless."""


class Controller(Protocol):
    """Who holds feed and air. `feed_frac` is what is held now; the auger is pulsed by it."""

    feed_frac: float

    def second(self, now_s: int, kiln: Kiln, walk: Walk, kind: str) -> None:
        """Look, and set `feed_frac` and the kiln's fan."""


def air_for(feed_frac: float, kiln: Kiln, ratio: float = USUAL_RATIO) -> float:
    """The draught that a person reckons for a feed, Pa."""
    make = kiln.make
    air = feed_frac * make.weighed_kg_per_h * AIR_PER_KG * ratio
    return max(25.0 * float((air / make.believed_kg_per_h) ** 2), 3.0)


def steer(kiln: Kiln, wanted_pa: float, pace_s: float = 10.0) -> None:
    """Bring the gauge to a draught by the fan."""
    move = (wanted_pa / max(kiln.gauge_pa, 0.5)) ** (0.5 / pace_s)
    kiln.fan_frac = min(1.0, max(FAN_LEAST, kiln.fan_frac * move))


def guess_frac(leg: Leg, hot_c: float, kiln: Kiln) -> float:
    """What somebody who has fired such a kiln before would feed here: 4.2 kg/h at 1230 °C and 80 °C/h, less below."""
    share = 0.14 + 0.86 * (hot_c / 1230.0) ** 1.6
    rate = 0.8 + 0.2 * (leg.rate_c_per_h / 80.0 if leg.rate_c_per_h else 0.4)
    return min(max(4.0 * float(share) * rate / kiln.make.weighed_kg_per_h, FLOOR_FRAC), CEILING_FRAC)


def by_charcoal(kiln: Kiln) -> None:
    """The air of the warm-up: the charcoal wants more than the pellets."""
    steer(kiln, air_for(CHARCOAL_FRAC, kiln))


class HandTimer:
    """The repeat-cycle timer and the gauge are set once a stage."""

    def __init__(self) -> None:
        self.feed_frac = WARM_UP_FRAC
        self._place = -1

    def second(self, now_s: int, kiln: Kiln, walk: Walk, kind: str) -> None:
        """Only a new stage makes anybody move."""
        if kind == "warm-up":
            by_charcoal(kiln)
            return
        if walk.place != self._place:
            self._place = walk.place
            leg = walk.leg
            self.feed_frac = guess_frac(leg, leg.to_c - (0 if leg.soak_s else 100), kiln)
        steer(kiln, air_for(self.feed_frac, kiln))


class AttentiveHand:
    """Somebody who looks every ten minutes, and moves feed and air by what was gained since."""

    def __init__(self) -> None:
        self.feed_frac = WARM_UP_FRAC
        self._last_c = 0.0
        self._looked_s = -600

    def second(self, now_s: int, kiln: Kiln, walk: Walk, kind: str) -> None:
        """Look, think in steps of a point, move."""
        if kind == "warm-up":
            by_charcoal(kiln)
            return
        if now_s - self._looked_s >= 600:
            gained = (kiln.probe_c - self._last_c) * 3600 / (now_s - self._looked_s) if self._looked_s > 0 else None
            wanted = walk.leg.rate_c_per_h + 3.0 * (walk.setpoint_c - kiln.probe_c)
            if gained is None:
                self.feed_frac = guess_frac(walk.leg, kiln.probe_c, kiln)
            else:
                more = (wanted - gained) / 100 * (0.05 + 0.06 * kiln.probe_c / 1000)
                self.feed_frac = round(min(max(self.feed_frac + more, FLOOR_FRAC), CEILING_FRAC), 2)
            self._looked_s, self._last_c = now_s, kiln.probe_c
        steer(kiln, air_for(self.feed_frac, kiln))


class Thermostat:
    """Two levels of feed around the line, air for the mean."""

    def __init__(self) -> None:
        self.feed_frac = WARM_UP_FRAC
        self._high = False

    def second(self, now_s: int, kiln: Kiln, walk: Walk, kind: str) -> None:
        """Half as much again, or half, of the guess."""
        if kind == "warm-up":
            by_charcoal(kiln)
            return
        base = guess_frac(walk.leg, kiln.probe_c, kiln)
        gap_k = walk.setpoint_c - kiln.probe_c
        self._high = gap_k > (-1.0 if self._high else 1.0)
        self.feed_frac = min(max(base * (1.5 if self._high else 0.5), FLOOR_FRAC), CEILING_FRAC)
        steer(kiln, air_for(base, kiln))


class TextbookPid:
    """simple-pid on the feed; the fan in fixed proportion to it, or the gauge held to what the feed needs."""

    def __init__(self, by_gauge: bool) -> None:
        self.feed_frac = WARM_UP_FRAC
        self._by_gauge = by_gauge
        self._pid: PID | None = None
        self._per_feed = self._smooth_c = 0.0

    def second(self, now_s: int, kiln: Kiln, walk: Walk, kind: str) -> None:
        """A step of the PID every second."""
        if kind == "warm-up":
            by_charcoal(kiln)
            self._per_feed = kiln.fan_frac / CHARCOAL_FRAC
            self._smooth_c = kiln.probe_c
            return
        if self._pid is None:
            self._pid = PID(
                GAIN_PER_K, GAIN_PER_K / RESET_S, 0.0, output_limits=(FLOOR_FRAC, CEILING_FRAC), sample_time=None,
                differential_on_measurement=True, starting_output=WARM_UP_FRAC,
            )  # fmt: skip
        self._pid.setpoint = walk.setpoint_c
        self._smooth_c += (kiln.probe_c - self._smooth_c) / SMOOTH_S
        self.feed_frac = float(self._pid(self._smooth_c, dt=1.0) or 0.0)
        if self._by_gauge:
            steer(kiln, air_for(self.feed_frac, kiln))
        else:
            kiln.fan_frac = min(1.0, max(FAN_LEAST, self.feed_frac * self._per_feed))


class Still:
    """Dice that always fall the same."""

    def gauss(self, mean: float, sigma: float) -> float:
        """The mean."""
        return mean


def foreseen(kiln: Kiln, feed_frac: float, seconds: int) -> Kiln:
    """The kiln after so long at a feed, without chance."""
    twin = copy(kiln)
    twin.brick_c, twin.fibre_c, twin.chute = list(kiln.brick_c), list(kiln.fibre_c), list(kiln.chute)
    twin.dice = Still()  # type: ignore[assignment]
    twin.auger_frac = feed_frac
    twin.door_open = twin.bridged = False  # a look is short, and a bridge falls
    twin.wind_pa = 0.0
    for _ in range(seconds):
        twin.step()
    return twin


class AllKnowing:
    """Knows kiln and fire wholly, and looks two minutes ahead on a twin of them. It can't see what will befall."""

    RATIO = 1.2
    AHEAD_S = 120
    EVERY_S = 10
    TRIED_FRAC, LEAST_GAIN = 0.01, 10.0
    """How much more feed is tried on the twin, and the least that this counts for, K: short of air it gives nothing."""

    def __init__(self) -> None:
        self.feed_frac = WARM_UP_FRAC
        self._gain = 30.0

    def second(self, now_s: int, kiln: Kiln, walk: Walk, kind: str) -> None:
        """The air by what burns; the feed by what the twin shows."""
        if kind != "warm-up" and now_s % self.EVERY_S == 0:
            self._feed(kiln, walk, now_s)
        soon = self.feed_frac * kiln.make.auger_kg_per_h / 3600 * AIR_PER_KG
        wanted = self.RATIO * max(kiln.need_kg_per_s, 0.6 * soon)
        move = (wanted / max(kiln.air_kg_per_s, 1e-4)) ** 0.25
        kiln.fan_frac = min(1.0, max(FAN_LEAST, kiln.fan_frac * move))

    def _feed(self, kiln: Kiln, walk: Walk, now_s: int) -> None:
        setpoint_c, gap_s = walk.setpoint_c, float(self.AHEAD_S)
        place, left_c = walk.place, setpoint_c
        while gap_s > 0 and place < len(walk.legs):
            leg = walk.legs[place]
            if leg.soak_s:
                break
            step_s = min(gap_s, max(leg.to_c - left_c, 0.0) / leg.rate_c_per_h * 3600)
            left_c += leg.rate_c_per_h * step_s / 3600
            gap_s -= step_s
            if gap_s > 0:
                place += 1
        if setpoint_c - kiln.probe_c > 25.0:
            left_c = setpoint_c
        seen = foreseen(kiln, self.feed_frac, self.AHEAD_S).junction_c
        if now_s % 60 == 0:
            more = foreseen(kiln, self.feed_frac + self.TRIED_FRAC, self.AHEAD_S).junction_c
            self._gain += 0.3 * (max((more - seen) / self.TRIED_FRAC, self.LEAST_GAIN) - self._gain)
        move = 0.35 * (left_c - seen) / self._gain
        burnable = self.feed_frac
        if kiln.fan_frac >= 1.0 and kiln.air_ratio < 1.15:
            burnable *= 0.99
            move = min(move, 0.0)
        self.feed_frac = min(max(burnable + move, FLOOR_FRAC), CEILING_FRAC)
