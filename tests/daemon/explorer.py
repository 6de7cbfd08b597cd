"""Explores the daemon as a state machine: the real scan on a rig in memory, act after act, every scan watched.

An act is one scan: what the instruments show, what is said, how late it is, or a loss of power before it. Times are a
few seconds long, so that every delay runs out within a few acts. Two moments count as the same when they differ only in
how long ago something was that no limit asks about any more, or by less than a temperature's rounding
(`moment_key.py`); the first one found then stands for both. So what is covered is every act from every moment of a
finite map, not every history; but each act is a real scan from a memory that the daemon really came to.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from daemon.course.asks import Ask, Word
from daemon.course.state import FEEDING, State
from daemon.memory import Memory
from daemon.record.found import Found
from daemon.record.lockout_file import Kept, last_known, unreadable
from daemon.record.start import first_memory
from daemon.row import Row
from daemon.scan import scan
from daemon.setup import setup_of
from hardware.port import Outputs
from tests.daemon.moment_key import moment_key
from tests.daemon.scene import (
    CHAMBER_C,
    STARTS_AT_S,
    UTC_AT_0_S,
    Act,
    Scene,
    SceneRig,
    acts,
    quick_plan,
    quick_settings,
)
from tests.daemon.watch import Known, breaches, known_at_start, learnt

MOST_WAITING = 1_500
"""Of one kind: each takes several kB of memory."""


@dataclass
class LastRow:
    """Keeps the row of one scan."""

    trouble: str | None = None
    row: Row | None = None

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Keep it."""
        self.row = row


class Way(NamedTuple):
    """How one comes to a moment: the last act, and the way before it."""

    act: str
    before: Way | None


class Moment(NamedTuple):
    """Somewhere on the map: the daemon's memory, what the watch knows, and how one gets there."""

    memory: Memory
    scene: Scene
    known: Known
    utc_s: float = UTC_AT_0_S
    way: Way | None = None

    @property
    def now_s(self) -> float:
        """The rig's clock."""
        return self.memory.readings.now_s if self.memory.readings is not None else self.memory.beat.course.since_s

    @property
    def path(self) -> list[str]:
        """The acts that lead here from the cold kiln."""
        names, way = [], self.way
        while way is not None:
            names.append(way.act)
            way = way.before
        return names[::-1]


def cold_moment() -> Moment:
    """A cold kiln, just switched on."""
    memory = Memory(setup_of(quick_settings(), quick_plan()))
    return Moment(memory, Scene(), known_at_start(memory, 0.0))


def found_of(moment: Moment) -> Found:
    """What the record holds when the power is lost here. What it holds in fact is for `test_record.py` to show."""
    memory, course = moment.memory, moment.memory.beat.course
    trips = memory.lockout.trips if memory.lockout is not None else ()
    return Found(
        firing=1,
        state=course.state,
        utc_s=moment.utc_s,
        chamber_c=CHAMBER_C.get(moment.scene.chamber),
        trips=tuple((trip.cause, trip.notice) for trip in trips),
        stage=course.stage,
        stage_gone_s=moment.now_s - course.stage_since_s if course.stage is not None else 0.0,
        setpoint_c=course.setpoint_c,
        pellets_kg=memory.fed_kg,
        unproven_kg=memory.unproven_kg,
        plan_text=memory.plan.text,
    )


def on_the_disk(moment: Moment, wrong: str) -> tuple[Found | None, Kept | None]:
    """What record and lock-out file say after a loss of power here, with one of them wrong."""
    found = found_of(moment)
    kept = Kept(found.state, found.utc_s, found.chamber_c, found.trips)
    match wrong:
        case ", the record lost":
            return None, kept
        case ", an old record":
            return Found(1, State.FINISHED, found.utc_s - 9e6, 40.0), kept
        case ", the lock-out file torn":
            return found, unreadable("it is torn")
        case _:
            return found, kept


