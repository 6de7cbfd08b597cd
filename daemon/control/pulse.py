"""Time-proportioned feed: a fraction becomes closed and open times of the feed contact.

10 % is 1 s on and 9 s off, 40 % is 4 s on and 6 s off over a cycle of 10 s (common practice). What a cycle could not
deliver, because the relay can't make so short a pulse or a scan came late, is owed and carried to the next.

Values made in every scan are NamedTuples here and in the scan: as frozen as a frozen dataclass, and made in a fifth of
the time.
"""

from __future__ import annotations

from math import floor
from typing import NamedTuple

from daemon.settings import PulseLimits

LONGEST_STEP_S = 1.0
"""What a scan that is later than this left undelivered is not made up for: ten scans, chosen."""


class Pulse(NamedTuple):
    """Where the cycle stands. `owed_s` is auger time asked for and not yet delivered, as of `at_s`."""

    at_s: float = 0.0
    cycle_began_s: float | None = None
    """None while nothing is fed."""
    on_s: float = 0.0
    owed_s: float = 0.0
    closed: bool = False
    feed_frac: float = 0.0
    """What is owed from now on."""
    rests: bool = False
    """After an interlock held the feed: until the next cycle nothing is fed, and nothing of it is owed."""


def next_pulse(
    last: Pulse, now_s: float, feed_frac: float, contact_closed: bool, limits: PulseLimits, held: bool = False
) -> Pulse:
    """The contact for this scan. `contact_closed` is the level read back since the last scan, not what was wished.

    No feed asked for opens the contact at once, forgets what was owed, and begins the next cycle afresh. `held`: an
    interlock held the feed in the last scan. What it held back isn't made up for. Where it cut a pulse short the
    contact rests for a cycle, so that an instrument that flutters makes no train of short pulses.
    """
    if feed_frac <= 0.0:
        return Pulse(at_s=now_s)
    if held:
        cut = last.closed or last.cycle_began_s is None
        began_s = now_s if cut else last.cycle_began_s
        return Pulse(now_s, began_s, 0.0, min(last.owed_s, 0.0), rests=True)
    step_s = max(now_s - last.at_s, 0.0)
    owed_s = last.owed_s + last.feed_frac * min(step_s, LONGEST_STEP_S) - (step_s if contact_closed else 0.0)
    owed_s = min(max(owed_s, -limits.cycle_s), limits.cycle_s)
    began_s, half_tick_s = last.cycle_began_s, limits.tick_s / 2
    if began_s is None or now_s - began_s > limits.cycle_s - half_tick_s:
        on_s = makeable_on_s(owed_s + feed_frac * limits.cycle_s, limits)
        due_s = now_s if began_s is None else began_s + limits.cycle_s
        began_s = due_s if now_s - due_s < LONGEST_STEP_S else now_s  # a late scan does not shift the cycle
        return Pulse(now_s, began_s, on_s, owed_s, closed=on_s > 0, feed_frac=feed_frac)
    if last.rests:
        return last._replace(at_s=now_s, owed_s=owed_s)
    closed = now_s - began_s < last.on_s - half_tick_s
    return Pulse(now_s, began_s, last.on_s, owed_s, closed=closed, feed_frac=feed_frac)


def makeable_on_s(wanted_s: float, limits: PulseLimits) -> float:
    """The on-time the hardware can make nearest to what is wanted, none of them above the feed's ceiling."""
    most_s = floor(limits.most_on_s / limits.tick_s + 1e-6) * limits.tick_s
    wanted_s = min(wanted_s, most_s)
    ticks_s = round(wanted_s / limits.tick_s) * limits.tick_s
    if ticks_s < limits.shortest_on_s - 1e-9:
        return 0.0
    if ticks_s > limits.cycle_s - limits.shortest_off_s + 1e-9:
        return limits.cycle_s if wanted_s >= limits.cycle_s - 1e-9 else limits.cycle_s - limits.shortest_off_s
    return ticks_s
