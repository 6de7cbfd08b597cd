"""The firing plan: stages in our units, as the plan's file gives them (`file.py`)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from daemon.plans.cones import end_point_c
from daemon.units import DraughtUnit, TemperatureUnit


class StageKind(Enum):
    """What a stage does: hold feed and draught for a time, climb at a rate, or soak."""

    FIXED = "fixed"
    CLIMB = "climb"
    SOAK = "soak"


class Atmosphere(Enum):
    """The gas around the ware. The strength of a reduction is the trade's; its air ratio stands in `RATIO`."""

    OXIDATION = "oxidation"
    NEUTRAL = "neutral"
    LIGHT_REDUCTION = "light reduction"
    MEDIUM_REDUCTION = "medium reduction"
    HEAVY_REDUCTION = "heavy reduction"

    @property
    def reduces(self) -> bool:
        """Less air than the fuel needs."""
        return RATIO[self] < 1.0


RATIO = {
    Atmosphere.OXIDATION: 1.20, Atmosphere.NEUTRAL: 1.05, Atmosphere.LIGHT_REDUCTION: 0.95,
    Atmosphere.MEDIUM_REDUCTION: 0.90, Atmosphere.HEAVY_REDUCTION: 0.82,
}  # fmt: skip
"""The air over what just burns the fuel. Fires burn clean from about 1.2; reductions are 5 to 20 % short (memory)."""


USUAL_RATE_C_PER_H = 60.0
"""Of a cone whose stage has no rate: the slower column of the published tables."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage. `to_c` or `cone` ends a climb; `for_s` ends a fixed stage or a soak.

    With `trim` the daemon finds feed and draught; without, both are held as they stand here. A draught of None follows
    the fuel.
    """

    name: str
    kind: StageKind
    feed_frac: float | None
    draught_pa: float | None
    trim: bool
    atmosphere: Atmosphere = Atmosphere.OXIDATION
    to_c: float | None = None
    cone: str | None = None
    rate_c_per_h: float | None = None
    for_s: float | None = None

    def target_c(self, rate_c_per_h: float | None) -> float | None:
        """Where a climb ends, °C: the temperature asked for, or the cone's end point at the rate really climbed."""
        if self.cone is not None:
            rate = rate_c_per_h if rate_c_per_h is not None else self.rate_c_per_h
            return end_point_c(self.cone, rate if rate is not None else USUAL_RATE_C_PER_H)
        return self.to_c


@dataclass(frozen=True, slots=True)
class Plan:
    """A firing plan. `text` is the file as written, kept in the record."""

    name: str
    temperature: TemperatureUnit
    draught: DraughtUnit
    stages: tuple[Stage, ...]
    text: str

    @property
    def pair(self) -> tuple[float, float] | None:
        """Feed (fraction) and draught (Pa) that burn clean together, of the climb or soak that feeds most; or None."""
        given = [(s.feed_frac, s.draught_pa) for s in self.stages if s.trim]
        pairs = [(feed, pa) for feed, pa in given if feed is not None and pa is not None and feed > 0 and pa > 0]
        return max(pairs) if pairs else None
