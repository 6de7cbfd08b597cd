"""`stokehand try`: the wiring tried by hand, with the kiln cold and no daemon: inputs live, then each output in turn.

Everything is off before, between and after. The auger's contact is closed only once somebody says that the auger's own
supply is off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields

from daemon.settings import SCAN_S
from hardware.port import NOT_FITTED, AirRatio, Blind, Draught, Outputs, Readings, Rig, Temperature

PULSE_S = 2.0
FAN_S = 15.0
IN_A_HAND_S = 90.0
IN_A_HAND_K = 2.0  # a hand warms a bare sheath by more than 5 K in a minute (memory)
AIR_PA = 3.0
SUPPLY_OFF = "off"

Say = Callable[[str], object]
Ask = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Trial:
    """One output: what is driven, for how long, and what a person should notice."""

    name: str
    wanted: Outputs
    for_s: float
    notice: str


TRIALS = (
    Trial("lamp", Outputs(lamp=True), PULSE_S, "the lamp is lit"),
    Trial("horn", Outputs(horn=True), PULSE_S, "the horn sounds"),
    Trial("fan_frac", Outputs(fan_frac=0.4), FAN_S, "the fan turns, at less than half of its speed"),
    Trial("damper_frac", Outputs(damper_frac=1.0), FAN_S / 3, "the damper opens all the way"),
    Trial("auger", Outputs(auger=True), PULSE_S, "the auger's relay clicks, and nothing turns"),
)


def in_words(seen: Readings) -> Iterator[str]:
    """Every input that is wired, as a person reads it."""
    for name, probe in seen.probes.items():
        yield f"probe {name}: {_value(probe)}"
    for field in fields(seen):
        value = getattr(seen, field.name)
        if field.name not in ("now_s", "utc_s", "probes") and value is not NOT_FITTED:
            yield f"{field.name.replace('_', ' ')}: {_value(value)}"


def _value(value: object) -> str:
    match value:
        case Blind():
            return f"not believed, {value.reason.value}"
        case Temperature():
            return f"{value.value_c:.1f} °C"
        case Draught():
            return f"{value.value_pa:.1f} Pa"
        case AirRatio():
            return f"{value.value:.2f}"
        case bool():
            return "yes" if value else "no"
    return str(value)


def watch_inputs(rig: Rig, say: Say, for_s: float) -> None:
    """Say every change of an input, for so long, after saying all of them once."""
    seen = rig.read(rig.read(0.0).now_s + 1.0)
    until_s = seen.now_s + for_s
    lines = list(in_words(seen))
    say("\n".join(lines))
    while seen.now_s < until_s:
        seen = rig.read(seen.now_s + SCAN_S)
        now = list(in_words(seen))
        for before, line in zip(lines, now, strict=True):
            if _coarse(before) != _coarse(line):
                say(line)
        lines = [line if _coarse(before) != _coarse(line) else before for before, line in zip(lines, now, strict=True)]


def _coarse(line: str) -> str:
    """The line without the figures that never stand still."""
    return line.partition(".")[0]


def try_outputs(rig: Rig, ask: Ask, say: Say) -> list[str]:
    """Pulse each output that is wired, after a yes. Returns what was wrong, a sentence each."""
    wrong: list[str] = []
    rig.read(0.0)
    fitted = rig.write(Outputs(damper_frac=NOT_FITTED))
    for trial in TRIALS:
        if getattr(fitted, trial.name) is NOT_FITTED:
            continue
        name = trial.name.removesuffix("_frac")
        if trial.name == "auger":
            say("The auger: switch its own supply off at the isolator, and hang a note on it.")
            if ask(f"Type {SUPPLY_OFF} when its supply is off, anything else to leave it out: ") != SUPPLY_OFF:
                say("The auger was left out.")
                continue
        elif ask(f"Drive the {name} for {trial.for_s:.0f} s? [y/N] ") != "y":
            continue
        wrong += [f"{name}: {what}" for what in pulse(rig, trial)]
        if ask(f"Was it so: {trial.notice}? [y/N] ") != "y":
            wrong.append(f"{name}: it was not so that {trial.notice}.")
    return wrong


def pulse(rig: Rig, trial: Trial) -> Iterator[str]:
    """Drive one output and then nothing. Yields what the inputs and the levels read back say against it."""
    seen = rig.read(0.0)
    until_s = seen.now_s + trial.for_s
    blew = turned = driven = False
    try:
        while seen.now_s < until_s:
            done = rig.write(trial.wanted)
            driven = driven or getattr(done, trial.name) not in (False, 0.0)
            seen = rig.read(seen.now_s + SCAN_S)
            blew = (
                blew or seen.airflow_proven is True or (isinstance(seen.draught, Draught) and seen.draught.value_pa > 3)
            )
            turned = turned or seen.shaft_turning is True
    finally:
        done = rig.write(Outputs())
    if not driven:
        yield "the level read back never changed. Look for a short at its pin."
    if getattr(done, trial.name) not in (False, 0.0) and trial.name != "damper_frac":
        yield "the level read back stays. Switch the kiln's supply off and look for a short at its pin."
    if (
        trial.name == "fan_frac"
        and not blew
        and (seen.airflow_proven is not NOT_FITTED or seen.draught is not NOT_FITTED)
    ):
        yield "neither switch nor gauge saw any air. Look at the fan, the hose of the gauge, and the switch's wire."
    if trial.name == "auger" and turned:
        yield "the shaft turned, so the auger's supply is not off, or the sensor sees something else."


def sees_air(seen: Readings) -> bool:
    """Whether switch or gauge tells of air."""
    gauge = isinstance(seen.draught, Draught) and seen.draught.value_pa >= AIR_PA
    return gauge or seen.airflow_proven is True


def which_probe(rig: Rig, say: Say, for_s: float = IN_A_HAND_S) -> str | None:
    """Name the probe that gets warmer than all others: somebody holds it in a hand. None where that can't be told."""
    seen = rig.read(rig.read(0.0).now_s + 2.0)
    first, until_s = temperatures(seen), seen.now_s + for_s
    while seen.now_s < until_s:
        seen = rig.read(seen.now_s + SCAN_S)
        rises = sorted((now_c - first[n], n) for n, now_c in temperatures(seen).items() if n in first)
        best, *others = reversed(rises) if rises else [(0.0, "")]
        if best[0] >= IN_A_HAND_K and (not others or others[0][0] < best[0] / 2):
            say(f"That is the {best[1]} probe: {best[0]:.1f} °C warmer.")
            return best[1]
        if rises and rises[0][0] <= -IN_A_HAND_K and best[0] < -rises[0][0] / 2:
            say(f"The {rises[0][1]} probe gets colder: its two wires are swapped.")
            return None
    say("No probe got warmer than the others.")
    return None


def temperatures(seen: Readings) -> Mapping[str, float]:
    """Every probe that can be believed, °C."""
    return {name: probe.value_c for name, probe in seen.probes.items() if isinstance(probe, Temperature)}
