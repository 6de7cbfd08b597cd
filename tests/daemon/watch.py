"""What must never be: the rules that hold in every scan of every firing, checked against the scan as it was done.

The watch keeps an account of the firing of its own (`Known`): from the readings, the words, the levels driven, and the
names of the states. `breaches` holds the daemon against it. The explorer that tries everything and the random
sequences share it.
"""

from __future__ import annotations

from math import inf, isfinite
from typing import NamedTuple

from daemon.beat import BEAT_S
from daemon.course.asks import Word
from daemon.course.state import ATTENDED, FEEDING, TRANSITIONS, State
from daemon.memory import Memory
from daemon.row import Row
from daemon.settings import SCAN_S, Settings
from hardware.port import Blind, Draught, Readings, Temperature

AT_REST = frozenset({State.COLD, State.MADE_READY, State.FINISHED})
NO_ACT = frozenset({Word.STOP, Word.SEEN})
"""The words that a lock-out hears: a stop trips again, and seeing an alarm stills the horn."""
GRACE_S = 2 * BEAT_S
"""Purge and proof move on the beat: the first and the last beat may count more than the watch saw."""
ALONE_S = 0.5
"""How long an auger may be seen to run by itself before the keep-alive stands still."""


class Known(NamedTuple):
    """What the watch has seen of this firing. Times are the rig's clock, s."""

    aired_s: float = 0.0
    """Proven air without a break, in this purge or this burn-down."""
    purged: bool = False
    """Air enough since the last lock-out or loss of power."""
    proven: bool = False
    """This fire was proven, or taken up again by a person, and no lock-out or loss of power came since."""
    lit: bool = False
    """Something was lit, or may have been, and nobody has called it out."""
    seen_s: float = -inf
    """When somebody was last there."""
    flame_s: float = 0.0
    """Flame seen without a break, in this proving."""
    coolest_c: float = inf
    """The chamber at its coolest, in this proving."""
    reset_s: float | None = None
    """Since when reset is held, or was held until this scan; pressed after it was let go."""
    driven_s: float = -inf
    """When the auger was last driven."""
    alone_s: float | None = None
    """Since when the auger runs though nothing has driven it for a while."""


def known_at_start(memory: Memory, now_s: float) -> Known:
    """What there is to know when the daemon comes up: a firing that was interrupted may still burn."""
    return Known(lit=memory.beat.course.state not in AT_REST | {State.COOLING}, seen_s=now_s)


def learnt(known: Known, before: Memory, row: Row, after: Memory) -> Known:
    """What is known after one more scan."""
    readings, now_s, limits = row.readings, row.now_s, before.settings.limits
    last, was, state = before.readings, before.beat.course.state, after.beat.course.state
    dt_s = max(now_s - last.now_s, 0.0) if last is not None else 0.0
    airing = was in (State.PURGE, State.BURN_DOWN) and air_flows(readings, limits.draught_least_pa)
    aired_s = known.aired_s + dt_s if airing else 0.0
    needed_s = before.settings.purge_s if was is State.PURGE else before.settings.blown_s
    enough = airing and aired_s + GRACE_S >= needed_s
    said = {answer.ask.word for answer in row.wish.answers if answer.accepted}
    fire = proof(known, before, readings, dt_s)
    resumed = was is State.BURN_DOWN and Word.RESUME in said
    confirmed = readings.confirm_pressed is True and (last is None or last.confirm_pressed is not True)
    there = bool(said) or confirmed or was not in ATTENDED or state not in ATTENDED
    held = last is not None and last.reset_pressed is True
    pressed = readings.reset_pressed is True and last is not None and last.reset_pressed is False
    runs = before.done.auger or readings.shaft_turning is True
    alone = runs and now_s - known.driven_s >= limits.auger_runs_s
    return Known(
        aired_s,
        (known.purged or enough) and state not in AT_REST | {State.LOCKED_OUT},
        (known.proven or resumed or quote(fire, readings, before)) and state in FEEDING,
        (known.lit or state is State.LIT_BY_HAND) and not (was is State.BURN_DOWN and state is State.COOLING),
        now_s if there else known.seen_s,
        *fire,
        now_s if pressed else known.reset_s if held else None,
        now_s if row.driven.auger else known.driven_s,
        (known.alone_s if known.alone_s is not None else now_s) if alone else None,
    )


