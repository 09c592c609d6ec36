"""One carrier's move: jerk-limited, from rest to rest.

The coordinate runs along the track in the direction of the move, from 0 where it starts to `distance_m` where it ends;
time runs from 0 at departure. A deceleration is stated as a positive figure. One move is two ramps with a cruise
between them: from rest to the peak speed, and from the peak speed to rest.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import overload

import numpy as np
import numpy.typing as npt

from linewright.motion.ramp import Ramp, ramp_of, ramp_time, ramp_times

FloatArray = npt.NDArray[np.float64]

__all__ = [
    "Limits",
    "Move",
    "Segment",
    "move_times",
    "plan_move",
    "times_to_microseconds",
    "to_microseconds",
]


@dataclass(frozen=True, slots=True)
class Limits:
    """What a move may use at most.

    Parameters
    ----------
    speed_m_s : float               Speed. [m/s], > 0
    acceleration_m_s2 : float       Acceleration while speeding up. [m/s²], > 0
    jerk_m_s3 : float               Jerk, either way. [m/s³], > 0; `math.inf` gives the trapezoid of speed
    deceleration_m_s2 : float       While slowing down, positive. [m/s²], > 0; None: the same as the acceleration

    Raises
    ------
    ValueError   A figure is not positive, not a number, or infinite (only the jerk may be).
    """

    speed_m_s: float
    acceleration_m_s2: float
    jerk_m_s3: float
    deceleration_m_s2: float | None = None

    def __post_init__(self) -> None:
        for name in ("speed_m_s", "acceleration_m_s2", "jerk_m_s3", "deceleration_m_s2"):
            value = getattr(self, name)
            if value is None and name == "deceleration_m_s2":
                continue
            if not value > 0.0 or (value == math.inf and name != "jerk_m_s3"):
                raise ValueError(f"{name} is {value}; it must be positive and finite (the jerk may be infinite)")

    @property
    def braking_m_s2(self) -> float:
        """The deceleration that holds: the stated one, else the acceleration. [m/s²]"""
        return self.acceleration_m_s2 if self.deceleration_m_s2 is None else self.deceleration_m_s2


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of constant jerk: its start, its length in time and the state of motion at its start."""

    start_s: float
    duration_s: float
    position_m: float
    speed_m_s: float
    acceleration_m_s2: float
    jerk_m_s3: float


