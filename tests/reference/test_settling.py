"""Residuals, shapers and settling against data/stability.json, and random moves against a numerical integration."""

from __future__ import annotations

import json
import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from linewright.motion import (
    Limits,
    Move,
    plan_move,
    residual_vibration,
    settling_time,
    shaper_residual,
    zero_vibration_derivative_shaper,
    zero_vibration_shaper,
)

DATA = Path(__file__).parent / "data" / "stability.json"
RECORDS: dict[str, dict[str, Any]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}
RESIDUALS, SHAPERS, SETTLING = (
    sorted(name for name in RECORDS if name.startswith(start)) for start in ("residual", "input_shaper", "settling")
)


def test_the_records_are_all_there() -> None:
    assert (len(RESIDUALS), len(SHAPERS), len(SETTLING), len(RECORDS)) == (5, 3, 2, 11)
    assert all(record["source"] and record["access"] for record in RECORDS.values())


@pytest.mark.parametrize("name", RESIDUALS)
def test_residual_amplitudes(name: str) -> None:
    inputs = RECORDS[name]["inputs"]
    move = plan_move(inputs["distance"], Limits(inputs["v_max"], inputs["a_max"], float(inputs["j_max"])))
    found = residual_vibration(move, inputs["f_n_Hz"], inputs["zeta"])
    assert found.amplitude_m == pytest.approx(RECORDS[name]["expected"]["residual_amplitude_m"], rel=1e-9, abs=1e-14)


@pytest.mark.parametrize("name", SHAPERS)
def test_shapers(name: str) -> None:
    inputs, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    fixture = inputs["f_n_Hz"], inputs["zeta"]
    for shaper, short in (
        (zero_vibration_shaper(*fixture), "ZV"),
        (zero_vibration_derivative_shaper(*fixture), "ZVD"),
    ):
        assert shaper.amplitudes == pytest.approx(expected[f"{short}_amplitudes"], rel=1e-9)
        assert shaper.times_s == pytest.approx(expected[f"{short}_times_s"], rel=1e-9)
        assert shaper.added_s == shaper.times_s[-1]
        assert shaper_residual(shaper, *fixture) == pytest.approx(0.0, abs=1e-14)
        off = shaper_residual(shaper, 1.1 * fixture[0], fixture[1])
        assert off == pytest.approx(expected[f"{short}_residual_at_110pct_f"], rel=1e-9)


@pytest.mark.parametrize("name", SETTLING)
def test_settling_times(name: str) -> None:
    inputs = RECORDS[name]["inputs"]
    found = settling_time(inputs["initial_envelope_m"], inputs["band_m"], inputs["f_n_Hz"], inputs["zeta"])
    assert found == pytest.approx(RECORDS[name]["expected"]["t_settle_s"], rel=1e-9)


def test_settling_of_a_step_to_two_per_cent() -> None:
    """The envelope of a unit step of a second-order system begins at 1/√(1 - ζ²)."""
    inputs, expected = RECORDS["step_2pct_given"]["inputs"], RECORDS["step_2pct_given"]["expected"]
    damping = inputs["zeta"]
    found = settling_time(1.0 / math.sqrt(1.0 - damping**2), 0.02, inputs["f_n_Hz"], damping)
    assert found == pytest.approx(expected["ts_envelope_2pct_s"], rel=1e-9)


# ---- against an integration of the equation of motion ----------------------------------------------------------------


def integrated(move: Move, frequency: float, damping: float, delays: dict[float, float], times: np.ndarray) -> Any:
    """Displacement at times after the end of the (shaped) move: stretch by stretch, tolerances far below the test's."""
    omega = 2.0 * math.pi * frequency
    breaks = [segment.start_s for segment in move.segments] + [move.duration_s]
    knots = sorted({0.0} | {at + delay for at in breaks for delay in delays})
    state = np.zeros(2)
    for start, stop in pairwise(knots):
        inner = np.array([start + 0.25 * (stop - start), start + 0.75 * (stop - start)])
        values = sum(share * move.acceleration_m_s2(inner - delay) for delay, share in delays.items())
        slope = (values[1] - values[0]) / (inner[1] - inner[0])

        def rhs(t: float, y: Any, at: float = inner[0], a: float = values[0], j: float = slope) -> list[float]:
            return [y[1], -(a + j * (t - at)) - 2.0 * damping * omega * y[1] - omega**2 * y[0]]

        state = solve_ivp(rhs, (start, stop), state, method="DOP853", rtol=1e-9, atol=1e-14).y[:, -1]

    def free(t: float, y: Any) -> list[float]:
        return [y[1], -2.0 * damping * omega * y[1] - omega**2 * y[0]]

    span = (0.0, float(times[-1]))
    return solve_ivp(free, span, state, method="DOP853", rtol=1e-9, atol=1e-14, t_eval=times).y[0]


@pytest.mark.parametrize("case", range(24))
def test_random_moves_against_the_integration(case: int) -> None:
    luck = np.random.default_rng([20, case])
    limits = Limits(
        10.0 ** luck.uniform(-0.7, 0.5),
        10.0 ** luck.uniform(0.0, 1.5),
        math.inf if case % 6 == 5 else 10.0 ** luck.uniform(1.3, 3.3),
        None if case % 3 else 10.0 ** luck.uniform(0.0, 1.5),
    )
    move = plan_move(10.0 ** luck.uniform(-2.0, 0.3), limits)
    frequency = 10.0 ** luck.uniform(0.3, 1.6)
    damping = 0.0 if case % 5 == 0 else luck.uniform(0.001, 0.6)
    found = residual_vibration(move, frequency, damping)
    times = np.linspace(0.0, 2.5 / frequency, 40)
    expected = integrated(move, frequency, damping, {0.0: 1.0}, times)
    size = move.peak_acceleration_m_s2 / (2.0 * math.pi * frequency) ** 2
    assert [found.displacement_m(t) for t in times] == pytest.approx(expected, rel=1e-6, abs=1e-7 * size)
    assert all(abs(x) <= found.envelope_m(t) + 1e-7 * size for x, t in zip(expected, times, strict=True))


@pytest.mark.parametrize("off", [1.0, 1.1])
def test_a_shaped_move_leaves_what_the_shaper_leaves(off: float) -> None:
    move, frequency, damping = plan_move(0.3, Limits(1.85, 14.0, 260.0)), 14.0, 0.03
    shaper = zero_vibration_shaper(frequency, damping)
    plain = residual_vibration(move, off * frequency, damping).amplitude_m
    delays = dict(zip(shaper.times_s, shaper.amplitudes, strict=True))
    times = np.linspace(0.0, 2.0 / frequency, 2001)
    shaped = integrated(move, off * frequency, damping, delays, times)
    omega = 2.0 * math.pi * off * frequency
    speeds = np.gradient(shaped, times)
    envelope = np.hypot(shaped[5], (speeds[5] + damping * omega * shaped[5]) / (omega * math.sqrt(1.0 - damping**2)))
    expected = plain * shaper_residual(shaper, off * frequency, damping) * math.exp(-damping * omega * times[5])
    assert envelope == pytest.approx(expected, rel=1e-3, abs=1e-9)
