"""The daemon is killed in the middle. These tests run real processes in real time, a few seconds each."""

from __future__ import annotations

import json
import os
import signal
import socket
import sqlite3
import subprocess
import time
from contextlib import closing
from pathlib import Path
from typing import Any

from daemon.asks import Ask, Word
from daemon.channel import send_ask
from tests.firing.command import LOW_FIRE, REHEARSE, TEND, query

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
        ears.until("made_ready")
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
        found = ears.until("locked_out")
        assert found["auger"] is False
        assert found["feed"]["frac"] == 0
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
        again = ears.until("locked_out")  # a lock-out outlasts the daemon
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
    first = subprocess.Popen([*command, "--speed", "600"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            time.sleep(0.2)
            if record.exists() and rows_while(record, "climbing") > 120:
                break
        os.kill(first.pid, signal.SIGKILL)
    finally:
        first.kill()
        first.wait()
    assert query(record, "SELECT sum(auger_s) FROM readings WHERE state = 'climbing'") > [(5,)]
    ((last_id,),) = query(record, "SELECT max(id) FROM events")

    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 3, done.stderr
    story = json.loads(done.stdout)
    assert story["trips"][0]["cause"] == "interrupted"
    assert "in the middle of a firing (climbing)" in story["trips"][0]["happened"]
    assert story["pellets_kg"] == 0
    kinds = [row[0] for row in query(record, "SELECT kind FROM events WHERE id > ? ORDER BY id", last_id)]
    assert kinds[:3] == ["start", "trip", "state"]


def rows_while(record: Path, state: str) -> int:
    try:
        return int(query(record, "SELECT count(*) FROM readings WHERE state = ?", state)[0][0])
    except sqlite3.OperationalError:
        return 0  # the file is there and its tables are not yet
