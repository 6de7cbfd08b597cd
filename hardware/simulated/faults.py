"""The faults a rehearsal can ask for by name, each something that really breaks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from hardware.simulated.cabinet import Cabinet
from hardware.simulated.max31856 import Max31856
from hardware.simulated.mcp3008 import Mcp3008
from hardware.simulated.plant import Plant
from hardware.simulated.spi import SpiWires
from hardware.wiring import Wiring

COLD_JUNCTION_GAP_K = 80.0
JUMP_K = 200.0
DRIFT_K_PER_H, DRIFTS_H = 120.0, 10.0
LIMIT_OFF_K, LIMIT_OFF_S = 150.0, 60.0


@dataclass(frozen=True, slots=True)
class Fault:
    """One line of what breaks, and the breaking."""

    line: str
    strike: Callable[[], None]


def faults(
    plant: Plant,
    cabinet: Cabinet,
    chips: Mapping[str, Max31856],
    converter: Mcp3008,
    wires: SpiWires,
    wiring: Wiring,
) -> dict[str, Fault]:
    """Return every fault that the kiln as wired can have."""
    known = _probe_faults(chips) | {
        "bus-low": Fault("the thermocouple data line is shorted to ground", wires.miso_stuck_low),
        "bus-high": Fault("the thermocouple data line is shorted to the supply", wires.miso_stuck_high),
        "fan-stops": Fault("the fan's motor dies", plant.stop_fan),
        "fan-weak": Fault("the fan's wheel slips: 15 % of its head is left", plant.weaken_fan),
        "damper-falls-shut": Fault("the damper's hold gives way and it falls shut", cabinet.damper_falls_shut),
        "flue-blocked": Fault("something falls across the flue", plant.block_flue),
        "door-opens": Fault("the kiln's door is left open", plant.open_door),
        "fire-dies": Fault("the fire goes out; fresh pellets don't catch", plant.drown_fire),
        "hopper-bridges": Fault("pellets arch over the auger: the shaft turns, nothing comes", plant.bridge_hopper),
        "hopper-empty": Fault("the hopper is empty: the shaft turns, nothing comes", plant.empty_hopper),
        "grate-floods": Fault("a bridge falls: 1.5 kg of pellets on the grate at once", plant.flood_grate),
        "rise-too-fast": Fault("somebody lights a gas burner in the fire mouth", plant.light_burner),
        "feed-tube-heats": Fault("the fire creeps back into the feed tube: it heats by 1 K/s", plant.start_burn_back),
        "auger-jams": Fault("the auger sticks: the motor hums, the shaft stands", plant.jam_auger),
        "relay-welds": Fault(
            "the auger's relay welds shut: it feeds whatever the pin says", cabinet.auger_relay.weld_shut
        ),
        "relay-fails-open": Fault("the auger's relay burns open: it never feeds", cabinet.auger_relay.fail_open),
        "over-temperature": Fault("a gas torch plays on the chamber and limit probes", lambda: _light(cabinet)),
    }
    known |= {name: fault for name, (fitted, fault) in _input_faults(cabinet, wiring).items() if fitted is not None}
    for name, gauge, line in (
        ("draught-wire-breaks", wiring.draught, "the draught transmitter's wire breaks"),
        ("feed-tube-wire-breaks", wiring.feed_tube, "the feed tube sensor's wire breaks"),
        ("oxygen-dead", wiring.oxygen, "the oxygen probe dies: its controller sends nothing"),
    ):
        if gauge is not None:
            known[name] = Fault(line, _breaking(converter, gauge.channel))
    if wiring.damper is not None:
        known["damper-sticks"] = Fault("the damper's servo dies and stays where it is", cabinet.damper_sticks)
    return known


def _input_faults(cabinet: Cabinet, wiring: Wiring) -> dict[str, tuple[int | None, Fault]]:
    """Return what can break at the inputs, each with the pin it needs."""
    airflow, shaft = cabinet.airflow, cabinet.shaft.wire_breaks
    return {
        "stop-wire-breaks": (wiring.stop, Fault("the wire of the stop loop breaks", cabinet.stop.wire_breaks)),
        "stop-pressed": (wiring.stop, Fault("somebody presses stop and it latches", lambda: _press_stop(cabinet))),
        "airflow-switch-wire-breaks": (wiring.airflow, Fault("the airflow switch's wire breaks", airflow.wire_breaks)),
        "airflow-switch-stuck": (wiring.airflow, Fault("the airflow switch sticks closed", airflow.jams)),
        "shaft-sensor-wire-breaks": (wiring.shaft, Fault("the shaft sensor's wire breaks", shaft)),
        "flame-eye-dirty": (wiring.flame, Fault("soot covers the flame eye", lambda: _soot(cabinet))),
        "flame-eye-stuck": (wiring.flame, Fault("the flame eye says flame for ever", cabinet.flame.jams)),
        "reset-button-jams": (wiring.reset, Fault("the reset button jams, pressed", cabinet.reset.jams)),
        "confirm-button-jams": (wiring.confirm, Fault("the confirm button jams, pressed", cabinet.confirm.jams)),
        "co-alarm": (wiring.co_alarm, Fault("the carbon monoxide alarm sounds", lambda: _alarm(cabinet))),
    }


def _probe_faults(chips: Mapping[str, Max31856]) -> dict[str, Fault]:
    chamber = chips["chamber"]
    known = {
        "probe-open": Fault("the chamber thermocouple breaks", chamber.open_circuit),
        "probe-short": Fault("the chamber thermocouple touches the supply", chamber.short_to_supply),
        "probe-leads-touch": Fault("the chamber thermocouple's wires touch: it reads the cabinet", chamber.leads_touch),
        "probe-forgets": Fault("the chamber amplifier's supply dips: it forgets its settings", chamber.supply_dips),
        "probe-unplugged": Fault("the chamber amplifier is unplugged", chamber.absent),
        "cold-junction-hot": Fault("the chamber amplifier gets far too hot", lambda: _heat(chamber)),
        "probe-freezes": Fault("the chamber amplifier stops converting: its last value stands", chamber.freezes),
        "probe-jumps-up": Fault("a bad joint: the chamber reads 200 K too much", lambda: chamber.reads_wrong(JUMP_K)),
        "probe-jumps-down": Fault("a bad joint: the chamber reads 200 K short", lambda: chamber.reads_wrong(-JUMP_K)),
        "probe-drifts": Fault("the chamber reading falls behind the truth by 120 K an hour", lambda: _drift(chamber)),
    }
    for name, chip in chips.items():
        if name != "chamber":
            known[f"{name}-probe-open"] = Fault(f"the {name} thermocouple breaks", chip.open_circuit)
    if "limit" in chips:
        limit = chips["limit"]
        known["limit-probe-freezes"] = Fault("the limit amplifier stops converting: its last value stands",
                                             limit.freezes)  # fmt: skip
        known["limit-probe-off"] = Fault("the limit probe slips out: within a minute it reads 150 K too low",
                                         lambda: limit.reads_wrong(-LIMIT_OFF_K, LIMIT_OFF_S))  # fmt: skip
    return known


def _breaking(converter: Mcp3008, channel: int) -> Callable[[], None]:
    return lambda: converter.wire_breaks(channel)


def _heat(chip: Max31856) -> None:
    chip.heat_cold_junction(COLD_JUNCTION_GAP_K)


def _drift(chip: Max31856) -> None:
    chip.reads_wrong(-DRIFT_K_PER_H * DRIFTS_H, DRIFTS_H * 3600.0)


def _light(cabinet: Cabinet) -> None:
    cabinet.torch_lit = True


def _press_stop(cabinet: Cabinet) -> None:
    cabinet.stop.closed = False


def _soot(cabinet: Cabinet) -> None:
    cabinet.eye_dirty = True


def _alarm(cabinet: Cabinet) -> None:
    cabinet.co_alarm.closed = False
