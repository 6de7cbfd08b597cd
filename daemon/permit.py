"""Permit: the one place where a wish becomes a drive. Whoever asks "what can stop the feed?" reads this function."""

from __future__ import annotations

from daemon.interlocks.interlock import Safe, SafeDamper, SafeFan
from daemon.interlocks.verdict import Verdict
from daemon.memory import Memory
from daemon.row import Wish
from hardware.port import Outputs


def permit(wish: Wish, verdict: Verdict, memory: Memory) -> Outputs:
    """The outputs: never beyond what the verdict allows.

    The keep-alive changes its level in every scan in which feed is allowed, and in no other: the external watchdog
    relay then opens the auger's supply a second time, also where its own relay has welded shut and nobody can see it.
    """
    safe, fresh = verdict.safe, verdict.trip is not None and memory.lockout is None
    return Outputs(
        auger=wish.auger and verdict.feed_allowed,
        fan_frac=wish.fan_frac if safe is None else fan_allowed(wish, safe, memory),
        damper_frac=1.0 if safe is not None and safe.damper is SafeDamper.OPEN else wish.damper_frac,
        horn=wish.horn or fresh,
        lamp=wish.lamp or fresh,
        keep_alive=verdict.feed_allowed and memory.done.keep_alive is not True,
    )


def fan_allowed(wish: Wish, safe: Safe, memory: Memory) -> float:
    """The fan while the feed is locked out: by the cause, and never started where it wasn't running."""
    match safe.fan:
        case SafeFan.AS_IT_WAS:
            return wish.fan_frac
        case SafeFan.LOWEST:
            return min(wish.fan_frac, memory.settings.air.fan_lowest_frac)
        case SafeFan.OFF:
            return 0.0
