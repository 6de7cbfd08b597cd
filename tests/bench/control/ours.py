"""This project's daemon on a kiln of the bench: whole, at its port, ten scans a second, with a person beside it."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from daemon.command.attendant import Attendant, Temper
from daemon.course.state import FEEDING, State
from daemon.memory import Memory
from daemon.plans.file import parse_plan
from daemon.plans.plan import Plan
from daemon.record.start import first_memory
from daemon.row import Row
from daemon.scan import scan
from daemon.settings import SCAN_S, Settings, read_settings
from daemon.setup import setup_of
from hardware.port import NOT_FITTED, AirRatio, Draught, NotFitted, Outputs, Readings, Sight, Temperature
from tests.bench.control.kiln import Kiln
from tests.bench.control.make import Make
from tests.bench.control.schedule import WARM_UP_FRAC, WARM_UP_S, Leg
from tests.bench.control.score import Score
from tests.bench.control.upsets import Upsets
from tests.bench.control.walk import Judge

UTC_S = 1_900_000_000.0
LONGEST_S = 30 * 3600
KINDS = {State.WARM_UP: "warm-up", State.CLIMBING: "climb", State.SOAKING: "soak"}
CLEARS_S = 180
"""After a reduction was asked for: so long it may take to clear."""
LEAST_PA, GUST_S = 6.0, 60
SCANS = round(1 / SCAN_S)


class BenchRig:
    """A kiln of the bench behind the daemon's port. Also the hands of whoever stands there."""

    def __init__(self, kiln: Kiln, upsets: Upsets, by_hand: bool, oxygen: bool) -> None:
        self.kiln = kiln
        self.upsets = upsets
        self.by_hand = by_hand
        self.oxygen = oxygen
        self.now_s = 0.0
        self.lit_s: int | None = None
        self.each_second: Callable[[], None] = lambda: None
        self._ticks = 0
        self._on = 0
        self._confirm = False
        self._auger = False
        self._seen = self._look()

    # the port

    def read(self, due_s: float) -> Readings:
        """Time passes a scan at a time; the kiln moves on every second."""
        while self._ticks * SCAN_S < due_s - 1e-6:
            self._ticks += 1
            self._on += self._auger
            if self._ticks % SCANS == 0:
                self._second()
        self.now_s = self._ticks * SCAN_S
        chamber, flue, draught, oxygen = self._seen
        return Readings(
            self.now_s, UTC_S + self.now_s, {"chamber": chamber, "flue": flue}, draught=draught,
            confirm_pressed=self._confirm, oxygen=oxygen,
        )  # fmt: skip

    def write(self, wanted: Outputs) -> Outputs:
        """Everything follows at once and reads back as it was driven."""
        kiln = self.kiln
        self._auger = wanted.auger
        kiln.fan_frac = wanted.fan_frac if isinstance(wanted.fan_frac, float) else 0.0
        return wanted

    def close(self) -> None:
        """Off."""
        self._auger = False

    def _second(self) -> None:
        kiln = self.kiln
        kiln.auger_frac, self._on = self._on / SCANS, 0
        if self.lit_s is not None:
            self.upsets.second(self._ticks * SCAN_S - self.lit_s)
        kiln.step()
        self._seen = self._look()
        self.each_second()

    def _look(self) -> tuple[Temperature, Temperature, Draught, AirRatio | NotFitted]:
        kiln = self.kiln
        oxygen = AirRatio(min(kiln.air_ratio, 2.0), 0.0, "bench:oxygen") if self.oxygen else NOT_FITTED
        return (
            Temperature(kiln.probe_c, 0.0, "bench:chamber"),
            Temperature(kiln.flue_probe_c, 0.0, "bench:flue"),
            Draught(kiln.gauge_pa, 0.0, "bench:gauge"),
            oxygen,
        )

    # the hands

    def look(self) -> Sight:
        """The gauge; nobody judges by the flame here, and the hopper is kept full."""
        return Sight(self.kiln.gauge_pa, self.kiln.release_w > 500.0, False, 20.0)

    def light_charcoal(self, kg: float) -> None:
        """Lay and light it."""
        self.kiln.light(kg)
        self.lit_s = round(self._ticks * SCAN_S)

    def fill_hopper(self, kg: float) -> None:
        """It is full."""

    def set_damper(self, frac: float) -> None:
        """By hand, where the hand sets the air."""
        if self.by_hand:
            self.kiln.damper_frac = frac

    def rake_ash(self) -> None:
        """The grate is raked at the same times for every controller."""

    def press(self, button: str, pressed: bool) -> None:
        """Only confirm is wired."""
        self._confirm = pressed and button == "confirm"


