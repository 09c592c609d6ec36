"""The plan of one deck: sections, transfers, carriers, centre lines, and what is written beside them."""

from __future__ import annotations

import math
from itertools import pairwise

from linewright.handover.drawing.numbering import section_numbers
from linewright.handover.drawing.rows import REACH, inward, names, names_of, outward
from linewright.handover.drawing.scene import FIXTURE_BLOCK, Scene, View, band, carrier_block, point_of, sections_of
from linewright.handover.drawing.shapes import (
    Insert,
    Radius,
    Shape,
    Words,
    bounds,
    line,
    mm,
    rectangle,
    upright,
)
from linewright.layout import LaneLayout
from linewright.pictures.floor.ground import Dock, TrackRow, docks, heading_rad, lanes_at, levels_of, track_rows


def plan_views(scene: Scene) -> list[View]:
    """A plan of each deck, the highest first, and after it those rows of track for whose dimensions it has no room."""
    views = []
    levels = levels_of(scene.layout)
    for number, level_m in enumerate(levels):
        deck = deck_name(scene, number)
        rows = track_rows(scene.layout, level_m)
        shapes, apart = _beside(scene, rows)
        track = deck_shapes(scene, level_m)
        views.append(View(f"{deck}, seen from above", (*track, *shapes, *_spacings(scene, rows, shapes)), "across"))
        views += [_alone(scene, row, with_stations) for row, with_stations in apart]
    return views


def deck_name(scene: Scene, number: int) -> str:
    """What a deck is called, counted from the top."""
    levels = levels_of(scene.layout)
    if len(levels) == 1:
        return "The line"
    which = ("Upper deck", "Lower deck")[number] if len(levels) == 2 else f"Deck {number + 1} of {len(levels)}"
    return f"{which} (level {scene.length(levels[number])})"


def deck_shapes(scene: Scene, level_m: float) -> list[Shape]:
    """All that lies on a deck."""
    shapes: list[Shape] = list(transfer_shapes(scene, level_m))
    shapes += [_platform_centre(scene, dock) for dock in docks(scene.layout) if _lies_on(dock, level_m)]
    for lane in lanes_at(scene.layout, level_m):
        shapes += sections_of(scene, lane)
        shapes += _joint_marks(scene, lane)
        shapes += _stops(scene, lane)
        shapes += section_numbers(scene, lane)
        for piece in lane.pieces:
            if piece.is_curved and lane.radius_m is not None:
                middle_m = (piece.from_m + piece.to_m) / 2
                centre = point_of(lane, middle_m, mm(lane.radius_m))
                shapes.append(Radius("DIMENSION", centre, point_of(lane, middle_m), scene.size))
    return shapes


def transfer_shapes(scene: Scene, level_m: float) -> list[Shape]:
    """Platforms at their docks on a deck, and the way of a cross transfer between them."""
    half, shapes = scene.half, list[Shape]()
    here = [dock for dock in docks(scene.layout) if _lies_on(dock, level_m)]
    for transfer in scene.layout.transfers:
        some = [dock for dock in here if dock.transfer is transfer]
        across = [mm(dock.lane.across_m) for dock in some]
        if some and max(across) - min(across) > 1e-3:
            ends = mm(min(dock.west_m for dock in some)), mm(max(dock.east_m for dock in some))
            shapes.append(rectangle("TRANSFER-WAY", ends[0], min(across) - half, ends[1], max(across) + half))
        for dock in some:
            y = mm(dock.lane.across_m)
            shapes.append(rectangle("TRANSFER", mm(dock.west_m), y - half, mm(dock.east_m), y + half))
    return shapes


def _lies_on(dock: Dock, level_m: float) -> bool:
    return abs(dock.lane.level_m - level_m) < 1e-6


def _platform_centre(scene: Scene, dock: Dock) -> Shape:
    x, y, reach = mm(dock.middle_m), mm(dock.lane.across_m), scene.half + REACH * scene.size
    return line("TRANSFER-CENTRE", (x, y - reach), (x, y + reach))


def _joint_marks(scene: Scene, lane: LaneLayout) -> list[Shape]:
    half = scene.half
    travels = [*([0.0] if lane.is_ring else []), *lane.joints_travel_m]
    return [line("JOINT", point_of(lane, one, half), point_of(lane, one, -half)) for one in travels]


def _stops(scene: Scene, lane: LaneLayout) -> list[Shape]:
    """At each station a carrier with its fixture, the centre line, what is kept clear, stops that fall in."""
    shapes: list[Shape] = []
    reach = scene.half + REACH * scene.size
    for stop in scene.layout.stops:
        if stop.kind != "station" or stop.lane != lane.name or stop.station is None:
            continue
        station, at_m = scene.line.station(stop.station), stop.travel_m
        turn = round(math.degrees(heading_rad(lane, at_m)) % 360.0, 9)
        shapes.append(Insert("CARRIER", carrier_block(scene), point_of(lane, at_m), turn))
        if scene.line.fixture is not None and scene.line.fixture.envelope_m is not None:
            shapes.append(Insert("FIXTURE", FIXTURE_BLOCK, point_of(lane, at_m), turn))
        shapes.append(line("STATION-CENTRE", point_of(lane, at_m, reach), point_of(lane, at_m, -reach)))
        if abs(math.sin(math.radians(turn))) > 0.5:
            shapes.append(_name_beside(scene, lane, at_m, stop.station))
        if station.keep_clear_m > 0.0:
            ends = at_m - station.keep_clear_m, at_m + station.keep_clear_m
            shapes.append(band("KEEP-CLEAR", lane, *ends, 0.85 * scene.half))
        if station.end_stops_m is not None:
            for travel_m in (at_m - station.end_stops_m, at_m + station.end_stops_m):
                ends_of = point_of(lane, travel_m, scene.half), point_of(lane, travel_m, -scene.half)
                shapes.append(line("END-STOP", *ends_of))
    return shapes


