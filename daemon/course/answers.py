"""What the person may say in which state, and what is answered: an ask is never an order.

The rule of what may be said stands here and nowhere else: the status carries its result, and page and attendant go by
that.
"""

from __future__ import annotations

from typing import NamedTuple

from daemon.course.asks import Answer, Ask, Word
from daemon.course.resume import why_not_resume
from daemon.course.state import Course, State, chamber_c, draught_pa
from daemon.setup import Setup
from daemon.units import words_draught, words_temperature
from hardware.port import NOT_FITTED, Readings


class Circumstances(NamedTuple):
    """What an ask is answered by."""

    setup: Setup
    course: Course
    readings: Readings | None
    """The last that were looked at; None before the first."""
    fan_still: bool
    """The fan reads back as off."""
    unseen_alarms: bool
    """An alarm waits to be acknowledged."""
    record_trouble: str | None = None
    """What keeps record or lock-out file from being written."""


def answer(ask: Ask, readings: Readings, at: Circumstances) -> Answer:
    """Whether an ask fits the state, by the readings of this scan. A stop always does."""
    wanted = wanted_words(at)
    why = why_unready(readings, at) if ask.word in (Word.MADE_READY, Word.BEGIN) and ask.word in wanted else None
    if why is not None:
        return Answer(ask, False, why)
    if ask.word is Word.LIT and ask.word in wanted and (why := why_gauge_lies(readings, at)) is not None:
        return Answer(ask, False, why)
    if ask.word is Word.RESUME and (why := why_not_resume(at.course, readings, at.setup)) is not None:
        return Answer(ask, False, why)
    if ask.word is Word.BED_OUT and readings.flame_seen is True:
        return Answer(ask, False, "the flame eye still sees flame")
    if ask.word in wanted or ask.word in (Word.STOP, Word.SEEN):
        return Answer(ask, True, "")
    names = ", ".join(w.value for w in wanted) or "nothing"
    return Answer(ask, False, f"the kiln is {at.course.state.value}; what you can say now: {names}")


def why_unready(readings: Readings, at: Circumstances) -> str | None:
    """What stands against a new firing: no record, a chamber too hot to have been opened, an air switch that lies."""
    if at.record_trouble is not None:
        return f"nothing begins that a restart would forget: {at.record_trouble}; look at the card and its space"
    hot_c, open_c = chamber_c(readings), at.setup.settings.limits.open_c
    if hot_c is None:
        return "the chamber's temperature is not known: look at the thermocouple first"
    if hot_c >= open_c:
        unit = at.setup.plan.temperature
        return f"the chamber is at {words_temperature(hot_c, unit)}: it can't have been opened yet"
    if at.course.state is State.MADE_READY and at.fan_still and readings.airflow_proven is True:
        return "the airflow switch is closed though the fan stands still: it would prove nothing; look at the switch"
    return None


def why_gauge_lies(readings: Readings, at: Circumstances) -> str | None:
    """What stands against a gauge that alone proves the air: it reads with the fan still what it read in the purge.

    Half of the rise is enough of a fall: over lit charcoal the kiln begins to draw by itself.
    """
    blown_pa, pa = at.course.blown_pa, draught_pa(readings)
    if readings.airflow_proven is not NOT_FITTED or not at.fan_still or blown_pa is None or pa is None:
        return None
    if blown_pa - pa >= at.setup.settings.limits.draught_least_pa / 2:
        return None
    words = words_draught(pa, at.setup.plan.draught)
    return (
        f"the gauge reads {words} with the fan still, as in the purge: it would prove nothing; look at it and its hose"
    )


def wanted_words(at: Circumstances) -> tuple[Word, ...]:
    """What the person may say now, the likeliest first."""
    words = words_of_state(at)
    return (Word.SEEN, *words) if at.unseen_alarms else words


def words_of_state(at: Circumstances) -> tuple[Word, ...]:
    """What the person may say in this state."""
    course = at.course
    match course.state:
        case State.COLD | State.FINISHED | State.COOLING:
            return (Word.MADE_READY,)
        case State.MADE_READY:
            return (Word.BEGIN, Word.BURN_DOWN)
        case State.PURGE:
            return (Word.HERE, Word.BURN_DOWN)
        case State.LIT_BY_HAND:
            return (Word.LIT, Word.HERE, Word.BURN_DOWN)
        case State.FIRE_PROVING | State.WARM_UP | State.CLIMBING | State.SOAKING:
            return (Word.HERE, Word.BURN_DOWN)
        case State.BURN_DOWN:
            seen = at.readings
            if seen is None:
                return (Word.HERE,)
            if course.left_off is not None and why_not_resume(course, seen, at.setup) is None:
                return (Word.RESUME, Word.HERE)
            late = seen.now_s - course.since_s >= at.setup.settings.limits.burn_down_least_s
            return (Word.BED_OUT, Word.HERE) if late else (Word.HERE,)
        case State.LOCKED_OUT:
            return ()
