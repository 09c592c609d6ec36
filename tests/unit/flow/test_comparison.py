"""The best of several systems, and how runs are shared out."""

from __future__ import annotations

import numpy as np
import pytest

from linewright.flow.comparison import best_of_many, run_allocation
from linewright.flow.statistics import paired_comparison

LUCK = np.random.default_rng(41).normal(0.0, 10.0, size=12)


def test_two_systems_are_one_paired_comparison() -> None:
    # One-sided at 95 % is the two-sided interval at 90 %: t(0.95, 11).
    noise = np.random.default_rng(42).normal(0.0, 1.0, size=12)
    rows = np.array([100.0 + LUCK, 100.4 + LUCK + noise])
    pair = paired_comparison(rows[0], rows[1], 0.9)
    found = best_of_many(rows)
    assert pair.low < 0.0 < pair.high
    assert found.best == 1
    assert found.candidates == (0, 1)
    assert not found.decided
    assert found.to_best[1].mean == pytest.approx(pair.mean)
    assert found.to_best[1].low == pytest.approx(pair.low)
    assert found.to_best[1].high == pytest.approx(pair.high)
    assert found.to_best[0].low == pytest.approx(-pair.high)


def test_three_systems_by_hand() -> None:
    # Differences of rows: 0 - 1: mean 1, s 1; 0 - 2: mean 4, s 1; 1 - 2: mean 3, s sqrt(3); n = 3 and
    # t(1 - 0.2/2, 2) = 1.885618, so h = 1.088662, 1.088662, 1.885618.
    found = best_of_many([[4.0, 6.0, 8.0], [4.0, 5.0, 6.0], [1.0, 2.0, 3.0]], confidence=0.8)
    assert found.best == 0
    h01 = 1.885618 / np.sqrt(3.0)
    assert found.candidates == (0, 1)
    assert (found.to_best[0].mean, found.to_best[1].mean, found.to_best[2].mean) == pytest.approx((1.0, -1.0, -4.0))
    assert found.to_best[0].low == pytest.approx(1.0 - h01, abs=1e-6)
    assert found.to_best[0].high == pytest.approx(1.0 + h01, abs=1e-6)
    assert found.to_best[1].low == pytest.approx(-1.0 - h01, abs=1e-6)
    assert found.to_best[1].high == pytest.approx(h01 - 1.0, abs=1e-6)
    assert found.to_best[2].high == 0.0
    assert found.to_best[2].low == pytest.approx(-4.0 - h01, abs=1e-6)


def test_a_clear_best_is_decided_under_the_same_luck() -> None:
    noise = np.random.default_rng(43).normal(0.0, 0.1, size=(3, 12))
    rows = np.array([100.0 + LUCK, 102.0 + LUCK, 101.0 + LUCK]) + noise
    found = best_of_many(rows)
    assert (found.best, found.candidates, found.decided, found.runs_due) == (1, (1,), True, None)
    assert found.to_best[1].low == 0.0
    assert found.to_best[0].high == found.to_best[2].high == 0.0
    assert not best_of_many([np.roll(row, 3 * i) for i, row in enumerate(rows)]).decided  # the pairs torn apart


def test_indifference_decides_among_near_equals() -> None:
    noise = np.random.default_rng(44).normal(0.0, 1.0, size=(3, 12))
    rows = np.array([100.0 + LUCK, 100.1 + LUCK, 90.0 + LUCK]) + noise
    assert not best_of_many(rows).decided
    wide = best_of_many(rows, indifference=5.0)
    assert wide.decided
    assert wide.runs_due == 12
    # ten times as near needs a hundred times the runs
    assert best_of_many(rows, indifference=0.05).runs_due == pytest.approx(
        100 * best_of_many(rows, indifference=0.5).runs_due, rel=0.02
    )


def test_equal_systems_without_scatter_all_stay_candidates() -> None:
    found = best_of_many([[5.0, 6.0], [5.0, 6.0], [4.0, 5.0]])
    assert (found.best, found.candidates) == (0, (0, 1))
    assert found.decided  # they are equal: none is below another
    assert found.to_best[2].mean == -1.0


@pytest.mark.parametrize(
    ("values", "words"),
    [([[1.0, 2.0]], "at least two"), ([[1.0], [2.0]], "at least two"), ([1.0, 2.0], "at least two")],
)
def test_best_of_many_refuses_shapes(values: list[list[float]], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        best_of_many(values)


def test_best_of_many_refuses_what_is_no_number_or_no_share() -> None:
    with pytest.raises(ValueError, match="not finite"):
        best_of_many([[1.0, 2.0], [1.0, float("nan")]])
    with pytest.raises(ValueError, match="between 0 and 1"):
        best_of_many([[1.0, 2.0], [1.0, 2.0]], confidence=95.0)
    with pytest.raises(ValueError, match="indifference is -1"):
        best_of_many([[1.0, 2.0], [1.0, 2.0]], indifference=-1.0)


def test_allocation_by_hand() -> None:
    # N1 = 1/1, N2 = 4/4, N0 = sqrt(1 + 1/4): weights sqrt(1.25), 1, 1
    found = run_allocation([3.0, 2.0, 1.0], [1.0, 1.0, 4.0], runs=30)
    total = np.sqrt(1.25) + 2.0
    assert found.exact == pytest.approx((30 * np.sqrt(1.25) / total, 30 / total, 30 / total))
    assert sum(found.runs) == 30
    assert found.runs == (11, 10, 9)


def test_allocation_keeps_its_sum_and_its_order() -> None:
    rng = np.random.default_rng(45)
    for runs in (1, 7, 50, 999):
        found = run_allocation(rng.normal(size=6), rng.uniform(0.5, 2.0, size=6), runs)
        assert sum(found.runs) == runs
        assert all(abs(whole - exact) < 1.0 for whole, exact in zip(found.runs, found.exact, strict=True))


@pytest.mark.parametrize(
    ("means", "variances", "runs", "words"),
    [
        ([1.0], [1.0], 9, "at least two systems"),
        ([1.0, 2.0], [1.0], 9, "at least two systems"),
        ([1.0, 2.0], [1.0, 0.0], 9, "above 0"),
        ([1.0, float("inf")], [1.0, 1.0], 9, "finite"),
        ([1.0, 2.0], [1.0, 1.0], 0, "at least one run"),
        ([2.0, 2.0, 1.0], [1.0, 1.0, 1.0], 9, "share the greatest mean"),
    ],
)
def test_allocation_refuses(means: list[float], variances: list[float], runs: int, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        run_allocation(means, variances, runs)
