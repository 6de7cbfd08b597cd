"""The check command goes on after a step that failed, and names it."""

from __future__ import annotations

import sys

import pytest

from tests.check import Step, check


def step(name: str, code: str) -> Step:
    """A step that runs a line of Python."""
    return Step(name, (sys.executable, "-c", code))


def test_a_step_that_fails_is_named_and_the_others_are_run_all_the_same(capfd: pytest.CaptureFixture[str]) -> None:
    asked = (step("first", "print(7 * 3)"), step("second", "raise SystemExit(5)"), step("third", "print(7 * 5)"))
    assert check(asked) == 1
    said = capfd.readouterr().out
    assert "21\n" in said and "35\n" in said
    assert said.splitlines()[-1] == "failed: second"


def test_it_ends_well_only_when_every_step_did(capfd: pytest.CaptureFixture[str]) -> None:
    assert check([step("first", ""), step("second", "")]) == 0
    assert "failed" not in capfd.readouterr().out


def test_a_tool_that_is_missing_fails_its_step_alone(capfd: pytest.CaptureFixture[str]) -> None:
    assert check([Step("missing", ("/no/such/tool",)), step("after it", "print(7 * 3)")]) == 1
    said = capfd.readouterr().out
    assert "/no/such/tool" in said and "pip install" in said
    assert "21\n" in said
    assert said.splitlines()[-1] == "failed: missing"
