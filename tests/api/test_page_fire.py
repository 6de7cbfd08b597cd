"""What the page says of the fire: its air, its feed with the terms, the heat it takes, and a reduction's warning."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

from daemon.control.feed import FeedLimit
from tests.api.browser import PHONE, watching
from tests.api.fake_daemon import NUMBERS
from tests.api.house import House


def test_air_fuel_and_heat_are_told_with_how_sure_they_are(house: House, browser: Browser) -> None:
    house.hear(**NUMBERS)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        assert seen.row("Air for the fuel") == (
            "1.24 ± 0.19 / wanted 1.32; 1 is just enough / reckoned from draught and feed"
        )  # 1.243 * 0.15 = 0.186
        assert seen.row("Burning") == "2.27 kg/h / in 15.80 kg/h of air"
        assert seen.row("Atmosphere") == "oxidation"
        assert seen.row("Kiln takes") == (
            "0.84 kg/h / for its walls, in pellets by heat / \u22120.06 kg/h load: not explained"
            " / 4.2 g for each °C more / chamber by this balance 801 °C"
        )
        expect(seen.page.locator("#caution")).to_be_hidden()
        assert seen.complaints == []


def test_a_reduction_warns_of_carbon_monoxide_for_as_long_as_it_is_wanted(house: House, browser: Browser) -> None:
    reducing = {
        "air_ratio": 0.912, "air_std_frac": 0.02, "oxygen_air_ratio": 0.904, "air_factor": 1.12, "reduced_s": 1500.0,
        "mass_kg_per_k": 0.0042,
    }  # fmt: skip
    house.hear("reduction", **reducing)
    with watching(browser, house.url, PHONE) as seen:
        caution = seen.page.locator("#caution")
        expect(caution).to_contain_text("Carbon monoxide")
        expect(caution).to_be_in_viewport(ratio=1)
        expect(seen.page.locator("#stage")).to_contain_text("medium reduction")
        assert seen.row("Air for the fuel") == (
            "0.91 ± 0.02 / wanted 0.90; 1 is just enough / measured: the oxygen probe reads 0.90"
            " / learnt: 1.12 times the air by the draught"
        )
        assert seen.row("Atmosphere") == "medium reduction / reduced for 25 min in this firing"
        assert "2.3 g for each °F more" in seen.row("Kiln takes")  # 4.2 g / 1.8
        house.hear("reduction", wanted_air_ratio=1.0, reduced_s=0.0)  # too cold for it, say
        expect(caution).to_be_hidden()
        assert seen.row("Atmosphere") == "medium reduction / not now: the fire is given enough air"
        house.hear("reduction", wanted_air_ratio=0.99)
        expect(caution).to_be_visible()
        house.hear("reduction", wanted_air_ratio=None)
        expect(caution).to_be_hidden()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"air_ratio": None}, "not known / wanted 1.32; 1 is just enough / no instrument tells: go by the flame"),
        ({"air_ratio": None, "oxygen_air_ratio": 1.2},
         "1.20 / wanted 1.32; 1 is just enough / measured: the oxygen probe"),
        ({"air_ratio": 31.0, "wanted_air_ratio": None},
         "over 5 / none wanted now; 1 is just enough / reckoned from draught and feed"),
        ({"air_factor": 0.91, "air_std_frac": 0.05, "air_aside_frac": -0.0597},
         "1.24 ± 0.06 / wanted 1.32; 1 is just enough / reckoned from draught and feed"
         " / learnt: 0.91 times the air by the draught / 6 % less just now, to see what the kiln makes of it"),
        ({"air_aside_frac": 0.06},
         "1.24 ± 0.19 / wanted 1.32; 1 is just enough / reckoned from draught and feed"
         " / 6 % more just now, to see what the kiln makes of it"),
    ],
    ids=["no gauge", "the probe alone", "embers", "less air tried", "more air tried"],
)  # fmt: skip
def test_an_air_ratio_is_no_surer_than_its_instruments(
    house: House, browser: Browser, changes: dict[str, object], told: str
) -> None:
    house.hear(**{**NUMBERS, **changes})
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        assert seen.row("Air for the fuel") == told


@pytest.mark.parametrize(
    ("owed_s", "told"),
    [
        (None, ""), (20.0, ""), (130.0, " / 2 min of heat work owed: the setpoint rises a little for it"),
        (-60.0, " / 1 min of heat work beyond the plan: the setpoint falls a little for it"),
    ],
)  # fmt: skip
def test_a_soak_that_makes_up_for_heat_work_says_so(
    house: House, browser: Browser, owed_s: float | None, told: str
) -> None:
    house.hear("soaking", estimated_chamber_c=801.2, work_owed_s=owed_s)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Soaking")
        assert seen.row("Kiln takes").endswith(f"chamber by this balance 801 °C{told}")


WORDS_OF_LIMIT = {
    FeedLimit.NONE: None,
    FeedLimit.FLOOR: "held up: this is the least that keeps the fire alive",
    FeedLimit.CEILING: "held back: the auger turns as much as it may",
    FeedLimit.AIR: "held back: the air can burn no more",
    FeedLimit.UNGAUGED: "held back: without a gauge nobody knows the air",
    FeedLimit.EMBERS: "held back: the embers take no more yet",
    FeedLimit.ASKS: "a little more for a minute: does the kiln get warmer by it?",
    FeedLimit.JAM: "left as it was: the auger does not turn",
    FeedLimit.BLIND: "left as it was: the chamber can’t be read",
}


@pytest.mark.parametrize("limit", [limit for limit in FeedLimit if limit is not FeedLimit.FIXED])
def test_the_limit_that_acted_on_the_feed_is_told_under_its_terms(
    house: House, browser: Browser, limit: FeedLimit
) -> None:
    house.hear(**NUMBERS, limited_by=limit.value)
    told = WORDS_OF_LIMIT[limit]
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text("Climbing")
        terms = [
            "31 %", "+30.0 feed-forward: for the setpoint", "+2.0 P: the gap to the setpoint",
            "\u22120.6 I: learnt on the way", "0.0 D: coming anyway",
        ]  # fmt: skip
        assert seen.row("Feed").split(" / ") == [*terms, *([told] if told else [])]


@pytest.mark.parametrize(
    ("scene", "state", "told"),
    [("warm_up", "Warm-up", "10 % / as the plan has it for this stage"), ("cold", "Cold", "0 %")],
    ids=["the stage's own", "no feed"],
)
def test_a_feed_without_a_line_has_no_terms(house: House, browser: Browser, scene: str, state: str, told: str) -> None:
    house.hear(scene)
    with watching(browser, house.url, PHONE) as seen:
        expect(seen.page.locator("#state")).to_have_text(state)
        assert seen.row("Feed") == told
