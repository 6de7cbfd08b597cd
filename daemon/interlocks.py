"""The interlocks, in one table: what each looks for, in which states, for how long, and the words for the person.

An interlock finds a condition (some evidence) or nothing. A condition that `holds_feed` opens the feed contact in the
same scan; only one that lasts longer than the interlock's delay becomes a finding, and a TRIP locks the feed out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from daemon.asks import Ask, Word
from daemon.attendance import Call
from daemon.course import ATTENDED, FEEDING, FIRE, State, airflow
from daemon.fire import dark
from daemon.notice import Cause, Level, Notice
from daemon.units import words_draught, words_duration, words_temperature
from hardware.port import NOT_FITTED, Blind, Draught, Readings, Temperature

if TYPE_CHECKING:
    from daemon.memory import Memory


class SafeFan(Enum):
    """What the fan does once a cause has locked the feed out."""

    AS_IT_WAS = "left as it was"
    LOWEST = "at its lowest where something may burn, so that the bed burns out gently, else off"


Finds = Callable[[Readings, "Memory", tuple[Ask, ...]], str | None]
"""Looks for the condition; returns the evidence in words (`1312 °C, limit 1310 °C`), or None."""


@dataclass(frozen=True, slots=True)
class Interlock:
    """One row of the table. `delay_s` may depend on the settings, through the memory."""

    cause: Cause
    level: Level
    states: frozenset[State]
    finds: Finds
    delay_s: Callable[[Memory], float]
    holds_feed: bool
    fan: SafeFan
    happened: str
    do_next: str
    did: str | None = None
    """What the daemon did, where that is not what it does on every trip."""

    def notice(self, evidence: str, at_s: float) -> Notice:
        """The words for the person, with the evidence in them."""
        tripped = f"Feed stopped and locked out; fan {self.fan.value}."
        did = self.did or (tripped if self.level is Level.TRIP else "Nothing: the firing goes on.")
        return Notice(self.happened.format(evidence), did, self.do_next)


def stop_button(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The stop button is pressed, or its wire (normally closed) is broken."""
    return "" if readings.stop_pressed is True else None


