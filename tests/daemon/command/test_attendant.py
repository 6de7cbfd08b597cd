"""The rehearsal's attendant: does what is asked after a person's delays, and can be late, wrong or absent."""

from dataclasses import dataclass, field, replace
from random import Random

import pytest

from daemon.command.attendant import DELAYS_S, RAKE_EVERY_S, ROUND_S, Attendant, Temper
from daemon.course.asks import Word
from daemon.course.state import State
from hardware.port import Draught, Sight
from tests.daemon.house import Kiln, cold_kiln, short_settings, with_beat


@dataclass
class Grate:
    """A kiln's outside: what can be done to it, and a list of what was done."""

    done: list[str] = field(default_factory=list)
    damper: float = 1.0
    flame: bool = False
    hopper_kg: float = 5.0

    def look(self) -> Sight:
        """A gauge of 80 Pa with the damper open, that goes with the square of its opening."""
        return Sight(80.0 * self.damper**2, self.flame, False, self.hopper_kg)

    def light_charcoal(self, kg: float) -> None:
        self.done.append("light")

    def fill_hopper(self, kg: float) -> None:
        self.done.append("fill")
        self.hopper_kg += kg

    def set_damper(self, frac: float) -> None:
        self.damper = frac

    def rake_ash(self) -> None:
        self.done.append("rake")

    def press(self, button: str, pressed: bool) -> None:
        self.done.append(button)


def lived(kiln: Kiln, attendant: Attendant, seconds: float) -> list[tuple[float, Word]]:
    """Let kiln and attendant live together; returns what was said, and when."""
    said = []
    for _ in range(round(seconds)):
        asks = attendant.asks()
        said += [(kiln.rig.image.now_s, ask.word) for ask in asks]
        kiln.scan(*(ask.word for ask in asks), source="attendant")
        attendant.live(kiln.memory)
        if "light" in attendant.hands.done:  # type: ignore[union-attr]
            kiln.rig.show(flame_seen=True)
    return said


def someone(temper: Temper, seed: int = 1) -> tuple[Attendant, Grate]:
    """A person and what they work at."""
    grate = Grate()
    return Attendant(temper, grate, Random(seed)), grate


def test_a_prompt_person_takes_the_kiln_from_cold_to_feeding() -> None:
    kiln, (person, grate) = cold_kiln(step_s=1.0), someone(Temper.PROMPT)
    said = lived(kiln, person, 400)
    assert [word for _, word in said][:3] == [Word.MADE_READY, Word.BEGIN, Word.LIT]
    assert grate.done[:2] == ["rake", "light"]
    assert kiln.state in (State.WARM_UP, State.CLIMBING)


@pytest.mark.parametrize("temper", [Temper.PROMPT, Temper.LATE])
def test_everything_takes_the_time_a_person_needs(temper: Temper) -> None:
    shortest_s, longest_s = DELAYS_S[temper]
    for seed in range(20):
        kiln, (person, _) = cold_kiln(step_s=1.0), someone(temper, seed)
        said = lived(kiln, person, longest_s + 5)
        assert said[0][1] is Word.MADE_READY
        assert shortest_s <= said[0][0] <= longest_s + 3


def test_the_same_seed_gives_the_same_person() -> None:
    histories = []
    for seed in (3, 3, 4):
        histories.append(lived(cold_kiln(step_s=1.0), someone(Temper.PROMPT, seed)[0], 400))
    assert histories[0] == histories[1] != histories[2]


def test_a_wrong_person_says_that_it_burns_and_the_fire_is_never_proven() -> None:
    kiln, (person, grate) = cold_kiln(step_s=1.0), someone(Temper.WRONG)
    said = lived(kiln, person, 600)
    assert Word.LIT in [word for _, word in said]
    assert "light" not in grate.done
    assert (kiln.state, kiln.fed_s(600)) == (State.LOCKED_OUT, 0)


def test_an_absent_person_lights_the_fire_and_answers_no_call() -> None:
    settings = short_settings(attendance={"every_min": 1, "horn_after_min": 0.5, "trip_after_min": 1})
    kiln, (person, _) = cold_kiln(settings, step_s=1.0), someone(Temper.ABSENT)
    said = lived(kiln, person, 900)
    assert Word.LIT in [word for _, word in said]
    assert kiln.state is State.LOCKED_OUT
    assert kiln.memory.lockout is not None
    assert "Nobody answered" in kiln.memory.lockout.first_out.notice.happened


def test_a_prompt_person_answers_every_call() -> None:
    settings = short_settings(attendance={"every_min": 2, "horn_after_min": 2, "trip_after_min": 4})
    kiln, (person, _) = cold_kiln(settings, step_s=1.0), someone(Temper.PROMPT)
    said = lived(kiln, person, 1500)
    assert [word for _, word in said].count(Word.HERE) >= 3
    assert kiln.first_out is None


def test_a_person_with_a_hand_damper_moves_it_until_the_gauge_reads_what_was_asked() -> None:
    kiln, (person, grate) = cold_kiln(step_s=1.0), someone(Temper.PROMPT)
    kiln.scan()
    air = replace(kiln.memory.beat.air, setpoint_pa=20.0, request="Close the damper until the gauge reads 20 Pa.")
    readings = kiln.memory.readings
    assert readings is not None
    for second in range(120):
        now = replace(readings, now_s=float(second), draught=Draught(grate.look().gauge_pa, 0.0, "fake"))
        person.live(with_beat(kiln.memory, air=air)._replace(readings=now))
        if abs(grate.look().gauge_pa - 20.0) < 0.8 and person._move is None:
            break
    assert grate.look().gauge_pa == pytest.approx(20.0, abs=0.8)


def test_on_the_round_the_hopper_is_filled_and_the_grate_raked() -> None:
    kiln, (person, grate) = cold_kiln().lit(State.CLIMBING), someone(Temper.PROMPT)
    readings = kiln.memory.readings
    assert readings is not None
    for second in range(0, round(2 * RAKE_EVERY_S + 2 * ROUND_S), 10):
        grate.hopper_kg -= 10 * 3 / 3600
        person.live(kiln.memory._replace(readings=replace(readings, now_s=readings.now_s + second)))
        assert grate.hopper_kg > 3.0
    assert grate.done.count("fill") >= 1
    assert grate.done.count("rake") == 2


def test_nobody_says_the_bed_is_out_who_still_sees_flame() -> None:
    kiln, (person, grate) = cold_kiln().lit(State.CLIMBING), someone(Temper.PROMPT)
    kiln.scan(Word.BURN_DOWN)
    kiln.rig.show(flame_seen=False)
    kiln.step_s, grate.flame = 1.0, True
    assert Word.BED_OUT not in [word for _, word in lived(kiln, person, 110)]
    assert kiln.state is State.BURN_DOWN


def test_where_a_rig_gives_no_hands_the_person_still_answers() -> None:
    kiln, person = cold_kiln(step_s=1.0), Attendant(Temper.PROMPT, None, Random(1))
    said = []
    for _ in range(200):
        asks = person.asks()
        said += [ask.word for ask in asks]
        kiln.scan(*(ask.word for ask in asks))
        person.live(kiln.memory)
    assert said[:3] == [Word.MADE_READY, Word.BEGIN, Word.LIT]
