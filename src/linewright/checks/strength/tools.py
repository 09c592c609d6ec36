"""The tools' forces at one station: what is left of them for guides and thrust, and how much more they might push.

A tool may push anything from nothing up to its greatest force, and of several tools any may push alone. Every load is a
sum of terms linear in each force, so its greatest value is reached with each force either at nothing or at its
greatest: what makes it worse is counted, what eases it is not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from linewright.checks.strength.statics import BLOCKS, BlockLoads, FloatArray, block_loads
from linewright.line.model import Station
from linewright.line.ratings import GuideSheet

AXES: Final = ("down", "across", "along")
_SIGNS: Final = ((1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0))


@dataclass(frozen=True, eq=False)
class Tools:
    """The forces of one station, of each the greatest that its tool can push, or the stated one where that is unknown.

    Parameters
    ----------
    station : name
    names : its forces, such as ``force`` or ``force 2``
    size_N : shape (n,)     Size of each. [N]
    stated : shape (n,)     Stated force over the greatest, 0 to 1.
    force_N : shape (n, 3)  In the frame of the carrier: along, across, up. [N]
    at_m : shape (n, 3)     From the middle of the carrier's top; not a number where it is not stated. [m]
    at_greatest : every greatest force is stated
    support_N : what carries the force along an axis instead, by axis. [N]
    """

    station: str
    names: tuple[str, ...]
    size_N: FloatArray
    stated: FloatArray
    force_N: FloatArray
    at_m: FloatArray
    at_greatest: bool
    support_N: dict[str, float]

    @property
    def net_N(self) -> FloatArray:
        """What is left of the forces for guides and thrust, shape (n, 3): nothing along an axis with a support. [N]"""
        kept = [axis not in self.support_N for axis in ("along", "across", "down")]
        return self.force_N * np.array(kept, dtype=np.float64) + 0.0

    def gross_N(self, axis: str) -> float:
        """The most along one axis, in either sense, whatever carries it. [N]"""
        return _either(self._along(self.force_N, axis))

    def across_or_along_N(self, axis: str) -> float:
        """The most that is left along one of the two level axes, in either sense. [N]"""
        return _either(self._along(self.net_N, axis))

    @property
    def down_N(self) -> float:
        """The most that is left downwards. [N]"""
        return float(np.maximum(-self.net_N[:, 2], 0.0).sum())

    @property
    def lift_N(self) -> float:
        """The most that is left upwards. [N]"""
        return float(np.maximum(self.net_N[:, 2], 0.0).sum())

    @property
    def has_points(self) -> bool:
        """Whether it is stated of every force where it acts."""
        return bool(np.isfinite(self.at_m).all())

    def without(self, axis: str) -> Tools:
        """The same with a support along one more axis that takes all there is."""
        return Tools(
            self.station, self.names, self.size_N, self.stated, self.force_N, self.at_m, self.at_greatest,
            {**self.support_N, axis: self.gross_N(axis)},
        )  # fmt: skip

    def without_all(self) -> Tools:
        """The same with supports along all three axes: no force is left for guides and thrust."""
        return self.without("down").without("across").without("along")

    def pushes_both_ways(self, axis: str) -> bool:
        """Whether of its forces some push one way along an axis and some the other."""
        column = self._along(self.force_N, axis)
        return bool((column > 0.0).any() and (column < 0.0).any())

    @staticmethod
    def _along(force_N: FloatArray, axis: str) -> FloatArray:
        column: FloatArray = force_N[:, {"along": 0, "across": 1, "down": 2}[axis]]
        return column


@dataclass(frozen=True, eq=False)
class BlockRange:
    """The extremes of each block over all that tools may push; the result of :func:`extreme_loads`.

    Parameters
    ----------
    greatest_N : shape (4,)   Greatest load that counts: \\|normal\\| + \\|lateral\\|. [N]
    least_N : shape (4,)      Least normal load, negative where the block is lifted. [N]
    """

    greatest_N: FloatArray
    least_N: FloatArray

    @property
    def worst(self) -> str:
        """Name of the block with the greatest load; of equal ones the first."""
        return BLOCKS[int(np.argmax(np.round(self.greatest_N, 9)))]

    @property
    def lightest(self) -> str:
        """Name of the block with the least normal load; of equal ones the first."""
        return BLOCKS[int(np.argmin(np.round(self.least_N, 9)))]


@dataclass(frozen=True)
class Bound:
    """One limit that a station's forces must keep to: base + scale × slope ≤ limit. [N]

    Parameters
    ----------
    code : of the row
    base_N : without any tool
    slope_N : what the tools add at their greatest
    limit_N : what may be
    """

    code: str
    base_N: float
    slope_N: float
    limit_N: float

    @property
    def scale(self) -> float:
        """How many times the tools' greatest forces it allows; 0 where none, infinite where they do not matter."""
        return self.scale_of(1.0)

    def scale_of(self, share: float) -> float:
        """The same with so much of the limit."""
        room_N = share * self.limit_N - self.base_N
        if room_N < 0.0:
            return 0.0
        return room_N / self.slope_N if self.slope_N > 0.0 else math.inf


