"""The air: who is to do what so that the gauge reads what the stage asks.

By hand the daemon asks and sees on the gauge that it was done; by fan or by damper servo it holds the draught itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from daemon.settings import AirTable
from daemon.units import DraughtUnit, words_draught

SETTLED_S = 10.0  # by hand: the gauge must stay in the band this long before a request counts as done
OFF_FOR_S = 20.0  # by hand: and stay out this long before somebody is asked to walk over
READY_FRAC = 0.85  # of the draught asked for: enough air for the base to rise


class AirTask(Enum):
    """What the course wants of the air."""

    STILL = "fan off, damper as it is"
    PURGE = "all the air there is"
    LOWEST = "the fan at its lowest"
    HOLD = "the stage's draught"
    SHUT = "fan off, damper shut, so that the kiln cools slowly"
    COOL_TUBE = "the same with the fan at its lowest for a while, so that the feed tube stays cool"
    KEEP = "fan and damper as they are"


@dataclass(frozen=True, slots=True)
class Air:
    """Where the air stands. `aim_pa` is None unless a draught is held; `request` is what a person is asked to do."""

    fan_frac: float = 0.0
    damper_frac: float = 1.0
    aim_pa: float | None = None
    request: str | None = None
    changed_s: float = 0.0
    """Since when the gauge is out of the band (no request yet) or back in it (a request stands)."""
    asked_s: float | None = None


@dataclass(frozen=True, slots=True)
class AirOrder:
    """What is asked of the air. `aim_pa` counts for HOLD; `value_pa` is the gauge, None where it can't be believed."""

    task: AirTask
    aim_pa: float
    value_pa: float | None
    unit: DraughtUnit


def next_air(last: Air, order: AirOrder, now_s: float, dt_s: float, table: AirTable) -> Air:
    """The air `dt_s` later."""
    if order.task is AirTask.HOLD:
        return held(last, order, now_s, dt_s, table)
    if order.task is AirTask.KEEP:
        return Air(last.fan_frac, last.damper_frac, changed_s=now_s)
    low_frac = table.fan_lowest_frac
    fan_frac = {AirTask.PURGE: 1.0, AirTask.LOWEST: low_frac, AirTask.COOL_TUBE: low_frac}.get(order.task, 0.0)
    damper_frac = {
        AirTask.PURGE: 1.0,
        AirTask.SHUT: 0.0,
        AirTask.LOWEST: table.damper_set_frac,
        AirTask.COOL_TUBE: table.damper_set_frac,
    }.get(order.task, last.damper_frac)
    return Air(fan_frac, damper_frac, request=hand_words(order.task) if table.by == "hand" else None, changed_s=now_s)


def hand_words(task: AirTask) -> str | None:
    """What the person with a hand damper does in the states that hold no draught."""
    match task:
        case AirTask.PURGE:
            return "Open the damper all the way."
        case AirTask.SHUT | AirTask.COOL_TUBE:
            return "Shut the damper, so that the kiln cools slowly."
        case AirTask.STILL | AirTask.LOWEST | AirTask.HOLD | AirTask.KEEP:
            return None


def held(last: Air, order: AirOrder, now_s: float, dt_s: float, table: AirTable) -> Air:
    """Hold a draught, in the way this kiln has."""
    match table.by:
        case "hand":
            return by_hand(last, order, now_s, table)
        case "fan":
            fan_frac = steered(max(last.fan_frac, table.fan_lowest_frac), order, dt_s, table)
            return Air(max(fan_frac, table.fan_lowest_frac), table.damper_set_frac, order.aim_pa, changed_s=now_s)
        case "damper":
            return Air(table.fan_set_frac, steered(last.damper_frac, order, dt_s, table), order.aim_pa, changed_s=now_s)


def steered(frac: float, order: AirOrder, dt_s: float, table: AirTable) -> float:
    """An integral step towards the draught, of the relative error; with no believable gauge the actuator stays."""
    if order.value_pa is None:
        return frac
    error = (order.aim_pa - order.value_pa) / max(order.aim_pa, table.band_least_pa)
    if abs(order.aim_pa - order.value_pa) < 0.5:  # nearer than the gauge is true: don't hunt
        return frac
    return min(max(frac + table.gain_per_s * dt_s * min(max(error, -1.0), 1.0), 0.0), 1.0)


def by_hand(last: Air, order: AirOrder, now_s: float, table: AirTable) -> Air:
    """Ask for a move when the gauge has been off for a while, and see that it was done."""
    base = replace(last, fan_frac=table.fan_set_frac, damper_frac=table.damper_set_frac, aim_pa=order.aim_pa)
    if last.aim_pa != order.aim_pa:
        base = replace(base, asked_s=None)  # another draught is worth another walk at once
    if order.value_pa is None:
        return base
    band_pa = max(table.band_least_pa, table.band_frac * order.aim_pa)
    inside = abs(order.value_pa - order.aim_pa) <= band_pa
    if last.aim_pa is None or (inside == (last.request is None)):
        base = replace(base, changed_s=now_s)
    if last.aim_pa is None:  # a draught is held from now on: what was asked before is past
        return replace(base, request=None)
    if last.request is not None:
        done = inside and now_s - base.changed_s >= SETTLED_S
        return replace(base, request=None if done else move_words(order, last))
    rested = base.asked_s is None or now_s - base.asked_s >= table.ask_again_s
    if not inside and rested and now_s - base.changed_s >= OFF_FOR_S:
        return replace(base, request=move_words(order, last), asked_s=now_s, changed_s=now_s)
    return base


def move_words(order: AirOrder, last: Air) -> str:
    """The request, in the gauge's unit."""
    move = "Close" if order.value_pa is not None and order.value_pa > order.aim_pa else "Open"
    if last.request is not None and order.value_pa is not None and abs(order.value_pa - order.aim_pa) < 1.0:
        return last.request
    return f"{move} the damper until the gauge reads {words_draught(order.aim_pa, order.unit)}."


def air_ready(value_pa: float | None, aim_pa: float) -> bool:
    """Whether there is air enough for the fuel to follow. Without a gauge there is nothing to wait for."""
    return value_pa is None or value_pa >= READY_FRAC * aim_pa
