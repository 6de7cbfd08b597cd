"""The daemon is killed in the middle. These tests run real processes in real time, a few seconds each."""

from __future__ import annotations

import json
import os
import signal
import socket
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from daemon.course.asks import Ask, Word
from daemon.outside.channel import send_ask
from tests.bench.moment import ask_to_stop, kill
from tests.bench.pair import Ears, Pair
from tests.bench.unit import UnitFile
from tests.bench.wires import WORST_S, measure
from tests.firing.command import LOW_FIRE, REHEARSE, TEND, query

pytestmark = pytest.mark.alone

PATIENCE_S = 60.0


class Listener:
    """Hears the daemon's status, as the api would."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(folder / "status.sock"))
        self._socket.settimeout(PATIENCE_S)

    def close(self) -> None:
        """Stop listening."""
        self._socket.close()

    def next(self) -> Any:
        """The next status."""
        return json.loads(self._socket.recv(100_000))

    def until(self, state: str) -> Any:
        """The first status in that state."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            heard = self.next()
            if heard["state"] == state:
                return heard
        raise AssertionError(f"the kiln never was {state}")


def settings(folder: Path) -> Path:
    path = folder / "settings.toml"
    path.write_text(
        f'plan = "cone-6"\n[rig]\nfactory = "simulated"\nspeed = 1\nseed = 3\n'
        f'[record]\npath = "{folder}/f.sqlite"\n[channel]\nfolder = "{folder}/channel"\n'
    )
    return path


def last_row(path: Path) -> tuple[float, str]:
    ((now_s, state),) = query(path, "SELECT now_s, state FROM readings ORDER BY now_s DESC LIMIT 1")
    return float(now_s), str(state)


def test_nothing_older_than_2_s_is_lost_and_it_comes_back_locked_out(tmp_path: Path) -> None:
    config = settings(tmp_path)
    with closing(Listener(tmp_path / "channel")) as ears:
        kill_and_come_back(tmp_path, config, ears)


def kill_and_come_back(tmp_path: Path, config: Path, ears: Listener) -> None:
    first = subprocess.Popen([*TEND, "--config", str(config)], stderr=subprocess.DEVNULL)
    try:
        assert ears.until("cold")["auger"] is False
        time.sleep(1)  # the probes settle
        send_ask(tmp_path / "channel", Ask(Word.MADE_READY))
        ears.until("made ready")
        send_ask(tmp_path / "channel", Ask(Word.BEGIN))
        ears.until("purge")
        for _ in range(3):
            heard = ears.next()
    finally:
        first.kill()
        first.wait()
    written_s, state = last_row(tmp_path / "f.sqlite")
    assert state == "purge"
    assert written_s >= heard["now_s"] - 2.0

    second = subprocess.Popen([*TEND, "--config", str(config)], stderr=subprocess.PIPE, text=True)
    try:
        found = ears.until("locked out")
        assert found["auger"] is False
        assert found["feed_frac"] == 0
        (card,) = [n for n in found["notices"] if n["first_out"]]
        assert card["cause"] == "INTERRUPTED"
        assert "in the middle of a firing (purge)" in card["happened"]
        send_ask(tmp_path / "channel", Ask(Word.BEGIN, nonce="n"))
        answer = next(a for a in iter_answers(ears) if a["nonce"] == "n")
        assert answer["accepted"] is False
    finally:
        second.send_signal(signal.SIGTERM)
        said = second.communicate(timeout=PATIENCE_S)[1]
    assert second.returncode == 0
    assert "in the middle of a firing (purge)" in said

    third = subprocess.Popen([*TEND, "--config", str(config)], stderr=subprocess.DEVNULL)
    try:
        again = ears.until("locked out")  # a lock-out outlasts the daemon
        assert "in the middle of a firing (purge)" in again["notices"][0]["happened"]
    finally:
        third.terminate()
        third.wait(timeout=PATIENCE_S)


def iter_answers(ears: Listener) -> Any:
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        yield from ears.next()["answered"]


