"""The page as a person sees it, on a phone and on a laptop."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product
from typing import Literal

import pytest
from playwright.sync_api import Browser, expect

from tests.api.browser import LAPTOP, PHONE, Watcher, chromium, launched, watching
from tests.api.fake_daemon import AIR, CLIMBING, HEAT, REDUCING, TRIPPED, WAITING
from tests.api.house import House
from tests.api.kiln_record import KilnRecord

pytestmark = pytest.mark.slow

both_screens = pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser for all tests here."""
    with launched(chromium()) as started:
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
        for words in ("36.1 Pa", "aim 37.4 Pa", "31 %", "+30.0 feed-forward", "+2.0 P", "\u22120.6 I", "0.0 D",
                      "turning", "512 °C", "798 °C", "27.2 kg", "1.5 bags of 40 lb", "40 %", "50 % open",
                      "seen"):  # fmt: skip
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


@pytest.mark.parametrize(
    "changes", [{}, TRIPPED, WAITING, REDUCING], ids=["climbing", "tripped", "waiting", "reducing"]
)
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


def row(seen: Watcher, name: str) -> str:
    """Return what stands beside a name among the readings, its lines joined by " / "."""
    place = seen.page.locator("#readings > div").filter(has=seen.page.get_by_text(name, exact=True))
    return " / ".join(place.locator("dd > *").all_inner_texts()).replace("\u00a0", " ")


def test_air_fuel_and_heat_are_told_with_how_sure_they_are(house: House, browser: Browser) -> None:
    house.hear()
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        assert row(seen, "Air for the fuel") == (
            "1.24 ± 0.19 / wanted 1.32; 1 is just enough / reckoned from draught and feed"
        )  # 1.243 * 0.15 = 0.186
        assert row(seen, "Burning") == "2.27 kg/h / in 15.80 kg/h of air"
        assert row(seen, "Atmosphere") == "oxidation"
        assert row(seen, "Kiln takes") == (
            "0.84 kg/h / for its walls, in pellets by heat / \u22120.06 kg/h load: not explained"
            " / 4.2 g for each °C more / chamber by this balance 801 °C"
        )
        expect(seen.page.locator("#caution")).to_be_hidden()
        assert seen.complaints == []


def test_a_reduction_warns_of_carbon_monoxide_for_as_long_as_it_is_wanted(house: House, browser: Browser) -> None:
    house.hear(**REDUCING)
    with watching(browser, house.url, PHONE) as seen:
        caution = seen.page.locator("#caution")
        expect(caution).to_contain_text("Carbon monoxide")
        expect(caution).to_be_in_viewport(ratio=1)
        expect(seen.page.locator("#stage")).to_contain_text("medium reduction")
        assert row(seen, "Air for the fuel") == (
            "0.91 ± 0.02 / wanted 0.90; 1 is just enough / measured: the oxygen probe reads 0.90"
            " / learnt: 1.12 times the air by the draught"
        )
        assert row(seen, "Atmosphere") == "medium reduction / reduced for 25 min in this firing"
        assert "2.3 g for each °F more" in row(seen, "Kiln takes")  # 4.2 g / 1.8
        house.hear(**{**REDUCING, "mixture": {**AIR, "wanted_air_ratio": 1.0}})  # too cold for it, say
        expect(caution).to_be_hidden()
        assert row(seen, "Atmosphere") == "medium reduction / not now: the fire is given enough air"
        house.hear(mixture={**AIR, "wanted_air_ratio": 0.99})
        expect(caution).to_be_visible()
        house.hear(mixture={**AIR, "wanted_air_ratio": None})
        expect(caution).to_be_hidden()


@pytest.mark.parametrize(
    ("mixture", "told"),
    [
        ({"air_ratio": None}, "not known / wanted 1.32; 1 is just enough / no instrument tells: go by the flame"),
        ({"air_ratio": None, "oxygen_air_ratio": 1.2},
         "1.20 / wanted 1.32; 1 is just enough / measured: the oxygen probe"),
        ({"air_ratio": 31.0, "wanted_air_ratio": None},
         "over 5 / none wanted now; 1 is just enough / reckoned from draught and feed"),
        ({"taught_factor": 0.91, "spread_frac": 0.05, "aside_frac": -0.0597},
         "1.24 ± 0.06 / wanted 1.32; 1 is just enough / reckoned from draught and feed"
         " / learnt: 0.91 times the air by the draught / 6 % less just now, to see what the kiln makes of it"),
        ({"aside_frac": 0.06},
         "1.24 ± 0.19 / wanted 1.32; 1 is just enough / reckoned from draught and feed"
         " / 6 % more just now, to see what the kiln makes of it"),
    ],
    ids=["no gauge", "the probe alone", "embers", "less air tried", "more air tried"],
)  # fmt: skip
def test_an_air_ratio_is_no_surer_than_its_instruments(
    house: House, browser: Browser, mixture: dict[str, object], told: str
) -> None:
    house.hear(mixture={**AIR, **mixture})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        assert row(seen, "Air for the fuel") == told


