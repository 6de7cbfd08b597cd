"""The air: what fan, servo or person do so that the gauge reads the draught that is wanted.

By hand the daemon asks and sees on the gauge that it was done, and raises the fan where the damper can give no more; by
fan or by damper servo it holds the draught itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from math import sqrt

from daemon.settings import AirTable
from daemon.units import DraughtUnit, words_draught

SETTLED_S, OFF_FOR_S = 10.0, 20.0
"""By hand: a request is done when the gauge has stayed in the band for SETTLED_S. Somebody is asked when it has stayed
out of the band for OFF_FOR_S. Gusts are shorter (memory)."""
FAN_AFTER_S, FAN_PER_S = 180.0, 0.002
"""By hand: a request for more air that has stood for FAN_AFTER_S may be more than the damper can give. Then the fan
comes up by FAN_PER_S, slower than a hand. It goes back before anybody is asked to close (memory)."""
NEAR_PA = 0.5
"""A gap smaller than this is within the gauge's own error (memory). It is left alone, so that fan and servo do not
hunt."""
STEER_S = 6.0
"""The time, s, in which the fan closes most of a gap. A fan is at speed within a few seconds (memory)."""
LESS_AIR_WAITS = 3.0
"""By hand: a request for less air waits so many times as long. Too much air wastes pellets, too little smokes. Found on
the bench: `python -m tests.bench.control`, by hand."""


class DraughtHold(Enum):
    """How a draught is held by hand: as the plan has it, as the fuel needs it, or as a reduction takes it."""

    EXACT = "exactly"
    FOR_FUEL = "enough for the fuel, with some to spare"
    CLOSE = "close to what the fuel takes"


WORTH_A_WALK = {
    DraughtHold.EXACT: (1.0, 1.0, 1.0),
    DraughtHold.FOR_FUEL: (0.94, 1.12, 1.4),
    DraughtHold.CLOSE: (0.95, 1.0, 1.06),
}
"""By hand: ratios of the air to the air that is wanted for the fuel now. Below the first somebody is asked for more
air, above the third for less. Both times they are asked for the second: the fuel of a climb grows, and nobody should
walk for every tenth of it. Found on the bench, by hand."""


class AirTask(Enum):
    """What the course wants of the air."""

    STILL = "fan off, damper as it is"
    PURGE = "all the air there is"
    LOWEST = "the fan at its lowest"
    HOLD = "the draught that is wanted"
    SHUT = "fan off, damper shut, so that the kiln cools slowly"
    COOL_TUBE = "the fan at its lowest and the damper as set, so that the feed tube stays cool"
    KEEP = "fan and damper as they are"


@dataclass(frozen=True, slots=True)
class Air:
    """Where the air stands. `setpoint_pa` is None unless a draught is held; `request` asks a person to do something."""

    fan_frac: float = 0.0
    damper_frac: float = 1.0
    setpoint_pa: float | None = None
    request: str | None = None
    changed_s: float = 0.0
    """Since when the gauge is out of the band (no request yet) or back in it (a request stands)."""
    asked_s: float | None = None


@dataclass(frozen=True, slots=True)
class AirOrder:
    """What is asked of the air. `setpoint_pa` counts for HOLD; `draught_pa` is the gauge, None where it is blind."""

    task: AirTask
    setpoint_pa: float
    draught_pa: float | None
    unit: DraughtUnit
    hold: DraughtHold = DraughtHold.EXACT
    gauged: bool = True
    """A draught gauge is fitted."""


def next_air(last: Air, order: AirOrder, now_s: float, dt_s: float, table: AirTable) -> Air:
    """The air `dt_s` later."""
    if order.task is AirTask.HOLD:
        return hold_draught(last, order, now_s, dt_s, table)
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
            return "Shut the damper but for a crack: the kiln cools slowly, and the fan can cool the feed tube."
        case AirTask.STILL | AirTask.LOWEST | AirTask.HOLD | AirTask.KEEP:
            return None


def hold_draught(last: Air, order: AirOrder, now_s: float, dt_s: float, table: AirTable) -> Air:
    """Hold a draught, in the way this kiln has."""
    match table.by:
        case "hand":
            return ask_hand(last, order, now_s, dt_s, table)
        case "fan":
            fan_frac = fan_step_frac(max(last.fan_frac, table.fan_lowest_frac), order, dt_s, table)
            return Air(max(fan_frac, table.fan_lowest_frac), table.damper_set_frac, order.setpoint_pa, changed_s=now_s)
        case "damper":
            return Air(
                table.fan_set_frac,
                servo_step_frac(last.damper_frac, order, dt_s, table),
                order.setpoint_pa,
                changed_s=now_s,
            )


def fan_step_frac(frac: float, order: AirOrder, dt_s: float, table: AirTable) -> float:
    """One step of the fan. The draught goes with the square of the speed (fan laws), so the speed goes by the root.

    The fan stays while the gauge is blind; where none is fitted it runs as set.
    """
    if not order.gauged:
        return table.fan_set_frac
    if order.draught_pa is None or abs(order.setpoint_pa - order.draught_pa) < NEAR_PA:
        return frac
    ratio = min(max(order.setpoint_pa / max(order.draught_pa, 0.5), 0.25), 4.0)
    return min(frac * float(ratio ** (0.5 * dt_s / STEER_S)), 1.0)


def servo_step_frac(frac: float, order: AirOrder, dt_s: float, table: AirTable) -> float:
    """An integral step towards the draught, of the relative error; with no believable gauge the damper stays."""
    if order.draught_pa is None or abs(order.setpoint_pa - order.draught_pa) < NEAR_PA:
        return frac
    error = (order.setpoint_pa - order.draught_pa) / max(order.setpoint_pa, table.band_least_pa)
    return min(max(frac + table.gain_per_s * dt_s * min(max(error, -1.0), 1.0), table.damper_lowest_frac), 1.0)


def ask_hand(last: Air, order: AirOrder, now_s: float, dt_s: float, table: AirTable) -> Air:
    """Ask for a move when one is worth the walk, and see that it was done."""
    base = replace(last, fan_frac=fan_help_frac(last, order, now_s, dt_s, table), damper_frac=table.damper_set_frac)
    if last.setpoint_pa is None:  # a draught is held from now on: what was asked before is past
        return replace(base, setpoint_pa=order.setpoint_pa, request=None, changed_s=now_s, asked_s=None)
    if order.draught_pa is None:
        return base
    anew = (
        order.hold is DraughtHold.EXACT and last.setpoint_pa != order.setpoint_pa
    )  # another draught is worth another walk at once
    if last.request is not None and not anew:
        return standing_request(base, order, now_s, table)
    worth_pa = worthwhile_pa(order.draught_pa, order, table)
    if worth_pa is None:
        setpoint_pa = order.setpoint_pa if order.hold is DraughtHold.EXACT else last.setpoint_pa
        return replace(base, setpoint_pa=setpoint_pa, request=None, changed_s=now_s)
    rest_s = table.ask_again_s * (1 if worth_pa > order.draught_pa else LESS_AIR_WAITS)
    rested = last.asked_s is None or now_s - last.asked_s >= rest_s
    if not anew and (not rested or now_s - last.changed_s < OFF_FOR_S):
        return base
    return replace(
        base, setpoint_pa=worth_pa, changed_s=now_s, asked_s=now_s, request=move_words(worth_pa, order, None)
    )


def fan_help_frac(last: Air, order: AirOrder, now_s: float, dt_s: float, table: AirTable) -> float:
    """By hand the fan runs as set, and faster while a request for more air stays unanswered; not in a reduction."""
    if last.setpoint_pa is None:
        return table.fan_set_frac
    fan_frac = max(last.fan_frac, table.fan_set_frac)
    if order.draught_pa is None:
        return fan_frac
    waited = last.request is not None and last.asked_s is not None and now_s - last.asked_s >= FAN_AFTER_S
    short = order.draught_pa < last.setpoint_pa and not is_inside(order.draught_pa, last.setpoint_pa, table)
    if waited and short and order.hold is not DraughtHold.CLOSE:
        return min(fan_frac + FAN_PER_S * dt_s, 1.0)
    if order.draught_pa > order.setpoint_pa * WORTH_A_WALK[DraughtHold.FOR_FUEL][1] ** 2:
        return max(fan_frac - FAN_PER_S * dt_s, table.fan_set_frac)
    return fan_frac


def worthwhile_pa(draught_pa: float, order: AirOrder, table: AirTable) -> float | None:
    """The draught to ask a person for, Pa; None while the present draught is good enough."""
    least, spare, most = WORTH_A_WALK[order.hold]
    if order.hold is DraughtHold.EXACT:
        return None if is_inside(draught_pa, order.setpoint_pa, table) else order.setpoint_pa
    plenty = sqrt(max(draught_pa, 0.1) / order.setpoint_pa)
    return None if least < plenty < most else order.setpoint_pa * spare * spare


def is_inside(draught_pa: float, setpoint_pa: float, table: AirTable) -> bool:
    """Whether the gauge reads what was asked, as near as a hand can do it."""
    return abs(draught_pa - setpoint_pa) <= max(table.band_least_pa, table.band_frac * setpoint_pa)


def standing_request(base: Air, order: AirOrder, now_s: float, table: AirTable) -> Air:
    """A request stands: done once the gauge has been in its band for a moment. It grows with what the fuel needs."""
    setpoint_pa = base.setpoint_pa if base.setpoint_pa is not None else order.setpoint_pa
    draught_pa = order.draught_pa if order.draught_pa is not None else setpoint_pa
    if order.hold is not DraughtHold.EXACT and order.setpoint_pa > setpoint_pa:
        setpoint_pa = order.setpoint_pa * WORTH_A_WALK[order.hold][1] ** 2
    if order.hold is not DraughtHold.EXACT and worthwhile_pa(draught_pa, order, table) is None:
        return replace(base, request=None, changed_s=now_s)  # the fuel has changed, and this air is right for it now
    if not is_inside(draught_pa, setpoint_pa, table):
        request = move_words(setpoint_pa, order, base.request if setpoint_pa == base.setpoint_pa else None)
        return replace(base, setpoint_pa=setpoint_pa, changed_s=now_s, request=request)
    return replace(base, request=None, changed_s=now_s) if now_s - base.changed_s >= SETTLED_S else base


def move_words(setpoint_pa: float, order: AirOrder, last: str | None) -> str:
    """The request, in the gauge's unit."""
    draught_pa = order.draught_pa if order.draught_pa is not None else setpoint_pa
    if last is not None and abs(draught_pa - setpoint_pa) < 1.0:
        return last
    move = "Close" if draught_pa > setpoint_pa else "Open"
    return f"{move} the damper until the gauge reads {words_draught(setpoint_pa, order.unit)}."