@dataclass(frozen=True)
class Move:
    """One move from rest to rest; the result of :func:`plan_move`.

    Before 0 and after `duration_s` the carrier is at rest at 0 and at `distance_m`: that is the move's own meaning,
    so any time may be asked. Times may be one number or an array of any shape; the answer has the same form.
    """

    distance_m: float
    duration_s: float
    peak_speed_m_s: float
    peak_acceleration_m_s2: float
    peak_deceleration_m_s2: float
    speeding_up: Ramp
    cruise_s: float
    slowing_down: Ramp

    @cached_property
    def segments(self) -> tuple[Segment, ...]:
        """The stretches of constant jerk, at most seven; those of no duration are left out."""
        return _segments(self)

    @cached_property
    def _starts(self) -> list[float]:
        return [segment.start_s for segment in self.segments]

    @overload
    def position_m(self, time_s: float) -> float: ...
    @overload
    def position_m(self, time_s: FloatArray) -> FloatArray: ...
    def position_m(self, time_s: float | FloatArray) -> float | FloatArray:
        """Way covered by a time. [m]"""
        return self._at(time_s, _position, self.distance_m)

    @overload
    def speed_m_s(self, time_s: float) -> float: ...
    @overload
    def speed_m_s(self, time_s: FloatArray) -> FloatArray: ...
    def speed_m_s(self, time_s: float | FloatArray) -> float | FloatArray:
        """Speed at a time. [m/s]"""
        return self._at(time_s, _speed, 0.0)

    @overload
    def acceleration_m_s2(self, time_s: float) -> float: ...
    @overload
    def acceleration_m_s2(self, time_s: FloatArray) -> FloatArray: ...
    def acceleration_m_s2(self, time_s: float | FloatArray) -> float | FloatArray:
        """Acceleration at a time, negative while slowing down; with infinite jerk the value after the step. [m/s²]"""
        return self._at(time_s, _acceleration, 0.0)

    def time_to_cover_s(self, distance_m: float) -> float:
        """The first time at which that distance is covered, to 1e-12 s. [s]

        Parameters
        ----------
        distance_m : float    Way from the start; 0 or less is covered from the first, so that the answer is 0. [m]

        Raises
        ------
        ValueError   The move never covers that distance, or it is not a number.

        Notes    Near the end the time is found from the way still to go, which keeps its digits there.
        """
        if not distance_m <= self.distance_m:
            raise ValueError(f"distance_m is {distance_m}; the move covers {self.distance_m}")
        if distance_m <= 0.0:
            return 0.0
        ramp = self.speeding_up
        if distance_m <= ramp.travel_m:
            return ramp.time_to_cover_s(distance_m)
        togo = self.distance_m - distance_m
        if togo <= self.slowing_down.travel_m:
            return self.duration_s - self.slowing_down.time_to_cover_s(togo)
        return ramp.duration_s + (distance_m - ramp.travel_m) / self.peak_speed_m_s

    def _at(self, time_s: float | FloatArray, form: Callable[..., float], rest: float) -> float | FloatArray:
        if isinstance(time_s, (int, float)):
            if math.isnan(time_s):
                raise ValueError("time_s is not a number")
            if time_s < 0.0 or not self.segments:
                return 0.0
            if time_s >= self.duration_s:
                return rest
            segment = self.segments[bisect_right(self._starts, time_s) - 1]
            return form(
                time_s - segment.start_s,
                segment.position_m,
                segment.speed_m_s,
                segment.acceleration_m_s2,
                segment.jerk_m_s3,
            )
        times = np.asarray(time_s, dtype=np.float64)
        if np.isnan(times).any():
            raise ValueError("time_s holds values that are not numbers")
        values = np.where(times >= self.duration_s, rest, 0.0)
        if self.segments:
            inside = (times >= 0.0) & (times < self.duration_s)
            chosen = np.searchsorted(np.array(self._starts), times[inside], side="right") - 1
            table = np.array(
                [(s.start_s, s.position_m, s.speed_m_s, s.acceleration_m_s2, s.jerk_m_s3) for s in self.segments]
            ).T[:, chosen]
            values[inside] = form(times[inside] - table[0], *table[1:])
        return values if times.ndim else float(values)


def _position(t: float, x: float, v: float, a: float, j: float) -> float:
    return x + t * (v + t * (0.5 * a + t * j / 6.0))


def _speed(t: float, x: float, v: float, a: float, j: float) -> float:
    return v + t * (a + 0.5 * t * j)


def _acceleration(t: float, x: float, v: float, a: float, j: float) -> float:
    return a + t * j


