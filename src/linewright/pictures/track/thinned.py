"""Thinning of lines: points that nobody could see are left out, and how far the line moves by that is bounded."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def kept_points(x_px: Floats, y_px: Floats, tolerance_px: float) -> Ints:
    """Which points of a line to keep, so that no place of the whole line is farther from the thinned one than told.

    Parameters
    ----------
    x_px, y_px : shape (n,), the line's points; NaN in `x_px` where it is broken. [px]
    tolerance_px : at most so far may a place of the whole line lie from the thinned line, >= 0. [px]

    Returns
    -------
    int64[kept]   Ascending; the ends of every unbroken piece and every break are among them.

    Raises
    ------
    ValueError   The tolerance is negative.

    Notes      Of each stretch between two kept points the point that is farthest from the straight stroke is kept too,
               if it is farther than the tolerance; all stretches at once, until none is left. The distance to a stroke
               is convex along a straight piece, so what holds at the points holds between them.
    Source     Ramer 1972, Douglas and Peucker 1973 (from memory).
    Examples
    --------
    >>> kept_points(np.array([0.0, 1.0, 2.0, 2.0]), np.array([0.0, 0.1, 0.0, 5.0]), 0.4).tolist()
    [0, 2, 3]
    """
    if tolerance_px < 0.0:
        raise ValueError(f"tolerance_px is {tolerance_px}; it must not be negative")
    count = len(x_px)
    if count < 3:
        return np.arange(count, dtype=np.int64)
    broken = np.isnan(x_px)
    keep = broken.copy()
    keep[[0, -1]] = True
    keep[1:] |= broken[:-1]
    keep[:-1] |= broken[1:]
    kept = np.flatnonzero(keep)
    starts, ends = kept[:-1], kept[1:]
    open_ = ends - starts > 1
    starts, ends = starts[open_], ends[open_]
    while len(starts):
        farthest, apart_px = _farthest(x_px, y_px, starts, ends)
        split = apart_px > tolerance_px
        middle = farthest[split]
        keep[middle] = True
        starts = np.concatenate([starts[split], middle])
        ends = np.concatenate([middle, ends[split]])
        open_ = ends - starts > 1
        starts, ends = starts[open_], ends[open_]
    return np.flatnonzero(keep).astype(np.int64)


def _farthest(x_px: Floats, y_px: Floats, starts: Ints, ends: Ints) -> tuple[Ints, Floats]:
    """Of each stretch the inner point that is farthest from its stroke, and how far. [px]"""
    inner = ends - starts - 1
    first = np.concatenate([[0], np.cumsum(inner)[:-1]])
    owner = np.repeat(np.arange(len(starts)), inner)
    at = np.arange(int(inner.sum())) - first[owner] + starts[owner] + 1
    begin_x, begin_y = x_px[starts], y_px[starts]
    along_x, along_y = x_px[ends] - begin_x, y_px[ends] - begin_y
    length2 = along_x**2 + along_y**2
    scale = np.divide(1.0, length2, out=np.zeros_like(length2), where=length2 > 0.0)
    from_x, from_y = x_px[at] - begin_x[owner], y_px[at] - begin_y[owner]
    share = np.clip((from_x * along_x[owner] + from_y * along_y[owner]) * scale[owner], 0.0, 1.0)
    apart2 = (from_x - share * along_x[owner]) ** 2 + (from_y - share * along_y[owner]) ** 2
    most = np.maximum.reduceat(apart2, first)
    is_most = np.flatnonzero(apart2 == most[owner])
    farthest = np.empty(len(starts), np.int64)
    farthest[owner[is_most][::-1]] = at[is_most][::-1]  # of equals the first
    return farthest, np.sqrt(most)
