"""How often to measure until a standard deviation, a capability index or a force is shown. Pure formulas."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.figures import not_negative, positive
from linewright.planning.run_off.counts import share

MOST_READINGS: Final = 100_000


@dataclass(frozen=True)
class SpreadPlan:
    """A test of a standard deviation.

    Parameters
    ----------
    freedom : degrees of freedom: readings less one, added over all places
    most_of_limit : standard deviation that the test may show at most, over the limit
    refused_if_planned : chance of more than that at the planned standard deviation
    passed_at_limit : chance of no more than that at the limit
    """

    freedom: int
    most_of_limit: float
    refused_if_planned: float
    passed_at_limit: float


@dataclass(frozen=True)
class IndexPlan:
    """A test of a process capability index.

    Parameters
    ----------
    readings : how many are taken
    least_index : that the readings must show
    refused_if_planned : chance of less at the planned index
    passed_at_limit : chance of as much at the index that is asked for
    """

    readings: int
    least_index: float
    refused_if_planned: float
    passed_at_limit: float


def spread_plan(
    planned_of_limit: float, builder_risk: float, confidence: float, least_freedom: int = 1
) -> SpreadPlan | None:
    """The fewest degrees of freedom over which a standard deviation is told from a limit.

    Parameters
    ----------
    planned_of_limit : standard deviation if all is as planned, over the limit; above 0 and below 1
    builder_risk : greatest chance to be refused as planned, above 0 and below 1
    confidence : least chance to be refused at the limit, above 0 and below 1
    least_freedom : as many are taken in any case, >= 1

    Returns
    -------
    SpreadPlan   None where more than `MOST_READINGS` would be needed.

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes
    -----
    ν s²/σ² follows χ² with ν degrees of freedom, for readings that scatter normally. The test passes with s at most
    σ₁ √(χ²(1 - C; ν)/ν); the smallest ν with P(s above that | σ₀) <= builder's risk.

    Source
    ------
    NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.8, from memory; tests/reference/data/run_off.json.

    Examples
    --------
    >>> plan = spread_plan(1 / 1.5, 0.05, 0.9)
    >>> plan.freedom, round(plan.most_of_limit, 3)
    (26, 0.816)
    """
    from scipy.special import gammainc, gammaincinv

    share("planned_of_limit", planned_of_limit)
    share("builder_risk", builder_risk)
    share("confidence", confidence)
    if least_freedom < 1:
        raise ValueError(f"least_freedom is {least_freedom}; it must be 1 or more")
    for freedom in range(least_freedom, MOST_READINGS + 1):
        half = 0.5 * freedom
        quantile = float(gammaincinv(half, 1.0 - confidence))
        refused = 1.0 - float(gammainc(half, quantile / planned_of_limit**2))
        if refused <= builder_risk:
            return SpreadPlan(freedom, math.sqrt(quantile / half), refused, float(gammainc(half, quantile)))
    return None


def index_pass_line(asked: float, confidence: float, readings: int) -> float:
    """Capability index that readings must show so that the true one is shown to be as good as asked for.

    Parameters
    ----------
    asked : index that is asked for, > 0
    confidence : least chance that a process at exactly that index is refused, above 0 and below 1
    readings : how many are taken, >= 2

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes
    -----
    For the index towards one side of the tolerance 3 √n c follows the noncentral t distribution with n - 1 degrees
    of freedom and noncentrality 3 √n times the true index; the pass line is its quantile of the confidence. Exact where
    one side of the tolerance decides, for readings that scatter normally; a mean in the very middle passes a little
    less often.

    Source
    ------
    The definition of the noncentral t distribution; held to a simulation in tests/reference/test_run_off.py.

    Examples
    --------
    >>> round(index_pass_line(1.33, 0.9, 50), 3)
    1.545
    """
    from scipy.special import nctdtrit

    positive("asked", asked)
    share("confidence", confidence)
    if readings < 2:
        raise ValueError(f"readings is {readings}; at least 2 are due")
    scale = 3.0 * math.sqrt(readings)
    return float(nctdtrit(readings - 1, scale * asked, confidence)) / scale


def index_plan(
    planned: float, asked: float, builder_risk: float, confidence: float, least_readings: int = 30, step: float = 0.0
) -> IndexPlan | None:
    """The fewest readings over which a planned capability index is told from the one that is asked for.

    Parameters
    ----------
    planned : index if all is as planned, above `asked`; may be infinite
    asked : index that is asked for, > 0
    builder_risk : greatest chance to be refused as planned, above 0 and below 1
    confidence : see :func:`index_pass_line`
    least_readings : as many are taken in any case, >= 2
    step : the pass line is rounded up to a whole number of these, before chances are told; 0 for no rounding

    Returns
    -------
    IndexPlan   None where more than `MOST_READINGS` would be needed.

    Raises
    ------
    ValueError   A figure is out of its bounds, or the planned index is not above the one that is asked for.

    Notes
    -----
    A measured index follows the distribution of :func:`index_pass_line`.

    Source
    ------
    As :func:`index_pass_line`.

    Examples
    --------
    >>> plan = index_plan(2.0, 1.33, 0.05, 0.9)
    >>> plan.readings, round(plan.least_index, 2)
    (30, 1.62)
    """
    share("builder_risk", builder_risk)
    not_negative("step", step)
    if not planned > asked:
        raise ValueError(f"planned is {planned}; it must lie above the index that is asked for, {asked}")

    def plan_of(readings: int) -> IndexPlan:
        line = index_pass_line(asked, confidence, readings)
        if step > 0.0:
            line = math.ceil(line / step - 1e-9) * step
        return IndexPlan(readings, line, _below(line, planned, readings), 1.0 - _below(line, asked, readings))

    low, high = least_readings - 1, least_readings
    while plan_of(high).refused_if_planned > builder_risk:
        if high > MOST_READINGS:
            return None
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if plan_of(middle).refused_if_planned <= builder_risk else (middle, high)
    return plan_of(high)


def tolerance_factor(covered: float, confidence: float, readings: int) -> float:
    """How many measured standard deviations above the mean surely cover a share of all that will ever be measured.

    Parameters
    ----------
    covered : share of all values, above 0 and below 1
    confidence : how surely, above 0 and below 1
    readings : how many were taken, >= 2

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes
    -----
    One-sided: k = t'(C; n - 1, z √n) / √n, t' the quantile of the noncentral t distribution, z the normal quantile of
    the share. For readings that scatter normally.

    Source
    ------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3, from memory; tests/reference/data/run_off.json.

    Examples
    --------
    >>> round(tolerance_factor(0.90, 0.99, 43), 4)
    1.874
    """
    from scipy.special import nctdtrit, ndtri

    share("covered", covered)
    share("confidence", confidence)
    if readings < 2:
        raise ValueError(f"readings is {readings}; at least 2 are due")
    root = math.sqrt(readings)
    return float(nctdtrit(readings - 1, float(ndtri(covered)) * root, confidence)) / root


def _below(line: float, true: float, readings: int) -> float:
    """Chance that a measured index lies below a line."""
    from scipy.special import nctdtr

    if math.isinf(true):
        return 0.0
    scale = 3.0 * math.sqrt(readings)
    return float(nctdtr(readings - 1, scale * true, scale * line))