def plan_move(distance_m: float, limits: Limits) -> Move:
    """The quickest move from rest to rest over a distance.

    Parameters
    ----------
    distance_m : float    How far. [m], ≥ 0
    limits : Limits       Speed, acceleration, jerk, deceleration.

    Returns
    -------
    Move   .duration_s, .peak_speed_m_s, .peak_acceleration_m_s2, .peak_deceleration_m_s2, .position_m(t) …

    Raises
    ------
    ValueError   The distance is negative, infinite or not a number.

    Notes
    -----
    Two ramps (see `plan_ramp`) to and from the peak speed v cover D(v) = v (t_up(v) + t_down(v))/2. If D of the
    speed limit is at most the distance d, the rest is cruise. Else D(v) = d; with p the smaller and q the larger of
    acceleration and deceleration, and v = j s²:

    - neither reached, d ≤ 2 p³/j²:    2 j s³ = d
    - the smaller reached, v ≤ q²/j:   s² (j s + p)²/(2 p) = d, so j s² + p s = √(2 p d)
    - both reached:                    v² (1/p + 1/q)/2 + v (p + q)/(2 j) = d

    Every case is closed; quadratics are solved in the form that keeps its digits. Acceleration passes through zero
    at the peak speed with the one jerk limit on either side, so nothing quicker exists from rest to rest.

    Source     derived; the first and third case also in general texts on motion profiles (double-S profile, e.g.
               Biagiotti and Melchiorri 2008, chapter 3, from memory); checked in tests/reference/data/motion.json
               and against an outside library.
    Examples
    --------
    >>> move = plan_move(0.35, Limits(1.85, 14.0, 260.0))
    >>> round(move.duration_s, 8), move.peak_speed_m_s, round(move.position_m(move.duration_s / 2), 12)
    (0.3751782, 1.85, 0.175)
    """
    if not 0.0 <= distance_m < math.inf:
        raise ValueError(f"distance_m is {distance_m}; it must be finite and not negative")
    jerk = limits.jerk_m_s3
    if distance_m == 0.0:
        rest = Ramp(0.0, 0.0, jerk, 0.0, 0.0, 0.0)
        return Move(0.0, 0.0, 0.0, 0.0, 0.0, rest, 0.0, rest)
    up, down = limits.acceleration_m_s2, limits.braking_m_s2
    peak = limits.speed_m_s
    cruise = distance_m / peak - 0.5 * (ramp_time(peak, up, jerk) + ramp_time(peak, down, jerk))
    if cruise < 0.0:
        peak = min(_peak_speed(distance_m, min(up, down), max(up, down), jerk), peak)
        cruise = 0.0
    first = ramp_of(peak, up, jerk)
    last = first if up == down else ramp_of(peak, down, jerk)
    return Move(
        distance_m,
        first.duration_s + cruise + last.duration_s,
        first.speed_m_s,
        first.peak_m_s2,
        last.peak_m_s2,
        first,
        cruise,
        last,
    )


def _peak_speed(d: float, p: float, q: float, j: float) -> float:
    """Peak speed where the speed limit is not reached; the three cases of :func:`plan_move`."""
    if d <= 2.0 * p * (p / j) * (p / j):
        s = math.cbrt(d) / math.cbrt(2.0 * j)
        return j * s * s
    if d <= 0.5 * q * (q / j) * (q / j * (q / p) + p / j + 2.0 * q / j):
        c = math.sqrt(2.0 * p * d)
        s = 2.0 * c / (p + math.sqrt(p * p + 4.0 * j * c))
        return j * s * s
    b = 0.5 * (p + q) / j
    return 2.0 * d / (b + math.sqrt(b * b + 2.0 * (1.0 / p + 1.0 / q) * d))


def move_times(distances_m: npt.ArrayLike, limits: Limits) -> FloatArray:
    """Durations of many moves with the same limits, without a loop.

    Parameters
    ----------
    distances_m : array of any shape    How far. [m], ≥ 0
    limits : Limits

    Returns
    -------
    array of the same shape   Durations. [s]

    Raises
    ------
    ValueError   A distance is negative, infinite or not a number.

    Notes      The cases of :func:`plan_move`.
    Source     as there; a test holds the two together.
    Examples
    --------
    >>> move_times([0.0, 0.35], Limits(1.85, 14.0, 260.0)).round(8).tolist()
    [0.0, 0.3751782]
    """
    d = np.asarray(distances_m, dtype=np.float64)
    if not (np.isfinite(d) & (d >= 0.0)).all():
        raise ValueError("distances_m must be finite and not negative")
    j, up, down = limits.jerk_m_s3, limits.acceleration_m_s2, limits.braking_m_s2
    p, q = min(up, down), max(up, down)
    s = np.cbrt(d) / np.cbrt(2.0 * j)
    root = np.sqrt(2.0 * p * d)
    if math.isfinite(j):
        s = np.where(d <= 2.0 * p * (p / j) * (p / j), s, 2.0 * root / (p + np.sqrt(p * p + 4.0 * j * root)))
        below = d <= 0.5 * q * (q / j) * (q / j * (q / p) + p / j + 2.0 * q / j)
    else:
        below = np.zeros(d.shape, dtype=bool)
    b = 0.5 * (p + q) / j
    nothing = d == 0.0
    both = 2.0 * d / (b + np.sqrt(b * b + 2.0 * (1.0 / p + 1.0 / q) * np.where(nothing, 1.0, d)))
    peak = np.where(below, j * s * s if math.isfinite(j) else 0.0, both)
    speed = limits.speed_m_s
    reached = d / speed >= 0.5 * (ramp_time(speed, up, j) + ramp_time(speed, down, j))
    peak = np.where(reached, speed, np.minimum(peak, speed))
    ramps = ramp_times(peak, up, j) + ramp_times(peak, down, j)
    cruise = np.where(reached, d / speed - 0.5 * ramps, 0.0)
    return np.asarray(np.where(nothing, 0.0, ramps + cruise))