class Forgets:
    """A record that keeps nothing."""

    trouble: str | None = None

    def offer(self, row: Row, before: Memory, after: Memory) -> None:
        """Forget it."""


def plan_of(legs: tuple[Leg, ...], atmospheres: dict[int, str]) -> Plan:
    """The schedule as a plan: what a person would write who has never fired this kiln."""
    lines = ['name = "bench"', 'temperature = "C"', 'draught = "Pa"', "[[stage]]", 'name = "warm-up"', 'kind = "fixed"',
             f"feed = {WARM_UP_FRAC * 100:g}", f'for = "{WARM_UP_S / 60:g} min"']  # fmt: skip
    for place, leg in enumerate(legs):
        lines += ["[[stage]]", f'name = "leg {place + 1}"']
        if leg.soak_s:
            lines += ['kind = "soak"', f'for = "{leg.soak_s / 60:g} min"']
        else:
            lines += ['kind = "climb"', f"to = {leg.to_c}", f"rate = {leg.rate_c_per_h}"]
        if place in atmospheres:
            lines.append(f'atmosphere = "{atmospheres[place]}"')
    return parse_plan("\n".join(lines), "bench")


def settings_of(make: Make, by: str) -> Settings:
    """The configuration: auger weighed, air measured, each as well as a person can."""
    air: dict[str, object] = {"by": by, "kg_per_h_at_25_pa": round(make.believed_kg_per_h, 2)}
    air["fan_lowest_frac"] = fan_lowest(make)
    if by == "hand":
        air["fan_set_frac"] = 0.95
    kiln = {"auger_kg_per_h": round(make.weighed_kg_per_h, 3), "chamber_m3": round(make.chamber_m3, 3)}
    return read_settings({"kiln": kiln, "air": air}, "bench")


def fan_lowest(make: Make) -> float:
    """The lowest fan that still moves the gauge, found by trying on the cold kiln."""
    kiln, frac = Kiln(make, 0), 0.15
    while frac < 0.5:
        kiln.fan_frac = frac
        read_pa = 0.0
        for _ in range(GUST_S):
            kiln.step()
            read_pa += kiln.draught_pa / GUST_S
        if read_pa >= LEAST_PA:
            break
        frac += 0.01
    return round(frac, 2)


class Ours:
    """One firing by the daemon, from cold to the burn-down."""

    def __init__(
        self, kiln: Kiln, upsets: Upsets, legs: tuple[Leg, ...], seed: int, by: str = "fan", oxygen: bool = False,
        atmospheres: dict[int, str] | None = None,
    ) -> None:  # fmt: skip
        self.rig = BenchRig(kiln, upsets, by == "hand", oxygen)
        self.plan = plan_of(legs, atmospheres or {})
        self.memory = first_memory(setup_of(settings_of(kiln.make, by), self.plan), None, self.rig.read(0.0))
        self.judge = Judge(kiln, legs)
        self.attendant = Attendant(Temper.PROMPT, self.rig, Random(f"bench person {seed}"))
        self.rig.each_second = self._second
        self.asked = 0
        self._asked = False
        self._clears = 0
        self.look: Callable[[Memory], None] = lambda memory: None

    @property
    def over(self) -> bool:
        """The fire burns down, or the feed is locked out."""
        return self.memory.beat.course.state in (State.BURN_DOWN, State.LOCKED_OUT)

    def fire(self) -> Score:
        """Scan until the fire burns down, or the feed locks out."""
        due_s, record = 0.0, Forgets()
        while due_s < LONGEST_S:
            self.memory = scan(due_s, self.memory, self.attendant.asks(), self.rig, record)
            due_s += SCAN_S
            if self.over:
                break
        score = self.judge.score
        score.asks, score.hours = self.asked, self.memory.beat.course.since_s / 3600
        score.ended = self.memory.beat.course.state.value
        if self.memory.lockout is not None:
            score.ended = self.memory.lockout.first_out.cause.value
        return score

    def _second(self) -> None:
        memory = self.memory
        self.attendant.live(memory)
        course = memory.beat.course
        if course.state not in FEEDING:
            return
        stage = self.plan.stages[course.stage or 0]
        self._clears = CLEARS_S if stage.atmosphere.reduces else max(self._clears - 1, 0)
        asking = memory.beat.air.request is not None
        self.asked += asking and not self._asked
        self._asked = asking
        self.judge.second(
            KINDS[course.state], course.setpoint_c, course.target_c, memory.beat.feed.frac, self._clears > 0
        )
        self.look(memory)
