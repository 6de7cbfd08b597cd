"""When two moments of the daemon count as the same: ages cut off where no limit asks any more, values rounded.

Every field of the memory is named here. One that isn't makes the explorer fail: whoever adds it says how it counts.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import fields
from math import inf
from typing import Any

from daemon.beat import Beat
from daemon.control.air import Air
from daemon.control.feed import Feed
from daemon.control.pulse import Pulse
from daemon.course.attendance import Attendance
from daemon.course.state import Course, LeftOff
from daemon.fire.auger import AugerWatch
from daemon.fire.estimate import Estimate
from daemon.fire.signs import FireSigns
from daemon.fire.trace import ProbeTrace
from daemon.lockout import Lockout
from daemon.memory import Memory
from daemon.reset_button import ResetButton
from tests.daemon.watch import Known

Counts = Callable[[Any, float], Hashable]
"""How a value counts, given the time it is now."""


def same(value: Any, now_s: float) -> Hashable:
    """As it is."""
    hash(value)
    return value  # type: ignore[no-any-return]


def left_out(value: Any, now_s: float) -> Hashable:
    """Not at all: nothing is decided by it, or another field says the same."""
    return None


def age(most_s: float) -> Counts:
    """A moment in time: how long ago, in half seconds, and no longer than matters."""

    def counts(value: float | None, now_s: float) -> Hashable:
        return None if value is None else min(round(2 * (now_s - value)), 2 * most_s) if value > -inf else 2 * most_s

    return counts


def long_ago(most_s: float) -> Counts:
    """The same, and never counts as long ago."""

    def counts(value: float | None, now_s: float) -> Hashable:
        return age(most_s)(value if value is not None else -inf, now_s)

    return counts


def about(step: float, most: float = inf) -> Counts:
    """A quantity: rounded, and no more than matters."""

    def counts(value: float | None, now_s: float) -> Hashable:
        return None if value is None else round(min(value, most) / step)

    return counts


def slope(value: float, now_s: float) -> Hashable:
    """A chamber that climbs, falls or stands still, about as `daemon/fire/signs.py` tells them apart."""
    return (value > 0.004) - (value < -0.004)


def clocks(value: tuple[tuple[float, float] | None, ...], now_s: float) -> Hashable:
    """The conditions that stand, with their ages: no delay here is longer than 10 s."""
    stood = ((place, clock) for place, clock in enumerate(value) if clock is not None)
    return tuple((place, round(min(now_s - c[0], 11)), round(min(now_s - c[1], 11))) for place, c in stood)


def parts(table: dict[str, Counts]) -> Counts:
    """A value of several fields, each by its name."""

    def counts(value: Any, now_s: float) -> Hashable:
        return None if value is None else tuple([rule(getattr(value, name), now_s) for name, rule in table.items()])

    return counts


def of(kind: type, **table: Counts) -> Counts:
    """The parts of one kind of value. Raises TypeError when a field has no rule."""
    names = kind._fields if hasattr(kind, "_fields") else tuple(f.name for f in fields(kind))
    if table.keys() != set(names):
        raise TypeError(f"{kind.__name__}: say how these count in a moment: {sorted(set(names) ^ table.keys())}")
    return parts({name: rule for name, rule in table.items() if rule is not left_out})


LEFT_OFF = of(
    LeftOff, state=same, stage=same, at_s=age(13), chamber_c=about(10), stage_gone_s=about(1, 7), counted_s=about(1, 7),
    target_c=about(10), unproven_s=about(1, 8),
)  # fmt: skip
COURSE = of(
    Course, state=same, since_s=age(8), stage=same, stage_since_s=age(7), begun_s=left_out, setpoint_c=about(10),
    target_c=about(10), counted_s=about(1, 7), owed_s=left_out, waits=same, still_pa=about(10), aired_s=about(1, 3),
    start_c=about(10), blown_pa=left_out,
    start_flue_c=left_out,
    lit=same, eye_was_dark=same, left_off=LEFT_OFF,
)  # fmt: skip
TRACE = of(
    ProbeTrace, at_s=left_out, value_c=left_out, same_since_s=age(4), good_c=about(20), good_s=age(3),
    smooth_c=left_out, slope_k_per_s=left_out,
    recent_c=lambda seen, now_s: (len(seen), tuple(round(c / 20) for c in seen)), recent_s=left_out,
)  # fmt: skip
SIGNS = of(FireSigns, at_s=left_out, smooth_c=about(40), slope_k_per_s=slope, sign_fed_s=left_out, flame_s=age(3),
           bend_k_per_s2=left_out,
           low_c=about(40))  # fmt: skip
PULSE = of(
    Pulse,
    at_s=left_out,
    cycle_began_s=long_ago(3),
    on_s=about(0.5),
    owed_s=about(1),
    closed=same,
    feed_frac=left_out,
    rests=same,
)
AIR = of(Air, fan_frac=about(0.3), damper_frac=about(0.3), setpoint_pa=about(10), request=left_out, changed_s=left_out,
         asked_s=left_out)  # fmt: skip
FEED = of(
    Feed, frac=about(0.1), ff_frac=left_out, p_frac=left_out, i_frac=left_out, d_frac=left_out, limited_by=left_out,
    wanted_air_ratio=about(0.2), wanted_frac=left_out, air_enough_frac=about(0.2, 1.2), embers_frac=about(0.2),
    slow_integral_kg_per_h=left_out, balance_s=left_out,
)  # fmt: skip
ESTIMATE = of(
    Estimate, at_s=left_out, fed_s=left_out, bed=lambda bed, now_s: min(round(bed.burns_kg_per_h / 10), 4),
    balance=lambda balance, now_s: balance is None, air_kg_per_h=about(80), air_factor=left_out, air_std_frac=left_out,
    air_ratio=left_out, compared=left_out, flue_c=left_out, leaner_by=left_out, reduced_s=left_out, gauged=same,
    trial=left_out,
)  # fmt: skip
"""What burns and the air for it, coarsely: the interlocks and the feed go by both.

