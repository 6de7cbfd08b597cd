"""The daemon looks at itself: scans that come late, clocks that lie, a record that can't be written."""

from __future__ import annotations

from daemon.interlocks.interlock import Evidence
from daemon.interlocks.scene import Scene
from daemon.units import words_duration


def scan_late(scene: Scene) -> Evidence | None:
    """This scan came late."""
    return gap_over(scene, scene.limits.scan_late_s)


def scan_stopped(scene: Scene) -> Evidence | None:
    """Nothing was looked at for a while: whatever happened meanwhile nobody saw."""
    return gap_over(scene, scene.limits.scan_stopped_s)


def gap_over(scene: Scene, limit_s: float) -> Evidence | None:
    """The time since the scan before, when it is over the limit."""
    if scene.last is None:
        return None
    gap_s = scene.readings.now_s - scene.last.now_s
    if gap_s < limit_s:
        return None
    return Evidence(f"{gap_s:.1f} s after the one before, limit {limit_s:g} s", gap_s, limit_s, "s")


def clock_odd(scene: Scene) -> Evidence | None:
    """The clock that decisions go by stands still or runs backwards: no delay and no limit of time would hold."""
    if scene.last is None or scene.readings.now_s > scene.last.now_s:
        return None
    back_s = scene.last.now_s - scene.readings.now_s
    return Evidence(f"{words_duration(back_s)} back" if back_s else "it stands still", -back_s, 0.0, "s")


def clock_set(scene: Scene) -> Evidence | None:
    """The clock for people was set. Decisions go by another."""
    last = scene.last
    if last is None:
        return None
    step_s = scene.readings.utc_s - last.utc_s - (scene.readings.now_s - last.now_s)
    limit_s = scene.limits.clock_set_s
    if abs(step_s) < limit_s:
        return None
    words = f"{words_duration(abs(step_s))} {'forward' if step_s > 0 else 'back'}"
    return Evidence(words, step_s, limit_s, "s")


def record_trouble(scene: Scene) -> Evidence | None:
    """The record can't be written."""
    return Evidence(scene.record_trouble) if scene.record_trouble is not None else None
