"""Taking a firing up again after a stop: only while the bed still burns and the ware is still hot.

First come the reset at the kiln and a burn-down. The air of the burn-down counts as the purge, as for any bed that
still burns. What was fed without a sign of fire before the stop still counts after it, so a dead grate gets no more
than it would have got without the stop.
"""

from __future__ import annotations

from dataclasses import replace

from daemon.course.state import FEEDING, Course, LeftOff, State, chamber_c, has_airflow
from daemon.fire.signs import FireSigns, fall_limit_k_per_s
from daemon.setup import Setup
from daemon.units import gap_from_k, words_duration, words_temperature
from hardware.port import NOT_FITTED, Readings


def leave_off(now_s: float, course: Course, good_c: float | None, unproven_s: float) -> LeftOff | None:
    """Where a firing that is stopped in this moment is left; None when it was not feeding.

    `good_c` is what the chamber probe last showed before it jumped or went blind, °C; `unproven_s` is auger time since
    the last sign of fire, s.
    """
    if course.state not in FEEDING or course.stage is None:
        return None
    return LeftOff(
        state=course.state, stage=course.stage, at_s=now_s, chamber_c=good_c,
        stage_gone_s=now_s - course.stage_since_s, counted_s=course.counted_s, target_c=course.target_c,
        unproven_s=unproven_s,
    )  # fmt: skip


def why_not_resume(course: Course, readings: Readings, setup: Setup) -> str | None:
    """Why the firing can't be taken up again now; None when it can."""
    left_off, limits, unit = course.left_off, setup.settings.limits, setup.plan.temperature
    hot_c, now_s = chamber_c(readings), readings.now_s
    if course.state is not State.BURN_DOWN or left_off is None or left_off.stage >= len(setup.plan.stages):
        return "there is no firing to take up again"
    if now_s - left_off.at_s > limits.resume_within_s:
        return f"it was stopped more than {words_duration(limits.resume_within_s)} ago"
    if hot_c is None or left_off.chamber_c is None:
        return "it is not known how hot the chamber is, or was"
    if abs(left_off.chamber_c - hot_c) > limits.resume_fall_k:
        return f"the chamber is more than {gap_from_k(limits.resume_fall_k, unit):.0f} °{unit.value} from where it was"
    if readings.flame_seen is NOT_FITTED and hot_c < limits.resume_least_c:
        return f"below {words_temperature(limits.resume_least_c, unit)} and without a flame eye nothing shows a fire"
    if readings.flame_seen is False:
        return "the flame eye sees no flame"
    if course.counted_s < setup.settings.blown_s or not has_airflow(readings, limits.draught_least_pa):
        return "the air has not blown long enough yet"
    return None


def resume(course: Course, now_s: float, hot_c: float | None) -> Course:
    """The course taken up where it was left: the same stage; a climb goes on from the present temperature."""
    left = course.left_off
    if left is None:
        return course
    setpoint_c = left.target_c if left.state is State.SOAKING else hot_c
    if left.state is State.WARM_UP:
        setpoint_c = None
    return replace(
        course, state=left.state, since_s=now_s, stage=left.stage,
        stage_since_s=now_s - left.stage_gone_s, setpoint_c=setpoint_c,
        target_c=left.target_c, counted_s=left.counted_s, waits=False, lit=True, left_off=None,
    )  # fmt: skip


def signs_after_resume(left: LeftOff, readings: Readings, fed_s: float) -> FireSigns:
    """The signs of fire when a firing is taken up again: unproven pellets stay unproven until the chamber shows a fire.

    The chamber counts as falling at first: a moment in which nothing is known is no sign of fire.
    """
    now_s, hot_c = readings.now_s, chamber_c(readings)
    fall = -3 * fall_limit_k_per_s(hot_c) if hot_c is not None else 0.0
    return FireSigns(now_s, hot_c, fall, fed_s - left.unproven_s, now_s, low_c=hot_c)
