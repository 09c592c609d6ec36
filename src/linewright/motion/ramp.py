"""A ramp of speed with limited jerk: from rest to a speed, or mirrored from that speed to rest."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

__all__ = ["Ramp", "plan_ramp", "ramp_of", "ramp_time", "ramp_times"]


@dataclass(frozen=True, slots=True)
class Ramp:
    """From rest to a speed, or mirrored from that speed to rest. Results of :func:`plan_ramp`."""

    speed_m_s: float
    peak_m_s2: float
    jerk_m_s3: float
    jerk_time_s: float
    hold_time_s: float
    duration_s: float

    @property
    def travel_m(self) -> float:
        """Way covered; half of speed times duration, since the ramp is point-symmetric. [m]"""
        return 0.5 * self.speed_m_s * self.duration_s

    def time_to_cover_s(self, travel_m: float) -> float:
        """Time from rest until that way is covered; 0 ≤ travel_m ≤ `travel_m`. [s]

        Notes    First phase x = j t³/6, second a quadratic; in the third the way still to go, σ before the end of the
                 ramp, is v σ - j σ³/6, concave and rising, so that Newton from y/v climbs to the root from below.
        """
        j, tj, a = self.jerk_m_s3, self.jerk_time_s, self.peak_m_s2
        v1 = 0.5 * a * tj
        x1 = a * tj * tj / 6.0
        if travel_m <= x1:
            return min(math.cbrt(travel_m) * math.cbrt(6.0 / j), tj)
        x2 = x1 + self.hold_time_s * (v1 + 0.5 * a * self.hold_time_s)
        if travel_m <= x2 or tj == 0.0:
            y = travel_m - x1
            return tj + min(2.0 * y / (v1 + math.sqrt(v1 * v1 + 2.0 * a * y)), self.hold_time_s)
        togo = max(self.travel_m - travel_m, 0.0)  # rounding may leave it a hair below zero at the very end
        v = self.speed_m_s
        sigma = togo / v
        for _ in range(60):
            step = (togo - sigma * (v - j * sigma * sigma / 6.0)) / (v - 0.5 * j * sigma * sigma)
            sigma += step
            if step <= 1e-16 * tj:
                break
        return self.duration_s - min(sigma, tj)


def plan_ramp(speed_m_s: float, acceleration_m_s2: float, jerk_m_s3: float) -> Ramp:
    """The quickest ramp between rest and a speed; mirrored in time it is the quickest stop from that speed.

    Parameters
    ----------
    speed_m_s : float            Speed reached. [m/s], ≥ 0
    acceleration_m_s2 : float    Most acceleration (or deceleration). [m/s²], > 0
    jerk_m_s3 : float            Most jerk. [m/s³], > 0, may be infinite

    Returns
    -------
    Ramp   .duration_s, .travel_m, .peak_m_s2 and its phases: jerk, hold, jerk

    Raises
    ------
    ValueError   A figure is out of its range.

    Notes      v ≥ a²/j: t = v/a + a/j, peak a; else t = 2 √(v/j), peak √(v j). Travel v t/2 by symmetry.
    Source     derived (constant-jerk kinematics); checked in tests/reference/data/motion.json.
    Examples
    --------
    >>> plan_ramp(1.5, 10.0, 100.0).travel_m
    0.1875
    """
    if not 0.0 <= speed_m_s < math.inf or not 0.0 < acceleration_m_s2 < math.inf or not jerk_m_s3 > 0.0:
        raise ValueError(f"no ramp to {speed_m_s} m/s with {acceleration_m_s2} m/s² and {jerk_m_s3} m/s³")
    if speed_m_s == 0.0:
        return Ramp(0.0, 0.0, jerk_m_s3, 0.0, 0.0, 0.0)
    return ramp_of(speed_m_s, acceleration_m_s2, jerk_m_s3)


def ramp_of(v: float, a: float, j: float) -> Ramp:
    """:func:`plan_ramp` of figures that are known to be in range, v above zero."""
    jerk_time = a / j
    if v >= a * jerk_time:
        hold = max(v / a - jerk_time, 0.0)  # never negative but for rounding
        return Ramp(v, a, j, jerk_time, hold, 2.0 * jerk_time + hold)
    jerk_time = math.sqrt(v / j)
    return Ramp(v, j * jerk_time, j, jerk_time, 0.0, 2.0 * jerk_time)


def ramp_time(v: float, a: float, j: float) -> float:
    """Duration of that ramp alone. [s]"""
    return v / a + a / j if v >= a * (a / j) else 2.0 * math.sqrt(v / j)


def ramp_times(v: FloatArray, a: float, j: float) -> FloatArray:
    """Durations of ramps to many speeds. [s]"""
    return np.where(v >= a * (a / j), v / a + a / j, 2.0 * np.sqrt(v / j))
