"""Residual vibration, settling, jerks and shapers: single answers, edges and errors."""

from __future__ import annotations

import math

import numpy as np
import pytest

from linewright.motion import (
    Limits,
    nulling_jerk,
    plan_move,
    quickest_jerk,
    residual_vibration,
    settling_time,
    shaper_residual,
    zero_vibration_shaper,
)

LIMITS = Limits(1.85, 14.0, 260.0)


def test_slow_fixture_takes_the_whole_way_as_a_kick() -> None:
    """A fixture far slower than the move feels an impulse doublet: it is left behind by the way, at rest in space."""
    move = plan_move(0.2, LIMITS)
    found = residual_vibration(move, 0.01, 0.0)
    assert found.displacement_m(0.0) == pytest.approx(-0.2, rel=1e-3)
    assert found.amplitude_m == pytest.approx(0.2, rel=1e-3)


def test_stiff_fixture_feels_the_jerk_alone() -> None:
    """Far above the move's own frequencies each jump of the jerk leaves at most its size over ω³."""
    move = plan_move(0.4, LIMITS)
    omega = 2.0 * math.pi * 500.0
    assert len(move.segments) == 7  # eight jumps of the jerk, 260 m/s³ each
    assert 0.0 < residual_vibration(move, 500.0, 0.0).amplitude_m <= 8 * 260.0 / omega**3 * (1 + 1e-9)


def test_no_move_leaves_nothing() -> None:
    assert residual_vibration(plan_move(0.0, LIMITS), 20.0, 0.02).amplitude_m == 0.0


def test_near_critical_damping_stays_finite() -> None:
    found = residual_vibration(plan_move(0.3, LIMITS), 1000.0, 0.999)
    assert math.isfinite(found.amplitude_m)
    assert abs(found.displacement_m(0.0)) <= found.amplitude_m


@pytest.mark.parametrize(("distance", "frequency", "damping"), [(0.1, 8.0, 0.02), (0.3, 14.0, 0.05), (0.7, 20.0, 0.2)])
def test_the_displacement_leaves_the_window_up_to_half_a_period_before_the_envelope(
    distance: float, frequency: float, damping: float
) -> None:
    found, window = residual_vibration(plan_move(distance, LIMITS), frequency, damping), 2e-5
    settled = found.settling_s(window)
    assert found.envelope_m(settled) == pytest.approx(window)
    times = np.linspace(0.0, settled + 2.0 / frequency, 400_001)
    values = np.array([found.displacement_m(t) for t in times[::50]])
    last = times[::50][np.flatnonzero(np.abs(values) > window)[-1]]
    half_period = 0.5 / (frequency * math.sqrt(1.0 - damping**2))
    assert settled - half_period - times[50] < last <= settled


def test_settling_at_its_edges() -> None:
    assert settling_time(1e-4, 1e-4, 10.0, 0.05) == 0.0
    assert settling_time(0.0, 1e-4, 10.0, 0.0) == 0.0
    assert settling_time(2e-4, 1e-4, 10.0, 0.0) == math.inf


def test_nulling_jerk_takes_more_periods_where_the_limit_asks() -> None:
    one, three = nulling_jerk(10.0, 200.0, 20.0), nulling_jerk(10.0, 70.0, 20.0)
    assert (one.jerk_m_s3, one.periods, one.longer_s) == (200.0, 1, 0.0)
    assert (three.periods, three.jerk_m_s3) == (3, pytest.approx(200.0 / 3))
    move = plan_move(1.0, Limits(2.0, 10.0, 70.0))
    slower = plan_move(1.0, Limits(2.0, 10.0, three.jerk_m_s3))
    assert slower.duration_s - move.duration_s == pytest.approx(three.longer_s, abs=1e-12)
    assert nulling_jerk(10.0, math.inf, 20.0).longer_s == pytest.approx(0.05)


@pytest.mark.parametrize(("frequency", "damping"), [(8.0, 0.02), (14.0, 0.005), (14.0, 0.05), (20.0, 0.02)])
def test_no_jerk_of_a_fine_grid_is_quicker(frequency: float, damping: float) -> None:
    legs = ((0.1, LIMITS), (0.3, LIMITS), (0.7, Limits(1.6, 12.0, 260.0)))
    choice = quickest_jerk(legs, frequency, damping, 1e-4, 0.035)

    def total(jerk: float) -> float:
        moves = [plan_move(d, Limits(one.speed_m_s, one.acceleration_m_s2, jerk)) for d, one in legs]
        settled = max(residual_vibration(move, frequency, damping).settling_s(1e-4) for move in moves)
        return min(move.duration_s for move in moves) + max(settled, 0.035)

    least = min(total(jerk) for jerk in np.geomspace(3.0, 260.0, 1200))
    assert total(choice.jerk_m_s3) <= least + 5e-4
    assert total(260.0) - total(choice.jerk_m_s3) == pytest.approx(choice.saved_s, abs=1e-9)
    assert choice.saved_s > 0.05


def test_the_limit_stays_where_nothing_is_gained() -> None:
    choice = quickest_jerk(((0.3, LIMITS),), 200.0, 0.05, 1e-3, 0.035)
    assert (choice.jerk_m_s3, choice.settling_s, choice.longer_s, choice.saved_s) == (260.0, 0.035, 0.0, 0.0)


@pytest.mark.parametrize(
    ("frequency", "damping"),
    [(0.0, 0.1), (math.nan, 0.1), (math.inf, 0.1), (10.0, 1.0), (10.0, -0.1), (10.0, math.nan)],
)
def test_figures_out_of_range(frequency: float, damping: float) -> None:
    shaper = zero_vibration_shaper(10.0, 0.1)
    for attempt in (
        lambda: residual_vibration(plan_move(0.0, LIMITS), frequency, damping),
        lambda: settling_time(0.0, 1e-4, frequency, damping),
        lambda: zero_vibration_shaper(frequency, damping),
        lambda: shaper_residual(shaper, frequency, damping),
    ):
        with pytest.raises(ValueError, match=r"natural_frequency_hz is|damping is"):
            attempt()


def test_other_misuse() -> None:
    for amplitude, window in ((-1e-4, 1e-4), (math.nan, 1e-4), (1e-4, 0.0), (math.inf, 1e-4)):
        with pytest.raises(ValueError, match="no settling of"):
            settling_time(amplitude, window, 10.0, 0.1)
    with pytest.raises(ValueError, match="no jerk phase"):
        nulling_jerk(0.0, 100.0, 10.0)
    with pytest.raises(ValueError, match="natural_frequency_hz"):
        nulling_jerk(1.0, 100.0, 0.0)
    for legs in ((), ((0.3, Limits(1.0, 10.0, math.inf)),)):
        with pytest.raises(ValueError, match="legs is empty or"):
            quickest_jerk(legs, 10.0, 0.1, 1e-4)
    with pytest.raises(ValueError, match="least_settling_s is"):
        quickest_jerk(((0.3, LIMITS),), 10.0, 0.1, 1e-4, -1.0)
