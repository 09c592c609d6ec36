"""Root mean square, first-order warming and the worst stretch of time."""

from __future__ import annotations

import math

import numpy as np
import pytest

from linewright.motion import Limits, plan_move
from linewright.motion.electric import move_thrust_N
from linewright.motion.heat import filtered_heat_W, rms_thrust_N, squared_acceleration_m2_s3, window_means_W

MOVE = plan_move(0.34, Limits(1.85, 14.0, 260.0))


def test_squares_against_many_small_steps() -> None:
    times = (np.arange(200_000) + 0.5) * MOVE.duration_s / 200_000
    step = MOVE.duration_s / 200_000
    assert squared_acceleration_m2_s3(MOVE) == pytest.approx(
        (MOVE.acceleration_m_s2(times) ** 2).sum() * step, rel=1e-7
    )
    thrust = move_thrust_N(MOVE, 0.7, 1.1, times)
    mean = (thrust**2).sum() * step / 2.0
    assert rms_thrust_N(MOVE, 0.7, 1.1, 2.0) == pytest.approx(math.sqrt(mean), rel=1e-7)


def test_rest_lessens_the_root_mean_square() -> None:
    alone = rms_thrust_N(MOVE, 0.7, 1.1)
    assert rms_thrust_N(MOVE, 0.7, 1.1, 4.0 * MOVE.duration_s) == pytest.approx(alone / 2.0)
    assert rms_thrust_N(plan_move(0.0, Limits(1.0, 1.0, 1.0)), 0.7, 1.1) == 0.0


@pytest.mark.parametrize(
    ("mass", "friction", "cycle", "name"),
    [
        (0.0, 1.0, None, "mass_kg"),
        (-1.0, 1.0, None, "mass_kg"),
        (math.nan, 1.0, None, "mass_kg"),
        (1.0, -1.0, None, "friction_N"),
        (1.0, math.nan, None, "friction_N"),
        (1.0, 1.0, 0.1, "cycle_s"),
        (1.0, 1.0, math.nan, "cycle_s"),
    ],
)
def test_impossible_loads_are_refused(mass: float, friction: float, cycle: float | None, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        rms_thrust_N(MOVE, mass, friction, cycle)


def test_warming_settles_at_the_heat_and_never_overshoots() -> None:
    heat = np.array([[10.0, 0.0]] * 40)
    found = filtered_heat_W(heat, np.full(40, 60.0), 480.0, np.array([0.0, 8.0]))
    assert found.shape == (40, 2)
    assert (np.diff(found[:, 0]) > 0.0).all()
    assert (np.diff(found[:, 1]) < 0.0).all()
    assert found[-1] == pytest.approx([10.0, 0.0], abs=0.08)
    assert found[7] == pytest.approx([10.0 * (1.0 - math.exp(-1.0)), 8.0 * math.exp(-1.0)], rel=1e-12)


def test_warming_does_not_depend_on_how_the_time_is_cut() -> None:
    cold = np.array(1.0)
    whole = filtered_heat_W(np.array([5.0]), np.array([90.0]), 300.0, cold)
    cut = filtered_heat_W(np.array([5.0, 5.0, 5.0]), np.array([10.0, 50.0, 30.0]), 300.0, cold)
    assert cut[-1] == pytest.approx(whole[-1], rel=1e-12)


@pytest.mark.parametrize(
    ("heat", "bins", "tau", "name"),
    [
        ([1.0], [60.0], 0.0, "thermal_time_s"),
        ([1.0], [60.0], math.nan, "thermal_time_s"),
        ([1.0], [0.0], 100.0, "bin_s"),
        ([1.0], [60.0, 60.0], 100.0, "bin_s"),
        ([math.nan], [60.0], 100.0, "heat_W"),
    ],
)
def test_impossible_warmings_are_refused(heat: list[float], bins: list[float], tau: float, name: str) -> None:
    with pytest.raises(ValueError, match=name):
        filtered_heat_W(np.array(heat), np.array(bins), tau, np.array(0.0))


def test_means_of_all_stretches() -> None:
    heat, minutes = np.array([0.0, 6.0, 6.0, 0.0, 9.0]), np.full(5, 60.0)
    assert window_means_W(heat, minutes, 1).tolist() == heat.tolist()
    assert window_means_W(heat, minutes, 2).tolist() == [3.0, 6.0, 3.0, 4.5]
    assert window_means_W(heat, minutes, 9) == pytest.approx([4.2])
    assert window_means_W(np.stack((heat, 2.0 * heat), axis=1), minutes, 2)[1].tolist() == [6.0, 12.0]
    # the last bin is shorter and weighs less
    short = np.array([60.0, 60.0, 60.0, 60.0, 20.0])
    assert window_means_W(heat, short, 9) == pytest.approx([(12.0 + 3.0) / (4.0 + 1.0 / 3.0)])
    with pytest.raises(ValueError, match="window"):
        window_means_W(heat, minutes, 0)
    with pytest.raises(ValueError, match="bin_s"):
        window_means_W(heat, minutes[:2], 1)
