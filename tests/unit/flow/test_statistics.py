"""Intervals, the cut of a series and the warm-up rule."""

from __future__ import annotations

import numpy as np
import pytest

from linewright.flow.statistics import (
    Interval,
    batch_means,
    mean_interval,
    mser5,
    paired_comparison,
    warm_up,
)


def ramp(runs: int, bins: int, start_up: int, seed: int = 7) -> np.ndarray:
    """Counts of ten a bin with noise; the first bins of every run finish next to nothing."""
    counts = np.random.default_rng(seed).poisson(10.0, size=(runs, bins)).astype(float)
    counts[:, :start_up] = 1.0
    return counts


def test_interval_by_hand() -> None:
    # s = 2, n = 3, t(0.975, 2) = 4.302653: half = 4.302653 * 2 / sqrt(3)
    interval = mean_interval([10.0, 12.0, 14.0])
    assert interval.mean == 12.0
    assert interval.half_width == pytest.approx(4.968275, abs=1e-6)
    assert interval.low == pytest.approx(12.0 - 4.968275, abs=1e-6)
    assert interval.confidence == 0.95


def test_interval_grows_with_confidence_and_vanishes_without_scatter() -> None:
    values = [1.0, 2.0, 4.0, 3.0]
    assert mean_interval(values, 0.99).half_width > mean_interval(values, 0.95).half_width
    assert mean_interval([5.0, 5.0]) == Interval(5.0, 5.0, 5.0, 0.95)


def test_interval_covers_the_truth_as_often_as_it_says() -> None:
    samples = np.random.default_rng(20261).normal(3.0, 2.0, size=(4000, 6))
    covered = sum(1 for row in samples if (i := mean_interval(row, 0.9)).low <= 3.0 <= i.high) / len(samples)
    assert covered == pytest.approx(0.9, abs=0.015)  # three standard errors of a share of 4000


@pytest.mark.parametrize("values", [[], [1.0], [[1.0, 2.0]], [1.0, float("nan")], [1.0, float("inf")]])
def test_interval_refuses_what_has_none(values: list[float]) -> None:
    with pytest.raises(ValueError, match=r"two values|finite"):
        mean_interval(values)


