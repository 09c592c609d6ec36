"""How surely a spread of values stays within limits: capability indices, their intervals, parts per million outside."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

_MILLION = 1e6


@dataclass(frozen=True)
class Capability:
    """The indices of one characteristic; the result of :func:`process_capability`.

    Attributes
    ----------
    cp : the spread alone, as if it were centred
    cpu, cpl : against the upper and the lower limit
    cpk : the lesser of the two
    cpm, cpkm : cp and cpk with the distance from the target in the denominator
    off_centre : distance of the mean from the middle between the limits, over half their distance
    parts_per_million : outside the limits if the characteristic is normal
    """

    cp: float
    cpu: float
    cpl: float
    cpk: float
    cpm: float
    cpkm: float
    off_centre: float
    parts_per_million: float


@dataclass(frozen=True)
class CapabilityInterval:
    """Within what the true indices lie after a finite sample; the result of :func:`capability_interval`.

    Attributes
    ----------
    cp_low, cp_high, cpk_low, cpk_high : ends of the two-sided intervals
    confidence : share of such intervals that cover the true index
    """

    cp_low: float
    cp_high: float
    cpk_low: float
    cpk_high: float
    confidence: float


def tail_per_million(distance_m: float, sigma_m: float) -> float:
    """Parts per million of a normal characteristic beyond one limit.

    Parameters
    ----------
    distance_m : from the mean to the limit, negative where the mean lies beyond it. [m]
    sigma_m : standard deviation, >= 0. [m]

    Raises
    ------
    ValueError   sigma_m is negative, or a number is not finite.

    Notes      10⁶ Φ(-d/σ) = 10⁶ erfc(d / (σ √2)) / 2; without spread all or nothing.
    Source     The normal law.

    Examples
    --------
    >>> round(tail_per_million(3.0, 1.0), 1), tail_per_million(1e-3, 0.0), tail_per_million(-1e-3, 0.0)
    (1349.9, 0.0, 1000000.0)
    """
    _known(distance_m=distance_m, sigma_m=sigma_m)
    if sigma_m < 0.0:
        raise ValueError(f"sigma_m is {sigma_m}; a spread is not negative")
    if sigma_m == 0.0:
        return 0.0 if distance_m >= 0.0 else _MILLION
    return _MILLION * 0.5 * math.erfc(distance_m / (sigma_m * math.sqrt(2.0)))


def process_capability(
    mean_m: float, sigma_m: float, lower_m: float, upper_m: float, target_m: float | None = None
) -> Capability:
    """Capability indices of a normal characteristic with two limits.

    Parameters
    ----------
    mean_m, sigma_m : its mean and standard deviation, sigma_m > 0. [m]
    lower_m, upper_m : the limits, lower < upper. [m]
    target_m : what is aimed at; by default the middle between the limits. [m]

    Raises
    ------
    ValueError   The standard deviation is not positive, or the limits are not in order.

    Notes      Cp = (U - L)/(6 σ), Cpu = (U - μ)/(3 σ), Cpl = (μ - L)/(3 σ), Cpk = min(Cpu, Cpl),
               Cpm = (U - L)/(6 √(σ² + (μ - T)²)), Cpkm = Cpk / √(1 + ((μ - T)/σ)²). Lengths are meant, but any one unit
               for all will do.
    Source     NIST/SEMATECH e-Handbook, 6.1.6, from memory; checked in tests/reference/data/accuracy.json.

    Examples
    --------
    >>> c = process_capability(16.0, 2.0, 8.0, 20.0)
    >>> round(c.cp, 4), round(c.cpk, 4), round(c.parts_per_million)
    (1.0, 0.6667, 22782)
    """
    _known(mean_m=mean_m, sigma_m=sigma_m, lower_m=lower_m, upper_m=upper_m)
    if sigma_m <= 0.0:
        raise ValueError(f"sigma_m is {sigma_m}; an index needs a spread above zero")
    if upper_m <= lower_m:
        raise ValueError(f"upper_m is {upper_m}, not above lower_m, {lower_m}")
    middle_m = 0.5 * (lower_m + upper_m)
    target_m = middle_m if target_m is None else target_m
    cpu, cpl = (upper_m - mean_m) / (3.0 * sigma_m), (mean_m - lower_m) / (3.0 * sigma_m)
    off = (mean_m - target_m) / sigma_m
    cp, cpk, stretch = (upper_m - lower_m) / (6.0 * sigma_m), min(cpu, cpl), math.sqrt(1.0 + off * off)
    outside = tail_per_million(upper_m - mean_m, sigma_m) + tail_per_million(mean_m - lower_m, sigma_m)
    off_centre = abs(mean_m - middle_m) / (0.5 * (upper_m - lower_m))
    return Capability(cp, cpu, cpl, cpk, cp / stretch, cpk / stretch, off_centre, outside)


def capability_interval(cp: float, cpk: float, count: int, confidence: float = 0.95) -> CapabilityInterval:
    """Two-sided intervals of Cp and Cpk that were found from a sample.

    Parameters
    ----------
    cp, cpk : as the sample gave them, cp > 0
    count : parts in the sample, >= 2
    confidence : share of such intervals that cover the true index, between 0 and 1

    Raises
    ------
    ValueError   cp is not positive, there are fewer than two parts, or the confidence is not between 0 and 1.

    Notes      Cp: cp √(χ²(p; n - 1)/(n - 1)) with p = (1 ± confidence)/2. Cpk, approximately:
               cpk ± z √(1/(9 n) + cpk²/(2 (n - 1))).
    Source     Chi-square interval of Cp; normal approximation of Cpk after Bissell; read in part, else from memory.
               Checked in tests/reference/data/accuracy.json.

    Examples
    --------
    >>> found = capability_interval(1.33, 1.2, 50)
    >>> round(found.cp_low, 3), round(found.cpk_low, 3)
    (1.067, 0.945)
    """
    from scipy.special import gammaincinv

    _known(cp=cp, cpk=cpk, confidence=confidence)
    if cp <= 0.0:
        raise ValueError(f"cp is {cp}; it is above zero")
    if not count >= 2:
        raise ValueError(f"count is {count}; an interval needs two parts or more")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence}; it lies between 0 and 1")
    free = count - 1
    low, high = (2.0 * float(gammaincinv(free / 2.0, p)) for p in ((1 - confidence) / 2, (1 + confidence) / 2))
    off = NormalDist().inv_cdf((1 + confidence) / 2) * math.sqrt(1.0 / (9.0 * count) + cpk * cpk / (2.0 * free))
    return CapabilityInterval(cp * math.sqrt(low / free), cp * math.sqrt(high / free), cpk - off, cpk + off, confidence)


def _known(**values: float) -> None:
    for name, value in values.items():
        if not math.isfinite(value):
            raise ValueError(f"{name} is {value}; it must be a finite number")
