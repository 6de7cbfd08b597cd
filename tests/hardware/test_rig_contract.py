"""The port's promises, kept by the simulated rig and by the board on plain mocked pins, which stand in for the Pi's."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product

import pytest
from gpiozero.pins.mock import MockFactory, MockPWMPin

from hardware.board import Board
from hardware.port import NOT_FITTED, AirRatio, Blind, NotFitted, Outputs, Rig, RigFault, Temperature
from hardware.simulated.pins import EmulatedFactory, EmulatedSpi
from hardware.simulated.plant import Plant
from hardware.simulated.rig import Scenario, SimulatedRig
from hardware.simulated.spi import SpiWires
from hardware.wiring import Wiring

OFF = Outputs()


class HandClock:
    """A clock that is where it was told to be."""

    def __init__(self) -> None:
        self.at_s = 100.0

    def now_s(self) -> float:
        """Return it."""
        return self.at_s

    def utc_s(self) -> float:
        """Return a date."""
        return 1.9e9 + self.at_s

    def wait_until(self, due_s: float) -> None:
        """Be there."""
        self.at_s = max(self.at_s, due_s)


class DeadPin(MockPWMPin):  # type: ignore[misc]  # gpiozero has no types
    """A pin whose driver fails once `dead`, or that is held high from outside once `shorted`."""

    dead = False
    shorted = False

    def _get_state(self) -> float:
        return True if self.shorted and self._number == 17 else super()._get_state()

    def _set_state(self, value: float) -> None:
        if self.dead and self._number == 17:
            raise OSError("no such line")
        super()._set_state(value)


OpenRig = Callable[..., Rig]


class MockedPins(MockFactory):  # type: ignore[misc]  # gpiozero has no types
    """gpiozero's own mocked pins, each of which may die, and an SPI port with no chip on it."""

    def __init__(self) -> None:
        super().__init__(pin_class=DeadPin)

    def _get_spi_class(self, shared: bool, hardware: bool) -> Callable[..., EmulatedSpi]:
        def connect(select_pin: str, pin_factory: object, **_: object) -> EmulatedSpi:
            return EmulatedSpi(SpiWires(), select_pin, pin_factory)

        return connect


def mocked(wiring: Wiring) -> Board:
    """Open a board on mocked pins: no chip answers and no contact closes."""
    return Board(MockedPins(), wiring, HandClock(), "pi")


@pytest.fixture(params=["simulated", "mocked"])
def open_rig(request: pytest.FixtureRequest, still: Plant) -> Iterator[OpenRig]:
    """Open a rig from wiring keys, on either kind of pins."""
    opened: list[Rig] = []

    def open_it(**options: object) -> Rig:
        wiring = Wiring.from_options(options)
        rig: Rig = SimulatedRig(still, wiring, Scenario()) if request.param == "simulated" else mocked(wiring)
        opened.append(rig)
        return rig

    yield open_it
    for rig in opened:
        rig.close()


def test_time_goes_forward_and_a_time_past_is_not_waited_for(open_rig: OpenRig) -> None:
    rig = open_rig()
    first = rig.read(101.0)
    again = rig.read(50.0)
    assert first.now_s == again.now_s == 101.0
    assert rig.read(102.5).now_s == 102.5
    assert rig.read(102.5).utc_s - first.utc_s == pytest.approx(1.5)


def test_every_probe_is_in_every_image_believed_or_blind(open_rig: OpenRig) -> None:
    rig = open_rig()
    for tenth in range(10):
        probes = rig.read(101.0 + tenth / 10).probes
        assert list(probes) == ["chamber", "flue", "limit"]
        assert all(isinstance(probe, Temperature | Blind) for probe in probes.values())


def test_what_is_wired_is_read_and_what_is_not_is_not_fitted(open_rig: OpenRig) -> None:
    full = open_rig().read(101.0)
    for field in ("airflow_proven", "flame_seen", "shaft_turning", "stop_pressed", "confirm_pressed", "reset_pressed"):
        assert isinstance(getattr(full, field), bool), field
    assert not isinstance(full.draught, NotFitted)
    assert full.co_alarm is NOT_FITTED
    assert full.oxygen is NOT_FITTED


def test_an_oxygen_probe_is_read_in_every_scan_where_it_is_wired(open_rig: OpenRig, oxygen: dict[str, object]) -> None:
    rig = open_rig(oxygen=oxygen)
    for tenth in range(10):
        seen = rig.read(101.0 + tenth / 10).oxygen
        assert isinstance(seen, AirRatio | Blind)
        assert seen.source in ("sim:oxygen", "pi:oxygen")
        assert isinstance(seen, Blind) or seen.age_s == 0.0


def test_a_bare_kiln_has_only_an_auger_and_a_chamber_probe(open_rig: OpenRig) -> None:
    absent = ("fan", "horn", "lamp", "keep_alive", "airflow", "flame", "shaft", "stop", "confirm", "reset")
    bare: dict[str, object] = dict.fromkeys((*absent, "draught", "feed_tube"), False)
    rig = open_rig(probes={"chamber": {"select": 5}}, **bare)
    image = rig.read(101.0)
    inputs = (image.feed_tube, image.draught, image.airflow_proven, image.flame_seen, image.shaft_turning)
    buttons = (image.stop_pressed, image.confirm_pressed, image.reset_pressed, image.co_alarm)
    assert image.oxygen is NOT_FITTED
    assert {*inputs, *buttons} == {NOT_FITTED}
    done = rig.write(Outputs(auger=True, fan_frac=1.0, damper_frac=1.0, horn=True, lamp=True, keep_alive=True))
    assert done == Outputs(True, NOT_FITTED, NOT_FITTED, NOT_FITTED, NOT_FITTED, NOT_FITTED)


