"""The line from the side: floor distance to the right, level upwards."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

from linewright.handover.drawing.rows import names
from linewright.handover.drawing.scene import Scene, View
from linewright.handover.drawing.shapes import Shape, Words, bounds, line, mm, rectangle, upright
from linewright.layout import LaneLayout
from linewright.pictures.floor.ground import corners, docks, lanes_at, levels_of
from linewright.pictures.labels import spread

THICK: Final = 0.8  # of a lane, in heights of a capital: its own height is stated nowhere


def side_view(scene: Scene) -> View:
    """All decks from the side, with platforms at all their levels and the envelopes of the fixtures."""
    shapes: list[Shape] = []
    levels = levels_of(scene.layout)
    thick = THICK * scene.size
    for lane in scene.layout.lanes:
        west, east = _ends(scene, lane)
        level = mm(lane.level_m)
        shapes.append(rectangle("OUTLINE-SECTION", west, level - thick, east, level))
    shapes += _transfers(scene)
    shapes += _stations(scene)
    top = max(one.box[3] for one in shapes) + 0.8 * scene.size
    named: dict[str, float] = {}
    for dock in docks(scene.layout):
        named.setdefault(dock.transfer.name, mm(dock.middle_m))
    shapes += names(scene, sorted(named.items(), key=lambda one: one[1]), top, 1)[0]
    shapes += _levels(scene, levels, bounds(shapes))
    return View("From the side", tuple(shapes), "level")


def _ends(scene: Scene, lane: LaneLayout) -> tuple[float, float]:
    places = [mm(lane.floor_point(travel_m)[0]) for travel_m in corners(lane)]
    room = scene.half if lane.is_ring else 0.0
    return min(places) - room, max(places) + room


def _transfers(scene: Scene) -> list[Shape]:
    shapes: list[Shape] = []
    thick, found = THICK * scene.size, docks(scene.layout)
    for transfer in scene.layout.transfers:
        some = [dock for dock in found if dock.transfer is transfer]
        levels = sorted({mm(dock.lane.level_m) for dock in some})
        west, east = mm(some[0].west_m), mm(some[0].east_m)
        if levels[-1] - levels[0] > 1e-3:
            shapes.append(rectangle("TRANSFER-WAY", west, levels[0] - thick, east, levels[-1]))
        places = sorted({(mm(one.west_m), mm(one.east_m), mm(one.lane.level_m)) for one in some})
        shapes += [rectangle("TRANSFER", start, level - thick, end, level) for start, end, level in places]
    return shapes


def _stations(scene: Scene) -> list[Shape]:
    """A tick at each station, and on the track the fixture's envelope, as high as the line file states it."""
    shapes: list[Shape] = []
    size, carrier_m = scene.size, scene.line.conveyor.carrier.length_m
    envelope = None if scene.line.fixture is None else scene.line.fixture.envelope_m
    for stop in scene.layout.stops:
        if stop.kind != "station":
            continue
        lane = scene.layout.lane(stop.lane)
        x, level = mm(lane.floor_point(stop.travel_m)[0]), mm(lane.level_m)
        high = 0.0 if envelope is None else mm(envelope[2])
        shapes.append(line("STATION-CENTRE", (x, level - 2.0 * size), (x, level + high + size)))
        shapes.append(line("CARRIER", (x - mm(carrier_m) / 2, level), (x + mm(carrier_m) / 2, level)))
        if envelope is not None:
            shapes.append(rectangle("FIXTURE", x - mm(envelope[0]) / 2, level, x + mm(envelope[0]) / 2, level + high))
    return shapes


def _levels(scene: Scene, levels: list[float], box: tuple[float, float, float, float]) -> list[Shape]:
    """Left of each level its lanes, right of them the dimensions from one level to the next."""
    size = scene.size
    shapes: list[Shape] = []
    places, high = [mm(one) for one in levels], 3.4 * size
    low = min(places) - high * len(levels)
    middles = spread([one - low for one in places], [high] * len(levels), max(places) + high * len(levels) - low)
    for level_m, place, middle in zip(levels, places, middles, strict=True):
        here = ", ".join(lane.name for lane in lanes_at(scene.layout, level_m))
        at = low + middle
        for text, up in ((here, 0.4), (f"level {scene.length(level_m)}", -1.4)):
            shapes.append(Words("TEXT", text, (box[0] - 3.0 * size, at + up * size), size, "right"))
        shapes.append(line("DIMENSION", (box[0] - 2.4 * size, at), (box[0] - 0.6 * size, place)))
    ends = [max(_ends(scene, lane)[1] for lane in lanes_at(scene.layout, one)) for one in levels]
    for (high_m, end), (low_m, other) in pairwise(zip(levels, ends, strict=True)):
        at = box[2] + 3.0 * size
        shapes.append(upright("DIMENSION", (end, mm(high_m)), (other, mm(low_m)), at, size, scene.line.units))
    return shapes