@pytest.mark.parametrize("confidence", [0.0, 1.0, 95.0])
def test_interval_refuses_a_confidence_that_is_no_share(confidence: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        mean_interval([1.0, 2.0], confidence)


def test_cut_is_a_whole_number_of_batches_and_leaves_the_end_alone() -> None:
    truncation = mser5([0.0] * 12 + [5.0, 6.0, 4.0, 5.0, 5.0] * 8 + [5.0])
    assert truncation.cut == 15  # the batch that holds the last two zeros goes too
    assert truncation.mean_after == pytest.approx(5.0, abs=0.2)
    assert truncation.statistic < truncation.statistic_uncut
    assert not truncation.at_end


def test_no_cut_where_nothing_changes() -> None:
    assert mser5([3.0] * 60).cut == 0


def test_cut_at_the_end_of_the_search_is_told() -> None:
    assert mser5(np.arange(100.0)).at_end
    assert mser5(np.arange(100.0)).cut == 50


@pytest.mark.parametrize("series", [[1.0] * 9, [[1.0] * 10], [float("nan")] * 20])
def test_cut_refuses_what_it_cannot_judge(series: list[float]) -> None:
    with pytest.raises(ValueError, match=r"two batches|finite"):
        mser5(series)


def test_cut_refuses_an_empty_batch() -> None:
    with pytest.raises(ValueError, match="at least one observation"):
        mser5([1.0] * 20, batch=0)


def test_one_cut_for_all_runs_on_their_mean() -> None:
    found = warm_up(ramp(runs=8, bins=200, start_up=20))
    assert found.reason is None
    assert 20 <= found.cut_bins <= 30  # the start-up, and at most two batches that noise adds
    assert not found.past_half
    assert warm_up(ramp(runs=8, bins=200, start_up=60)).cut_bins >= 60


def test_warm_up_past_half_the_run() -> None:
    found = warm_up(np.tile(np.arange(60.0), (3, 1)))
    assert found.past_half
    assert found.reason is None


@pytest.mark.parametrize(
    ("bins", "words"),
    [
        (ramp(1, 100, 5), "at least 2 runs are needed, there is 1"),
        (ramp(4, 39, 5), "40 bins of ten cycles, a run has 39"),
        (np.vstack([ramp(3, 60, 5), np.zeros((1, 60))]), "run 4 of 4 finishes no good part"),
        (np.zeros((3, 60)), "3 of 3 runs finish no good part"),
    ],
)
def test_no_interval_and_why(bins: np.ndarray, words: str) -> None:
    found = warm_up(bins)
    assert found.reason is not None
    assert words in found.reason
    assert found.cut_bins == 0


def test_forty_bins_and_two_runs_are_enough() -> None:
    assert warm_up(ramp(2, 40, 5)).reason is None


def test_warm_up_refuses_one_row() -> None:
    with pytest.raises(ValueError, match="shape"):
        warm_up(np.ones(50))


# ---- pairs -----------------------------------------------------------------------------------------------------------


def test_paired_comparison_by_hand() -> None:
    # differences 1, 2, 3: s = 1, n = 3, t(0.975, 2) = 4.302653: half = 4.302653 / sqrt(3)
    found = paired_comparison([10.0, 20.0, 30.0], [11.0, 22.0, 33.0])
    assert found.mean == 2.0
    assert found.half_width == pytest.approx(2.484137, abs=1e-6)
    assert paired_comparison([11.0, 22.0, 33.0], [10.0, 20.0, 30.0]).mean == -2.0


def test_the_same_luck_cancels() -> None:
    luck = np.random.default_rng(31).normal(0.0, 50.0, size=20)
    rest = np.random.default_rng(32).normal(0.0, 0.5, size=20)
    found = paired_comparison(100.0 + luck, 101.0 + luck + rest)
    assert found.half_width < 0.5
    assert found.low <= 1.0 <= found.high
    assert mean_interval(100.0 + luck).half_width > 10.0


@pytest.mark.parametrize("second", [[1.0], [1.0, 2.0, 3.0], [[1.0, 2.0]]])
def test_a_pair_needs_two(second: list[float]) -> None:
    with pytest.raises(ValueError, match="a partner for each value"):
        paired_comparison([1.0, 2.0], second)


# ---- batch means -----------------------------------------------------------------------------------------------------


def correlated(rows: int, length: int, seed: int, phi: float = 0.8) -> np.ndarray:
    """First-order autoregressive rows of mean 5, from their stationary law on."""
    draws = np.random.default_rng(seed).normal(size=(rows, length))
    x = np.empty_like(draws)
    x[:, 0] = draws[:, 0] / np.sqrt(1.0 - phi**2)
    for i in range(1, length):
        x[:, i] = phi * x[:, i - 1] + draws[:, i]
    return x + 5.0


def test_batch_means_by_hand() -> None:
    # batches (1, 3), (4, 4), (2, 4); 9 is over: means 2, 4, 3, s = 1, half = 4.302653 / sqrt(3)
    found = batch_means([1.0, 3.0, 4.0, 4.0, 2.0, 4.0, 9.0], batches=3)
    assert (found.batch, found.batches, found.mean) == (2, 3, 3.0)
    assert found.half_width == pytest.approx(2.484137, abs=1e-6)
    assert found.lag1 == pytest.approx(((2 - 3) * (4 - 3) + (4 - 3) * (3 - 3)) / 2)


def test_batch_means_of_a_constant() -> None:
    found = batch_means([7.0] * 12, batches=4)
    assert (found.mean, found.low, found.high, found.lag1) == (7.0, 7.0, 7.0, 0.0)


def test_batch_means_cover_the_truth_where_plain_values_do_not() -> None:
    rows = correlated(600, 2000, seed=33)
    batched = [batch_means(row, 20, 0.9) for row in rows]
    covered = sum(1 for b in batched if b.low <= 5.0 <= b.high) / len(rows)
    assert covered == pytest.approx(0.9, abs=0.037)  # three standard errors of a share of 600
    plain = sum(1 for row in rows if (i := mean_interval(row, 0.9)).low <= 5.0 <= i.high) / len(rows)
    assert plain < 0.6


def test_batches_too_short_show_in_their_correlation() -> None:
    row = correlated(1, 2000, seed=34)[0]
    assert batch_means(row, 1000).lag1 > 0.5
    assert abs(batch_means(row, 20).lag1) < 0.45  # two of its standard errors 1/sqrt(20)
    assert batch_means(row, 1000).half_width < 0.7 * batch_means(row, 20).half_width


@pytest.mark.parametrize(
    ("series", "batches", "words"),
    [
        ([1.0] * 9, 1, "at least two batches, not 1"),
        ([1.0] * 9, 10, "as many observations"),
        ([[1.0] * 9], 3, "as many observations"),
        ([1.0] * 8 + [float("nan")], 3, "finite"),
    ],
)
def test_batch_means_refuse_what_they_cannot_judge(series: list[float], batches: int, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        batch_means(series, batches)


def test_bins_without_spread_are_cut_at_once_whatever_rounding_leaves() -> None:
    series = np.tile([3.1, 2.7, 3.3, 2.9, 3.0], 200)
    assert mser5(series).cut == 0
    assert mser5(np.concatenate([np.zeros(50), series])).cut == 50
