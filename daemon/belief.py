"""What of a reading image can be believed: too old or impossible values become Blind before anybody judges by them."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

from hardware.port import NOT_FITTED, AirRatio, Blind, Blindness, Draught, NotFitted, Readings, RigFault, Temperature

POSSIBLE_C = (-60.0, 1900.0)  # outside it no thermocouple of types K N S R B can be right
POSSIBLE_PA = (-1000.0, 1000.0)
POSSIBLE_AIR_RATIO = (0.3, 20.0)  # beyond what a wide-range probe can tell, on either side (memory)
POSSIBLE_UTC_S = 1e11  # some three thousand years
NEXT_TICK_S = 0.2  # a value from further in the future has a wrong clock


def believe(readings: Readings, stale_s: float, last: Readings | None = None) -> Readings:
    """The same image with every value that is too old, not a number or impossible made Blind.

    A probe that was in the `last` image and is gone from this one is Blind too: nothing becomes unfitted in a firing.
    Raises RigFault when the clock itself is no number: no delay could be measured.
    """
    if last is not None and not readings.probes.keys() >= last.probes.keys():
        gone = {name: Blind(Blindness.NO_READING_YET) for name in last.probes.keys() - readings.probes.keys()}
        readings = replace(readings, probes={**readings.probes, **gone})
    if not abs(readings.utc_s) < POSSIBLE_UTC_S:
        readings = replace(readings, utc_s=0.0)
    if not isfinite(readings.now_s):
        raise RigFault(f"The rig's clock reads {readings.now_s}: look at the board.")
    probes, before = readings.probes, last.probes if last is not None else {}
    good = "chamber" in probes and good_temperature(readings.feed_tube, stale_s)
    for name, probe in probes.items():
        if probe is not before.get(name):  # the very value that was believed in the last scan needs no second look
            good = good and good_temperature(probe, stale_s)
    oxygen = readings.oxygen
    if good and good_draught(readings.draught, stale_s) and (oxygen is NOT_FITTED or good_air_ratio(oxygen, stale_s)):
        return readings
    seen = {name: believable(p, stale_s) for name, p in probes.items()}
    seen.setdefault("chamber", Blind(Blindness.NO_READING_YET))
    feed_tube, draught = readings.feed_tube, readings.draught
    return replace(
        readings,
        probes=seen,
        feed_tube=feed_tube if isinstance(feed_tube, NotFitted) else believable(feed_tube, stale_s),
        draught=draught if good_draught(draught, stale_s) else make_blind(draught, stale_s),
        oxygen=oxygen if good_air_ratio(oxygen, stale_s) else make_blind(oxygen, stale_s),
    )


def good_temperature(value: Temperature | Blind | NotFitted, stale_s: float) -> bool:
    """True unless it is a temperature that can't be believed."""
    return not isinstance(value, Temperature) or (
        -NEXT_TICK_S <= value.age_s <= stale_s and POSSIBLE_C[0] <= value.value_c <= POSSIBLE_C[1]
    )


def good_draught(value: Draught | Blind | NotFitted, stale_s: float) -> bool:
    """True unless it is a draught that can't be believed."""
    return not isinstance(value, Draught) or (
        -NEXT_TICK_S <= value.age_s <= stale_s and POSSIBLE_PA[0] <= value.value_pa <= POSSIBLE_PA[1]
    )


def good_air_ratio(value: AirRatio | Blind | NotFitted, stale_s: float) -> bool:
    """True unless it is an air ratio that can't be believed."""
    return not isinstance(value, AirRatio) or (
        -NEXT_TICK_S <= value.age_s <= stale_s and POSSIBLE_AIR_RATIO[0] <= value.value <= POSSIBLE_AIR_RATIO[1]
    )


def believable(value: Temperature | Blind, stale_s: float) -> Temperature | Blind:
    """A believable temperature, or Blind with the reason."""
    return value if good_temperature(value, stale_s) else make_blind(value, stale_s)


def make_blind(value: Temperature | Draught | AirRatio | Blind | NotFitted, stale_s: float) -> Blind:
    """The reason why a value that was given can't be believed."""
    age_s, source = getattr(value, "age_s", 0.0), getattr(value, "source", "")
    return Blind(Blindness.OUT_OF_RANGE if -NEXT_TICK_S <= age_s <= stale_s else Blindness.STALE, source)
