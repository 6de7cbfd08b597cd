"""A rig is looked up by its name, and nothing is called that doesn't look like a rig's factory."""

import sys
from collections.abc import Mapping

import pytest

from daemon.outside.rigs import RigUnknown, open_rig
from hardware.port import Rig
from tests.daemon.house import FakeRig

CALLED: list[object] = []


def open_fake(options: Mapping[str, object]) -> FakeRig:
    """A rig."""
    return FakeRig()


def unsaid(options):  # type: ignore[no-untyped-def]  # a stranger's package may say no types
    """A rig too."""
    return FakeRig()


def with_seed(options: Mapping[str, object], seed: int = 3) -> Rig:
    """More that need not be given."""
    return FakeRig()


def format_disk(path: str) -> int:
    """No rig's factory."""
    CALLED.append(path)
    return 0


def count(options: Mapping[str, object]) -> int:
    """Takes options, and says that it makes no rig."""
    CALLED.append(options)
    return 0


def liar(options: Mapping[str, object]) -> Rig:
    """Says that it makes a rig."""
    return 3  # type: ignore[return-value]


@pytest.fixture
def name(monkeypatch: pytest.MonkeyPatch) -> str:
    """This module under a name that the rigs can be looked up by."""
    CALLED.clear()
    monkeypatch.setitem(sys.modules, "foreign_rigs", sys.modules[__name__])
    return "foreign_rigs"


@pytest.mark.parametrize("factory", ["open_fake", "unsaid", "with_seed"])
def test_a_rigs_factory_is_called(name: str, factory: str) -> None:
    assert isinstance(open_rig(f"{name}:{factory}", {}), FakeRig)


@pytest.mark.parametrize(
    ("rig", "words"),
    [
        ("foreign_rigs:format_disk", "wasn't called"),
        ("foreign_rigs:count", "wasn't called"),
        ("foreign_rigs:CALLED", "no factory"),
        ("foreign_rigs:liar", "returned no rig"),
        ("os:system", "belongs to Python"),
        ("builtins:print", "belongs to Python"),
        ("antigravity:fly", "belongs to Python"),
        ("subprocess:run", "belongs to Python"),
        ("pydantic:BaseModel", "wasn't called"),
        ("gpiozero:Device", "wasn't called"),
        ("a\0b:c", "package.module:factory"),
        (".here:open_rig", "package.module:factory"),
        ("hardware.pi:open_rig.x", "package.module:factory"),
        ("hardware..pi:open_rig", "package.module:factory"),
    ],
)
def test_anything_else_is_refused_with_a_sentence_and_not_called(name: str, rig: str, words: str) -> None:
    with pytest.raises(RigUnknown, match=words):
        open_rig(rig, {"path": "/"})
    assert CALLED == []


def test_a_package_that_breaks_while_it_is_imported_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: object) -> None:
    (monkeypatch.syspath_prepend(str(tmp_path)))
    with open(f"{tmp_path}/broken_rig.py", "w", encoding="utf-8") as file:
        file.write("raise RuntimeError('no board')")
    with pytest.raises(RigUnknown, match="no board"):
        open_rig("broken_rig:open_rig", {})