def _name_beside(scene: Scene, lane: LaneLayout, at_m: float, station: str) -> Words:
    """The name of a station where the track runs across the floor: outside the ring, which lies left of its travel."""
    x, y = point_of(lane, at_m, -scene.half - 1.8 * scene.size)
    is_east = x > point_of(lane, at_m)[0]
    said = f"{station}, {scene.length(at_m)} along"
    return Words("TEXT", said, (x, y), scene.size, "left" if is_east else "right", "middle")


def _beside(scene: Scene, rows: list[TrackRow]) -> tuple[list[Shape], list[tuple[TrackRow, bool]]]:
    """What is written beside the rows of a deck; and the rows for whose dimensions there is no room between others,
    with whether those of the stations are among them."""
    size, last = scene.size, len(rows) - 1
    heights = [mm(row.across_m) for row in rows]
    rooms = [one - other - 2 * scene.half - 2 * size for one, other in pairwise(heights)]
    shapes: list[Shape] = []
    apart: list[tuple[TrackRow, bool]] = []
    for number in range(1, last):
        drawn, high = names(scene, names_of(scene, rows[number]), heights[number] + scene.half + REACH * size, 1)
        if rooms[number - 1] >= high + REACH * size:
            shapes += drawn
            rooms[number - 1] -= high + REACH * size
        apart.append((rows[number], True))
    for number in sorted({0, last}):
        row, y, sign = rows[number], heights[number], -1 if last and number == last else 1
        shapes += outward(scene, row, y, sign)
        inner = inward(scene, row, y, -sign)
        box, gap = bounds(inner), 0 if number == 0 else last - 1
        if last and rooms[gap] < box[3] - box[1]:
            apart.append((row, False))
            continue
        shapes += inner
        if last:
            rooms[gap] -= box[3] - box[1]
    return shapes, sorted(apart, key=lambda one: -one[0].across_m)


def _alone(scene: Scene, row: TrackRow, with_stations: bool) -> View:
    """A row of track by itself with those of its dimensions for which the plan has no room."""
    y, half, size = mm(row.across_m), scene.half, scene.size
    shapes: list[Shape] = []
    for part in row.parts:
        west_m, east_m = part.ends_m
        shapes.append(rectangle("OUTLINE-SECTION", mm(west_m), y - half, mm(east_m), y + half))
        for joint_m in part.lane.joints_travel_m:
            if part.from_m - 1e-9 <= joint_m <= part.to_m + 1e-9:
                x = mm(part.lane.floor_point(joint_m)[0])
                shapes.append(line("JOINT", (x, y - half), (x, y + half)))
        shapes += section_numbers(scene, part.lane, (part.from_m, part.to_m))
        for stop in part.stations if with_stations else ():
            x = mm(part.lane.floor_point(stop.travel_m)[0])
            shapes.append(line("STATION-CENTRE", (x, y - half - REACH * size), (x, y + half + REACH * size)))
    shapes += [*(outward(scene, row, y, 1) if with_stations else ()), *inward(scene, row, y, -1)]
    lanes = list(dict.fromkeys(part.lane.name for part in row.parts))
    if with_stations:
        shapes += [_platform_centre(scene, dock) for dock in docks(scene.layout) if dock.lane.name in lanes]
    word = "Ring" if row.parts[0].lane.is_ring else "Lane" if len(lanes) == 1 else "Lanes"
    what = "distances and joints" if with_stations else "joints"
    heading = f"{word} {', '.join(lanes)} alone, across {scene.length(row.across_m)}: {what}"
    return View(heading, tuple(shapes), "across")


def _spacings(scene: Scene, rows: list[TrackRow], shapes: list[Shape]) -> list[Shape]:
    """How far the rows of track lie apart, right of all that is written between them."""
    if len(rows) < 2:
        return []
    ends = [max(mm(part.ends_m[1]) for part in row.parts) for row in rows]
    x = max(bounds(shapes)[2], *(bounds(deck_shapes(scene, row.parts[0].lane.level_m))[2] for row in rows))
    x += 3.0 * scene.size
    found: list[Shape] = []
    for (row, end), (other, other_end) in pairwise(zip(rows, ends, strict=True)):
        start, stop = (end, mm(row.across_m)), (other_end, mm(other.across_m))
        found.append(upright("DIMENSION", start, stop, x, scene.size, scene.line.units))
    return found
