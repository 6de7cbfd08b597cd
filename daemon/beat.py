"""What moves on the beat, once a second: where the firing is, what is held, and what is known of the fire.

One value, made by `decide` and held by the wish and the memory alike.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from daemon.control.air import Air
from daemon.control.feed import NO_FEED, Feed
from daemon.course.attendance import Attendance
from daemon.course.state import Course
from daemon.fire.estimate import NO_ESTIMATE, Estimate
from daemon.fire.probe_drift import ProbeDrift
from daemon.fire.signs import FireSigns
from daemon.fire.trace import ProbeTrace
from daemon.plans.heat_work import Climb

BEAT_S = 1.0
"""Course, air and feed move once a second; judging, permitting and the feed contact move in every scan."""


class Beat(NamedTuple):
    """The last beat. `at_s` is when it was, on the rig's clock; None before the first."""

    at_s: float | None = None
    course: Course = Course()
    feed: Feed = NO_FEED
    air: Air = Air()
    attendance: Attendance = Attendance(0.0)
    signs: FireSigns = FireSigns(0.0)
    climb: Climb = Climb()
    """How hot the ware got in this firing, and how fast."""
    traces: Mapping[str, ProbeTrace] = MappingProxyType({})
    """By the probe's name."""
    drift: ProbeDrift | None = None
    """Whether the chamber probe drifts; None while nothing is fed."""
    estimate: Estimate = NO_ESTIMATE
