"""The electrical side of one move against closed forms."""

import math

import numpy as np
import pytest

from linewright.motion import Limits, plan_move
from linewright.motion.electric import copper_loss_W, electrical_power_W, hot_resistance_ohm, move_thrust_N

MASS_KG, FRICTION_N, K_N_A, R_OHM = 1.5, 2.0, 9.0, 2.5


def test_work_over_the_move_is_friction_times_way() -> None:
    move = plan_move(0.7, Limits(1.2, 9.0, 150.0, 6.0))
    time_s = np.linspace(0.0, move.duration_s, 40_001)
    thrust_N = move_thrust_N(move, MASS_KG, FRICTION_N, time_s)
    work_J = np.trapezoid(thrust_N * move.speed_m_s(time_s), time_s)
    assert work_J == pytest.approx(FRICTION_N * 0.7, rel=1e-6)


def test_the_greatest_and_least_thrust_are_those_of_the_acceleration() -> None:
    move = plan_move(0.7, Limits(1.2, 9.0, 150.0, 6.0))
    time_s = np.linspace(-0.1, move.duration_s + 0.1, 20_001)
    thrust_N = move_thrust_N(move, MASS_KG, FRICTION_N, time_s)
    assert thrust_N.max() == pytest.approx(MASS_KG * 9.0 + FRICTION_N)
    assert thrust_N.min() == pytest.approx(-MASS_KG * 6.0 + FRICTION_N)
    assert (thrust_N[(time_s < 0.0) | (time_s >= move.duration_s)] == 0.0).all()


def test_energy_of_a_trapezoid_by_hand() -> None:
    """1 m at 1 m/s with 10 m/s²: 0.1 s up, 0.9 s cruise, 0.1 s down."""
    move = plan_move(1.0, Limits(1.0, 10.0, math.inf))
    middles_s = (np.arange(110_000) + 0.5) * move.duration_s / 110_000
    thrust_N = move_thrust_N(move, MASS_KG, FRICTION_N, middles_s)
    power_W = electrical_power_W(thrust_N, move.speed_m_s(middles_s), K_N_A, R_OHM)
    loss_J = R_OHM / K_N_A**2 * (17.0**2 * 0.1 + 2.0**2 * 0.9 + 13.0**2 * 0.1)
    assert power_W.sum() * move.duration_s / 110_000 == pytest.approx(FRICTION_N * 1.0 + loss_J, rel=1e-6)


def test_hot_resistance() -> None:
    assert hot_resistance_ohm(2.0, 20.0) == 2.0
    assert hot_resistance_ohm(2.0, 100.0) == pytest.approx(2.0 * 1.3144)


def test_a_number_and_an_array_give_the_same() -> None:
    both = electrical_power_W(np.array([3.0, -4.0]), np.array([1.0, 2.0]), K_N_A, R_OHM)
    assert both.tolist() == [electrical_power_W(3.0, 1.0, K_N_A, R_OHM), electrical_power_W(-4.0, 2.0, K_N_A, R_OHM)]


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_impossible_constants_are_named(bad: float) -> None:
    move = plan_move(0.1, Limits(1.0, 5.0, 100.0))
    with pytest.raises(ValueError, match="resistance_ohm"):
        hot_resistance_ohm(bad, 60.0)
    with pytest.raises(ValueError, match="mass_kg"):
        move_thrust_N(move, bad, 1.0, np.zeros(1))
    with pytest.raises(ValueError, match="force_constant_N_A"):
        copper_loss_W(1.0, bad, 1.0)
    with pytest.raises(ValueError, match="resistance_ohm"):
        electrical_power_W(1.0, 1.0, 1.0, bad)


def test_other_impossible_figures_are_named() -> None:
    move = plan_move(0.1, Limits(1.0, 5.0, 100.0))
    for bad in (-300.0, math.nan, math.inf):
        with pytest.raises(ValueError, match="winding_degC"):
            hot_resistance_ohm(1.0, bad)
    for bad in (-1.0, math.nan, math.inf):
        with pytest.raises(ValueError, match="friction_N"):
            move_thrust_N(move, 1.0, bad, np.zeros(1))
    with pytest.raises(ValueError, match="thrust_N"):
        copper_loss_W(math.nan, 1.0, 1.0)
    with pytest.raises(ValueError, match="speed_m_s"):
        electrical_power_W(1.0, math.inf, 1.0, 1.0)
    with pytest.raises(ValueError, match="time_s"):
        move_thrust_N(move, 1.0, 1.0, np.array([math.nan]))