@pytest.mark.parametrize(
    ("owed_s", "told"),
    [
        (None, ""), (20.0, ""), (130.0, " / 2 min of heat work owed: the aim rises a little for it"),
        (-60.0, " / 1 min of heat work beyond the plan: the aim falls a little for it"),
    ],
)  # fmt: skip
def test_a_soak_that_makes_up_for_heat_work_says_so(
    house: House, browser: Browser, owed_s: float | None, told: str
) -> None:
    house.hear(heat={**HEAT, "work_owed_s": owed_s})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        assert row(seen, "Kiln takes").endswith(f"chamber by this balance 801 °C{told}")


@pytest.mark.parametrize(
    ("limit", "told"),
    [
        ("none", None),
        ("feed floor", "held up: this is the least that keeps the fire alive"),
        ("feed ceiling", "held back: the auger turns as much as it may"),
        ("waits for the air", "held back: the air can burn no more"),
        ("waits for the embers", "held back: the embers take no more yet"),
        ("held: the chamber can't be read", "left as it was: the chamber can’t be read"),
        ("a limit not heard of", "limited by a limit not heard of"),
    ],
)
def test_the_limit_that_acted_on_the_feed_is_told_under_its_terms(
    house: House, browser: Browser, limit: str, told: str | None
) -> None:
    house.hear(feed={**CLIMBING["feed"], "limited_by": limit})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        terms = [
            "31 %", "+30.0 feed-forward: for the line", "+2.0 P: the gap to the line",
            "\u22120.6 I: learnt on the way", "0.0 D: coming anyway",
        ]  # fmt: skip
        assert row(seen, "Feed").split(" / ") == [*terms, *([told] if told else [])]


@pytest.mark.parametrize(
    ("feed", "told"),
    [
        ({"frac": 0.1, "ff": 0.1, "limited_by": "the stage's own feed"}, "10 % / as the plan has it for this stage"),
        ({"frac": 0.0, "ff": 0.0, "limited_by": "none"}, "0 %"),
    ],
    ids=["the stage's own", "no feed"],
)
def test_a_feed_without_a_line_has_no_terms(house: House, browser: Browser, feed: dict[str, object], told: str) -> None:
    house.hear(feed={"p": 0.0, "i": 0.0, "d": 0.0, **feed})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        assert row(seen, "Feed") == told


def test_a_kiln_without_fire_or_feed_tells_nothing_of_them(house: House, browser: Browser) -> None:
    house.hear(mixture=None, heat=None, feed=None, stage=None)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        told = seen.text("#readings")
        assert "Draught" in told
        assert not [w for w in ("Feed\n", "Air for the fuel", "Burning", "Atmosphere", "Kiln takes") if w in told]
        expect(seen.page.locator("#caution")).to_be_hidden()
        assert seen.complaints == []


def test_a_plan_that_leaves_feed_and_draught_to_the_daemon_says_so(house: House, browser: Browser) -> None:
    house.hear(**REDUCING)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#stages tr")).to_have_count(2)
        hidden_px = seen.page.locator(".wide").evaluate("(wide) => wide.scrollWidth - wide.clientWidth")
        assert hidden_px == 0  # the whole table on a phone, without sliding it
        cells = [row.locator("td").all_inner_texts() for row in seen.page.locator("#stages tr").all()]
        assert [[c.replace("\u00a0", " ") for c in row] for row in cells] == [
            ["fixed feed for 30 min", "10 %", "as needed"],
            ["climb at 121 °F/h to 1800 °F, medium reduction", "as needed", "as needed"],
        ]
        assert seen.complaints == []


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


def test_without_uplot_the_page_says_so_and_tells_all_else(house: House, record: KilnRecord, browser: Browser) -> None:
    record.climb(3, range(100))
    record.event(3, "state", "The climb to cone 6 began.")
    house.hear(record=str(record.path))
    with watching(browser, house.url, PHONE) as seen:
        seen.page.route("**/uPlot.iife.min.js", lambda route: route.fulfill(status=404))
        seen.page.reload()
        expect(seen.page.locator("#curve-note")).to_have_text(
            re.compile("^No curve: uPlot, which draws it, is missing")
        )
        expect(seen.page.locator("#chart")).to_be_hidden()
        expect(seen.page.locator("#chamber")).to_have_text("800 °C")
        expect(seen.page.locator("#events")).to_contain_text("The climb to cone 6 began.")
        assert [words for words in seen.complaints if "404" not in words] == []


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
