"""The interlocks, in one table. `stokehand interlocks` prints it, and so does `daemon/interlocks/README.md`.

It is longer than other files: a table that is cut in two is no table, and its order matters.

Where two trip in one scan the earlier row is the first-out.
"""

from __future__ import annotations

from daemon.course.state import ATTENDED, FEEDING, FIRE, State
from daemon.interlocks.airflow import air_low, air_scant, fan_idle, gauge_flat, no_airflow
from daemon.interlocks.feeding import (
    auger_runs,
    auger_shorted,
    auger_still,
    auger_unseen,
    eye_dark,
    feed_doubtful,
    feed_idle,
    fire_out,
    not_proven,
)
from daemon.interlocks.interlock import (
    ALL,
    BURNING,
    COOLING,
    KEEP_AIR,
    LEFT_BURNING,
    LESS_AIR,
    LIGHTING_ON,
    MINDED,
    MORE_AIR,
    NO_AIR,
    NOT_COOLING,
    PROVING,
    PURGE,
    Interlock,
    Safe,
    SafeDamper,
    SafeFan,
    SafeHorn,
    after,
    at_once,
)
from daemon.interlocks.itself import clock_odd, clock_set, record_trouble, scan_late, scan_stopped
from daemon.interlocks.people import co_alarm, nobody_there, stop_asked, stop_button
from daemon.interlocks.temperatures import (
    chamber_cold,
    draught_blind,
    helper_blind,
    hotter_than_plan,
    probe_blind,
    probe_drifts,
    probe_frozen,
    probe_jumped,
    probes_apart,
    probes_part,
    rises_too_fast,
    too_hot,
    tube_blind,
    tube_hot,
    tube_hot_cooling,
    tube_warm,
)
from daemon.notice import Cause, Finding, Level

T, W = Level.TRIP, Level.WARNING

FIRE_OUT_NEXT = (
    "Look through the spy-hole with eye protection. Let what glows burn out; clear the grate before you light again."
)
PROBE_NEXT = (
    "Let the fire burn down, or mend the probe and resume. Check the thermocouple, its plug and the amplifier; what "
    "you can't check hot, check with the kiln cold."
)
AUGER_RUNS_NEXT = (
    "Switch the auger's supply off at once. A relay has welded shut or a wire is shorted: have it mended before the "
    "next fire."
)
AUGER_RUNS_DID = (
    "Feed locked out, but the daemon alone can't stop this auger. The keep-alive pulse was stopped: an external "
    "watchdog relay, where one is fitted, cuts the auger's supply. Fan left as it was."
)
AIR_NEXT = "Look at the fan, the damper and the flue; carbon monoxide may gather, so air the place."