def stop_asked(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """Somebody asked for a stop on the page or the terminal."""
    for ask in asks:
        if ask.word is Word.STOP:
            return ask.source
    return None


def too_hot(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """Chamber, flue or the independent limit probe is at its limit or above."""
    limits_c = memory.settings.probe_limits_c
    for name, probe in readings.probes.items():
        limit_c = limits_c.get(name)
        if limit_c is not None and isinstance(probe, Temperature) and probe.value_c >= limit_c:
            unit = memory.plan.temperature
            return f"{name} {words_temperature(probe.value_c, unit)}, limit {words_temperature(limit_c, unit)}"
    return None


def probe_blind(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The chamber probe, or a fitted limit probe, can't be believed."""
    for name in ("chamber", "limit"):
        probe = readings.probes.get(name)
        if isinstance(probe, Blind):
            return f"{name} probe: {probe.reason.value}"
    return None


def helper_blind(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """An instrument that helps but is not vital can't be believed."""
    if isinstance(readings.draught, Blind):
        return f"draught gauge: {readings.draught.reason.value}"
    if isinstance(readings.feed_tube, Blind):
        return f"feed tube: {readings.feed_tube.reason.value}"
    for name, probe in readings.probes.items():
        if isinstance(probe, Blind) and name not in ("chamber", "limit"):
            return f"{name} probe: {probe.reason.value}"
    return None


def no_airflow(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """Air is not proven: the switch is open, or the gauge reads next to nothing or can't be believed."""
    if readings.airflow_proven is True:
        return None
    least_pa = memory.settings.limits.draught_least_pa
    neither = readings.airflow_proven is NOT_FITTED and readings.draught is NOT_FITTED
    if neither or airflow(readings, least_pa):
        return None if not neither else "no airflow switch and no draught gauge is fitted"
    if readings.airflow_proven is False:
        return "the airflow switch is open"
    if isinstance(readings.draught, Draught):
        unit = memory.plan.draught
        return f"draught {words_draught(readings.draught.value_pa, unit)}, needs {words_draught(least_pa, unit)}"
    return "the draught gauge can't be believed"


def gauge_flat(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The switch says that air flows, and the gauge that next to none does: one of the two is wrong."""
    least_pa, draught = memory.settings.limits.draught_least_pa, readings.draught
    if readings.airflow_proven is not True or not isinstance(draught, Draught) or draught.value_pa >= least_pa:
        return None
    unit = memory.plan.draught
    return (
        f"draught {words_draught(draught.value_pa, unit)}, needs {words_draught(least_pa, unit)}; the switch is closed"
    )


def auger_still(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The auger was driven and its shaft did not turn."""
    driven_s = memory.fed_s - memory.turned_fed_s
    if readings.shaft_turning is not False or driven_s < memory.settings.limits.auger_still_s:
        return None
    return f"driven for {words_duration(driven_s)} and its shaft does not turn"


def eye_dark(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The flame eye sees no flame while pellets are fed."""
    if readings.flame_seen is not False:
        return None
    limits = memory.settings.limits
    since_s = max(memory.fire.seen_s or memory.course.since_s, memory.course.since_s)
    if dark(readings, since_s, readings.now_s, limits.dark_s):
        return f"the flame eye has been dark for {words_duration(readings.now_s - since_s)}"
    return None


def fed_unproven(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """Pellets were fed and nothing shows that they burn."""
    fed_kg = (memory.fed_s - memory.fire.sign_fed_s) * memory.settings.kiln.auger_kg_per_h / 3600
    if fed_kg < memory.settings.limits.unproven_fuel_kg:
        return None
    fall = -memory.fire.slope_k_per_s * 60
    return f"{fed_kg:.2f} kg fed without a sign that it burns; the chamber falls {fall:.1f} °C a minute"


def not_proven(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The time in which the fire must be proven is over."""
    gone_s = readings.now_s - memory.course.since_s
    return f"not within {words_duration(gone_s)}" if gone_s >= memory.settings.limits.fire_proving_s else None


def nobody_there(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The call for attendance went unanswered to its end."""
    if memory.attendance.call is not Call.OVERDUE:
        return None
    return words_duration(readings.now_s - memory.attendance.seen_s)


def auger_runs(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The contact reads closed, or the shaft turns, though nothing has driven it for a while."""
    idle_s = readings.now_s - memory.driven_s
    if idle_s < memory.settings.limits.auger_runs_s:
        return None
    if memory.done.auger:
        return "the feed contact reads closed"
    return "its shaft turns" if readings.shaft_turning is True else None


def tube_hot(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The feed tube is as hot as it must never be: the fire creeps back to the hopper."""
    return over_tube(readings, memory, memory.settings.limits.feed_tube_c)


def tube_warm(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The feed tube is warmer than it ought to be."""
    return over_tube(readings, memory, memory.settings.limits.feed_tube_warn_c)


def over_tube(readings: Readings, memory: Memory, limit_c: float) -> str | None:
    """The feed tube's temperature with its limit, in words, when it is over it."""
    tube, unit = readings.feed_tube, memory.plan.temperature
    if not isinstance(tube, Temperature) or tube.value_c < limit_c:
        return None
    return f"{words_temperature(tube.value_c, unit)}, limit {words_temperature(limit_c, unit)}"


def co_alarm(readings: Readings, memory: Memory, asks: tuple[Ask, ...]) -> str | None:
    """The carbon monoxide alarm sounds, or its wire (normally closed) is broken."""
    return "" if readings.co_alarm is True else None


ALL = frozenset(State)
BURNING = FIRE | {State.BURN_DOWN}
MINDED = ATTENDED | {State.LOCKED_OUT}


def at_once(memory: Memory) -> float:
    """No delay: the first scan that finds it trips."""
    return 0.0


def for_half_a_second(memory: Memory) -> float:
    """Longer than a single bad look."""
    return 0.5


def for_10_s(memory: Memory) -> float:
    """Long enough not to speak of a single bad value."""
    return 10.0


FIRE_OUT_NEXT = (
    "Look through the spy-hole with eye protection. Let what glows burn out; clear the grate before you light again."
)

INTERLOCKS: tuple[Interlock, ...] = (
    Interlock(
        Cause.STOP_BUTTON, Level.TRIP, ALL, stop_button, at_once, True, SafeFan.LOWEST,
        "The stop button is pressed, or its wire is broken.{}",
        "See to the reason. Release the button or mend the wire, then hold reset at the kiln.",
    ),
    Interlock(
        Cause.STOP_ASKED, Level.TRIP, ALL, stop_asked, at_once, True, SafeFan.LOWEST,
        "A stop was asked for ({}).",
        "Go to the kiln. When all is well, hold reset there.",
    ),
    Interlock(
        Cause.OVER_TEMPERATURE, Level.TRIP, ALL, too_hot, at_once, True, SafeFan.LOWEST,
        "Too hot: {}.",
        "Keep clear of the flue. Let the fire burn down, and look at the probe before you believe or doubt it.",
    ),
    Interlock(
        Cause.PROBE_BLIND, Level.TRIP, MINDED, probe_blind,
        lambda m: m.settings.limits.probe_blind_s, True, SafeFan.LOWEST,
        "The kiln's temperature is not known: {}.",
        "Let the fire burn down. Check the thermocouple, its plug and the amplifier with the kiln cold.",
    ),
    Interlock(
        Cause.AIRFLOW_LOST, Level.TRIP, FIRE, no_airflow,
        lambda m: m.settings.limits.airflow_lost_s if m.course.state is not State.FIRE_PROVING else 20.0,
        True, SafeFan.AS_IT_WAS,
        "Airflow lost: {}.",
        "Look at the fan, the damper and the flue; carbon monoxide may gather, so air the place. "
        "Let the fire burn down, then hold reset at the kiln.",
    ),
    Interlock(
        Cause.AIRFLOW_LOST, Level.TRIP, FIRE, gauge_flat, for_10_s, True, SafeFan.AS_IT_WAS,
        "Airflow lost: {}.",
        "Look at the fan, the damper, the flue and the gauge's hose. Let the fire burn down, then hold reset.",
    ),
    Interlock(
        Cause.AUGER_STILL, Level.WARNING, FEEDING, auger_still, at_once, False, SafeFan.AS_IT_WAS,
        "The auger does not turn: {}.",
        "Look at the auger, its motor and the shaft sensor. Keep your hands out of the auger.",
    ),
    Interlock(
        Cause.FLAME_OUT, Level.TRIP, FEEDING, eye_dark, at_once, False, SafeFan.LOWEST,
        "The fire is out: {}.",
        FIRE_OUT_NEXT,
    ),
    Interlock(
        Cause.FLAME_OUT, Level.TRIP, FEEDING, fed_unproven, at_once, False, SafeFan.LOWEST,
        "The fire is out: {}.",
        FIRE_OUT_NEXT,
    ),
    Interlock(
        Cause.FIRE_NOT_PROVEN, Level.TRIP, frozenset({State.FIRE_PROVING}), not_proven, at_once, True, SafeFan.LOWEST,
        "The fire was not proven: {}.",
        "Look at the charcoal. Let it burn out, hold reset at the kiln, and begin again with the purge.",
    ),
    Interlock(
        Cause.UNATTENDED, Level.TRIP, ATTENDED, nobody_there, at_once, True, SafeFan.LOWEST,
        "Nobody answered for {}.",
        "Go to the kiln and look at it. When all is well, hold reset there.",
    ),
    Interlock(
        Cause.AUGER_RUNS, Level.TRIP, ALL, auger_runs, for_half_a_second, True, SafeFan.AS_IT_WAS,
        "The auger runs by itself: {}.",
        "Switch the auger's supply off at once. A relay has welded shut or a wire is shorted: have it mended before "
        "the next fire.",
        "Feed locked out, but the daemon alone can't stop this auger. The keep-alive pulse was stopped: an external "
        "watchdog relay, where one is fitted, cuts the auger's supply. Fan left as it was.",
    ),
    Interlock(
        Cause.BURN_BACK, Level.TRIP, ALL, tube_hot, for_half_a_second, True, SafeFan.LOWEST,
        "The fire creeps back along the feed tube: {}.",
        "Look at tube and hopper. If the hopper smokes keep away from it and call the fire brigade.",
    ),
    Interlock(
        Cause.BURN_BACK, Level.WARNING, ALL, tube_warm, for_10_s, False, SafeFan.AS_IT_WAS,
        "The feed tube gets hot: {}.",
        "Look at the flame and the draught: a choked grate or a weak fan lets the fire come back.",
    ),
    Interlock(
        Cause.CO_ALARM, Level.TRIP, ALL, co_alarm, for_half_a_second, True, SafeFan.AS_IT_WAS,
        "The carbon monoxide alarm sounds, or its wire is broken.{}",
        "Get everybody out into fresh air first. Then air the place and look at the flue.",
    ),
    Interlock(
        Cause.PROBE_BLIND, Level.WARNING, BURNING, helper_blind, for_10_s, False, SafeFan.AS_IT_WAS,
        "An instrument can't be believed: {}.",
        "Go on with care: the daemon does without it. Mend it before the next firing.",
    ),
)  # fmt: skip
