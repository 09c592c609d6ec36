"""Thrust over whole moves and heat over time: root mean square, first-order warming, the worst stretch of time."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from linewright.motion.profile import Move

FloatArray = npt.NDArray[np.float64]

__all__ = ["filtered_heat_W", "rms_thrust_N", "squared_acceleration_m2_s3", "window_means_W"]


def squared_acceleration_m2_s3(move: Move) -> float:
    """Integral of the squared acceleration over a move. [m²/s³]

    Parameters
    ----------
    move : its profile

    Notes      Exact: on a stretch of constant jerk from a0 to a1 in the time T it is T (a0² + a0 a1 + a1²)/3. For a
               move that reaches its acceleration a and its speed v, each ramp gives a² (2/3 tj + tc), with tj = a/j and
               tc = v/a - tj.
    Source     derived; checked in tests/reference/data/motion_limits.json.
    Examples
    --------
    >>> from linewright.motion import Limits, plan_move
    >>> round(squared_acceleration_m2_s3(plan_move(0.4, Limits(1.0, 10.0, 100.0))), 9)
    13.333333333
    """
    total = 0.0
    for s in move.segments:
        first, last = s.acceleration_m_s2, s.acceleration_m_s2 + s.duration_s * s.jerk_m_s3
        total += s.duration_s * (first * first + first * last + last * last) / 3.0
    return total


def rms_thrust_N(move: Move, mass_kg: float, friction_N: float, cycle_s: float | None = None) -> float:
    """Root mean square of the thrust of one move, over the move alone or with rest.

    Parameters
    ----------
    move : its profile
    mass_kg : all that moves. [kg], > 0
    friction_N : drag at any speed, against the motion. [N], >= 0
    cycle_s : time from one such move to the next. [s], >= its duration; None: no rest at all

    Returns
    -------
    float   [N]; 0 for a move over no distance that takes no time

    Raises
    ------
    ValueError   A figure is outside its bounds or not a number.

    Notes      F = m a + friction while it moves, 0 at rest. From rest to rest the integral of a is 0, so that of F² is
               m² times that of a² plus friction² times the duration.
    Source     F_rms = √(Σ F² t / cycle), read in a motor maker's calculator; tests/reference/data/motion_limits.json.
    Examples
    --------
    >>> from linewright.motion import Limits, plan_move
    >>> round(rms_thrust_N(plan_move(0.4, Limits(1.0, 10.0, float("inf"))), 8.0, 12.0, 1.0), 6)
    36.769553
    """
    if not 0.0 < mass_kg < math.inf:
        raise ValueError(f"mass_kg is {mass_kg}; it must be finite and positive")
    if not 0.0 <= friction_N < math.inf:
        raise ValueError(f"friction_N is {friction_N}; it must be finite and not negative")
    whole_s = move.duration_s if cycle_s is None else cycle_s
    if not move.duration_s <= whole_s < math.inf:
        raise ValueError(f"cycle_s is {cycle_s}; it must be finite and no less than the move, {move.duration_s} s")
    if whole_s == 0.0:
        return 0.0
    squares = mass_kg**2 * squared_acceleration_m2_s3(move) + friction_N**2 * move.duration_s
    return math.sqrt(squares / whole_s)


def filtered_heat_W(heat_W: FloatArray, bin_s: FloatArray, thermal_time_s: float, start_W: FloatArray) -> FloatArray:
    """Heat as the winding's temperature follows it: first order, at the end of each bin.

    Parameters
    ----------
    heat_W : shape (bins, ...)   Mean heat in each bin; constant within it. [W]
    bin_s : shape (bins,)        Length of each. [s], > 0
    thermal_time_s : time constant. [s], > 0
    start_W : shape (...)        Value at the start of the first bin. [W]

    Returns
    -------
    float64, shape (bins, ...)   [W]; in a bin the value goes one way only, so its greatest is at an end of one.

    Raises
    ------
    ValueError   A time is not positive, or a figure is not a number.

    Notes      thermal_time dH/dt = P - H, so H1 = P + (H0 - P) exp(-bin/thermal_time): exact. The rise of the winding's
               temperature is H times its thermal resistance.
    Source     textbook (one thermal mass); tests/reference/data/motion_limits.json and an ODE solver hold it.
    Examples
    --------
    >>> filtered_heat_W(np.array([80.0, 0.0]), np.array([600.0, 600.0]), 600.0, np.array(0.0)).round(4).tolist()
    [50.5696, 18.6035]
    """
    heat, lengths = np.asarray(heat_W, np.float64), np.asarray(bin_s, np.float64)
    if not 0.0 < thermal_time_s < math.inf:
        raise ValueError(f"thermal_time_s is {thermal_time_s}; it must be finite and positive")
    if lengths.shape != heat.shape[:1] or not (np.isfinite(lengths) & (lengths > 0.0)).all():
        raise ValueError("bin_s must hold one positive time for each bin")
    if not (np.isfinite(heat).all() and np.isfinite(start_W).all()):
        raise ValueError("heat_W or start_W holds a value that is not a finite number")
    kept = np.exp(-lengths / thermal_time_s)
    now = np.asarray(start_W, np.float64)
    after = np.empty_like(heat)
    for number in range(len(heat)):
        now = heat[number] + (now - heat[number]) * kept[number]
        after[number] = now
    return after


def window_means_W(heat_W: FloatArray, bin_s: FloatArray, window: int) -> FloatArray:
    """The means over all stretches of so many bins in succession; over all bins where there are fewer.

    Parameters
    ----------
    heat_W : shape (bins, ...)   Mean heat in each bin. [W]
    bin_s : shape (bins,)        Length of each. [s], > 0
    window : bins in succession, >= 1

    Returns
    -------
    float64, shape (stretches, ...)   [W]

    Raises
    ------
    ValueError   The window holds no bin, or a time is not positive.

    Examples
    --------
    >>> window_means_W(np.array([1.0, 5.0, 3.0, 0.0]), np.full(4, 60.0), 2).tolist()
    [3.0, 4.0, 1.5]
    """
    heat, lengths = np.asarray(heat_W, np.float64), np.asarray(bin_s, np.float64)
    if window < 1:
        raise ValueError(f"window is {window}; it must be at least 1")
    if lengths.shape != heat.shape[:1] or not (np.isfinite(lengths) & (lengths > 0.0)).all():
        raise ValueError("bin_s must hold one positive time for each bin")
    size = min(window, len(heat))
    energy = np.concatenate((np.zeros((1, *heat.shape[1:])), np.cumsum((heat.T * lengths).T, axis=0)))
    time = np.concatenate(((0.0,), np.cumsum(lengths)))
    return np.asarray(((energy[size:] - energy[:-size]).T / (time[size:] - time[:-size])).T, np.float64)
