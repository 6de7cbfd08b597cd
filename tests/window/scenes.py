"""Named scenes: what the daemon tells of a kiln in them. Each is scanned by the real code and told by the real status.

Nothing in a scene is written by hand but the kiln: what it reads, what breaks, and what the person says.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from daemon.course.asks import Word
from daemon.course.attendance import Call
from daemon.course.state import State
from daemon.memory import Memory
from daemon.outside.moment import Context
from daemon.outside.notices import Json
from daemon.outside.status import status
from hardware.port import NOT_FITTED, Blind, Blindness, Outputs, Readings, Temperature
from tests.daemon.house import FakeRig, Kiln
from tests.window.kiln import befall, closely, fire, in_stage, scene_kiln, twin, whole, with_oxygen

CONTEXT = Context(3, "/var/lib/stokehand/firings.sqlite", rehearsal=False)
BOWLS = """
name = "Bowls, cone 6"
temperature = "C"
draught = "Pa"
[[stage]]
name = "warm-up"
kind = "fixed"
feed = 10
draught = 12
for = "5 min"
[[stage]]
name = "through the quartz inversion"
kind = "climb"
to = 620
rate = 400
[[stage]]
name = "burn out the carbon"
kind = "soak"
for = "10 min"
[[stage]]
name = "to cone 6"
kind = "climb"
cone = "6"
rate = 100
[[stage]]
name = "even out"
kind = "soak"
for = "15 min"
"""
JUGS = """
name = "Jugs, cone 10"
temperature = "F"
draught = "inH2O"
[[stage]]
name = "warm-up"
kind = "fixed"
feed = 10
for = "5 min"
[[stage]]
name = "to body reduction"
kind = "climb"
to = 1400
rate = 700
[[stage]]
name = "body reduction"
kind = "climb"
to = 1800
rate = 120
atmosphere = "medium reduction"
"""


def cold() -> Kiln:
    """Nothing is driven, nothing burns."""
    return scene_kiln(BOWLS).scan()


def made_ready() -> Kiln:
    """Somebody said that the kiln is made ready."""
    return cold().scan(Word.MADE_READY).run(20)


def purge() -> Kiln:
    """The fan blows it through."""
    return made_ready().scan(Word.BEGIN).run(3)


def lit_by_hand() -> Kiln:
    """The charcoal is being lit."""
    return scene_kiln(BOWLS).lit(State.LIT_BY_HAND).run(60)


def fire_proving() -> Kiln:
    """The charcoal is lit, and no flame was seen yet."""
    return scene_kiln(BOWLS).lit(State.FIRE_PROVING).run(30)


def warm_up() -> Kiln:
    """The plan's own feed."""
    return scene_kiln(BOWLS).lit(State.WARM_UP).run(100)


@cache
def usual_soak() -> Kiln:
    """The soak of the bowls, just begun."""
    return fire(scene_kiln(BOWLS), in_stage(2))


@cache
def usual_climb() -> Kiln:
    """The climb of the bowls to their cone, well on its way."""
    return fire(twin(usual_soak()), in_stage(3, 640.0))


def climbing() -> Kiln:
    """All is well."""
    return twin(usual_climb())


def called() -> Kiln:
    """All is well, but nobody has said for long that they are there: the horn calls."""
    kiln = twin(usual_climb())
    while kiln.memory.beat.attendance.call is not Call.HORN:
        kiln.scan()
    return kiln.run(45)


def soaking() -> Kiln:
    """The door stood open for some minutes: heat work is owed."""
    kiln = twin(usual_soak()).run(60)
    for _ in range(300):
        kiln.rig.probe("chamber", max(kiln.rig.hot_c - 0.5, 592.0))
        kiln.scan()
    return kiln.run(60)


def reduction() -> Kiln:
    """A reduction that an oxygen probe watches, in °F and inches of water."""
    kiln = scene_kiln(JUGS)
    kiln.rig.live = with_oxygen
    return fire(kiln, in_stage(2, 775.0))


def waiting_for_air() -> Kiln:
    """The flue is half shut: the feed waits for the air, and the plan for the kiln."""
    kiln = befall(twin(usual_climb()), lambda rig: rig.gauge(8.0))
    return fire(kiln, lambda kiln: kiln.memory.beat.course.waits).run(90)


def air_by_hand() -> Kiln:
    """A hand sets the damper, and is asked to open it."""
    kiln = befall(scene_kiln(BOWLS, air={"by": "hand"}), lambda rig: rig.gauge(12.0))
    return fire(kiln, lambda kiln: kiln.memory.beat.air.request is not None and kiln.state is State.CLIMBING).run(40)


