"""The track itself in a plan: platforms, sections, curves, what lies along them, and the carriers.

`y` says at which height of the view an across is drawn.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Final

from linewright.layout import LaneLayout
from linewright.pictures.floor.blocks import zone_travels
from linewright.pictures.floor.board import CARRIERS, GROUND, LINES, Board
from linewright.pictures.floor.dimensions import THIN
from linewright.pictures.floor.ground import Ground, docks, heading_rad, parts_of
from linewright.pictures.floor.standing import Standing
from linewright.pictures.style import FILLS, GREY, HUE, INK, PALE, PAPER

Across = Callable[[float], float]

PLATFORM: Final[dict[str, Any]] = {"fill": PAPER, "stroke": INK, "strokeWidth": 1, "strokeDash": [3, 2]}
RIDE: Final[dict[str, Any]] = {"fill": None, "stroke": GREY, "strokeWidth": 0.8, "strokeDash": [2, 3]}
CARRIER: Final[dict[str, Any]] = {"color": INK, "strokeWidth": 1.2}
FIXTURE: Final[dict[str, Any]] = {"color": HUE, "strokeWidth": 0.8, "strokeDash": [2, 1.5]}
CENTRE: Final[dict[str, Any]] = {"color": INK, "strokeWidth": 0.9, "strokeDash": [7, 2, 1.5, 2]}
JOINT: Final[dict[str, Any]] = {"color": PAPER, "strokeWidth": 2}
CLEAR: Final[dict[str, Any]] = {"fill": FILLS["blocked"].paint, "stroke": HUE, "strokeWidth": 0.6}
ARC_STEP_RAD: Final = math.radians(2.0)


def draw_transfers(ground: Ground, board: Board, level_m: float, y: Across) -> None:
    """Platforms at their docks on this deck, and the way of a cross transfer between them."""
    half = ground.strip_px / 2
    here = [dock for dock in docks(ground.layout) if abs(dock.lane.level_m - level_m) < 1e-6]
    for transfer in ground.layout.transfers:
        some = [dock for dock in here if dock.transfer is transfer]
        sides = [y(dock.lane.across_m) for dock in some]
        if some and max(sides) - min(sides) > 1.0:
            west, east = ground.x(some[0].west_m), ground.x(some[0].east_m)
            name = f"way of {transfer.kind} {transfer.name}"
            board.box(west, min(sides) - half, east, max(sides) + half, RIDE, name)
    for dock in here:
        middle = y(dock.lane.across_m)
        name = f"platform of {dock.transfer.kind} {dock.transfer.name} at lane {dock.lane.name}"
        board.box(ground.x(dock.west_m), middle - half, ground.x(dock.east_m), middle + half, PLATFORM, name)


def draw_lane(ground: Ground, board: Board, lane: LaneLayout, y: Across) -> None:
    """Sections with a gap at every joint, to the carrier's width."""
    half_m = ground.line.conveyor.carrier.width_m / 2
    starts, ends = [0.0, *lane.joints_travel_m], [*lane.joints_travel_m, lane.length_m]
    for number, (start_m, end_m) in enumerate(zip(starts, ends, strict=True), start=1):
        if end_m - start_m <= 1e-9:
            continue
        name = f"section {number} of lane {lane.name}"
        if lane.is_ring:
            points = [_point(ground, lane, travel_m, y) for travel_m in _steps(lane, start_m, end_m)]
            board.path(points, {"color": PALE, "strokeWidth": round(ground.strip_px, 3)}, name, GROUND)
        else:
            x, x2 = sorted(ground.x(lane.travel_to_floor(travel_m)) for travel_m in (start_m, end_m))
            middle = y(lane.across_m)
            board.box(x, middle - ground.strip_px / 2, x2, middle + ground.strip_px / 2, {"color": PALE}, name)
    for joint_m in (*lane.joints_travel_m, *([0.0] if lane.is_ring else [])):
        ends_px = [_beside_point(ground, lane, joint_m, side_m, y) for side_m in (-half_m, half_m)]
        board.rule(*ends_px[0], *ends_px[1], JOINT)
    if lane.is_ring:
        _along_ring(ground, board, lane, y)
    for piece in lane.pieces:
        if piece.is_curved:
            _radius(ground, board, lane, (piece.from_m + piece.to_m) / 2, y)


