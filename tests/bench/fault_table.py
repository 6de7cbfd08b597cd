"""What each fault is to be answered with: by which cause, in which states, as a trip or a warning, how soon.

Causes are named as in `daemon.notice.Cause`. Deadlines are the interlock's stated time plus what the physics needs
before there is anything to see; what those are is said beside the number. A state without a rule of its own feeds
nothing: there the expectation is that the auger never turns, and, before the fire, that a firing which goes on to feed
answers then as the rules for feeding ask.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from daemon.course.state import ATTENDED, FEEDING, FIRE, State
from hardware.simulated.kiln.kiln import Kiln
from tests.bench.ensemble import Kit


@dataclass(frozen=True, slots=True)
class Onset:
    """How the kiln stood when something broke."""

    kit: Kit
    state: State
    chamber_c: float
    feed_frac: float


Within = Callable[[Onset], float]


@dataclass(frozen=True, slots=True)
class Harm:
    """A condition of the real kiln that begins the deadline; as long as it isn't there nothing has to be answered."""

    words: str
    there: Callable[[Kiln], bool]
    lasting_s: int
    looked_at_s: float = 900.0
    """What does no harm for so long does none."""


SHORT_OF_AIR = Harm("the fire gets less than 0.7 of the air it needs", lambda k: (k.air_ratio or 9.0) < 0.7, 60)
FIRE_OUT = Harm("next to nothing burns", lambda k: k.burn_w < 300.0, 30, 3600.0)
NO_HARM = Harm("always", lambda k: True, 0)


@dataclass(frozen=True, slots=True)
class Rule:
    """What counts as an answer in some states. `warns`: a warning by that cause is enough."""

    states: frozenset[State]
    trips: tuple[str, ...]
    within_s: Within
    warns: tuple[str, ...] = ()
    harm: Harm = NO_HARM
    heals: bool = False
    """It may pass without any answer; what is asked is that no other cause than these is blamed."""


@dataclass(frozen=True, slots=True)
class Expected:
    """One fault, or two joined by `+`. `every`: how many kilns and moments share one case, for what takes long."""

    fault: str
    rules: tuple[Rule, ...]
    every: int = 1
    needs: Callable[[Kit], bool] = lambda kit: True
    powered: Callable[[Kit], bool] = lambda kit: False
    """True where nothing the daemon can do takes the auger's power away."""
    blind: Callable[[Kit], bool] = lambda kit: False
    """True where no instrument fitted to this kiln can tell, so that a case is listed and not judged."""
    careless: bool = False
    """Nobody looks into the hopper."""
    passes: bool = False
    """It is over at once: what comes later has nothing to answer."""
    relit: bool = False
    """Lighting the fire puts it right, so it counts only where it breaks after that."""
    later: tuple[float, str] | None = None
    """Something else that happens so many seconds after."""

    def rule(self, state: State) -> Rule | None:
        """The rule for a state, None where it is only that the auger never turns."""
        return next((rule for rule in self.rules if state in rule.states), None)


S = State
ALL = frozenset(State)
FED = FEEDING
BURNING = FIRE | {S.BURN_DOWN}
PROVING = frozenset({S.FIRE_PROVING})
BEFORE_FIRE = frozenset({S.PURGE, S.LIT_BY_HAND})
UNLIT = frozenset({S.COLD, S.MADE_READY, S.PURGE, S.LIT_BY_HAND})
COOLS = frozenset({S.COOLING})
LIMIT_C = 1310.0
TORCH_K_PER_S, TORCH_K = 4.0, 800.0


def s(seconds: float) -> Within:
    """The same time for all."""
    return lambda onset: seconds


def torch_s(onset: Onset) -> float:
    """Until a torch on the sheaths has brought them to the limit, a quarter in hand; a cold kiln never gets there."""
    if onset.chamber_c + TORCH_K < LIMIT_C + 30:
        return 180.0
    return max(10.0, (LIMIT_C + 20 - onset.chamber_c) / TORCH_K_PER_S * 1.25)


def leads_s(onset: Onset) -> float:
    """A hot kiln steps down; in one that is nearly as cold as the cabinet only fuel without warming can tell."""
    return 10.0 if onset.chamber_c > 120 else 1800.0


def turns_s(onset: Onset) -> float:
    """Five seconds of driving, at the lowest feed 4 % of the time, and a cycle."""
    return 5.0 / 0.04 + 15.0


def never(trips: tuple[str, ...] = (), looked_at_s: float = 120.0) -> tuple[Rule, ...]:
    """Nothing has to follow while it feeds; these may be blamed."""
    return (Rule(FED, trips, s(looked_at_s), heals=True),)


