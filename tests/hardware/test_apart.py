"""The simulated kiln in a process of its own: the same drivers, lines that outlive their owner, and an observer."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest

from hardware.board import Board
from hardware.port import Outputs, Rig, RigFault
from hardware.simulated.apart import open_rig, warmed
from hardware.simulated.cabinet import WATCHDOG_S
from hardware.simulated.kiln.build import Build
from hardware.simulated.kiln.kiln import Kiln
from hardware.simulated.link import RemoteFactory
from hardware.simulated.observer import Observer
from hardware.simulated.rig import Scenario, SimulatedRig
from hardware.simulated.site import Site
from hardware.simulated.terminals import Terminals
from hardware.wiring import Wiring

AUGER = Wiring().auger
SERVE = [sys.executable, "-m", "hardware.simulated.apart"]


class Direct:
    """The link without its socket: what is asked goes through JSON to the terminals, in simulated time."""

    def __init__(self, terminals: Terminals) -> None:
        self._terminals = terminals
        self.closed = False

    def ask(self, verb: str, *arguments: object) -> Any:
        """Ask the terminals."""
        value = getattr(self._terminals, verb)(self, *json.loads(json.dumps(arguments)))
        return json.loads(json.dumps(value))

    def close(self) -> None:
        """The connection ends; whether by hanging up or by dying looks the same over there."""
        self.closed = True
        self._terminals.dropped(self)


class Apart:
    """A site, and boards on it that come and go."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.terminals = Terminals(site.pins, site.wires, Random("pulses"))
        self.links: list[Direct] = []
        self.boards: list[Board] = []  # kept, as a killed process gives nothing back

    def board(self) -> Board:
        """The board of another process."""
        link = Direct(self.terminals)
        self.links.append(link)
        board = Board(RemoteFactory(link), Wiring(), self.site.clock, "sim")
        self.boards.append(board)
        return board

    def level(self, number: int = AUGER) -> float:
        """What the wire carries, whoever drives it."""
        return float(self.site.pins.pin(number).line)

    def run(self, board: Board, seconds: float, **wanted: Any) -> Outputs:
        """Scan ten times a second with the keep-alive moving."""
        done = Outputs()
        for scan in range(round(seconds * 10)):
            board.read(self.site.clock.now_s() + 0.1)
            done = board.write(Outputs(keep_alive=scan % 2 == 0, **wanted))
        return done


@pytest.fixture
def apart() -> Apart:
    """The demo kiln, to be driven over a link."""
    return Apart(Site(Kiln(Build(), 1), Wiring(), 1, watchdog=True))


def images(rig: Rig) -> list[object]:
    """Everything that a minute of a fire reads and reads back."""
    rows: list[object] = []
    for tenth in range(600):
        rows.append(rig.read(tenth / 10))
        rows.append(rig.write(Outputs(auger=tenth % 50 < 10, fan_frac=0.6, lamp=True, keep_alive=tenth % 2 == 0)))
    return rows


def test_over_the_link_the_drivers_read_to_the_last_bit_what_they_read_in_one_process(apart: Apart) -> None:
    rig = SimulatedRig(Kiln(Build(), 1), Wiring(), Scenario(seed=1))
    for site in (rig, apart.site):
        site.hands.light_charcoal(0.5)
    here, there = images(rig), images(apart.board())
    assert len(there) == 1200
    assert there == here
    rig.close()


def test_a_line_whose_owner_dies_keeps_its_level_and_only_the_watchdog_takes_the_augers_power(apart: Apart) -> None:
    apart.run(apart.board(), 2.0, auger=True)
    assert apart.site.world.auger_powered
    apart.links[0].close()
    died_s = apart.site.clock.now_s()
    apart.site.clock.wait_until(died_s + WATCHDOG_S - 0.1)
    assert apart.site.world.auger_powered
    apart.site.clock.wait_until(died_s + WATCHDOG_S + 0.1)
    assert not apart.site.world.auger_powered
    apart.site.clock.wait_until(died_s + 3600.0)
    assert apart.level() == 1.0  # nothing resets a pin but whoever claims it
    assert apart.terminals.held == ()


