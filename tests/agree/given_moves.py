"""Durations of the moves in an agreed case: written from the textbook, apart from `linewright.motion`.

A move is the jerk-limited rest-to-rest profile of least time with one limit each on speed v, acceleration a and
jerk j, symmetric about its middle. Source: general motion-control texts (the profile of seven phases).
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class GivenLimits:
    """Speed [m/s], acceleration [m/s²] and jerk [m/s³] of every move of a case."""

    speed_m_s: float
    acceleration_m_s2: float
    jerk_m_s3: float


@dataclass(frozen=True)
class Phases:
    """Length of a jerk phase, of a phase of steady acceleration and of the phase of steady speed. [s]"""

    jerk_s: float
    steady_s: float
    cruise_s: float

    @property
    def duration_s(self) -> float:
        """Length of the whole move. [s]"""
        return 4 * self.jerk_s + 2 * self.steady_s + self.cruise_s


def phases(distance_m: float, limits: GivenLimits) -> Phases:
    """The phases of a move; the three cases are: speed reached, acceleration reached, neither."""
    v, a, j = limits.speed_m_s, limits.acceleration_m_s2, limits.jerk_m_s3
    full = v * j >= a * a
    jerk_s, steady_s = (a / j, v / a - a / j) if full else (math.sqrt(v / j), 0.0)
    peak_m_s = j * jerk_s * (jerk_s + steady_s)
    ramps_m = peak_m_s * (2 * jerk_s + steady_s)
    if distance_m >= ramps_m:
        return Phases(jerk_s, steady_s, (distance_m - ramps_m) / peak_m_s)
    if distance_m >= 2 * a * (a / j) ** 2:
        steady_s = (-3 * a / j + math.sqrt((a / j) ** 2 + 4 * distance_m / a)) / 2
        return Phases(a / j, max(steady_s, 0.0), 0.0)
    return Phases(math.cbrt(distance_m / (2 * j)), 0.0, 0.0)


def duration_us(distance_m: float, limits: GivenLimits) -> int:
    """Duration rounded up to whole microseconds; 1e-6 µs of rounding noise does not make it one longer."""
    return math.ceil(round(phases(distance_m, limits).duration_s * 1e6, 6))


def position_m(distance_m: float, time_s: float, limits: GivenLimits) -> float:
    """Where the carrier is at a time after its departure, by adding up the seven phases. [m]"""
    p, j = phases(distance_m, limits), limits.jerk_m_s3
    x = v = a = 0.0
    for length_s, jerk in (
        (p.jerk_s, j),
        (p.steady_s, 0.0),
        (p.jerk_s, -j),
        (p.cruise_s, 0.0),
        (p.jerk_s, -j),
        (p.steady_s, 0.0),
        (p.jerk_s, j),
    ):
        t = min(length_s, time_s)
        x += v * t + a * t**2 / 2 + jerk * t**3 / 6
        v += a * t + jerk * t**2 / 2
        a += jerk * t
        time_s -= t
        if time_s <= 0:
            break
    return x


def covered_us(distance_m: float, part_m: float, limits: GivenLimits) -> int:
    """First whole microsecond in which at least `part_m` of a move are covered (to 1e-12 m)."""
    low, high = 0, duration_us(distance_m, limits)
    while low < high:
        middle = (low + high) // 2
        if position_m(distance_m, middle * 1e-6, limits) >= part_m - 1e-12:
            high = middle
        else:
            low = middle + 1
    return low
