"""Tend a real kiln: the configured rig, the record, the channel and systemd around the scan."""

from __future__ import annotations

import gc
import math
import signal
import sqlite3
import sys
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from types import FrameType

from daemon.command.off import keep_rig
from daemon.command.runner import ScanFailed, make_safe, run
from daemon.memory import Memory
from daemon.notice import Notice
from daemon.outside.channel import Channel
from daemon.outside.log import Log
from daemon.outside.notify import Notifier
from daemon.outside.rigs import RigUnknown, open_rig
from daemon.outside.status import status
from daemon.outside.stopped import forget_why, keep_why
from daemon.plans.file import PlanFault, check_fit, find_plan, load_plan
from daemon.plans.plan import Plan
from daemon.record.journal import Record
from daemon.record.start import first_look, first_memory
from daemon.settings import Settings, SettingsFault, load_settings
from daemon.setup import setup_of
from hardware.port import NOT_FITTED, Readings, RigFault

ASKED_TO, FAULT, BAD_INPUT = 0, 1, 2
AGAIN = "It is started again by itself."
STATUS_EVERY_S = 1.0
PET_EVERY_S = 0.5


class Between:
    """What happens after a scan has acted: watchdog, status, and whether to go on."""

    def __init__(self, notifier: Notifier) -> None:
        """Listen for the signals that end the daemon, before anything is open that would have to be closed."""
        self._notifier = notifier
        self._told_s = self._petted_s = -math.inf
        self._stop = False
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._asked_to_stop)

    def _asked_to_stop(self, number: int, frame: FrameType | None) -> None:
        self._stop = True

    def with_record(self, record: Record, channel: Channel, log: Log) -> Callable[[Memory, float], bool]:
        """What to call after each scan."""

        def between(memory: Memory, due_s: float) -> bool:
            now_s = memory.readings.now_s if memory.readings is not None else due_s
            if now_s - self._petted_s >= PET_EVERY_S:
                if self._petted_s == -math.inf:
                    self._notifier.say("READY=1")
                self._petted_s = now_s
                self._notifier.say("WATCHDOG=1")
            elif now_s - self._told_s >= STATUS_EVERY_S:  # not in the same scan as the watchdog: short scans, evenly
                self._told_s = now_s
                channel.tell(status(memory, record.context(rehearsal=False)))
            log.follow(memory)
            return not self._stop

        return between


def tend_by_file(config: Path, plan: str) -> int:
    """Tend the kiln of a configuration file, with its plan unless another is named. Returns the exit status."""
    try:
        settings = load_settings(config)
        chosen = plan_for(plan or settings.plan, settings)
        tend_kiln(settings, chosen, say)
    except (SettingsFault, PlanFault, RigUnknown) as fault:
        return untended(str(fault), "Correct the file. Then: sudo systemctl restart stokehand", BAD_INPUT)
    except (OSError, sqlite3.Error) as fault:
        return untended(f"The daemon can't start: {fault}", f"Mend that. {AGAIN}", FAULT)
    except (RigFault, ScanFailed) as fault:
        return untended(str(fault), f"Go to the kiln and look. {AGAIN}", FAULT)
    return ASKED_TO


def plan_for(name: str, settings: Settings) -> Plan:
    """The plan. Raises PlanFault when it can't be fired, at all or on this kiln."""
    plan = load_plan(find_plan(name))
    check_fit(plan, name, settings.limits.chamber_c, settings.limits.draught_least_pa)
    return plan


def untended(happened: str, do_next: str, status: int) -> int:
    """The daemon can't tend the kiln: keep why for the page, and say it."""
    keep_why(Notice(happened, "No daemon runs, and every output is off.", do_next))
    say(happened)
    return status


def say(message: str) -> None:
    """A line for the person, and so for the journal."""
    print(message, file=sys.stderr, flush=True)


def tend_kiln(settings: Settings, plan: Plan, say: Callable[[str], object]) -> None:
    """Tend until asked to stop. Raises OSError, sqlite3.Error, RigFault, ScanFailed.

    The rig comes first: a second daemon finds its lines taken and ends before it touches the record or the channel.
    """
    notifier = Notifier()
    between = Between(notifier)
    with ExitStack() as held:
        rig = open_rig(settings.rig.factory, settings.rig.options)
        before_the_scans = held.enter_context(ExitStack())
        before_the_scans.callback(make_safe, rig)
        keep_rig(settings.rig.model_dump())
        record = Record(settings.record.path, settings.rig.factory)
        held.callback(record.close)
        channel = Channel(settings.channel.folder)
        held.callback(channel.close)
        readings = first_look(rig)
        first = first_memory(setup_of(settings, plan), record.found, readings)
        record.begin(first, readings)
        announce(first, plan, readings, say)
        log = Log()
        held.callback(log.close)
        log.follow(first)
        forget_why()
        gc.collect()
        gc.freeze()  # what is here now stays: later collections are short
        gc.enable()
        before_the_scans.pop_all()  # from here on `run` sees to it
        run(rig, first, record, channel, between.with_record(record, channel, log))
        notifier.say("STOPPING=1")


def announce(first: Memory, plan: Plan, readings: Readings, say: Callable[[str], object]) -> None:
    """Say on the terminal, and so in the journal, how the daemon came up."""
    say(f"Stokehand tends the kiln; plan: {plan.name}. The feed is off.")
    if readings.reset_pressed is NOT_FITTED:
        say("No reset button is wired: nothing but it ends a lock-out.")