def test_the_next_owner_finds_the_auger_off_before_it_can_turn_again(apart: Apart) -> None:
    powered: list[bool] = []
    apart.run(apart.board(), 2.1, auger=True)  # an odd number of scans: the keep-alive ends high
    apart.links[0].close()
    apart.site.clock.wait_until(apart.site.clock.now_s() + 2.0)
    assert apart.level() == 1.0
    cabinet, pulse = apart.site.cabinet, apart.site.pins.pin(Wiring().keep_alive)
    on_pulse = pulse.on_level

    def seen(level: float) -> None:
        on_pulse(level)
        powered.append(apart.site.world.auger_powered)

    pulse.on_level = seen
    board = apart.board()
    assert powered == [False]  # the old keep-alive line fell too and closed the watchdog's relay: the auger was off
    assert cabinet.watchdog_closed
    assert apart.level() == 0.0
    apart.run(board, 2.0)
    assert not any(powered)
    assert apart.run(board, 0.5, auger=True).auger  # it can be driven again, so it was able to turn
    assert apart.site.world.auger_powered


def test_lines_that_are_held_are_refused_and_stay_as_they_are(apart: Apart) -> None:
    first = apart.board()
    apart.run(first, 2.0, auger=True, fan_frac=0.5)
    with pytest.raises(RigFault, match="GPIO busy"):
        apart.board()
    assert apart.level() == 1.0
    assert apart.run(first, 0.1, auger=True, fan_frac=0.5) == Outputs(True, 0.5, keep_alive=True)
    first.close()
    assert apart.level() == 0.0
    assert apart.terminals.held == ()
    assert apart.run(apart.board(), 0.1, auger=True).auger  # given back, they can be had


def test_a_fan_whose_pulses_end_stands_or_runs_at_full_speed(apart: Apart) -> None:
    seen = set()
    for _ in range(12):
        apart.run(apart.board(), 0.2, fan_frac=0.5)
        apart.links[-1].close()
        seen.add(apart.site.world.fan_frac)
    assert seen == {0.0, 1.0}


def test_a_line_that_was_not_claimed_can_be_neither_read_nor_driven(apart: Apart) -> None:
    link = Direct(apart.terminals)
    for verb, *arguments in (("level",), ("drive", 1), ("pull", "up"), ("pulse", 100)):
        with pytest.raises(OSError, match="not allocated"):
            link.ask(str(verb), AUGER, *arguments)
    assert apart.level() == 0.0


def test_a_kiln_that_was_warmed_by_hand_is_warm_its_fire_out_and_its_hopper_full() -> None:
    kiln = Kiln(Build(), 1)
    before_kg = kiln.hopper_kg
    warmed(kiln, 150.0)
    assert 110.0 < kiln.chamber_sheath_c < 150.0  # the sheath falls from 150 °C as soon as the fire is out
    assert (kiln.flame, kiln.auger_powered, kiln.fan_frac, kiln.hopper_kg) == (False, False, 0.0, before_kg)


def test_bad_options_are_named_all_at_once() -> None:
    with pytest.raises(ValueError, match="socket") as caught:
        open_rig({"seed": 1, "speed": None, "horn": 99})
    starts = [line.split(":")[0] for line in str(caught.value).splitlines()]
    assert starts == ["rig.seed", "rig.speed", "rig.socket", "rig.horn"]


def test_where_no_kiln_stands_the_fault_says_how_to_start_one(tmp_path: Path) -> None:
    with pytest.raises(RigFault, match=r"python -m hardware\.simulated\.apart --socket"):
        open_rig({"socket": str(tmp_path / "kiln.sock")})


# a real process, in real time


