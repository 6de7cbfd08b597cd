"""`stokehand doctor`: what is missing or wrong on this board, in words, and the command that mends it.

It changes nothing and looks from outside: files, the service manager, and what the page hears. Only where no daemon
runs does it open the kiln's rig for one look, with everything off.
"""

from __future__ import annotations

import grp
import json
import os
import platform
import shutil
import subprocess
import sys
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from daemon.command.tend import plan_for
from daemon.outside.rigs import open_rig
from daemon.plans.file import PlanFault
from daemon.record.start import first_look
from daemon.settings import SCAN_S, Settings, SettingsFault, load_settings
from hardware.port import Blind, RigFault

INSTALL = "sudo ./systemd/install"
FREE_LEAST_BYTES = 300_000_000  # a firing's record is about 20 MB; the rest is the system's
HOT_C = 80.0  # the board slows down from about here on (memory)
THROTTLED_NOW = {
    0: ("its voltage is too low.", "Use a better supply and a shorter cable."),
    2: ("it is slowed down.", "Look at its supply, and give it air or shade."),
    3: ("it is too hot.", "Give it air or shade."),
}
"""Bits of what `vcgencmd get_throttled` says (memory)."""
SETTLE_SCANS = 20
UNITS = ("stokehand", "stokehand-page")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at. `mend` says what to do; empty where all is well."""

    about: str
    well: bool
    said: str
    mend: str = ""


def judged(about: str, well: bool, said: str, mend: str) -> Finding:
    """A finding, with what to do only where something is to be done."""
    return Finding(about, well, said, "" if well else mend)


@dataclass(frozen=True, slots=True)
class Board:
    """This machine, as far as the doctor looks at it. A test plants its faults here."""

    root: Path = Path("/")
    page: str = "http://127.0.0.1:8321/status"

    def run(self, *words: str) -> str:
        """What a command says; nothing where there is none, or it fails."""
        try:
            done = subprocess.run(words, capture_output=True, text=True, check=False, timeout=20)
        except (OSError, subprocess.TimeoutExpired):
            return ""
        return done.stdout.strip()

    def read(self, path: str) -> str:
        """What a file says; nothing where it can't be read."""
        try:
            return (self.root / path).read_text(encoding="utf-8").strip()
        except (OSError, ValueError):
            return ""

    def members(self, group: str) -> list[str]:
        """Who is in a group."""
        try:
            return grp.getgrnam(group).gr_mem
        except KeyError:
            return []

    def hears(self) -> Mapping[str, object] | None:
        """What the page hears of the daemon."""
        try:
            with urllib.request.urlopen(self.page, timeout=5) as answer:
                told = json.load(answer)
        except (OSError, ValueError):
            return None
        return told if isinstance(told, dict) and told.get("connected") is True else None


def examine(board: Board, config: Path) -> Iterator[Finding]:
    """Look at everything, one after the other."""
    yield from machine(board)
    try:
        settings = load_settings(config)
        plan_for(settings.plan, settings)
    except (SettingsFault, PlanFault) as fault:
        yield Finding("configuration", False, str(fault), f"Correct {config}. Then: sudo systemctl restart stokehand")
        return
    yield Finding("configuration", True, f"{config} can be used, plan {settings.plan}.")
    yield card(settings.record.path)
    yield from services(board)
    yield from instruments(board, settings)


