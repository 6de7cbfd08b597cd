"""The daemon's side of the seam: its own code makes the golden statuses, and the window's model reads each strictly."""

from __future__ import annotations

import pytest

from daemon.course.state import State
from daemon.window import FIELDS, Status
from tests.window.golden import FOLDER, differences, golden, golden_bytes
from tests.window.scenes import SCENES, told

every_scene = pytest.mark.parametrize("scene", SCENES)


@every_scene
def test_the_daemon_tells_of_each_scene_what_is_kept(scene: str) -> None:
    assert differences(dict(told(scene)), golden(scene)) == []


@every_scene
def test_what_the_daemon_tells_is_read_strictly_and_nothing_of_it_is_dropped(scene: str) -> None:
    read = Status.model_validate_json(golden_bytes(scene))
    assert differences(read.model_dump(mode="json"), golden(scene)) == []
    assert list(golden(scene)) == list(FIELDS)


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
