"""What each interlock finds, word for word and number for number, at its limit and just short of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import pytest

from daemon.beat import Beat
from daemon.control.feed import LEAST_WANTED, Feed, FeedLimit, air_enough_frac
from daemon.course.asks import Ask, Word
from daemon.course.attendance import Attendance, Call
from daemon.course.state import Course, State
from daemon.fire.auger import AugerWatch
from daemon.fire.bed import Bed
from daemon.fire.estimate import Estimate
from daemon.fire.mixture import AIR_PER_KG
from daemon.fire.probe_drift import Look, ProbeDrift
from daemon.fire.signs import FireSigns
from daemon.fire.trace import ProbeTrace
from daemon.interlocks import airflow, feeding, itself, people, temperatures
from daemon.interlocks.interlock import Evidence, Finds
from daemon.interlocks.scene import Scene
from daemon.settings import FeedRange, Settings
from daemon.units import DraughtUnit, TemperatureUnit
from hardware.port import NOT_FITTED, Blind, Blindness, Draught, NotFitted, Outputs, Readings, Temperature
from tests.daemon.house import good_readings, short_plan

NOW_S = 1000.0
PLAN = short_plan()
FAHRENHEIT = replace(PLAN, temperature=TemperatureUnit.F, draught=DraughtUnit.INH2O)
LAST = replace(good_readings(NOW_S - 0.1, 20.0), airflow_proven=True)
SETTINGS = Settings()
BASE = Scene(
    LAST, (), LAST, Outputs(), SETTINGS, SETTINGS.limits, PLAN,
    Beat(course=Course(State.CLIMBING, 900.0, 1, setpoint_c=500.0)), AugerWatch(driven_s=NOW_S), None,
)  # fmt: skip
SEEN = replace(good_readings(NOW_S, 500.0), airflow_proven=True, draught=Draught(30.0, 0.0, "fake"), flame_seen=True)
PER_KG = 3600 / 9.0


def hot(**probes: float | Blindness) -> Callable[[Readings], Readings]:
    """Probes at these temperatures, or blind."""
    quote = {n: Blind(v) if isinstance(v, Blindness) else Temperature(v, 0.0, "fake") for n, v in probes.items()}
    return lambda seen: replace(seen, probes={**seen.probes, **quote})


def show(**changes: object) -> Callable[[Readings], Readings]:
    """The image with these fields."""
    return lambda seen: replace(seen, **changes)  # type: ignore[arg-type]


def gauge(pa: float | Blindness | NotFitted, switch: object = True) -> Callable[[Readings], Readings]:
    """The draught gauge, and the airflow switch."""
    draught = pa if isinstance(pa, NotFitted) else Blind(pa) if isinstance(pa, Blindness) else Draught(pa, 0.0, "fake")
    return show(draught=draught, airflow_proven=switch)


def trace(**changes: Any) -> dict[str, Any]:
    """A chamber's trace that ends now."""
    return {"traces": {"chamber": ProbeTrace(NOW_S, 500.0, NOW_S, 500.0, NOW_S, 500.0)._replace(**changes)}}


def unproven(kg: float, slope_k_per_s: float = -0.05) -> dict[str, Any]:
    """So much fed without a sign of fire."""
    return {"fed_s": 500.0, "signs": FireSigns(NOW_S, 500.0, slope_k_per_s, 500.0 - kg * PER_KG)}


def mixed(of_wanted: float, feed_frac: float = 0.3, ratio: float = 1.2, burns_kg_per_h: float = 0.0) -> dict[str, Any]:
    """So much of the air wanted, at a feed of a 9 kg/h auger and with so much burning."""
    kg_per_h = of_wanted * AIR_PER_KG * max(feed_frac * 9.0, burns_kg_per_h) * max(ratio, LEAST_WANTED)
    estimate = Estimate(bed=Bed(gas_kg_per_h=burns_kg_per_h), air_kg_per_h=kg_per_h, air_ratio=1.0)
    known = air_enough_frac(feed_frac, ratio, estimate, FeedRange(0.04, 0.9, 9.0))
    return {"feed": Feed(feed_frac, wanted_air_ratio=ratio, air_enough_frac=known), "estimate": estimate}


