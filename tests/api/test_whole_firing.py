"""A whole firing through both halves: the daemon's scan, channel and record, and the real server that shows them.

The kiln is the tests' own in memory. What is told goes over the socket, and what the person says comes as a request.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from api.record import TERMS
from daemon.course.answers import answer, wanted_words
from daemon.course.asks import Word
from daemon.course.attendance import Call
from daemon.course.state import State
from daemon.memory import Memory
from daemon.outside.channel import Channel
from daemon.outside.status import status
from daemon.record.journal import FLAT_OUT_BATCH_S, Record
from daemon.scan import scan
from daemon.setup import setup_of
from tests.api.house import House
from tests.daemon.house import FakeRig, living, short_plan, short_settings
from tests.window.golden import differences

STEP_S = 1.0
LONGEST_SCANS = 3000
FLAME_LASTS_S = 20.0
"""In a burn-down."""


@dataclass
class Seam:
    """The daemon on one side, the server's house on the other, and a person who uses the page."""

    house: House
    channel: Channel
    record: Record
    opened: ExitStack
    """Channel and record; closing it ends the daemon."""
    rig: FakeRig = field(default_factory=lambda: FakeRig(live=living))
    memory: Memory = field(default_factory=lambda: Memory(setup_of(short_settings(), short_plan())))
    shown: list[tuple[State, tuple[Word, ...]]] = field(default_factory=list)
    """What was told, shown and tried, one after the other: the state, and what the person might say."""

    @property
    def state(self) -> State:
        """Where the firing is."""
        return self.memory.beat.course.state

    def scan(self) -> None:
        """One scan, with what was asked on the page since the last."""
        asks = self.channel.asks()
        self.memory = scan(self.rig.image.now_s + STEP_S, self.memory, asks, self.rig, self.record)

    def tell(self) -> dict[str, Any]:
        """Tell the moment over the socket; return what the server shows, which is the same."""
        told = status(self.memory, self.record.context(rehearsal=True))
        self.channel.tell(told)
        self.house.await_status_of(self.rig.image.now_s)
        shown: dict[str, Any] = self.house.client.get("/status").json()
        assert (shown.pop("connected"), shown.pop("age_s"), shown.pop("why_silent")) == (True, 0.0, "")
        assert differences(shown, json.loads(json.dumps(told))) == []
        return shown

    def say(self, word: Word) -> None:
        """Say it on the page: it passes the server, and the next scan accepts it."""
        self.tell()
        nonce = self.house.ask(word.value).json()["nonce"]
        self.scan()
        found = next(a for a in self.tell()["answered"] if a["nonce"] == nonce)
        assert (found["ask"], found["accepted"]) == (word.value, True), found

    def try_words(self) -> None:
        """Ask for everything: what is wanted and the stop, and no more, pass the server, and the daemon takes them."""
        readings, wanted = self.memory.readings, wanted_words(self.memory.circumstances)
        assert readings is not None
        assert [w["ask"] for w in self.tell()["wanted"]] == [word.value for word in wanted]
        for word in Word:
            passes = self.house.ask(word.value).status_code == 202
            assert passes is (word in wanted or word is Word.STOP), (word, self.state)
            asks = self.channel.asks()
            assert [ask.word for ask in asks] == ([word] if passes else [])
            assert all(answer(ask, readings, self.memory.circumstances).accepted for ask in asks), (word, self.state)

    def go_on(self, until: State) -> None:
        """Fire on to this state; the person does what the kiln asks. Every state that is new is told and tried."""
        for _ in range(LONGEST_SCANS):
            now = self.state, wanted_words(self.memory.circumstances)
            if not self.shown or self.shown[-1] != now:
                self.shown.append(now)
                self.try_words()
            if self.state is until:
                return
            if self.state is State.BURN_DOWN:
                gone_s = self.rig.image.now_s - self.memory.beat.course.since_s
                self.rig.show(flame_seen=gone_s < FLAME_LASTS_S)
            word = self.next_word()
            if word is Word.LIT:
                self.rig.show(flame_seen=True)
            if word is None:
                self.scan()
            else:
                self.say(word)
        raise AssertionError(f"still {self.state.value}")

    def next_word(self) -> Word | None:
        """What a person says now to get on with the firing."""
        if self.memory.beat.attendance.call is not Call.QUIET:
            return Word.HERE
        if self.state is State.COOLING:  # nobody opens it before it is cold
            return None
        said = [w for w in wanted_words(self.memory.circumstances) if w not in (Word.HERE, Word.BURN_DOWN)]
        return said[0] if said else None


@pytest.fixture
def seam(house: House, tmp_path: Path) -> Iterator[Seam]:
    """A cold kiln whose daemon has just begun."""
    house.daemon.die()
    channel, record = Channel(house.channel), Record(tmp_path / "firings.sqlite", "fake", FLAT_OUT_BATCH_S)
    with ExitStack() as opened:
        opened.callback(channel.close)
        opened.callback(record.close)
        made = Seam(house, channel, record, opened)
        made.scan()
        yield made


def test_a_firing_from_cold_to_finished_is_shown_and_all_it_asks_for_is_taken(seam: Seam) -> None:
    seam.go_on(State.FINISHED)
    states = list(dict.fromkeys(state for state, _ in seam.shown))
    assert states == [state for state in State if state is not State.LOCKED_OUT]
    assert seam.shown[0] == (State.COLD, (Word.MADE_READY,))  # a cold kiln offers no look-in and no more than this
    assert any(words == (Word.BED_OUT, Word.HERE) for _, words in seam.shown)

    seam.opened.close()  # the last of the record is written
    curve = seam.house.client.get("/curve", params={"points": 2000, "terms": TERMS}).json()
    assert max(curve["chamber_c"]) == pytest.approx(100.0, abs=10.0)  # the plan's end
    lengths = {len(column) for column in [curve["since_start_s"], curve["chamber_c"], *curve["terms"].values()]}
    assert len(lengths) == 1 and lengths.pop() > 600
    assert curve["terms"].keys() == set(TERMS)
    events = seam.house.client.get("/events").json()["events"]
    assert [e["cause"] for e in events if e["kind"] == "state"] == [state.value for state in states[1:]]


def test_a_stop_on_the_page_goes_all_the_way_and_the_firing_is_taken_up_again(seam: Seam) -> None:
    seam.go_on(State.CLIMBING)
    seam.say(Word.STOP)
    seam.go_on(State.LOCKED_OUT)
    seam.say(Word.SEEN)
    seam.go_on(State.LOCKED_OUT)
    assert [words for state, words in seam.shown if state is State.LOCKED_OUT] == [(Word.SEEN,), ()]  # none ends it
    seam.rig.show(reset_pressed=True)
    for _ in range(4):
        seam.scan()
    seam.rig.show(reset_pressed=False)
    while Word.RESUME not in wanted_words(seam.memory.circumstances):
        seam.scan()
    seam.go_on(State.CLIMBING)
    assert (State.BURN_DOWN, (Word.RESUME, Word.HERE)) in seam.shown
