"""The wiring tried by hand, on the simulated board: nothing moves without a yes, and each planted fault is told."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace

import pytest

from daemon.command.try_out import in_words, try_outputs, watch_inputs, which_probe
from hardware.port import NOT_FITTED, Outputs, Readings, Temperature
from hardware.simulated import open_rig
from hardware.simulated.rig import SimulatedRig
from tests.daemon.house import FakeRig


class Watched:
    """The simulated rig, and everything that was written to it."""

    def __init__(self) -> None:
        self.rig = open_rig({"seed": 1, "speed": None})
        assert isinstance(self.rig, SimulatedRig)
        self.written: list[Outputs] = []
        self.read, self.close, self.inject = self.rig.read, self.rig.close, self.rig.inject
        for _ in range(20):
            self.rig.read(self.rig.read(0.0).now_s + 0.1)

    def write(self, wanted: Outputs) -> Outputs:
        """Keep it and do it."""
        self.written.append(wanted)
        return self.rig.write(wanted)


@pytest.fixture
def board() -> Iterator[Watched]:
    """A cold kiln."""
    with closing(Watched()) as board:
        yield board


def quiet(_: str) -> None:
    """Say nothing."""


def test_nothing_is_driven_without_a_yes(board: Watched) -> None:
    assert try_outputs(board, lambda question: "", quiet) == []
    assert all(not w.auger and not w.horn and not w.lamp and w.fan_frac in (0.0, NOT_FITTED) for w in board.written)


def test_with_every_yes_each_output_is_driven_the_auger_last_and_everything_is_off_after(board: Watched) -> None:
    assert try_outputs(board, lambda question: "off" if "Type off" in question else "y", quiet) == []
    driven = [name for w in board.written for name in ("lamp", "horn", "fan_frac", "auger") if getattr(w, name) is True
              or (name == "fan_frac" and isinstance(w.fan_frac, float) and w.fan_frac > 0)]  # fmt: skip
    assert list(dict.fromkeys(driven)) == ["lamp", "horn", "fan_frac", "auger"]
    assert board.written[-1] == Outputs()
    assert all(w.keep_alive is False for w in board.written)  # so the watchdog relay never lets the auger turn


def test_a_yes_is_not_enough_for_the_auger(board: Watched) -> None:
    try_outputs(board, lambda question: "y", quiet)
    assert not any(w.auger for w in board.written)


def test_a_fan_that_moves_no_air_is_told(board: Watched) -> None:
    board.inject("fan-stops")
    (wrong,) = try_outputs(board, lambda question: "off" if "Type off" in question else "y", quiet)
    assert "neither switch nor gauge saw any air" in wrong


def test_what_a_person_did_not_notice_is_wrong(board: Watched) -> None:
    wrong = try_outputs(board, lambda question: "n" if "horn sounds" in question else "y", quiet)
    assert wrong == ["horn: it was not so that the horn sounds."]


def test_a_pressed_button_and_a_broken_wire_are_said_while_the_inputs_are_watched(board: Watched) -> None:
    said: list[str] = []
    board.inject("flue-probe-open")
    board.inject("stop-wire-breaks")
    watch_inputs(board, said.append, 5.0)
    assert "stop pressed: yes" in "\n".join(said)
    assert "probe flue: not believed, open circuit" in "\n".join(said)


def warmed(name: str, k_per_s: float) -> FakeRig:
    """A rig on which one probe is held in a hand."""

    def override(seen: Readings) -> Readings:
        held = Temperature(20.0 + k_per_s * seen.now_s, 0.0, name)
        return replace(seen, probes={**seen.probes, name: held})

    return FakeRig(override=override)


@pytest.mark.parametrize("name", ["chamber", "flue", "limit"])
def test_the_probe_in_a_hand_is_named(name: str) -> None:
    assert which_probe(warmed(name, 0.1), quiet) == name


def test_a_probe_that_gets_colder_in_a_hand_has_its_wires_swapped() -> None:
    said: list[str] = []
    assert which_probe(warmed("flue", -0.1), said.append) is None
    assert "flue" in said[0] and "swapped" in said[0]


def test_where_none_is_held_none_is_named(board: Watched) -> None:
    assert which_probe(board, quiet, for_s=20.0) is None


def test_every_input_that_is_wired_has_a_line(board: Watched) -> None:
    lines = "\n".join(in_words(board.read(0.0)))
    for name in ("probe chamber", "draught", "airflow proven", "stop pressed", "reset pressed", "feed tube"):
        assert name in lines
    assert "oxygen" not in lines
