"""The arrows between the packages, and the units."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def test_the_arrows_between_the_packages_hold() -> None:
    lint = Path(sys.executable).parent / "lint-imports"
    done = subprocess.run([str(lint)], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_units_are_accepted_by_systemd() -> None:
    tool = shutil.which("systemd-analyze")
    if tool is None:
        if os.environ.get("STOKEHAND_SYSTEMD") == "required":
            pytest.fail("systemd-analyze is required here and missing")
        pytest.skip("systemd-analyze is not installed")
    units = sorted(str(path) for path in (ROOT / "systemd").glob("*.service"))
    assert len(units) == 2
    done = subprocess.run([tool, "verify", *units], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
