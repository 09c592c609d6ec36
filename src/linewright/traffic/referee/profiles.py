"""Moves integrated anew: from the limits of a leg to its position, speed and acceleration as piecewise cubics.

Nothing here is taken from the moves that the plan was made of: the peak speed is found by halving, the seven stretches
of constant jerk are integrated one after the other from rest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.motion.profile import Limits

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

STRETCHES: Final = 7
HALVINGS: Final = 200


@dataclass(frozen=True)
class Profile:
    """One move from rest to rest as stretches of constant jerk.

    Parameters
    ----------
    starts_s : shape (8,)   When each stretch begins, and when the last ends; the first at 0. [s]
    position_m, speed_m_s, acceleration_m_s2, jerk_m_s3 : shape (7,)   At the start of each stretch.
    distance_m : where it ends. [m]
    limits : what it may use
    """

    starts_s: tuple[float, ...]
    position_m: tuple[float, ...]
    speed_m_s: tuple[float, ...]
    acceleration_m_s2: tuple[float, ...]
    jerk_m_s3: tuple[float, ...]
    distance_m: float
    limits: Limits

    @property
    def duration_s(self) -> float:
        """From departure to rest. [s]"""
        return self.starts_s[-1]

    @property
    def peaks(self) -> tuple[float, float, float]:
        """Greatest speed, acceleration either way and jerk either way. [m/s], [m/s²], [m/s³]"""
        # Speed is greatest where the acceleration passes zero: at the start of the cruise.
        accelerations = max(abs(a) for a in self.acceleration_m_s2)
        used = [abs(j) for k, j in enumerate(self.jerk_m_s3) if self.starts_s[k + 1] > self.starts_s[k]]
        return max(self.speed_m_s), accelerations, max(used, default=0.0)


def ramp(speed_m_s: float, acceleration_m_s2: float, jerk_m_s3: float) -> tuple[float, float]:
    """A change of speed from or to rest: the time of each of its two changes of acceleration, and of the hold. [s]"""
    if math.isinf(jerk_m_s3):
        return 0.0, speed_m_s / acceleration_m_s2
    if speed_m_s * jerk_m_s3 >= acceleration_m_s2**2:
        change = acceleration_m_s2 / jerk_m_s3
        return change, speed_m_s / acceleration_m_s2 - change
    return math.sqrt(speed_m_s / jerk_m_s3), 0.0


def integrate(distance_m: float, limits: Limits) -> Profile:
    """The quickest move over a distance within limits, integrated from rest.

    Parameters
    ----------
    distance_m : how far. [m], > 0
    limits : speed, acceleration, deceleration and (finite) jerk

    Raises
    ------
    ValueError   The integrated move does not come to rest where it should.

    Notes      A ramp to the speed v takes the time T(v) and covers v T(v)/2, as it is point-symmetric; so two ramps
               cover v (T_up + T_down)/2, which grows with v. Where that is more than the distance at the speed limit,
               the peak speed is found by halving.
    Source     docs/semantics.md, Places and moves: one move is one profile from rest to rest.
    """
    jerk, up, down = limits.jerk_m_s3, limits.acceleration_m_s2, limits.braking_m_s2

    def ramps_m(speed: float) -> float:
        (one, held), (other, braked) = ramp(speed, up, jerk), ramp(speed, down, jerk)
        return 0.5 * speed * (2.0 * one + held + 2.0 * other + braked)

    peak = limits.speed_m_s
    if ramps_m(peak) > distance_m:
        low, high = 0.0, peak
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if ramps_m(middle) <= distance_m else (low, middle)
        peak = low
    cruise = max(distance_m - ramps_m(peak), 0.0) / peak
    (first, held), (last, braked) = ramp(peak, up, jerk), ramp(peak, down, jerk)
    lengths = (first, held, first, cruise, last, braked, last)
    jerks = (jerk, 0.0, -jerk, 0.0, -jerk, 0.0, jerk)
    state = (0.0, 0.0, 0.0)
    starts, states = [0.0], []
    for length, j in zip(lengths, jerks, strict=True):
        states.append(state)
        starts.append(starts[-1] + length)
        x, v, a = state
        state = (
            x + length * (v + length * (a / 2.0 + length * j / 6.0)),
            v + length * (a + length * j / 2.0),
            a + length * j,
        )
    off = abs(state[0] - distance_m), abs(state[1]), abs(state[2])
    if not all(error <= 1e-9 * max(scale, 1.0) for error, scale in zip(off, (distance_m, peak, up), strict=True)):
        raise ValueError(f"a move over {distance_m} m integrates to {state[0]} m at {state[1]} m/s, {state[2]} m/s²")
    columns = [tuple(s[k] for s in states) for k in range(3)]
    return Profile(tuple(starts), columns[0], columns[1], columns[2], jerks, distance_m, limits)


@dataclass(frozen=True, eq=False)
class ProfileTable:
    """Several profiles as arrays, P of them. Shapes (P, 8) and (P, 7); see `Profile`."""

    starts_s: Floats
    position_m: Floats
    speed_m_s: Floats
    acceleration_m_s2: Floats
    jerk_m_s3: Floats
    distance_m: Floats

    def position(self, number: Ints, time_s: Floats) -> Floats:
        """Way covered a time after departure, of the profile of each number. [m]"""
        return self.state(number, time_s)[0]

    def state(self, number: Ints, time_s: Floats) -> tuple[Floats, Floats, Floats]:
        """Position, speed and acceleration a time after departure; before and after the move at rest."""
        duration = self.starts_s[number, -1]
        inside = np.clip(time_s, 0.0, duration)
        k = self.stretch(number, inside)
        t = inside - self.starts_s[number, k]
        x, v, a, j = self.at(number, k, t)
        moving = (time_s > 0.0) & (time_s < duration)
        x = np.where(time_s >= duration, self.distance_m[number], x)
        return np.where(time_s <= 0.0, 0.0, x), np.where(moving, v, 0.0), np.where(moving, a, 0.0) + 0.0 * j

    def stretch(self, number: Ints, time_s: Floats) -> Ints:
        """Which of its stretches a move is in at a time."""
        k = np.zeros(np.shape(time_s), np.int64)
        for start in range(1, STRETCHES):
            k += time_s >= self.starts_s[number, start]
        return k

    def at(self, number: Ints, k: Ints, t: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """The cubic of a stretch a time after the stretch begins: position, speed, acceleration, jerk."""
        x, v, a, j = (
            self.position_m[number, k],
            self.speed_m_s[number, k],
            self.acceleration_m_s2[number, k],
            self.jerk_m_s3[number, k],
        )
        return (
            x + t * (v + t * (a / 2.0 + t * j / 6.0)),
            v + t * (a + t * j / 2.0),
            a + t * j,
            j,
        )

    def time_to_cover(self, number: Ints, way_m: Floats) -> Floats:
        """When a way is covered; 0 for none, the move's end for all of it. [s]

        Notes      By halving: the way covered never falls with time.
        """
        low = np.zeros(np.shape(way_m))
        high = np.broadcast_to(self.starts_s[number, -1], np.shape(way_m)).copy()
        for _ in range(60):
            middle = 0.5 * (low + high)
            short = self.position(number, middle) < way_m
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        return np.where(way_m <= 0.0, 0.0, high)


def table_of(profiles: list[Profile]) -> ProfileTable:
    """The arrays of some profiles, in their order."""

    def column(name: str, width: int) -> Floats:
        return np.array([getattr(one, name) for one in profiles], np.float64).reshape(len(profiles), width)

    return ProfileTable(
        column("starts_s", STRETCHES + 1),
        column("position_m", STRETCHES),
        column("speed_m_s", STRETCHES),
        column("acceleration_m_s2", STRETCHES),
        column("jerk_m_s3", STRETCHES),
        np.array([one.distance_m for one in profiles], np.float64),
    )


def up_to_us(time_s: float) -> int:
    """A duration up to whole microseconds; less than a thousandth above one is none (docs/semantics.md). [us]"""
    return math.ceil(time_s * 1e6 - 1e-3)
