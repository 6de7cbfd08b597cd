"""The configuration file that is made from the settings."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from daemon.command.config_file import commented_file, effective_file
from daemon.settings import Settings, Table, load_settings, read_settings


def test_it_changes_nothing_as_it_is_made_and_nothing_when_every_default_is_written_out() -> None:
    made = commented_file()
    assert read_settings(tomllib.loads(made), "made") == Settings()
    written_out = re.sub(r"^# (?=\w+ = )", "", made, flags=re.MULTILINE)
    assert "every_min = 20.0" in written_out
    assert read_settings(tomllib.loads(written_out), "written out") == Settings()


def test_every_key_of_every_table_is_in_it() -> None:
    made = commented_file()
    for name, field in Settings.model_fields.items():
        if isinstance(field.default, Table):
            assert f"[{name}]" in made
            for key in type(field.default).model_fields:
                assert f"# {key} " in made


def test_what_is_in_force_says_where_it_comes_from(tmp_path: Path) -> None:
    config = tmp_path / "stokehand.toml"
    config.write_text("[kiln]\nauger_kg_per_h = 7.5\n")
    lines = effective_file(load_settings(config), tomllib.loads(config.read_text())).splitlines()
    assert any(line.startswith("auger_kg_per_h = 7.5  # file;") for line in lines)
    assert any(line.startswith("charcoal_kg = 1.0  # default;") for line in lines)
