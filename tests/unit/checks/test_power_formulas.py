"""The single formulas of power against linear solves, quadrature, integration and search."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from linewright.checks import power
from linewright.motion import Limits, plan_move
from linewright.motion.electric import electrical_power_W, move_thrust_N

K_N_A, R_OHM, MASS_KG, FRICTION_N, SPEED_M_S = 5.2, 1.9, 0.71, 0.6, 1.85


# ---- along a feeder --------------------------------------------------------------------------------------------------


def test_chain_is_the_nodal_analysis_of_the_same_currents() -> None:
    rng = np.random.default_rng(7)
    ohm, watts, head_V = rng.uniform(0.005, 0.05, 9), rng.uniform(0.0, 90.0, 9), 48.0
    chain = power.chain_voltages(head_V, ohm, watts)
    conductance = np.zeros((9, 9))
    for i in range(9):
        conductance[i, i] += 1.0 / ohm[i]
        if i:
            conductance[i - 1, i - 1] += 1.0 / ohm[i]
            conductance[i, i - 1] -= 1.0 / ohm[i]
            conductance[i - 1, i] -= 1.0 / ohm[i]
    into_A = -watts / chain.node_V
    into_A[0] += head_V / ohm[0]
    np.testing.assert_allclose(chain.node_V, np.linalg.solve(conductance, into_A), rtol=1e-11)
    # What the supply gives is what the sections take and the runs lose.
    assert chain.head_A * head_V == pytest.approx(watts.sum() + chain.loss_W.sum(), rel=1e-10)


def test_chain_of_one_is_the_closed_form() -> None:
    chain = power.chain_voltages(40.0, np.array([1.0]), np.array([399.0]))
    assert chain.far_end_V == pytest.approx(20.0 + math.sqrt(400.0 - 399.0), rel=1e-9)
    assert chain.head_A == pytest.approx(power.feeder_current_A(40.0, np.array([399.0]), 1.0)[0], rel=1e-9)


def test_more_power_than_the_runs_can_carry_is_told() -> None:
    chain = power.chain_voltages(40.0, np.array([1.0]), np.array([401.0]))
    assert not chain.delivered
    assert chain.far_end_V == 0.0
    assert math.isinf(chain.head_A)


def test_no_current_exceeds_that_of_all_power_at_the_far_end() -> None:
    ohm, watts = np.array([0.05, 0.02, 0.02]), np.array([80.0, 120.0, 40.0])
    at_once = power.feeder_current_A(42.0, np.array([watts.sum()]), float(ohm.sum()))[0]
    assert watts.sum() / 42.0 < power.chain_voltages(42.0, ohm, watts).head_A < at_once


def test_the_carriers_that_stand_farthest() -> None:
    lengths = np.array([0.7, 0.4, 0.9])
    assert power.farthest_loads(lengths, 0.3, 3).tolist() == [0, 0, 3]
    assert power.farthest_loads(lengths, 0.3, 5).tolist() == [0, 1, 4]
    assert power.farthest_loads(lengths, 0.3, 50).tolist() == [2, 1, 4]  # 2 m hold six pitches and one carrier more
    assert power.farthest_loads(lengths, 0.3, 0).tolist() == [0, 0, 0]


# ---- what comes back -------------------------------------------------------------------------------------------------


def test_energy_given_back_is_the_integral_of_the_power() -> None:
    for deceleration in (3.0, 8.0, 14.0):
        found = power.braking_return(MASS_KG, SPEED_M_S, deceleration, FRICTION_N, K_N_A, R_OHM)
        thrust_N = -(MASS_KG * deceleration - FRICTION_N)

        def back_W(time_s: float, thrust_N: float = thrust_N, deceleration: float = deceleration) -> float:
            speed_m_s = SPEED_M_S - deceleration * time_s
            return max(0.0, -electrical_power_W(thrust_N, speed_m_s, K_N_A, R_OHM))

        whole, _ = quad(back_W, 0.0, SPEED_M_S / deceleration, limit=200)
        assert found.energy_J == pytest.approx(whole, rel=1e-6)
        assert found.peak_W == pytest.approx(back_W(0.0))


def test_the_worst_deceleration_is_found_by_search_too() -> None:
    for friction_N in (0.05, 0.6, 3.0):
        for greatest in (2.0, 14.0, 60.0):
            grid = np.linspace(greatest / 4_000, greatest, 4_000)
            back = [power.braking_return(MASS_KG, SPEED_M_S, a, friction_N, K_N_A, R_OHM) for a in grid]
            worst = power.worst_braking_return(MASS_KG, SPEED_M_S, greatest, friction_N, K_N_A, R_OHM)
            assert worst.energy_J == pytest.approx(max(one.energy_J for one in back), rel=1e-5, abs=1e-9)
            assert worst.peak_W == pytest.approx(max(one.peak_W for one in back), rel=1e-5, abs=1e-9)
            at = power.braking_return(MASS_KG, SPEED_M_S, worst.energy_at_m_s2 or 1.0, friction_N, K_N_A, R_OHM)
            assert at.energy_J == pytest.approx(worst.energy_J, abs=1e-12)


def test_nothing_comes_back_where_friction_or_copper_takes_it_all() -> None:
    assert power.braking_return(1.0, 1.0, 2.0, 2.5, K_N_A, R_OHM).energy_J == 0.0
    assert power.braking_return(1.0, 0.1, 20.0, 0.0, K_N_A, R_OHM) == power.BrakingReturn(0.0, 0.0)
    assert power.worst_braking_return(1.0, 1.0, 2.0, 2.5, K_N_A, R_OHM).peak_W == 0.0


@pytest.mark.parametrize("resistance_ohm", [None, 4.0, 40.0])
def test_highest_voltage_against_the_integrated_circuit(resistance_ohm: float | None) -> None:
    """Carriers that brake alike charge a capacitor; above its voltage the resistor takes U²/R."""
    carriers, deceleration, start_V, on_V, farad = 24, 9.0, 42.84, 50.0, 0.01
    one = power.braking_return(MASS_KG, SPEED_M_S, deceleration, FRICTION_N, K_N_A, R_OHM)
    thrust_N = -(MASS_KG * deceleration - FRICTION_N)

    def slope(time_s: float, state: np.ndarray) -> list[float]:
        speed_m_s = SPEED_M_S - deceleration * time_s
        back_W = max(0.0, -carriers * electrical_power_W(thrust_N, speed_m_s, K_N_A, R_OHM))
        burnt_W = state[0] ** 2 / resistance_ohm if resistance_ohm is not None and state[0] >= on_V else 0.0
        return [(back_W - burnt_W) / (farad * state[0])]

    solved = solve_ivp(slope, (0.0, SPEED_M_S / deceleration), [start_V], max_step=2e-4)
    resistor_on_V = None if resistance_ohm is None else on_V
    bound_V = power.braking_voltage_V(
        start_V, carriers * one.energy_J, carriers * one.peak_W, farad, resistor_on_V, resistance_ohm
    )
    top_V = float(solved.y[0].max())
    assert top_V <= bound_V * (1.0 + 2e-3)  # the switching resistor of the solver overshoots
    if resistance_ohm != 40.0:  # alone, or with a resistor that takes all: the bound is reached
        assert top_V == pytest.approx(bound_V, rel=2e-3)


def test_what_holds_is_the_inverse_of_what_is_reached() -> None:
    farad = power.capacitance_that_holds_F(42.0, 55.0, 19.0)
    assert power.capacitor_voltage_V(42.0, 19.0, farad) == pytest.approx(55.0)
    assert power.held_J(42.0, 55.0, farad) == pytest.approx(19.0)
    assert power.held_J(55.0, 42.0, farad) == 0.0


# ---- energy of a move ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way_m", [0.02, 0.2, 2.0])
@pytest.mark.parametrize("jerk", [80.0, math.inf])
def test_energy_of_a_move_is_the_integral_of_its_power(way_m: float, jerk: float) -> None:
    move = plan_move(way_m, Limits(1.5, 9.0, jerk, 6.0))
    energy = power.move_energy(move, MASS_KG, FRICTION_N, K_N_A, R_OHM)
    count = 200_000
    middles_s = (np.arange(count) + 0.5) * move.duration_s / count
    thrust_N = move_thrust_N(move, MASS_KG, FRICTION_N, middles_s)
    watts = electrical_power_W(thrust_N, move.speed_m_s(middles_s), K_N_A, R_OHM)
    step_s = move.duration_s / count
    net_J, back_J = np.cumsum(watts) * step_s, np.cumsum(np.maximum(-watts, 0.0)) * step_s
    some = np.arange(9_999, count, 10_000)
    ends_s = (some + 1) * step_s
    np.testing.assert_allclose(energy.net_until_J(ends_s), net_J[some], rtol=1e-4, atol=1e-6)
    np.testing.assert_allclose(energy.back_until_J(ends_s), back_J[some], rtol=1e-4, atol=1e-5)
    assert energy.peak_W == pytest.approx(watts.max(), rel=1e-4)
    assert energy.least_W == pytest.approx(watts.min(), rel=1e-4)
    assert energy.drawn_J == pytest.approx(np.maximum(watts, 0.0).sum() * step_s, rel=1e-4)


def test_no_move_has_no_energy() -> None:
    energy = power.move_energy(plan_move(0.0, Limits(1.0, 1.0, 1.0)), 1.0, 1.0, 1.0, 1.0)
    assert energy.drawn_J == energy.peak_W == 0.0
    assert energy.net_until_J(np.array([0.0, 1.0])).tolist() == [0.0, 0.0]


# ---- impossible figures ----------------------------------------------------------------------------------------------

BAD = [-1.0, math.nan, math.inf]
MOVE = plan_move(0.1, Limits(1.0, 1.0, 10.0))


@pytest.mark.parametrize("bad", BAD)
def test_impossible_figures_are_named(bad: float) -> None:
    calls = {
        "mass_kg": lambda: power.braking_return(bad, 1.0, 1.0, 0.0, 1.0, 1.0),
        "speed_m_s": lambda: power.braking_return(1.0, bad, 1.0, 0.0, 1.0, 1.0),
        "deceleration_m_s2": lambda: power.braking_return(1.0, 1.0, bad, 0.0, 1.0, 1.0),
        "greatest_m_s2": lambda: power.worst_braking_return(1.0, 1.0, bad, 0.0, 1.0, 1.0),
        "friction_N": lambda: power.move_energy(MOVE, 1.0, bad, 1.0, 1.0),
        "force_constant_N_A": lambda: power.move_energy(MOVE, 1.0, 0.0, bad, 1.0),
        "resistance_ohm": lambda: power.precharge(1.0, bad, 1.0),
        "supply_V": lambda: power.precharge(bad, 1.0, 1.0),
        "capacitance_F": lambda: power.capacitor_voltage_V(1.0, 1.0, bad),
        "start_V": lambda: power.capacitor_voltage_V(bad, 1.0, 1.0),
        "energy_J": lambda: power.capacitor_voltage_V(1.0, bad, 1.0),
        "highest_V": lambda: power.capacitance_that_holds_F(1.0, bad, 1.0),
        "peak_W": lambda: power.braking_voltage_V(1.0, 1.0, bad, 1.0),
        "on_V": lambda: power.braking_voltage_V(1.0, 1.0, 1.0, 1.0, bad, 1.0),
        "efficiency": lambda: power.regeneration(1.0, 1.0, bad, 1.0, 1.0, 2.0),
        "kinetic_J": lambda: power.resistor_duty(bad, 0.5, 1.0, 1.0, 0.0, 1.0),
        "held_energy_J": lambda: power.resistor_duty(1.0, 0.5, 1.0, 1.0, bad, 1.0),
        "thrust_N": lambda: power.motor_power(bad if bad != -1.0 else math.nan, 1.0, 1.0, 1.0),
        "area_mm2": lambda: power.conductor_ohm_per_m(bad),
        "conductor_degC": lambda: power.measured_at_20_ohm(1.0, bad),
        "gauge": lambda: power.gauge_size(-1),
        "current_A": lambda: power.voltage_drop_V(bad, 1.0, 1.0),
        "length_m": lambda: power.voltage_drop_V(1.0, bad, 1.0),
        "ohm_per_m": lambda: power.voltage_drop_V(1.0, 1.0, bad),
        "design_A": lambda: power.protection(bad, 1.0, 1.0, "fuse"),
        "fuse_A": lambda: power.protection(1.0, bad, 1.0, "fuse"),
        "rating_A": lambda: power.protection(1.0, 1.0, bad, "fuse"),
        "head_V": lambda: power.chain_voltages(bad, np.ones(1), np.ones(1)),
        "run_ohm": lambda: power.chain_voltages(1.0, np.array([bad]), np.ones(1)),
        "power_W": lambda: power.feeder_current_A(1.0, np.array([bad]), 0.0),
        "far_ohm": lambda: power.feeder_current_A(1.0, np.ones(1), bad),
        "pitch_m": lambda: power.farthest_loads(np.ones(1), bad, 1),
        "lengths_m": lambda: power.farthest_loads(np.array([bad]), 1.0, 1),
        "carriers": lambda: power.farthest_loads(np.ones(1), 1.0, -1),
        "output_W": lambda: power.supply_loss_W(bad, 0.9),
    }
    for name, call in calls.items():
        with pytest.raises(ValueError, match=name):
            call()


def test_a_fuse_is_not_a_breaker() -> None:
    """I2 of gG fuses: 1.6 In from 16 A on, 1.9 above 4 A, 2.1 up to there; of breakers 1.45 throughout."""
    for rated_A, factor in ((100.0, 1.6), (16.0, 1.6), (15.9, 1.9), (4.1, 1.9), (4.0, 2.1), (0.5, 2.1)):
        assert power.tripping_current_A(rated_A, "fuse") == pytest.approx(factor * rated_A)
        assert power.tripping_current_A(rated_A, "breaker") == pytest.approx(1.45 * rated_A)
    # A cable of 32 A: a fuse of 32 A trips for sure at 51.2 A, more than 46.4 A.
    assert power.protection(20.0, 32.0, 32.0, "breaker").holds
    found = power.protection(20.0, 32.0, 32.0, "fuse")
    assert (found.tripping_A, found.rating_holds, found.tripping_holds) == (pytest.approx(51.2), True, False)


@pytest.mark.parametrize("device", ["fuse", "breaker"])
def test_the_largest_fuse_protects_and_so_do_all_smaller_ones_that_are_made(device: power.Device) -> None:
    made = [1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0, 80.0, 100.0]
    for rating_A in np.geomspace(1.0, 150.0, 500):
        most_A = power.largest_fuse_A(rating_A, device)
        assert power.protection(0.0, most_A * (1.0 - 1e-9), rating_A, device).holds
        assert not power.protection(0.0, most_A * 1.001, rating_A, device).holds or 3.6 < most_A <= 4.0
        assert all(power.protection(0.0, one, rating_A, device).holds for one in made if one <= most_A)
    assert power.largest_fuse_A(16.0 * 1.6 / 1.45, "fuse") == pytest.approx(16.0)


def test_other_refusals() -> None:
    for call in (power.tripping_current_A, power.largest_fuse_A):
        with pytest.raises(ValueError, match="device"):
            call(1.0, "wire")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="most_held_J"):
        power.supply_bins(np.ones(2), -1.0)
    with pytest.raises(ValueError, match="go together"):
        power.braking_voltage_V(1.0, 1.0, 1.0, 1.0, 2.0)
    with pytest.raises(ValueError, match="one length"):
        power.chain_voltages(1.0, np.ones(2), np.ones(1))
    with pytest.raises(ValueError, match="conductor"):
        power.conductor_ohm_per_m(1.5, "solid")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"0\.5, 0\.75"):
        power.conductor_ohm_per_m(1.6)
    with pytest.raises(ValueError, match="efficiency"):
        power.supply_loss_W(1.0, 1.2)
