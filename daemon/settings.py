"""The configuration: one TOML file, checked whole before anything moves.

Bad settings stop the start, all named at once.

Limits whose source is "memory" are from general knowledge: defaults that the person at the kiln may change.
"""

from __future__ import annotations

import tomllib
from functools import cached_property
from pathlib import Path
from typing import Annotated, Literal, NamedTuple, Self, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from daemon.complaint import checked

SCAN_S = 0.1
"""Time between two scans."""
LONGEST_NAME = 1000
LONGEST_PURGE_S = 3600.0
"""A purge longer than this means that chamber or fan was written down wrong."""


UNPROVEN_S = 80.0
"""With a large auger the limit in kilos is less than this of full feed: a half bridge would pass for a dead fire."""


class FeedRange(NamedTuple):
    """Between which fractions the feed may be, and the auger's rate, kg/h."""

    floor_frac: float
    ceiling_frac: float
    auger_kg_per_h: float


class PulseLimits(NamedTuple):
    """What relay and motor can make, seconds. `tick_s` is the time between two scans."""

    cycle_s: float
    shortest_on_s: float
    shortest_off_s: float
    tick_s: float
    most_on_s: float
    """Of a cycle: the feed's ceiling, whatever is owed."""


class SettingsFault(ValueError):
    """The configuration can't be used. The message lists everything that is wrong with it."""


Name = TypeVar("Name", str, Path)


def can_be_a_name(value: Name) -> Name:
    """A file's or a rig's name. Raises ValueError where no file can be called so."""
    text = str(value)
    if not text.strip() or not text.isprintable() or len(text) > LONGEST_NAME:
        raise ValueError(f"must have 1 to {LONGEST_NAME} characters that can be printed, and no null byte")
    return value


FileName = Annotated[str, AfterValidator(can_be_a_name)]
FilePath = Annotated[Path, Field(strict=False), AfterValidator(can_be_a_name)]


