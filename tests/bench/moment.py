"""One moment at which the daemon is killed, or asked to stop: what is done then, and what the kiln saw of it."""

from __future__ import annotations

import re
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from signal import SIGTERM, Signals
from typing import Any

from hardware.simulated.cabinet import WATCHDOG_S
from hardware.simulated.server import TICK_S
from hardware.simulated.witness import Change
from tests.bench.pair import Pair

RELAY_S = WATCHDOG_S + 2 * TICK_S  # a tick to see the last change late, a tick to see that none came
DYING_S = 0.1  # a process that is shot or stopped may still finish the request it is in
BEHIND_S = 2.1  # a batch a second, a reading a second, and a scan
AWAY = re.compile(r"away for (\d+) s")
NOW_HOT = re.compile(r"It is at (-?\d+) °C now")


@dataclass(frozen=True, slots=True)
class Moment:
    """What came of one kill. Times count from the kill unless the name says otherwise, s."""

    how: str
    state: str
    closed: bool
    """The feed contact was closed."""
    relay_s: float
    """Until the watchdog's relay opened. The stop hook, if it comes first, makes one more change of the keep-alive."""
    relay_after_pulse_s: float
    """The same, from the last change of the keep-alive."""
    unpowered_s: float
    powered_s: float
    """For how long the auger had power after the kill."""
    fed_g: float
    """By the hopper, which the kiln weighs twice a second: up to half a second before the kill is in it."""
    dead_s: float
    low_s: float
    """From the daemon's death until all outputs were low."""
    ready_s: float
    """From the daemon's death until the next one was ready."""
    locked_out: bool
    tells_away: bool
    tells_hot: bool
    hot_in_words: bool
    record_behind_s: float
    record_sound: bool
    late_s: float
    """How late the kiln's own process was around the kill: the machine was too busy."""
    wrong: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stop:
    """What came of asking the daemon to stop; times count from the signal, s."""

    low_s: float
    ended_s: float
    wrong: tuple[str, ...]


@dataclass
class Track:
    """Levels over time, from what was true at a moment and every change since."""

    truth: dict[str, Any]
    changes: list[Change] = field(default_factory=list)

    def first(self, what: str, level: float, from_s: float) -> float | None:
        """When it first had that level from then on."""
        start = {**self.truth["outputs"], "auger_powered": float(self.truth["auger_powered"]),
                 "watchdog": float(self.truth["watchdog_closed"])}  # fmt: skip
        now = start.get(what)
        for at_s, name, value in self.changes:
            if name == what:
                if at_s > from_s and now == level:
                    return from_s
                now = value
                if at_s >= from_s and value == level:
                    return at_s
        return from_s if now == level else None

    def powered_s(self, from_s: float, to_s: float) -> float:
        """For how long the auger had power between two moments."""
        total_s, since_s = 0.0, from_s if self.truth["auger_powered"] else None
        for at_s, what, level in self.changes:
            if what == "auger_powered":
                if level and since_s is None:
                    since_s = max(at_s, from_s)
                elif not level and since_s is not None:
                    total_s += max(0.0, at_s - since_s)
                    since_s = None
        return total_s + (max(0.0, to_s - since_s) if since_s is not None else 0.0)

    def all_low(self, from_s: float) -> float | None:
        """When all outputs were first low from then on."""
        levels = dict(self.truth["outputs"])
        for at_s, what, level in self.changes:
            if at_s > from_s and not any(levels.values()):
                return from_s
            if what in levels:
                levels[what] = level
            if at_s >= from_s and not any(levels.values()):
                return at_s
        return from_s if not any(levels.values()) else None

    def rises(self, what: str, from_s: float) -> int:
        """How often it went on after that moment."""
        return sum(1 for at_s, name, level in self.changes if name == what and level and at_s > from_s)

    def late_s(self) -> float:
        """The worst lateness of the kiln's own process."""
        return max((level for _, name, level in self.changes if name == "late"), default=0.0)


