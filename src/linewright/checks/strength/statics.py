"""Statics of one carrier on its four guide blocks, under any number of forces.

x runs along the track, positive in the direction of travel, y across it to the left, z up. Points are counted from the
middle between the blocks, in the plane of the blocks. Forces are those that act on the carrier.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from linewright.figures import finite, not_negative, positive
from linewright.motion.limits import STANDARD_GRAVITY_M_S2

FloatArray = npt.NDArray[np.float64]

BLOCKS: Final = ("front-left", "front-right", "rear-left", "rear-right")
_ALONG: Final = np.array([1.0, 1.0, -1.0, -1.0])
_ACROSS: Final = np.array([1.0, -1.0, 1.0, -1.0])


@dataclass(frozen=True, eq=False)
class BlockLoads:
    """What forces do to the four blocks; the result of :func:`block_loads`. Order: :data:`BLOCKS`.

    Parameters
    ----------
    normal_N : shape (4,)    Positive where the block presses on the rail, negative where it lifts. [N]
    lateral_N : shape (4,)   Positive where the block pushes its rail to the left. [N]
    along_N : what the thrust must hold: all forces along the track together, positive in the direction of travel. [N]
    """

    normal_N: FloatArray
    lateral_N: FloatArray
    along_N: float

    @property
    def uplift(self) -> bool:
        """Whether a block is pulled off its rail, so that only its grip round the rail holds it."""
        return bool(self.normal_N.min() < -1e-9 * max(1.0, float(np.abs(self.normal_N).max())))

    @property
    def equivalent_N(self) -> FloatArray:
        """Each block's load as life and static safety count it, shape (4,): \\|normal\\| + \\|lateral\\|. [N]"""
        return np.abs(self.normal_N) + np.abs(self.lateral_N)

    @property
    def worst(self) -> str:
        """Name of the block that carries most; of equal ones the first."""
        return BLOCKS[int(np.argmax(np.round(self.equivalent_N, 9)))]


@dataclass(frozen=True)
class Body:
    """A mass that rides on the carrier.

    Parameters
    ----------
    mass_kg : [kg], >= 0
    height_m : of its mass centre over the blocks' plane, negative below. [m]
    """

    mass_kg: float
    height_m: float


@dataclass(frozen=True, eq=False)
class Forces:
    """Forces and where they act; the result of :func:`body_loads`.

    Parameters
    ----------
    force_N : shape (n, 3)   [N]
    at_m : shape (n, 3)      From the middle between the blocks. [m]
    """

    force_N: FloatArray
    at_m: FloatArray


def block_loads(
    force_N: npt.ArrayLike,
    at_m: npt.ArrayLike,
    spacing_m: float,
    gauge_m: float,
    thrust_height_m: float = 0.0,
) -> BlockLoads:
    """Loads on the four guide blocks of one carrier under any number of forces at points in space.

    x runs along the track, y across to the left, z up; a block load is positive when it presses on the rail.

    Parameters
    ----------
    force_N : shape (3,) or (n, 3)   Forces on the carrier; none at all gives no load. [N]
    at_m : the same shape            Where each acts, from the middle between the blocks, in their plane. [m]
    spacing_m, gauge_m : distance of the blocks along and across the track. [m], > 0
    thrust_height_m : of the thrust, which holds what acts along, over the blocks' plane; negative below. [m]

    Returns
    -------
    BlockLoads   .normal_N, .lateral_N, shape (4,), order front-left, front-right, rear-left, rear-right; .along_N;
                 .uplift

    Raises
    ------
    ValueError   A distance is not positive, shapes do not go together, or a figure is not a finite number.

    Notes
    -----
    Statics of four equal springs under a rigid plate. With the sums F of the forces and M of r × F, spacing a, gauge b,
    thrust height h, and the signs s = ±1 (+ front), t = ±1 (+ left) of a block:

    - the thrust adds -Fx at height h, so that the pitching moment is My' = My - h Fx
    - normal: N = -Fz/4 + s My'/(2a) - t Mx/(2b)
    - lateral: L = Fy/4 + s Mz/(2a)

    Turned about the vertical by a small angle the blocks move sideways in proportion to their x; they slide freely
    along, so the yaw moment is shared by the sideways stiffness of the four alone, which is equal: hence Mz/(2a). For a
    force F down at (x, y) the normal load is F/4 ± F x/(2a) ± F y/(2b).

    Source     the formula for a force down: a general catalogue of linear guides, read; the rest derived from
               equilibrium; checked in tests/reference/test_guides.py and against a linear solve of the whole stiffness.
    Examples
    --------
    >>> block_loads((0, 0, -400), (0, 0, 0), 0.1, 0.08).normal_N.round(6).tolist()
    [100.0, 100.0, 100.0, 100.0]
    >>> loads = block_loads([(0, 0, -400), (30, 0, 0)], [(0.02, 0, 0), (0, 0.01, 0.05)], 0.1, 0.08)
    >>> loads.normal_N.round(6).tolist(), loads.lateral_N.round(6).tolist(), loads.along_N, loads.uplift
    ([147.5, 147.5, 52.5, 52.5], [-1.5, -1.5, 1.5, 1.5], 30.0, False)
    """
    positive("spacing_m", spacing_m)
    positive("gauge_m", gauge_m)
    finite("thrust_height_m", thrust_height_m)
    total, moment = resultant(force_N, at_m)
    pitch = moment[1] - thrust_height_m * total[0]
    normal = -total[2] / 4 + _ALONG * pitch / (2 * spacing_m) - _ACROSS * moment[0] / (2 * gauge_m)
    lateral = total[1] / 4 + _ALONG * moment[2] / (2 * spacing_m)
    return BlockLoads(normal, lateral, float(total[0]))


