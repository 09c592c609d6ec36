"""The single formulas of the accuracy check: what they refuse, and what an independent computation gives."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from linewright.checks import accuracy as a

INF, NAN = math.inf, math.nan
NORMAL = [a.spread_of("a", "x", 3e-5), a.spread_of("b", "x", 6e-5)]

REFUSED: list[tuple[Callable[[], Any], str]] = [
    (lambda: a.spread_of("nest", "x", -1e-6), "half_width_m is -1e-06 of nest"),
    (lambda: a.spread_of("nest", "x", NAN), "half_width_m is nan"),
    (lambda: a.bias_of("drift", "x", 1.0, 0.0), "low_m is 1.0, above high_m"),
    (lambda: a.bias_of("drift", "x", -INF, 0.0), "both must be finite"),
    (lambda: a.Contributor("n", "x", "spread", None, -1.0, 1.0), "a spread has a law"),
    (lambda: a.Contributor("n", "x", "spread", "normal", -1.0, 2.0), "plus and minus its half width"),
    (lambda: a.sum_budget(NORMAL, 0.0), "tolerance_m is 0.0"),
    (lambda: a.sum_budget(NORMAL, NAN), "tolerance_m is nan"),
    (lambda: a.sum_budget(NORMAL, 1.0, coverage=-1.0), "coverage is -1.0"),
    (lambda: a.sum_budget([*NORMAL, a.spread_of("c", "y", 1.0)], 1.0), "several axes"),
    (lambda: a.simulate_budget(NORMAL, 0), "draws is 0"),
    (lambda: a.simulate_budget([*NORMAL, a.spread_of("c", "y", 1.0)], 10), "several axes"),
    (lambda: a.simulate_budget(NORMAL, 10).interval_m(1.0), "share is 1.0"),
    (lambda: a.tail_per_million(1.0, -1.0), "sigma_m is -1.0"),
    (lambda: a.process_capability(0.0, 0.0, -1.0, 1.0), "sigma_m is 0.0"),
    (lambda: a.process_capability(NAN, 1.0, -1.0, 1.0), "mean_m is nan"),
    (lambda: a.process_capability(0.0, 1.0, 1.0, 1.0), "upper_m is 1.0"),
    (lambda: a.capability_interval(0.0, 1.0, 5), "cp is 0.0"),
    (lambda: a.capability_interval(1.0, 1.0, 1), "count is 1"),
    (lambda: a.capability_interval(1.0, 1.0, 5, 1.0), "confidence is 1.0"),
    (lambda: a.abbe_error_m(NAN, 0.0), "lever_m is nan"),
    (lambda: a.cosine_error_m(1.0, INF), "angle_rad is inf"),
    (lambda: a.thermal_growth_m(1.0, NAN, 1.0), "expansion_1_K is nan"),
    (lambda: a.play_at_m(-1e-6, (0, 0, 0), 0.1, 0.1), "play_m is -1e-06"),
    (lambda: a.play_at_m(1e-6, (0, 0, 0), 0.0, 0.1), "spacing_m is 0.0"),
    (lambda: a.plate_deflection((0, 0, -1), (0, 0, 0), 0.1, 0.1, -1e6, 1e6), "stiffness_N_m is -1000000.0"),
    (lambda: a.plate_deflection((0, 0, NAN), (0, 0, 0), 0.1, 0.1, 1e6, 1e6), "up_N is nan"),
    (lambda: a.axis_accuracy([[1.0, 2.0]], [[1.0]]), "up_m has shape"),
    (lambda: a.axis_accuracy([[1.0, NAN]], [[1.0, 1.0]]), "not finite"),
    (lambda: a.pose_repeatability([[0.0, 0.0, 0.0]], (0, 0, 0)), "attained_m has shape"),
    (lambda: a.pose_repeatability([[0.0, 0.0, NAN], [0.0, 0.0, 0.0]], (0, 0, 0)), "not finite"),
    (lambda: a.propagate_uncertainty(lambda x: x[0], (1.0,), (-1.0,)), "not negative"),
    (lambda: a.propagate_uncertainty(lambda x: x[0], (1.0,), (1.0, 2.0)), "they need the same"),
    (lambda: a.propagate_uncertainty(lambda x: x[0], (1.0,), (1.0,), [[0.5]]), "ones on its diagonal"),
    (lambda: a.effective_freedom((1.0,), (1.0, 2.0)), "1 values"),
    (lambda: a.effective_freedom((-1.0,), (1.0,)), "contributions must be"),
    (lambda: a.effective_freedom((1.0,), (0.0,)), "freedoms must be"),
    (lambda: a.coverage_factor(0.95, 0.0), "freedom is 0.0"),
    (lambda: a.coverage_factor(1.0), "confidence is 1.0"),
]


@pytest.mark.parametrize("call, told", REFUSED, ids=[told for _, told in REFUSED])
def test_what_cannot_be_is_refused(call: Callable[[], Any], told: str) -> None:
    with pytest.raises(ValueError) as caught:
        call()
    assert told in str(caught.value)


# ---- budget ----------------------------------------------------------------------------------------------------------


def test_a_budget_by_hand() -> None:
    parts = [
        a.spread_of("n", "x", 30e-6, "normal"),
        a.spread_of("u", "x", 20e-6, "uniform"),
        a.spread_of("t", "x", 10e-6, "triangular"),
        a.bias_of("known", "x", -12e-6, 4e-6),
        a.bias_of("unknown", "x", -5e-6, 5e-6),
    ]
    b = a.sum_budget(parts, 90e-6)
    sigma = math.sqrt(10.0**2 + 400.0 / 3.0 + 100.0 / 6.0)
    assert (b.low_m * 1e6, b.high_m * 1e6) == pytest.approx((-77.0, 69.0))
    assert b.worst_case_m * 1e6 == pytest.approx(77.0)
    assert b.bias_m * 1e6 == pytest.approx(-17.0)
    assert b.sigma_m * 1e6 == pytest.approx(sigma)
    assert b.rss_m * 1e6 == pytest.approx(17.0 + 3.0 * sigma)
    assert (b.cp, b.cpk) == pytest.approx((90.0 / (3.0 * sigma), 73.0 / (3.0 * sigma)))
    assert b.halved_worst_case_m[3] * 1e6 == pytest.approx(71.0)
    assert b.halved_cpk[3] == pytest.approx((90.0 - 11.0) / (3.0 * sigma))
    # Halving the known one lets the bias change sides where that lies farther off.
    assert b.shares[3] == pytest.approx(12.0 / (17.0 + 3.0 * sigma))
    assert b.shares[1] == pytest.approx(3.0 * (400.0 / 3.0) / sigma / (17.0 + 3.0 * sigma))
    law = NormalDist(-17.0, sigma)
    assert b.parts_per_million == pytest.approx(1e6 * (law.cdf(-90.0) + 1.0 - law.cdf(90.0)), rel=1e-6)


def test_a_budget_without_spread_or_without_anything() -> None:
    inside, outside = (a.sum_budget([a.bias_of("b", "x", -1e-5, size)], 2e-5) for size in (1e-5, 3e-5))
    assert (inside.cpk, inside.parts_per_million, inside.shares) == (math.inf, 0.0, (1.0,))
    assert (outside.cpk, outside.parts_per_million) == (-math.inf, 1e6)
    empty = a.sum_budget([], 1e-5)
    assert (empty.worst_case_m, empty.rss_m, empty.shares) == (0.0, 0.0, ())
    nothing = a.sum_budget([a.spread_of("s", "x", 0.0)], 1e-5)
    assert (nothing.cpk, nothing.shares) == (math.inf, (0.0,))


def test_what_a_pin_may_add() -> None:
    pinned = a.sum_budget([a.spread_of("nest", "x", 30e-6), a.bias_of("drift", "x", -1e-5, 1e-5)], 1e-4)
    play_m = a.pin_play_m(pinned, 1.5)
    with_it = [a.spread_of("nest", "x", 30e-6), a.bias_of("drift", "x", -1e-5, 1e-5)]
    with_it.append(a.spread_of("pin", "x", play_m, "uniform"))
    assert a.sum_budget(with_it, 1e-4).cpk == pytest.approx(1.5)
    assert a.pin_play_m(pinned, 4.0) == 0.0
    assert a.pin_play_m(a.sum_budget([a.bias_of("drift", "x", -1e-3, 1e-3)], 1e-4), 1.0) == 0.0


# ---- drawn budgets against closed forms ------------------------------------------------------------------------------


def test_draws_of_uniform_laws_follow_the_sum_of_two() -> None:
    """Two uniform laws of half widths A > B: the chance of being beyond t is (A + B - t)²/(4 A B) for t > A - B."""
    wide, narrow, limit = 30e-6, 20e-6, 40e-6
    drawn = a.simulate_budget(
        [a.spread_of("a", "x", wide, "uniform"), a.spread_of("b", "x", narrow, "uniform")], 400_000, 3
    )
    expected = (wide + narrow - limit) ** 2 / (4.0 * wide * narrow)
    got = drawn.parts_per_million(limit) / 1e6
    assert abs(got - expected) < 4.0 * math.sqrt(expected / 400_000)
    assert abs(drawn.errors_m).max() <= wide + narrow
    normal = a.sum_budget([a.spread_of("a", "x", wide, "uniform"), a.spread_of("b", "x", narrow, "uniform")], limit)
    assert abs(normal.parts_per_million / 1e6 - expected) > 20.0 * math.sqrt(expected / 400_000)


def test_draws_of_a_triangular_law() -> None:
    half = 24e-6
    drawn = a.simulate_budget([a.spread_of("t", "x", half, "triangular")], 300_000, 5)
    assert drawn.sigma_m == pytest.approx(half / math.sqrt(6.0), rel=0.005)
    assert drawn.parts_per_million(half / 2.0) / 1e6 == pytest.approx(0.25, abs=0.004)


def test_draws_of_normal_laws_and_a_bias() -> None:
    parts = [*NORMAL, a.bias_of("b", "x", -4e-5, 1e-5)]
    drawn, budget = a.simulate_budget(parts, 400_000, 9), a.sum_budget(parts, 8e-5)
    assert drawn.bias_m == budget.bias_m == -4e-5
    assert drawn.mean_m == pytest.approx(-4e-5, abs=4.0 * budget.sigma_m / math.sqrt(400_000))
    share = budget.parts_per_million / 1e6
    assert abs(drawn.parts_per_million(8e-5) / 1e6 - share) < 4.0 * math.sqrt(share / 400_000)
    low, high = drawn.interval_m()
    assert (low, high) == pytest.approx((-4e-5 - 3 * budget.sigma_m, -4e-5 + 3 * budget.sigma_m), abs=1e-6)


def test_draws_are_repeated_by_their_seed() -> None:
    first, again, other = (a.simulate_budget(NORMAL, 70_000, seed).errors_m for seed in (1, 1, (1, 2)))
    assert (first == again).all()
    assert not (first == other).all()
    assert a.simulate_budget([a.bias_of("b", "x", 0.0, 1e-6)], 3).errors_m.tolist() == [1e-6] * 3


# ---- geometry --------------------------------------------------------------------------------------------------------


def solved(
    force: Any, at: Any, point: Any, spacing: float, gauge: float, up: float, side: float, t: float, servo: float
) -> Any:
    """Displacement of a point by the six equations of equilibrium, springs put in one by one."""
    stiffness = np.zeros((6, 6))

    def spring(place: Any, direction: Any, rate: float) -> None:
        row = np.concatenate([direction, np.cross(place, direction)])
        stiffness[:] += rate * np.outer(row, row)

    for sx, sy in product((-0.5, 0.5), repeat=2):
        spring(np.array([sx * spacing, sy * gauge, 0.0]), np.array([0.0, 0.0, 1.0]), up)
        spring(np.array([sx * spacing, sy * gauge, 0.0]), np.array([0.0, 1.0, 0.0]), side)
    spring(np.array([0.0, 0.0, t]), np.array([1.0, 0.0, 0.0]), servo)
    moved = np.linalg.solve(stiffness, np.concatenate([force, np.cross(at, force)]))
    return moved[:3] + np.cross(moved[3:], point)


def test_deflection_against_six_equations() -> None:
    rng = np.random.default_rng(12)
    for _ in range(40):
        force, at, point = rng.normal(size=3) * 100, rng.normal(size=3) * 0.05, rng.normal(size=3) * 0.05
        spacing, gauge = rng.uniform(0.05, 0.2, 2)
        up, side, servo = 10.0 ** rng.uniform(6, 9, 3)
        t = rng.uniform(-0.02, 0.02)
        found = a.plate_deflection(force, at, spacing, gauge, up, side, t, servo).at(point)
        expected = solved(force, at, point, spacing, gauge, up, side, t, servo)
        assert found == pytest.approx(expected, rel=1e-9, abs=1e-12)


def test_play_against_all_placings() -> None:
    """The corners of the set of placings, found by trying all of them out."""
    play, spacing, gauge = 8e-6, 0.08, 0.06
    for point in product((-0.07, 0.0, 0.03), (-0.05, 0.0, 0.02), (0.0, 0.09)):
        x, y, z = point
        best = np.zeros(3)
        ends = (-play, play)
        # Across: front and rear pair each at an end. Up: any three corners at their ends, the fourth within play.
        across = [(0.5 * (f + r), (f - r) / spacing) for f in ends for r in ends]
        upward = []
        for fl, fr, rl in product((-play, 0.0, play), repeat=3):
            c, roll, pitch = 0.5 * (fr + rl), (fl - fr) / gauge, -(fl - rl) / spacing
            corners = [c - pitch * sx * spacing / 2 + roll * sy * gauge / 2 for sx in (1, -1) for sy in (1, -1)]
            if max(abs(corner) for corner in corners) <= play * (1 + 1e-9):
                upward.append((c, roll, pitch))
        for (t, yaw), (c, roll, pitch) in product(across, upward):
            moved = np.array([-yaw * y + pitch * z, t + yaw * x - roll * z, c + roll * y - pitch * x])
            best = np.maximum(best, np.abs(moved))
        assert a.play_at_m(play, point, spacing, gauge) == pytest.approx(best, rel=1e-9, abs=1e-15)


def test_a_model_of_several_results() -> None:
    together = [[1.0, 0.5], [0.5, 1.0]]
    found = a.propagate_uncertainty(lambda x: (x[0] + x[1], x[0] - x[1], 7.0), (5.0, 3.0), (0.2, 0.2), together)
    assert found.values.tolist() == [8.0, 2.0, 7.0]
    assert found.uncertainties.tolist() == pytest.approx([math.sqrt(0.12), 0.2, 0.0])
    assert found.correlations[0, 1] == pytest.approx(0.0, abs=1e-9)
    assert found.correlations[2].tolist() == [0.0, 0.0, 1.0]
    assert math.isinf(a.effective_freedom((1.0, 2.0), (math.inf, math.inf)))


def test_biases_are_added_as_they_are() -> None:
    """30 µm of three standard deviations and a bias of 40 µm make 70 µm; as squares they would make 50."""
    budget = a.sum_budget([a.spread_of("seat", "x", 30e-6), a.bias_of("set-up", "x", 40e-6, 40e-6)], 1e-3)
    assert budget.rss_m == pytest.approx(70e-6)
