"""Write the golden statuses anew, after a change of what is told: `python -m tests.window.make`. Read the diff."""

from __future__ import annotations

from tests.window.golden import FOLDER, path_of, written
from tests.window.scenes import SCENES, told


def main() -> None:
    """Write each scene's status, and take away what is no scene any more."""
    for left in {path.stem for path in FOLDER.glob("*.json")} - SCENES.keys():
        path_of(left).unlink()
    for scene in SCENES:
        path_of(scene).write_bytes(written(told(scene)))


if __name__ == "__main__":
    main()