def scene_with(known: dict[str, Any]) -> Scene:
    """The scene with these parts of it, of its beat, or of what the auger did."""
    beat = BASE.beat._replace(**{name: value for name, value in known.items() if name in Beat._fields})
    auger = BASE.auger._replace(**{name: value for name, value in known.items() if name in AugerWatch._fields})
    rest = {name: value for name, value in known.items() if name in Scene._fields}
    assert known.keys() == known.keys() & {*Beat._fields, *AugerWatch._fields, *Scene._fields}
    return BASE._replace(beat=beat, auger=auger)._replace(**rest)


@dataclass(frozen=True)
class Case:
    """An interlock's function, what it sees and knows, and what it must say; None where it must say nothing."""

    finds: Finds
    found: Evidence | None
    see: Callable[[Readings], Readings] = lambda seen: seen
    known: dict[str, Any] | None = None
    asks: tuple[Ask, ...] = ()


def e(words: str, value: float | None = None, limit: float | None = None, unit: str = "", about: str = "") -> Evidence:
    """Evidence."""
    return Evidence(words, value, limit, unit, about)


def late(gap_s: float, utc_s: float = 0.0) -> dict[str, Any]:
    """The scan before was so long ago, and the clock for people has stepped since."""
    seen = good_readings(NOW_S - gap_s)
    return {"last": replace(seen, utc_s=seen.utc_s - utc_s)}


def drifting(seems_k: float) -> ProbeDrift:
    """A heat balance whose look at the flue suspects so much."""
    return ProbeDrift(NOW_S, NOW_S, 500.0, (500.0, 500.0, 500.0), flue=Look(drift_k=seems_k))


