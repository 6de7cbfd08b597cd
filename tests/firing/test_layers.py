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


@pytest.mark.parametrize("unit", ["stokehand.service", "stokehand-page.service"])
def test_both_units_are_shut_off_from_what_they_do_not_need(unit: str) -> None:
    """By systemd's own measure: 0 is shut off from everything, 10 from nothing."""
    tool = shutil.which("systemd-analyze")
    if tool is None:
        pytest.skip("systemd-analyze is not installed")
    command = [tool, "security", "--offline=yes", "--threshold=20", "--no-pager", str(ROOT / "systemd" / unit)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-300:] + done.stderr


def test_the_installer_is_a_shell_script_that_parses_and_says_what_it_can_do() -> None:
    script = ROOT / "systemd" / "install"
    assert subprocess.run(["bash", "-n", str(script)], check=False).returncode == 0
    told = subprocess.run([str(script), "--help"], capture_output=True, text=True, check=False)
    assert told.returncode == 0
    for option in ("--wheel", "--name", "--yes", "--anyway", "--roll-back", "--uninstall", "--purge"):
        assert option in told.stdout
    refused = subprocess.run([str(script), "--name", "kiln.lan; rm"], capture_output=True, text=True, check=False)
    assert refused.returncode == 2
    assert "--name" in refused.stderr
