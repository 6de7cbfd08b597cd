"""The page as a person sees it, on a phone and on a laptop."""

from __future__ import annotations

import json
import re
from itertools import product
from typing import Literal

import pytest
from playwright.sync_api import Browser, expect

from daemon.window import STOPPED
from tests.api.browser import LAPTOP, PHONE, watching
from tests.api.fake_daemon import NUMBERS
from tests.api.house import House
from tests.api.kiln_record import KilnRecord
from tests.window.golden import golden
from tests.window.scenes import SCENES

pytestmark = pytest.mark.slow

both_screens = pytest.mark.parametrize("size", [PHONE, LAPTOP], ids=["phone", "laptop"])
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
OWN_PLACES = {"here", "stop", "burn_down"}


@both_screens
def test_a_climbing_kiln_is_told_in_plain_words(
    house: House, record: KilnRecord, browser: Browser, size: tuple[int, int]
) -> None:
    record.climb(3, range(0, 9000, 10))
    record.event(3, "state", "The climb to cone 6 began.")
    house.hear(**NUMBERS, record=str(record.path))
    with watching(browser, house.url, size) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        expect(seen.page.locator("#stage")).to_have_text(
            "Stage 4 of 5, to cone 6: climb at 100 °C/h to cone 6 (1234 °C)"
        )  # between 1222 °C at 60 °C/h and 1243 °C at 150 °C/h (published end points, see daemon/plans/cones.py)
        expect(seen.page.locator("#heading")).to_have_text("Firing 3 · Bowls, cone 6 · 8 h 30 min")
        expect(seen.page.locator("#chamber")).to_have_text("800 °C")
        expect(seen.page.locator("#setpoint")).to_have_text("Setpoint 803 °C, 3 °C below")
        expect(seen.page.locator("#due")).to_have_text("Next look-in due in 12:42")
        readings = seen.text("#readings")
        for words in ("36.1 Pa", "setpoint 37.4 Pa", "31 %", "+30.0 feed-forward", "+2.0 P", "\u22120.6 I", "0.0 D",
                      "still", "512 °C", "798 °C", "27.2 kg", "1.5 bags of 40 lb", "40 %", "50 % open",
                      "seen"):  # fmt: skip
            assert words in readings
        expect(seen.page.locator("#stages tr[aria-current=step] th")).to_contain_text("to cone 6")
        expect(seen.page.locator("#chart canvas")).to_be_visible()
        expect(seen.page.locator("#chart")).to_have_attribute(
            "aria-label", re.compile(r"^Curve of 2\sh 30\smin: chamber now 270\s°C, plan ends 9\sh 52\smin from now$")
        )  # (1233.7 - 271.7) °C at 100 °C/h are 9 h 37 min; the soak after it adds 15 min
        expect(seen.page.locator("#events")).to_contain_text("The climb to cone 6 began.")
        for words in ("Never leave a burning kiln", "Carbon monoxide", "Infrared eye protection", "not a certified"):
            assert words in seen.text(".safety")
        expect(seen.page.locator("#rehearsal")).to_be_hidden()
        expect(seen.page.locator("#lost")).to_be_hidden()
        assert seen.too_wide_by() <= 0
        assert seen.complaints == []


def test_every_scene_has_its_state_its_questions_and_no_complaint(house: House, browser: Browser) -> None:
    house.hear()
    with watching(browser, house.url, PHONE) as seen:
        for scene in SCENES:
            house.hear(scene)
            status = house.client.get("/status").json()
            asks = [wanted["ask"] for wanted in status["wanted"]]
            expect(seen.page.locator("#state")).to_have_text(status["state"].capitalize())
            buttons = seen.page.locator("#wanted button")
            expect(buttons).to_have_text([w["words"] for w in status["wanted"] if w["ask"] not in OWN_PLACES])
            expect(seen.page.locator("#here")).to_be_visible(visible="here" in asks)
            expect(seen.page.locator("#end")).to_be_visible(visible="burn_down" in asks)
            expect(seen.page.locator("#stop")).to_be_visible()
            expect(seen.page.locator("#notices .card")).to_have_count(len(status["notices"]))
            heading = "No firing" if status["firing"] is None else "Firing 3"
            expect(seen.page.locator("#heading")).to_have_text(re.compile(f"^{heading} · "))
            assert seen.too_wide_by() <= 0, scene
            shown = seen.text("#readings")
            assert not re.search(r"null|undefined|NaN", shown), scene
            for name, burns in (("Air for the fuel", status["lit"]), ("Burning", status["lit"])):
                assert (name in shown) is burns, scene
            assert ("Kiln takes" in shown) is (status["estimated_chamber_c"] is not None), scene
        assert seen.complaints == []


