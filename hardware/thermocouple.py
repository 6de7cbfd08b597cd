"""The thermocouple amplifiers: one transaction a scan each, judged before it is believed, and never a wait.

The chip is a MAX31856 behind its published driver. That driver's `temperature` waits for a bit without a time limit,
so it isn't used: the amplifiers convert on their own, and a scan reads all sixteen registers at once, settings
included. Settings that differ from what was written are the only sign of a chip that lost its power for a moment.
"""

from __future__ import annotations

from struct import Struct
from typing import Any

from hardware.chip_driver import MAX31856, ThermocoupleType
from hardware.its90 import CURVES
from hardware.maker import maker
from hardware.port import Blind, Blindness, Temperature
from hardware.wiring import Probe, Wiring

CONVERSION_S = 0.1  # the chip converts about this often (data sheet, from memory), so a value is at most this old
SETTLE_S = 0.4  # after new settings: time enough for the first conversion with them, twice over
RETRY_S = 1.0  # a chip that keeps forgetting is given its settings no oftener than this
JUMP_K = 50.0  # no sheath moves this far at once...
JUMP_K_PER_S = 100.0  # ...or this fast: such a step is a wire coming loose
OPEN_TEST_S = 2.0  # the chip looks for an open circuit at every 16th conversion (data sheet, from memory)

RESULTS = Struct(">hi")  # cold junction; then 19 bits of hot junction, 5 that mean nothing, 8 of faults
READ_ALL = [0x00] * 17  # the first register's address, then the clock for sixteen bytes
CR0, CR1, MASK = 0x00, 0x01, 0x02
REAL_BITS = b"\xff\x7f\x3f" + b"\xff" * 7
"""Of registers 00 to 09: CR1 has a reserved bit and MASK two, which may read as anything (data sheet, from memory)."""
CR0_FREE_RUNNING_OPEN_TEST = 0x90
CR0_REJECT_50_HZ = 0x01
_FAULTS = (
    (0x01, Blindness.OPEN_CIRCUIT),
    (0x02, Blindness.VOLTAGE),
    (0x80 | 0x20 | 0x10, Blindness.COLD_JUNCTION),
    (0x40 | 0x08 | 0x04, Blindness.OUT_OF_RANGE),
)

new_temperature = maker(Temperature)


class ThermocoupleBus:
    """The wires all amplifiers share, as the driver wants to see them: a gpiozero SPI interface in clock mode 1.

    Nothing to lock: one thread reads everything.
    """

    def __init__(self, spi: Any) -> None:
        spi.clock_mode = 1
        self.transfer = spi.transfer

    def try_lock(self) -> bool:
        """Say that the bus is ours; it always is."""
        return True

    def unlock(self) -> None:
        """Do nothing: see `try_lock`."""

    def configure(self, baudrate: int, polarity: int, phase: int) -> None:
        """Accept the one setting the amplifiers need. Raises ValueError for any other."""
        if polarity != 0 or phase != 1:
            raise ValueError(f"the thermocouple bus runs in clock mode 1, not polarity {polarity}, phase {phase}")

    def write(self, buffer: bytearray, start: int = 0, end: int | None = None) -> None:
        """Send `buffer[start:end]`."""
        self.transfer(list(buffer[start:end]))

    def readinto(self, buffer: bytearray, start: int = 0, end: int | None = None) -> None:
        """Fill `buffer[start:end]` with what the selected chip answers."""
        stop = len(buffer) if end is None else end
        buffer[start:stop] = self.transfer([0] * (stop - start))


class ChipSelect:
    """One amplifier's select line, as the driver wants to see it: a pin that is high while the chip is left alone."""

    __slots__ = ("pin",)

    def __init__(self, output: Any) -> None:
        self.pin = output.pin

    def switch_to_output(self, value: bool) -> None:
        """Set the level; the pin is an output already."""
        self.pin.state = value

    @property
    def value(self) -> bool:
        """The level of the line."""
        return bool(self.pin.state)

    @value.setter
    def value(self, level: bool) -> None:
        self.pin.state = level