def proof(known: Known, before: Memory, readings: Readings, dt_s: float) -> tuple[float, float]:
    """For how long the eye has seen flame, and the coolest the chamber was, in this proving."""
    if before.beat.course.state is State.LIT_BY_HAND:  # the charcoal is called lit now or later
        return 0.0, chamber_c(readings, inf)
    if before.beat.course.state is not State.FIRE_PROVING:
        return 0.0, inf
    flame_s = known.flame_s + dt_s if readings.flame_seen is True else 0.0
    return flame_s, min(known.coolest_c, chamber_c(readings, inf))


def quote(fire: tuple[float, float], readings: Readings, before: Memory) -> bool:
    """Whether a fire was really shown: a flame seen long enough, or a probe that got warmer."""
    flame_s, coolest_c = fire
    limits = before.settings.limits
    risen = chamber_c(readings, -inf) - coolest_c >= min(limits.proven_chamber_rise_k, limits.proven_flue_rise_k)
    proving = before.beat.course.state is State.FIRE_PROVING
    return proving and (flame_s + GRACE_S >= limits.proven_flame_s or risen)


def chamber_c(readings: Readings, unknown_c: float) -> float:
    """The chamber, °C."""
    probe = readings.probes["chamber"]
    return probe.value_c if isinstance(probe, Temperature) else unknown_c


def breaches(known: Known, before: Memory, row: Row, after: Memory, now_known: Known) -> list[str]:
    """The rules this scan broke. `known` is what was known before it, `now_known` after."""
    found = [f"fed {rule}" for rule in forbidden(known, before, row, after)] if row.driven.auger else []
    if row.driven.auger and not row.wish.auger:
        found.append("fed without being wished")
    was, state = before.beat.course.state, after.beat.course.state
    if state not in (was, State.LOCKED_OUT) and state not in TRANSITIONS[was]:
        found.append(f"{was.value} led to {state.value}")
    if (state is State.LOCKED_OUT) is not (after.lockout is not None):
        found.append(f"{state.value}, and the lock-out is {after.lockout}")
    if known.lit and state in AT_REST:
        found.append(f"{state.value} while something may burn")
    if before.lockout is not None:
        found += left_lockout(known, before, row, after)
    return found + driven_wrongly(known, now_known, before, row, after) + unsound(after)


def forbidden(known: Known, before: Memory, row: Row, after: Memory) -> list[str]:
    """What forbids a feed contact that is closed, or a keep-alive that lets the watchdog relay close."""
    attendance, verdict = before.settings.attendance, row.verdict
    gap_s = max(row.now_s - before.readings.now_s, 0.0) if before.readings is not None else 0.0
    late_s = row.now_s - known.seen_s - (attendance.every_min + attendance.trip_after_min) * 60
    rules = {
        f"in {before.beat.course.state.value}": before.beat.course.state not in FEEDING,
        "in a lock-out": before.lockout is not None or after.lockout is not None,
        "with a trip": verdict.trip is not None,
        f"though {', '.join(cause.value for cause in verdict.holding)} holds the feed": bool(verdict.holding),
        "a fire that was not proven": not known.proven,
        "without a purge since the last lock-out": not known.purged,
        f"{late_s:.1f} s after somebody had to answer": late_s > GRACE_S + gap_s,
    }
    return [rule for rule, broken in rules.items() if broken] + unsafe(row.readings, before.settings)