OVERDUE = {"attendance": Attendance(NOW_S - 1600.0, Call.OVERDUE)}
OPEN = "open circuit: the thermocouple or its wire is broken or unplugged"
NO_SIGN = "{} kg fed without a sign that it burns; the chamber falls {} a minute and the eye {}; likeliest {}"
GLOW = "sees a glow", "an empty hopper or a bridge in it, then wet pellets"
DARK = "is dark", "an empty hopper or a bridge in it, then a grate choked by ash or by pellets that don't burn"
UNSEEN = " and the eye is dark"
DARK_EYE = "the flame eye has been dark for {}; likeliest " + DARK[1]
CASES = [
    Case(people.stop_button, e(""), show(stop_pressed=True)),
    Case(people.stop_button, None),
    Case(people.stop_button, None, show(stop_pressed=NOT_FITTED)),
    Case(people.stop_asked, e("page"), asks=(Ask(Word.HERE, "x"), Ask(Word.STOP, "page"))),
    Case(people.stop_asked, None, asks=(Ask(Word.HERE, "x"),)),
    Case(people.nobody_there, e("27 min", 1600.0, 26 * 60.0, "s"), known=OVERDUE),
    Case(people.nobody_there, None, known={"attendance": Attendance(0.0, Call.HORN)}),
    Case(people.co_alarm, e(""), show(co_alarm=True)),
    Case(people.co_alarm, None),
    Case(itself.scan_late, e("0.5 s after the one before, limit 0.5 s", 0.5, 0.5, "s"), known=late(0.5)),
    Case(itself.scan_late, None, known=late(0.49)),
    Case(itself.scan_late, None, known={"last": None}),
    Case(itself.scan_stopped, e("2.0 s after the one before, limit 2 s", 2.0, 2.0, "s"), known=late(2.0)),
    Case(itself.scan_stopped, None, known=late(1.9)),
    Case(itself.clock_odd, e("it stands still", 0.0, 0.0, "s"), known=late(0.0)),
    Case(itself.clock_odd, e("60 s back", -60.0, 0.0, "s"), known=late(-60.0)),
    Case(itself.clock_odd, None, known=late(0.001)),
    Case(itself.clock_odd, None, known={"last": None}),
    Case(itself.clock_set, e("2 min forward", 120.0, 60.0, "s"), known=late(0.5, 120.0)),
    Case(itself.clock_set, e("60 s back", -60.0, 60.0, "s"), known=late(0.5, -60.0)),
    Case(itself.clock_set, None, known=late(0.5, 59.0)),
    Case(itself.clock_set, None, known=late(59.9)),
    Case(itself.clock_set, None, known={"last": None}),
    Case(itself.record_trouble, e("full"), known={"record_trouble": "full"}),
    Case(itself.record_trouble, None),
    Case(temperatures.too_hot, e("chamber 1310 °C, limit 1310 °C", 1310.0, 1310.0, "°C"), hot(chamber=1310.0)),
    Case(temperatures.too_hot, e("flue 1351 °C, limit 1350 °C", 1351.0, 1350.0, "°C"), hot(flue=1351.0)),
    Case(temperatures.too_hot, None, hot(chamber=1309.9, flue=1349.9, limit=1329.9, other=1500.0)),
    Case(
        temperatures.too_hot, e("chamber 2390 °F, limit 2390 °F", 1310.0, 1310.0, "°C"), hot(chamber=1310.0),
        {"plan": FAHRENHEIT},
    ),
    Case(
        temperatures.rises_too_fast, e("20 °C a minute, limit 20 °C", 20.0, 20.0, "K/min"),
        known=trace(slope_k_per_s=20 / 60),
    ),
    Case(
        temperatures.rises_too_fast, e("36 °F a minute, limit 36 °F", 20.0, 20.0, "K/min"),
        known={**trace(slope_k_per_s=20 / 60), "plan": FAHRENHEIT},
    ),
    Case(temperatures.rises_too_fast, None, known=trace(slope_k_per_s=19.9 / 60)),
    Case(temperatures.rises_too_fast, None, known=trace(slope_k_per_s=1.0, value_c=None)),
    Case(temperatures.rises_too_fast, None),
    Case(
        temperatures.rises_too_fast, None,
        known={**trace(slope_k_per_s=49 / 60), "course": Course(State.WARM_UP, 900.0, 0)},
    ),
    Case(
        temperatures.rises_too_fast, e("51 °C a minute, limit 50 °C", 51.0, 50.0, "K/min"),
        known={**trace(slope_k_per_s=51 / 60), "course": Course(State.WARM_UP, 900.0, 0)},
    ),
    Case(temperatures.hotter_than_plan, e("30 °C above its setpoint", 30.0, 30.0, "K"), hot(chamber=530.0)),
    Case(temperatures.hotter_than_plan, None, hot(chamber=529.9)),
    Case(
        temperatures.hotter_than_plan, e("15 °C above its setpoint; the feed is at its least", 15.0, 15.0, "K"),
        hot(chamber=515.0),
        {"course": Course(State.SOAKING, setpoint_c=500.0), "feed": Feed(0.04, limited_by=FeedLimit.FLOOR)},
    ),
    Case(
        temperatures.hotter_than_plan, None, hot(chamber=514.9), {"course": Course(State.SOAKING, setpoint_c=500.0)}
    ),
    Case(
        temperatures.hotter_than_plan, e("31 °C above the end of the next climb", 31.0, 30.0, "K"),
        hot(chamber=131.0), {"course": Course(State.WARM_UP, stage=0), "plan": short_plan()},
    ),
    Case(
        temperatures.hotter_than_plan, None, hot(chamber=129.0),
        {"course": Course(State.WARM_UP, stage=0), "plan": short_plan()},
    ),
    Case(temperatures.hotter_than_plan, None, hot(chamber=Blindness.STALE)),
    Case(temperatures.hotter_than_plan, None, hot(chamber=900.0), {"course": Course(State.CLIMBING)}),
    Case(temperatures.probe_blind, e(f"chamber probe: {OPEN}"), hot(chamber=Blindness.OPEN_CIRCUIT)),
    Case(temperatures.probe_blind, e("limit probe: the value is too old"), hot(limit=Blindness.STALE)),
    Case(temperatures.probe_blind, None, hot(flue=Blindness.STALE)),
    Case(temperatures.draught_blind, e("the value is too old", about="draught gauge"), gauge(Blindness.STALE)),
    Case(temperatures.draught_blind, None, gauge(NOT_FITTED)),
    Case(temperatures.tube_blind, e("the value is too old", about="feed tube"), show(feed_tube=Blind(Blindness.STALE))),
    Case(temperatures.tube_blind, None),
    Case(temperatures.helper_blind, e("flue probe: the value is too old", about="flue"), hot(flue=Blindness.STALE)),
    Case(temperatures.helper_blind, None, hot(chamber=Blindness.STALE, limit=Blindness.STALE)),
    Case(
        temperatures.probe_frozen, e("chamber probe: 500 °C for 60 s", 60.0, 60.0, "s"),
        known=trace(same_since_s=NOW_S - 60),
    ),
    Case(temperatures.probe_frozen, None, known=trace(same_since_s=NOW_S - 59)),
    Case(temperatures.probe_frozen, None, known=trace(same_since_s=NOW_S - 99, value_c=None)),
    Case(
        temperatures.probe_frozen, e("limit probe: 500 °C for 2 min", 120.0, 60.0, "s"),
        known={"traces": {**trace()["traces"], "limit": ProbeTrace(NOW_S, 500.0, NOW_S - 120.0)}},
    ),
    Case(
        temperatures.probe_jumped, e("chamber probe: from 400 °C to 500 °C in 3 s", 100.0),
        known=trace(good_c=400.0, good_s=NOW_S - 3),
    ),
    Case(temperatures.probe_jumped, None, known=trace()),
    Case(temperatures.probe_jumped, None, known=trace(good_c=400.0, good_s=NOW_S - 3, value_c=None)),
    Case(temperatures.probes_apart, e("chamber 500 °C, limit 600 °C", 100.0, 100.0, "K"), hot(limit=600.0)),
    Case(temperatures.probes_apart, None, hot(limit=400.1)),
    Case(temperatures.probes_part, e("chamber 500 °C, limit 450 °C", 50.0, 50.0, "K"), hot(limit=450.0)),
    Case(temperatures.probes_part, None, hot(limit=549.9)),
    Case(temperatures.probes_part, None, hot(limit=Blindness.STALE)),
    Case(temperatures.probes_part, None, hot(chamber=Blindness.STALE, limit=900.0)),
    Case(temperatures.probes_part, None, lambda seen: replace(seen, probes={"chamber": seen.probes["chamber"]})),
    Case(
        temperatures.chamber_cold, e("0.6 kg were fed and the chamber reads 79 °C", 0.6, 0.6, "kg"), hot(chamber=79.0),
        {"fed_s": 0.6 * PER_KG},
    ),
    Case(temperatures.chamber_cold, None, hot(chamber=79.0), {"fed_s": 0.59 * PER_KG}),
    Case(temperatures.chamber_cold, None, hot(chamber=80.0), {"fed_s": PER_KG}),
    Case(temperatures.chamber_cold, None, hot(chamber=Blindness.STALE), {"fed_s": PER_KG}),
    Case(
        temperatures.tube_hot, e("85 °C, limit 85 °C", 85.0, 85.0, "°C"), show(feed_tube=Temperature(85.0, 0.0, "fake"))
    ),
    Case(temperatures.tube_hot, None, show(feed_tube=Temperature(84.9, 0.0, "fake"))),
    Case(temperatures.tube_hot, None, show(feed_tube=NOT_FITTED)),
    Case(
        temperatures.tube_warm, e("60 °C, limit 60 °C", 60.0, 60.0, "°C"),
        show(feed_tube=Temperature(60.0, 0.0, "fake")),
    ),
    Case(
        temperatures.tube_hot_cooling, e("121 °C, limit 120 °C", 121.0, 120.0, "°C"),
        show(feed_tube=Temperature(121.0, 0.0, "fake")),
    ),
    Case(temperatures.tube_hot_cooling, None, show(feed_tube=Temperature(119.0, 0.0, "fake"))),
    Case(temperatures.probe_drifts, None, known={"drift": drifting(44.0)}),
    Case(temperatures.probe_drifts, None),
    Case(
        temperatures.probe_drifts, e("about 76 °C too low by the heat balance", 76.0, 45.0, "K"),
        known={"drift": drifting(76.0)},
    ),
    Case(airflow.no_airflow, None, gauge(0.0)),
    Case(
        airflow.no_airflow,
        e("the airflow switch is open; the fan is driven at 0 %, and the gauge reads 30 Pa; likeliest the switch, "
          "its hose or its wire"),
        gauge(30.0, False)),
    Case(airflow.no_airflow, e("draught 2 Pa, needs 2 Pa", 1.9, 2.0, "Pa"), gauge(1.9, NOT_FITTED)),
    Case(airflow.no_airflow, None, gauge(2.0, NOT_FITTED)),
    Case(airflow.no_airflow, e("the draught gauge can't be believed"), gauge(Blindness.STALE, NOT_FITTED)),
    Case(airflow.no_airflow, e("no airflow switch and no draught gauge is fitted"), gauge(NOT_FITTED, NOT_FITTED)),
    Case(airflow.gauge_flat, e("draught 2 Pa, needs 2 Pa; the switch is closed", 1.9, 2.0, "Pa"), gauge(1.9)),
    Case(airflow.gauge_flat, None, gauge(2.0)),
    Case(airflow.gauge_flat, None, gauge(1.0, False)),
    Case(airflow.gauge_flat, None, gauge(Blindness.STALE)),
    Case(airflow.fan_idle, e("fan at 25 %", 0.25), gauge(30.0, False), {"done": Outputs(fan_frac=0.25)}),
    Case(airflow.fan_idle, e("fan at 100 %", 1), gauge(0.0, NOT_FITTED), {"done": Outputs(fan_frac=1)}),
    Case(airflow.fan_idle, None, gauge(30.0, False), {"done": Outputs(fan_frac=0.23)}),
    Case(airflow.fan_idle, None, gauge(30.0, False), {"done": Outputs(fan_frac=NOT_FITTED)}),
    Case(airflow.fan_idle, None, gauge(30.0), {"done": Outputs(fan_frac=1.0)}),
    Case(airflow.fan_idle, None, gauge(NOT_FITTED, NOT_FITTED), {"done": Outputs(fan_frac=1.0)}),
    Case(
        airflow.air_low, e("8 Pa at 30 % feed is 44 % of the air wanted for the fuel, limit 45 %", 0.44, 0.45,
                       "of the air wanted"), gauge(8.0), mixed(0.44),
    ),
    Case(airflow.air_low, None, gauge(8.0), mixed(0.45)),
    Case(
        airflow.air_scant, e("8 Pa at 30 % feed is 64 % of the air wanted for the fuel, limit 65 %", 0.64, 0.65,
                         "of the air wanted"), gauge(8.0), mixed(0.64),
    ),
    Case(airflow.air_scant, None, gauge(8.0), mixed(0.65)),
    Case(
        # what burns counts, though a third of it is fed: 0.9 kg/h fed, 2.7 burn
        airflow.air_scant, e("8 Pa at 10 % feed is 50 % of the air wanted for the fuel, limit 65 %", 0.5, 0.65,
                         "of the air wanted"), gauge(8.0), mixed(0.5, feed_frac=0.1, burns_kg_per_h=2.7),
    ),
    Case(
        # a reduction wants less air, and the interlock no less than nine tenths of what just burns the fuel
        airflow.air_scant, e("8 Pa at 30 % feed is 60 % of the air wanted for the fuel, limit 65 %", 0.6, 0.65,
                         "of the air wanted"), gauge(8.0), mixed(0.6, ratio=0.82),
    ),
    Case(airflow.air_scant, None, gauge(0.0), mixed(0.1, feed_frac=0.0, burns_kg_per_h=2.7)),
    Case(airflow.air_scant, None, gauge(Blindness.STALE), mixed(0.1)),
    Case(airflow.air_scant, None, gauge(NOT_FITTED), mixed(0.1)),
    Case(airflow.air_scant, None, gauge(0.0), {**mixed(0.1), "feed": Feed(0.3)}),  # nothing was wanted yet
    Case(airflow.air_scant, None, gauge(0.0), {**mixed(0.1), "course": Course(State.BURN_DOWN)}),
    Case(
        airflow.air_scant, e("-1 Pa at 30 % feed is 0 % of the air wanted for the fuel, limit 65 %", 0.0, 0.65,
                         "of the air wanted"), gauge(-1.0), mixed(0.0),
    ),
    Case(
        feeding.eye_dark, e(DARK_EYE.format("45 s"), 45.0, 45.0, "s"), show(flame_seen=False),
        {"signs": FireSigns(0.0, flame_s=NOW_S - 45)},
    ),
    Case(feeding.eye_dark, None, show(flame_seen=False), {"signs": FireSigns(0.0, flame_s=NOW_S - 44.9)}),
    Case(feeding.eye_dark, None, show(flame_seen=True), {"signs": FireSigns(0.0, flame_s=0.0)}),
    Case(feeding.eye_dark, None, show(flame_seen=NOT_FITTED)),
    Case(
        feeding.eye_dark, e(DARK_EYE.format("2 min"), 100.0, 45.0, "s"), show(flame_seen=False),
        {"signs": FireSigns(0.0)},
    ),  # never seen: since the state began
    Case(
        feeding.fire_out, e(NO_SIGN.format("0.25", "3.0 °C", *DARK).replace(UNSEEN, ""), 0.25, 0.24, "kg"),
        show(flame_seen=NOT_FITTED), unproven(0.25),
    ),
    Case(
        feeding.fire_out, e(NO_SIGN.format("0.25", "5.4 °F", *DARK), 0.25, 0.24, "kg"),
        show(flame_seen=False), {**unproven(0.25), "plan": FAHRENHEIT},
    ),
    Case(feeding.fire_out, None, show(flame_seen=NOT_FITTED), unproven(0.239)),
    Case(feeding.fire_out, None, show(flame_seen=True), unproven(0.25)),
    Case(
        feeding.feed_idle, e(NO_SIGN.format("0.25", "3.0 °C", *GLOW), 0.25, 0.24, "kg"),
        show(flame_seen=True), unproven(0.25),
    ),
    Case(feeding.feed_idle, None, show(flame_seen=NOT_FITTED), unproven(0.25)),
    Case(
        feeding.feed_doubtful,
        e(NO_SIGN.format("0.19", "3.0 °C", *GLOW), 0.19, 0.18, "kg"),
        known=unproven(0.19),
    ),
    Case(feeding.feed_doubtful, None, known=unproven(0.179)),
    Case(
        feeding.not_proven, e("not within 20 min", 1200.0, 1200.0, "s"),
        known={"course": Course(State.FIRE_PROVING, NOW_S - 1200)},
    ),
    Case(feeding.not_proven, None, known={"course": Course(State.FIRE_PROVING, NOW_S - 1199)}),
    Case(
        feeding.auger_shorted, e("the feed contact reads closed"),
        known={"done": Outputs(True), "driven_s": NOW_S - 9},
    ),
    Case(feeding.auger_shorted, None, known={"done": Outputs(True), "driven_s": NOW_S - 0.1}),
    Case(feeding.auger_shorted, None, known={"done": Outputs(False), "driven_s": NOW_S - 9}),
    Case(feeding.auger_shorted, None, known={"done": Outputs(True), "last": None}),
    Case(feeding.auger_runs, e("its shaft turns"), show(shaft_turning=True), {"driven_s": NOW_S - 3.0}),
    Case(feeding.auger_runs, None, show(shaft_turning=True), {"driven_s": NOW_S - 2.9}),
    Case(feeding.auger_runs, None, show(shaft_turning=NOT_FITTED), {"driven_s": NOW_S - 9}),
    Case(
        feeding.auger_unseen, e("its shaft turns on through the pauses", 3.0, 3.0, "s"), show(shaft_turning=True),
        {"paused_turning_s": 3.0},
    ),
    Case(feeding.auger_unseen, None, show(shaft_turning=True), {"paused_turning_s": 2.9}),
    Case(feeding.auger_unseen, None, show(shaft_turning=False), {"paused_turning_s": 9.0}),
    Case(
        feeding.auger_still, e("driven for 5 s and its shaft does not turn", 5.0, 5.0, "s"), show(shaft_turning=False),
        {"fed_s": 105.0, "turned_fed_s": 100.0},
    ),
    Case(feeding.auger_still, None, show(shaft_turning=False), {"fed_s": 104.9, "turned_fed_s": 100.0}),
    Case(feeding.auger_still, None, show(shaft_turning=True), {"fed_s": 105.0, "turned_fed_s": 100.0}),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.finds.__name__}: {c.found.words if c.found else 'nothing'}")
def test_an_interlock_finds_what_it_looks_for_with_its_value_and_its_limit(case: Case) -> None:
    found = case.finds(scene_with(case.known or {})._replace(readings=case.see(SEEN), asks=case.asks))
    if case.found is None or found is None:
        assert found == case.found
        return
    assert (found.words, found.unit, found.about) == (case.found.words, case.found.unit, case.found.about)
    assert numbers(found) == numbers(case.found)


def numbers(found: Evidence) -> list[float | None]:
    """Value and limit, without the last bits."""
    return [None if number is None else round(number, 9) for number in (found.value, found.limit)]
