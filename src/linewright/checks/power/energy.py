"""The exact energy of one move over time: what the coils draw and, apart from it, what braking gives back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from linewright.motion.profile import Move, Segment

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class MoveEnergy:
    """Electrical power and energy of one move; the result of :func:`move_energy`.

    Parameters
    ----------
    starts_s : float64[n]       Where each piece starts; power does not change its sign within a piece. [s]
    power : float64[n, 4]       Power over the time since the start of the piece, P0 + P1 τ + P2 τ² + P3 τ³. [W ...]
    net_J, back_J : float64[n + 1]   Drawn less given back, and given back, up to each start and to the end. [J]
    duration_s : of the move. [s]
    peak_W, least_W : greatest and least power; least is negative where something comes back. [W]
    """

    starts_s: Floats
    power: Floats
    net_J: Floats
    back_J: Floats
    duration_s: float
    peak_W: float
    least_W: float

    @property
    def drawn_J(self) -> float:
        """What the whole move draws, what it gives back not taken off. [J]"""
        return float(self.net_J[-1] + self.back_J[-1])

    def net_until_J(self, time_s: Floats) -> Floats:
        """Drawn less given back from departure up to a time, an array of any shape; exact. [J]"""
        return self._until(time_s, self.net_J, None)

    def back_until_J(self, time_s: Floats) -> Floats:
        """Given back from departure up to a time, an array of any shape; exact. [J]"""
        return self._until(time_s, self.back_J, self.back_J[1:] > self.back_J[:-1])

    def _until(self, time_s: Floats, sums_J: Floats, backwards: NDArray[np.bool_] | None) -> Floats:
        times = np.clip(np.asarray(time_s, np.float64), 0.0, self.duration_s)
        if not len(self.starts_s):
            return np.zeros(times.shape)
        piece = np.searchsorted(self.starts_s, times, side="right") - 1
        since, p = times - self.starts_s[piece], self.power[piece]
        grown = since * (p[..., 0] + since * (p[..., 1] / 2.0 + since * (p[..., 2] / 3.0 + since * p[..., 3] / 4.0)))
        if backwards is not None:
            grown = np.where(backwards[piece], -grown, 0.0)
        found: Floats = sums_J[piece] + grown
        return found


def move_energy(
    move: Move, mass_kg: float, friction_N: float, force_constant_N_A: float, resistance_ohm: float
) -> MoveEnergy:
    """What one move draws and gives back over time.

    Parameters
    ----------
    move : its profile
    mass_kg : all that moves. [kg], > 0
    friction_N : drag at any speed. [N], >= 0
    force_constant_N_A : [N/A], > 0
    resistance_ohm : of the coil group at its temperature. [ohm], > 0

    Returns
    -------
    MoveEnergy

    Raises
    ------
    ValueError   A figure is out of its bounds.

    Notes      P = F v + F² R/k² with F = m a + friction. Where the jerk is constant P is a cubic in time, so energy is
               a polynomial of the fourth degree: pieces are cut where the jerk changes and where P passes through 0.
    Source     derived from :func:`linewright.motion.electric.electrical_power_W`; compared with quadrature in tests.
    Examples
    --------
    >>> from linewright.motion import Limits, plan_move
    >>> energy = move_energy(plan_move(1.0, Limits(1.0, 10.0, float("inf"))), 2.0, 2.0, 10.0, 1.0)
    >>> round(energy.peak_W, 9), round(energy.drawn_J, 9), energy.back_J.round(9).tolist()[-1]
    (26.84, 3.44916, 0.60516)
    """
    for name, value in {
        "mass_kg": mass_kg,
        "force_constant_N_A": force_constant_N_A,
        "resistance_ohm": resistance_ohm,
    }.items():
        if not 0.0 < value < math.inf:
            raise ValueError(f"{name} is {value}; it must be finite and positive")
    if not 0.0 <= friction_N < math.inf:
        raise ValueError(f"friction_N is {friction_N}; it must be finite and not negative")
    loss = resistance_ohm / force_constant_N_A**2
    starts: list[float] = []
    power: list[tuple[float, float, float, float]] = []
    net, back = [0.0], [0.0]
    peak_W = least_W = 0.0
    for segment in move.segments:
        cubic = _cubic(segment, mass_kg, friction_N, loss)
        lasts_s = segment.duration_s
        for value in (_at(cubic, since) for since in (0.0, lasts_s, *_turns(cubic, lasts_s))):
            peak_W, least_W = max(peak_W, value), min(least_W, value)
        cuts = [0.0, *_crossings(cubic, lasts_s), lasts_s]
        for low_s, high_s in pairwise(cuts):
            moved = _moved(cubic, low_s)
            energy_J = _energy(moved, high_s - low_s)
            starts.append(segment.start_s + low_s)
            power.append(moved)
            net.append(net[-1] + energy_J)
            back.append(back[-1] + (-energy_J if energy_J < 0.0 else 0.0))
    return MoveEnergy(
        np.array(starts),
        np.array(power).reshape(-1, 4),
        np.array(net),
        np.array(back),
        move.duration_s,
        peak_W,
        least_W,
    )


Cubic = tuple[float, float, float, float]


def _cubic(segment: Segment, mass_kg: float, friction_N: float, loss: float) -> Cubic:
    """Power over the time since the start of a stretch of constant jerk; thrust F0 + F1 τ."""
    v, a, j = segment.speed_m_s, segment.acceleration_m_s2, segment.jerk_m_s3
    f0, f1 = mass_kg * a + friction_N, mass_kg * j
    return (
        f0 * v + loss * f0 * f0,
        f0 * a + f1 * v + 2.0 * loss * f0 * f1,
        0.5 * f0 * j + f1 * a + loss * f1 * f1,
        0.5 * f1 * j,
    )


def _at(p: Cubic, since_s: float) -> float:
    return p[0] + since_s * (p[1] + since_s * (p[2] + since_s * p[3]))


def _energy(p: Cubic, lasts_s: float) -> float:
    return lasts_s * (p[0] + lasts_s * (p[1] / 2.0 + lasts_s * (p[2] / 3.0 + lasts_s * p[3] / 4.0)))


def _moved(p: Cubic, by_s: float) -> Cubic:
    """The same cubic over the time since a later start."""
    return (
        _at(p, by_s),
        p[1] + by_s * (2.0 * p[2] + by_s * 3.0 * p[3]),
        p[2] + 3.0 * by_s * p[3],
        p[3],
    )


def _turns(p: Cubic, lasts_s: float) -> list[float]:
    """Where the power turns within a stretch: roots of its slope."""
    a, b, c = 3.0 * p[3], 2.0 * p[2], p[1]
    if a == 0.0:
        roots = [-c / b] if b != 0.0 else []
    else:
        square = b * b - 4.0 * a * c
        if square < 0.0:
            return []
        half = -0.5 * (b + math.copysign(math.sqrt(square), b))
        roots = [half / a] + ([c / half] if half != 0.0 else [])
    return [root for root in roots if 0.0 < root < lasts_s]


def _crossings(p: Cubic, lasts_s: float) -> list[float]:
    """Where the power passes through nought within a stretch, ascending: between turns, found by halving."""
    marks = [0.0, *sorted(_turns(p, lasts_s)), lasts_s]
    found = []
    for low_s, high_s in pairwise(marks):
        start, end = _at(p, low_s), _at(p, high_s)
        if start * end >= 0.0:
            continue
        for _ in range(200):
            middle = 0.5 * (low_s + high_s)
            if middle in (low_s, high_s):
                break
            if _at(p, middle) * start > 0.0:
                low_s = middle
            else:
                high_s = middle
        found.append(high_s)
    return [one for one in found if 0.0 < one < lasts_s]
