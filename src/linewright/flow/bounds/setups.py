"""What changing over costs: the effective process time, the rate of batches, the mean change of a mix."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Rows = Sequence[Sequence[float]] | Floats


@dataclass(frozen=True)
class SetupTime:
    """A process time with setups in it.

    Parameters
    ----------
    mean_s : effective mean, the setups spread over the parts. [s]
    variance_s2 : its variance. [s²]
    squared_cv : variance over the mean squared
    rate_per_s : parts a second of a machine that always has work. [1/s]
    """

    mean_s: float
    variance_s2: float
    squared_cv: float
    rate_per_s: float


def setup_time(process_s: float, squared_cv: float, parts: float, setup_s: float, setup_cv: float = 0.0) -> SetupTime:
    """Mean and variation of a process time where a setup comes before a part by chance, once in so many parts.

    Parameters
    ----------
    process_s : mean time of a part without setups, > 0. [s]
    squared_cv : its variance over its mean squared, >= 0
    parts : mean number of parts from one setup to the next, >= 1
    setup_s : mean time of a setup, >= 0. [s]
    setup_cv : its standard deviation over its mean, >= 0

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    Each part has a setup before it with chance 1 / N_s: t_e = t_0 + t_s / N_s, σ_e² = σ_0² + σ_s² / N_s +
    (N_s - 1) / N_s² · t_s². With setups after a fixed number of parts the mean is the same and the variance of one part
    drawn at random too; only neighbouring times are not independent then.

    Source
    ------
    Hopp and Spearman, Factory Physics, 3rd ed., ch. 8, on nonpreemptive outages, from memory; derivable: the second
    moment of a setup that is there with chance 1 / N_s. Held to an example and to enumeration in
    tests/reference/test_setups.py.

    Examples
    --------
    >>> found = setup_time(1.0, 0.0625, 10.0, 2.0, 0.25)
    >>> round(found.mean_s, 12), round(found.squared_cv, 2)
    (1.2, 0.31)
    """
    if process_s <= 0.0 or parts < 1.0 or min(squared_cv, setup_s, setup_cv) < 0.0:
        raise ValueError("process time is above 0, parts between setups at least 1; setup and variation not under 0")
    mean = process_s + setup_s / parts
    variance = squared_cv * process_s**2 + (setup_cv * setup_s) ** 2 / parts + (parts - 1.0) / parts**2 * setup_s**2
    return SetupTime(mean, variance, variance / mean**2, 1.0 / mean)


def batch_rate(batch_parts: float, setup_s: float, process_s: float) -> float:
    """Parts a second of a machine that is set up anew before each batch. [1/s]

    Parameters
    ----------
    batch_parts : parts of one batch, > 0
    setup_s : all setups of one batch, >= 0. [s]
    process_s : time of one part, > 0. [s]

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      B / (S + B p); never more than 1 / p.
    Source     Common practice; worked examples in tests/reference/data/setups.json.
    Examples   >>> batch_rate(5, setup_s=20.0, process_s=4.0)
               0.125
    """
    if batch_parts <= 0.0 or setup_s < 0.0 or process_s <= 0.0:
        raise ValueError("parts and process time are above 0, the setup not under 0")
    return batch_parts / (setup_s + batch_parts * process_s)


def least_batch(rate_per_s: float, setup_s: float, process_s: float) -> float:
    """Parts of the smallest batch with which a machine attains a rate; infinite where none does.

    Parameters
    ----------
    rate_per_s : the rate wanted, > 0. [1/s]
    setup_s, process_s : as in `batch_rate`

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      S / (1 / r - p): `batch_rate` solved for the batch.
    Source     Common practice.
    Examples   >>> least_batch(0.125, setup_s=20.0, process_s=4.0)
               5.0
    """
    if rate_per_s <= 0.0 or setup_s < 0.0 or process_s <= 0.0:
        raise ValueError("rate and process time are above 0, the setup not under 0")
    left = 1.0 / rate_per_s - process_s
    return setup_s / left if left > 0.0 else math.inf


def random_changeover(shares: Sequence[float], changeover_s: Rows) -> float:
    """Mean changeover time per part of a mix in which each part's variant is drawn anew. [s]

    Parameters
    ----------
    shares : shape (V,), >= 0, sum 1        Share of each variant
    changeover_s : shape (V, V), >= 0       From one variant to another; nothing on the diagonal. [s]

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      Σ s_i s_j c_ij.
    Source     Follows from independent draws.
    Examples   >>> random_changeover([0.5, 0.5], [[0.0, 30.0], [20.0, 0.0]])
               12.5
    """
    part, times = np.asarray(shares, np.float64), _changes(changeover_s)
    if part.shape != times.shape[:1] or (part < 0.0).any() or abs(float(part.sum()) - 1.0) > 1e-9:
        raise ValueError("there is one share for each variant, none under 0, and they sum to 1")
    return float(part @ times @ part)


def sequence_changeover(sequence: Sequence[int], changeover_s: Rows) -> float:
    """Mean changeover time per part of a sequence of variants that is repeated. [s]

    Parameters
    ----------
    sequence : numbers of the variants, in order; the first follows the last
    changeover_s : as in `random_changeover`

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      Σ c(v_k, v_(k+1)) / length.
    Source     Follows from the sequence.
    Examples   >>> sequence_changeover([0, 0, 1, 1], [[0.0, 30.0], [20.0, 0.0]])
               12.5
    """
    times = _changes(changeover_s)
    if not sequence or min(sequence) < 0 or max(sequence) >= len(times):
        raise ValueError("the sequence names variants by their numbers, and at least one")
    after = [*sequence[1:], sequence[0]]
    return float(sum(times[i, j] for i, j in zip(sequence, after, strict=True))) / len(sequence)


def _changes(changeover_s: Rows) -> Floats:
    times = np.asarray(changeover_s, np.float64)
    if times.ndim != 2 or times.shape[0] != times.shape[1] or (times < 0.0).any() or np.diag(times).any():
        raise ValueError(
            "changeover times stand in a square, none is under 0, and there is none from a variant to itself"
        )
    return times
