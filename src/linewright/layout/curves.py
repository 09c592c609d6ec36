"""How near two carriers may come in the curves of a ring.

A carrier's body is a rectangle, its centre on the centre line of the track and its long side along the tangent there.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from linewright.line.model import Line

Floats = NDArray[np.float64]

PLACES: Final = 193
"""Places at which the gap is measured, twice: over all of the track in question, then about the worst of them."""
HAIR_M: Final = 1e-9


def curve_pitch_m(radius_m: float, width_m: float, body_m: float, gap_m: float) -> float | None:
    """Least distance along the centre line of two carriers in one curve, so that a clear gap stays between them. [m]

    Parameters
    ----------
    radius_m : of the centre line. [m], > 0
    width_m, body_m : of each carrier, across and along the track. [m], > 0
    gap_m : between the nearest points of the two. [m], >= 0

    Returns
    -------
    float or None   None where no distance within half a turn leaves that gap, or a body reaches the curve's centre.

    Notes
    -----
    The two rectangles mirror each other in the line through the curve's centre half-way between them; so their distance
    is twice that of the inner front corner from this line: gap(φ) = 2 ((r - w/2) sin φ - (L/2) cos φ), pitch = 2 r φ.
    With ρ² = (r - w/2)² + (L/2)² and tan α = (L/2)/(r - w/2): φ = α + asin(g/(2 ρ)). With r → ∞ the pitch is L + g.
    A long narrow body may need more where one carrier stands on a straight: :func:`ring_pitch_m` looks there too.

    Source     derived; checked against two rectangles measured point by point, tests/unit/layout/test_curves.py.

    Examples
    --------
    >>> round(curve_pitch_m(0.32, 0.112, 0.084, 0.006), 6), round(curve_pitch_m(1e9, 0.112, 0.084, 0.006), 6)
    (0.108155, 0.09)
    """
    inner_m = radius_m - width_m / 2
    if inner_m <= 0.0:
        return None
    reach_m = math.hypot(inner_m, body_m / 2)
    if gap_m > 2 * reach_m:
        return None
    half_rad = math.atan2(body_m / 2, inner_m) + math.asin(gap_m / (2 * reach_m))
    return None if half_rad > math.pi / 2 else 2 * radius_m * half_rad


def least_gap_m(radius_m: float, straight_m: float, width_m: float, body_m: float, pitch_m: float) -> float:
    """Least gap between two carriers so far apart, anywhere on a turn, a straight after it and the turn after that. [m]

    Parameters
    ----------
    radius_m, width_m, body_m : as for :func:`curve_pitch_m`. [m]
    straight_m : between the two turns. [m], >= 0
    pitch_m : between their centres along the centre line. [m]

    Returns
    -------
    float   Below zero where they touch.

    Notes      Distance of two rectangles: of a corner of one from an edge of the other; where they touch, the least
               depth by which they do. Measured at places so near each other that it is good to about 1e-7 m.
    """
    low, high = -pitch_m - body_m, straight_m + body_m
    places = np.linspace(low, high, PLACES)
    gaps = _gaps(radius_m, straight_m, width_m, body_m, pitch_m, places)
    worst, step = places[int(gaps.argmin())], (high - low) / (PLACES - 1)
    near = np.linspace(worst - step, worst + step, PLACES)
    return float(min(gaps.min(), _gaps(radius_m, straight_m, width_m, body_m, pitch_m, near).min()))


@lru_cache(maxsize=64)
def ring_pitch_m(
    radius_m: float, straights_m: tuple[float, ...], width_m: float, body_m: float, gap_m: float
) -> float | None:
    """Least distance along the centre line of two carriers anywhere on a ring, so that a clear gap stays between. [m]

    Parameters
    ----------
    radius_m, width_m, body_m, gap_m : as for :func:`curve_pitch_m`. [m]
    straights_m : the different straights between its turns. [m]

    Returns
    -------
    float or None   None where none is enough; never less than :func:`curve_pitch_m`.
    """
    pitch_m = curve_pitch_m(radius_m, width_m, body_m, gap_m)
    if pitch_m is None:
        return None

    def holds(at_m: float) -> bool:
        return all(least_gap_m(radius_m, one, width_m, body_m, at_m) >= gap_m - HAIR_M for one in straights_m)

    if holds(pitch_m):
        return pitch_m
    low_m, high_m = pitch_m, pitch_m + body_m
    if not holds(high_m):
        return None
    while high_m - low_m > HAIR_M:
        middle_m = 0.5 * (low_m + high_m)
        low_m, high_m = (low_m, middle_m) if holds(middle_m) else (middle_m, high_m)
    return high_m


def pitch_on_ring_m(line: Line) -> float | None:
    """Least pitch of the line's carriers on its ring, by its curves alone; None where none is enough. [m]

    Raises
    ------
    ValueError   The line has no ring, or its sheet no curve.
    """
    curve, ring = line.conveyor.curve, next((lane.ring for lane in line.lanes if lane.ring is not None), None)
    if curve is None or ring is None:
        raise ValueError("a line without a ring")
    straights_m = (ring.long_m, ring.short_m) if ring.short_m > 0.0 else (ring.long_m,)
    gap_m = line.conveyor.clear_gap_m
    return ring_pitch_m(curve.radius_m, straights_m, body_width_m(line), body_length_m(line), gap_m)


def _gaps(
    radius_m: float, straight_m: float, width_m: float, body_m: float, pitch_m: float, places_m: Floats
) -> Floats:
    """Gap between a carrier at each place and the one a pitch ahead; the straight reaches from 0 to straight_m."""
    behind = _corners(radius_m, straight_m, width_m, body_m, places_m)
    ahead = _corners(radius_m, straight_m, width_m, body_m, places_m + pitch_m)
    apart = np.minimum(_to_edges(behind, ahead), _to_edges(ahead, behind))
    depth = np.maximum(_separation(behind, ahead), _separation(ahead, behind))
    return np.where(depth < 0.0, depth, apart)


def _corners(radius_m: float, straight_m: float, width_m: float, body_m: float, places_m: Floats) -> Floats:
    """Corners of a body at each place of the track, in order round it; shape (places, 4, 2)."""
    beyond_m = np.where(places_m < 0.0, places_m, np.maximum(places_m - straight_m, 0.0))
    turn = beyond_m / radius_m
    x_m = radius_m * np.sin(turn) + np.clip(places_m, 0.0, straight_m)
    y_m = radius_m * (1.0 - np.cos(turn))
    along, across = np.stack([np.cos(turn), np.sin(turn)], 1), np.stack([-np.sin(turn), np.cos(turn)], 1)
    signs = np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)]) * np.array([body_m / 2, width_m / 2])
    centre = np.stack([x_m, y_m], 1)[:, None, :]
    corners: Floats = centre + signs[None, :, :1] * along[:, None, :] + signs[None, :, 1:] * across[:, None, :]
    return corners


def _to_edges(corners: Floats, of: Floats) -> Floats:
    """Least distance of the corners of each body from the edges of the other; shape (places,)."""
    edge = np.roll(of, -1, axis=1) - of
    to = corners[:, :, None, :] - of[:, None, :, :]
    share = np.clip((to * edge[:, None]).sum(3) / (edge * edge).sum(2)[:, None], 0.0, 1.0)
    rest = to - share[..., None] * edge[:, None]
    distances: Floats = np.sqrt((rest * rest).sum(3)).min((1, 2))
    return distances


def _separation(of: Floats, corners: Floats) -> Floats:
    """How far beyond the outermost of a body's edges the other body lies; below zero where beyond none."""
    edge = np.roll(of, -1, axis=1) - of
    outward = np.stack([-edge[..., 1], edge[..., 0]], 2)
    centre = of.mean(1)[:, None, :]
    outward *= np.sign(((of - centre) * outward).sum(2))[..., None]
    outward /= np.sqrt((outward * outward).sum(2))[..., None]
    beyond = ((corners[:, None] - of[:, :, None]) * outward[:, :, None]).sum(3).min(2)
    farthest: Floats = beyond.max(1)
    return farthest


def body_length_m(line: Line) -> float:
    """Length of a carrier with its fixture along the track: the longer of the two. [m]

    Source     the definition of the least pitch in semantics.md: neighbours touch with whichever is longer.
    """
    carrier_m = line.conveyor.carrier.length_m
    if line.fixture is None or line.fixture.envelope_m is None:
        return carrier_m
    return max(carrier_m, line.fixture.envelope_m[0])


def body_width_m(line: Line) -> float:
    """Width of a carrier with its fixture across the track: the wider of the two. [m]"""
    carrier_m = line.conveyor.carrier.width_m
    if line.fixture is None or line.fixture.envelope_m is None:
        return carrier_m
    return max(carrier_m, line.fixture.envelope_m[1])