def kill(pair: Pair, status: Callable[[], Any], how: Signals, wait_s: float) -> Moment:
    """Wait a while, kill or stop the daemon, do what the service manager does, and see how it comes back.

    Afterwards the daemon runs and its lock-out is reset.
    """
    observer, unit = pair.observer, pair.unit
    said = status()
    time.sleep(wait_s)
    track = Track(observer.truth())
    kill_s = time.monotonic()
    unit.send(how)
    dead_s = unit.wait()
    hook = unit.stop_post()
    sound, behind_s = look_at_record(pair.folder / "f.sqlite", track.truth["now_s"] + kill_s - track.truth["at_s"])
    time.sleep(max(0.0, hook.ended_s + unit.file.restart_s - time.monotonic()))
    after = observer.truth()  # the shaft coasts no more
    begun_s = time.monotonic()
    unit.start()
    ready_s = time.monotonic()
    card, told = locked_out(status)
    end = observer.truth()
    track.changes = observer.since(track.truth["at_s"])
    pair.reset()
    track_after = observer.truth()

    wrong = []
    closed = bool(track.truth["outputs"]["auger"])
    late_s = Track(track.truth, [c for c in track.changes if kill_s - 1.2 <= c[0] <= kill_s + 2.0]).late_s()
    opened_s = track.first("watchdog", 0.0, kill_s) or end["at_s"]
    pulse_s = max((s for s, what, _ in track.changes if what == "keep_alive" and s < opened_s), default=kill_s)
    relay_s, after_pulse_s = opened_s - kill_s, opened_s - pulse_s
    unpowered_s = (track.first("auger_powered", 0.0, kill_s) or end["at_s"]) - kill_s
    powered_s = track.powered_s(kill_s, end["at_s"])
    low = Track(track.truth, [c for c in track.changes if c[0] < begun_s]).all_low(dead_s)
    if max(after_pulse_s, unpowered_s, powered_s) > RELAY_S + late_s:
        wrong.append(
            f"the relay opened {after_pulse_s:.3f} s after the last pulse, the auger was without power after "
            f"{unpowered_s:.3f} s and had it for {powered_s:.3f} s; the kiln was late by {late_s:.3f} s"
        )
    if low is None or low - dead_s > unit.file.stop_s or hook.status != 0:
        took_s = None if low is None else round(low - dead_s, 2)
        wrong.append(f"the stop hook: {took_s} s, status {hook.status}, outputs {after['outputs']}, {hook.said!r}")
    if track.rises("auger", kill_s + DYING_S) or end["outputs"]["auger"] or track_after["outputs"]["auger"]:
        wrong.append("the auger's pin went on again")
    if end["hopper_kg"] < after["hopper_kg"] - 1e-9:
        wrong.append(f"{1000 * (after['hopper_kg'] - end['hopper_kg']):.2f} g fed after the stop hook")
    if not sound or behind_s > BEHIND_S:
        wrong.append(f"record sound: {sound}, {behind_s:.2f} s behind")
    away = AWAY.search(card["happened"]) if card else None
    gone_s = ready_s - kill_s
    tells_away = away is not None and gone_s - 1.5 <= float(away[1]) <= gone_s + BEHIND_S + 1.0
    now_hot = NOW_HOT.search(card["happened"]) if card else None
    quote = told["chamber_c"] if told else None
    tells_hot = quote is not None and abs(quote - end["chamber_c"]) < 10.0
    if card is None or told["auger"] or told["feed_frac"] != 0:
        wrong.append(f"it came back as {told and told['state']}, {told and told['notices']}")
    elif not tells_away or not tells_hot:
        wrong.append(f"away for {gone_s:.1f} s at {end['chamber_c']:.0f} °C, but it says {card['happened']!r}")
    return Moment(
        how.name, said["state"], closed, relay_s, after_pulse_s, unpowered_s if closed else 0.0, powered_s,
        1000 * (track.truth["hopper_kg"] - end["hopper_kg"]), dead_s - kill_s,
        (low or hook.ended_s) - dead_s, ready_s - dead_s, card is not None, tells_away, tells_hot,
        now_hot is not None and abs(float(now_hot[1]) - end["chamber_c"]) < 10.0, behind_s, sound, late_s, tuple(wrong),
    )  # fmt: skip


def locked_out(status: Callable[[], Any]) -> tuple[Any, Any]:
    """The first-out card and the status of a daemon that came back; the card is None when it is not the right one.

    The first status after a start may come before the amplifiers have converted, so the second is looked at.
    """
    status()
    told = status()
    cards = [n for n in told["notices"] if n["first_out"]]
    right = told["state"] == "locked out" and len(cards) == 1 and cards[0]["cause"] == "INTERRUPTED"
    return (cards[0] if right else None), told


def look_at_record(path: Path, now_s: float) -> tuple[bool, float]:
    """Whether a record that nobody closed is sound, and how far behind `now_s` on the kiln's clock it ends."""
    with tempfile.TemporaryDirectory() as folder:
        for part in path.parent.glob(f"{path.name}*"):
            shutil.copy(part, folder)
        with closing(sqlite3.connect(Path(folder) / path.name)) as db:
            sound = db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            ((last_s,),) = db.execute("SELECT max(now_s) FROM readings").fetchall()
    return sound, now_s - (last_s if last_s is not None else -1e9)


def ask_to_stop(pair: Pair) -> Stop:
    """Ask the daemon to stop as the service manager does, and run its stop hook."""
    track = Track(pair.observer.truth())
    asked_s = time.monotonic()
    pair.unit.send(SIGTERM)
    ended_s = pair.unit.wait()
    process = pair.unit.process
    status = process.returncode if process is not None else None
    by_itself = Track(track.truth, pair.observer.since(track.truth["at_s"])).all_low(asked_s)
    hook = pair.unit.stop_post()
    wrong = []
    if by_itself is None or status != 0 or ended_s - asked_s > pair.unit.file.stop_s:
        levels = pair.observer.truth()["outputs"]
        wrong.append(f"asked to stop: status {status} after {ended_s - asked_s:.2f} s, outputs {levels}")
    if hook.status != 0:
        wrong.append(f"the stop hook after it: {hook.said}")
    return Stop((by_itself or ended_s) - asked_s, ended_s - asked_s, tuple(wrong))


def spread(values: Sequence[float]) -> dict[str, float | None]:
    """Worst and median, to milliseconds."""
    ordered = sorted(values)
    if not ordered:
        return {"worst": None, "median": None}
    return {"worst": round(ordered[-1], 3), "median": round(ordered[len(ordered) // 2], 3)}
