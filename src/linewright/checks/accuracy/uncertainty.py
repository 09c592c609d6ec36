"""How uncertainties of inputs come through to a result, also where the inputs go together."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

_STEP: Final = 1e-3  # of an input's own uncertainty, each way


@dataclass(frozen=True, eq=False)
class Propagated:
    """Results with their uncertainties; the result of :func:`propagate_uncertainty`.

    Attributes
    ----------
    values : shape (results,), the model at the inputs' values
    uncertainties : shape (results,), one standard deviation each
    correlations : shape (results, results)
    contributions : shape (results, inputs), amount of sensitivity × uncertainty
    """

    values: NDArray[np.float64]
    uncertainties: NDArray[np.float64]
    correlations: NDArray[np.float64]
    contributions: NDArray[np.float64]


def propagate_uncertainty(
    model: Callable[[NDArray[np.float64]], ArrayLike],
    values: Sequence[float],
    uncertainties: Sequence[float],
    correlations: ArrayLike | None = None,
) -> Propagated:
    """Carry standard uncertainties through a model, to first order.

    Parameters
    ----------
    model : takes the inputs, shape (inputs,), and gives one number or several
    values, uncertainties : of the inputs; uncertainties are standard deviations, >= 0
    correlations : shape (inputs, inputs), symmetrical, ones on its diagonal; by default the inputs are independent

    Raises
    ------
    ValueError   The shapes do not fit, an uncertainty is negative, or the correlations are none.

    Notes
    -----
    Covariance of the results J C Jᵀ; J from central differences of a thousandth of each input's uncertainty, so the
    model must be smooth there. Terms of higher order are left out.

    Source
    ------
    JCGM 100:2008, 5.1 and 5.2; its examples H.1 and H.2 are checked in tests/reference/test_accuracy.py.

    Examples
    --------
    >>> found = propagate_uncertainty(lambda x: x[0] * x[1], (3.0, 4.0), (0.3, 0.4))
    >>> round(float(found.uncertainties[0]), 6)
    1.697056
    """
    at, spread = np.asarray(values, np.float64), np.asarray(uncertainties, np.float64)
    count = len(at)
    if at.shape != (count,) or spread.shape != (count,) or count == 0:
        raise ValueError(f"values has shape {at.shape}, uncertainties {spread.shape}; they need the same, one axis")
    if not (np.isfinite(at).all() and np.isfinite(spread).all()) or (spread < 0.0).any():
        raise ValueError("values and uncertainties must be finite, and uncertainties not negative")
    between = np.eye(count) if correlations is None else np.asarray(correlations, np.float64)
    if between.shape != (count, count) or not np.allclose(between, between.T) or not np.allclose(np.diag(between), 1.0):
        raise ValueError("correlations is not a symmetrical matrix with ones on its diagonal, one row for each input")
    middle = np.atleast_1d(np.asarray(model(at.copy()), np.float64))
    scaled = np.zeros((len(middle), count))
    for i in range(count):
        if spread[i] > 0.0:
            step = np.zeros(count)
            step[i] = _STEP * spread[i]
            after, before = (np.atleast_1d(np.asarray(model(at + sign * step), np.float64)) for sign in (1.0, -1.0))
            scaled[:, i] = (after - before) / (2.0 * _STEP)
    covariance = scaled @ between @ scaled.T
    sigma = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    scale = np.outer(sigma, sigma)
    together = np.divide(covariance, scale, out=np.eye(len(middle)), where=scale > 0.0)
    return Propagated(middle, sigma, together, np.abs(scaled))


def effective_freedom(contributions: Sequence[float], freedoms: Sequence[float]) -> float:
    """Degrees of freedom of a combined standard uncertainty of independent inputs; infinite where none is finite.

    Parameters
    ----------
    contributions : of the inputs, sensitivity × uncertainty, >= 0
    freedoms : degrees of freedom of each, > 0, infinite where it is known beyond doubt

    Raises
    ------
    ValueError   The two differ in length, or one is out of its range.

    Notes      (Σu²)² / Σ(u⁴/ν)
    Source     Welch-Satterthwaite, JCGM 100:2008, G.4; checked in tests/reference/test_accuracy.py.

    Examples
    --------
    >>> effective_freedom((1, 1, 1, 1), (10, 10, 10, 10))
    40.0
    """
    if len(contributions) != len(freedoms):
        raise ValueError(f"contributions has {len(contributions)} values, freedoms {len(freedoms)}")
    if not all(math.isfinite(u) and u >= 0.0 for u in contributions):
        raise ValueError("contributions must be finite and not negative")
    if not all(nu > 0.0 for nu in freedoms):
        raise ValueError("freedoms must be above zero")
    below = math.fsum(u**4 / nu for u, nu in zip(contributions, freedoms, strict=True))
    return math.inf if below == 0.0 else math.fsum(u * u for u in contributions) ** 2 / below


def coverage_factor(confidence: float, freedom: float = math.inf) -> float:
    """Standard uncertainties that a two-sided interval of that confidence reaches each way.

    Parameters
    ----------
    confidence : share of such intervals that cover the true value, between 0 and 1
    freedom : degrees of freedom, > 0; infinite for a normal law

    Raises
    ------
    ValueError   The confidence is not between 0 and 1, or freedom is not positive.

    Notes      Quantile (1 + confidence)/2 of Student's t; GUM takes the degrees of freedom rounded down.
    Source     JCGM 100:2008, G.3.

    Examples
    --------
    >>> round(coverage_factor(0.95), 2), round(coverage_factor(0.99, 16), 2)
    (1.96, 2.92)
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence}; it lies between 0 and 1")
    if not freedom > 0.0:
        raise ValueError(f"freedom is {freedom}; it must be above zero")
    from scipy.special import ndtri, stdtrit

    reach = 0.5 * (1.0 + confidence)
    return float(ndtri(reach)) if math.isinf(freedom) else float(stdtrit(freedom, reach))
