"""The page as a person sees it, on a phone and on a laptop."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from itertools import product
from typing import Literal

import pytest
from playwright.sync_api import Browser, expect

from tests.api.browser import LAPTOP, PHONE, chromium, launched, watching
from tests.api.fake_daemon import CLIMBING, TRIPPED, WAITING
from tests.api.house import House
from tests.api.kiln_record import KilnRecord

both_screens = pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser for all tests here."""
    executable = chromium()
    if executable is None:
        if os.environ.get("STOKEHAND_BROWSER") == "required":
            pytest.fail("no chromium on the path, and STOKEHAND_BROWSER=required")
        pytest.skip("no chromium on the path")
    with launched(executable) as started:
        yield started


@both_screens
def test_a_climbing_kiln_is_told_in_plain_words(
    house: House, record: KilnRecord, browser: Browser, size: tuple[int, int]
) -> None:
    record.climb(3, range(0, 9000, 10))
    record.event(3, "state", "The climb to cone 6 began.")
    house.hear(record=str(record.path))
    with watching(browser, house.url, size) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        expect(seen.page.locator("#stage")).to_have_text(
            "Stage 3 of 5, to cone 6: climb at 100 °C/h to cone 6 (1222 °C)"
        )
        expect(seen.page.locator("#heading")).to_have_text("Firing 3 · Cone 6 · 8 h 30 min")
        expect(seen.page.locator("#chamber")).to_have_text("800 °C")
        expect(seen.page.locator("#aim")).to_have_text("Aim 803 °C, 3 °C below")
        expect(seen.page.locator("#due")).to_have_text("Next look-in due in 12:42")
        readings = seen.text("#readings")
        for words in ("36.1 Pa", "aim 37.4 Pa", "31 %", "base 30.0, P +2.0, I \u22120.6, D 0.0", "turning", "512 °C",
                      "798 °C", "27.2 kg", "1.5 bags of 40 lb", "40 %", "50 % open", "seen"):  # fmt: skip
            assert words in readings
        expect(seen.page.locator("#stages tr[aria-current=step] th")).to_contain_text("to cone 6")
        expect(seen.page.locator("#chart canvas")).to_be_visible()
        expect(seen.page.locator("#chart")).to_have_attribute(
            "aria-label", re.compile(r"^Curve of 2\sh 30\smin: chamber now 270\s°C, plan ends 9\sh 50\smin from now$")
        )  # (1222 - 271.7) °C at 100 °C/h are 9 h 30 min; the soak after it adds 20 min
        expect(seen.page.locator("#events")).to_contain_text("The climb to cone 6 began.")
        for words in ("Never leave a burning kiln", "Carbon monoxide", "Infrared eye protection", "not a certified"):
            assert words in seen.text(".safety")
        expect(seen.page.locator("#rehearsal")).to_be_hidden()
        expect(seen.page.locator("#lost")).to_be_hidden()
        assert seen.too_wide_by() <= 0
        assert seen.complaints == []


@pytest.mark.parametrize("changes", [{}, TRIPPED, WAITING], ids=["climbing", "tripped", "waiting"])
def test_nothing_is_faint_or_runs_off_the_screen(house: House, browser: Browser, changes: dict[str, object]) -> None:
    house.hear(**{"rehearsal": True, **changes})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text(str(changes.get("state_words", "Climbing")))
        for lost in (False, True):
            if lost:
                house.clock.advance(30)
                expect(seen.page.locator("#lost")).to_be_visible()
            for (width, height), scheme in product((PHONE, LAPTOP), SCHEMES):
                seen.page.set_viewport_size({"width": width, "height": height})
                seen.page.emulate_media(color_scheme=scheme)
                assert seen.faint_texts() == []
                assert seen.too_wide_by() <= 0
        assert seen.complaints == []


def test_the_plan_s_person_reads_fahrenheit_and_inches_of_water(house: House, browser: Browser) -> None:
    plan = {**CLIMBING["plan"], "temperature_unit": "F", "draught_unit": "inH2O"}
    house.hear(plan=plan, draught={"pa": 37.4})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#chamber")).to_have_text("1472 °F")  # 800 * 9/5 + 32
        expect(seen.page.locator("#aim")).to_have_text("Aim 1477 °F, 5 °F below")  # a difference has no +32
        expect(seen.page.locator("#stage")).to_contain_text("at 180 °F/h")
        assert "0.150 in. w.c." in seen.text("#readings")  # 37.4 Pa / 249.089 (NIST SP 811)


def test_a_question_s_button_sends_the_answer_and_the_outcome_is_told(house: House, browser: Browser) -> None:
    house.hear(**WAITING)
    with watching(browser, house.url, PHONE) as seen:
        seen.page.get_by_role("button", name="Hopper full").click()
        asked = house.daemon.next_ask()
        assert asked["ask"] == "made_ready"
        expect(seen.page.locator("#reply")).to_contain_text("Waiting for the kiln")
        outcome = {"nonce": asked["nonce"], "ask": "made_ready", "accepted": False, "why": "The damper is shut."}
        house.hear(**{**WAITING, "answered": [outcome]})
        expect(seen.page.locator("#reply")).to_contain_text("The kiln refuses")
        expect(seen.page.locator("#reply")).to_contain_text("The damper is shut.")
        house.hear(wanted=[])
        expect(seen.page.locator("#questions")).to_be_hidden()
        assert seen.complaints == []


def test_i_am_here_is_one_tap_away_when_the_kiln_calls(house: House, browser: Browser) -> None:
    house.hear(attendance={"level": "horn", "due_in_s": 75.0})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#due")).to_have_text("The kiln is calling you: answer within 1:15")
        expect(seen.page.locator("#here")).to_be_in_viewport(ratio=1)
        seen.page.get_by_role("button", name="I am here").click()
        assert house.daemon.next_ask()["ask"] == "here"


