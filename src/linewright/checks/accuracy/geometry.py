"""Where a tool point goes when its carrier turns, gives way under a force, or grows with the temperature."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class PlateDeflection:
    """How a carrier gives way under one force; the result of :func:`plate_deflection`.

    Attributes
    ----------
    shift_m : shape (3,), of the middle between the blocks, along, across, up. [m]
    turn_rad : shape (3,), about along (roll), across (pitch), up (yaw), right-handed. [rad]
    """

    shift_m: NDArray[np.float64]
    turn_rad: NDArray[np.float64]

    def at(self, point_m: Sequence[float]) -> NDArray[np.float64]:
        """Displacement of a point, counted from the middle between the blocks: shift + turn × point. [m]"""
        return self.shift_m + np.cross(self.turn_rad, np.asarray(point_m, np.float64))


def abbe_error_m(lever_m: float, angle_rad: float) -> float:
    """What a turn does to a point beside its axis: lever × sin(angle). [m]

    Raises
    ------
    ValueError   A number is not finite.

    Notes      Signed as its arguments are. For the small turns of a guided carrier sin(angle) = angle.
    Source     The Abbe principle, read; checked in tests/reference/data/accuracy.json.

    Examples
    --------
    >>> round(abbe_error_m(0.050, math.radians(1 / 3600)) * 1e6, 2)
    0.24
    """
    _finite(lever_m=lever_m, angle_rad=angle_rad)
    return lever_m * math.sin(angle_rad)


def cosine_error_m(length_m: float, angle_rad: float) -> float:
    """What is missing along a direction when a length lies at an angle to it: length (1 - cos(angle)). [m]

    Raises
    ------
    ValueError   A number is not finite.

    Notes      Written as 2 length sin²(angle/2), which keeps its digits at small angles.
    Source     Geometry.

    Examples
    --------
    >>> round(cosine_error_m(0.5, math.radians(0.2)) * 1e6, 3)
    3.046
    """
    _finite(length_m=length_m, angle_rad=angle_rad)
    return 2.0 * length_m * math.sin(0.5 * angle_rad) ** 2


def thermal_growth_m(length_m: float, expansion_1_K: float, change_K: float) -> float:
    """Growth of a length with the temperature: expansion × length × change; negative where it shrinks. [m]

    Raises
    ------
    ValueError   A number is not finite.

    Notes      Of two bodies that are fixed to each other at one point, put the difference of their expansions in.
    Source     Definition of the coefficient; values of metals in tests/reference/data/accuracy.json.

    Examples
    --------
    >>> round(thermal_growth_m(1.0, 11.5e-6, 5.0) * 1e6, 3)
    57.5
    """
    _finite(length_m=length_m, expansion_1_K=expansion_1_K, change_K=change_K)
    return expansion_1_K * length_m * change_K


def play_at_m(play_m: float, point_m: Sequence[float], spacing_m: float, gauge_m: float) -> NDArray[np.float64]:
    """How far the play of four guide blocks lets a point of the carrier go, along, across and up, plus and minus.

    Parameters
    ----------
    play_m : of each block, plus and minus, across and up, >= 0. [m]
    point_m : shape (3,), counted from the middle between the blocks. [m]
    spacing_m, gauge_m : distance of the blocks along and across the track, > 0. [m]

    Returns
    -------
    array of shape (3,)   Half widths along, across and up. [m]

    Raises
    ------
    ValueError   A distance is not positive, or the play is negative.

    Notes
    -----
    A rigid carrier, each block anywhere within its play p, at (±a/2, ±b/2). Across: t ± yaw a/2 within ±p. Up: c ±
    pitch a/2 ± roll b/2 within ±p. The greatest displacements of the point (x, y, z) under these are

    along p (2 abs(y)/a + 2 abs(z)/a), across p (max(1, 2 abs(x)/a) + 2 abs(z)/b), up p max(1, 2 abs(x)/a, 2 abs(y)/b).

    Source
    ------
    Own derivation: a linear form over the set of placings takes its greatest value at a corner of that set.

    Examples
    --------
    >>> [round(float(v) * 1e6, 3) for v in play_at_m(10e-6, (0.0, 0.0, 0.1), 0.1, 0.1)]
    [20.0, 30.0, 10.0]
    """
    _finite(play_m=play_m, spacing_m=spacing_m, gauge_m=gauge_m)
    if play_m < 0.0:
        raise ValueError(f"play_m is {play_m}; it is not negative")
    _positive(spacing_m=spacing_m, gauge_m=gauge_m)
    x, y, z = (abs(float(value)) for value in point_m)
    a, b = 0.5 * spacing_m, 0.5 * gauge_m
    return play_m * np.array([(y + z) / a, max(1.0, x / a) + z / b, max(1.0, x / a, y / b)])


def plate_deflection(
    force_N: Sequence[float],
    at_m: Sequence[float],
    spacing_m: float,
    gauge_m: float,
    stiffness_N_m: float,
    side_stiffness_N_m: float,
    thrust_height_m: float = 0.0,
    servo_stiffness_N_m: float = math.inf,
) -> PlateDeflection:
    """How a rigid carrier on four springy guide blocks gives way under one force.

    x runs along the track, y across to the left, z up; all points are counted from the middle between the blocks.

    Parameters
    ----------
    force_N : shape (3,), on the carrier. [N]
    at_m : shape (3,), where it acts. [m]
    spacing_m, gauge_m : distance of the blocks along and across the track, > 0. [m]
    stiffness_N_m : of one block, pressed on the rail or off it, > 0. [N/m]
    side_stiffness_N_m : of one block, across, > 0. [N/m]
    thrust_height_m : where the thrust acts, over the blocks' plane. [m]
    servo_stiffness_N_m : of the carrier held at rest, along, at that height, > 0; infinite: it does not give way. [N/m]

    Returns
    -------
    PlateDeflection

    Raises
    ------
    ValueError   A distance or a stiffness is not positive, or a number is not finite.

    Notes
    -----
    Blocks do not hold along, and each holds up and across by a spring of its own, without play. With F at (x, y, z),
    the thrust -Fx at height t, k up and q across of one block, a and b its distances:

    uz = Fz/(4 k), uy = Fy/(4 q), roll = (y Fz - z Fy)/(k b²), pitch = ((z - t) Fx - x Fz)/(k a²),
    yaw = (x Fy - y Fx)/(q a²), ux = Fx/(servo stiffness) - t pitch.

    Source
    ------
    Statics of a rigid plate on equal springs, own derivation; checked against a linear solve of the six equations of
    equilibrium in tests/unit/checks/test_accuracy_geometry.py.

    Examples
    --------
    >>> d = plate_deflection((0, 0, -400), (0.025, 0, 0), 0.1, 0.1, 1e8, 1e8)
    >>> [float(round(v * 1e6, 3)) for v in (d.shift_m[2], d.turn_rad[1], d.at((0.025, 0, 0))[2])]
    [-1.0, 10.0, -1.25]
    """
    _positive(
        spacing_m=spacing_m,
        gauge_m=gauge_m,
        stiffness_N_m=stiffness_N_m,
        side_stiffness_N_m=side_stiffness_N_m,
        servo_stiffness_N_m=servo_stiffness_N_m,
    )
    fx, fy, fz = (float(value) for value in force_N)
    x, y, z = (float(value) for value in at_m)
    _finite(along_N=fx, across_N=fy, up_N=fz, x_m=x, y_m=y, z_m=z, thrust_height_m=thrust_height_m)
    roll = (y * fz - z * fy) / (stiffness_N_m * gauge_m**2)
    pitch = ((z - thrust_height_m) * fx - x * fz) / (stiffness_N_m * spacing_m**2)
    yaw = (x * fy - y * fx) / (side_stiffness_N_m * spacing_m**2)
    along_m = fx / servo_stiffness_N_m - thrust_height_m * pitch
    shift_m = np.array([along_m, fy / (4.0 * side_stiffness_N_m), fz / (4.0 * stiffness_N_m)])
    return PlateDeflection(shift_m, np.array([roll, pitch, yaw]))


def _finite(**values: float) -> None:
    for name, value in values.items():
        if not math.isfinite(value):
            raise ValueError(f"{name} is {value}; it must be a finite number")


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0:
            raise ValueError(f"{name} is {value}; it must be above zero")
