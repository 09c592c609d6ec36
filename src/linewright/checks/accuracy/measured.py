"""What measured positions say: accuracy of an axis after ISO 230-2, of a robot's pose after ISO 9283."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class AxisAccuracy:
    """Figures of a positioning axis; the result of :func:`axis_accuracy`. All in metres.

    Attributes
    ----------
    reversal_m, mean_reversal_m : B, the greatest amount over the targets, and the mean with sign
    mean_deviation_range_m : M, range of the means of both directions
    systematic_m, systematic_up_m, systematic_down_m : E, range of the means of each direction
    repeatability_m, repeatability_up_m, repeatability_down_m : R
    accuracy_m, accuracy_up_m, accuracy_down_m : A
    """

    reversal_m: float
    mean_reversal_m: float
    mean_deviation_range_m: float
    systematic_m: float
    systematic_up_m: float
    systematic_down_m: float
    repeatability_m: float
    repeatability_up_m: float
    repeatability_down_m: float
    accuracy_m: float
    accuracy_up_m: float
    accuracy_down_m: float


@dataclass(frozen=True)
class PoseRepeatability:
    """Figures of a robot's position; the result of :func:`pose_repeatability`. All in metres.

    Attributes
    ----------
    accuracy_m : AP, from the commanded point to the mean of those attained
    repeatability_m : RP, mean distance + three standard deviations of the distance
    mean_distance_m, sigma_m : of the attained points from their mean
    """

    accuracy_m: float
    repeatability_m: float
    mean_distance_m: float
    sigma_m: float


def axis_accuracy(up_m: ArrayLike, down_m: ArrayLike) -> AxisAccuracy:
    """Accuracy and repeatability of positioning from deviations at some targets, approached from both sides.

    Parameters
    ----------
    up_m, down_m : shape (targets, runs), attained less commanded place, approached upwards and downwards. [m]

    Raises
    ------
    ValueError   The two differ in shape, there are fewer than two runs, or a deviation is not finite.

    Notes
    -----
    With means u, d and standard deviations s (n - 1) at each target: B_i = u - d, R_up = max 4 s_u,
    R_i = max(2 s_u + 2 s_d + abs(B_i), 4 s_u, 4 s_d), R = max R_i, E = range of all u and d, M = range of (u + d)/2,
    A = max(mean + 2 s) - min(mean - 2 s), over one direction or both.

    Source
    ------
    ISO 230-2:2014, from memory; checked on an invented set of deviations.

    Examples
    --------
    >>> found = axis_accuracy([[1e-6, 3e-6], [5e-6, 7e-6]], [[0.0, 2e-6], [4e-6, 6e-6]])
    >>> round(found.reversal_m * 1e6, 3), round(found.systematic_m * 1e6, 3)
    (1.0, 5.0)
    """
    ups, downs = np.asarray(up_m, np.float64), np.asarray(down_m, np.float64)
    if ups.ndim != 2 or ups.shape != downs.shape or ups.shape[0] < 1 or ups.shape[1] < 2:
        raise ValueError(
            f"up_m has shape {ups.shape}, down_m {downs.shape}; both need (targets, runs), two runs or more"
        )
    if not (np.isfinite(ups).all() and np.isfinite(downs).all()):
        raise ValueError("up_m or down_m holds a number that is not finite")
    up, down = ups.mean(axis=1), downs.mean(axis=1)
    s_up, s_down = ups.std(axis=1, ddof=1), downs.std(axis=1, ddof=1)
    reversal = up - down
    each = np.maximum.reduce([2 * s_up + 2 * s_down + np.abs(reversal), 4 * s_up, 4 * s_down])
    high, low = np.concatenate([up + 2 * s_up, down + 2 * s_down]), np.concatenate([up - 2 * s_up, down - 2 * s_down])
    return AxisAccuracy(
        reversal_m=float(np.abs(reversal).max()),
        mean_reversal_m=float(reversal.mean()),
        mean_deviation_range_m=_range(0.5 * (up + down)),
        systematic_m=_range(np.concatenate([up, down])),
        systematic_up_m=_range(up),
        systematic_down_m=_range(down),
        repeatability_m=float(each.max()),
        repeatability_up_m=float(4 * s_up.max()),
        repeatability_down_m=float(4 * s_down.max()),
        accuracy_m=float(high.max() - low.min()),
        accuracy_up_m=float((up + 2 * s_up).max() - (up - 2 * s_up).min()),
        accuracy_down_m=float((down + 2 * s_down).max() - (down - 2 * s_down).min()),
    )


def pose_repeatability(attained_m: ArrayLike, commanded_m: Sequence[float]) -> PoseRepeatability:
    """Accuracy and repeatability of a robot's position from repeated runs to one pose.

    Parameters
    ----------
    attained_m : shape (runs, 3), at least two runs; thirty are customary. [m]
    commanded_m : shape (3,). [m]

    Raises
    ------
    ValueError   The shapes do not fit, there are fewer than two runs, or a number is not finite.

    Notes      AP = abs(mean - commanded); l_j = abs(p_j - mean); RP = mean of l + 3 S_l, S_l with n - 1.
    Source     ISO 9283:1998, from memory; the distances to the mean read in source text. Checked on an invented set.

    Examples
    --------
    >>> found = pose_repeatability([[1e-5, 0, 0], [-1e-5, 0, 0]], (0, 0, 0))
    >>> found.accuracy_m, found.repeatability_m
    (0.0, 1e-05)
    """
    points, aim = np.asarray(attained_m, np.float64), np.asarray(commanded_m, np.float64)
    if points.ndim != 2 or points.shape[1] != 3 or len(points) < 2 or aim.shape != (3,):
        raise ValueError(f"attained_m has shape {points.shape}, commanded_m {aim.shape}; they need (runs, 3) and (3,)")
    if not (np.isfinite(points).all() and np.isfinite(aim).all()):
        raise ValueError("attained_m or commanded_m holds a number that is not finite")
    mean = points.mean(axis=0)
    distances = np.linalg.norm(points - mean, axis=1)
    away, sigma = float(distances.mean()), float(distances.std(ddof=1))
    return PoseRepeatability(float(np.linalg.norm(mean - aim)), away + 3.0 * sigma, away, sigma)


def _range(values: NDArray[np.float64]) -> float:
    return float(values.max() - values.min())
