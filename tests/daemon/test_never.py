"""What must never be, whatever the readings, words and clock do: random sequences under the explorer's watch."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import pytest
from hypothesis import HealthCheck, Phase, find, given, settings
from hypothesis import strategies as st

import daemon.scan
from daemon.course.asks import Ask, Word
from daemon.interlocks.verdict import Verdict
from daemon.memory import Memory
from daemon.permit import permit
from daemon.row import Wish
from daemon.scan import scan
from hardware.port import NOT_FITTED, AirRatio, Blind, Blindness, Draught, Outputs, Readings, Temperature
from tests.daemon.explorer import Atlas, LastRow, Moment, firing
from tests.daemon.scene import SceneRig
from tests.daemon.watch import breaches, learnt

NUMBERS = st.one_of(
    st.sampled_from([math.nan, math.inf, -math.inf, 0.0, -0.0, 1e308, -1e308, 5e-324, 299.999, 300.0, 85.0, 2.0]),
    st.floats(-100, 2000),
    st.floats(),
)
AGES = st.one_of(st.just(0.0), st.sampled_from([math.nan, math.inf, -1.0, 2.9, 3.1]))
PROBES = st.one_of(
    st.builds(Temperature, NUMBERS, AGES, st.just("odd")), st.builds(Blind, st.sampled_from(Blindness), st.just("odd"))
)
DRAUGHTS = st.one_of(
    st.builds(Draught, NUMBERS, AGES, st.just("odd")), st.sampled_from([Blind(Blindness.STALE), NOT_FITTED])
)
OXYGEN = st.one_of(
    st.builds(AirRatio, st.one_of(NUMBERS, st.floats(0.3, 20)), AGES, st.just("odd")),
    st.sampled_from([Blind(Blindness.STALE), NOT_FITTED]),
)
CONTACTS = st.sampled_from([True, False, NOT_FITTED])
CHANGES: dict[str, st.SearchStrategy[object]] = {
    "chamber": PROBES,
    "limit": PROBES,
    "flue": PROBES,
    "feed_tube": PROBES | st.just(NOT_FITTED),
    "draught": DRAUGHTS,
    "oxygen": OXYGEN,
    **{
        name: CONTACTS
        for name in (
            "airflow_proven", "flame_seen", "shaft_turning", "stop_pressed", "confirm_pressed", "reset_pressed",
            "co_alarm",
        )
    },
}  # fmt: skip
"""What may be shown instead of what the scene shows, until it is changed again."""


@dataclass(frozen=True)
class Stretch:
    """So many scans, so far apart, with these changes to the image; the words are said in the first of them."""

    changes: Mapping[str, object]
    scans: int
    apart_s: float
    words: tuple[Word, ...]
    read_back: bool | None
    """What the feed contact reads back; None for what was driven."""


STRETCHES = st.lists(
    st.builds(
        Stretch,
        st.fixed_dictionaries({}, optional=CHANGES).filter(lambda changes: len(changes) <= 4),
        st.integers(1, 5),
        st.one_of(st.sampled_from([0.1, 0.5, 1.0, 1.0, 1.0, 3.0, 0.0, -0.1, -1e6, 1e9]), st.floats(-1e3, 1e3)),
        st.lists(st.sampled_from(Word), max_size=2).map(tuple),
        st.sampled_from([None, None, None, True, False]),
    ),
    min_size=1,
    max_size=8,
)


@cache
def beginnings() -> tuple[Moment, ...]:
    """Every moment of a firing of a few seconds, to begin at."""
    return tuple(firing(True, Atlas()))


BEGIN = st.integers(0, 1_000)
WITHOUT_SHRINKING = [Phase.explicit, Phase.reuse, Phase.generate]
"""A sequence that breaks a rule is short enough as it is found; making it shorter would take minutes."""


class OddRig(SceneRig):
    """A rig in memory on which anything may be shown."""

    changes: Mapping[str, object] = {}
    reads_back: bool | None = None

    def read(self, due_s: float) -> Readings:
        """The scene, with the changes."""
        image = super().read(due_s)
        probes = {k: v for k, v in self.changes.items() if k in ("chamber", "limit", "flue")}
        rest = {k: v for k, v in self.changes.items() if k not in probes}
        return replace(image, probes={**image.probes, **probes}, **rest)  # type: ignore[arg-type,dict-item]

    def write(self, wanted: Outputs) -> Outputs:
        """What the contact reads back may be anything."""
        return wanted if self.reads_back is None else replace(wanted, auger=self.reads_back)


def broken_by(begin: int, stretches: list[Stretch]) -> list[str]:
    """The rules that a sequence broke, begun at one of the moments of a firing."""
    moments = beginnings()
    moment = moments[begin % len(moments)]
    memory, known, now_s, utc_s = moment.memory, moment.known, moment.now_s, moment.utc_s
    found: list[str] = []
    for stretch in stretches:
        for turn in range(stretch.scans):
            now_s, utc_s = now_s + stretch.apart_s, utc_s + stretch.apart_s
            rig = OddRig(moment.scene, True, memory.readings, memory.done, now_s, utc_s)
            rig.changes, rig.reads_back = stretch.changes, stretch.read_back
            clerk, words = LastRow(), stretch.words if turn == 0 else ()
            after = scan(now_s, memory, tuple(Ask(word, "page") for word in words), rig, clerk)
            assert clerk.row is not None
            now_known = learnt(known, memory, clerk.row, after)
            found += breaches(known, memory, clerk.row, after, now_known)
            memory, known = after, now_known
    return found


@pytest.mark.slow
@settings(max_examples=200, suppress_health_check=[HealthCheck.too_slow], phases=WITHOUT_SHRINKING)
@given(BEGIN, STRETCHES)
def test_no_reading_no_word_and_no_clock_breaks_a_rule(begin: int, stretches: list[Stretch]) -> None:
    assert broken_by(begin, stretches) == []


def test_the_beginnings_feed_so_that_there_is_something_to_break() -> None:
    assert sum(moment.memory.done.auger for moment in beginnings()) > 5


def test_a_permit_that_ignores_the_verdict_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def careless(wish: Wish, verdict: Verdict, memory: Memory) -> Outputs:
        return replace(permit(wish, verdict, memory), auger=wish.auger)

    monkeypatch.setattr(daemon.scan, "permit", careless)
    wrong = find(
        st.tuples(BEGIN, STRETCHES),
        lambda sequence: broken_by(*sequence) != [],
        settings=settings(max_examples=500, phases=WITHOUT_SHRINKING, suppress_health_check=list(HealthCheck)),
    )
    assert any(rule.startswith("fed") for rule in broken_by(*wrong))
