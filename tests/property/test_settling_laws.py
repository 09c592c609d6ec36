"""Laws of the vibration that a move leaves."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.motion import (
    Limits,
    nulling_jerk,
    plan_move,
    plan_ramp,
    quickest_jerk,
    residual_vibration,
    settling_time,
    shaper_residual,
    zero_vibration_derivative_shaper,
    zero_vibration_shaper,
)


def powers(low: float, high: float) -> st.SearchStrategy[float]:
    """Figures spread evenly over the orders of magnitude."""
    return st.floats(math.log10(low), math.log10(high)).map(lambda x: float(10.0**x))


SPEEDS, ACCELERATIONS, JERKS, FREQUENCIES = powers(0.1, 4.0), powers(0.5, 40.0), powers(5.0, 3000.0), powers(1.0, 200.0)
DISTANCES, DAMPINGS = powers(0.005, 3.0), st.floats(0.0, 0.9)
ANY_LIMITS = st.builds(Limits, SPEEDS, ACCELERATIONS, JERKS, st.one_of(st.none(), ACCELERATIONS))


@given(ACCELERATIONS, JERKS, FREQUENCIES, st.floats(1.0, 3.0), st.floats(0.0, 2.0))
def test_whole_periods_of_jerk_leave_nothing(a: float, limit: float, f: float, more: float, cruise: float) -> None:
    chosen = nulling_jerk(a, limit, f)
    assert chosen.jerk_m_s3 <= limit * (1.0 + 1e-12)
    assert a / chosen.jerk_m_s3 * f == pytest.approx(chosen.periods, rel=1e-12)
    speed = more * a * a / chosen.jerk_m_s3  # full acceleration is reached
    distance = (1.0 + cruise) * 2.0 * plan_ramp(speed, a, chosen.jerk_m_s3).travel_m
    move = plan_move(distance, Limits(speed, a, chosen.jerk_m_s3))
    assert move.peak_acceleration_m_s2 == pytest.approx(a)
    largest = speed / (2.0 * math.pi * f)
    assert residual_vibration(move, f, 0.0).amplitude_m == pytest.approx(0.0, abs=1e-10 * largest)


@given(SPEEDS, ACCELERATIONS, JERKS, FREQUENCIES, st.floats(0.0, 2.0))
def test_closed_form_without_damping(v: float, a: float, j: float, f: float, cruise: float) -> None:
    """Both limits reached: the product of the spectra of jerk phase, ramp and way, derived apart from the program."""
    j = max(j, 1.01 * a * a / v)
    distance = (1.0 + cruise) * v * (v / a + a / j)
    omega = 2.0 * math.pi * f
    product = math.sin(omega * a / j / 2) / (omega * a / j / 2) * math.sin(omega * v / a / 2) / (omega * v / a / 2)
    expected = v / omega * abs(product * 2.0 * math.sin(omega * distance / v / 2))
    found = residual_vibration(plan_move(distance, Limits(v, a, j)), f, 0.0)
    assert found.amplitude_m == pytest.approx(expected, rel=1e-8, abs=1e-10 * v / omega)


@given(DISTANCES, ANY_LIMITS, FREQUENCIES, DAMPINGS, powers(0.1, 10.0))
def test_scaling_of_length_and_of_time(d: float, limits: Limits, f: float, damping: float, k: float) -> None:
    def scaled(length: float, rate: float) -> Limits:
        return Limits(
            limits.speed_m_s * length * rate,
            limits.acceleration_m_s2 * length * rate**2,
            limits.jerk_m_s3 * length * rate**3,
            limits.braking_m_s2 * length * rate**2,
        )

    plain = residual_vibration(plan_move(d, limits), f, damping).amplitude_m
    longer = residual_vibration(plan_move(k * d, scaled(k, 1.0)), f, damping).amplitude_m
    quicker = residual_vibration(plan_move(d, scaled(1.0, k)), k * f, damping).amplitude_m
    assert longer / k == pytest.approx(plain, rel=1e-7, abs=1e-10 * d)
    assert quicker == pytest.approx(plain, rel=1e-7, abs=1e-10 * d)


@given(DISTANCES, SPEEDS, ACCELERATIONS, ACCELERATIONS, JERKS, FREQUENCIES)
def test_a_mirrored_move_leaves_as_much_without_damping(
    d: float, v: float, up: float, down: float, j: float, f: float
) -> None:
    one = residual_vibration(plan_move(d, Limits(v, up, j, down)), f, 0.0).amplitude_m
    other = residual_vibration(plan_move(d, Limits(v, down, j, up)), f, 0.0).amplitude_m
    assert one == pytest.approx(other, rel=1e-7, abs=1e-10 * d)


@given(powers(1e-6, 1e-2), powers(1e-6, 1e-2), FREQUENCIES, st.floats(0.001, 0.9))
def test_the_envelope_is_at_the_window_when_it_has_settled(
    amplitude: float, window: float, f: float, damping: float
) -> None:
    time_s = settling_time(amplitude, window, f, damping)
    left = amplitude * math.exp(-damping * 2.0 * math.pi * f * time_s)
    assert left == pytest.approx(min(amplitude, window), rel=1e-9)
    assert settling_time(amplitude, 2.0 * window, f, damping) <= time_s


@given(FREQUENCIES, st.floats(0.0, 0.6), st.floats(0.85, 1.15))
def test_three_impulses_forgive_more_than_two(f: float, damping: float, off: float) -> None:
    two, three = zero_vibration_shaper(f, damping), zero_vibration_derivative_shaper(f, damping)
    assert sum(two.amplitudes) == pytest.approx(1.0)
    assert sum(three.amplitudes) == pytest.approx(1.0)
    left = shaper_residual(two, off * f, damping)
    assert shaper_residual(three, off * f, damping) == pytest.approx(left**2, abs=1e-12)


@given(DISTANCES, SPEEDS, ACCELERATIONS, JERKS, FREQUENCIES, st.floats(0.003, 0.3), powers(1e-5, 1e-3))
def test_the_chosen_jerk_keeps_its_promise(
    d: float, v: float, a: float, j: float, f: float, damping: float, window: float
) -> None:
    choice = quickest_jerk(((d, Limits(v, a, j)),), f, damping, window, 0.02)
    before = plan_move(d, Limits(v, a, j))
    after = plan_move(d, Limits(v, a, choice.jerk_m_s3))
    settled_before = max(0.02, residual_vibration(before, f, damping).settling_s(window))
    settled_after = max(0.02, residual_vibration(after, f, damping).settling_s(window))
    assert choice.jerk_m_s3 <= j
    assert choice.saved_s >= 0.0
    assert choice.settling_s == pytest.approx(settled_after, abs=1e-9)
    assert choice.longer_s == pytest.approx(after.duration_s - before.duration_s, abs=1e-9)
    saved = before.duration_s + settled_before - after.duration_s - settled_after
    assert choice.saved_s == pytest.approx(saved, abs=1e-9)
