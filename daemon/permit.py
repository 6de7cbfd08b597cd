"""Permit: the one place where a wish becomes a drive. Whoever asks "what can stop the feed?" reads this function."""

from __future__ import annotations

from daemon.decide import Wish
from daemon.interlocks import SafeFan
from daemon.judge import Verdict
from daemon.memory import Memory
from hardware.port import Outputs


def permit(wish: Wish, verdict: Verdict, memory: Memory) -> Outputs:
    """The outputs: never beyond what the verdict allows. The keep-alive changes its level in every healthy scan.

    An auger that runs though nothing drives it has one thing left that can stop it: the external watchdog relay, which
    opens when the keep-alive stays still.
    """
    tripped = verdict.trip is not None
    return Outputs(
        auger=wish.auger and verdict.feed_allowed,
        fan_frac=fan_allowed(wish.fan_frac, verdict.fan, memory) if tripped else wish.fan_frac,
        damper_frac=wish.damper_frac,
        horn=wish.horn or (tripped and memory.lockout is None),
        lamp=wish.lamp or tripped,
        keep_alive=verdict.healthy and memory.done.keep_alive is not True,
    )


def fan_allowed(wished_frac: float, fan: SafeFan, memory: Memory) -> float:
    """The fan once a cause has tripped, by what the interlock table says of that cause."""
    match fan:
        case SafeFan.AS_IT_WAS:
            return wished_frac
        case SafeFan.LOWEST:
            return min(wished_frac, memory.settings.air.fan_lowest_frac)