class Amplifier(MAX31856):  # type: ignore[misc]  # the driver has no types
    """One thermocouple amplifier: what it reads now, or why it can't be believed."""

    def __init__(
        self, bus: ThermocoupleBus, select: ChipSelect, name: str, probe: Probe, wiring: Wiring, kept_s: float = 0.0
    ) -> None:
        """Give the chip its settings. Raises whatever the pins or the bus raise.

        `kept_s`: for how long at most a reading is handed on before the chip is read again.
        """
        self._age_s = CONVERSION_S + kept_s
        self._transfer = bus.transfer
        self._select = select.pin
        super().__init__(bus, select, getattr(ThermocoupleType, probe.type))
        self.name = name
        self._lowest_c, self._highest_c = CURVES[probe.type].lowest_c, CURVES[probe.type].highest_c
        self._coldest_c, self._warmest_c = float(wiring.cold_junction_low_c), float(wiring.cold_junction_high_c)
        self._cr0 = CR0_FREE_RUNNING_OPEN_TEST | (CR0_REJECT_50_HZ if wiring.mains_hz == 50 else 0)
        self._cr1 = int(getattr(ThermocoupleType, probe.type))
        self._blind = {reason: Blind(reason, name) for reason in Blindness}
        self._settled_at_s: float | None = None  # None: settings written, the next read starts the wait
        self._asked_at_s: float | None = None
        self._waiting = self._blind[Blindness.NO_READING_YET]
        self._last_c: float | None = None
        self._last_s = 0.0
        self._doubt_until_s = 0.0
        self._settings = self._configure()

    def _configure(self) -> bytes:
        """Write every setting outright; return registers 00 to 09 as they must read from now on.

        The driver's own setters read a register before they write it: on a sick bus they would write nonsense back.
        """
        low_c, high_c = int(self._lowest_c), int(self._highest_c)
        cold_low_c, cold_high_c = int(self._coldest_c), int(self._warmest_c)
        self._write_u8(CR0, self._cr0 & 0x7F)  # the mains filter may only be changed while the chip is at rest
        self._write_u8(CR1, self._cr1)
        self._write_u8(MASK, 0x00)
        self.reference_temperature_thresholds = (cold_low_c, cold_high_c)
        self.temperature_thresholds = (low_c, high_c)
        self._write_u8(CR0, self._cr0)
        self._settled_at_s = None
        return (
            bytes((self._cr0, self._cr1, 0x00, cold_high_c & 0xFF, cold_low_c & 0xFF))
            + (high_c * 16 & 0xFFFF).to_bytes(2, "big")
            + (low_c * 16 & 0xFFFF).to_bytes(2, "big")
            + b"\x00"
        )

    def read(self, now_s: float) -> Temperature | Blind:
        """Read the chip once. Never waits and never raises: what can't be believed is a Blind with its reason."""
        try:
            registers = self._read_registers()
            if registers.startswith(self._settings) or self._reads_as_set(registers):
                return self._judge(registers, now_s)
            return self._blind[self._sickness(registers, now_s)]
        except Exception:  # a driver may raise anything; here it only ever means that this one value is missing
            return self._blind[Blindness.DRIVER_FAILED]

    def _read_registers(self) -> bytes:
        """Read all sixteen registers: the same bytes on the wire as the driver's own way, in one transfer, not two."""
        select = self._select
        select.state = False
        try:
            return bytes(self._transfer(READ_ALL)[1:])
        finally:
            select.state = True

    def _reads_as_set(self, registers: bytes) -> bool:
        """Tell whether every bit that the chip really has reads as it was set."""
        read = bytes(byte & real for byte, real in zip(registers, REAL_BITS, strict=False))
        return read == self._settings

    def _sickness(self, registers: bytes, now_s: float) -> Blindness:
        """Say why the settings don't read back: a stuck line (from whichever byte on), or a chip that forgot them."""
        for level, reason in ((b"\xff", Blindness.BUS_STUCK_HIGH), (b"\x00", Blindness.BUS_STUCK_LOW)):
            sound = len(registers.rstrip(level))
            if sound < len(self._settings) and registers[:sound] == self._settings[:sound]:
                return reason
        if self._asked_at_s is None or now_s - self._asked_at_s >= RETRY_S:
            self._asked_at_s = now_s
            self._configure()
        self._waiting = self._blind[Blindness.FORGOT_SETTINGS]
        return Blindness.FORGOT_SETTINGS

    def _judge(self, registers: bytes, now_s: float) -> Temperature | Blind:
        """Believe a reading whose settings are right, unless the chip or common sense objects."""
        if self._settled_at_s is None:
            self._settled_at_s = now_s + SETTLE_S
        if now_s < self._settled_at_s:
            return self._waiting
        cold, result = RESULTS.unpack_from(registers, 10)
        fault, raw = result & 0xFF, result >> 13
        if fault:
            if result == -1:
                return self._blind[Blindness.BUS_STUCK_HIGH]
            return next(self._blind[reason] for bits, reason in _FAULTS if fault & bits)
        if raw == 0:
            return self._blind[Blindness.BUS_STUCK_LOW]  # exactly 0.0000 °C: a line gone low is likelier than frost
        hot_c, cold_c = raw / 128.0, cold / 256.0
        if not self._coldest_c <= cold_c <= self._warmest_c:
            return self._blind[Blindness.COLD_JUNCTION]
        if not self._lowest_c <= hot_c <= self._highest_c:
            return self._blind[Blindness.OUT_OF_RANGE]
        if self._jumped(hot_c, now_s):
            return self._blind[Blindness.OPEN_CIRCUIT]
        return new_temperature(hot_c, self._age_s, self.name)

    def _jumped(self, hot_c: float, now_s: float) -> bool:
        """Tell a step that no sheath can make: until the chip has tested for an open circuit, it is taken for one."""
        last_c = self._last_c
        if now_s < self._doubt_until_s:
            return True
        if last_c is not None and abs(hot_c - last_c) > JUMP_K + JUMP_K_PER_S * (now_s - self._last_s):
            self._doubt_until_s = now_s + OPEN_TEST_S
            self._last_c = None  # whatever still reads after the test is believed again
            return True
        self._last_c = hot_c
        self._last_s = now_s
        return False