What is learnt of the heat moves only how much is fed.
"""
LOCKOUT = of(Lockout, first_out=lambda finding, now_s: finding.cause, at_s=left_out, was=left_out, safe=same,
             also=lambda found, now_s: frozenset(f.cause for f in found))  # fmt: skip
KNOWN = of(
    Known, aired_s=about(1, 6), purged=same, proven=same, lit=same, seen_s=age(9), flame_s=about(1, 4),
    coolest_c=about(20, 160), reset_s=age(3), driven_s=age(3),
    alone_s=age(2),
)  # fmt: skip
BEAT = of(
    Beat, at_s=long_ago(2), course=COURSE, feed=FEED, air=AIR, attendance=of(Attendance, present_s=age(7), call=same),
    signs=SIGNS, climb=left_out, traces=lambda traces, now_s: TRACE(traces.get("chamber"), now_s), drift=left_out,
    estimate=ESTIMATE,
)  # fmt: skip
AUGER = of(
    AugerWatch, fed_s=left_out, turned_fed_s=left_out, idle_s=left_out, driven_s=long_ago(3),
    paused_turning_s=about(1, 3), row_s=left_out,
)  # fmt: skip
BUTTON = of(ResetButton, up_s=age(1), down_s=age(3), seen_down_s=age(1))
MEMORY = of(
    Memory, setup=left_out, beat=BEAT, pulse=PULSE, auger=AUGER, since=clocks, lockout=LOCKOUT, reset_button=BUTTON,
    readings=lambda seen, now_s: seen is None, done=lambda done, now_s: (done.auger, done.keep_alive), feed_held=same,
    answers=left_out, findings=left_out,
    alarms=lambda alarms, now_s: any(not alarm.acknowledged for alarm in alarms), record_trouble=left_out,
)  # fmt: skip


def moment_key(memory: Memory, scene: Hashable, known: Known, now_s: float) -> Hashable:
    """What tells one moment from another."""
    auger = memory.auger
    fed = min(round(memory.unproven_s), 8), min(round(auger.fed_s - auger.turned_fed_s), 2)
    return MEMORY(memory, now_s), KNOWN(known, now_s), scene, fed
