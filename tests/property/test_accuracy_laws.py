"""Laws of error budgets, of levers and of a carrier that gives way."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.checks.accuracy import (
    Contributor,
    bias_of,
    plate_deflection,
    play_at_m,
    process_capability,
    simulate_budget,
    spread_of,
    sum_budget,
)

WIDTHS = st.floats(1e-7, 1e-3)
SPREADS = st.builds(
    lambda width, law: spread_of("s", "x", width, law), WIDTHS, st.sampled_from(["normal", "uniform", "triangular"])
)
BIASES = st.builds(lambda one, two: bias_of("b", "x", min(one, two), max(one, two)), *[st.floats(-1e-3, 1e-3)] * 2)
LISTS = st.lists(st.one_of(SPREADS, BIASES), min_size=1, max_size=8)
TOLERANCES = st.floats(1e-5, 1e-2)
POINTS = st.tuples(*[st.floats(-0.2, 0.2)] * 3)
FORCES = st.tuples(*[st.floats(-1000.0, 1000.0)] * 3)
PLATE = (0.12, 0.09, 6e7, 4e7, -0.01, 3e6)


@given(LISTS, TOLERANCES, st.randoms(use_true_random=False))
def test_order_does_not_matter_and_shares_make_a_whole(
    parts: list[Contributor], tolerance: float, luck: object
) -> None:
    budget = sum_budget(parts, tolerance)
    mixed = list(parts)
    luck.shuffle(mixed)  # type: ignore[attr-defined]
    other = sum_budget(mixed, tolerance)
    assert (budget.worst_case_m, budget.sigma_m, budget.cpk) == (other.worst_case_m, other.sigma_m, other.cpk)
    if budget.rss_m > 0.0:
        assert math.fsum(budget.shares) == pytest.approx(1.0)


@given(LISTS, TOLERANCES)
def test_the_worst_case_is_at_least_the_bias_and_the_index_at_most_that_without_it(
    parts: list[Contributor], tolerance: float
) -> None:
    budget = sum_budget(parts, tolerance)
    assert budget.worst_case_m >= abs(budget.bias_m)
    assert budget.low_m <= budget.high_m
    assert budget.cpk <= budget.cp
    assert 0.0 <= budget.parts_per_million <= 1e6


@given(LISTS, SPREADS, TOLERANCES)
def test_one_spread_more_makes_nothing_better(parts: list[Contributor], more: Contributor, tolerance: float) -> None:
    before, after = sum_budget(parts, tolerance), sum_budget([*parts, more], tolerance)
    assert after.worst_case_m > before.worst_case_m
    assert after.rss_m >= before.rss_m
    assert after.sigma_m >= before.sigma_m
    if abs(before.bias_m) < tolerance:
        assert after.cpk <= before.cpk
        assert after.parts_per_million >= before.parts_per_million - 1e-6


@given(LISTS, TOLERANCES, st.floats(0.1, 10.0))
def test_a_budget_has_no_scale(parts: list[Contributor], tolerance: float, factor: float) -> None:
    one, other = sum_budget(parts, tolerance), sum_budget([c.scaled(factor) for c in parts], tolerance * factor)
    assert other.worst_case_m == pytest.approx(one.worst_case_m * factor)
    if one.sigma_m > 0.0:
        assert other.cpk == pytest.approx(one.cpk)
        assert other.parts_per_million == pytest.approx(one.parts_per_million, rel=1e-6, abs=1e-9)


@given(LISTS, TOLERANCES)
def test_the_index_is_that_of_the_capability(parts: list[Contributor], tolerance: float) -> None:
    budget = sum_budget(parts, tolerance)
    if budget.sigma_m > 0.0:
        found = process_capability(budget.bias_m, budget.sigma_m, -tolerance, tolerance)
        assert (found.cp, found.cpk) == pytest.approx((budget.cp, budget.cpk), rel=1e-9, abs=1e-9)
        assert found.parts_per_million == pytest.approx(budget.parts_per_million, rel=1e-6, abs=1e-9)


@given(st.lists(SPREADS, min_size=1, max_size=6), st.integers(0, 1000))
@settings(max_examples=15)
def test_drawn_spreads_have_the_standard_deviation_of_the_closed_form(parts: list[Contributor], seed: int) -> None:
    drawn = simulate_budget(parts, 20_000, seed)
    assert drawn.sigma_m == pytest.approx(sum_budget(parts, 1.0).sigma_m, rel=0.05)  # 5 standard errors of it and more


@given(FORCES, POINTS, FORCES, POINTS)
def test_forces_add_up_and_work_both_ways(
    f: tuple[float, ...], at: tuple[float, ...], g: tuple[float, ...], to: tuple[float, ...]
) -> None:
    one, two = plate_deflection(f, at, *PLATE), plate_deflection(g, to, *PLATE)
    # What f does where g acts is, weighed by g, what g does where f acts: Maxwell and Betti.
    assert np.dot(g, one.at(to)) == pytest.approx(np.dot(f, two.at(at)), rel=1e-9, abs=1e-12)
    twice = plate_deflection([2.0 * v for v in f], at, *PLATE)
    assert twice.at(to) == pytest.approx(2.0 * one.at(to), abs=1e-15)
    assert np.dot(f, one.at(at)) >= 0.0


@given(st.floats(0.0, 1e-4), POINTS, st.floats(1.0, 3.0))
def test_play_grows_with_its_lever(play: float, point: tuple[float, float, float], factor: float) -> None:
    near = play_at_m(play, point, 0.12, 0.09)
    far = play_at_m(play, [factor * v for v in point], 0.12, 0.09)
    assert (far >= near - 1e-18).all()
    assert (near[1:] >= play - 1e-18).all()