def forgotten_by(before: Moment, again: Memory) -> list[str]:
    """What a restart must not forget: that something may burn, and what tripped."""
    was, found = before.memory, []
    if before.known.lit and again.lockout is None:
        found.append("a restart forgot a fire")
    if was.lockout is not None and not (again.lockout and set(was.lockout.causes) <= set(again.lockout.causes)):
        found.append("a restart forgot what tripped")
    if was.lockout is not None and again.beat.course.left_off is not None:
        found.append("a restart lets a locked-out firing be resumed")
    return found


def act_on(moment: Moment, act: Act, eye: bool) -> tuple[Moment, list[str]]:
    """Do an act: the moment it leads to, and the rules it broke."""
    memory, known = moment.memory, moment.known
    now_s, utc_s = moment.now_s + act.after_s, moment.utc_s + abs(act.after_s)
    forgotten: list[str] = []
    if act.power_lost is not None:  # the board starts afresh, and so does its clock
        now_s = STARTS_AT_S
    rig = SceneRig(act.scene, eye, memory.readings, memory.done, now_s, utc_s)
    if act.power_lost is not None:
        rig.done, rig.last = rig.write(Outputs()), None
        found, kept = on_the_disk(moment, act.power_lost)
        memory = first_memory(setup_of(memory.settings, memory.plan), last_known(found, kept), rig.read(now_s))
        forgotten = forgotten_by(moment, memory)
        known = known_at_start(memory, now_s)
    clerk = LastRow("the disk is full" if act.scene.unrecorded else None)
    after = scan(now_s, memory, tuple(Ask(word, "page") for word in act.words), rig, clerk)
    if clerk.row is None:
        raise AssertionError("a scan offered no row")
    now_known = learnt(known, memory, clerk.row, after)
    broken = breaches(known, memory, clerk.row, after, now_known)
    return Moment(after, act.scene, now_known, utc_s, Way(act.name, moment.way)), forgotten + broken


@dataclass
class Atlas:
    """What an exploration covered."""

    known: int = 0
    """Moments found that count as different."""
    left_out: int = 0
    """Of these, moments that nobody would have come to within the limit and that were not kept."""
    moments: int = 0
    """Moments from which every act was tried."""
    acts: int = 0
    fed: int = 0
    """Acts in which the auger was driven: the rules about it were put to the test so often."""
    states: Counter[str] = field(default_factory=Counter)
    passages: Counter[tuple[str, str]] = field(default_factory=Counter)
    causes: Counter[str] = field(default_factory=Counter)
    broken: dict[str, list[str]] = field(default_factory=dict)
    """Each rule that was broken, with the shortest path found to it."""
    exhausted: bool = False
    """Nothing is left: every act was done from every moment."""

    def note(self, before: Moment, after: Moment, broken: list[str]) -> None:
        """Take in one act."""
        was, state = before.memory.beat.course.state, after.memory.beat.course.state
        self.acts += 1
        self.fed += after.memory.done.auger and state in FEEDING
        if was is not state:
            self.passages[(was.value, state.value)] += 1
        if after.memory.lockout is not None and before.memory.lockout is None:
            self.causes[after.memory.lockout.first_out.cause.value] += 1
        for rule in broken:
            self.broken.setdefault(rule, after.path)


