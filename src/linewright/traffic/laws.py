"""The time laws of a line as the traffic plan holds them."""

from __future__ import annotations

import math

from linewright.line.model import TimeLaw
from linewright.motion.profile import to_microseconds
from linewright.traffic.plan import EMPIRICAL, EXPONENTIAL, FIXED, GAMMA, LOGNORMAL, TRIANGULAR, Law


def law_of(time: TimeLaw) -> Law:
    """A time law in whole microseconds.

    Notes
    -----
    Lognormal with mean m and coefficient of variation c: sigma² = ln(1 + c²), mu = ln m - sigma²/2. Gamma: shape
    k = 1/c², scale m c². A law without spread is fixed.

    Source     moments of the lognormal and the gamma law; tests/reference/test_laws.py.
    """
    mean_us = time.mean_s * 1e6
    if time.kind == "exponential":
        return Law(EXPONENTIAL, mean_us)
    if time.kind == "lognormal" and time.cv is not None and time.cv > 0.0:
        variance = math.log1p(time.cv**2)
        return Law(LOGNORMAL, math.log(mean_us) - variance / 2, math.sqrt(variance))
    if time.kind == "gamma" and time.cv is not None and time.cv > 0.0:
        return Law(GAMMA, 1.0 / time.cv**2, mean_us * time.cv**2)
    if time.kind == "empirical" and time.times_s is not None:
        return Law(EMPIRICAL, given_us=tuple(sorted(to_microseconds(time_s) for time_s in time.times_s)))
    if time.kind == "triangular":
        least_s, likely_s, most_s = (
            time.mean_s if x is None else x for x in (time.least_s, time.likely_s, time.most_s)
        )
        if most_s > least_s:
            return Law(TRIANGULAR, least_s * 1e6, likely_s * 1e6, most_s * 1e6)
    return Law(FIXED, float(to_microseconds(time.mean_s)))