def _along_ring(ground: Ground, board: Board, lane: LaneLayout, y: Across) -> None:
    """What of a ring goes round its curves: stretches kept clear, and motor zones, within it."""
    half_m = ground.line.conveyor.carrier.width_m / 2
    clear_px = min(5.0, 0.35 * ground.strip_px)
    for station in ground.line.stations:
        if station.lane == lane.name and station.keep_clear_m > 0.0:
            at_m = ground.layout.stop_of(station.name).travel_m
            name = f"kept clear about {station.name}: {ground.lengths.text(station.keep_clear_m)} on each side"
            ends = at_m - station.keep_clear_m, at_m + station.keep_clear_m
            points = _inner(ground, lane, ends, half_m - clear_px / 2 / ground.px_m, y)
            board.path(points, {"color": FILLS["blocked"].paint, "strokeWidth": clear_px}, name, LINES)
    for zone in ground.line.motor_zones:
        if zone.lane != lane.name:
            continue
        start_m, end_m = zone_travels(lane, zone)
        name = f"motor zone {zone.name} on {lane.name}, {ground.lengths.text(end_m - start_m)}"
        points = _inner(ground, lane, (start_m, end_m), half_m + 5.5 / ground.px_m, y)
        board.path(points, {"color": HUE, "strokeWidth": 3}, name, LINES)
        parts = parts_of(ground.layout, lane)
        if not any(max(start_m, one.from_m) < min(end_m, one.to_m) for one in parts):
            at = _beside_point(ground, lane, (start_m + end_m) / 2, half_m + 14.0 / ground.px_m, y)
            side = "left" if at[0] < ground.x((ground.west_m + ground.east_m) / 2) else "right"
            board.words(*at, f"zone {zone.name}", ground.text.small_px, {"align": side}, name)


def _inner(
    ground: Ground, lane: LaneLayout, ends_m: tuple[float, float], left_m: float, y: Across
) -> list[tuple[float, float]]:
    """A line beside a ring from one travel to another. [px]"""
    assert lane.radius_m is not None
    number = max(2, math.ceil((ends_m[1] - ends_m[0]) / (ARC_STEP_RAD * lane.radius_m)))
    steps = [ends_m[0] + (ends_m[1] - ends_m[0]) * k / number for k in range(number + 1)]
    return [_beside_point(ground, lane, travel_m, left_m, y) for travel_m in steps]


def _radius(ground: Ground, board: Board, lane: LaneLayout, travel_m: float, y: Across) -> None:
    """The centre of a curve, and a line from it to the middle of the track."""
    assert lane.radius_m is not None
    centre = _beside_point(ground, lane, travel_m, lane.radius_m, y)
    there = _point(ground, lane, travel_m, y)
    board.rule(*centre, *there, THIN, f"curve of lane {lane.name}, radius {ground.lengths.text(lane.radius_m)}")
    for on, up in ((4.0, 0.0), (0.0, 4.0)):
        board.rule(centre[0] - on, centre[1] - up, centre[0] + on, centre[1] + up, THIN)


def _point(ground: Ground, lane: LaneLayout, travel_m: float, y: Across) -> tuple[float, float]:
    x_m, across_m = lane.floor_point(travel_m)
    return ground.x(x_m), y(across_m)


def _beside_point(
    ground: Ground, lane: LaneLayout, travel_m: float, left_m: float, y: Across, on_m: float = 0.0
) -> tuple[float, float]:
    """A place to the left of the track, and on along it."""
    x_m, across_m = lane.floor_point(travel_m)
    turn = heading_rad(lane, travel_m)
    x_m += on_m * math.cos(turn) - left_m * math.sin(turn)
    return ground.x(x_m), y(across_m + on_m * math.sin(turn) + left_m * math.cos(turn))


def _steps(lane: LaneLayout, start_m: float, end_m: float) -> list[float]:
    """Travels from one to another, near enough to draw a curve through them. [m]"""
    assert lane.radius_m is not None
    if not lane.touches_curve(start_m, end_m):
        return [start_m, end_m]
    number = max(2, math.ceil((end_m - start_m) / (ARC_STEP_RAD * lane.radius_m)))
    return [start_m + (end_m - start_m) * k / number for k in range(number + 1)]


def draw_carrier(ground: Ground, board: Board, carrier: Standing, y: Across) -> None:
    """A carrier to scale, and about it the envelope of its fixture."""
    for long_m, wide_m, look, name in carrier.outlines(ground.line):
        corners = [(-long_m, -wide_m), (long_m, -wide_m), (long_m, wide_m), (-long_m, wide_m), (-long_m, -wide_m)]
        points = [
            _beside_point(ground, carrier.lane, carrier.travel_m, left_m / 2, y, on_m / 2) for on_m, left_m in corners
        ]
        board.path(points, CARRIER if look == "carrier" else FIXTURE, name, CARRIERS)
