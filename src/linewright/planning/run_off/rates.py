"""How long to count until a rate or an availability is shown. Pure formulas."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.figures import not_negative, positive
from linewright.planning.run_off.counts import share

MOST_FAILURES: Final = 3000


@dataclass(frozen=True)
class RatePlan:
    """A count of good parts over some hours.

    Parameters
    ----------
    hours : how long is counted. [h]
    least_good : good parts that the count must show
    refused_if_planned : chance of fewer from the line that was simulated
    passed_at_limit : chance of as many from a line at the required rate
    """

    hours: float
    least_good: int
    refused_if_planned: float
    passed_at_limit: float


@dataclass(frozen=True)
class AvailabilityPlan:
    """A test of availability over so many failures, each with its repair.

    Parameters
    ----------
    failures : with the last of them repaired the test ends
    least_availability : up time over all time that the test must show
    refused_if_planned : chance of less at the planned availability
    passed_at_limit : chance of as much at the limit
    """

    failures: int
    least_availability: float
    refused_if_planned: float
    passed_at_limit: float


def rate_plan(
    required_per_h: float,
    rates_per_h: Sequence[float] | NDArray[np.float64],
    run_h: float,
    hours: float,
    confidence: float,
) -> RatePlan:
    """Pass line of a count of good parts, from the scatter of simulated runs.

    Parameters
    ----------
    required_per_h : rate that has to be shown. [1/h], > 0
    rates_per_h : shape (n,), n >= 2; rates of independent runs. [1/h]
    run_h : length of each of these runs, their warm-up left out. [h], > 0
    hours : how long is counted at the run-off. [h], > 0
    confidence : least chance that a line at the required rate is refused, above 0 and below 1

    Returns
    -------
    RatePlan   The pass line is rounded up to whole parts.

    Raises
    ------
    ValueError   A figure is out of its bounds, or there are fewer than two runs.

    Notes
    -----
    With mean m and standard deviation s (n - 1) of the runs, a count over T hours scatters by s_T = s √(w/T), w being
    the length of a run. Pass line L = r + t(C; n - 1) s_T; chance that the simulated line is refused
    F((L - m) / (s √(w/T + 1/n)); n - 1), F being Student's distribution: its mean is known no better than the runs
    tell. Parts are counted after the warm-up; T and w are long beside the time in which a disturbance dies away.

    Source
    ------
    Student's prediction interval; common practice. Held to a simulation in tests/reference/test_run_off.py.

    Examples
    --------
    >>> plan = rate_plan(1000.0, [1090.0, 1100.0, 1110.0, 1100.0], 8.0, 8.0, 0.9)
    >>> plan.least_good, plan.refused_if_planned < 0.01
    (8107, True)
    """
    from scipy.special import stdtr, stdtrit

    positive("required_per_h", required_per_h)
    positive("hours", hours)
    share("confidence", confidence)
    mean, spread, runs = _scatter(rates_per_h, run_h)
    scatter = spread * math.sqrt(run_h / hours)
    line = required_per_h + float(stdtrit(runs - 1, confidence)) * scatter
    # A hair under a whole part is that part.
    least = math.ceil(line * hours - 1e-6)
    line = least / hours
    if spread == 0.0:
        return RatePlan(hours, least, 0.0 if mean >= line else 1.0, 0.0 if required_per_h < line else 1.0)
    wide = spread * math.sqrt(run_h / hours + 1.0 / runs)
    refused = float(stdtr(runs - 1, (line - mean) / wide))
    passed = 1.0 - float(stdtr(runs - 1, (line - required_per_h) / scatter))
    return RatePlan(hours, least, refused, passed)


def rate_hours(
    required_per_h: float,
    rates_per_h: Sequence[float] | NDArray[np.float64],
    run_h: float,
    builder_risk: float,
    confidence: float,
    step_h: float = 1.0,
) -> float | None:
    """How long good parts must be counted until the simulated line is told from one at the required rate. [h]

    Parameters
    ----------
    required_per_h, rates_per_h, run_h, confidence : see :func:`rate_plan`
    builder_risk : greatest chance that the simulated line is refused, above 0 and below 1
    step_h : the answer is a whole number of these. [h], > 0

    Returns
    -------
    float | None   None where no length is enough: the simulated rate is not above the required one, or is not known
                   well enough from so few runs.

    Raises
    ------
    ValueError   As :func:`rate_plan`.

    Examples
    --------
    >>> rate_hours(1000.0, [1060.0, 1100.0, 1140.0, 1100.0], 8.0, 0.05, 0.9)
    18.0
    >>> rate_hours(1000.0, [1000.0, 1001.0], 8.0, 0.05, 0.9) is None
    True
    """
    share("builder_risk", builder_risk)
    positive("step_h", step_h)

    def enough(steps: int) -> bool:
        plan = rate_plan(required_per_h, rates_per_h, run_h, steps * step_h, confidence)
        return plan.refused_if_planned <= builder_risk

    high = 1
    while not enough(high):
        if high * step_h > 1e6:
            return None
        high *= 2
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high * step_h


def rate_shown(
    rates_per_h: Sequence[float] | NDArray[np.float64],
    run_h: float,
    hours: float,
    builder_risk: float,
    confidence: float,
) -> float:
    """The highest rate from which a count of given length tells the simulated line. [1/h]

    Parameters
    ----------
    rates_per_h, run_h, hours, confidence : see :func:`rate_plan`
    builder_risk : greatest chance that the simulated line is refused, above 0 and below 1

    Raises
    ------
    ValueError   As :func:`rate_plan`.

    Notes
    -----
    m - t(1 - builder's risk; n - 1) s √(w/T + 1/n) - t(C; n - 1) s √(w/T): the required rate of :func:`rate_plan`, not
    rounded, at which T hours are just enough.

    Source
    ------
    As :func:`rate_plan`.

    Examples
    --------
    >>> round(rate_shown([1060.0, 1100.0, 1140.0, 1100.0], 8.0, 18.0, 0.05, 0.9), 1)
    1000.3
    """
    from scipy.special import stdtrit

    positive("hours", hours)
    share("builder_risk", builder_risk)
    share("confidence", confidence)
    mean, spread, runs = _scatter(rates_per_h, run_h)
    wide = spread * math.sqrt(run_h / hours + 1.0 / runs) * float(stdtrit(runs - 1, 1.0 - builder_risk))
    return mean - wide - spread * math.sqrt(run_h / hours) * float(stdtrit(runs - 1, confidence))


def availability_plan(
    planned: float, limit: float, builder_risk: float, confidence: float, step: float = 0.0
) -> AvailabilityPlan | None:
    """The fewest failures over which a planned availability is told from a limit.

    Parameters
    ----------
    planned : up time over all time if all is as planned, below 1
    limit : availability that is to be refused, above 0 and below `planned`
    builder_risk : greatest chance to be refused as planned, above 0 and below 1
    confidence : least chance to be refused at the limit, above 0 and below 1
    step : the pass line is rounded up to a whole number of these, before chances are told; 0 for no rounding

    Returns
    -------
    AvailabilityPlan   None where more than `MOST_FAILURES` would be needed.

    Raises
    ------
    ValueError   A figure is out of its bounds, or the planned availability is not above the limit.

    Notes
    -----
    Over n failures the ratio of down to up time, over its true value, follows the F distribution with 2n and 2n
    degrees of freedom. The smallest n with F(1 - builder's risk; 2n, 2n) F(C; 2n, 2n) <= ρ₁/ρ₀, ρ = (1 - A)/A; the test
    passes with a ratio of at most ρ₁ / F(C; 2n, 2n). Exact where times to failure and repairs are exponential and the
    test ends with the n-th repair; repairs that are more regular make both risks smaller.

    Source
    ------
    A. Birolini, Reliability Engineering, demonstration of an availability, from memory. Held to a simulation in
    tests/reference/test_run_off.py.

    Examples
    --------
    >>> plan = availability_plan(0.98, 0.96, 0.05, 0.9)
    >>> plan.failures, round(plan.least_availability, 4)
    (35, 0.9703)
    """
    from scipy.special import fdtr, fdtri

    share("limit", limit)
    share("builder_risk", builder_risk)
    share("confidence", confidence)
    not_negative("step", step)
    if not limit < planned < 1.0:
        raise ValueError(f"planned is {planned}; it must lie above the limit, {limit}, and below 1")
    worse, as_planned = (1.0 - limit) / limit, (1.0 - planned) / planned
    for failures in range(1, MOST_FAILURES + 1):
        freedom = 2.0 * failures
        least = 1.0 / (1.0 + worse / float(fdtri(freedom, freedom, confidence)))
        least = math.ceil(least / step - 1e-9) * step if step > 0.0 else least
        if least >= 1.0:
            continue  # a step too coarse for so few failures
        most = (1.0 - least) / least
        refused = 1.0 - float(fdtr(freedom, freedom, most / as_planned))
        if refused <= builder_risk:
            passed = float(fdtr(freedom, freedom, most / worse))
            return AvailabilityPlan(failures, least, refused, passed)
    return None


def _scatter(rates_per_h: Sequence[float] | NDArray[np.float64], run_h: float) -> tuple[float, float, int]:
    """Mean and standard deviation of the runs, and how many there are."""
    positive("run_h", run_h)
    rates = np.asarray(rates_per_h, np.float64)
    if rates.ndim != 1 or len(rates) < 2 or not np.isfinite(rates).all():
        raise ValueError(f"rates_per_h has shape {rates.shape}; it needs two or more finite rates in one row")
    return float(rates.mean()), float(rates.std(ddof=1)), len(rates)