class Table(BaseModel):
    """One table of the file: no unknown keys, no changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class KilnTable(Table):
    """`[kiln]`: what this kiln is."""

    auger_kg_per_h: float = Field(9.0, ge=0.5, le=100, description="pellets dropped running all the time, weighed")
    chamber_m3: float = Field(0.12, ge=0.005, le=20, description="chamber and flue passages, for the purge")
    fan_m3_per_h: float = Field(60.0, ge=1, le=5000, description="air the fan moves at full speed, for the purge")
    feed_cycle_s: float = Field(10.0, ge=2, le=60, description="one on and one off: 10 s, so 10 % is 1 s on, 9 s off")
    shortest_pulse_s: float = Field(0.5, ge=0.1, le=5, description="what relay and motor can still make")
    shortest_gap_s: float = Field(0.5, ge=0.1, le=5, description="the same for the pause between two pulses")
    feed_floor_frac: float = Field(0.04, ge=0, le=0.3, description="what keeps the fire alive; the feed goes no lower")
    charcoal_kg: float = Field(1.0, ge=0, le=20, description="laid and lit by hand")
    feed_ceiling_frac: float = Field(0.9, ge=0.1, le=1, description="the auger never runs more than this")

    @model_validator(mode="after")
    def _pulse_and_gap_fit_the_cycle(self) -> Self:
        if self.shortest_pulse_s + self.shortest_gap_s > self.feed_cycle_s / 2:
            raise ValueError("shortest_pulse_s and shortest_gap_s together must leave half of feed_cycle_s")
        if self.feed_floor_frac > self.feed_ceiling_frac:
            raise ValueError("feed_floor_frac must not be more than feed_ceiling_frac")
        return self


class AirTable(Table):
    """`[air]`: who sets the air, and how."""

    by: Literal["hand", "fan", "damper"] = "fan"
    kg_per_h_at_25_pa: float | None = Field(
        None,
        ge=0.5,
        le=2000,
        description="air through the kiln, clean grate, at 25 Pa (0.10 in. of water) on the gauge",
    )
    fan_lowest_frac: float = Field(0.25, ge=0.05, le=1, description="the fan's lowest, for proving the fire")
    fan_set_frac: float = Field(
        0.6, ge=0.05, le=1, description="the fan where hand or servo sets the air by the damper"
    )
    damper_set_frac: float = Field(0.6, ge=0.05, le=1, description="a servo's damper where the fan sets the air")
    damper_lowest_frac: float = Field(
        0.05,
        ge=0.01,
        le=0.5,
        description="by servo: as far as it shuts while a draught is held; nearer to shut it sticks",
    )
    band_frac: float = Field(
        0.1, ge=0.01, le=0.5, description="by hand: how far the gauge may be off, of what is asked"
    )
    band_least_pa: float = Field(3.0, ge=0.5, le=20, description="by hand: and at least this far")
    ask_again_s: float = Field(240.0, ge=30, le=3600, description="by hand: the shortest time between two requests")
    gain_per_s: float = Field(0.04, ge=0.001, le=0.5, description="by servo: of the relative error, each second")


class LimitsTable(Table):
    """`[limits]`: when the daemon steps in. Delays and limits without a source beside them are from memory."""

    chamber_c: float = Field(1310.0, ge=150, le=1700, description="type K and N wires end about 1260 °C continuous")
    flue_c: float | None = Field(1350.0, ge=150, le=1700)
    limit_probe_c: float | None = Field(1330.0, ge=150, le=1700)
    probe_blind_s: float = Field(2.0, ge=0, le=30)
    stale_s: float = Field(3.0, ge=0.3, le=10, description="an older value counts as no value")
    airflow_lost_s: float = Field(10.0, ge=0, le=30, description="the feed is off at once; a gust may pass")
    draught_least_pa: float = Field(2.0, ge=1, le=50, description="below it there is no airflow, where no switch tells")
    fire_proving_s: float = Field(1200.0, ge=60, le=3600, description="the fire is proven within, or locked out")
    proven_air_s: float = Field(
        60.0, ge=30, le=600, description="of air before a rise counts: the fan alone moves probes"
    )
    proven_flame_s: float = Field(10.0, ge=2, le=120)
    proven_flue_rise_k: float = Field(20.0, ge=10, le=200, description="while the chamber gets warmer too")
    proven_chamber_rise_k: float = Field(10.0, ge=5, le=100, description="five times the noise of a probe, at least")
    dark_s: float = Field(45.0, ge=5, le=120, description="a flame eye dark for so long sees no fire")
    unproven_fuel_kg: float = Field(0.24, ge=0.05, le=0.5, description="pellets fed with no sign that they burn")
    purge_changes: float = Field(4.0, ge=1, le=20, description="chamber volumes of air; usual for burners, from memory")
    purge_least_s: float = Field(60.0, ge=5, le=1800)
    burn_down_least_s: float = Field(1200.0, ge=60, le=7200)
    burn_down_most_s: float = Field(5400.0, ge=60, le=14400)
    feed_tube_warn_c: float = Field(60.0, ge=35, le=100, description="burn-back begins: look at it")
    feed_tube_c: float = Field(85.0, ge=40, le=110, description="a stoker's surface stays below about 85 °C (memory)")
    rise_k_per_min: float = Field(20.0, ge=2, le=60, description="over some 90 s; 2.5 times as much in the warm-up")
    ahead_k: float = Field(30.0, ge=5, le=150, description="this far above the setpoint it warns; in a soak at 3 bands")
    frozen_s: float | None = Field(60.0, ge=5, le=300, description="the same value to the last bit: a dead amplifier")
    apart_warn_k: float = Field(50.0, ge=5, le=200, description="two places in one chamber differ by 20 to 50 °C")
    apart_k: float = Field(100.0, ge=10, le=300)
    apart_s: float = Field(60.0, ge=0, le=300)
    cold_fed_kg: float = Field(0.6, ge=0.1, le=5, description="fed so much, a chamber below 80 °C isn't believed")
    fan_idle_s: float = Field(20.0, ge=1, le=60, description="the fan driven and no air: it starts in a few seconds")
    air_scant_frac: float = Field(0.65, ge=0.3, le=1, description="less of the air wanted for the fuel warns")
    air_scant_s: float = Field(120.0, ge=0, le=900, description="after so long")
    air_low_frac: float = Field(0.45, ge=0.25, le=1, description="less of the air wanted for the fuel trips")
    air_low_s: float = Field(300.0, ge=0, le=900, description="after so long")
    scan_late_s: float = Field(0.5, ge=0.2, le=2)
    scan_stopped_s: float = Field(2.0, ge=0.3, le=5, description="as long as systemd's watchdog waits")
    clock_set_s: float = Field(60.0, ge=1, le=3600, description="a step of the clock for people that is spoken of")
    resume_within_s: float = Field(900.0, ge=0, le=1800, description="embers last a quarter of an hour with little air")
    resume_fall_k: float = Field(150.0, ge=5, le=300, description="a kiln that fell further is not taken up again")
    resume_least_c: float = Field(600.0, ge=500, le=1200, description="hot walls light wood gas from about 600 °C")
    open_c: float = Field(150.0, ge=30, le=300, description="do not open above about 100 to 150 °C")
    feed_tube_cooling_c: float = Field(120.0, ge=40, le=150, description="in a cooling kiln heat travels back to it")
    auger_runs_s: float = Field(3.0, ge=1.5, le=10, description="turning though nothing drives it; it coasts a moment")
    auger_still_s: float = Field(5.0, ge=1, le=20, description="driven so long in all without the shaft turning")
    cold_c: float = Field(100.0, ge=30, le=150, description="do not open above about 100 to 150 °C")
    reduction_from_c: float = Field(
        750.0, ge=650, le=1300, description="cooler, unburnt gas may gather instead of burning"
    )
    reduction_most_min: float = Field(90.0, ge=0, le=240, description="of reduction in one firing, in all")
    soak_band_k: float = Field(5.0, ge=1, le=30)
    soak_over_s: float = Field(7200.0, ge=60, le=21600, description="a soak that isn't in its band by then is given up")
    wait_gap_k: float = Field(25.0, ge=5, le=100, description="the plan waits when the kiln lags by more")
    reset_held_s: float = Field(3.0, ge=1, le=30, description="held so long, then let go")
    reset_jammed_s: float = Field(20.0, ge=5, le=60, description="held longer it is taken for jammed")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        pairs = (
            ("burn_down_least_s", "burn_down_most_s"), ("feed_tube_warn_c", "feed_tube_c"),
            ("feed_tube_c", "feed_tube_cooling_c"), ("cold_c", "open_c"),
            ("reset_held_s", "reset_jammed_s"), ("scan_late_s", "scan_stopped_s"),
            ("apart_warn_k", "apart_k"), ("air_low_frac", "air_scant_frac"), ("stale_s", "frozen_s"),
        )  # fmt: skip
        wrong = [
            f"{low} must not be more than {high}"
            for low, high in pairs
            if getattr(self, high) is not None and getattr(self, low) > getattr(self, high)
        ]
        if wrong:
            raise ValueError("; ".join(wrong))
        return self


class AttendanceTable(Table):
    """`[attendance]`: how often somebody must say that they are there, and what follows if they don't."""

    every_min: float = Field(20.0, ge=1, le=60)
    horn_after_min: float = Field(3.0, ge=0.5, le=15)
    trip_after_min: float = Field(6.0, ge=1, le=30, description="after the reminder; more than horn_after_min")

    @model_validator(mode="after")
    def _horn_before_trip(self) -> Self:
        if self.trip_after_min <= self.horn_after_min:
            raise ValueError("trip_after_min must be more than horn_after_min")
        return self


