"""The trim: a PID against another one, its windup, its kick, its beginning."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simple_pid import PID

from daemon.pid import Gains, Trim, next_trim, restarted

GAINS = Gains(0.006, 1500.0, 90.0, 1e-9, 1e9)
WIDE = 1e9


def other_pid(gains: Gains, aim_c: float, low: float | None = None, high: float | None = None) -> PID:
    """The independent one: the package simple-pid, derivative on the measurement."""
    gain = gains.gain_frac_per_k
    return PID(
        gain, gain / gains.reset_s, gain * gains.rate_s, setpoint=aim_c, sample_time=None,
        output_limits=(low, high), differential_on_measurement=True,
    )  # fmt: skip


def theirs(other: PID, value_c: float, dt_s: float) -> float:
    """What the independent one makes of a reading."""
    output = other(value_c, dt=dt_s)
    assert output is not None
    return output


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(20, 1300), st.floats(20, 1300), st.floats(0.5, 5.0)), min_size=2, max_size=40),
    st.floats(0.001, 0.05), st.floats(60, 3000), st.floats(0, 300),
)  # fmt: skip
def test_the_trim_is_what_an_independent_pid_makes_of_the_same_readings(
    history: list[tuple[float, float, float]], gain: float, reset_s: float, rate_s: float
) -> None:
    """Independent: simple-pid 2.0 over the unlimited range; our derivative filter is made negligible."""
    gains = Gains(gain, reset_s, rate_s, 1e-12, WIDE)
    aim_c, value_c, dt_s = history[0]
    other = other_pid(gains, aim_c)
    other(value_c, dt=dt_s)
    ours = next_trim(Trim(), aim_c, value_c, dt_s, gains, -WIDE, WIDE)
    ours = next_trim(ours, aim_c, value_c, dt_s, gains, -WIDE, WIDE)
    offset = theirs(other, value_c, dt_s) - ours.total  # ours begins without a bump, theirs from nothing
    for aim_c, value_c, dt_s in history[1:]:
        other.setpoint = aim_c
        ours = next_trim(ours, aim_c, value_c, dt_s, gains, -WIDE, WIDE)
        assert ours.total + offset == pytest.approx(theirs(other, value_c, dt_s), rel=1e-6, abs=1e-6)


@given(st.floats(20, 1300), st.floats(20, 1300), st.floats(-0.1, 0.1))
def test_the_first_call_goes_on_from_the_total_that_was(aim_c: float, value_c: float, total: float) -> None:
    started = next_trim(Trim(i=total), aim_c, value_c, 1.0, GAINS, -0.12, 0.12)
    assert started.total == pytest.approx(total, abs=1e-12)


@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1))
def test_after_a_pause_it_goes_on_from_the_same_total(p: float, i: float, d: float) -> None:
    last = Trim(p, i, d, 600.0, 0.1)
    assert restarted(last).total == pytest.approx(last.total)
    assert restarted(last).smooth_c is None


def test_a_step_of_the_aim_gives_no_kick_from_the_derivative() -> None:
    trim = Trim()
    for _ in range(50):
        trim = next_trim(trim, 600.0, 600.0, 1.0, GAINS, -0.5, 0.5)
    moved = next_trim(trim, 650.0, 600.0, 1.0, GAINS, -0.5, 0.5)
    assert moved.d == 0.0
    assert moved.p == pytest.approx(GAINS.gain_frac_per_k * 50)


def test_the_derivative_of_a_ramp_is_gain_times_rate_time_times_slope() -> None:
    """By hand: 100 °C/h = 1/36 K/s, times 90 s, times 0.006 a K = 0.015, against the climb."""
    gains, trim = Gains(0.006, 1500.0, 90.0, 45.0, 0.12), Trim()
    for second in range(600):
        trim = next_trim(trim, 600.0, 500.0 + second / 36, 1.0, gains, -0.12, 0.12)
    assert trim.d == pytest.approx(-0.015, abs=1e-6)


def test_after_a_long_saturation_it_comes_back_no_later_than_a_clamped_integral() -> None:
    """Independent: simple-pid, which clamps its integral to the output's limits."""
    gains = Gains(0.006, 300.0, 0.0, 1e-9, 0.12)
    ours, other = next_trim(Trim(), 600.0, 600.0, 1.0, gains, -0.12, 0.12), other_pid(gains, 600.0, -0.12, 0.12)
    for _ in range(3600):  # an hour 100 K too cold: the bound is reached in the first second
        ours = next_trim(ours, 600.0, 500.0, 1.0, gains, -0.12, 0.12)
        other(500.0, dt=1.0)
    ours_left = other_left = None
    for second in range(3600):  # then 5 K too hot
        ours = next_trim(ours, 600.0, 605.0, 1.0, gains, -0.12, 0.12)
        if ours_left is None and ours.total < 0.12:
            ours_left = second
        if other_left is None and theirs(other, 605.0, 1.0) < 0.12:
            other_left = second
    assert ours_left == 0  # at once
    assert other_left is not None
    assert ours_left <= other_left


@settings(max_examples=40)
@given(st.lists(st.floats(-200, 200), min_size=1, max_size=60))
def test_the_integral_never_pushes_further_out_once_the_total_is_outside(errors: list[float]) -> None:
    gains, trim = Gains(0.006, 60.0, 30.0, 10.0, 0.12), Trim()
    for error in errors:
        before = trim
        trim = next_trim(trim, 600.0, 600.0 - error, 1.0, gains, -0.12, 0.12)
        if before.smooth_c is not None and trim.total > 0.12:
            assert trim.i <= before.i
        if before.smooth_c is not None and trim.total < -0.12:
            assert trim.i >= before.i


def test_no_time_gone_changes_nothing() -> None:
    trim = next_trim(Trim(), 600.0, 590.0, 1.0, GAINS, -0.12, 0.12)
    assert next_trim(trim, 600.0, 590.0, 0.0, GAINS, -0.12, 0.12).i == trim.i