def body_loads(
    bodies: tuple[Body, ...],
    attraction_N: float,
    thrust_height_m: float,
    acceleration_m_s2: tuple[float, float, float] = (0.0, 0.0, 0.0),
    friction_N: float = 0.0,
) -> Forces:
    """The forces that a carrier has of itself: weight, inertia, magnet attraction and the drag of its guides.

    Parameters
    ----------
    bodies : carrier, fixture, parts; each with its mass centre over the middle of the carrier
    attraction_N : of the magnets, down on the track at the middle, at the height of the thrust. [N], >= 0
    thrust_height_m : over the blocks' plane. [m]
    acceleration_m_s2 : of the carrier along, across, up; in a curve across is v²/r towards its middle. [m/s²]
    friction_N : drag, acting in the blocks' plane; positive forward, so that it is negative on the way forward. [N]

    Returns
    -------
    Forces   To be given to :func:`block_loads`, together with the forces of tools.

    Raises
    ------
    ValueError   A mass or the attraction is negative, or a figure is not a finite number.

    Notes      Weight m g down and inertia -m a at each mass centre (d'Alembert); g = 9.80665 m/s².
    Source     Newton.
    Examples
    --------
    >>> forces = body_loads((Body(12.0, 0.12),), 200.0, -0.01, (10.0, 0.0, 0.0))
    >>> forces.force_N.round(4).tolist(), forces.at_m.tolist()
    ([[-120.0, 0.0, -117.6798], [0.0, 0.0, -200.0]], [[0.0, 0.0, 0.12], [0.0, 0.0, -0.01]])
    """
    finite("thrust_height_m", thrust_height_m)
    finite("friction_N", friction_N)
    not_negative("attraction_N", attraction_N)
    for axis in acceleration_m_s2:
        finite("acceleration_m_s2", axis)
    forces, points = [], []
    along, across, up = acceleration_m_s2
    for body in bodies:
        not_negative("mass_kg", body.mass_kg)
        finite("height_m", body.height_m)
        mass = body.mass_kg
        forces.append((-mass * along, -mass * across, -mass * (STANDARD_GRAVITY_M_S2 + up)))
        points.append((0.0, 0.0, body.height_m))
    forces.append((0.0, 0.0, -attraction_N))
    points.append((0.0, 0.0, thrust_height_m))
    if friction_N != 0.0:
        forces.append((friction_N, 0.0, 0.0))
        points.append((0.0, 0.0, 0.0))
    return Forces(np.array(forces, dtype=np.float64) + 0.0, np.array(points, dtype=np.float64))


def resultant(force_N: npt.ArrayLike, at_m: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Sum of forces and of moments about the middle between the blocks; as the other functions here check them."""
    forces, points = np.asarray(force_N, dtype=np.float64), np.asarray(at_m, dtype=np.float64)
    if forces.size == 0 and points.size == 0:
        return np.zeros(3), np.zeros(3)
    forces, points = np.atleast_2d(forces), np.atleast_2d(points)
    if forces.shape != points.shape or forces.ndim != 2 or forces.shape[1] != 3:
        raise ValueError(f"force_N has shape {forces.shape} and at_m {points.shape}; both must be (3,) or (n, 3)")
    if not np.isfinite(forces).all():
        raise ValueError("force_N holds a value that is not a finite number")
    if not np.isfinite(points).all():
        raise ValueError("at_m holds a value that is not a finite number")
    x, y, z = points.T
    fx, fy, fz = forces.T
    moment = np.array([(y * fz - z * fy).sum(), (z * fx - x * fz).sum(), (x * fy - y * fx).sum()])
    return forces.sum(axis=0), moment
