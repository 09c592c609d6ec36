"""How far things give way: the tool point on its guides, a cantilever, a ball on a flat."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from linewright.checks.strength.statics import resultant
from linewright.figures import finite, positive

__all__ = [
    "Cantilever",
    "Contact",
    "Deflection",
    "ball_contact",
    "cantilever_deflection",
    "contact_modulus_Pa",
    "tool_deflection",
]


@dataclass(frozen=True)
class Deflection:
    """How far a point of the carrier gives way: along, across, up; the result of :func:`tool_deflection`. [m]"""

    x_m: float
    y_m: float
    z_m: float


@dataclass(frozen=True)
class Cantilever:
    """A beam held at one end, loaded at the other; the result of :func:`cantilever_deflection`.

    Parameters
    ----------
    second_moment_m4 : of the section. [m⁴]
    deflection_m : of the loaded end. [m]
    slope_rad : of the loaded end. [rad]
    stress_Pa : greatest bending stress, at the held end. [Pa]
    """

    second_moment_m4: float
    deflection_m: float
    slope_rad: float
    stress_Pa: float


@dataclass(frozen=True)
class Contact:
    """A ball pressed on a flat; the result of :func:`ball_contact`.

    Parameters
    ----------
    radius_m : of the circle of contact. [m]
    pressure_Pa : greatest, in its middle. [Pa]
    approach_m : by which ball and flat come nearer. [m]
    """

    radius_m: float
    pressure_Pa: float
    approach_m: float


def tool_deflection(
    force_N: npt.ArrayLike,
    at_m: npt.ArrayLike,
    point_m: tuple[float, float, float],
    spacing_m: float,
    gauge_m: float,
    stiffness_N_m: float,
    side_stiffness_N_m: float,
    servo_stiffness_N_m: float,
    thrust_height_m: float = 0.0,
) -> Deflection:
    """How far a point of a resting carrier gives way under forces: a rigid plate on its blocks and its drive.

    Parameters
    ----------
    force_N : shape (3,) or (n, 3)   Forces on the carrier. [N]
    at_m : the same shape            Where each acts, from the middle between the blocks, in their plane. [m]
    point_m : whose deflection is asked for. [m]
    spacing_m, gauge_m : distance of the blocks along and across the track. [m], > 0
    stiffness_N_m : of one block, pressed on the rail or off it. [N/m], > 0
    side_stiffness_N_m : of one block, across. [N/m], > 0
    servo_stiffness_N_m : of the drive that holds the carrier, along. [N/m], > 0
    thrust_height_m : where the drive holds, over the blocks' plane. [m]

    Returns
    -------
    Deflection   .x_m, .y_m, .z_m

    Raises
    ------
    ValueError   A distance or stiffness is not positive, or a figure is not a finite number.

    Notes
    -----
    With the sums F and M of :func:`~linewright.checks.strength.block_loads`, k a block's stiffness, k_s across, k_x of
    the drive, spacing a, gauge b, thrust height h: the plate turns by θx = Mx/(k b²), θy = (My - h Fx)/(k a²), θz =
    Mz/(k_s a²) and moves by ux = Fx/k_x - h θy, uy = Fy/(4 k_s), uz = Fz/(4 k). A point p gives way by u + θ × p.
    Plate, fixture and track are taken as rigid, the blocks as preloaded without play, springs as linear.

    Source     derived; checked against a linear solve of the 6 × 6 stiffness in tests/property/test_strength_laws.py.
    Examples
    --------
    >>> tool_deflection((0, 0, -400), (0, 0, 0.1), (0, 0, 0.1), 0.1, 0.08, 1e8, 1e8, 1e7)
    Deflection(x_m=0.0, y_m=0.0, z_m=-1e-06)
    """
    figures = {
        "spacing_m": spacing_m,
        "gauge_m": gauge_m,
        "stiffness_N_m": stiffness_N_m,
        "side_stiffness_N_m": side_stiffness_N_m,
        "servo_stiffness_N_m": servo_stiffness_N_m,
    }
    for name, value in figures.items():
        positive(name, value)
    if not all(math.isfinite(value) for value in (*point_m, thrust_height_m)):
        raise ValueError("point_m or thrust_height_m is not a finite number")
    total, moment = resultant(force_N, at_m)
    turn = np.array(
        [
            moment[0] / (stiffness_N_m * gauge_m**2),
            (moment[1] - thrust_height_m * total[0]) / (stiffness_N_m * spacing_m**2),
            moment[2] / (side_stiffness_N_m * spacing_m**2),
        ]
    )
    shift = np.array(
        [
            total[0] / servo_stiffness_N_m - thrust_height_m * turn[1],
            total[1] / (4.0 * side_stiffness_N_m),
            total[2] / (4.0 * stiffness_N_m),
        ]
    )
    x, y, z = (shift + np.cross(turn, np.array(point_m, dtype=np.float64)) + 0.0).tolist()
    return Deflection(x, y, z)


def cantilever_deflection(
    force_N: float, length_m: float, elasticity_Pa: float, width_m: float, thickness_m: float
) -> Cantilever:
    """A flat bar held at one end, with a force at the other.

    Parameters
    ----------
    force_N : at right angles to the flat. [N]
    length_m, width_m, thickness_m : of the bar, the thickness in the direction of the force. [m], > 0
    elasticity_Pa : modulus of elasticity: steel about 210e9, aluminium about 70e9 (from memory). [Pa], > 0

    Raises
    ------
    ValueError   A figure is outside its bounds or not a number.

    Notes      I = w t³/12, deflection F l³/(3 E I), slope F l²/(2 E I), stress F l t/(2 I): small deflections, slender.
    Source     textbook, from memory; checked in tests/reference/test_guides.py.
    Examples
    --------
    >>> bar = cantilever_deflection(500.0, 0.15, 70e9, 0.12, 0.015)
    >>> round(bar.deflection_m * 1e6), round(bar.stress_Pa / 1e6, 1)
    (238, 16.7)
    """
    finite("force_N", force_N)
    figures = {"length_m": length_m, "elasticity_Pa": elasticity_Pa, "width_m": width_m, "thickness_m": thickness_m}
    for name, value in figures.items():
        positive(name, value)
    second = width_m * thickness_m**3 / 12.0
    bending = elasticity_Pa * second
    return Cantilever(
        second_moment_m4=second,
        deflection_m=force_N * length_m**3 / (3.0 * bending),
        slope_rad=force_N * length_m**2 / (2.0 * bending),
        stress_Pa=force_N * length_m * thickness_m / (2.0 * second),
    )


def contact_modulus_Pa(elasticity_Pa: float, poisson: float, rigid: bool = False) -> float:
    """The modulus that counts where two bodies of one material touch, or one touches a rigid body.

    Parameters
    ----------
    elasticity_Pa : of the material. [Pa], > 0
    poisson : ratio of Poisson, > -1 to 0.5
    rigid : the other body does not give way

    Raises
    ------
    ValueError   A figure is outside its bounds.

    Notes      1/E* = 2 (1 - ν²)/E of two equal bodies, (1 - ν²)/E against a rigid one.
    Source     Hertz, in general texts; checked in tests/reference/test_guides.py.
    Examples
    --------
    >>> round(contact_modulus_Pa(200e9, 0.3) / 1e9, 2)
    109.89
    """
    positive("elasticity_Pa", elasticity_Pa)
    if not -1.0 < poisson <= 0.5:
        raise ValueError(f"poisson is {poisson}; it must lie above -1 and at most at 0.5")
    return elasticity_Pa / ((1.0 if rigid else 2.0) * (1.0 - poisson**2))


def ball_contact(force_N: float, radius_m: float, modulus_Pa: float) -> Contact:
    """A ball pressed on a flat.

    Parameters
    ----------
    force_N : [N], > 0
    radius_m : of the ball. [m], > 0
    modulus_Pa : :func:`contact_modulus_Pa`. [Pa], > 0

    Raises
    ------
    ValueError   A figure is not positive.

    Notes      a = (3 F R/(4 E*))^(1/3), p = 3 F/(2 π a²), approach a²/R; elastic, without friction, a small against R.
    Source     Hertz, in general texts; checked in tests/reference/test_guides.py.
    Examples
    --------
    >>> round(ball_contact(500.0, 0.025, contact_modulus_Pa(200e9, 0.3)).pressure_Pa / 1e6)
    1232
    """
    positive("force_N", force_N)
    positive("radius_m", radius_m)
    positive("modulus_Pa", modulus_Pa)
    contact_m = math.cbrt(3.0 * force_N * radius_m / (4.0 * modulus_Pa))
    return Contact(contact_m, 3.0 * force_N / (2.0 * math.pi * contact_m**2), contact_m**2 / radius_m)
