"""What may be said of a rate after some runs: its interval, and where the warm-up ends.

Comparisons of more than two sets of runs stand in `linewright.flow.comparison`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_BINS: Final = 40
LEAST_RUNS: Final = 2
ROUNDING: Final = 1e-13


@dataclass(frozen=True)
class Interval:
    """A mean with its confidence interval, in the unit of the values it came from.

    Parameters
    ----------
    mean, low, high : the mean and the two ends of the interval
    confidence : share of such intervals that cover the true mean, between 0 and 1
    """

    mean: float
    low: float
    high: float
    confidence: float

    @property
    def half_width(self) -> float:
        """Half the length of the interval."""
        return 0.5 * (self.high - self.low)


@dataclass(frozen=True)
class Truncation:
    """Where MSER cuts a series.

    Parameters
    ----------
    cut : observations to leave out, whole batches
    batch : observations in a batch
    statistic, statistic_uncut : MSER at the cut and without a cut, in the square of the series' unit
    mean_after : mean of the whole batches after the cut
    at_end : the least value stands at the end of the searched first half, so the true cut may lie past it
    """

    cut: int
    batch: int
    statistic: float
    statistic_uncut: float
    mean_after: float
    at_end: bool


@dataclass(frozen=True)
class BatchMeans:
    """The mean of one long series with an interval from the means of its batches, in the unit of the series.

    Parameters
    ----------
    mean, low, high : the mean of all whole batches and the two ends of its interval
    confidence : share of such intervals that cover the true mean if the batch means are independent
    batch : observations in a batch
    batches : number of batches
    lag1 : correlation of each batch mean with the next, from -1 to 1; far from zero the interval is not to be trusted
    """

    mean: float
    low: float
    high: float
    confidence: float
    batch: int
    batches: int
    lag1: float

    @property
    def half_width(self) -> float:
        """Half the length of the interval."""
        return 0.5 * (self.high - self.low)


@dataclass(frozen=True)
class WarmUp:
    """The warm-up of a set of runs.

    Parameters
    ----------
    cut_bins : bins to leave out of every run
    reason : why no interval may be given, in words; None where one may
    past_half : the warm-up does not end in the first half of the run
    """

    cut_bins: int
    reason: str | None
    past_half: bool


def mean_interval(values: Sequence[float] | Floats, confidence: float = 0.95) -> Interval:
    """The mean of independent values and its Student interval.

    Parameters
    ----------
    values : shape (n,), n >= 2, finite; one value a replication
    confidence : between 0 and 1

    Returns
    -------
    Interval   .mean, .low, .high, .confidence; the values' unit

    Raises
    ------
    ValueError   Fewer than two values, one that is not finite, or a confidence outside (0, 1).

    Notes
    -----
    mean ± t(1 − (1 − confidence)/2, n − 1) · s / √n, s² the sample variance with n − 1. Exact for normal values; the
    mean of a long run is close to normal.

    Source
    ------
    Student (1908); the quantiles are held to tests/reference/data/output_analysis.json.

    Examples
    --------
    >>> i = mean_interval([10.0, 12.0, 14.0])
    >>> round(i.mean, 3), round(i.low, 3), round(i.high, 3)
    (12.0, 7.032, 16.968)
    """
    from scipy.special import stdtrit

    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or len(x) < 2:
        raise ValueError(f"an interval needs at least two values in one row, not shape {x.shape}")
    if not np.isfinite(x).all():
        raise ValueError("a value is not finite")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"the confidence lies between 0 and 1, not at {confidence}")
    mean = float(x.mean())
    quantile = float(stdtrit(len(x) - 1, 0.5 + 0.5 * confidence))
    half = quantile * float(x.std(ddof=1)) / math.sqrt(len(x))
    return Interval(mean, mean - half, mean + half, confidence)


def paired_comparison(
    first: Sequence[float] | Floats, second: Sequence[float] | Floats, confidence: float = 0.95
) -> Interval:
    """By how much the second of two sets of runs lies above the first, under the same luck.

    Parameters
    ----------
    first, second : shape (n,), n >= 2, finite; value i of both comes from the same seed and replication
    confidence : between 0 and 1

    Returns
    -------
    Interval   of second less first; the values' unit

    Raises
    ------
    ValueError   The two differ in shape, or `mean_interval` refuses their differences.

    Notes
    -----
    Student's interval of the n differences. What is the same luck to both cancels in a difference, so the interval is
    far narrower than that of two sets apart; it needs no equal variances.

    Source
    ------
    A. M. Law and W. D. Kelton, Simulation Modeling and Analysis, "a paired-t confidence interval", from memory.

    Examples
    --------
    >>> i = paired_comparison([10.0, 20.0, 30.0], [11.0, 21.5, 30.5])
    >>> round(i.mean, 3), round(i.low, 3), round(i.high, 3)
    (1.0, -0.242, 2.242)
    """
    one, other = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    if one.shape != other.shape:
        raise ValueError(
            f"a paired comparison needs a partner for each value, not shapes {one.shape} and {other.shape}"
        )
    return mean_interval(other - one, confidence)


def batch_means(series: Sequence[float] | Floats, batches: int, confidence: float = 0.95) -> BatchMeans:
    """The mean of one long series whose observations depend on each other, with an interval.

    Parameters
    ----------
    series : shape (n,), finite, after its warm-up; observations beyond the last whole batch are not used
    batches : number of batches, >= 2; a batch holds ⌊n / batches⌋ observations
    confidence : between 0 and 1

    Returns
    -------
    BatchMeans   .mean, .low, .high and .lag1, the correlation of neighbouring batch means

    Raises
    ------
    ValueError   Fewer than two batches, fewer observations than batches, or `mean_interval` refuses the means.

    Notes
    -----
    Student's interval of the batch means Z_1 … Z_k. It holds as far as they are independent:
    lag1 = Σ (Z_j − Z̄)(Z_{j+1} − Z̄) / Σ (Z_j − Z̄)² scatters about zero by 1/√k where they are; well above it the
    batches are too short and the interval too narrow. It is 0 where all means are equal. Ten to forty
    batches are usual.

    Source
    ------
    A. M. Law and W. D. Kelton, Simulation Modeling and Analysis, from memory; held to
    tests/reference/data/output_analysis.json.

    Examples
    --------
    >>> b = batch_means([1.0, 3.0, 4.0, 4.0, 2.0, 4.0, 9.0], batches=3)
    >>> b.batch, b.mean, round(b.half_width, 3), b.lag1
    (2, 3.0, 2.484, -0.5)
    """
    x = np.asarray(series, dtype=np.float64)
    if batches < 2:
        raise ValueError(f"an interval needs at least two batches, not {batches}")
    if x.ndim != 1 or len(x) < batches:
        raise ValueError(f"{batches} batches need as many observations in one row, not shape {x.shape}")
    batch = len(x) // batches
    means = x[: batches * batch].reshape(batches, batch).mean(axis=1)
    interval = mean_interval(means, confidence)
    centred = means - interval.mean
    squares = float(centred @ centred)
    lag1 = float(centred[:-1] @ centred[1:]) / squares if squares > 0.0 else 0.0
    return BatchMeans(interval.mean, interval.low, interval.high, confidence, batch, batches, lag1)


def mser5(series: Sequence[float] | Floats, batch: int = 5) -> Truncation:
    """Where the warm-up of a series ends: the cut that gives the least marginal standard error.

    Parameters
    ----------
    series : shape (n,), finite, at least two batches; observations beyond the last whole batch are not used
    batch : observations that are averaged to one before the search; five in MSER-5

    Returns
    -------
    Truncation   .cut in observations

    Raises
    ------
    ValueError   Fewer than two whole batches, a value that is not finite, or a batch under 1.

    Notes
    -----
    With batch means Z_1 … Z_k the cut is d, 0 ≤ d ≤ ⌊k/2⌋, with the least
    MSER(d) = Σ_{j>d} (Z_j − mean of Z_{d+1} … Z_k)² / (k − d)²; of equal ones the first. Beyond half the series the
    statistic rests on few batches, so the search stops there and ``at_end`` says when it did.

    Source
    ------
    K. P. White, "An effective truncation heuristic for bias reduction in simulation output", Simulation 69 (1997);
    White, Cobb and Spratt, "A comparison of five steady-state truncation heuristics for simulation", Winter Simulation
    Conference 2000. Held to tests/reference/data/output_analysis.json.

    Examples
    --------
    >>> mser5([0.0] * 10 + [4.0, 5.0, 6.0, 5.0, 5.0] * 10).cut
    10
    """
    x = np.asarray(series, dtype=np.float64)
    if batch < 1:
        raise ValueError(f"a batch holds at least one observation, not {batch}")
    if x.ndim != 1 or len(x) < 2 * batch:
        raise ValueError(f"the search needs at least two batches of {batch} in one row, not shape {x.shape}")
    if not np.isfinite(x).all():
        raise ValueError("an observation is not finite")
    batches = len(x) // batch
    means = x[: batches * batch].reshape(batches, batch).mean(axis=1)
    last = batches // 2
    # Sums over each tail, of values taken from their mean so that the difference of squares keeps its digits.
    centred = means - means.mean()
    counts = np.arange(batches, batches - last - 1, -1)
    sums = np.cumsum(centred[::-1])[::-1][: last + 1]
    squares = np.cumsum(centred[::-1] ** 2)[::-1][: last + 1]
    spread = squares - sums**2 / counts
    # What rounding leaves of a tail without any spread must not choose the cut.
    spread[spread <= ROUNDING * counts * float(np.max(np.abs(means))) ** 2] = 0.0
    statistics = spread / counts**2
    cut = int(np.argmin(statistics))
    return Truncation(
        cut=cut * batch,
        batch=batch,
        statistic=float(statistics[cut]),
        statistic_uncut=float(statistics[0]),
        mean_after=float(means[cut:].mean()),
        at_end=cut == last,
    )


def warm_up(bins: Floats) -> WarmUp:
    """One cut for all runs, or the reason why no interval may be given.

    Parameters
    ----------
    bins : shape (runs, bins)   Good parts finished in each bin of about ten cycles.

    Returns
    -------
    WarmUp   .cut_bins is 0 where .reason is given.

    Raises
    ------
    ValueError   The array does not have two dimensions.

    Notes
    -----
    The bins are averaged over the runs and MSER-5 is applied to that mean. No interval: fewer than 40 bins, fewer than
    two runs, or a run without good parts. ``past_half``: MSER-5 finds no cut inside the first half.

    Source
    ------
    Rule of this program (docs/semantics.md, "Words of a result"); averaging over replications after P. D. Welch (1983),
    from memory.
    """
    counts = np.asarray(bins, dtype=np.float64)
    if counts.ndim != 2:
        raise ValueError(f"bins have shape (runs, bins), not {counts.shape}")
    reason = _no_interval(counts)
    if reason is not None:
        return WarmUp(0, reason, past_half=False)
    truncation = mser5(counts.mean(axis=0))
    return WarmUp(truncation.cut, None, past_half=truncation.at_end)


def _no_interval(counts: Floats) -> str | None:
    runs, bins = counts.shape
    if runs < LEAST_RUNS:
        return f"at least {LEAST_RUNS} runs are needed, there is {runs}"
    if bins < LEAST_BINS:
        return f"the warm-up is judged on at least {LEAST_BINS} bins of ten cycles, a run has {bins}: run longer"
    barren = np.flatnonzero(counts.sum(axis=1) == 0)
    if len(barren) == 1:
        return f"run {barren[0] + 1} of {runs} finishes no good part"
    if len(barren):
        return f"{len(barren)} of {runs} runs finish no good part"
    return None
