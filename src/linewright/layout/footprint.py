"""The floor that a track takes: the rectangle around its lanes, platforms and carriers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linewright.layout.curves import body_width_m
from linewright.layout.lanes import LaneLayout, Layout
from linewright.line.model import Line


@dataclass(frozen=True)
class Footprint:
    """A rectangle on the floor.

    Parameters
    ----------
    west_m, east_m : ends along the floor: lanes, platforms, of a ring also its carriers' width. [m]
    low_m, high_m : sides across, with the width of carriers and their fixtures. [m]
    """

    west_m: float
    east_m: float
    low_m: float
    high_m: float

    @property
    def length_m(self) -> float:
        """Along the floor. [m]"""
        return self.east_m - self.west_m

    @property
    def width_m(self) -> float:
        """Across. [m]"""
        return self.high_m - self.low_m

    @property
    def area_m2(self) -> float:
        """Length times width. [m2]"""
        return self.length_m * self.width_m


def footprint(line: Line, layout: Layout) -> Footprint:
    """The floor under the track of a line.

    Parameters
    ----------
    line, layout : a line and its own layout

    Notes      Area = (east - west) x (high - low) over lanes, platforms and carriers with fixtures; decks above one
               another count once. Tools, operators, access and guards are not in it: no file states them.
    Source     geometry of the layout.
    """
    half_m = body_width_m(line) / 2
    ends, sides = [], []
    for lane in layout.lanes:
        places = [lane.floor_point(at_m) for at_m in _outermost(lane)]
        room_m = half_m if lane.is_ring else 0.0
        ends += [x_m + side * room_m for x_m, _ in places for side in (-1, 1)]
        sides += [y_m + side * half_m for _, y_m in places for side in (-1, 1)]
    for transfer in layout.transfers:
        reach_m = transfer.gap_m + transfer.platform_m
        ends += [layout.lane(name).travel_to_floor(layout.lane(name).length_m + reach_m) for name in transfer.takes]
        ends += [layout.lane(name).travel_to_floor(-reach_m) for name in transfer.gives]
    return Footprint(min(ends), max(ends), min(sides), max(sides))


def _outermost(lane: LaneLayout) -> list[float]:
    """Travels among which the outermost places of a lane are: its ends, and the quarters of a ring's turns. [m]"""
    if lane.radius_m is None:
        return [0.0, lane.length_m]
    quarter_m = lane.radius_m * math.pi / 2
    found = [piece.from_m for piece in lane.pieces]
    for piece in lane.pieces:
        if piece.is_curved:
            found += [piece.from_m + k * quarter_m for k in range(round((piece.to_m - piece.from_m) / quarter_m))]
    return found
