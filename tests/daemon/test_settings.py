"""The configuration: checked whole, and everything wrong is named at once."""

from pathlib import Path

import pytest

from daemon.fire.calibration import AIR_BY_PAIR, AIR_GUESSED, AIR_MEASURED, USUAL_RATIO
from daemon.fire.mixture import AIR_PER_KG
from daemon.plans.file import parse_plan
from daemon.settings import Settings, SettingsFault, load_settings, read_settings
from daemon.setup import setup_of


def test_the_built_in_settings_are_themselves_valid() -> None:
    whole = Settings().model_dump(exclude={"rig"})
    assert read_settings(whole, "built in") == Settings()


def test_everything_wrong_is_named_at_once() -> None:
    table: dict[str, object] = {
        "limits": {"chamber_c": 20, "flue_c": "hot", "chamber": 900},
        "air": {"gain_per_s": -1},
        "kilm": {},
    }
    with pytest.raises(SettingsFault) as told:
        read_settings(table, "stokehand.toml")
    message = str(told.value)
    for name in ("stokehand.toml", "limits.chamber_c", "limits.flue_c", "limits.chamber:", "air.gain_per_s", "kilm"):
        assert name in message


@pytest.mark.parametrize(
    "text",
    [
        "limits = 3",
        "[limits]\nchamber_c = nan",
        "[limits]\nchamber_c = inf",
        "[limits]\nchamber_c = true\nunknown = 1",
        "[attendance]\nevery_min = 0",
        "[attendance]\nhorn_after_min = 6\ntrip_after_min = 6",
        '[air]\nby = "servo"',
        "[kiln]\nfeed_ceiling_frac = 1.1",
        "[[limits]]\nchamber_c = 900",
        "not toml",
        "plan = 6\n[rig]\nfactory = 3",
    ],
)
def test_a_setting_that_can_not_be_used_stops_the_start(text: str, tmp_path: Path) -> None:
    path = tmp_path / "stokehand.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsFault, match=r"stokehand\.toml"):
        load_settings(path)


def test_a_file_that_is_not_there_or_not_text_is_a_settings_fault(tmp_path: Path) -> None:
    with pytest.raises(SettingsFault):
        load_settings(tmp_path / "none.toml")
    (tmp_path / "raw.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsFault):
        load_settings(tmp_path / "raw.toml")


def test_no_limit_is_not_the_same_as_a_limit_of_zero() -> None:
    assert Settings.model_validate({"limits": {"flue_c": None}}).limits.flue_c is None
    with pytest.raises(SettingsFault):
        read_settings({"limits": {"flue_c": 0}}, "s")


def test_the_rig_keeps_its_own_options_for_itself_to_check() -> None:
    settings = read_settings({"rig": {"factory": "a.b:c", "pins": {"auger": 17}}}, "s")
    assert settings.rig.factory == "a.b:c"
    assert settings.rig.options == {"pins": {"auger": 17}}


def test_the_purge_is_at_least_four_changes_of_the_chambers_air() -> None:
    """Four volume changes: the usual rule for burners, from memory (see the facts beside `purge_changes`)."""
    settings = read_settings({"kiln": {"chamber_m3": 2.0, "fan_m3_per_h": 60.0}}, "s")
    assert settings.purge_s == pytest.approx(4 * 2.0 / (60.0 / 3600))
    assert Settings().purge_s >= max(60.0, 4 * 0.12 / 60 * 3600)


def test_a_trip_before_the_horn_is_named_together_with_the_rest() -> None:
    table: dict[str, object] = {
        "attendance": {"horn_after_min": 6.0, "trip_after_min": 5.0},
        "limits": {"stale_s": -1.0},
    }
    with pytest.raises(SettingsFault) as told:
        read_settings(table, "stokehand.toml")
    assert "stale_s" in str(told.value)
    assert "trip_after_min" in str(told.value)


def test_an_absurd_number_is_a_settings_fault_too(tmp_path: Path) -> None:
    path = tmp_path / "stokehand.toml"
    path.write_text("[limits]\nchamber_c = " + "9" * 5000, encoding="utf-8")
    with pytest.raises(SettingsFault):
        load_settings(path)


@pytest.mark.parametrize(
    "limits",
    [
        {"burn_down_least_s": 3000, "burn_down_most_s": 2000},
        {"feed_tube_warn_c": 90, "feed_tube_c": 85},
        {"cold_c": 140, "open_c": 120},
        {"scan_late_s": 3},
        {"draught_least_pa": 0},
    ],
)
def test_limits_that_undo_an_interlock_are_refused(limits: dict[str, float]) -> None:
    with pytest.raises(SettingsFault, match="|".join(limits)):
        read_settings({"limits": limits}, "test")


PAIR = """
name = "n"
temperature = "C"
draught = "Pa"
[[stage]]
kind = "fixed"
feed = 10
for = "30 min"
[[stage]]
kind = "climb"
to = 600
rate = 100
feed = 30
draught = 30
"""
ALONE = PAIR.replace("feed = 30\ndraught = 30\n", "")


def test_air_that_was_measured_counts_before_a_pair_of_the_plan_and_a_pair_before_a_guess() -> None:
    """By hand: 2.7 kg/h of pellets at 1.3 times their air; the air goes with the draught's power 0.54, 25 for 30 Pa."""
    measured = read_settings({"air": {"kg_per_h_at_25_pa": 33.0}}, "s")
    means = setup_of(measured, parse_plan(PAIR, "p")).calibration
    assert (means.air_at_25_pa, means.air_std_frac) == (33.0, AIR_MEASURED)
    by_pair = setup_of(Settings(), parse_plan(PAIR, "p")).calibration
    assert by_pair.air_at_25_pa == pytest.approx(USUAL_RATIO * AIR_PER_KG * 2.7 * (25 / 30) ** 0.54)
    assert by_pair.air_std_frac == AIR_BY_PAIR
    guessed = setup_of(Settings(), parse_plan(ALONE, "p")).calibration
    assert guessed.air_std_frac == AIR_GUESSED
    assert AIR_MEASURED < AIR_BY_PAIR < AIR_GUESSED


def test_an_air_that_is_guessed_goes_by_the_size_of_the_kiln() -> None:
    """Eight times the volume is four times the grate's area."""
    plan = parse_plan(ALONE, "p")
    airs = [
        setup_of(read_settings({"kiln": {"chamber_m3": m3}}, "s"), plan).calibration.air_at_25_pa for m3 in (0.12, 0.96)
    ]
    assert airs[1] == pytest.approx(4 * airs[0])


@pytest.mark.parametrize(
    ("table", "key", "value"),
    [
        ("air", "kg_per_h_at_25_pa", 0),
        ("kiln", "charcoal_kg", -1),
        ("limits", "reduction_from_c", 400),
        ("limits", "reduction_most_min", -1),
    ],
)
def test_a_figure_that_no_kiln_has_is_refused(table: str, key: str, value: float) -> None:
    with pytest.raises(SettingsFault, match=f"{table}.{key}"):
        read_settings({table: {key: value}}, "s")
