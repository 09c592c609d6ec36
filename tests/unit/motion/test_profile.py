"""One move: every case, its ends, its errors, and the same move by an outside library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from ruckig import InputParameter, Ruckig, Trajectory

from linewright.motion import (
    Limits,
    move_times,
    plan_move,
    plan_ramp,
    times_to_microseconds,
    to_microseconds,
)

LIGHT = Limits(1.85, 14.0, 260.0)

# Distance, limits, and the phases that last: jerk, hold and cruise, for speeding up and for slowing down.
CASES = {
    "speed and acceleration reached": (1.0, Limits(1.0, 10.0, 200.0), (True, True)),
    "acceleration reached": (0.25, Limits(5.0, 5.0, 100.0), (True, True)),
    "neither reached": (0.02, Limits(2.0, 10.0, 100.0), (False, False)),
    "speed reached alone": (0.6, Limits(0.5, 10.0, 20.0), (False, False)),
    "harder up, only down reached": (0.05, Limits(3.0, 20.0, 200.0, 4.0), (False, True)),
    "harder down, only up reached": (0.05, Limits(3.0, 4.0, 200.0, 20.0), (True, False)),
    "harder up, both reached": (0.3, Limits(2.0, 12.0, 150.0, 6.0), (True, True)),
    "harder up, speed reached, only down reached": (2.0, Limits(0.5, 20.0, 200.0, 4.0), (False, True)),
    "no jerk limit": (0.5, Limits(1.0, 5.0, math.inf, 2.5), (True, True)),
    "no jerk limit, speed not reached": (0.1, Limits(1.0, 5.0, math.inf, 2.5), (True, True)),
}


def by_ruckig(distance: float, limits: Limits) -> Trajectory:
    given = InputParameter(1)
    given.current_position, given.target_position = [0.0], [distance]
    given.max_velocity, given.max_acceleration = [limits.speed_m_s], [limits.acceleration_m_s2]
    given.min_acceleration, given.max_jerk = [-limits.braking_m_s2], [limits.jerk_m_s3]
    trajectory = Trajectory(1)
    Ruckig(1).calculate(given, trajectory)
    return trajectory


@pytest.mark.parametrize("name", CASES)
def test_every_case_against_the_outside_library(name: str) -> None:
    distance, limits, holds = CASES[name]
    move, other = plan_move(distance, limits), by_ruckig(distance, limits)
    assert (move.speeding_up.hold_time_s > 0.0, move.slowing_down.hold_time_s > 0.0) == holds
    assert move.duration_s == pytest.approx(other.duration, rel=1e-12)
    for share in (0.07, 0.31, 0.52, 0.77, 0.96):
        position, speed, acceleration = (value[0] for value in other.at_time(share * other.duration))
        time = share * move.duration_s
        assert move.position_m(time) == pytest.approx(position, abs=1e-12)
        assert move.speed_m_s(time) == pytest.approx(speed, abs=1e-11)
        assert move.acceleration_m_s2(time) == pytest.approx(acceleration, abs=1e-9)


@pytest.mark.parametrize("alike", [True, False], ids=["same both ways", "braking otherwise"])
def test_random_moves_against_the_outside_library(alike: bool) -> None:
    random = np.random.default_rng(20261)
    for _ in range(2000):
        low, high = np.array([-4.0, -2.0, -1.0, 0.0]), np.array([2.0, 1.0, 2.0, 4.0])
        distance, speed, acceleration, jerk = (float(x) for x in 10.0 ** random.uniform(low, high))
        braking = None if alike else acceleration * float(10.0 ** random.uniform(-1.0, 1.0))
        limits = Limits(speed, acceleration, jerk, braking)
        move = plan_move(distance, limits)
        assert move.duration_s == pytest.approx(by_ruckig(distance, limits).duration, rel=1e-12), (distance, limits)
        assert move_times(distance, limits) == pytest.approx(move.duration_s, rel=1e-14)


@pytest.mark.parametrize("name", CASES)
def test_segments_join_without_a_step(name: str) -> None:
    distance, limits, _ = CASES[name]
    move = plan_move(distance, limits)
    position = speed = time = 0.0
    for segment in move.segments:
        assert segment.duration_s > 0.0
        assert segment.start_s == pytest.approx(time, abs=1e-15)
        assert segment.position_m == pytest.approx(position, abs=1e-14)
        assert segment.speed_m_s == pytest.approx(speed, abs=1e-13)
        t, a, j = segment.duration_s, segment.acceleration_m_s2, segment.jerk_m_s3
        position = segment.position_m + segment.speed_m_s * t + a * t * t / 2 + j * t**3 / 6
        speed = segment.speed_m_s + a * t + j * t * t / 2
        time = segment.start_s + t
    assert (time, position, speed) == pytest.approx((move.duration_s, distance, 0.0), abs=1e-13)


def test_a_move_of_no_distance() -> None:
    move = plan_move(0.0, LIGHT)
    assert (move.duration_s, move.peak_speed_m_s, move.peak_acceleration_m_s2, move.segments) == (0.0, 0.0, 0.0, ())
    assert move.position_m(0.0) == move.speed_m_s(1.0) == move.acceleration_m_s2(-1.0) == 0.0
    assert move.position_m(np.array([-1.0, 0.0, 1.0])).tolist() == [0.0, 0.0, 0.0]
    assert move.time_to_cover_s(0.0) == 0.0


@pytest.mark.parametrize("distance", [5e-324, 1e-300, 1e-30, 1e-12, 1e12, 1e300])
def test_tiny_and_huge_distances(distance: float) -> None:
    move = plan_move(distance, LIGHT)
    assert 0.0 < move.duration_s < math.inf
    assert move.position_m(move.duration_s) == distance
    assert move_times(distance, LIGHT) == pytest.approx(move.duration_s, rel=1e-13)
    if 1e-100 < distance < 1e-10:
        assert move.duration_s == pytest.approx((32.0 * distance / 260.0) ** (1 / 3), rel=1e-13)


def test_at_rest_before_and_after() -> None:
    move = plan_move(0.35, LIGHT)
    times = np.array([-5.0, -1e-9, 0.0, move.duration_s, move.duration_s + 1e-9, 7.0])
    assert move.position_m(times).tolist() == [0.0, 0.0, 0.0, 0.35, 0.35, 0.35]
    assert move.speed_m_s(times).tolist() == [0.0] * 6
    assert move.acceleration_m_s2(times).tolist() == [0.0] * 6


def test_one_time_or_many() -> None:
    move = plan_move(0.35, LIGHT)
    times = np.linspace(-0.1, 0.5, 600)
    grid = times.reshape(3, 200)
    for ask in (move.position_m, move.speed_m_s, move.acceleration_m_s2):
        assert ask(grid).shape == (3, 200)
        assert ask(grid).ravel().tolist() == [ask(float(time)) for time in times]
        assert isinstance(ask(0.1), float)
        assert isinstance(ask(np.float64(0.1)), float)


def test_time_to_cover_keeps_its_digits_at_both_ends() -> None:
    move = plan_move(0.35, LIGHT)
    for way in (1e-15, 1e-9, 1e-6):
        early = (6.0 * way / 260.0) ** (1 / 3)
        assert move.time_to_cover_s(way) == pytest.approx(early, rel=1e-12)
        rest = 0.35 - way
        late = (6.0 * (0.35 - rest) / 260.0) ** (1 / 3)
        assert move.duration_s - move.time_to_cover_s(rest) == pytest.approx(late, abs=1e-15)
    assert move.time_to_cover_s(0.35) == move.duration_s
    assert move.time_to_cover_s(0.175) == pytest.approx(move.duration_s / 2, abs=1e-14)
    assert move.time_to_cover_s(-1.0) == 0.0


@pytest.mark.parametrize("figure", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize("name", ["speed_m_s", "acceleration_m_s2", "jerk_m_s3", "deceleration_m_s2"])
def test_limits_refuse(name: str, figure: float) -> None:
    figures = {"speed_m_s": 1.0, "acceleration_m_s2": 2.0, "jerk_m_s3": 3.0, "deceleration_m_s2": 4.0, name: figure}
    if (name, figure) == ("jerk_m_s3", math.inf):
        assert Limits(**figures).jerk_m_s3 == math.inf
        return
    with pytest.raises(ValueError, match=name):
        Limits(**figures)


def test_the_stated_deceleration_brakes() -> None:
    assert Limits(1.0, 2.0, 3.0).braking_m_s2 == 2.0
    assert Limits(1.0, 2.0, 3.0, 4.0).braking_m_s2 == 4.0


@pytest.mark.parametrize("distance", [-1e-9, math.nan, math.inf])
def test_distances_refused(distance: float) -> None:
    with pytest.raises(ValueError, match="distance_m"):
        plan_move(distance, LIGHT)
    with pytest.raises(ValueError, match="distances_m"):
        move_times([0.1, distance], LIGHT)


def test_times_and_ways_refused() -> None:
    move = plan_move(0.35, LIGHT)
    for wrong in (0.35 + 1e-12, math.nan):
        with pytest.raises(ValueError, match="the move covers"):
            move.time_to_cover_s(wrong)
    with pytest.raises(ValueError, match="not a number"):
        move.position_m(math.nan)
    with pytest.raises(ValueError, match="not numbers"):
        move.speed_m_s(np.array([0.0, math.nan]))


def test_ramps() -> None:
    assert plan_ramp(0.0, 10.0, math.inf).duration_s == 0.0
    assert plan_ramp(1.5, 10.0, math.inf).duration_s == pytest.approx(0.15)
    for wrong in ((-1.0, 10.0, 100.0), (math.nan, 10.0, 100.0), (1.0, 0.0, 100.0), (1.0, 10.0, math.nan)):
        with pytest.raises(ValueError, match="no ramp"):
            plan_ramp(*wrong)


# Seconds, and the whole microseconds of the plan: up, but a nanosecond over is rounding.
ROUNDED = [(0.0, 0), (1e-9, 0), (1.1e-9, 1), (1e-6, 1), (1.0009e-6, 1), (1.0011e-6, 2), (0.1 + 0.2, 300000),
           (0.3000000011, 300001), (3600.0, 3_600_000_000)]  # fmt: skip


@pytest.mark.parametrize(("time", "whole"), ROUNDED)
def test_up_to_whole_microseconds(time: float, whole: int) -> None:
    assert to_microseconds(time) == whole
    assert isinstance(to_microseconds(time), int)
    assert times_to_microseconds([time]).tolist() == [whole]


@pytest.mark.parametrize("time", [-1e-12, math.nan, math.inf])
def test_microseconds_refused(time: float) -> None:
    with pytest.raises(ValueError, match="time_s"):
        to_microseconds(time)
    with pytest.raises(ValueError, match="times_s"):
        times_to_microseconds([0.0, time])