@pytest.mark.parametrize("scene", ["climbing", "called", "tripped", "cold", "reduction", "blind", "waiting_for_air"])
def test_nothing_is_faint_or_runs_off_the_screen(house: House, browser: Browser, scene: str) -> None:
    house.hear(scene, rehearsal=True)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text(str(golden(scene)["state"]).capitalize())
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
    house.hear("reduction", chamber_c=800.0, setpoint_c=803.0, draught_pa=37.4)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#chamber")).to_have_text("1472 °F")  # 800 * 9/5 + 32
        expect(seen.page.locator("#setpoint")).to_have_text("Setpoint 1477 °F, 5 °F below")  # a difference has no +32
        expect(seen.page.locator("#stage")).to_contain_text("at 120 °F/h to 1800 °F")  # as the plan has it
        assert "0.150 in. w.c." in seen.text("#readings")  # 37.4 Pa / 249.089 (NIST SP 811)


def test_a_cold_kiln_has_no_firing_and_nothing_burns_in_it(house: House, browser: Browser) -> None:
    house.hear("cold")
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#heading")).to_have_text("No firing · Bowls, cone 6")
        expect(seen.page.locator("#state")).to_have_text("Cold")
        expect(seen.page.locator("#here")).to_be_hidden()
        told = seen.text("#readings")
        assert "Draught" in told
        assert not [w for w in ("Air for the fuel", "Burning", "Atmosphere", "Kiln takes") if w in told]
        expect(seen.page.locator("#caution")).to_be_hidden()
        assert seen.complaints == []


def test_a_kiln_with_nothing_fitted_shows_no_rows_for_it(house: House, browser: Browser) -> None:
    house.hear("bare")
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Made ready")
        expect(seen.page.locator("#readings dt")).to_have_text(["Feed", "Auger", "Pellets so far"])
        house.hear("without_gauge", draught_setpoint_pa=20.0)
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        assert seen.row("Draught") == "setpoint 20.0 Pa / by the gauge and the hand"
        assert seen.row("Auger").endswith("shaft not watched")
        assert seen.complaints == []


def test_probes_beyond_the_usual_are_shown_by_their_names(house: House, browser: Browser) -> None:
    house.hear("reduction", more_probes_c={"door": 250.0, "hopper": None}, blind={"hopper": "no reading yet"})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        assert seen.row("door") == "482 °F"  # 250 * 9/5 + 32
        assert seen.row("hopper") == "Blind / no reading yet"


def test_a_plan_that_leaves_feed_and_draught_to_the_daemon_says_so(house: House, browser: Browser) -> None:
    house.hear("reduction")
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#stages tr")).to_have_count(3)
        hidden_px = seen.page.locator(".wide").evaluate("(wide) => wide.scrollWidth - wide.clientWidth")
        assert hidden_px == 0  # the whole table on a phone, without sliding it
        cells = [row.locator("td").all_inner_texts() for row in seen.page.locator("#stages tr").all()]
        assert [[c.replace("\u00a0", " ") for c in row] for row in cells] == [
            ["fixed feed for 5 min", "10 %", "as needed"],
            ["climb at 700 °F/h to 1400 °F", "as needed", "as needed"],
            ["climb at 120 °F/h to 1800 °F, medium reduction", "as needed", "as needed"],
        ]
        assert seen.complaints == []


def test_a_question_s_button_sends_the_answer_and_the_outcome_is_told(house: House, browser: Browser) -> None:
    house.hear("cold")
    with watching(browser, house.url, PHONE) as seen:
        seen.page.get_by_role("button", name="Ware and cones are in").click()
        asked = house.daemon.next_ask()
        assert asked["ask"] == "made_ready"
        expect(seen.page.locator("#reply")).to_contain_text("Waiting for the kiln")
        why = "the chamber is at 180 °C: it can't have been opened yet"
        house.hear("cold", answered=[{"nonce": asked["nonce"], "ask": "made_ready", "accepted": False, "why": why}])
        expect(seen.page.locator("#reply")).to_contain_text("The kiln refuses")
        expect(seen.page.locator("#reply")).to_contain_text(why)
        house.hear("purge")
        expect(seen.page.locator("#questions")).to_be_hidden()
        assert seen.complaints == []


