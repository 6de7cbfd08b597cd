"""What a person may ask of the kiln through the page, and what is turned away."""

from __future__ import annotations

import pytest

from api.ask import STOP
from daemon.course.asks import WORDS, Word
from tests.api.house import House
from tests.api.test_status import problem_of
from tests.window.scenes import SCENES


def test_an_answer_the_kiln_waits_for_reaches_it(house: House) -> None:
    house.hear("cold")
    answer = house.ask("made_ready")
    assert answer.status_code == 202
    assert house.daemon.next_ask() == {"ask": "made_ready", "from": "page", "nonce": answer.json()["nonce"]}
    assert house.ask("made_ready").json()["nonce"] != answer.json()["nonce"]


def test_an_answer_the_kiln_does_not_wait_for_is_refused_and_the_wanted_ones_named(house: House) -> None:
    house.hear("made_ready")
    body = problem_of(house.ask("bed_out"), 409)
    assert [w["ask"] for w in body["wanted"]] == ["begin", "burn_down", "stop"]
    assert "begin" in body["detail"] and '"made ready"' in body["detail"]
    assert house.daemon.asks_left() == 0


@pytest.mark.parametrize("name", ["reset", "confirm", "set_limit", "auger", "fan"])
def test_nothing_on_the_page_resets_a_trip_or_drives_an_output(house: House, name: str) -> None:
    house.hear()
    problem_of(house.ask(name), 409)
    assert house.daemon.asks_left() == 0
    paths = house.client.get("/openapi.json").json()["paths"]
    assert {path: sorted(methods) for path, methods in paths.items()} == {
        "/status": ["get"], "/plan": ["get"], "/curve": ["get"], "/events": ["get"], "/asks": ["post"],
    }  # fmt: skip


@pytest.mark.parametrize("scene", SCENES)
def test_the_daemon_alone_says_what_is_wanted_and_a_stop_always_passes(house: House, scene: str) -> None:
    house.hear(scene)
    wanted = {w["ask"] for w in house.client.get("/status").json()["wanted"]}
    passed = {word.value for word in Word if house.ask(word.value).status_code == 202}
    assert passed == wanted | {"stop"}
    assert house.daemon.asks_left() == len(passed)


def test_a_stop_has_the_daemon_s_words() -> None:
    assert (STOP.ask, STOP.words) == (Word.STOP.value, WORDS[Word.STOP])


def test_stop_goes_through_even_when_the_kiln_is_silent(house: House) -> None:
    assert house.ask("stop").status_code == 202
    assert house.daemon.next_ask()["ask"] == "stop"
    house.hear()
    house.clock.advance(60)
    assert house.ask("stop").status_code == 202
    assert house.daemon.next_ask()["ask"] == "stop"


def test_other_asks_wait_until_the_kiln_is_heard(house: House) -> None:
    problem_of(house.ask("here"), 503)
    house.hear()
    house.clock.advance(3.0)
    assert "3 s" in problem_of(house.ask("here"), 503)["detail"]
    assert house.daemon.asks_left() == 0


def test_an_ask_to_a_dead_daemon_says_that_it_did_not_arrive(house: House) -> None:
    house.hear()
    house.daemon.die()  # the socket's file stays, as after a kill
    body = problem_of(house.ask("stop"), 503)
    assert body["type"] == "urn:stokehand:ask-not-delivered"
    house.asks.unlink()
    assert problem_of(house.ask("here"), 503)["type"] == "urn:stokehand:ask-not-delivered"


def test_a_daemon_that_takes_no_asks_does_not_hold_the_page_up(house: House) -> None:
    house.hear()
    answers = (house.ask("stop") for _ in range(1000))  # the kernel keeps some; then the queue is full
    full = next(answer for answer in answers if answer.status_code != 202)
    assert "hangs" in problem_of(full, 503)["detail"]
    assert house.client.get("/status").status_code == 200


@pytest.mark.parametrize(
    "body", ["", "{", "[]", "null", '"stop"', "{}", '{"ask": 1}', '{"ask": "STOP"}', '{"ask": "stop", "force": true}']
)
def test_a_body_that_is_no_ask_is_not_passed_on(house: House, body: str) -> None:
    house.hear()
    answer = house.client.post("/asks", content=body, headers={"Content-Type": "application/json"})
    assert problem_of(answer, 422)["errors"]
    assert house.daemon.asks_left() == 0


def test_a_body_that_is_not_even_text_is_not_passed_on(house: House) -> None:
    house.hear()
    answer = house.client.post("/asks", content=b"\x80{}", headers={"Content-Type": "application/json"})
    problem_of(answer, 400)
    assert house.daemon.asks_left() == 0


def test_a_form_on_another_site_can_not_ask(house: House) -> None:
    house.hear()
    form = house.client.post("/asks", content='{"ask": "stop"}', headers={"Content-Type": "text/plain"})
    problem_of(form, 415)
    for origin in ("http://evil.example", "null", "http://127.0.0.1:1"):
        script = house.client.post("/asks", json={"ask": "stop"}, headers={"Origin": origin})
        assert problem_of(script, 403)["type"] == "urn:stokehand:other-site"
    long = house.client.post("/asks", content=b" " * 2000, headers={"Content-Type": "application/json"})
    problem_of(long, 413)
    endless = house.client.post("/asks", content=iter([b"{}"]), headers={"Content-Type": "application/json"})
    problem_of(endless, 411)
    assert house.daemon.asks_left() == 0


@pytest.mark.parametrize(
    ("host", "known"),
    [
        ("127.0.0.1:8321", True), ("[::1]:8321", True), ("192.168.1.20", True), ("localhost:8321", True),
        ("kiln.local", True), ("KILN.local.:8321", True), ("kiln", True), ("kiln.home.arpa", True),
        ("kiln.example", True), ("evil.example", False), ("local", True), ("evil.local.example", False),
        ("127.0.0.1.evil.example", False), ("", False),
    ],
)  # fmt: skip
def test_only_names_of_this_house_are_answered(house: House, host: str, known: bool) -> None:
    house.hear()
    answer = house.client.get("/status", headers={"Host": host})
    if known:
        assert answer.status_code == 200
    else:
        problem_of(answer, 421)


def test_wrong_addresses_and_methods_are_problems_too(house: House) -> None:
    problem_of(house.client.get("/reset"), 404)
    problem_of(house.client.post("/status"), 405)
    assert house.client.post("/status").headers["allow"] == "GET"
    problem_of(house.client.get("/static/../app.py"), 404)
    problem_of(house.client.get("/static/%2e%2e/app.py"), 404)