def test_what_is_driven_is_read_back(open_rig: OpenRig) -> None:
    rig = open_rig()
    for wanted in (
        Outputs(auger=True, fan_frac=0.5, horn=True, lamp=True, keep_alive=True),
        Outputs(auger=False, fan_frac=1.0, horn=False, lamp=True, keep_alive=False),
        OFF,
    ):
        done = rig.write(wanted)
        assert (done.auger, done.horn, done.lamp, done.keep_alive) == (
            wanted.auger,
            wanted.horn,
            wanted.lamp,
            wanted.keep_alive,
        )
        assert done.fan_frac == pytest.approx(wanted.fan_frac, abs=0.005)


def test_an_output_that_nobody_asks_for_stands_still(open_rig: OpenRig) -> None:
    rig = open_rig()
    rig.write(Outputs(auger=True, fan_frac=0.8, horn=True, lamp=True, keep_alive=True))
    done = rig.write(Outputs(fan_frac=NOT_FITTED, horn=NOT_FITTED, lamp=NOT_FITTED, keep_alive=NOT_FITTED))
    assert (done.fan_frac, done.horn, done.lamp, done.keep_alive) == (0.0, False, False, False)


def test_a_damper_servo_stands_where_it_was_sent_within_its_steps(open_rig: OpenRig) -> None:
    rig = open_rig(damper={"pin": 19, "shut_ms": 1.0, "open_ms": 2.0, "hz": 200.0})
    for frac in (0.0, 0.25, 0.5, 1.0):
        done = rig.write(Outputs(damper_frac=frac))
        assert done.damper_frac == pytest.approx(frac, abs=0.026)


def test_a_damper_that_nobody_asks_for_stays_where_it_is(open_rig: OpenRig) -> None:
    """A damper that shut because the daemon ended would smother a bed that still burns."""
    rig = open_rig(damper={"pin": 19, "shut_ms": 1.0, "open_ms": 2.0, "hz": 200.0})
    assert rig.write(OFF).damper_frac is NOT_FITTED  # it was never sent anywhere: nobody knows where it stands
    assert rig.write(Outputs(damper_frac=0.8)).damper_frac == pytest.approx(0.8, abs=0.026)
    assert rig.write(OFF).damper_frac == pytest.approx(0.8, abs=0.026)
    assert rig.write(Outputs(damper_frac=0.0)).damper_frac == pytest.approx(0.0, abs=0.026)


def test_a_closed_rig_says_so(open_rig: OpenRig) -> None:
    rig = open_rig()
    rig.write(Outputs(auger=True))
    rig.close()
    rig.close()  # twice does no harm
    with pytest.raises(RigFault, match="closed"):
        rig.read(101.0)
    with pytest.raises(RigFault, match="closed"):
        rig.write(OFF)


def test_one_rig_can_be_opened_after_another(open_rig: OpenRig) -> None:
    for _ in range(3):
        rig = open_rig()
        assert rig.write(Outputs(auger=True)).auger
        rig.close()


@pytest.fixture
def fragile() -> Iterator[Board]:
    """A board whose auger pin (17) can die."""
    yield mocked(Wiring())
    DeadPin.dead = DeadPin.shorted = False


def test_an_auger_pin_that_is_held_high_is_told(fragile: Board) -> None:
    assert fragile.write(OFF).auger is False
    DeadPin.shorted = True
    assert fragile.write(OFF).auger is True


def test_a_pin_that_cannot_be_written_is_a_rig_fault_and_closing_still_drives_the_others_off(fragile: Board) -> None:
    fragile.write(Outputs(auger=True, fan_frac=0.5, horn=True))
    horn = fragile._horn
    DeadPin.dead = True
    with pytest.raises(RigFault, match="no such line"):
        fragile.write(OFF)
    with pytest.raises(RigFault, match="supply"):
        fragile.close()
    assert not horn.state


def test_inputs_without_wires_fall_to_the_safe_side() -> None:
    rig = mocked(Wiring.from_options({"co_alarm": 26}))
    image = rig.read(101.0)
    rig.close()
    assert image.airflow_proven is False
    assert image.flame_seen is False
    assert image.shaft_turning is False
    assert image.stop_pressed is True
    assert image.co_alarm is True
    assert image.confirm_pressed is False
    assert image.reset_pressed is False


def test_an_input_is_held_up_by_the_board_itself() -> None:
    """Without its pull-up an emulated input would read as grounded, as a real one might."""
    factory = EmulatedFactory(SpiWires())
    pin = factory.pin(16)
    pin.pull = "floating"
    assert not pin.state
    board = Board(factory, Wiring(), HandClock(), "sim")
    assert pin.state
    assert board.read(101.0).stop_pressed is True
    board.close()


def test_an_emulated_input_reads_high_only_while_it_is_pulled_up_and_nothing_grounds_it() -> None:
    pin = EmulatedFactory(SpiWires()).pin(16)
    seen = {}
    for pull, grounded in product(("up", "floating", "up", "down"), (False, True, False)):
        pin.pull = pull
        pin.ground(grounded)
        seen[pull, grounded] = bool(pin.state)
        pin.function = "output"  # and back: what was told meanwhile isn't lost
        pin.ground(not grounded)
        pin.ground(grounded)
        assert not pin.state
        pin.function = "input"
        assert bool(pin.state) is seen[pull, grounded]
    assert [key for key, high in seen.items() if high] == [("up", False)]