def tools_of(station: Station) -> Tools | None:
    """The forces that a station states; None where it states none or says that there are none."""
    forces = station.force
    if not forces:
        return None
    size = np.array([force.size_N if force.greatest_N is None else force.greatest_N for force in forces])
    stated_size = np.array([force.size_N for force in forces])
    vectors = np.array([(force.along_N, force.across_N, -force.down_N) for force in forces])
    vectors = vectors * (size / stated_size)[:, None]
    unknown = (math.nan, math.nan, math.nan)
    points = np.array([unknown if force.at_m is None else force.at_m for force in forces], dtype=np.float64)
    held = station.support
    supports = {} if held is None else {"down": held.down_N, "across": held.across_N, "along": held.along_N}
    return Tools(
        station=station.name,
        names=("force",) if len(forces) == 1 else tuple(f"force {i}" for i in range(1, len(forces) + 1)),
        size_N=size,
        stated=stated_size / size,
        force_N=vectors + 0.0,
        at_m=points,
        at_greatest=all(force.greatest_N is not None for force in forces),
        support_N={axis: value for axis, value in supports.items() if value is not None},
    )


def extreme_loads(body: BlockLoads, tools: tuple[BlockLoads, ...]) -> BlockRange:
    """The extremes of the four blocks where each tool may push or not.

    Parameters
    ----------
    body : what the carrier's own weight, magnets and inertia do
    tools : what each tool's force alone does

    Returns
    -------
    BlockRange

    Notes
    -----
    \\|N\\| + \\|L\\| is the greatest of σ N + τ L over the signs σ and τ. Each of those is a sum over the forces; it is
    greatest where every force with a positive term pushes and every other does not: σ N₀ + τ L₀ plus the sum of
    max(0, σ Nⱼ + τ Lⱼ). The least normal load is N₀ plus the sum of min(0, Nⱼ). Forces between nothing and the greatest
    give nothing worse.

    Source     derived; checked against all combinations in tests/property/test_strength_laws.py.
    Examples
    --------
    >>> body = block_loads((0, 0, -40), (0, 0, 0), 0.1, 0.08)
    >>> left, right = (block_loads((0, side, 0), (0, 0, 0), 0.1, 0.08) for side in (20, -20))
    >>> extreme_loads(body, (left, right)).greatest_N.tolist()
    [15.0, 15.0, 15.0, 15.0]
    """
    normals = np.array([one.normal_N for one in tools]).reshape(-1, 4)
    laterals = np.array([one.lateral_N for one in tools]).reshape(-1, 4)
    greatest = np.max(
        [
            s * body.normal_N + t * body.lateral_N + np.maximum(s * normals + t * laterals, 0.0).sum(axis=0)
            for s, t in _SIGNS
        ],
        axis=0,
    )
    return BlockRange(greatest, body.normal_N + np.minimum(normals, 0.0).sum(axis=0))


def tool_loads(tools: Tools, guides: GuideSheet) -> tuple[BlockLoads, ...]:
    """What each force of a station, net of its supports, does to the blocks, one by one."""
    height_m = guides.plate_height_m or 0.0  # asked for by the caller wherever the result depends on it
    points = tools.at_m + np.array([0.0, 0.0, height_m])
    thrust_m = guides.thrust_height_m or 0.0
    return tuple(
        block_loads(force, point, guides.along_m, guides.across_m, thrust_m)
        for force, point in zip(tools.net_N, points, strict=True)
    )


def block_bounds(
    code: str, bodies: tuple[BlockLoads, ...], tools: tuple[BlockLoads, ...], limit_N: float
) -> list[Bound]:
    """The limit of every block's load, for each body and each pair of signs."""
    normals = np.array([one.normal_N for one in tools]).reshape(-1, 4)
    laterals = np.array([one.lateral_N for one in tools]).reshape(-1, 4)
    bounds = []
    for s, t in _SIGNS:
        slope = np.maximum(s * normals + t * laterals, 0.0).sum(axis=0)
        for body in bodies:
            base = s * body.normal_N + t * body.lateral_N
            bounds += [Bound(code, float(base[i]), float(slope[i]), limit_N) for i in range(4)]
    return bounds


def _either(values: FloatArray) -> float:
    """The greatest sum in one sense, in the other, or of nothing."""
    return float(max(np.maximum(values, 0.0).sum(), np.maximum(-values, 0.0).sum()))
