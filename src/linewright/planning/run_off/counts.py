"""How many trials show a share, and how many running hours show a mean time between failures. Pure formulas."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.figures import not_negative, positive

MOST_ALLOWED: Final = 3000
"""A plan that would have to allow more bad ones than this tells apart what is the same for all practical purposes."""


@dataclass(frozen=True)
class SamplingPlan:
    """A single sampling plan: so many trials, of which so many may be bad.

    Parameters
    ----------
    trials : how many are looked at
    allowed : how many of them may be bad at most
    refused_if_planned : chance of more than that at the planned share
    passed_at_limit : chance of no more than that at the limit
    """

    trials: int
    allowed: int
    refused_if_planned: float
    passed_at_limit: float


@dataclass(frozen=True)
class FailurePlan:
    """A test of a mean time between failures: so long, with so many failures at most.

    Parameters
    ----------
    time_s : length of the test. [s]
    allowed : how many failures it may show at most
    refused_if_planned : chance of more than that at the planned mean time
    passed_at_limit : chance of no more than that at the limit
    """

    time_s: float
    allowed: int
    refused_if_planned: float
    passed_at_limit: float


def share(name: str, value: float) -> None:
    """ValueError unless the value lies between 0 and 1, both excluded."""
    if not 0.0 < value < 1.0:
        raise ValueError(f"{name} is {value}; it must lie between 0 and 1")


def success_run(least_share: float, confidence: float, allowed: int = 0) -> int:
    """How many trials show that at least a share of them succeeds, if no more than a few fail.

    Parameters
    ----------
    least_share : of trials that succeed, above 0 and below 1
    confidence : chance that something worse shows more failures, above 0 and below 1
    allowed : failures that the test may show, >= 0

    Returns
    -------
    int   The smallest n with P(at most `allowed` failures in n) <= 1 - confidence at exactly that share.

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes
    -----
    Without failures R^n <= 1 - C, so n = ln(1 - C) / ln R, rounded up (success run); with c failures the binomial sum
    Σ_{i<=c} (n over i) (1 - R)^i R^(n - i) <= 1 - C, searched in whole n. Trials must not depend on each other.

    Source
    ------
    The success-run theorem; tests/reference/data/run_off.json.

    Examples
    --------
    >>> success_run(0.90, 0.90), success_run(0.95, 0.95), success_run(0.99, 0.95), success_run(0.90, 0.90, allowed=1)
    (22, 59, 299, 38)
    """
    share("least_share", least_share)
    share("confidence", confidence)
    if allowed < 0:
        raise ValueError(f"allowed is {allowed}; it must not be negative")
    return _trials(1.0 - least_share, confidence, allowed)


def sampling_plan(planned: float, limit: float, builder_risk: float, confidence: float) -> SamplingPlan | None:
    """The smallest single sampling plan that tells a planned share of bad ones from a limit.

    Parameters
    ----------
    planned : share that is bad if all is as planned, >= 0
    limit : share that is to be refused, above `planned` and below 1
    builder_risk : greatest chance to be refused at the planned share, above 0 and below 1
    confidence : least chance to be refused at the limit, above 0 and below 1

    Returns
    -------
    SamplingPlan   Of the fewest trials; None where it would have to allow more than `MOST_ALLOWED` bad ones.

    Raises
    ------
    ValueError   A figure is out of its bounds, or the limit is not above the planned share.

    Notes
    -----
    For c = 0, 1, 2 … the smallest n with P(X <= c | limit) <= 1 - C; the first whose P(X > c | planned) <= builder's
    risk. X is binomial: the trials are few beside what the line makes, and do not depend on each other.

    Source
    ------
    The definition of a two-point plan; tests/reference/data/run_off.json.

    Examples
    --------
    >>> plan = sampling_plan(0.05, 0.15, 0.05, 0.925)
    >>> plan.trials, plan.allowed
    (80, 7)
    """
    from scipy.special import bdtr

    share("limit", limit)
    share("builder_risk", builder_risk)
    share("confidence", confidence)
    if not 0.0 <= planned < limit:
        raise ValueError(f"planned is {planned}; it must not be negative and lie below the limit, {limit}")
    trials = 0
    for allowed in range(MOST_ALLOWED + 1):
        trials = _trials(limit, confidence, allowed, trials)
        refused = 1.0 - float(bdtr(allowed, trials, planned))
        if refused <= builder_risk:
            return SamplingPlan(trials, allowed, refused, float(bdtr(allowed, trials, limit)))
    return None


def _trials(bad: float, confidence: float, allowed: int, above: int = 0) -> int:
    """The smallest n, over `above`, with P(X <= allowed) <= 1 - confidence where a share `bad` is bad."""
    from scipy.special import bdtr

    doubt = (1.0 - confidence) * (1.0 + 1e-12)  # exact powers are not missed by rounding
    low, high = max(above, allowed), max(above, allowed) + 1
    while float(bdtr(allowed, high, bad)) > doubt:
        low, high = high, high + max(1, 2 * (high - low))
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if float(bdtr(allowed, middle, bad)) <= doubt else (middle, high)
    return high


def failure_test_time(limit_s: float, confidence: float, allowed: int) -> float:
    """How long a test must run to show a mean time between failures, if no more than a few happen. [s]

    Parameters
    ----------
    limit_s : mean time between failures that is to be refused. [s], > 0
    confidence : chance that it is refused, above 0 and below 1
    allowed : failures that the test may show, >= 0

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes
    -----
    T = θ₁ χ²(C; 2 r + 2) / 2. Failures come at random with a constant mean rate (exponential times between them), the
    test ends at a time fixed beforehand and repair puts the same machine back. Times that are more regular than that
    make both risks smaller.

    Source
    ------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.3.1.1 and 8.4.5.1; tests/reference/data/run_off.json.

    Examples
    --------
    >>> [round(failure_test_time(1.0, 0.90, allowed), 2) for allowed in (0, 1, 2)]
    [2.3, 3.89, 5.32]
    """
    from scipy.special import gammaincinv

    positive("limit_s", limit_s)
    share("confidence", confidence)
    if allowed < 0:
        raise ValueError(f"allowed is {allowed}; it must not be negative")
    return limit_s * float(gammaincinv(allowed + 1.0, confidence))


def failure_plan(
    planned_s: float, limit_s: float, builder_risk: float, confidence: float, step_s: float = 0.0
) -> FailurePlan | None:
    """The shortest test that tells a planned mean time between failures from a limit.

    Parameters
    ----------
    planned_s : mean time between failures if all is as planned. [s]
    limit_s : mean time that is to be refused, below `planned_s`. [s], > 0
    builder_risk : greatest chance to be refused at the planned mean time, above 0 and below 1
    confidence : least chance to be refused at the limit, above 0 and below 1
    step_s : the length is rounded up to a whole number of these, before chances are told; 0 for no rounding. [s]

    Returns
    -------
    FailurePlan   None where it would have to allow more than `MOST_ALLOWED` failures.

    Raises
    ------
    ValueError   A figure is out of its bounds, or the planned mean time is not above the limit.

    Notes
    -----
    The smallest r whose T = :func:`failure_test_time` gives P(N > r | θ₀, T) <= builder's risk, N Poisson of mean T/θ₀.

    Source
    ------
    The definition of a two-point plan; the fixed-length plans of MIL-HDBK-781A, from memory, in
    tests/reference/data/run_off.json.

    Examples
    --------
    >>> plan = failure_plan(2.0, 1.0, 0.10, 0.90)
    >>> plan.allowed, round(plan.time_s, 2)
    (14, 20.13)
    """
    from scipy.special import pdtr

    share("builder_risk", builder_risk)
    positive("limit_s", limit_s)
    not_negative("step_s", step_s)
    if not limit_s < planned_s < math.inf:
        raise ValueError(f"planned_s is {planned_s}; it must be finite and lie above the limit, {limit_s}")
    for allowed in range(MOST_ALLOWED + 1):
        time_s = failure_test_time(limit_s, confidence, allowed)
        if step_s > 0.0:
            time_s = math.ceil(time_s / step_s - 1e-9) * step_s
        refused = 1.0 - float(pdtr(allowed, time_s / planned_s))
        if refused <= builder_risk:
            return FailurePlan(time_s, allowed, refused, float(pdtr(allowed, time_s / limit_s)))
    return None
