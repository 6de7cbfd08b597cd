"""What the server hears from the daemon, and what it says when it hears nothing."""

from __future__ import annotations

import json
import math
import os
import socket
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.ear import LONGEST_BYTES, ChannelFault, Ear
from daemon.window import FIELDS, STOPPED
from tests.api.fake_daemon import FakeDaemon
from tests.api.house import House, open_house
from tests.window.golden import differences, golden, golden_bytes
from tests.window.scenes import SCENES


def problem_of(answer: httpx.Response, status: int) -> dict[str, Any]:
    """Check that this is a problem with this status, and return it."""
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    body: dict[str, Any] = answer.json()
    assert body["status"] == status
    assert body["type"].startswith("urn:stokehand:")
    assert all(body[key] for key in ("title", "detail", "do_next"))
    return body


def test_before_the_kiln_has_spoken_there_is_no_status_but_a_problem(house: House) -> None:
    body = problem_of(house.client.get("/status"), 503)
    assert body["type"] == "urn:stokehand:kiln-not-heard"
    for address in ("/plan", "/curve", "/events"):
        problem_of(house.client.get(address), 503)


@pytest.mark.parametrize("scene", SCENES)
def test_the_bytes_that_the_daemon_is_held_to_come_through_whole(house: House, scene: str) -> None:
    house.daemon.shout(golden_bytes(scene))
    told = golden(scene)
    house.await_status_of(told["now_s"])
    house.clock.advance(1.5)
    shown = house.client.get("/status").json()
    assert (shown.pop("age_s"), shown.pop("connected"), shown.pop("why_silent")) == (1.5, True, "")
    assert differences(shown, told) == []
    assert house.client.get("/plan").json() == told["plan"]


def test_after_three_silent_seconds_the_kiln_counts_as_lost(house: House) -> None:
    house.hear()
    house.clock.advance(2.9)
    assert house.client.get("/status").json()["connected"] is True
    house.clock.advance(0.1)
    lost = house.client.get("/status").json()
    assert (lost["connected"], lost["age_s"]) == (False, 3.0)
    house.hear()
    assert house.client.get("/status").json()["connected"] is True


def test_a_daemon_that_left_word_why_it_ended_is_quoted_while_it_is_silent(house: House) -> None:
    left = house.channel / STOPPED
    left.write_text(
        json.dumps({"happened": "limits.chamber_c: wrong.", "did": "No daemon runs.", "do_next": "Mend it."})
    )
    assert "limits.chamber_c: wrong. No daemon runs. Mend it." in house.client.get("/status").json()["detail"]
    house.hear()
    assert house.client.get("/status").json()["why_silent"] == ""
    house.clock.advance(3.0)
    assert house.client.get("/status").json()["why_silent"] == "limits.chamber_c: wrong. No daemon runs. Mend it."
    for nonsense in ("", "[]", "{", '{"happened": 1}', '{"happened": "a", "did": 2, "do_next": "b"}', "\xff"):
        left.write_bytes(nonsense.encode("latin-1"))
        assert house.client.get("/status").json()["why_silent"] == ""


@pytest.mark.parametrize(
    "changes",
    [
        {"version": 1},
        {"setpoint_c": math.nan},
        {"chamber_c": "801"},
        {"more_probes_c": {"door": "250"}},
        {"blind": {"chamber": None}},
        {"auger": 1},
        {"feed_frac": None},
        {"air_ratio": math.inf},
        {"stage": 2.5},
        {"state": None},
        {"plan": None},
        {"notices": [{"cause": "AIRFLOW_LOST", "level": "trip", "happened": "Airflow lost."}]},
    ],
)
def test_a_status_that_breaks_the_contract_is_not_shown(house: House, changes: dict[str, object]) -> None:
    house.hear()
    before = house.client.get("/status").json()["now_s"]
    house.daemon.shout(house.daemon.words(**changes))
    house.hear(firing=4)  # heard after the broken one, since datagrams keep their order
    house.clock.advance(1.0)
    status = house.client.get("/status").json()
    assert (status["firing"], status["now_s"]) == (4, before + 2)


@pytest.mark.parametrize("key", FIELDS)
def test_a_status_without_one_of_its_keys_is_not_readable(tmp_path: Path, key: str) -> None:
    told = golden("climbing")
    ear = Ear(tmp_path / "status.sock", lambda: 0.0)
    ear.datagram_received(json.dumps({k: v for k, v in told.items() if k != key}).encode(), None)
    assert ear.heard is None and ear.unreadable is not None and key in ear.unreadable
    ear.datagram_received(golden_bytes("climbing"), None)
    assert ear.heard is not None and ear.unreadable is None


def test_a_key_that_is_new_here_is_ignored(house: House) -> None:
    house.daemon.shout(house.daemon.words(moon="full"))
    house.await_status_of(house.daemon.now_s)
    assert "moon" not in house.client.get("/status").json()


@pytest.mark.parametrize("datagram", [b"", b"{", b"\xff\xfe", b"[]", b"null", b"[" * 60_000])
def test_noise_on_the_channel_leaves_the_last_status_standing(house: House, datagram: bytes) -> None:
    house.hear()
    house.daemon.shout(datagram)
    house.hear(firing=5)
    assert house.client.get("/status").json()["firing"] == 5


def test_an_oversized_status_is_dropped_and_named(house: House) -> None:
    plan = golden("climbing")["plan"]
    house.daemon.say(plan={**plan, "name": "x" * LONGEST_BYTES})
    details = (house.client.get("/status").json()["detail"] for _ in range(2000))
    assert any(f"longest allowed {LONGEST_BYTES}" in detail for detail in details)
    house.hear(plan={**plan, "name": "x" * 55_000})  # a long one within bounds is welcome
    assert len(house.client.get("/plan").json()["name"]) == 55_000


def test_a_stale_socket_file_is_cleared_away_at_the_start(tmp_path: Path) -> None:
    dead = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    dead.bind(str(tmp_path / "status.sock"))
    dead.close()
    with open_house(tmp_path) as house:
        house.hear("cold")
        assert house.client.get("/status").json()["state"] == "cold"
    assert not (tmp_path / "status.sock").exists()


def test_a_second_server_on_the_same_channel_refuses_to_start(house: House) -> None:
    with pytest.raises(ChannelFault, match="Another server"):
        Ear(house.channel / "status.sock", house.clock).bind()
    house.hear()  # and the first one still hears


def test_a_server_without_a_place_for_its_socket_says_where_to_look(tmp_path: Path) -> None:
    with pytest.raises(ChannelFault, match="--channel"):
        Ear(tmp_path / "no" / "such" / "status.sock", lambda: 0.0).bind()


def test_the_daemon_may_be_another_user_of_the_group_but_no_stranger(house: House) -> None:
    assert os.stat(house.channel / "status.sock").st_mode & 0o777 == 0o660


def test_the_server_listens_again_when_its_socket_file_is_swept_away(house: House) -> None:
    house.hear()
    (house.channel / "status.sock").unlink()
    speaker = FakeDaemonMouth(house.daemon)
    for _ in range(200_000):  # the server looks every two seconds; the loop ends as soon as it is back
        if speaker.can_speak():
            break
        house.client.get("/status")
    house.hear(firing=9)
    assert house.client.get("/status").json()["firing"] == 9


class FakeDaemonMouth:
    """Tries to speak as the daemon does: every error ignored."""

    def __init__(self, daemon: FakeDaemon) -> None:
        """Speak for this daemon."""
        self.daemon = daemon

    def can_speak(self) -> bool:
        """Say the status; tell whether anybody listens."""
        try:
            self.daemon.say()
        except OSError:
            return False
        return True
