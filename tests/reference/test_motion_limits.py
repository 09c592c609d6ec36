"""Hold, liquid, thrust and heat against data/motion_limits.json; liquid and heat against an ODE solver."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import jnp_zeros

from linewright.checks.motion import braking_thrust_N, mode_share, plane_rise_m, slosh_frequency_hz, sloshing
from linewright.checks.motion.slosh import BESSEL_ZEROS
from linewright.line.model import FrictionHold, Held, Part
from linewright.line.surroundings import Liquid
from linewright.motion import Limits, hold_limits, plan_move
from linewright.motion.electric import copper_loss_W, hot_resistance_ohm
from linewright.motion.heat import filtered_heat_W, rms_thrust_N
from linewright.motion.limits import HOLD_SAFETY, STANDARD_GRAVITY_M_S2

DATA = Path(__file__).parent / "data" / "motion_limits.json"
RECORDS: dict[str, dict[str, Any]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}
NO_FORMULA_OF_OURS = {
    "slip_incline_given": "lanes are level",
    "slip_clamped_given": "a clamp states the acceleration that it stands",
    "sizing_sheet_accel_1": "speed over time; no check asks for it",
}
G = 9.81  # of the records; the program's is the standard value
TO_STANDARD = STANDARD_GRAVITY_M_S2 / G


def named(*starts: str) -> list[str]:
    return [name for name in RECORDS if name.startswith(starts)]


def record(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    return RECORDS[name]["inputs"], RECORDS[name]["expected"]


def box(length_m: float, depth_m: float) -> Liquid:
    return Liquid(length_m=length_m, depth_m=depth_m, freeboard_m=0.01)


def cup(radius_m: float, depth_m: float) -> Liquid:
    return Liquid(diameter_m=2 * radius_m, depth_m=depth_m, freeboard_m=0.01)


def holds_m_s2(mu: float, half_base_m: float, height_m: float) -> list[float]:
    """Slip and tip without the safety factor and at the records' gravity."""
    held = Held(friction=FrictionHold(coefficient=mu, half_base_m=half_base_m))
    part = Part(mass_kg=1.0, held=held, mass_height_m=height_m)
    return [(one.value or 0.0) * HOLD_SAFETY / TO_STANDARD for one in hold_limits(part)]


def test_every_record_is_asserted_or_listed() -> None:
    asserted = named(
        "slip_1", "slip_2", "slip_3", "slip_4", "tip_", "slip_or", "slosh", "rms", "duty", "hot", "thermal"
    )
    assert sorted([*asserted, "sizing_sheet_force", *NO_FORMULA_OF_OURS]) == sorted(RECORDS)
    assert all(one["source"] and one["status"] for one in RECORDS.values())


@pytest.mark.parametrize("name", ["slip_1", "slip_2", "slip_3", "slip_4"])
def test_slip(name: str) -> None:
    inputs, expected = record(name)
    slip, _ = holds_m_s2(inputs["mu_static"], 0.1, 0.1)
    assert slip / inputs["safety"] == pytest.approx(expected["a_slip"], rel=1e-9)


@pytest.mark.parametrize("name", ["tip_1", "tip_2", "tip_3"])
def test_tip(name: str) -> None:
    inputs, expected = record(name)
    _, tip = holds_m_s2(0.5, inputs["half_base_m"], inputs["cog_height_m"])
    assert tip == pytest.approx(expected["a_tip"], rel=1e-9)


@pytest.mark.parametrize("name", ["slip_or_tip_1", "slip_or_tip_2"])
def test_slip_or_tip(name: str) -> None:
    inputs, expected = record(name)
    holds = holds_m_s2(inputs["mu"], inputs["half_base_m"], inputs["cog_height_m"])
    assert min(holds) == pytest.approx(expected["a_limit"], rel=1e-9)
    assert ("slip", "tip")[int(np.argmin(holds))] == expected["mode"]


def test_frequencies_of_a_published_tank() -> None:
    inputs, expected = record("slosh_rect_codeaster")
    found = [slosh_frequency_hz(box(inputs["L"], inputs["h"]), mode, G) for mode in range(1, 6)]
    assert found == pytest.approx(expected["f_Hz"], rel=1e-5)


@pytest.mark.parametrize("name", ["slosh_rect_1", "slosh_rect_2", "slosh_rect_3"])
def test_frequencies_of_a_box(name: str) -> None:
    inputs, expected = record(name)
    liquid = box(inputs["L"], inputs["h"])
    assert slosh_frequency_hz(liquid, 1, G) == pytest.approx(expected["f1_Hz"], rel=1e-9)
    assert slosh_frequency_hz(liquid, 3, G) == pytest.approx(expected["f3_Hz"], rel=1e-9)


