"""The setup: what doesn't change while a plan is fired. The settings, the plan, and what follows from the two."""

from __future__ import annotations

from dataclasses import dataclass

from daemon.fire.calibration import Calibration, calibration_of
from daemon.plans.plan import Plan
from daemon.settings import Settings


@dataclass(frozen=True, slots=True)
class Setup:
    """This kiln and this plan. Make it with `setup_of`."""

    settings: Settings
    plan: Plan
    calibration: Calibration


def setup_of(settings: Settings, plan: Plan) -> Setup:
    """The setup of these settings and this plan."""
    return Setup(settings, plan, calibration_of(settings.kiln, settings.air, plan.pair))
