"""How a move lies on the one unrolled axis: in one stretch, or in several where the axis is broken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout, Stop, Ways

Floats = NDArray[np.float64]

SAME_M: Final = 1e-6
END_M: Final = 1e-12


@dataclass(frozen=True)
class AxisStretch:
    """A stretch of a move that lies unbroken on the axis.

    Parameters
    ----------
    way_m : how far the carrier has travelled in the move when it begins. [m]
    length_m : of the stretch. [m]
    from_m : its begin on the axis. [m]
    sign : 1 along the axis, -1 against it
    """

    way_m: float
    length_m: float
    from_m: float
    sign: int

    def at_m(self, on_m: float) -> float:
        """Axis place so far from its begin; beyond its end that of the end. [m]"""
        return self.from_m + self.sign * min(on_m, self.length_m)


def axis_stretches(layout: Layout, ways: Ways | None, start: int, end: int) -> list[AxisStretch]:
    """How the move from one stop to another lies on the axis.

    Parameters
    ----------
    layout : the track
    ways : its ways; None for a loop or a ring, whose axis is broken at its end alone
    start, end : ranks of the stops

    Notes      Where the next stop lies elsewhere on the axis, the carrier goes on to the edge of its lane or platform,
               and from the edge of the next to that stop.
    """
    here, there = layout.stops[start], layout.stops[end]
    if ways is None:
        distance_m = (there.axis_m - here.axis_m) % layout.loop_m or layout.loop_m
        return _joined([(here.axis_m, here.axis_m + distance_m)], layout.loop_m)
    spans: list[tuple[float, float]] = []
    for rank in ways.stops(start, end):
        there = layout.stops[rank]
        length_m = next(hop.length_m for hop in ways.hops[here.index] if hop.to == rank)
        apart_m = there.axis_m - here.axis_m
        if abs(abs(apart_m) - length_m) <= SAME_M:
            spans.append((here.axis_m, there.axis_m))
        else:
            first_m = min(_to_edge_m(layout, here), length_m)
            spans.append((here.axis_m, here.axis_m + first_m))
            spans.append((there.axis_m - (length_m - first_m), there.axis_m))
        here = there
    return _joined(spans, None)


def _to_edge_m(layout: Layout, stop: Stop) -> float:
    """From a dock to the end of its lane, from a place aboard to where a lane may start. [m]"""
    if stop.kind == "aboard":
        return layout.transfer_of(stop).off_from_m(stop.index)
    return layout.lane(stop.lane).length_m - stop.travel_m


def _joined(spans: list[tuple[float, float]], loop_m: float | None) -> list[AxisStretch]:
    """Spans that follow one another joined into stretches; a span beyond the end of a loop goes on at its start."""
    whole: list[tuple[float, float]] = []
    for begin_m, end_m in spans:
        if loop_m is not None and end_m > loop_m + SAME_M:
            whole += [(begin_m, loop_m), (0.0, end_m - loop_m)]
        elif whole and abs(whole[-1][1] - begin_m) <= SAME_M and (whole[-1][1] > whole[-1][0]) == (end_m > begin_m):
            whole[-1] = (whole[-1][0], end_m)
        else:
            whole.append((begin_m, end_m))
    stretches, way_m = [], 0.0
    for begin_m, end_m in whole:
        stretches.append(AxisStretch(way_m, abs(end_m - begin_m), begin_m, 1 if end_m >= begin_m else -1))
        way_m += abs(end_m - begin_m)
    return stretches


@dataclass(frozen=True, eq=False)
class LegCurve:
    """A kind of move as a line on the axis.

    Parameters
    ----------
    share : shape (n,), of the move's time, 0 to 1, never falling
    axis_m : shape (n,), place then; NaN where the axis is broken. [m]
    """

    share: Floats
    axis_m: Floats


def leg_curve(stretches: list[AxisStretch], share: Floats, way_m: Floats) -> LegCurve:
    """A move along its stretches.

    Parameters
    ----------
    stretches : see `axis_stretches`
    share, way_m : shape (n,), way covered at shares of the move's time, from 0 to the whole, rising

    Notes      Between two stretches that do not meet stand three points of one instant: the end of one, a break, the
               begin of the other.
    """
    shares, places = [], []
    for number, stretch in enumerate(stretches):
        last = number == len(stretches) - 1
        end_m = stretch.way_m + stretch.length_m
        inside = (way_m > stretch.way_m + END_M) & (way_m < end_m - END_M)
        edges = np.interp([stretch.way_m, end_m], way_m, share)
        ends = np.array([stretch.from_m, stretch.at_m(stretch.length_m)])
        shares.append(np.concatenate([[0.0 if number == 0 else edges[0]], share[inside], [1.0 if last else edges[1]]]))
        between_m = stretch.from_m + stretch.sign * (way_m[inside] - stretch.way_m)
        places.append(np.concatenate([ends[:1], between_m, ends[1:]]))
        if not last and abs(stretches[number + 1].from_m - ends[1]) > 1e-9:
            shares.append(edges[1:])
            places.append(np.array([np.nan]))
    return LegCurve(np.concatenate(shares), np.concatenate(places))