class RecordTable(Table):
    """`[record]`: where the firings are kept."""

    path: FilePath = Path("/var/lib/stokehand/firings.sqlite")


class ChannelTable(Table):
    """`[channel]`: the folder of the sockets that the api and `stokehand tell` use."""

    folder: FilePath = Path("/run/stokehand")


class RigTable(BaseModel):
    """`[rig]`: which hardware, and its own options, which the rig checks itself."""

    model_config = ConfigDict(extra="allow", frozen=True, strict=True)
    factory: FileName = "hardware.pi:open_rig"

    @property
    def options(self) -> dict[str, object]:
        """Everything in the table but the factory."""
        return dict(self.model_extra or {})


class Settings(Table):
    """The whole configuration."""

    plan: FileName = Field("cone-6", description="a shipped plan's name, or a file")
    kiln: KilnTable = KilnTable()
    air: AirTable = AirTable()
    limits: LimitsTable = LimitsTable()
    attendance: AttendanceTable = AttendanceTable()
    record: RecordTable = RecordTable()
    channel: ChannelTable = ChannelTable()
    rig: RigTable = RigTable()

    @model_validator(mode="after")
    def _tables_go_together(self) -> Self:
        limits, air = self.limits, self.air
        wrong = []
        if self.purge_s > LONGEST_PURGE_S:
            wrong.append(
                f"the purge would last {self.purge_s / 60:.0f} min, and {LONGEST_PURGE_S / 60:.0f} min is the most:"
                " look at kiln.chamber_m3, kiln.fan_m3_per_h and limits.purge_changes"
            )
        if air.fan_set_frac < air.fan_lowest_frac:
            wrong.append("air.fan_set_frac must not be less than air.fan_lowest_frac")
        if limits.fire_proving_s <= limits.proven_air_s + limits.proven_flame_s:
            wrong.append("limits.fire_proving_s must be more than limits.proven_air_s and proven_flame_s together")
        if wrong:
            raise ValueError("; ".join(wrong))
        return self

    @cached_property
    def pulse_limits(self) -> PulseLimits:
        """What relay and motor can make."""
        kiln = self.kiln
        most_on_s = kiln.feed_ceiling_frac * kiln.feed_cycle_s
        return PulseLimits(kiln.feed_cycle_s, kiln.shortest_pulse_s, kiln.shortest_gap_s, SCAN_S, most_on_s)

    @cached_property
    def probe_limits_c(self) -> dict[str, float | None]:
        """Over-temperature limits by the probe's name, °C; None is no limit."""
        limits = self.limits
        return {"chamber": limits.chamber_c, "flue": limits.flue_c, "limit": limits.limit_probe_c}

    @cached_property
    def feed_range(self) -> FeedRange:
        """Where the feed may go."""
        kiln = self.kiln
        return FeedRange(kiln.feed_floor_frac, kiln.feed_ceiling_frac, kiln.auger_kg_per_h)

    @cached_property
    def unproven_most_kg(self) -> float:
        """What may be fed without a sign that it burns: the limit, or UNPROVEN_S of full feed where that is more."""
        return max(self.limits.unproven_fuel_kg, UNPROVEN_S * self.kiln.auger_kg_per_h / 3600)

    @property
    def purge_s(self) -> float:
        """How long the purge lasts: the chamber's volumes at the fan's flow, and never less than `purge_least_s`."""
        return self._changed_s(1.0)

    @property
    def blown_s(self) -> float:
        """How long a burn-down must have blown, with the fan at its lowest, before a firing may be taken up again."""
        return self._changed_s(max(self.air.fan_lowest_frac, 0.1))

    def _changed_s(self, fan_frac: float) -> float:
        changes_s = self.limits.purge_changes * self.kiln.chamber_m3 / (self.kiln.fan_m3_per_h * fan_frac) * 3600
        return max(self.limits.purge_least_s, changes_s)


def load_settings(path: Path) -> Settings:
    """Read the configuration file. Raises SettingsFault naming everything that is wrong."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as fault:
        raise SettingsFault(f"{path}: can't be read: {str(fault)[:200]}") from fault
    return read_settings(table, str(path))


def read_settings(table: dict[str, object], file: str) -> Settings:
    """Settings from a table. Raises SettingsFault naming everything that is wrong."""
    settings, wrong = checked(Settings, table)
    if settings is None:
        raise SettingsFault(f"{file}: these settings can't be used:\n" + "\n".join(wrong))
    return settings