@pytest.mark.parametrize("name", ["slosh_cyl_1", "slosh_cyl_2", "slosh_cyl_3"])
def test_frequencies_of_a_cup(name: str) -> None:
    inputs, expected = record(name)
    liquid = cup(inputs["radius"], inputs["h"])
    assert slosh_frequency_hz(liquid, 1, G) == pytest.approx(expected["f1_Hz"], rel=1e-9)
    assert slosh_frequency_hz(liquid, 2, G) == pytest.approx(expected["f2_Hz"], rel=1e-9)


def test_zeros_and_shares_of_the_modes() -> None:
    zeros = jnp_zeros(1, 2000)
    assert pytest.approx(zeros[:3], rel=1e-14) == BESSEL_ZEROS
    shares = 2.0 / (zeros**2 - 1.0)
    assert mode_share(cup(0.03, 0.05)) == pytest.approx(shares[0], rel=1e-14)
    # the modes together are the plane; what is beyond 2000 of them is about 2/(π² 2000)
    assert shares.sum() == pytest.approx(1.0, abs=1.1e-4)
    odd = np.arange(1, 4001, 2)
    assert mode_share(box(0.1, 0.05)) * (1.0 / odd**2).sum() == pytest.approx(1.0, abs=2.1e-4)


def test_rise_under_a_step_of_acceleration() -> None:
    inputs, expected = record("slosh_rise_given")
    liquid, acceleration = box(inputs["L"], 0.05), inputs["accel"]
    plane = plane_rise_m(liquid, acceleration) * TO_STANDARD
    assert plane == pytest.approx(expected["wall_rise_static_m"], rel=1e-9)
    assert mode_share(liquid) * plane == pytest.approx(expected["mode1_static_wall_m"], rel=1e-9)
    tilt = math.degrees(math.atan(plane / (inputs["L"] / 2)))
    assert tilt == pytest.approx(expected["tilt_deg"], rel=1e-9)
    # a step, then a braking so gentle that it stirs nothing
    found = sloshing(liquid, plan_move(1e6, Limits(4.0, acceleration, math.inf, 1e-4)))
    assert found.mode_m * TO_STANDARD == pytest.approx(expected["mode1_step_peak_m"], rel=1e-4)


@pytest.mark.parametrize("seed", range(6))
def test_rise_over_a_move_against_an_ode_solver(seed: int) -> None:
    rng = np.random.default_rng(seed)
    liquid = box(rng.uniform(0.02, 0.2), rng.uniform(0.02, 0.1)) if seed % 2 else cup(rng.uniform(0.01, 0.08), 0.06)
    limits = Limits(rng.uniform(0.5, 2.5), rng.uniform(2.0, 14.0), rng.uniform(30.0, 300.0))
    move = plan_move(rng.uniform(0.1, 1.0), limits)
    omega = 2.0 * math.pi * slosh_frequency_hz(liquid)
    gain = mode_share(liquid) * plane_rise_m(liquid, 1.0)

    def rates(t: float, y: np.ndarray) -> list[float]:
        return [y[1], omega**2 * (gain * move.acceleration_m_s2(t) - y[0])]

    end = move.duration_s + 2.0 * math.pi / omega
    times = np.linspace(0.0, end, 3001)
    solved = solve_ivp(rates, (0.0, end), [0.0, 0.0], t_eval=times, rtol=1e-8, atol=1e-12, max_step=0.01)
    found = sloshing(liquid, move)
    assert found.mode_m == pytest.approx(np.abs(solved.y[0]).max(), rel=2e-4)
    assert found.after_m == pytest.approx(np.abs(solved.y[0][times >= move.duration_s]).max(), rel=2e-3, abs=1e-7)


def test_a_short_move_of_a_long_tank_swings_most_when_it_is_over() -> None:
    liquid, move = box(1.2, 0.3), plan_move(0.05, Limits(1.0, 5.0, 200.0))
    omega = 2.0 * math.pi * slosh_frequency_hz(liquid)
    gain = mode_share(liquid) * plane_rise_m(liquid, 1.0)
    # far shorter than a period it is a jump of the wall by d: w = ω² c d cos ωt afterwards
    found = sloshing(liquid, move)
    assert move.duration_s < 0.15 * 2.0 * math.pi / omega
    assert found.mode_m == found.after_m
    assert found.after_m == pytest.approx(omega**2 * gain * 0.05, rel=0.05)


