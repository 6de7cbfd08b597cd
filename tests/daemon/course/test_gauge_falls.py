"""Without an airflow switch the gauge must fall again when the fan stops, or the charcoal counts as unlit."""

from dataclasses import replace

from daemon.course.asks import Word
from daemon.course.state import State
from hardware.port import NOT_FITTED, Draught, Readings
from tests.daemon.house import cold_kiln


def test_a_gauge_that_sticks_in_the_purge_is_found_when_the_fan_stops() -> None:
    stuck = [False]
    kiln = cold_kiln()

    def see(seen: Readings) -> Readings:
        fan = kiln.memory.done.fan_frac
        speed = fan if isinstance(fan, float) and not stuck[0] else 1.0
        return replace(seen, airflow_proven=NOT_FITTED, draught=Draught(5.0 + 60.0 * speed, 0.0, "fake:gauge"))

    kiln.rig.override = see
    kiln.run(5)
    kiln.scan(Word.MADE_READY)
    kiln.run(5)
    kiln.scan(Word.BEGIN)
    kiln.until(State.LIT_BY_HAND, within_s=300)
    stuck[0] = True
    kiln.run(60)
    kiln.scan(Word.LIT)
    assert kiln.state is State.LIT_BY_HAND
    assert "with the fan still, as in the purge" in kiln.memory.answers[-1].why
    stuck[0] = False
    kiln.run(2)
    kiln.scan(Word.LIT)
    kiln.until(State.FIRE_PROVING, within_s=2)
