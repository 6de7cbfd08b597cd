"""What the person may say in which state, and what is answered: an ask is never an order."""

from __future__ import annotations

from daemon.course.alarms import has_unseen
from daemon.course.asks import Answer, Ask, Word
from daemon.course.resume import why_not_resume
from daemon.course.state import State, chamber_c
from daemon.memory import Memory
from daemon.units import words_temperature
from hardware.port import Readings


def answer(ask: Ask, readings: Readings, memory: Memory) -> Answer:
    """Whether an ask fits the state. A stop always does."""
    wanted = wanted_words(memory)
    why = why_unready(readings, memory) if ask.word in (Word.MADE_READY, Word.BEGIN) and ask.word in wanted else None
    if why is not None:
        return Answer(ask, False, why)
    if ask.word is Word.RESUME and (why := why_not_resume(memory.course, readings, memory)) is not None:
        return Answer(ask, False, why)
    if ask.word is Word.BED_OUT and readings.flame_seen is True:
        return Answer(ask, False, "the flame eye still sees flame")
    if ask.word in wanted or ask.word in (Word.STOP, Word.SEEN):
        return Answer(ask, True, "")
    names = ", ".join(w.value for w in wanted) or "nothing"
    return Answer(ask, False, f"the kiln is {memory.course.state.value}; what it can be told now: {names}")


def why_unready(readings: Readings, memory: Memory) -> str | None:
    """What stands against a new firing: a chamber too hot to have been opened, or an air switch that proves nothing."""
    hot_c, open_c = chamber_c(readings), memory.settings.limits.open_c
    if hot_c is None:
        return "the chamber's temperature is not known: look at the thermocouple first"
    if hot_c >= open_c:
        return f"the chamber is at {words_temperature(hot_c, memory.plan.temperature)}: it can't have been opened yet"
    still = memory.course.state is State.MADE_READY and memory.done.fan_frac == 0.0
    if still and readings.airflow_proven is True:
        return "the airflow switch is closed though the fan stands still: it would prove nothing; look at the switch"
    return None


def wanted_words(memory: Memory) -> tuple[Word, ...]:
    """What the person may say now, the likeliest first."""
    words = words_of_state(memory)
    return (Word.SEEN, *words) if memory.alarms and has_unseen(memory.alarms) else words


def words_of_state(memory: Memory) -> tuple[Word, ...]:
    """What the person may say in this state."""
    limits, course = memory.settings.limits, memory.course
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
            seen = memory.readings
            if seen is not None and course.left is not None and why_not_resume(course, seen, memory) is None:
                return (Word.RESUME, Word.HERE)
            late = seen is not None and seen.now_s - course.since_s >= limits.burn_down_least_s
            return (Word.BED_OUT, Word.HERE) if late else (Word.HERE,)
        case State.LOCKED_OUT:
            return ()