def fed(*trips: str, within: Within, warns: tuple[str, ...] = (), harm: Harm = NO_HARM) -> tuple[Rule, ...]:
    """One rule for the feeding states."""
    return (Rule(FED, trips, within, warns, harm),)


BLIND = ("PROBE_BLIND", "PROBE_JUMPED")
DEAD = ("FLAME_OUT", "FEED_IDLE")
LOW_AIR = ("AIRFLOW_LOST", "FAN_IDLE", "AIR_LOW", "FLAME_OUT", "FEED_IDLE")


def probe(seconds: float) -> tuple[Rule, ...]:
    """A chamber or limit probe that can be told at once, wherever somebody must be there."""
    return (Rule(ATTENDED, BLIND, s(seconds)),)


DEAD_S = 2700.0  # 0.24 kg at the lowest feed there is, 4 % of 9 kg/h: slow, but it is the weight that does harm
TABLE: tuple[Expected, ...] = (
    # the chamber probe: 2 s of blindness, and up to 1.6 s until the chip's own open-circuit test
    Expected("probe-open", probe(5)),
    Expected("probe-short", probe(4)),
    Expected("probe-unplugged", probe(4)),
    Expected("bus-low", probe(4)),
    Expected("bus-high", probe(4)),
    Expected("cold-junction-hot", probe(5)),
    Expected("probe-leads-touch",
             (Rule(FED, (*BLIND, *DEAD, "PROBES_DISAGREE", "PROBE_FROZEN", "PROBE_DRIFTS", "FIRE_NOT_PROVEN"),
                   leads_s),)),
    Expected("probe-forgets", (Rule(FED, BLIND, s(60), heals=True),)),  # the driver gives it its settings again
    Expected("probe-jumps-up", (Rule(FIRE | BEFORE_FIRE, BLIND, s(10)),)),
    Expected("probe-jumps-down", (Rule(FIRE | BEFORE_FIRE, BLIND, s(10)),)),
    # noise moves the last bit every few scans: four alike are the most a healthy probe gives; a minute is asked
    Expected("probe-freezes", (Rule(FIRE, ("PROBE_FROZEN", "PROBES_DISAGREE", *DEAD), s(65)),)),
    # 120 K an hour against a limit probe that agrees within 30 K in healthy firings. Without one only the heat balance
    # could tell, and this firing is too short for it to learn: listed, not judged
    Expected("probe-drifts", fed("PROBES_DISAGREE", *DEAD, within=s(2700), warns=("PROBE_DRIFTS", "PROBES_DISAGREE")),
             every=4, blind=lambda kit: not kit.limit),
    Expected("limit-probe-open", probe(5)),
    Expected("limit-probe-off", (Rule(FIRE, (*BLIND, "PROBES_DISAGREE"), s(300)),)),
    Expected("limit-probe-freezes", fed("PROBE_FROZEN", "PROBES_DISAGREE", within=s(120))),
    Expected("flue-probe-open", (Rule(BURNING, (), s(15), ("PROBE_BLIND",)),)),
    # the feed tube, the draught gauge. 85 °C at 1 K/s from some 15 to 40 °C; in a cooling kiln it soaks anyway: 120 °C
    Expected("feed-tube-heats", (Rule(COOLS, ("BURN_BACK",), s(125)), Rule(ALL, ("BURN_BACK",), s(90)))),
    Expected("feed-tube-wire-breaks", (Rule(BURNING, (), s(15), ("PROBE_BLIND",)),)),
    Expected("draught-wire-breaks",
             (Rule(FED | PROVING, ("AIRFLOW_LOST",), s(25), ("PROBE_BLIND",)),)),  # a switch is as good
    # air: the switch at once, the gauge in 10 s, a fan that is asked for and gives nothing
    Expected("airflow-switch-wire-breaks",
             (*fed("AIRFLOW_LOST", within=s(12)), Rule(PROVING, ("AIRFLOW_LOST", "FAN_IDLE"), s(25)))),
    Expected("airflow-switch-stuck", never()),
    # a hot stack keeps a few pascals without the fan; then it is the 5 min of too little air for the fuel that tell
    Expected("airflow-switch-stuck+fan-stops", fed(*LOW_AIR, within=s(330), harm=SHORT_OF_AIR),
             blind=lambda kit: not kit.gauge),
    Expected("fan-stops", fed(*LOW_AIR, within=s(330), harm=SHORT_OF_AIR),
             blind=lambda kit: kit.by == "hand" and not kit.gauge),
    Expected("flue-blocked", fed(*LOW_AIR, within=s(60))),
    Expected("fan-weak", fed(*LOW_AIR, within=s(330), harm=SHORT_OF_AIR), every=2, blind=lambda kit: not kit.gauge),
    Expected("damper-falls-shut", fed(*LOW_AIR, within=s(330), harm=SHORT_OF_AIR), every=2,
             blind=lambda kit: not kit.gauge),
    Expected("damper-sticks", fed(*LOW_AIR, within=s(330), harm=SHORT_OF_AIR), every=2),
    Expected("door-opens", never(LOW_AIR, 900.0), every=2),
    # fire: the eye in 45 s, else by the weight fed without a sign; the weight itself is looked at in every case
    Expected("fire-dies", fed(*DEAD, within=s(DEAD_S)), relit=True),
    Expected("flame-eye-dirty", fed("FLAME_OUT", within=s(60))),
    Expected("flame-eye-stuck", never()),
    Expected("flame-eye-stuck+fire-dies", fed(*DEAD, "PROBE_DRIFTS", within=s(DEAD_S)), relit=True),
    # with nothing fed charcoal and bed burn on, an hour in a young fire; from when they are out the count of kg runs
    Expected("hopper-bridges", fed(*DEAD, within=s(DEAD_S), harm=FIRE_OUT), every=4, careless=True),
    Expected("hopper-bridges, freed after 15 min", fed(*DEAD, within=s(DEAD_S), harm=FIRE_OUT), every=4,
             careless=True, later=(900.0, "bridge-falls-slowly")),
    Expected("hopper-bridges, freed after 30 min", fed(*DEAD, within=s(DEAD_S), harm=FIRE_OUT), every=4,
             careless=True, later=(1800.0, "bridge-falls-slowly")),
    Expected("hopper-empty", fed(*DEAD, within=s(DEAD_S), harm=FIRE_OUT), every=4, careless=True),
    Expected("grate-floods", never((*LOW_AIR, "RISE_TOO_FAST"), 600.0), every=2, passes=True),
    Expected("rise-too-fast", fed("RISE_TOO_FAST", "OVER_TEMPERATURE", within=s(240))),
    Expected("over-temperature", fed("RISE_TOO_FAST", "OVER_TEMPERATURE", "PROBES_DISAGREE", within=torch_s)),
    # the auger and its relay
    Expected("auger-jams", fed(*DEAD, within=turns_s, warns=("AUGER_STILL",)), needs=lambda kit: kit.shaft),
    Expected("relay-fails-open", fed(*DEAD, within=turns_s, warns=("AUGER_STILL",)), needs=lambda kit: kit.shaft),
    Expected("auger-jams, no sensor", fed(*DEAD, within=s(DEAD_S), harm=FIRE_OUT), every=4,
             needs=lambda kit: not kit.shaft),
    Expected("shaft-sensor-wire-breaks", fed(*DEAD, within=turns_s, warns=("AUGER_STILL",))),
    # with a watchdog relay the auger stands where nothing may be fed, so there is nothing to find before it may
    Expected("relay-welds", fed("AUGER_RUNS", within=s(60)), needs=lambda kit: kit.shaft and kit.watchdog),
    Expected("relay-welds, no watchdog", (Rule(ALL, ("AUGER_RUNS",), s(60)),),
             needs=lambda kit: kit.shaft and not kit.watchdog, powered=lambda kit: True),
    # with no shaft sensor nothing tells; but nothing may turn in the states that feed nothing, if there is a watchdog
    Expected("relay-welds, no sensor",
             (Rule(FED, ("AUGER_RUNS", *DEAD, "AIR_LOW", "RISE_TOO_FAST", "BURN_BACK"), s(900), heals=True),),
             needs=lambda kit: not kit.shaft, powered=lambda kit: not kit.watchdog),
    # people and their buttons
    Expected("stop-pressed", (Rule(ALL, ("STOP_BUTTON",), s(1)),)),
    Expected("stop-wire-breaks", (Rule(ALL, ("STOP_BUTTON",), s(1)),)),
    Expected("stop-asked", (Rule(ALL, ("STOP_ASKED",), s(1)),)),
    Expected("co-alarm", (Rule(ALL, ("CO_ALARM",), s(2)),)),
    Expected("reset-button-jams", never()),
    Expected("reset-button-jams+probe-unplugged", probe(4)),
    Expected("confirm-button-jams", never()),
    Expected("nobody-there", (Rule(ATTENDED, ("UNATTENDED",), s(26 * 60 + 10)),), every=8),
    Expected("confirm-button-jams+nobody-there", (Rule(ATTENDED, ("UNATTENDED",), s(26 * 60 + 10)),), every=8),
    # the daemon itself
    Expected("scan-hangs", fed("SCAN_LATE", "CLOCK_ODD", within=s(15), warns=("SCAN_LATE", "CLOCK_ODD")),
             passes=True),
    Expected("record-fails", fed(within=s(60), warns=("RECORD_TROUBLE",))),
)  # fmt: skip
