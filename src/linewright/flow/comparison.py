"""Which of several lines is best, with a stated error, and on which of them further runs are best spent."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linewright.flow.statistics import Interval

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class BestOfMany:
    """Systems compared with the best of them; more is better. Systems are numbered from 0, as they were given.

    Parameters
    ----------
    best : the system with the greatest mean, of equal ones the first
    decided : at the stated confidence `best` is the best, or less than the indifference below it
    candidates : the systems that cannot be ruled out as the best; `best` is one of them
    to_best : for each system its mean less the greatest mean of the others, with an interval; all of them hold together
    confidence : probability with which everything said here is true, at least
    indifference : difference that does not matter, in the values' unit
    runs_due : runs a system, in all, after which the greatest mean decides; None if no indifference is stated
    """

    best: int
    decided: bool
    candidates: tuple[int, ...]
    to_best: tuple[Interval, ...]
    confidence: float
    indifference: float
    runs_due: int | None


@dataclass(frozen=True)
class Allocation:
    """Runs shared out among systems.

    Parameters
    ----------
    runs : whole runs of each system; they add up to what was to be shared out
    exact : the same before rounding
    """

    runs: tuple[int, ...]
    exact: tuple[float, ...]


def best_of_many(
    values: Sequence[Sequence[float]] | Floats, confidence: float = 0.95, indifference: float = 0.0
) -> BestOfMany:
    """The best of several systems from runs under the same luck, with one error for all that is said.

    Parameters
    ----------
    values : shape (systems, n), both >= 2, finite; column i of all rows comes from the same seed and replication.
        More is better: pass the negative of what is to be small.
    confidence : between 0 and 1
    indifference : a difference that does not matter, >= 0, in the values' unit

    Returns
    -------
    BestOfMany   .best, .decided, .candidates, .to_best, .runs_due

    Raises
    ------
    ValueError   Not such a shape, a value that is not finite, a confidence outside (0, 1) or an indifference below 0.

    Notes
    -----
    Of k systems in n paired runs let D_ij be the mean difference and S_ij its sample deviation;
    h_ij = t(1 − (1 − confidence)/(k − 1), n − 1) · S_ij / √n. With probability of at least `confidence` the k − 1
    one-sided bounds of the true best against the others hold together (Bonferroni; nothing is assumed of how the
    systems are correlated, values are close to normal). Then all of this is true at once:

    - the mean of i less the best mean of the others is at most max(0, min_j (D_ij + h_ij)); i is a candidate unless
      that least sum is below 0;
    - it is at least min(0, least D_ij − h_ij over the other candidates j); for the only candidate it is at least 0.

    `decided` is that the lower end of `best` is at least −indifference. `runs_due` is the largest
    ⌈(t · S_ij / indifference)²⌉ of all pairs, at least n: with that many runs a system the greatest mean is, at the
    same confidence, the best or less than the indifference below it.

    Source
    ------
    J. C. Hsu, "Constrained simultaneous confidence intervals for multiple comparisons with the best", Annals of
    Statistics 12 (1984); Bonferroni bounds with paired variances and `runs_due`: G. M. Clark and W. Yang, "A Bonferroni
    selection procedure when using common random numbers with unknown variances", Winter Simulation Conference 1986;
    both together under common luck: B. L. Nelson and F. J. Matejcik, "Using common random numbers for
    indifference-zone selection and multiple comparisons in simulation", Management Science 41 (1995). From memory;
    the error is held by simulation in tests/reference/test_output_analysis.py.

    Examples
    --------
    >>> found = best_of_many([[10.0, 12.0, 11.0, 13.0], [11.0, 13.1, 12.0, 14.0], [9.0, 13.0, 12.0, 13.0]])
    >>> found.best, found.candidates, found.decided
    (1, (1, 2), False)
    """
    from scipy.special import stdtrit

    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 2 or min(x.shape) < 2:
        raise ValueError(f"values have shape (systems, runs), at least two of both, not {x.shape}")
    if not np.isfinite(x).all():
        raise ValueError("a value is not finite")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"the confidence lies between 0 and 1, not at {confidence}")
    if not (math.isfinite(indifference) and indifference >= 0.0):
        raise ValueError(f"the indifference is {indifference}; it must not be negative")
    systems, runs = x.shape
    difference, deviation = _pairs(x)
    quantile = float(stdtrit(runs - 1, 1.0 - (1.0 - confidence) / (systems - 1)))
    half = quantile * deviation / math.sqrt(runs)
    best = int(np.argmax(x.mean(axis=1)))
    high = np.min(difference + half + _not_itself(systems), axis=1)
    candidates = tuple(i for i in range(systems) if high[i] >= 0.0)
    ends = [_low_end(difference - half, candidates, i) for i in range(systems)]
    to_best = tuple(
        Interval(float(mean), low, max(0.0, float(top)), confidence)
        for mean, low, top in zip(np.min(difference + _not_itself(systems), axis=1), ends, high, strict=True)
    )
    runs_due = None
    if indifference > 0.0:
        runs_due = max(runs, math.ceil(float((quantile * deviation.max() / indifference) ** 2)))
    return BestOfMany(best, ends[best] >= -indifference, candidates, to_best, confidence, indifference, runs_due)


def _pairs(x: Floats) -> tuple[Floats, Floats]:
    """Means and sample deviations of the differences row i less row j, shape (systems, systems)."""
    systems = len(x)
    difference, deviation = np.zeros((systems, systems)), np.zeros((systems, systems))
    for i in range(systems):
        d = x[i] - x
        difference[i], deviation[i] = d.mean(axis=1), d.std(axis=1, ddof=1)
    return difference, deviation


def _not_itself(systems: int) -> Floats:
    """Infinity on the diagonal, so that a least value is one over the others."""
    return np.where(np.eye(systems, dtype=bool), np.inf, 0.0)


def _low_end(lowest: Floats, candidates: tuple[int, ...], system: int) -> float:
    others = [float(lowest[system, j]) for j in candidates if j != system]
    return min([0.0, *others])


def run_allocation(means: Sequence[float] | Floats, variances: Sequence[float] | Floats, runs: int) -> Allocation:
    """How to share out runs among systems, so that the best of them is found with the least error.

    Parameters
    ----------
    means : shape (systems,), finite, one alone the greatest   So far. More is better: pass the negative of what is to
        be small.
    variances : shape (systems,), > 0   Of one run of each system, so far
    runs : to be shared out, >= 1, those already made included

    Returns
    -------
    Allocation   .runs, .exact

    Raises
    ------
    ValueError   Fewer than two systems, a value out of range, or two systems share the greatest mean.

    Notes
    -----
    With b the best and δ_i the distance of its mean to that of i: N_i ∝ (s_i/δ_i)² for the others and
    N_b = s_b √Σ_{i≠b} (N_i/s_i)². Rounded by largest remainders, so that the sum stays. For independent runs; under the
    same luck it is a guide alone.

    Source
    ------
    Optimal computing budget allocation: C.-H. Chen, J. Lin, E. Yücesan, S. E. Chick, Discrete Event Dynamic Systems 10
    (2000), from memory; C.-H. Chen and L. H. Lee, Stochastic Simulation Optimization (2011) p. 49. Held to
    tests/reference/data/output_analysis.json.

    Examples
    --------
    >>> run_allocation([-1.0, -2.0, -3.0], [1.0, 1.0, 4.0], runs=30).runs
    (11, 10, 9)
    """
    mean, variance = np.asarray(means, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    if mean.ndim != 1 or len(mean) < 2 or variance.shape != mean.shape:
        raise ValueError(
            f"means and variances of at least two systems are due, not shapes {mean.shape}, {variance.shape}"
        )
    if not (np.isfinite(mean).all() and np.isfinite(variance).all() and (variance > 0.0).all()):
        raise ValueError("means are finite and variances finite and above 0")
    if runs < 1:
        raise ValueError(f"at least one run is shared out, not {runs}")
    best = int(np.argmax(mean))
    others = np.arange(len(mean)) != best
    distance = mean[best] - mean[others]
    if (distance == 0.0).any():
        raise ValueError("two systems share the greatest mean; more runs of them come first")
    weight = np.zeros(len(mean))
    weight[others] = variance[others] / distance**2
    weight[best] = math.sqrt(variance[best] * float(np.sum(weight[others] ** 2 / variance[others])))
    exact = weight / weight.sum() * runs
    whole = np.floor(exact).astype(np.int64)
    largest = np.argsort(-(exact - whole), kind="stable")[: runs - int(whole.sum())]
    whole[largest] += 1
    return Allocation(tuple(whole.tolist()), tuple(exact.tolist()))