@pytest.mark.parametrize("name", ["rms_force_1", "rms_force_2", "rms_force_3"])
def test_thrust_and_heat_of_a_trapezoid(name: str) -> None:
    inputs, expected = record(name)
    move = plan_move(inputs["distance_m"], Limits(inputs["v"], inputs["a"], math.inf))
    cycle = move.duration_s + inputs["dwell_s"]
    assert cycle == pytest.approx(expected["t_cycle_s"])
    rms = rms_thrust_N(move, inputs["mass_kg"], inputs["friction_N"], cycle)
    assert rms == pytest.approx(expected["F_rms_N"], rel=1e-6)
    assert braking_thrust_N(inputs["mass_kg"], inputs["a"], 0.0) - inputs["friction_N"] == -expected["F_decel_N"]
    if inputs["Kf_N_per_Arms"] is not None:
        loss = copper_loss_W(rms, inputs["Kf_N_per_Arms"], inputs["R_phase_equiv_ohm"])
        assert loss == pytest.approx(expected["P_copper_avg_W"], rel=1e-6)
        assert loss * inputs["Rth_K_per_W"] == pytest.approx(expected["dT_steady_K"], rel=1e-6)


def test_thrust_of_a_jerk_limited_move() -> None:
    inputs, expected = record("rms_force_scurve_given")
    move = plan_move(inputs["distance_m"], Limits(inputs["v_max"], inputs["a_max"], inputs["j_max"]))
    assert move.duration_s == pytest.approx(expected["move_s"])
    assert rms_thrust_N(move, inputs["mass_kg"], 0.0, expected["cycle_s"]) == pytest.approx(
        expected["F_rms_N"], rel=1e-6
    )


@pytest.mark.parametrize(("duty", "ratio", "tol"), [(0.25, 2.0, 1e-6), (0.1, 3.16, 0.005)])
def test_force_allowed_for_part_of_the_time(duty: float, ratio: float, tol: float) -> None:
    published = {0.25: record("duty_h2w")[1]["force_ratio_at_duty"], 0.1: record("duty_h2w_10pct")[1]["F_lb"]}
    assert published[duty] == ratio
    move = plan_move(1.0, Limits(1.0, 1e4, math.inf))
    # all but the friction is nothing: a force that acts for a share of the time has a root mean square of 1
    rms = rms_thrust_N(move, 1e-9, ratio, move.duration_s / duty)
    assert rms == pytest.approx(1.0, abs=tol)


def test_force_of_a_sizing_sheet() -> None:
    inputs, expected = record("sizing_sheet_force")
    assert braking_thrust_N(inputs["mass_kg"], inputs["accel_g"] * G, 0.0) == pytest.approx(expected["F_N"], rel=1e-9)


def test_hot_winding() -> None:
    inputs, expected = record("hot_winding_given")
    hot = hot_resistance_ohm(inputs["R20_ohm"], inputs["T_amb_C"] + expected["dT_K"])
    assert hot == pytest.approx(expected["R_hot_ohm"], rel=1e-9)
    assert copper_loss_W(inputs["I_rms_A"], 1.0, hot) == pytest.approx(expected["P_W"], rel=1e-9)


def test_warming_of_one_thermal_mass() -> None:
    inputs, expected = record("thermal_time_given")
    heat, rise = np.array([inputs["P_W"]] * 2), inputs["Rth_K_W"]
    cold = np.array(0.0)
    at_tau = filtered_heat_W(heat[:1], np.array([inputs["tau_s"]]), inputs["tau_s"], cold)
    assert at_tau[0] * rise == pytest.approx(expected["dT_at_tau_K"], rel=1e-9)
    to_limit = np.array([expected["t_to_limit_s"] - 100.0, 100.0])
    assert filtered_heat_W(heat, to_limit, inputs["tau_s"], cold)[1] * rise == pytest.approx(60.0, rel=1e-9)
    assert heat[0] * rise == expected["dT_inf_K"]


def test_warming_over_changing_bins_against_an_ode_solver() -> None:
    rng = np.random.default_rng(7)
    heat, lengths, tau = rng.uniform(0.0, 20.0, 6), rng.uniform(30.0, 200.0, 6), 260.0
    edges = np.concatenate(((0.0,), np.cumsum(lengths)))
    found = filtered_heat_W(heat, lengths, tau, np.array(3.0))
    now = 3.0
    for power, start, end, value in zip(heat, edges[:-1], edges[1:], found, strict=True):
        solved = solve_ivp(lambda t, y, p=power: (p - y) / tau, (start, end), [now], rtol=1e-10, atol=1e-12)
        now = float(solved.y[0, -1])
        assert value == pytest.approx(now, rel=1e-8)
