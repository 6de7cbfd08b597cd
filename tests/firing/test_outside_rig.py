"""A rig that lives outside the repository is plugged in by naming it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

OUTSIDE = '''
"""Somebody else's kiln: a lump that warms when it is fed, with a person's hands."""
from hardware.port import Draught, Outputs, Readings, Sight, Temperature


class Hands:
    def __init__(self, rig): self.rig = rig
    def look(self): return Sight(self.rig.pa, self.rig.burning, False, 10.0)
    def light_charcoal(self, kg): self.rig.burning = True
    def fill_hopper(self, kg): pass
    def set_damper(self, frac): pass
    def rake_ash(self): pass
    def press(self, button, pressed): pass


class Lump:
    def __init__(self, options):
        self.options, self.now_s, self.hot_c, self.pa = options, 100.0, 20.0, 0.0
        self.burning, self.wanted = False, Outputs()
        self.bed_kg, self.charcoal_s = 0.0, 2400.0
        self.hands = Hands(self)

    def read(self, due_s):
        while self.now_s < due_s - 1e-6:
            self.live(0.1)
        return Readings(
            now_s=self.now_s, utc_s=1.9e9 + self.now_s,
            probes={"chamber": Temperature(self.hot_c, 0.0, "lump:chamber")},
            draught=Draught(self.pa, 0.0, "lump:draught"))

    def live(self, dt_s):
        self.now_s += dt_s
        self.pa = 80.0 * self.wanted.fan_frac ** 2
        if self.wanted.auger:
            self.bed_kg += dt_s * 9 / 3600
        burnt_kg = min(self.bed_kg, self.bed_kg * dt_s / 60)
        self.bed_kg -= burnt_kg
        self.charcoal_s -= dt_s * self.burning
        watts = (4000 * (self.charcoal_s > 0) + burnt_kg / dt_s * 9e6) if self.burning else 0.0
        self.hot_c += dt_s * (watts - 6.0 * (self.hot_c - 20)) / 20000
        if self.burning and self.hot_c > 400 and not self.wanted.auger and self.bed_kg < 1e-4:
            self.burning = False

    def write(self, wanted):
        self.wanted = wanted
        return wanted

    def close(self):
        self.wanted = Outputs()


def open_rig(options):
    assert options["seed"] == 5 and options["speed"] is None
    return Lump(options)
'''

PLAN = """
name = "Low fire"
temperature = "C"
draught = "Pa"
[[stage]]
name = "warm-up"
kind = "fixed"
feed = 5
draught = 20
for = "10 min"
[[stage]]
name = "up"
kind = "climb"
to = 750
rate = 350
feed = 15
draught = 30
[[stage]]
name = "hold"
kind = "soak"
for = "5 min"
feed = 12
draught = 30
"""


def test_a_kiln_from_another_package_is_fired_to_the_end(tmp_path: Path) -> None:
    package = tmp_path / "somebody"
    package.mkdir()
    (package / "__init__.py").write_text("")
    (package / "kiln.py").write_text(OUTSIDE)
    (tmp_path / "low.toml").write_text(PLAN)
    done = subprocess.run(
        [sys.executable, "-m", "daemon", "rehearse", "--rig", "somebody.kiln:open_rig", "--seed", "5", "--json",
         "--plan", str(tmp_path / "low.toml")],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), *sys.path])},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    story = json.loads(done.stdout)
    assert story["ended"] == "fired to the end"
    assert [step["state"] for step in story["course"]] == [
        "cold", "made ready", "purge", "lit by hand", "fire proving", "warm-up", "climbing", "soaking", "burn-down",
        "cooling", "finished",
    ]  # fmt: skip
    assert 745 < story["top_c"] < 770