class Served:
    """A kiln that is served, and an observer of it."""

    def __init__(self, path: Path, *options: str) -> None:
        self.path = path
        command = [*SERVE, "--socket", str(path), *options]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        assert "stands at" in self.process.stdout.readline()
        self.observer = Observer(path)

    def close(self) -> int:
        """End it; its exit status."""
        self.observer.close()
        self.process.terminate()
        status = self.process.wait(timeout=20)
        assert self.process.stdout is not None
        self.process.stdout.close()
        return status


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """The demo kiln, served."""
    kiln = Served(tmp_path / "kiln.sock", "--seed", "1")
    yield kiln
    assert kiln.close() == 0
    assert not kiln.path.exists()


def test_it_lives_on_whether_or_not_anybody_reads_and_tells_the_truth(served: Served) -> None:
    rig = open_rig({"socket": str(served.path)})
    first = served.observer.truth()
    assert first["outputs"] == {"auger": 0.0, "keep_alive": 0.0, "fan": 0.0, "horn": 0.0, "lamp": 0.0}
    assert (first["watchdog_closed"], first["auger_powered"], first["fed_kg"]) == (False, False, 0.0)
    rig.write(Outputs(auger=True, fan_frac=0.5, keep_alive=True))
    driven = served.observer.truth()
    assert (driven["auger_contact"], driven["watchdog_closed"], driven["auger_powered"]) == (True, True, True)
    while served.observer.truth()["auger_powered"]:
        pass  # nobody scans: only the kiln's own time ends it
    story = [(what, level) for _, what, level in served.observer.since(first["at_s"])]
    wanted = [("auger", 1.0), ("auger_contact", 1.0), ("keep_alive", 1.0), ("auger_powered", 1.0), ("watchdog", 1.0),
              ("fan", 0.5), ("auger_powered", 0.0), ("watchdog", 0.0)]  # fmt: skip
    assert [change for change in story if change[0] != "late"] == wanted
    assert served.observer.truth()["fed_kg"] > 0.0005
    rig.close()


def test_an_observer_presses_breaks_and_mends_and_nothing_it_says_wrong_harms(served: Served) -> None:
    rig = open_rig({"socket": str(served.path)})
    observer = served.observer
    observer.press("reset", True)
    assert rig.read(0.0).reset_pressed is True
    observer.inject("stop-wire-breaks")
    assert rig.read(0.0).stop_pressed is True
    observer.mend()
    assert rig.read(0.0).stop_pressed is False
    with pytest.raises(OSError, match="gremlins"):
        observer.inject("gremlins")
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as rude:
        rude.connect(str(served.path))
        rude.sendall(b'\xff\n[]\n{"a": 1}\n["press"]\n["drive", 17, 1]\n["__init__"]\n7\n')
        answers = b""
        while answers.count(b"\n") < 7:
            answers += rude.recv(4096)
    assert all(json.loads(line)[0] is None for line in answers.splitlines())
    assert rig.write(Outputs(horn=True)).horn is True
    rig.close()


def test_a_second_kiln_at_the_same_socket_is_refused(served: Served) -> None:
    command = [*SERVE, "--socket", str(served.path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "another simulated kiln" in done.stderr


def test_a_kiln_that_was_killed_is_a_fault_for_whoever_drove_it_and_its_socket_is_taken_over(tmp_path: Path) -> None:
    path, config = tmp_path / "kiln.sock", tmp_path / "wired.toml"
    config.write_text(f'[rig]\nfactory = "hardware.simulated.apart:open_rig"\nsocket = "{path}"\nco_alarm = 26\n')
    first = Served(path)
    rig = open_rig({"socket": str(path)})
    first.process.kill()
    first.process.wait()
    with pytest.raises(RigFault):
        rig.read(0.0)
    with pytest.raises(RigFault):
        rig.close()
    first.close()
    second = Served(path, "--wiring", str(config), "--kiln", "3", "--speed", "20")
    before = second.observer.truth()
    time.sleep(0.2)  # a real process, in real time
    assert second.observer.truth()["now_s"] - before["now_s"] > 3.0
    second.observer.inject("co-alarm")  # known, because it is wired
    second.close()