def test_killed_while_climbing_the_feed_stays_off(tmp_path: Path) -> None:
    (tmp_path / "low.toml").write_text(LOW_FIRE)
    record = tmp_path / "f.sqlite"
    command = [*REHEARSE, "--plan", str(tmp_path / "low.toml"), "--record", str(record), "--json"]
    # flat out the firing waits for its record, so none of it is lost on a slow disk
    first = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            time.sleep(0.02)
            if record.exists() and rows_while(record, "climbing") > 120:
                break
        os.kill(first.pid, signal.SIGKILL)
    finally:
        first.kill()
        first.wait()
    assert query(record, "SELECT sum(auger_s) FROM readings WHERE state = 'climbing'") > [(3,)]
    ((last_id,),) = query(record, "SELECT max(id) FROM events")

    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 3, done.stderr
    story = json.loads(done.stdout)
    assert story["trips"][0]["cause"] == "interrupted"
    assert "in the middle of a firing (climbing)" in story["trips"][0]["happened"]
    ((seconds, fed_s),) = query(record, "SELECT count(*), sum(auger_s) FROM readings WHERE state = 'locked out'")
    assert seconds > 60
    assert fed_s == 0
    kinds = [row[0] for row in query(record, "SELECT kind FROM events WHERE id > ? ORDER BY id", last_id)]
    assert kinds[:3] == ["start", "trip", "state"]


def rows_while(record: Path, state: str) -> int:
    try:
        return int(query(record, "SELECT count(*) FROM readings WHERE state = ?", state)[0][0])
    except sqlite3.OperationalError:
        return 0  # the file is there and its tables are not yet


# a kiln in a process of its own, which lives on when the daemon doesn't, and the unit file's part played by the test


@pytest.fixture(scope="module")
def fired(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Pair, Ears]]:
    """A kiln with its daemon, brought to a fire that is fed all the time."""
    folder = tmp_path_factory.mktemp("kiln")
    pair = Pair(folder, UnitFile.read(), seed=1, state="warm-up", feed=100)
    with closing(pair), closing(Ears(folder / "channel")) as ears:
        yield pair, ears


def fed(pair: Pair, ears: Ears) -> None:
    """Bring it there, from whatever the test before has left."""
    if pair.unit.process is None or pair.unit.process.poll() is not None:
        pair.begin_afresh()
    pair.feed(ears)


def test_a_second_daemon_is_refused_and_leaves_the_first_ones_ears_alone(fired: tuple[Pair, Ears]) -> None:
    pair, ears = fired
    fed(pair, ears)
    config = pair.folder / "settings.toml"
    second = subprocess.run([*TEND, "--config", str(config)], capture_output=True, text=True, check=False)
    assert second.returncode == 1
    assert "Another process holds it" in second.stderr
    send_ask(pair.folder / "channel", Ask(Word.HERE, nonce="still there"))
    until_s = time.monotonic() + PATIENCE_S
    while not any(a["nonce"] == "still there" and a["accepted"] for a in ears()["answered"]):
        assert time.monotonic() < until_s


def test_a_configuration_broken_meanwhile_does_not_keep_the_stop_hook_from_the_pins(fired: tuple[Pair, Ears]) -> None:
    pair, ears = fired
    fed(pair, ears)
    config = pair.folder / "settings.toml"
    text = config.read_text()
    config.write_text(text + "\n[limts]\n")
    try:
        pair.unit.send(signal.SIGKILL)
        pair.unit.wait()
        hook = pair.unit.stop_post()
    finally:
        config.write_text(text)
    assert hook.status == 0, hook.said
    assert pair.observer.truth()["outputs"]["auger"] == 0.0


def test_a_second_process_is_refused_the_lines_that_the_daemon_holds(fired: tuple[Pair, Ears]) -> None:
    pair, ears = fired
    fed(pair, ears)
    hook = pair.unit.stop_post()
    assert hook.status != 0
    assert "busy" in hook.said
    assert pair.observer.truth()["outputs"]["auger"] == 1.0  # and the firing goes on
    assert ears()["state"] == "warm-up"


def test_killed_with_the_contact_closed_the_watchdog_cuts_the_auger_off_and_it_comes_back_locked_out(
    fired: tuple[Pair, Ears],
) -> None:
    pair, ears = fired
    fed(pair, ears)
    moment = kill(pair, ears, signal.SIGKILL, wait_s=0.2)
    assert moment.closed  # its pin stays high when it dies, so this test is able to fail
    assert moment.wrong == ()
    assert 0.0 < moment.unpowered_s == moment.powered_s < 1.1  # by the relay, or by a stop hook that was quicker
    assert moment.locked_out


def test_a_broken_stop_wire_opens_the_contact_and_a_daemon_that_is_asked_to_stop_leaves_everything_off(
    fired: tuple[Pair, Ears],
) -> None:
    pair, ears = fired
    fed(pair, ears)
    edge = measure(pair, ears, "stop-wire-breaks", wait_s=0.2)
    assert edge.wrong == ()
    assert edge.low_s <= WORST_S
    stop = ask_to_stop(pair)
    assert stop.wrong == ()
