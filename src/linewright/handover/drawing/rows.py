"""What is written beside one row of track: names, distances from the west end, joints, the lane's own length.

Outwards of the track stand the names and beyond them a dimension for each station and each platform's centre, all from
the west end of the floor, so that no rounding adds up; the nearest lies lowest, so that no line crosses a number.
Inwards stands the chain of joints.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from linewright.handover.drawing.scene import Scene
from linewright.handover.drawing.shapes import Measure, Shape, Words, line, mm, said_mm, width_of
from linewright.pictures.floor.ground import Part, TrackRow, docks
from linewright.pictures.labels import spread

TIER: Final = 2.2  # from one dimension line to the next, in heights of a capital
REACH: Final = 0.8  # of a centre line beyond the track, in heights of a capital
SAME_MM: Final = 1e-3
WEST: Final = "west"  # beside the number of what lies west of the west end: a dimension measures no sign
Name = tuple[str, float]


def outward(scene: Scene, row: TrackRow, y: float, sign: int, with_names: bool = True) -> list[Shape]:
    """Names and distances of a row of track. [mm]

    Parameters
    ----------
    scene : of the line
    row : of track
    y : height of its middle on the drawing. [mm]
    sign : 1 for above it, -1 for below
    with_names : whether the names of stations and transfers stand there too
    """
    size, edge = scene.size, y + sign * (scene.half + REACH * scene.size)
    shapes: list[Shape] = []
    top = edge
    if with_names:
        named, high = names(scene, names_of(scene, row), edge, sign)
        shapes += named
        top += sign * high
    places: set[float] = set()
    for part in row.parts:
        places.add(round(mm(part.ends_m[0]), 3))
        places |= {round(mm(part.lane.floor_point(stop.travel_m)[0]), 3) for stop in part.stations}
    lanes = {part.lane.name for part in row.parts}
    places |= {round(mm(dock.middle_m), 3) for dock in docks(scene.layout) if dock.lane.name in lanes}
    east = sorted(one for one in places if one > SAME_MM)
    west = sorted((one for one in places if one < -SAME_MM), reverse=True)
    # What lies west of the west end first: its lines then cross neither those to the east nor the 0 above them.
    for number, x in enumerate([*west, *east]):
        at = top + sign * size * ((1.9 if sign < 0 else 1.0) + TIER * number)
        wide = width_of(said_mm(abs(x), scene.line.units), size)
        if x < 0.0:
            shapes += _west_of_0(x, top, at, wide, size)
            continue
        outside = None
        if wide + size > x:
            outside = -wide / 2 - 0.8 * size, at
        shapes.append(Measure("DIMENSION", (0.0, top), (x, top), at, size, words_at=outside))
        if x == east[-1] and outside is None:
            shapes.append(Words("TEXT", "0", (-0.8 * size, at), size, "right", "middle"))
    return shapes


def _west_of_0(x: float, top: float, at: float, wide: float, size: float) -> list[Shape]:
    """The dimension of what lies west of the west end; right of its number stands so in words. [mm]

    Parameters
    ----------
    x : of what is measured, less than 0
    top : where the lines to the dimension start
    at : height of the dimension line
    wide : width of its number
    size : height of a capital
    """
    word, gap = width_of(WEST, size), 0.4 * size
    whole = wide + gap + word
    if whole + size > -x:
        start, y = x - 0.8 * size - whole, at
    else:
        start, y = (x - whole) / 2, at + 0.9 * size
    measure = Measure("DIMENSION", (0.0, top), (x, top), at, size, words_at=(start + wide / 2, y))
    return [measure, Words("TEXT", WEST, (start + wide + gap, y), size, "left", "middle")]


def names_of(scene: Scene, row: TrackRow) -> list[Name]:
    """Stations and transfers of a row, each with its place. [mm]"""
    found = [
        (f"{stop.station}", mm(part.lane.floor_point(stop.travel_m)[0])) for part in row.parts for stop in part.stations
    ]
    lanes = {part.lane.name for part in row.parts}
    for dock in docks(scene.layout):
        one = (dock.transfer.name, mm(dock.middle_m))
        if dock.lane.name in lanes and one not in found:
            found.append(one)
    return sorted(found, key=lambda one: one[1])


def names(scene: Scene, named: Sequence[Name], edge: float, sign: int) -> tuple[list[Shape], float]:
    """Names in a row, level where that is easy to follow, else upright, led to their places; and the row's height.

    Parameters
    ----------
    scene : of the line, for the size of the letters
    named : from west to east
    edge : height at which the lines to them start. [mm]
    sign : 1 for upwards from there, -1 for downwards
    """
    if not named:
        return [], 0.0
    size, places = scene.size, [x for _, x in named]
    widths = [width_of(text, size) + size for text, _ in named]
    centres = _spread(places, widths)
    level = max(abs(one - x) for one, x in zip(centres, places, strict=True)) <= 1.2 * size
    if not level:
        centres = _spread(places, [1.5 * size] * len(places))
    foot = edge + sign * 1.2 * size
    shapes: list[Shape] = []
    for (text, x), centre in zip(named, centres, strict=True):
        shapes.append(line("DIMENSION", (x, edge), (centre, foot - sign * 0.3 * size)))
        if level:
            shapes.append(Words("TEXT", text, (centre, foot), size, "centre", "foot" if sign > 0 else "top"))
        else:
            shapes.append(Words("TEXT", text, (centre, foot), size, "left" if sign > 0 else "right", "middle", 90.0))
    tallest = size if level else max(width_of(text, size) for text, _ in named)
    return shapes, 1.2 * size + tallest + 0.5 * size


def _spread(places: Sequence[float], sizes: Sequence[float]) -> list[float]:
    """Centres of boxes near their places, as far to either side as they need."""
    low, room = min(places) - sum(sizes), max(places) - min(places) + 2 * sum(sizes)
    return [low + one for one in spread([x - low for x in places], sizes, room)]


def inward(scene: Scene, row: TrackRow, y: float, sign: int) -> list[Shape]:
    """Joints and length of each part of a row of track. [mm]

    Parameters
    ----------
    scene : of the line
    row : of track
    y : height of its middle on the drawing. [mm]
    sign : 1 for above it, -1 for below
    """
    shapes: list[Shape] = []
    for part in row.parts:
        shapes += _joints(scene, part, y + sign * scene.half, sign)
    return shapes


def _joints(scene: Scene, part: Part, edge: float, sign: int) -> list[Shape]:
    size, lane, units = scene.size, part.lane, scene.line.units
    travels = [one for one in lane.joints_travel_m if part.from_m + 1e-9 < one < part.to_m - 1e-9]
    west_m, east_m = part.ends_m
    places = [mm(west_m), *sorted(mm(lane.floor_point(one)[0]) for one in travels), mm(east_m)]
    first = edge + sign * size * (2.9 if sign < 0 else 1.5)
    shapes: list[Shape] = []
    ends: list[float] = []  # of the words so far, in each tier
    for start, end in pairwise(places):
        wide = max(width_of(said_mm(end - start, units), size) + 0.5 * size, end - start) / 2
        low, high = (start + end) / 2 - wide, (start + end) / 2 + wide
        tier = next((k for k, used in enumerate(ends) if used <= low + SAME_MM), len(ends))
        ends[tier : tier + 1] = [high]
        shapes.append(Measure("DIMENSION", (start, edge), (end, edge), first + sign * TIER * size * tier, size))
    at = first + sign * TIER * size * len(ends)
    if len(places) > 2:
        shapes.append(Measure("DIMENSION", (places[0], edge), (places[-1], edge), at, size))
        at += sign * TIER * size
    middle = (places[0] + places[-1]) / 2, at + (0.1 if sign > 0 else 0.7) * size
    shapes.append(Words("TEXT", _said(scene, part), middle, size, "centre", "foot" if sign > 0 else "top"))
    return shapes


def _said(scene: Scene, part: Part) -> str:
    lane = part.lane
    if lane.is_ring:
        if not part.is_first:
            return f"ring {lane.name}"
        return f"ring {lane.name}, {scene.length(lane.length_m)} once round"
    if lane.two_way:
        return f"lane {lane.name}, to and fro between {lane.from_} and {lane.to}"
    return f"lane {lane.name}, {lane.from_} to {lane.to}"
