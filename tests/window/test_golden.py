"""The daemon's side of the seam: its own code makes the golden statuses, and the window's model reads each strictly."""

from __future__ import annotations

import re

import pytest

from daemon.course.answers import answer
from daemon.course.asks import Ask, Word
from daemon.course.state import State
from daemon.window import FIELDS, Status
from tests.window.golden import FOLDER, differences, golden, golden_bytes
from tests.window.scenes import SCENES, memory_of, told

every_scene = pytest.mark.parametrize("scene", SCENES)


@every_scene
def test_the_daemon_tells_of_each_scene_what_is_kept(scene: str) -> None:
    assert differences(dict(told(scene)), golden(scene)) == []


@every_scene
def test_what_the_daemon_tells_is_read_strictly_and_nothing_of_it_is_dropped(scene: str) -> None:
    read = Status.model_validate_json(golden_bytes(scene))
    assert differences(read.model_dump(mode="json"), golden(scene)) == []
    assert list(golden(scene)) == list(FIELDS)


REFUSED = {("cooling", "made_ready"): r"the chamber is at \d+ °C: it can't have been opened yet"}
"""What a scene offers and refuses nevertheless, with its reason."""


@every_scene
def test_what_a_scene_offers_is_taken_but_for_what_the_kiln_is_too_hot_for(scene: str) -> None:
    memory = memory_of(scene)
    assert memory.readings is not None
    for wanted in golden(scene)["wanted"]:
        found = answer(Ask(Word(wanted["ask"])), memory.readings, memory.circumstances)
        reason = REFUSED.get((scene, wanted["ask"]))
        assert found.accepted is (reason is None)
        assert re.fullmatch(reason or "", found.why)


def test_no_kept_status_is_left_over() -> None:
    assert {path.stem for path in FOLDER.glob("*.json")} == SCENES.keys()


def test_the_scenes_show_every_state() -> None:
    assert {golden(scene)["state"] for scene in SCENES} == {state.value for state in State}


def test_a_difference_is_found_and_named() -> None:
    kept = golden("tripped")
    assert differences({**kept, "now_s": 1.0}, kept)[0].startswith(".now_s: 1.0")
    assert differences({**kept, "auger": 0}, kept) == [".auger: 0, kept False"]
    assert differences({**kept, "notices": []}, kept)
    assert differences({**kept, "more": 1}, kept)