def unsafe(readings: Readings, settings: Settings) -> list[str]:
    """What forbids feeding by the readings alone, said once more and apart from the table of interlocks."""
    limits, chamber, limit = settings.limits, readings.probes["chamber"], readings.probes.get("limit")
    tube = readings.feed_tube
    rules = {
        "with stop pressed": readings.stop_pressed is True,
        "with the carbon monoxide alarm": readings.co_alarm is True,
        "with a blind chamber or limit probe": isinstance(chamber, Blind) or isinstance(limit, Blind),
        "too hot": any(
            isinstance(probe, Temperature) and limit_c is not None and not probe.value_c < limit_c
            for probe, limit_c in ((chamber, limits.chamber_c), (limit, limits.limit_probe_c))
        ),
        "without air": not air_flows(readings, limits.draught_least_pa),
        "into a burn-back": isinstance(tube, Temperature) and not tube.value_c < limits.feed_tube_c,
    }
    return [rule for rule, broken in rules.items() if broken]


def air_flows(readings: Readings, least_pa: float) -> bool:
    """Air is proven: by the switch where there is one, else by the gauge."""
    draught = readings.draught
    return readings.airflow_proven is True or (
        readings.airflow_proven is not False and isinstance(draught, Draught) and draught.value_pa >= least_pa
    )


def left_lockout(known: Known, before: Memory, row: Row, after: Memory) -> list[str]:
    """The rules of a lock-out: no word leads out of it, only reset held at the kiln and let go, no cause left."""
    heard = [a.ask.word.value for a in row.wish.answers if a.accepted and a.ask.word not in NO_ACT]
    found = [f"the lock-out heard {word}" for word in heard]
    if after.lockout is not None:
        return found
    last_s, limits = before.readings.now_s if before.readings is not None else row.now_s, before.settings.limits
    held_s = last_s - known.reset_s if known.reset_s is not None else 0.0
    if row.readings.reset_pressed is True or not limits.reset_held_s - SCAN_S <= held_s <= limits.reset_jammed_s:
        found.append(f"the lock-out ended with reset held {held_s:.1f} s")
    if row.verdict.trip is not None or set(row.verdict.holding) & set(before.lockout.causes if before.lockout else ()):
        found.append("the lock-out ended while its cause stood")
    return found


def driven_wrongly(known: Known, now_known: Known, before: Memory, row: Row, after: Memory) -> list[str]:
    """The rules of the other outputs: the keep-alive's pulse, and levels that exist."""
    driven = row.driven
    alone = now_known.alone_s is not None and row.now_s - now_known.alone_s >= ALONE_S
    found = [f"kept the relay in {rule}" for rule in forbidden(known, before, row, after)] if driven.keep_alive else []
    if driven.keep_alive and alone:
        found.append("kept the relay in while the auger ran by itself")
    if row.verdict.feed_allowed and driven.keep_alive is (before.done.keep_alive is True):
        found.append("the keep-alive stood still where feed is allowed")
    fracs = {"fan": driven.fan_frac, "damper": driven.damper_frac, "feed": after.beat.feed.frac}
    return found + [
        f"{name} at {frac}" for name, frac in fracs.items() if isinstance(frac, float) and not 0 <= frac <= 1
    ]


def unsound(after: Memory) -> list[str]:
    """What is known of fire, air and heat must be numbers, and nothing that burns can be less than nothing."""
    estimate, feed = after.beat.estimate, after.beat.feed
    parts = [
        feed.frac,
        feed.ff_frac,
        feed.p_frac,
        feed.i_frac,
        feed.d_frac,
        estimate.air_kg_per_h,
        estimate.air_factor,
        estimate.flue_c,
        *estimate.bed,
    ]
    if estimate.balance is not None:
        balance = estimate.balance
        parts += [balance.chamber_c, balance.cold_mass_kg_per_k, balance.wall_coefficient, balance.load_kg_per_h]
        parts += [corner for place, row in enumerate(balance.covariance) for corner in row[place:]]
    found = [] if all(map(isfinite, parts)) else [f"not all of the estimate are numbers: {estimate} {feed}"]
    return found + ([f"less than nothing burns: {estimate.bed}"] if min(estimate.bed) < 0 else [])
