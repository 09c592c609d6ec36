"""The number of each section in the plan: counted in travel along its lane, as the cable schedule counts them."""

from __future__ import annotations

import math
from typing import Final

from linewright.handover.drawing.scene import Scene, point_of
from linewright.handover.drawing.shapes import MM, Words, width_of
from linewright.layout import LaneLayout

SMALL: Final = 0.72  # height of a section's number, in heights of most capitals
STEPS: Final = 60  # places that are tried along a section
REACH_M: Final = 1e-6  # by less than this a stretch does not lie in a section

Span = tuple[float, float]


def section_spans(lane: LaneLayout) -> list[Span]:
    """Where each section of a lane starts and ends in travel; the last ends with the lane. [m]"""
    return list(zip((0.0, *lane.joints_travel_m), (*lane.joints_travel_m, lane.length_m), strict=True))


def sections_told(lane: LaneLayout, from_m: float, to_m: float) -> str:
    """The numbers of the sections in which a stretch lies, in words.

    Parameters
    ----------
    from_m, to_m : its ends in travel. [m]
    """
    found = [
        number
        for number, (start_m, end_m) in enumerate(section_spans(lane), start=1)
        if start_m < to_m - REACH_M and end_m > from_m + REACH_M
    ]
    if not found:
        return "in no section of the lane"
    return f"section {found[0]}" if len(found) == 1 else f"sections {found[0]} to {found[-1]}"


def joints_within_m(lane: LaneLayout, from_m: float, to_m: float) -> list[float]:
    """Travels of the joints over which a stretch lies, those at its own ends left out. [m]

    Parameters
    ----------
    from_m, to_m : its ends in travel. [m]
    """
    return [one for one in lane.joints_travel_m if from_m + REACH_M < one < to_m - REACH_M]


def section_numbers(scene: Scene, lane: LaneLayout, within_m: Span | None = None) -> list[Words]:
    """The number of each section, as near its middle as no line across the track lies under it.

    Parameters
    ----------
    within_m : travels between which the middle of a section must lie; None for all. [m]
    """
    height = SMALL * scene.size
    found = []
    lines_m, bodies_m = _in_the_way(scene, lane)
    for number, (start_m, end_m) in enumerate(section_spans(lane), start=1):
        middle_m = (start_m + end_m) / 2
        if within_m is not None and not within_m[0] <= middle_m <= within_m[1]:
            continue
        half_m = (math.hypot(width_of(str(number), height), height) / 2 + 0.25 * height) / MM
        at_m = _free_place((start_m, end_m), half_m, lines_m, bodies_m)
        found.append(Words("SECTION-NUMBER", str(number), point_of(lane, at_m), height, "centre", "middle"))
    return found


def _free_place(span_m: Span, half_m: float, lines_m: list[float], bodies_m: list[Span]) -> float:
    """Where a number that needs so much to each side stands: beside carriers, else at least beside lines. [m]"""
    start_m, end_m = span_m
    middle_m, room_m = (start_m + end_m) / 2, max((end_m - start_m) / 2 - half_m, 0.0)
    tried = sorted((middle_m + room_m * k / STEPS for k in range(-STEPS, STEPS + 1)), key=lambda m: abs(m - middle_m))

    def lies_over(at_m: float) -> tuple[int, int]:
        lines = sum(abs(one - at_m) < half_m for one in lines_m)
        return lines, sum(low - half_m < at_m < high + half_m for low, high in bodies_m)

    return min(tried, key=lies_over)


def _in_the_way(scene: Scene, lane: LaneLayout) -> tuple[list[float], list[Span]]:
    """Travels of the lines that are drawn across a lane, and the stretches on which its carriers are drawn. [m]"""
    envelope = None if scene.line.fixture is None else scene.line.fixture.envelope_m
    halves_m = [scene.line.conveyor.carrier.length_m / 2, *([] if envelope is None else [envelope[0] / 2])]
    lines_m = [(piece.from_m + piece.to_m) / 2 for piece in lane.pieces if piece.is_curved]  # the radius leads there
    bodies_m: list[Span] = []
    for stop in scene.layout.stops:
        if stop.kind != "station" or stop.lane != lane.name or stop.station is None:
            continue
        station, at_m = scene.line.station(stop.station), stop.travel_m
        offs_m = [*halves_m, station.keep_clear_m, station.end_stops_m or 0.0]
        lines_m += [at_m + sign * off_m for off_m in offs_m for sign in (-1.0, 1.0)] + [at_m]
        bodies_m.append((at_m - max(halves_m), at_m + max(halves_m)))
    return lines_m, bodies_m