def test_i_am_here_is_one_tap_away_when_the_kiln_calls(house: House, browser: Browser) -> None:
    house.hear("called", attendance={"level": "horn", "due_in_s": -225.0})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#due")).to_have_text("The kiln is calling you, 3:45 late")
        expect(seen.page.locator("#here")).to_be_in_viewport(ratio=1)
        seen.page.get_by_role("button", name="I am here").click()
        assert house.daemon.next_ask()["ask"] == "here"
        house.hear("called", attendance={"level": "reminder", "due_in_s": -5.0})
        expect(seen.page.locator("#due")).to_have_text("Time to look in, 0:05 late")
        house.hear("called", attendance={"level": "overdue", "due_in_s": -361.0})
        expect(seen.page.locator("#due")).to_have_text("Nobody has answered, 6:01 late: go to the kiln now")


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
    house.hear()
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
        words = {"happened": "kiln.auger: wrong.", "did": "No daemon runs.", "do_next": "Correct the file."}
        (house.channel / STOPPED).write_text(json.dumps(words))
        expect(seen.page.locator("#lost")).to_contain_text("kiln.auger: wrong. No daemon runs. Correct the file.")
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
    house.hear("tripped")
    with watching(browser, house.url, PHONE) as seen:
        cards = seen.page.locator("#notices .card")
        expect(cards).to_have_count(4)
        expect(cards.nth(0)).to_contain_text("came first")
        expect(cards.nth(0)).to_contain_text("Airflow lost: the airflow switch is open; the fan is driven at 100 %")
        expect(cards.nth(0)).to_contain_text("Look at the fan, the damper and the flue")
        expect(cards.nth(0).locator(".standing")).to_have_text("latched until the reset")
        expect(cards.nth(0).locator(".since")).to_have_text("for 1 min")  # 89.9 s
        expect(cards.nth(1)).to_contain_text("Trip")
        expect(cards.nth(1)).to_contain_text("The carbon monoxide alarm sounds")
        expect(cards.nth(1)).not_to_contain_text("came first")
        expect(cards.nth(1).locator(".since")).to_have_text("just now")
        expect(cards.nth(2)).to_contain_text("Warning")
        expect(cards.nth(0)).to_be_in_viewport(ratio=0.9)
        assert seen.page.title() == "Trip: Locked out"
        house.hear("waiting_for_air")
        expect(cards).to_have_count(2)
        expect(cards.nth(1)).to_contain_text("Note")
        expect(cards.nth(1).locator(".standing")).to_have_count(0)


def test_a_blind_chamber_shows_no_number(house: House, browser: Browser) -> None:
    reason = "open circuit: the thermocouple or its wire is broken or unplugged"
    house.hear("blind", setpoint_c=803.0)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#chamber")).to_have_text("Blind")
        expect(seen.page.locator("#setpoint")).to_have_text(f"{reason}, Setpoint 803 °C")
        assert seen.row("Flue") == "Blind / the amplifier's own temperature (cold junction) is out of range"
        assert seen.row("Feed tube").startswith("Blind / the data line reads all zeros")
        house.hear("blind", setpoint_c=803.0, draught_pa=None, blind={"chamber": reason, "draught": "no reading yet"})
        expect(seen.page.locator("#readings")).not_to_contain_text("cold junction")
        assert seen.row("Draught") == "Blind / no reading yet"
        assert "Flue" not in seen.text("#readings")  # not fitted now


def test_a_rehearsal_can_not_be_taken_for_a_firing(house: House, browser: Browser) -> None:
    house.hear(rehearsal=True)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#rehearsal")).to_contain_text("simulated kiln")


def test_words_from_a_person_s_files_stay_words(house: House, browser: Browser) -> None:
    sly = '<img src="x" onerror="document.title=1"><b>bold</b>'
    plan = golden("climbing")["plan"]
    plan["name"] = plan["stages"][3]["name"] = sly
    house.hear(plan=plan, more_probes_c={sly: 20.0})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#heading")).to_contain_text(sly)
        expect(seen.page.locator("#stage")).to_contain_text(sly)
        expect(seen.page.locator("#stages tr[aria-current=step] th")).to_contain_text(sly)
        expect(seen.page.locator("#readings")).to_contain_text(sly)
        assert seen.complaints == []


def test_without_uplot_the_page_says_so_and_tells_all_else(house: House, record: KilnRecord, browser: Browser) -> None:
    record.climb(3, range(100))
    record.event(3, "state", "The climb to cone 6 began.")
    house.hear(record=str(record.path), chamber_c=800.0)
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