def to_microseconds(time_s: float) -> int:
    """A duration as the plan holds it: up to whole microseconds, once.

    Parameters
    ----------
    time_s : float    Duration. [s], ≥ 0, finite

    Returns
    -------
    int   ceil(10⁶ t - 10⁻³): computed times are good to 1e-9 s, so less than that above a whole microsecond is none.

    Raises
    ------
    ValueError   The time is negative, infinite or not a number.

    Source     the project's own rule, docs/semantics.md, "Places and moves".
    Examples
    --------
    >>> to_microseconds(0.3), to_microseconds(0.1 + 0.2), to_microseconds(0.3000001)
    (300000, 300000, 300001)
    """
    if not 0.0 <= time_s < math.inf:
        raise ValueError(f"time_s is {time_s}; it must be finite and not negative")
    return math.ceil(time_s * 1e6 - 1e-3)


def times_to_microseconds(times_s: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """:func:`to_microseconds` of an array, the same shape; the same rounding and the same errors.

    Examples
    --------
    >>> times_to_microseconds([0.3, 0.3000001]).tolist()
    [300000, 300001]
    """
    times = np.asarray(times_s, dtype=np.float64)
    if not (np.isfinite(times) & (times >= 0.0)).all():
        raise ValueError("times_s must be finite and not negative")
    return np.ceil(times * 1e6 - 1e-3).astype(np.int64)


def _segments(move: Move) -> tuple[Segment, ...]:
    """Speeding up from the start onwards, slowing down from the end backwards, so that both ends are exact."""
    up, down = move.speeding_up, move.slowing_down
    v, found = move.peak_speed_m_s, []

    def add(start: float, duration: float, position: float, speed: float, acceleration: float, jerk: float) -> None:
        if duration > 0.0:
            found.append(Segment(start, duration, position, speed, acceleration, jerk))

    tj, th, a = up.jerk_time_s, up.hold_time_s, up.peak_m_s2
    add(0.0, tj, 0.0, 0.0, 0.0, up.jerk_m_s3)
    v1, x1 = 0.5 * a * tj, a * tj * tj / 6.0
    add(tj, th, x1, v1, a, 0.0)
    add(tj + th, tj, x1 + th * (v1 + 0.5 * a * th), v - v1, a, -up.jerk_m_s3)
    add(up.duration_s, move.cruise_s, up.travel_m, v, 0.0, 0.0)
    tj, th, a, end, d = down.jerk_time_s, down.hold_time_s, down.peak_m_s2, move.duration_s, move.distance_m
    v1, x1 = 0.5 * a * tj, a * tj * tj / 6.0
    add(end - down.duration_s, tj, d - down.travel_m, v, 0.0, -down.jerk_m_s3)
    add(end - tj - th, th, d - x1 - th * (v1 + 0.5 * a * th), v1 + a * th, -a, 0.0)
    add(end - tj, tj, d - x1, v1, -a, down.jerk_m_s3)
    return tuple(found)
