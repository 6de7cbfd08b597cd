"""The notices: what the person should know now, as the status tells it."""

from __future__ import annotations

from daemon.course.alarms import Alarm
from daemon.course.waiting import wait_notice
from daemon.memory import Memory
from daemon.notice import Level, Notice

Json = dict[str, "Json"] | list["Json"] | str | float | int | bool | None


def notices(memory: Memory, now_s: float) -> list[Json]:
    """What the person should know, most urgent first: the first-out, other trips, requests, warnings."""
    course, air = memory.beat.course, memory.beat.air
    ranked = sorted(memory.alarms, key=lambda a: (not a.first_out, a.finding.level is not Level.TRIP))
    rows = [alarm_row(alarm, now_s) for alarm in ranked if alarm.finding.level is Level.TRIP]
    if air.request is not None:
        asked_s = air.asked_s if air.asked_s is not None else course.since_s
        rows.append(note_row("AIR", request_notice(air.request, memory), now_s - asked_s))
    rows += [alarm_row(alarm, now_s) for alarm in ranked if alarm.finding.level is Level.WARNING]
    if course.waits:
        notice = wait_notice(memory.beat.feed.limited_by)
        rows.append(note_row("PLAN_WAITS", notice, now_s - course.stage_since_s))
    return rows


def request_notice(request: str, memory: Memory) -> Notice:
    """Why a person is asked to move the damper, and what the daemon does meanwhile."""
    air = memory.beat.air
    if air.setpoint_pa is None:
        return Notice("This step wants the damper moved by hand.", "The fan is set for it.", request)
    did = "The feed is no more than the air there is can burn."
    if air.fan_frac > memory.settings.air.fan_set_frac:
        did += " The fan has come up to help, in case the damper is open all the way."
    return Notice("The draught is not what the fire wants.", did, request)


def note_row(cause: str, notice: Notice, stood_s: float) -> Json:
    """Something to know that is no alarm."""
    return {
        "cause": cause, "level": "note", "happened": notice.happened, "did": notice.did, "do_next": notice.do_next,
        "stood_s": stood_s, "first_out": False, "standing": None, "value": None, "limit": None, "unit": "",
    }  # fmt: skip


def alarm_row(alarm: Alarm, now_s: float) -> Json:
    """One alarm."""
    finding, words = alarm.finding, alarm.finding.notice
    return {
        "cause": finding.cause.name, "level": finding.level.value, "happened": words.happened, "did": words.did,
        "do_next": words.do_next, "stood_s": now_s - finding.since_s, "first_out": alarm.first_out,
        "standing": alarm.standing.value, "value": finding.value, "limit": finding.limit, "unit": finding.unit,
    }  # fmt: skip
