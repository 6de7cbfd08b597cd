"""uPlot comes from npm when the project is built: what is pinned, what is put where, and what the packages hold."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from api.npm.hook import KEPT, Npm, NpmFault, is_there, put

ROOT = Path(__file__).parents[2]
LOCK = ROOT / "api" / "npm" / "package-lock.json"

# What npm 11 said when nothing listened at the registry's address, and when the hash in the lock file was a wrong one.
REFUSED = """npm error code ECONNREFUSED
npm error errno ECONNREFUSED
npm error FetchError: request to http://127.0.0.1:9/uplot failed, reason: connect ECONNREFUSED 127.0.0.1:9
npm error     at ClientRequest.<anonymous> (/somewhere/minipass-fetch/lib/index.js:130:14)
"""
TAMPERED = """npm error code EINTEGRITY
npm error Integrity checksum failed when using sha512: wanted sha512-A== but got sha512-K==.
"""


def npm_that_brings(words: str) -> Npm:
    """An npm that fetches a package whose files say these words."""

    def npm(arguments: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
        assert (folder / "package.json").is_file() and (folder / "package-lock.json").is_file()
        for kept in KEPT:
            file = folder / "node_modules" / "uplot" / kept
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(words)
        return subprocess.CompletedProcess(arguments, 0, "", "")

    return npm


def npm_that_fails(said: str) -> Npm:
    """An npm that ends with 1 and says why."""
    return lambda arguments, folder: subprocess.CompletedProcess(arguments, 1, "", said)


@pytest.fixture
def lock(tmp_path: Path) -> Path:
    """The project's lock file, to be changed."""
    for name in ("package.json", "package-lock.json"):
        shutil.copy(LOCK.with_name(name), tmp_path)
    return tmp_path / "package-lock.json"


def test_the_lock_file_pins_one_version_by_its_hash_and_names_no_mirror() -> None:
    locked = json.loads(LOCK.read_text(encoding="utf-8"))["packages"]
    asked = json.loads(LOCK.with_name("package.json").read_text(encoding="utf-8"))["dependencies"]
    assert list(locked) == ["", "node_modules/uplot"]
    package = locked["node_modules/uplot"]
    assert asked == {"uplot": package["version"]}
    assert re.fullmatch(r"sha512-[A-Za-z0-9+/]{86}==", package["integrity"])
    assert package.get("resolved", "https://registry.npmjs.org/").startswith("https://registry.npmjs.org/")


def test_another_version_replaces_what_was_there(lock: Path, tmp_path: Path) -> None:
    place = tmp_path / "static" / "uplot"
    put(lock, place, npm_that_brings("the first"))
    assert is_there(lock, place)
    (place / "left over").touch()
    lock.write_text(lock.read_text().replace("1.6.32", "1.6.33"))
    assert not is_there(lock, place)
    put(lock, place, npm_that_brings("the second"))
    assert is_there(lock, place)
    found = {file.name: file.read_text() for file in place.iterdir()}
    assert found.pop("version.txt").startswith("uPlot 1.6.33\nsha512-")
    assert found == dict.fromkeys(["uPlot.iife.min.js", "uPlot.min.css", "LICENSE"], "the second")


@pytest.mark.parametrize("missing", ["uPlot.iife.min.js", "uPlot.min.css", "LICENSE", "version.txt"])
def test_half_a_folder_does_not_count(lock: Path, tmp_path: Path, missing: str) -> None:
    place = tmp_path / "uplot"
    put(lock, place, npm_that_brings("words"))
    (place / missing).unlink()
    assert not is_there(lock, place)


@pytest.mark.parametrize(
    ("said", "quoted", "do_next"),
    [
        (REFUSED, "request to http://127.0.0.1:9/uplot failed", "reaches the npm registry"),
        (TAMPERED, "Integrity checksum failed", "Don't trust where it came from."),
        ("npm error code E404", "npm error code E404", "reaches the npm registry"),
    ],
    ids=["refused", "tampered", "not there"],
)
def test_what_npm_does_not_bring_is_told_and_the_old_one_stays(
    lock: Path, tmp_path: Path, said: str, quoted: str, do_next: str
) -> None:
    place = tmp_path / "uplot"
    put(lock, place, npm_that_brings("the old one"))
    with pytest.raises(NpmFault) as told:
        put(lock, place, npm_that_fails(said))
    first, *why, last = str(told.value).splitlines()
    assert first == "uPlot 1.6.32, which draws the page's curve, did not come from npm, so nothing was built."
    assert len(why) == 1 and quoted in why[0]
    assert do_next in last
    assert is_there(lock, place)


def test_the_wheel_holds_uplot_and_the_source_package_holds_what_fetches_it(tmp_path: Path) -> None:
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-t", "sdist", "-d", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True, timeout=60)
    (wheel,), (source,) = tmp_path.glob("*.whl"), tmp_path.glob("*.tar.gz")
    with zipfile.ZipFile(wheel) as packed:
        names = packed.namelist()
        script = packed.read("api/static/uplot/uPlot.iife.min.js").decode()
    assert "(v1.6.32) */" in script[:100]  # the version that the published file itself names
    assert {"api/static/uplot/LICENSE", "api/static/uplot/uPlot.min.css", "api/static/page.js"} <= set(names)
    assert [name for name in names if "node_modules" in name or name.startswith("api/npm")] == []
    with tarfile.open(source) as packed_source:
        members = {name.partition("/")[2] for name in packed_source.getnames()}
    assert {"api/npm/hook.py", "api/npm/package.json", "api/npm/package-lock.json", "pyproject.toml"} <= members
    assert [name for name in members if "uplot/" in name or "node_modules" in name] == []