def firing(eye: bool, atlas: Atlas) -> list[Moment]:
    """Every moment of a firing as it ought to go, and aside of it what takes more acts than a search comes to."""
    moments = [cold_moment()]

    def do(name: str, *words: Word, **changes: object) -> State:
        """One act; the state it leads to."""
        scene = moments[-1].scene._replace(**changes)  # type: ignore[arg-type]
        after, broken = act_on(moments[-1], Act(name, scene, words), eye)
        atlas.note(moments[-1], after, broken)
        moments.append(after)
        return after.memory.beat.course.state

    def wait(acts: int, *words: Word) -> None:
        """Let it go on, saying this each time."""
        for _ in range(acts):
            do(f"say {words[0].value}" if words else "wait", *words)

    def until(state: State) -> None:
        """Be there until it has come so far; a daemon with something wrong in it may never."""
        for _ in range(12):
            if do("say here", Word.HERE) is state:
                return

    def aside(what: Callable[[], None]) -> None:
        """Do this, then go on as if it had not been."""
        here = moments[-1]
        what()
        moments.append(here)

    def stop_and_reset() -> None:
        """Press stop, let it go, hold reset and let it go."""
        do("stop", stop=True)
        do("stop let go", stop=False)
        do("reset", reset=True)
        wait(2)
        do("reset let go", reset=False)

    def stop_and_resume() -> None:
        """The same, and take the firing up again when the burn-down's air has blown for long enough."""
        stop_and_reset()
        wait(4, Word.HERE)
        do("say resume", Word.RESUME)
        wait(5, Word.HERE)

    def auger_runs() -> None:
        """The shaft turns though nothing drives it."""
        do("auger runs", auger="runs")
        wait(4)

    aside(stop_and_reset)
    do("say made_ready", Word.MADE_READY)
    aside(auger_runs)
    do("say begin", Word.BEGIN)
    until(State.LIT_BY_HAND)
    do("say lit", Word.LIT)
    wait(2)
    do("fire", fire=True, chamber="cold" if eye else "warm")
    until(State.WARM_UP)
    do("chamber warm", chamber="warm")
    do("chamber hot", chamber="hot")
    aside(stop_and_resume)
    until(State.CLIMBING)
    aside(lambda: wait(12))  # nobody answers
    aside(stop_and_resume)
    wait(2, Word.HERE)
    do("chamber hotter", chamber="hotter")
    until(State.SOAKING)
    aside(stop_and_resume)
    until(State.CLIMBING)
    wait(3, Word.HERE)
    do("say burn_down", Word.BURN_DOWN)
    do("fire out", fire=False)
    until(State.COOLING)
    do("chamber hot", chamber="hot")
    aside(stop_and_reset)
    do("chamber warm", chamber="warm")
    do("chamber cold", chamber="cold")
    until(State.FINISHED)
    return moments


def explore(most_acts: int, *, most_wrong: int = 1, both: bool = False, eye: bool = True,
            until_broken: bool = False) -> Atlas:  # fmt: skip
    """Breadth-first from every moment of a firing, taking turns between the kinds of moment so that none waits long."""
    atlas, seen, frontier = Atlas(), set[int](), dict[Hashable, deque[Moment]]()
    choices = cache(acts)

    def come_to(moment: Moment) -> None:
        """Put a moment on the list of those to go on from, unless it, or one that counts the same, was there."""
        key = hash(moment_key(moment.memory, moment.scene, moment.known, moment.now_s))
        if key in seen:
            return
        seen.add(key)
        atlas.known += 1
        waiting = frontier.setdefault(kind_of(moment), deque())
        if len(waiting) < MOST_WAITING:
            waiting.append(moment)
        else:
            atlas.left_out += 1

    for moment in firing(eye, atlas):
        come_to(moment)
    while frontier:
        for kind in list(frontier):
            moment = frontier[kind].popleft()
            if not frontier[kind]:
                del frontier[kind]
            atlas.moments += 1
            atlas.states[moment.memory.beat.course.state.value] += 1
            for act in choices(moment.scene, most_wrong, both):
                after, broken = act_on(moment, act, eye)
                atlas.note(moment, after, broken)
                if not broken:
                    come_to(after)
            if atlas.acts >= most_acts or (until_broken and atlas.broken):
                return atlas
    atlas.exhausted = atlas.left_out == 0
    return atlas


def kind_of(moment: Moment) -> Hashable:
    """The kind of moment, coarsely: the state, what is known of purge and fire, whether it may be taken up again."""
    course, known = moment.memory.beat.course, moment.known
    return course.state, known.purged, known.proven, known.lit, moment.scene.fire, course.left_off is not None