def test_stopping_takes_two_taps_and_a_bounce_is_not_two(house: House, browser: Browser) -> None:
    house.hear()
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        stop = seen.page.locator("#stop")
        expect(stop).to_be_in_viewport(ratio=1)
        stop.dblclick()
        expect(stop).to_have_text("Tap again to do it")
        assert house.daemon.asks_left() == 0
        seen.page.wait_for_function(
            "(sinceMs) => performance.now() - sinceMs > 500", arg=seen.page.evaluate("performance.now()")
        )
        stop.click()
        assert house.daemon.next_ask()["ask"] == "stop"
        expect(stop).to_have_text("Stop the feed")


def test_burning_down_has_a_button_beside_stop_and_takes_two_taps(house: House, browser: Browser) -> None:
    house.hear(wanted=[{"ask": "burn_down", "words": "End the firing now."}])
    with watching(browser, house.url, PHONE) as seen:
        end = seen.page.locator("#end")
        expect(end).to_be_in_viewport(ratio=1)
        expect(seen.page.locator("#stop")).to_be_in_viewport(ratio=1)
        expect(seen.page.locator("#questions")).to_be_hidden()  # it is no question that waits for an answer
        end.click()
        expect(end).to_have_text("Tap again to do it")
        assert house.daemon.asks_left() == 0
        seen.page.wait_for_timeout(500)
        end.click()
        assert house.daemon.next_ask()["ask"] == "burn_down"


def test_a_lone_tap_on_stop_is_forgotten(house: House, browser: Browser) -> None:
    house.hear()
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        seen.page.clock.install()
        seen.page.locator("#stop").click()
        expect(seen.page.locator("#stop")).to_have_text("Tap again to do it")
        seen.page.clock.fast_forward(6100)
        expect(seen.page.locator("#stop")).to_have_text("Stop the feed")
        assert house.daemon.asks_left() == 0


@both_screens
def test_a_silent_kiln_sends_the_person_to_look(house: House, browser: Browser, size: tuple[int, int]) -> None:
    house.hear()
    with watching(browser, house.url, size) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        house.clock.advance(12)
        expect(seen.page.locator("#lost")).to_have_text(
            re.compile(r"^The page has not heard from the kiln for 1\d s: go and look\.")
        )
        expect(seen.page.locator("#lost")).to_be_in_viewport(ratio=1)
        house.hear()
        expect(seen.page.locator("#lost")).to_be_hidden()
        assert seen.complaints == []


def test_a_dead_server_or_network_is_told_just_the_same(house: House, browser: Browser) -> None:
    house.hear()
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        seen.page.context.set_offline(True)
        expect(seen.page.locator("#lost")).to_contain_text("go and look", timeout=8000)
        seen.page.locator("#here").click()
        expect(seen.page.locator("#reply")).to_contain_text("Go to the kiln")
        seen.page.context.set_offline(False)
        house.hear()
        expect(seen.page.locator("#lost")).to_be_hidden()


def test_a_trip_stands_first_with_what_to_do(house: House, browser: Browser) -> None:
    house.hear(**TRIPPED)
    with watching(browser, house.url, PHONE) as seen:
        cards = seen.page.locator("#notices .card")
        expect(cards).to_have_count(3)
        expect(cards.nth(0)).to_contain_text("came first")
        expect(cards.nth(0)).to_contain_text("Airflow lost: draught 4 Pa, needs 15 Pa.")
        expect(cards.nth(0)).to_contain_text("Look at the fan and the damper")
        expect(cards.nth(0).locator(".standing")).to_have_text("unacknowledged")
        expect(cards.nth(2).locator(".standing")).to_have_count(0)
        expect(cards.nth(1)).to_contain_text("Trip")
        expect(cards.nth(1)).not_to_contain_text("came first")
        expect(cards.nth(2)).to_contain_text("Warning")
        expect(cards.nth(0)).to_be_in_viewport(ratio=0.9)


def test_a_blind_chamber_shows_no_number(house: House, browser: Browser) -> None:
    reason = "open circuit: the thermocouple or its wire is broken or unplugged"
    house.hear(probes={"chamber": {"blind": reason}, "flue": None})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#chamber")).to_have_text("Blind")
        expect(seen.page.locator("#aim")).to_have_text(f"{reason}, Aim 803 °C")
        assert "Flue" not in seen.text("#readings")


def test_a_rehearsal_can_not_be_taken_for_a_firing(house: House, browser: Browser) -> None:
    house.hear(rehearsal=True)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#rehearsal")).to_contain_text("simulated kiln")


def test_words_from_the_kiln_stay_words(house: House, browser: Browser) -> None:
    sly = '<img src="x" onerror="document.title=1"><b>bold</b>'
    house.hear(state_words=sly, wanted=[{"ask": "made_ready", "words": sly}])
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text(sly)
        expect(seen.page.locator("#wanted button")).to_have_text(sly)
        assert seen.complaints == []


def test_the_page_asks_nothing_of_the_internet(house: House, record: KilnRecord, browser: Browser) -> None:
    record.climb(3, range(100))
    house.hear(record=str(record.path))
    asked: list[str] = []
    with watching(browser, house.url, PHONE) as seen:
        seen.page.on("request", lambda request: asked.append(request.url))
        seen.page.reload()
        expect(seen.page.locator("#chart canvas")).to_be_visible()
    assert any(url.endswith("uPlot.iife.min.js") for url in asked)
    assert [url for url in asked if not url.startswith(f"{house.url}/")] == []
