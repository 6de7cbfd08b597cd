"""The status: one scan's memory in plain values, for the channel. The page and `stokehand tell` show nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from daemon.control.setpoint import wait_notice
from daemon.course.alarms import Alarm
from daemon.course.answers import wanted_words
from daemon.course.asks import WORDS, Word
from daemon.course.state import ATTENDED, State
from daemon.fire.estimate import NO_ESTIMATE
from daemon.memory import Memory
from daemon.notice import Level
from daemon.plans.plan import Plan
from hardware.port import AirRatio, Blind, Draught, NotFitted, Temperature

Json = dict[str, "Json"] | list["Json"] | str | float | int | bool | None


@dataclass(frozen=True, slots=True)
class Context:
    """What the status needs beside the memory: which firing of which record, and whether it is only a rehearsal."""

    firing: int
    record: str | None
    rehearsal: bool


def status(memory: Memory, context: Context) -> dict[str, Json]:
    """The status object. Raises ValueError before the first scan."""
    readings, course, feed, done = memory.readings, memory.course, memory.feed, memory.done
    if readings is None:
        raise ValueError("nothing was read yet")
    now_s = readings.now_s
    stage = memory.plan.stages[course.stage] if course.stage is not None else None
    probes: dict[str, Json] = {name: temperature(p) for name, p in readings.probes.items()}
    words = memory_words(memory)
    return {
        "version": 1,
        "now_s": now_s,
        "utc_s": readings.utc_s,
        "firing": context.firing,
        "record": context.record,
        "rehearsal": context.rehearsal,
        "state": course.state.name.lower(),
        "state_words": course.state.value.capitalize(),
        "state_since_s": now_s - course.since_s,
        "stage": {"index": course.stage, "name": stage.name, "kind": stage.kind.value} if stage is not None else None,
        "plan": plan_table(memory.plan),
        "aim_c": course.aim_c,
        "waits": course.waits,
        "probes": probes,
        "feed_tube": temperature(readings.feed_tube),
        "draught": gauge(readings.draught),
        "draught_aim_pa": memory.air.aim_pa,
        "airflow_proven": plain(readings.airflow_proven),
        "flame_seen": plain(readings.flame_seen),
        "shaft_turning": plain(readings.shaft_turning),
        "feed": {
            "frac": feed.frac, "ff": feed.ff, "p": feed.p, "i": feed.i, "d": feed.d, "limited_by": feed.clamp.value,
        },
        "mixture": mixture(memory),
        "heat": heat_terms(memory),
        "auger": done.auger,
        "fan_frac": plain(done.fan_frac),
        "damper_frac": plain(done.damper_frac),
        "horn": plain(done.horn),
        "lamp": plain(done.lamp),
        "wanted": words,
        "attendance": attendance(memory, now_s),
        "notices": notices(memory, now_s),
        "pellets_kg": memory.fed_kg,
        "elapsed_s": now_s - course.begun_s if course.begun_s is not None else 0.0,
        "answered": [
            {"nonce": a.ask.nonce, "ask": a.ask.word.value, "accepted": a.accepted, "why": a.why}
            for a in memory.answers
        ],
    }  # fmt: skip


def mixture(memory: Memory) -> Json:
    """Air and fuel: what burns, what air there is for it, and what is wanted. None while nothing burns."""
    hearth, oxygen = memory.hearth, memory.readings.oxygen if memory.readings is not None else None
    if hearth is NO_ESTIMATE:
        return None
    return {
        "burns_kg_per_h": hearth.bed.burns_kg_per_h, "air_kg_per_h": hearth.air_kg_per_h, "air_ratio": hearth.ratio,
        "spread_frac": hearth.spread, "wanted_air_ratio": memory.feed.ratio, "taught_factor": hearth.factor,
        "aside_frac": hearth.dither.aside,
        "oxygen_air_ratio": oxygen.value if isinstance(oxygen, AirRatio) else None, "reduced_s": hearth.reduced_s,
    }  # fmt: skip


def heat_terms(memory: Memory) -> Json:
    """What the running heat balance has learnt, in pellets. None before the first feed."""
    warmth = memory.hearth.warmth
    if warmth is None:
        return None
    return {
        "chamber_c": warmth.chamber_c, "mass_kg_per_k": warmth.mass_now, "load_kg_per_h": warmth.load_kg_per_h,
        "walls_kg_per_h": warmth.soak_kg_per_h * warmth.draws,
        "work_owed_s": memory.course.owed_s if memory.course.state is State.SOAKING else None,
    }  # fmt: skip


def memory_words(memory: Memory) -> list[Json]:
    """What the person may say now, each with what saying it means."""
    return [{"ask": w.value, "words": WORDS[w]} for w in wanted_words(memory) if w is not Word.HERE]


def attendance(memory: Memory, now_s: float) -> Json:
    """How long until somebody is called for, where somebody must be there."""
    if memory.course.state not in ATTENDED:
        return {"level": "quiet", "due_in_s": None}
    due_s = memory.attendance.seen_s + memory.settings.attendance.every_min * 60
    return {"level": memory.attendance.call.value, "due_in_s": due_s - now_s}


def notices(memory: Memory, now_s: float) -> list[Json]:
    """What the person should know, most urgent first: the first-out, other trips, requests, warnings.

    `since_s` in each is how long ago it began, s.
    """
    ranked = sorted(memory.alarms, key=lambda a: (not a.first_out, a.finding.level is not Level.TRIP))
    rows = [card(alarm, now_s) for alarm in ranked if alarm.finding.level is Level.TRIP]
    if memory.air.request is not None:
        since_s = now_s - (memory.air.asked_s or memory.course.since_s)
        rows.append(note("AIR", *why_asked(memory), memory.air.request, since_s))
    rows += [card(alarm, now_s) for alarm in ranked if alarm.finding.level is Level.WARNING]
    if memory.course.waits:
        why = wait_notice(memory.feed.clamp)
        rows.append(note("PLAN_WAITS", why.happened, why.did, why.do_next, now_s - memory.course.stage_since_s))
    return rows


def why_asked(memory: Memory) -> tuple[str, str]:
    """Why a person is asked to move the damper, and what the daemon does meanwhile."""
    if memory.air.aim_pa is None:
        return "This step wants the damper moved by hand.", "The fan is set for it."
    did = "The feed is no more than the air there is can burn."
    if memory.air.fan_frac > memory.settings.air.fan_set_frac:
        did += " The fan has come up to help, in case the damper is open all the way."
    return "The draught is not what the fire wants.", did


def note(cause: str, happened: str, did: str, do_next: str, since_s: float) -> Json:
    """Something to know that is no alarm."""
    return {
        "cause": cause, "level": "note", "happened": happened, "did": did, "do_next": do_next, "since_s": since_s,
        "first_out": False, "standing": None, "value": None, "limit": None, "unit": "",
    }  # fmt: skip


def card(alarm: Alarm, now_s: float) -> Json:
    """One alarm."""
    finding, words = alarm.finding, alarm.finding.notice
    return {
        "cause": finding.cause.name, "level": finding.level.value, "happened": words.happened, "did": words.did,
        "do_next": words.do_next, "since_s": now_s - finding.since_s, "first_out": alarm.first_out,
        "standing": alarm.standing.value, "value": finding.value, "limit": finding.limit, "unit": finding.unit,
    }  # fmt: skip


def plan_table(plan: Plan) -> Json:
    """The plan, in our units; which units the person reads is said beside them."""
    stages: list[Json] = [
        {
            "name": s.name, "kind": s.kind.value, "feed_frac": s.feed_frac, "draught_pa": s.draught_pa,
            "to_c": s.target_c(None),
            "cone": s.cone, "rate_c_per_h": s.rate_c_per_h, "for_s": s.for_s, "trim": s.trim,
            "atmosphere": s.atmosphere.value,
        }
        for s in plan.stages
    ]  # fmt: skip
    return {
        "name": plan.name,
        "temperature_unit": plan.temperature.value,
        "draught_unit": plan.draught.value,
        "stages": stages,
    }


def temperature(value: Temperature | Blind | NotFitted) -> Json:
    """A temperature, the reason why there is none, or None where nothing is fitted."""
    match value:
        case Temperature():
            return {"c": value.value_c}
        case Blind():
            return {"blind": value.reason.value}
        case NotFitted():
            return None


def gauge(value: Draught | Blind | NotFitted) -> Json:
    """A draught, the reason why there is none, or None where nothing is fitted."""
    match value:
        case Draught():
            return {"pa": value.value_pa}
        case Blind():
            return {"blind": value.reason.value}
        case NotFitted():
            return None


def plain(value: float | bool | NotFitted) -> float | bool | None:
    """A contact or an output, None where it is not fitted."""
    return None if isinstance(value, NotFitted) else value