def without_gauge() -> Kiln:
    """A flame eye and an airflow switch, but no gauge, no flue probe and no shaft sensor: nothing tells the air."""
    kiln = befall(scene_kiln(BOWLS), strip_gauge)
    return fire(kiln, in_stage(1, 300.0))


def strip_gauge(rig: FakeRig) -> None:
    """Take away what this kiln lacks."""
    rig.show(
        draught=NOT_FITTED, shaft_turning=NOT_FITTED, feed_tube=NOT_FITTED, co_alarm=NOT_FITTED,
        probes={"chamber": rig.image.probes["chamber"]},
    )  # fmt: skip


def bare() -> Kiln:
    """Nothing is fitted but the chamber's thermocouple and the auger's relay: no purge can be proven."""
    kiln = befall(scene_kiln(BOWLS), strip_all)
    kiln.rig.read_back = lambda wanted: Outputs(wanted.auger, *[NOT_FITTED] * 5)
    return kiln.scan().scan(Word.MADE_READY).run(5)


def strip_all(rig: FakeRig) -> None:
    """Leave nothing but the chamber's probe."""
    now_s, utc_s, chamber = rig.image.now_s, rig.image.utc_s, rig.image.probes["chamber"]
    rig.image = Readings(now_s, utc_s, {"chamber": chamber})


def blind() -> Kiln:
    """The chamber's thermocouple has just come off, after flue probe, feed tube and oxygen probe."""
    kiln = befall(twin(usual_climb()), lambda rig: rig.probe("flue", Blindness.COLD_JUNCTION))
    kiln.rig.show(
        feed_tube=Blind(Blindness.BUS_STUCK_LOW, "fake:tube"), oxygen=Blind(Blindness.DRIVER_FAILED, "fake:oxygen")
    )
    kiln = closely(kiln).run(30)
    kiln.rig.probe("chamber", Blindness.OPEN_CIRCUIT)
    return kiln.run(1)


@cache
def usual_trip() -> Kiln:
    """The fan stops in the climb; its switch tells first, the alarm for carbon monoxide later."""
    kiln = befall(closely(twin(usual_climb())), still_air)
    kiln.run(60).rig.show(co_alarm=True)
    return kiln.run(30)


def still_air(rig: FakeRig) -> None:
    """No air moves, the eye sees no flame, and the tube gets warm."""
    rig.show(airflow_proven=False, flame_seen=False, feed_tube=Temperature(66.0, 0.0, "fake:tube"))
    rig.gauge(0.4)


def tripped() -> Kiln:
    """Locked out, with the first-out, another trip and warnings."""
    return twin(usual_trip())


def locked_out() -> Kiln:
    """The same later: the fan runs again, and somebody has read the alarms. What tripped stays until the reset."""
    kiln = twin(usual_trip())
    kiln.rig.live = whole
    kiln.rig.show(co_alarm=False, flame_seen=True, feed_tube=Temperature(41.0, 0.0, "fake:tube"))
    return kiln.run(20).scan(Word.SEEN).run(200)


def resumable() -> Kiln:
    """Stopped in the climb and reset: it burns down, and may be taken up again."""
    kiln = closely(twin(usual_climb())).scan(Word.STOP, source="page").run(30)
    kiln.rig.show(reset_pressed=True)
    kiln.run(4).rig.show(reset_pressed=False)
    return kiln.run(30)


def cooling() -> Kiln:
    """Fired to its end; the bed is out, and the kiln cools."""
    kiln = twin(usual_climb()).scan(Word.BURN_DOWN).run(100)
    kiln.rig.show(flame_seen=False)
    return kiln.scan(Word.BED_OUT).run(300)


def finished() -> Kiln:
    """Cool enough to be opened."""
    kiln = cooling()
    while kiln.state is not State.FINISHED:
        kiln.scan()
    return kiln


SCENES: dict[str, Callable[[], Kiln]] = {
    scene.__name__: scene
    for scene in (
        cold, made_ready, purge, lit_by_hand, fire_proving, warm_up, climbing, called, soaking, reduction,
        waiting_for_air, air_by_hand, without_gauge, bare, blind, tripped, locked_out, resumable, cooling,
        finished,
    )
}  # fmt: skip


@cache
def memory_of(name: str) -> Memory:
    """What the daemon remembers in the scene. It is frozen."""
    return SCENES[name]().memory


def told(name: str) -> dict[str, Json]:
    """What the daemon tells of the scene."""
    return status(memory_of(name), CONTEXT)