def machine(board: Board) -> Iterator[Finding]:
    """Python, groups, devices, clock, heat and supply."""
    bits = 64 if sys.maxsize > 2**32 else 32
    yield judged("python", bits == 64, f"{platform.python_version()}, {bits} bits.", "Use a 64-bit system.")
    for group, device, mend in (
        ("gpio", "dev/gpiochip0", "Is this a Raspberry Pi? Its kernel gives no pins."),
        ("spi", "dev/spidev0.1", "sudo raspi-config nonint do_spi 0, then start the board again"),
    ):
        there = (board.root / device).exists()
        yield judged(f"/{device}", there, "is there." if there else "is not there.", mend)
        member = "stokehand" in board.members(group)
        said = f"the user stokehand is {'' if member else 'not '}in it."
        yield judged(f"group {group}", member, said, INSTALL)
    clock = board.run("timedatectl", "show", "-p", "NTPSynchronized", "--value") == "yes"
    mend = "Give the board a network or a clock with a battery: the record's times and a resume need it."
    yield judged("clock", clock, "set by the network." if clock else "nobody has set it since the start.", mend)
    heat_c = float(board.read("sys/class/thermal/thermal_zone0/temp") or 0) / 1000
    heat = f"{heat_c:.0f} °C." if heat_c else "tells no temperature."
    yield judged("board", heat_c < HOT_C, heat, "Give it air or shade.")
    bits_now = int(board.run("vcgencmd", "get_throttled").removeprefix("throttled=") or "0x0", 16)
    for bit, (said, mend) in THROTTLED_NOW.items():
        if bits_now >> bit & 1:
            yield Finding("board", False, said, mend)


def card(record: Path) -> Finding:
    """Whether the card takes the record."""
    folder = next((p for p in (record.parent, *record.parent.parents) if p.is_dir()), Path("/"))
    try:
        free, flags = shutil.disk_usage(folder).free, os.statvfs(folder).f_flag
    except OSError as fault:
        return Finding("card", False, f"{folder}: {fault}", "Look at the card.")
    if flags & os.ST_RDONLY:
        said = f"{folder} is read-only: the system has found it faulty, or was told so."
        return Finding("card", False, said, "Copy the record away and take a new card.")
    mend = "Make room: sudo apt clean; sudo journalctl --vacuum-size=50M"
    return judged("card", free >= FREE_LEAST_BYTES, f"{free / 1e6:.0f} MB are free.", mend)


def services(board: Board) -> Iterator[Finding]:
    """The units, and both watchdogs."""
    for unit in UNITS:
        state = board.run("systemctl", "is-active", unit) or "unknown"
        enabled = board.run("systemctl", "is-enabled", unit) == "enabled"
        mend = f"journalctl -u {unit} -n 20" if enabled else INSTALL
        said = f"{state}{'' if enabled else ', and not started with the board'}."
        yield judged(f"unit {unit}", state == "active" and enabled, said, mend)
    watched = board.run("systemctl", "show", "stokehand", "-p", "WatchdogUSec", "--value") not in ("", "0", "infinity")
    yield judged("watchdog", watched, "the unit has one." if watched else "the unit has none.", INSTALL)


def instruments(board: Board, settings: Settings) -> Iterator[Finding]:
    """Every instrument that is wired and can't be believed."""
    told = board.hears()
    if told is not None:
        blind = told["blind"] or {}
    elif board.run("systemctl", "is-active", "stokehand") == "active":
        yield Finding(
            "daemon", False, "it runs, and the page doesn't hear it.", "sudo systemctl restart stokehand-page"
        )
        return
    else:
        try:
            rig = open_rig(settings.rig.factory, settings.rig.options)
        except RigFault as fault:
            yield Finding("pins", False, str(fault), "See what it says.")
            return
        try:
            seen = first_look(rig)
            for _ in range(SETTLE_SCANS):  # the other probes come after the chamber's
                seen = rig.read(seen.now_s + SCAN_S)
        finally:
            rig.close()
        named = {**seen.probes, "feed_tube": seen.feed_tube, "draught": seen.draught, "oxygen": seen.oxygen}
        blind = {name: value.reason.value for name, value in named.items() if isinstance(value, Blind)}
    if not isinstance(blind, dict) or not blind:
        yield Finding("instruments", True, "all that are wired can be believed.")
        return
    for name, why in blind.items():
        yield Finding(
            name, False, f"{why}.", f"Look at its plug and wire; if it isn't fitted, leave it out of [rig]: {name}"
        )


def in_words(findings: list[Finding], say: Callable[[str], object]) -> None:
    """A line for each, and what to do below it."""
    for finding in findings:
        say(f"{'well ' if finding.well else 'WRONG'}  {finding.about}: {finding.said}")
        if finding.mend:
            say(f"       -> {finding.mend}")
