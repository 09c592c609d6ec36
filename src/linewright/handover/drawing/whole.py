"""The whole line from above, all decks in one: footprint, guards, access, motor zones, supply.

Each thing bears a mark, such as G1; what the marks mean stands in a list, so that no words meet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from linewright.checks.power.trace import feeder_track
from linewright.handover.drawing.failing import feeder_fails, guard_fails, zone_fails
from linewright.handover.drawing.numbering import joints_within_m, sections_told
from linewright.handover.drawing.plan import transfer_shapes
from linewright.handover.drawing.rows import names
from linewright.handover.drawing.scene import Scene, View, band, point_of
from linewright.handover.drawing.shapes import MM, Box, Measure, Point, Shape, Stroke, line, mm, rectangle, upright
from linewright.layout import LaneLayout
from linewright.line.electrics import Feeder
from linewright.line.model import Station
from linewright.pictures.floor.blocks import zone_travels
from linewright.pictures.floor.ground import corners, docks, levels_of, overall_ends, track_rows, width_m

WAYS: Final = {
    "light-curtain": "light curtain",
    "scanner": "scanner field",
    "interlocked": "interlocked door",
    "locked": "locked door",
}


@dataclass(frozen=True)
class Mark:
    """A thing with its mark.

    Parameters
    ----------
    code : such as ``G1``
    at : where it is. [mm]
    told : what it is
    sign : 1 where its mark stands above the line, -1 below
    fails : whether a check of it fails
    """

    code: str
    at: Point
    told: str
    sign: int
    fails: bool = False


def whole_view(scene: Scene, marks: list[Mark]) -> View:
    """The whole line from above with its marks."""
    west, foot, east, top = footprint(scene)
    size = scene.size
    shapes: list[Shape] = []
    for level_m in levels_of(scene.layout):
        shapes += transfer_shapes(scene, level_m)
    for lane in scene.layout.lanes:
        shapes += _outline(scene, lane)
    for rank, zone in enumerate(scene.line.motor_zones):
        lane = scene.layout.lane(zone.lane)
        # Zones of decks that lie over one another differ in width, so that both show.
        shapes.append(band("MOTOR-ZONE", lane, *zone_travels(lane, zone), scene.half * (0.7 - 0.08 * (rank % 6))))
    shapes.append(rectangle("FOOTPRINT", west, foot, east, top))
    for station in scene.line.stations:
        shapes += _guarded(scene, station)
    for feeder in scene.line.feeders:
        x, y = feeder_point(scene, feeder.name)
        half = 0.5 * size
        shapes.append(Stroke("FEEDER", ((x, y), (x - half, y - 2 * half), (x + half, y - 2 * half)), closed=True))
    shapes += _marked(scene, marks, (west, foot, east, top))
    below = min([foot, *(one.box[1] for one in shapes)]) - 2.5 * size
    beyond = max([east, *(one.box[2] for one in shapes)]) + 3.0 * size
    shapes.append(Measure("DIMENSION", (west, foot), (east, foot), below, size))
    shapes.append(upright("DIMENSION", (east, top), (east, foot), beyond, size, scene.line.units))
    decks = ", all decks in one" if len(levels_of(scene.layout)) > 1 else ""
    return View(f"The whole line from above{decks}: footprint, guards, zones, supply", tuple(shapes), "across")


def footprint(scene: Scene) -> Box:
    """West, foot, east and top of the track with its platforms and carriers. [mm]"""
    west_m, east_m = overall_ends(scene.evaluation)
    sides = [lane.floor_point(at_m)[1] for lane in scene.layout.lanes for at_m in corners(lane)]
    middle, half = mm(max(sides) + min(sides)) / 2, mm(width_m(scene.evaluation)) / 2
    return mm(west_m), middle - half, mm(east_m), middle + half


def marks_of(scene: Scene) -> list[Mark]:
    """All marks: guards and work by hand, motor zones, feeders, access to platforms."""
    found: list[Mark] = []
    for station in scene.line.stations:
        told = _guard_told(scene, station)
        if told:
            sign = _side(scene, station)
            reach = 0.0 if station.guard is None else mm(station.guard.distance_m)
            x, y = _station_point(scene, station)
            place = x, y + sign * (scene.body_half + reach)
            found.append(Mark(_code(found, "G"), place, told, sign, guard_fails(scene.evaluation, station)))
    for zone in scene.line.motor_zones:
        lane = scene.layout.lane(zone.lane)
        ends = zone_travels(lane, zone)
        told = f"motor zone {zone.name} of lane {lane.name}, {_zone_told(scene, lane, ends)}"
        fails = zone_fails(scene.evaluation, zone.name)
        found.append(Mark(_code(found, "Z"), point_of(lane, sum(ends) / 2), told, -1, fails))
    for feeder in scene.line.feeders:
        cable = "" if feeder.cable is None else f", cable {scene.run(feeder.cable.length_m)} one way"
        x, y = feeder_point(scene, feeder.name)
        told = (
            f"feeder {feeder.name} comes in {scene.length(x / MM)} from the west end: at {_end_told(scene, feeder)} of "
            f"lane {feeder.lane}, {_head_told(scene, feeder)}{cable}"
        )
        found.append(
            Mark(_code(found, "F"), (x, y - scene.size), told, -1, feeder_fails(scene.evaluation, feeder.name))
        )
    told_of: set[str] = set()
    for dock in docks(scene.layout):
        if dock.transfer.name not in told_of:
            told_of.add(dock.transfer.name)
            told = f"access to clear the platform of {dock.transfer.name}, should it stop half way"
            found.append(Mark(_code(found, "A"), (mm(dock.middle_m), mm(dock.lane.across_m)), told, -1))
    return found


def _zone_told(scene: Scene, lane: LaneLayout, ends_m: tuple[float, float]) -> str:
    """From where to where a motor zone reaches, by the distance that the line file counts, in which sections, and over
    which joints: what switches it off must then reach the sections on both sides."""
    places_m = ends_m if lane.is_ring else sorted(lane.travel_to_floor(one) for one in ends_m)
    since = "along the ring in travel" if lane.is_ring else "from the west end"
    said = f"from {scene.length(places_m[0])} to {scene.length(places_m[1])} {since}"
    sections, joints_m = sections_told(lane, *ends_m), joints_within_m(lane, *ends_m)
    if not joints_m:
        return f"{said}, in {sections}"
    at_m = joints_m if lane.is_ring else sorted(lane.travel_to_floor(one) for one in joints_m)
    over = f"{'a joint' if len(at_m) == 1 else 'joints'} at {', '.join(scene.length(one) for one in at_m)}"
    if len(at_m) == 1:
        return f"{said}, over {over}: {sections.replace(' to ', ' and ')} both"
    return f"{said}, over {over}: all of {sections}"


def _head_told(scene: Scene, feeder: Feeder) -> str:
    """The section into which the cable of a feeder leads, and whether it feeds others from there."""
    fed = feeder_track(feeder, scene.layout).sections
    if not fed:
        return "which feeds no section"
    return f"to section {fed[0] + 1}" + ("" if len(fed) == 1 else f", each on to the next up to section {fed[-1] + 1}")


def _head_m(scene: Scene, feeder: Feeder) -> float:
    """Travel at the end of its stretch at which a feeder comes in. [m]"""
    track = feeder_track(feeder, scene.layout)
    return track.stated_m[0 if track.along else 1]


def _end_told(scene: Scene, feeder: Feeder) -> str:
    lane = scene.layout.lane(feeder.lane)
    if lane.is_ring:
        which = "beginning" if feeder.enters == "west" else "end"
        return f"the {which} of its stretch, {scene.length(_head_m(scene, feeder))} along in travel,"
    return f"the {feeder.enters} end" if feeder.from_m is None else f"the {feeder.enters} end of its stretch"


def _code(marks: list[Mark], letter: str) -> str:
    return f"{letter}{1 + sum(one.code.startswith(letter) for one in marks)}"


def feeder_point(scene: Scene, name: str) -> Point:
    """Where the cable of a feeder comes in, at the edge of the track that greater across does not have. [mm]"""
    feeder = next(one for one in scene.line.feeders if one.name == name)
    lane = scene.layout.lane(feeder.lane)
    at_m = _head_m(scene, feeder)
    if lane.is_ring:
        return point_of(lane, at_m, -scene.half)
    return mm(lane.travel_to_floor(at_m)), mm(lane.across_m) - scene.half


def _outline(scene: Scene, lane: LaneLayout) -> list[Shape]:
    if not lane.is_ring:
        return [band("OUTLINE-SECTION", lane, 0.0, lane.length_m, scene.half)]
    return [
        Stroke("OUTLINE-SECTION", outline.points[: len(outline.points) // 2], closed=True)
        for outline in (band("", lane, 0.0, lane.length_m, side * scene.half) for side in (1.0, -1.0))
    ]


def _station_point(scene: Scene, station: Station) -> Point:
    stop = scene.layout.stop_of(station.name)
    return point_of(scene.layout.lane(stop.lane), stop.travel_m)


def _side(scene: Scene, station: Station) -> int:
    """On which side of the track people are drawn, 1 for greater across: where no other lane of the deck lies; of decks
    that lie over one another by turns, so that their guards do not lie over one another."""
    lane = scene.layout.lane(station.lane)
    rows = track_rows(scene.layout, lane.level_m)
    y = _station_point(scene, station)[1]
    nearest = min(range(len(rows)), key=lambda k: abs(mm(rows[k].across_m) - y))
    if len(rows) > 1:
        return -1 if nearest == len(rows) - 1 else 1
    above = sum(level_m > lane.level_m + 1e-6 for level_m in levels_of(scene.layout))
    return 1 if above % 2 == 0 else -1


def _guard_told(scene: Scene, station: Station) -> str:
    guard = station.guard
    if guard is not None:
        told = f"{WAYS[guard.kind]} of {station.name}, trips {scene.length(guard.distance_m)} from the nearest danger"
        return told + ("" if station.motor_zone is None else f", switches off zone {station.motor_zone}")
    if station.work == "manual":
        return f"work by hand at {station.name}: access; the line file states no guard"
    return ""


def _guarded(scene: Scene, station: Station) -> list[Shape]:
    """A guard at its distance from the carrier's edge, and before it the room in which people reach in."""
    guard = station.guard
    if guard is None:
        return []
    sign, (x, y) = _side(scene, station), _station_point(scene, station)
    size, edge = scene.size, y + sign * scene.body_half
    far = edge + sign * mm(guard.distance_m)
    lane = scene.layout.lane(station.lane)
    zone = next((one for one in scene.line.motor_zones if one.name == station.motor_zone), None)
    half = mm(scene.layout.body_m)
    west, east = x - half, x + half
    if zone is not None and zone.lane == lane.name and not lane.is_ring:
        west, east = mm(zone.from_m), mm(zone.to_m)
    low, high = min(edge, far), max(edge, far)
    return [
        rectangle("ACCESS", west, low, east, high),
        line("GUARD", (west, far), (east, far)),
        upright("DIMENSION", (west, high), (west, low), west - 1.2 * size, size, scene.line.units),
    ]


def _marked(scene: Scene, marks: list[Mark], box: Box) -> list[Shape]:
    """The marks in a row above and one below, led to what they mean."""
    shapes: list[Shape] = []
    for sign in (1, -1):
        here = sorted((one for one in marks if one.sign == sign), key=lambda one: one.at[0])
        if not here:
            continue
        outer = [one.at[1] for one in here] + [box[3] if sign > 0 else box[1]]
        edge = (max(outer) if sign > 0 else min(outer)) + sign * 1.2 * scene.size
        shapes += names(scene, [(one.code, one.at[0]) for one in here], edge, sign)[0]
        shapes += [line("DIMENSION", one.at, (one.at[0], edge)) for one in here]
    return shapes
