"""Tend a real kiln: the configured rig, the record, the channel and systemd around the scan."""

from __future__ import annotations

import gc
import math
import signal
from collections.abc import Callable
from types import FrameType

from rich.console import Console

from daemon.channel import Channel
from daemon.memory import Memory
from daemon.notify import Notifier
from daemon.plan import Plan
from daemon.record import Record
from daemon.rigs import open_rig
from daemon.runner import make_safe, run
from daemon.settings import Settings
from daemon.start import first_memory
from daemon.status import Context, status

STATUS_EVERY_S = 1.0
PET_EVERY_S = 0.5


class Between:
    """What happens after a scan has acted: watchdog, status, and whether to go on."""

    def __init__(self, record: Record, channel: Channel, notifier: Notifier) -> None:
        """Listen for the signals that end the daemon."""
        self._record, self._channel, self._notifier = record, channel, notifier
        self._told_s = self._petted_s = -math.inf
        self._stop = False
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._asked_to_stop)

    def _asked_to_stop(self, number: int, frame: FrameType | None) -> None:
        self._stop = True

    def __call__(self, memory: Memory, due_s: float) -> bool:
        """After each scan."""
        now_s = memory.readings.now_s if memory.readings is not None else due_s
        if now_s - self._petted_s >= PET_EVERY_S:
            if self._petted_s == -math.inf:
                self._notifier.say("READY=1")
            self._petted_s = now_s
            self._notifier.say("WATCHDOG=1")
        elif now_s - self._told_s >= STATUS_EVERY_S:  # not in the same scan as the watchdog: short scans, evenly
            self._told_s = now_s
            self._channel.tell(status(memory, Context(self._record.firing, str(self._record.path), rehearsal=False)))
        return not self._stop


def tend_kiln(settings: Settings, plan: Plan, console: Console) -> None:
    """Tend until asked to stop. Raises OSError, sqlite3.Error, RigFault, ScanFailed."""
    notifier = Notifier()
    record = Record(settings.record.path, settings.rig.factory)
    try:
        channel = Channel(settings.channel.folder)
        try:
            rig = open_rig(settings.rig.factory, settings.rig.options)
            readings = rig.read(-math.inf)
            first = first_memory(settings, plan, record.found, readings)
            record.began(first, readings)
            announce(first, plan, console.print)
            gc.collect()
            gc.freeze()  # what is here now stays: later collections are short
            run(rig, first, record, channel, Between(record, channel, notifier))
            notifier.say("STOPPING=1")
        finally:
            channel.close()
    finally:
        record.close()


def announce(first: Memory, plan: Plan, say: Callable[[str], object]) -> None:
    """Say on the terminal, and so in the journal, how the daemon came up."""
    say(f"Stokehand tends the kiln; plan: {plan.name}. The feed is off.")
    if first.lockout is not None:
        words = first.lockout.first_out.notice
        say(f"{words.happened}\n{words.did}\n{words.do_next}")


def make_rig_safe(settings: Settings) -> None:
    """Open the configured rig only to drive everything off. Raises RigFault."""
    make_safe(open_rig(settings.rig.factory, settings.rig.options))
