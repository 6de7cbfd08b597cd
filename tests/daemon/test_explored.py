"""The daemon as a state machine, tried act by act. `python -m tests.bench.states` goes on where this stops."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

import daemon.course.answers
import daemon.course.transitions
import daemon.decide
import daemon.judge
import daemon.memory
import daemon.scan
import tests.daemon.explorer
from daemon.course.asks import Word
from daemon.course.attendance import Attendance
from daemon.course.state import TRANSITIONS, State
from daemon.interlocks.table import INTERLOCKS
from daemon.notice import Cause
from tests.daemon.explorer import Atlas, explore

pytestmark = pytest.mark.slow

MOST_ACTS = 20_000


def patched(module: object, name: str, make: Callable[[Any], Any]) -> Callable[[pytest.MonkeyPatch], None]:
    """A daemon with one thing wrong in it: `make` gets the right one."""
    return lambda monkeypatch: monkeypatch.setattr(module, name, make(getattr(module, name)))


def without(cause: Cause) -> Callable[[pytest.MonkeyPatch], None]:
    """A daemon that doesn't look for this."""
    return patched(
        daemon.judge,
        "WATCHING",
        lambda watching: {
            state: tuple(entry for entry in entries if INTERLOCKS[entry[0]].cause is not cause)
            for state, entries in watching.items()
        },
    )


WRONG: dict[str, tuple[Callable[[pytest.MonkeyPatch], None], str]] = {
    "permit goes by the wish alone": (
        patched(daemon.scan, "permit", lambda right: lambda w, v, m: replace(right(w, v, m), auger=w.auger)),
        "fed in a lock-out, fed with a trip, fed though",
    ),
    "permit goes by the verdict alone": (
        patched(daemon.scan, "permit", lambda right: lambda w, v, m: replace(right(w, v, m), auger=v.feed_allowed)),
        "fed without being wished",
    ),
    "the keep-alive always goes on": (
        patched(
            daemon.scan,
            "permit",
            lambda right: lambda w, v, m: replace(right(w, v, m), keep_alive=m.done.keep_alive is not True),
        ),
        "kept the relay in",
    ),
    "nobody looks at the stop button": (without(Cause.STOP_BUTTON), "fed with stop pressed"),
    "nobody looks at the air": (without(Cause.AIRFLOW_LOST), "fed without air"),
    "nobody looks at the carbon monoxide alarm": (without(Cause.CO_ALARM), "fed with the carbon monoxide"),
    "nobody looks at the feed tube": (without(Cause.BURN_BACK), "fed into a burn-back"),
    "nobody calls": (
        patched(daemon.decide, "next_attendance", lambda right: lambda last, now_s, *rest: Attendance(now_s)),
        "after somebody had to answer",
    ),
    "a word is heard in the lock-out": (
        patched(
            daemon.course.answers,
            "words_of_state",
            lambda right: lambda at: right(at) if at.course.state is not State.LOCKED_OUT else (Word.MADE_READY,),
        ),
        "the lock-out heard",
    ),
    "a reset button that jams resets": (
        patched(
            daemon.decide,
            "next_reset_button",
            lambda right: lambda last, seen, before, locked, *rest: (last, locked and seen.reset_pressed is True),
        ),
        "the lock-out ended with reset held",
    ),
    "the lock-out ends with its cause": (
        patched(
            daemon.memory,
            "next_lockout",
            lambda right: lambda last, verdict, *rest: right(last, verdict, *rest) if verdict.trip else None,
        ),
        "the lock-out ended with reset held",
    ),
    "the purge is cut short": (
        patched(
            daemon.course.transitions,
            "purge",
            lambda right: lambda course, *rest: replace(course, state=State.LIT_BY_HAND, lit=True, eye_was_dark=True),
        ),
        "without a purge",
    ),
    "the fire is proven by saying so": (
        patched(
            daemon.course.transitions,
            "prove",
            lambda right: lambda c, seen, dt_s, basis: daemon.course.transitions.begin_stage(c, 0, basis, seen.now_s),
        ),
        "a fire that was not proven",
    ),
    "a firing is always taken up again": (
        patched(daemon.course.answers, "why_not_resume", lambda right: lambda course, seen, setup: None),
        "without a purge",
    ),
    "a restart goes by the record alone": (
        patched(tests.daemon.explorer, "last_known", lambda right: lambda found, kept: found),
        "a restart forgot a fire, a restart forgot what tripped",
    ),
    "what burns is called cold after a reset": (
        patched(
            daemon.decide, "course_after_reset", lambda right: lambda course, *_: replace(course, state=State.COLD)
        ),
        "cold while something may burn",
    ),
}


@pytest.fixture(scope="module")
def atlas() -> Atlas:
    """A bounded exploration, made once."""
    return explore(MOST_ACTS)


def test_no_act_from_any_moment_breaks_a_rule(atlas: Atlas) -> None:
    assert atlas.broken == {}
    assert atlas.acts >= MOST_ACTS
    assert atlas.fed > 100  # the auger was driven, so the rules about it were put to the test


def test_the_exploration_comes_to_every_state_and_along_every_passage_of_the_map(atlas: Atlas) -> None:
    assert atlas.states.keys() == {state.value for state in State}
    passages = {(was.value, state.value) for was, states in TRANSITIONS.items() for state in states if was is not state}
    assert passages - atlas.passages.keys() == set()
    assert {was for was, state in atlas.passages if state == "locked out"} == {
        state.value for state in State if state is not State.LOCKED_OUT
    }


@pytest.mark.parametrize("wrong", WRONG)
def test_a_daemon_with_something_wrong_in_it_is_found_out(monkeypatch: pytest.MonkeyPatch, wrong: str) -> None:
    inject, rules = WRONG[wrong]
    inject(monkeypatch)
    atlas = explore(MOST_ACTS // 2, until_broken=True)
    assert any(rule.startswith(part) or part in rule for rule in atlas.broken for part in rules.split(", ")), (
        atlas.broken
    )


def test_a_kiln_without_a_flame_eye_breaks_no_rule_either() -> None:
    atlas = explore(MOST_ACTS // 4, eye=False)
    assert atlas.broken == {}
    assert atlas.fed > 10