INTERLOCKS: tuple[Interlock, ...] = (
    Interlock(
        Cause.STOP_BUTTON, T, ALL, stop_button, at_once, True, LESS_AIR, True,
        "The stop button is pressed, or its wire is broken.{}",
        "See to the reason. Release the button or mend the wire.",
        "pressed",
        "A person's stop is never argued with. Wired normally closed, so that a broken wire stops too (usual for "
        "emergency stops, memory).",
    ),
    Interlock(
        Cause.STOP_ASKED, T, ALL, stop_asked, at_once, True, LESS_AIR, True,
        "A stop was asked for ({}).",
        "Go to the kiln and see that all is well.",
        "asked",
        "The network may stop a fire; it never ends a lock-out.",
    ),
    Interlock(
        Cause.CLOCK_ODD, T, ALL, clock_odd, at_once, True, LESS_AIR, True,
        "The clock that every delay is measured by is wrong: {}.",
        "Go to the kiln and look. Start the board afresh; if it comes again, have the board looked at.",
        "not later than the scan before",
        "Every other delay is measured by this clock. A monotonic clock that goes back is a broken one.",
    ),
    Interlock(
        Cause.SCAN_LATE, T, ALL, scan_stopped, at_once, True, LESS_AIR, True,
        "The daemon stood still: this scan came {}.",
        "Go to the kiln and look. Find out what kept the board: its supply, its heat, another program.",
        "{scan_stopped_s} s",
        "Nobody saw what happened meanwhile. By then the watchdog relay (about 1 s) has cut the feed; systemd's "
        "watchdog waits 2 s too.",
    ),
    Interlock(
        Cause.OVER_TEMPERATURE, T, ALL, too_hot, at_once, True, LESS_AIR, False,
        "Too hot: {}.",
        "Keep clear of the flue. Let the fire burn down, and look at the probe before you believe or doubt it.",
        "chamber {chamber_c} °C, flue {flue_c} °C, limit probe {limit_probe_c} °C",
        "A little above the hottest plan; types K and N end about 1260 °C continuous, so a hotter limit wants another "
        "wire (memory). The limit probe is read and judged apart from the control.",
    ),
    Interlock(
        Cause.BURN_BACK, T, NOT_COOLING, tube_hot, after(0.5), True, LESS_AIR, False,
        "The fire creeps back along the feed tube: {}.",
        "Look at tube and hopper. If the hopper smokes keep away from it and call the fire brigade.",
        "{feed_tube_c} °C",
        "EN 303-5 and kin keep a stoker's surface below about 85 °C (memory). Wood chars from some 200 °C.",
    ),
    Interlock(
        Cause.BURN_BACK, T, COOLING, tube_hot_cooling, after(0.5), True, LESS_AIR, False,
        "The feed tube of the cooling kiln gets too hot: {}.",
        "Look at tube and hopper. If the hopper smokes keep away from it and call the fire brigade.",
        "{feed_tube_cooling_c} °C",
        "With the fan off the kiln's heat travels back along the tube, to some 90 °C on simulated kilns; wood chars "
        "from some 200 °C (memory).",
    ),
    Interlock(
        Cause.CO_ALARM, T, ALL, co_alarm, after(0.5), True,
        Safe(SafeFan.AS_IT_WAS, SafeDamper.OPEN, SafeHorn.UNTIL_SEEN), False,
        "The carbon monoxide alarm sounds, or its wire is broken.{}",
        "Get everybody out into fresh air first. Then air the place and look at the flue.",
        "alarm",
        "The alarm has its own limits and delays; half a second only keeps a spark on its wire out. Fan and flue go on "
        "carrying the gas away.",
    ),
    Interlock(
        Cause.AUGER_RUNS, T, ALL, auger_shorted, after(0.5), True, KEEP_AIR, False,
        "The auger runs by itself: {}.", AUGER_RUNS_NEXT,
        "open, and read back as closed",
        "A pin follows at once. What is fed needs its air, so the fan stays.",
        AUGER_RUNS_DID,
    ),
    Interlock(
        Cause.AUGER_RUNS, T, ALL, auger_runs, after(1.5), True, KEEP_AIR, False,
        "The auger runs by itself: {}.", AUGER_RUNS_NEXT,
        "{auger_runs_s} s after it was last driven",
        "A motor coasts for a moment, and a single change of the sensor's level counts as turning for a second "
        "(memory). What is fed needs its air, so the fan stays.",
        AUGER_RUNS_DID,
    ),
    Interlock(
        Cause.AUGER_RUNS, W, FEEDING, auger_unseen, after(10.0), True, KEEP_AIR, False,
        "It is not seen whether the auger stops: {}.",
        "Look at the shaft sensor. If the auger turns by itself switch its supply off at once.",
        "{auger_runs_s} s of pauses without the shaft seen standing",
        "At a high feed the pauses are shorter than the sensor needs to show a standing shaft: the feed is held off "
        "for a moment, and a shaft that goes on turning then trips.",
    ),
    Interlock(
        Cause.PROBE_BLIND, T, MINDED, probe_blind,
        lambda limits, _: limits.probe_blind_s, True, LESS_AIR, True,
        "The kiln's temperature is not known: {}.", PROBE_NEXT,
        "chamber or limit probe",
        "Not knowing counts as unsafe. Two seconds are twenty readings: no spark lasts as long.",
    ),
    Interlock(
        Cause.PROBE_JUMPED, T, LIGHTING_ON, probe_jumped, after(2.0), True, LESS_AIR, True,
        "A probe jumped: {}.", PROBE_NEXT,
        "40 °C, and 5 °C more each second",
        "A sheathed thermocouple follows with a lag of some 20 s: an opened door moved it by 6 °C/s at most on the "
        "simulated kilns.",
    ),
    Interlock(
        Cause.PROBE_FROZEN, T, FIRE, probe_frozen, at_once, True, LESS_AIR, True,
        "A probe stands still: {}.", PROBE_NEXT,
        "the same for {frozen_s} s",
        "An amplifier resolves 1/128 °C and its noise is larger (data sheet, memory). Instruments that round coarsely "
        "need a longer limit.",
    ),
    Interlock(
        Cause.PROBES_DISAGREE, T, FIRE, probes_apart,
        lambda limits, _: limits.apart_s, False, LESS_AIR, True,
        "Two probes disagree: {}.", PROBE_NEXT,
        "{apart_k} °C between chamber and limit probe",
        "One of the two is wrong and nobody knows which. Two places in one chamber differ by 20 to 50 °C (memory); the "
        "delay lets an opened door pass.",
    ),
    Interlock(
        Cause.PROBE_DRIFTS, T, FEEDING, chamber_cold, after(10.0), True, LESS_AIR, False,
        "The chamber probe reads too low: {}.",
        "Let the fire burn down. Look whether the thermocouple's wires touch, and whether it sits in the chamber.",
        "below 80 °C after {cold_fed_kg} kg",
        "So many pellets warm any kiln of this size above 80 °C (simulated kilns); wires that touch read the cabinet "
        "instead.",
    ),
    Interlock(
        Cause.RISE_TOO_FAST, T, FEEDING, rises_too_fast, after(10.0), True, LESS_AIR, False,
        "The chamber rises too fast: {}.",
        "Look at the flame and the damper. A heap of pellets may be burning: more air makes it worse.",
        "{rise_k_per_min} °C/min, in the warm-up 2.5 times as much",
        "Smoothed over some 90 s. Simulated kilns rise by 8 °C/min at most, 17 while charcoal catches; a door that was "
        "open makes up to 48 °C in the minute after it is shut. The feed is held off from the first moment.",
    ),
    Interlock(
        Cause.AIRFLOW_LOST, T, FIRE, no_airflow,
        lambda limits, state: limits.airflow_lost_s if state is not State.FIRE_PROVING else 20.0,
        True, MORE_AIR, True,
        "Airflow lost: {}.", AIR_NEXT,
        "switch open, or below {draught_least_pa} Pa",
        "Burner controls stop the fuel when airflow is lost (EN 298, NFPA 86 and kin, memory). The feed opens in the "
        "same scan, and nothing is fed while the delay lets a gust pass; 20 s while proving let the fan start.",
    ),
    Interlock(
        Cause.AIRFLOW_LOST, T, FIRE, gauge_flat, after(10.0), True, MORE_AIR, True,
        "Airflow lost: {}.", AIR_NEXT,
        "switch closed, gauge below {draught_least_pa} Pa",
        "Two instruments contradict each other; a stuck switch is likelier than a gauge that reads nothing.",
    ),
    Interlock(
        Cause.FAN_IDLE, T, PURGE, fan_idle, lambda limits, _: limits.fan_idle_s, True, NO_AIR, False,
        "The fan is asked for and no air moves: {}.",
        "Look at the fan, its supply, the airflow switch and the gauge before anything is lit.",
        "driven, no airflow",
        "A fan is at speed within a few seconds (memory). Nothing is lit yet: better found now than in the fire.",
    ),
    Interlock(
        Cause.FAN_IDLE, W, LEFT_BURNING, fan_idle, lambda limits, _: limits.fan_idle_s, False, KEEP_AIR, False,
        "The fan is asked for and no air moves: {}.", AIR_NEXT,
        "driven, no airflow",
        "The feed is off already; the person must know that the bed burns out without its air.",
    ),
    Interlock(
        Cause.AIR_LOW, T, FEEDING, air_low, lambda limits, _: limits.air_low_s, False, MORE_AIR, True,
        "Too little air for the fuel: {}.", AIR_NEXT,
        "{air_low_frac} of the air wanted for the fuel",
        "Wood needs some 6 kg of air per kg (stoichiometry); a clean fire has a fifth to spare. At 45 % of it a fire "
        "smokes thickly and makes carbon monoxide. Five minutes give a person with a hand damper time.",
    ),
    Interlock(
        Cause.AIR_LOW, W, FEEDING, air_scant, lambda limits, _: limits.air_scant_s, False, KEEP_AIR, False,
        "Little air for the fuel: {}.",
        "Look for smoke. Open the damper, or see what chokes the grate: more feed would only cool the kiln.",
        "{air_scant_frac} of the air wanted for the fuel",
        "The spare air is used up by then; the feed waits for the air long before.",
    ),
    Interlock(
        Cause.FLAME_OUT, T, FEEDING, eye_dark, at_once, False, LESS_AIR, False,
        "The fire is out: {}.", FIRE_OUT_NEXT,
        "dark for {dark_s} s",
        "A pellet fire flickers for seconds. Gas burners get a second or so; a bed of solid fuel doesn't explode, and "
        "45 s of full feed are 0.1 kg (memory).",
    ),
    Interlock(
        Cause.FLAME_OUT, T, FEEDING, fire_out, at_once, False, LESS_AIR, False,
        "The fire is out: {}.", FIRE_OUT_NEXT,
        "{unproven_fuel_kg} kg, or 80 s of full feed, without a sign of fire",
        "Counted by weight, so that a slow feed gets more time than a fast one. A sign is a chamber that gets warmer, "
        "or from 300 °C on one that falls slower than a dead kiln; and an eye (where fitted) that sees flame.",
    ),
    Interlock(
        Cause.FEED_IDLE, T, FEEDING, feed_idle, at_once, False, LESS_AIR, False,
        "The feed does nothing: {}.",
        "Look into the hopper for a bridge or an empty auger, and at the bed. Keep your hands out of the auger.",
        "{unproven_fuel_kg} kg, or 80 s of full feed, without a sign of fire, and the eye sees a glow",
        "The same count; what glows may be walls. Nothing that was fed warms the kiln.",
    ),
    Interlock(
        Cause.FEED_IDLE, W, FEEDING, feed_doubtful, at_once, False, KEEP_AIR, False,
        "The feed seems to do nothing: {}.",
        "Look at the flame and into the hopper: a bridge, an empty auger, or a fire that is going out.",
        "three quarters of that",
        "Early enough to break a bridge. Before it, at half of the limit, a cool kiln is fed a little more: if it "
        "burns that must show.",
    ),
    Interlock(
        Cause.AUGER_STILL, W, FEEDING, auger_still, at_once, False, KEEP_AIR, False,
        "The auger does not turn: {}.",
        "Switch the auger's supply off, then look at the auger, its motor and the shaft sensor. Until it turns the "
        "feed is not raised, and what is driven is not counted as pellets.",
        "{auger_still_s} s driven",
        "Nothing is fed, which is the safe side, so it only warns; the fire then goes out and trips. The motor's own "
        "overload switch protects the motor.",
    ),
    Interlock(
        Cause.FIRE_NOT_PROVEN, T, PROVING, not_proven, at_once, True, LESS_AIR, False,
        "The fire was not proven: {}.",
        "Look at the charcoal and let it burn out; the next try begins with the purge.",
        "{fire_proving_s} s",
        "Charcoal takes a quarter of an hour to glow through (memory). No pellet is fed before.",
    ),
    Interlock(
        Cause.UNATTENDED, T, ATTENDED, nobody_there, at_once, True, LESS_AIR, True,
        "Nobody answered for {}.",
        "Go to the kiln and see that all is well.",
        "reminder, then horn, then this",
        "Never leave a burning kiln. The times are [attendance] in the settings (memory).",
    ),
    Interlock(
        Cause.BURN_BACK, W, NOT_COOLING, tube_warm, after(10.0), False, KEEP_AIR, False,
        "The feed tube gets hot: {}.",
        "Look at the flame and the draught: a choked grate or a weak fan lets the fire come back.",
        "{feed_tube_warn_c} °C",
        "Half way between a warm shed and the trip.",
    ),
    Interlock(
        Cause.PROBES_DISAGREE, W, BURNING, probes_part,
        lambda limits, _: limits.apart_s, False, KEEP_AIR, False,
        "Two probes begin to disagree: {}.",
        "Note both. The lower one may be wrong: a type K wire reads low after long reduction.",
        "{apart_warn_k} °C",
        "The far end of what two places in one chamber differ by (memory).",
    ),
    Interlock(
        Cause.PROBE_DRIFTS, W, FEEDING, probe_drifts, at_once, False, KEEP_AIR, False,
        "The chamber probe seems to drift: {}.",
        "Compare with a cone or another probe before you believe the chamber's reading: the kiln may be hotter.",
        "45 °C by flue and fuel, 75 °C by the flue alone",
        "For the same reading the kiln takes more heat and sends more up the flue than it did in this firing. Not "
        "known before 4 kg were fed, nor without a flue probe. Found on the simulated kilns.",
    ),
    Interlock(
        Cause.RISE_TOO_FAST, W, FEEDING, hotter_than_plan, after(60.0), False, KEEP_AIR, False,
        "The kiln is hotter than the plan: {}.",
        "Wet or thick ware may crack, and a soak over-fires. Look at the flame: charcoal still burning or drier "
        "pellets give more heat. More air by the damper cools a hot kiln; a plan that climbs faster, or an end now, "
        "are the other ways. A lower feed_floor_frac is one only if your fire lives on it.",
        "{ahead_k} °C above the setpoint; in a soak three times its band",
        "The feed keeps a kiln within a few °C of its setpoint (simulated kilns). At its floor it can do no more.",
    ),
    Interlock(
        Cause.PROBE_BLIND, W, BURNING, draught_blind, after(10.0), False, KEEP_AIR, False,
        "The draught gauge can't be believed: {}.",
        "Look at its hose and its wire. Until it is mended look at the flame and for smoke oftener.",
        "no reading",
        "Air is proven by the switch; how much air there is goes unseen. Without a switch this trips as lost airflow.",
    ),
    Interlock(
        Cause.PROBE_BLIND, W, BURNING, tube_blind, after(10.0), False, KEEP_AIR, False,
        "The feed tube's sensor can't be believed: {}.",
        "Feel along the tube with care, again and again, and mend the sensor before the next firing.",
        "no reading",
        "A fire that creeps back goes unseen.",
    ),
    Interlock(
        Cause.PROBE_BLIND, W, BURNING, helper_blind, after(10.0), False, KEEP_AIR, False,
        "An instrument can't be believed: {}.",
        "Go on with care: the daemon does without it. Mend it before the next firing.",
        "flue or any other probe",
        "What it would have warned of goes unseen; the vital probes remain.",
    ),
    Interlock(
        Cause.SCAN_LATE, W, ALL, scan_late, at_once, False, KEEP_AIR, False,
        "A scan came late: {}.",
        "Find out what kept the board: its supply, its heat, another program.",
        "{scan_late_s} s",
        "Five scans missed; the daemon's own lateness is a few ms.",
    ),
    Interlock(
        Cause.CLOCK_ODD, W, ALL, clock_set, at_once, False, KEEP_AIR, False,
        "The clock for people was set, {}.",
        "Nothing: decisions don't go by it. Times in the record jump here.",
        "{clock_set_s} s",
        "A board without a battery clock learns the time from the network some time after it starts (memory).",
    ),
    Interlock(
        Cause.RECORD_TROUBLE, W, ALL, record_trouble, after(3.0), False, KEEP_AIR, False,
        "The firing is not recorded: {}.",
        "See to the disk or the card when you can.",
        "a write failed",
        "Control never waits for the disk.",
    ),
)  # fmt: skip

GOES_ON = frozenset({Cause.INTERRUPTED}) | {lock.cause for lock in INTERLOCKS if lock.level is T and lock.resumes}
"""After a lock-out by nothing else than these the firing may be resumed."""


def resumes(findings: tuple[Finding, ...]) -> bool:
    """Whether these findings leave a firing to be taken up again: no trip that ends it, and no clock that was set."""
    return all(f.cause in GOES_ON if f.level is T else f.cause is not Cause.CLOCK_ODD for f in findings)
