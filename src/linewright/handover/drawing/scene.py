"""What all views of one drawing share, and the blocks that they insert."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from linewright.evaluation import Evaluation
from linewright.handover.drawing.shapes import Arc, Insert, Point, Shape, Stroke, line, mm, rectangle
from linewright.layout import LaneLayout, Layout
from linewright.layout.curves import body_width_m
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.pictures.floor.ground import heading_rad
from linewright.quantities import quantity

LETTERS_MM: Final = 2.5  # height of a capital on paper
FIXTURE_BLOCK: Final = "FIXTURE-ENVELOPE"
ARC_STEP_RAD: Final = math.radians(3.0)


@dataclass(frozen=True, eq=False)
class Scene:
    """What is drawn, and how large.

    Parameters
    ----------
    scale : millimetres of the floor for one of paper
    """

    evaluation: Evaluation
    scale: int

    @property
    def line(self) -> Line:
        """The line."""
        return self.evaluation.line

    @property
    def layout(self) -> Layout:
        """Its track."""
        return self.evaluation.layout

    @property
    def size(self) -> float:
        """Height of most capitals. [mm] of the floor"""
        return LETTERS_MM * self.scale

    @property
    def half(self) -> float:
        """Half of the width at which track is drawn: that of the bare carrier. [mm]"""
        return mm(self.line.conveyor.carrier.width_m) / 2

    @property
    def body_half(self) -> float:
        """Half of the width of a carrier with its fixture. [mm]"""
        return mm(body_width_m(self.line)) / 2

    def length(self, length_m: float) -> str:
        """A length with its unit."""
        return length_text(length_m, self.line.units)

    def run(self, length_m: float) -> str:
        """A length of cable or base with its unit, as it is bought."""
        return quantity(length_m, "m", self.line.units)


@dataclass(frozen=True)
class View:
    """One view of the drawing.

    Parameters
    ----------
    heading : what it shows, in words
    shapes : at the places that they have on the floor
    down : name of what its y counts
    """

    heading: str
    shapes: tuple[Shape, ...]
    down: str


def point_of(lane: LaneLayout, travel_m: float, left: float = 0.0) -> Point:
    """A place on a lane in plan, or so far to the left of it in travel. [mm]"""
    x_m, across_m = lane.floor_point(travel_m)
    turn = heading_rad(lane, travel_m)
    return mm(x_m) - left * math.sin(turn), mm(across_m) + left * math.cos(turn)


def beside(lane: LaneLayout, from_m: float, to_m: float, left: float) -> tuple[Point, ...]:
    """Points of a line beside a lane from one travel to another; on a curve so near that it reads as one. [mm]"""
    if lane.radius_m is None or not lane.touches_curve(from_m, to_m):
        travels = [from_m, to_m]
    else:
        number = max(2, math.ceil((to_m - from_m) / (ARC_STEP_RAD * lane.radius_m)))
        travels = [from_m + (to_m - from_m) * k / number for k in range(number + 1)]
    return tuple(point_of(lane, travel_m, left) for travel_m in travels)


def band(layer: str, lane: LaneLayout, from_m: float, to_m: float, half: float) -> Stroke:
    """The outline of a stretch of a lane, so wide to each side. [mm]"""
    return Stroke(layer, (*beside(lane, from_m, to_m, half), *reversed(beside(lane, from_m, to_m, -half))), closed=True)


def blocks_of(scene: Scene) -> dict[str, tuple[Shape, ...]]:
    """Every block by name: the sections in use, the curve, the carrier, its fixture."""
    half, carrier = scene.half, scene.line.conveyor.carrier
    blocks: dict[str, tuple[Shape, ...]] = {}
    for lane in scene.layout.lanes:
        for rank, length_m in enumerate(lane.sections):
            name = section_block(scene, lane, rank)
            if name in blocks:
                continue
            angle = _angle_rad(lane, rank, length_m)
            if angle is None:
                blocks[name] = (rectangle("0", 0.0, -half, mm(length_m), half),)
            else:
                assert lane.radius_m is not None  # it is curved
                blocks[name] = _curve(mm(lane.radius_m), half, angle)
    blocks[carrier_block(scene)] = (_outline(carrier.length_m, carrier.width_m),)
    envelope = None if scene.line.fixture is None else scene.line.fixture.envelope_m
    if envelope is not None:
        blocks[FIXTURE_BLOCK] = (_outline(envelope[0], envelope[1]),)
    return blocks


def _outline(length_m: float, width_m: float) -> Stroke:
    x, y = mm(length_m) / 2, mm(width_m) / 2
    return rectangle("0", -x, -y, x, y)


def _curve(radius: float, half: float, angle_rad: float) -> tuple[Shape, ...]:
    """A curve to the left that starts at 0, 0 towards x."""
    centre, end = (0.0, radius), math.degrees(angle_rad)
    inner, outer = radius - half, radius + half
    sides = [Arc("0", centre, one, 270.0, 270.0 + end) for one in (inner, outer)]
    ends = [
        line("0", *((r * math.sin(angle), radius - r * math.cos(angle)) for r in (inner, outer)))
        for angle in (0.0, angle_rad)
    ]
    return (*sides, *ends)


def sections_of(scene: Scene, lane: LaneLayout) -> list[Insert]:
    """The sections of a lane where they lie, whole even where the last reaches beyond the lane."""
    found = []
    for rank, (start_m, length_m) in enumerate(zip((0.0, *lane.joints_travel_m), lane.sections, strict=True)):
        if lane.is_ring:
            at, turn = point_of(lane, start_m), math.degrees(heading_rad(lane, start_m)) % 360.0
        else:
            west_m = min(lane.travel_to_floor(start_m), lane.travel_to_floor(start_m + length_m))
            at, turn = (mm(west_m), mm(lane.across_m)), 0.0
        found.append(Insert("OUTLINE-SECTION", section_block(scene, lane, rank), at, round(turn, 9)))
    return found


def section_block(scene: Scene, lane: LaneLayout, rank: int) -> str:
    """Name of the block of a section: its part number, or without one what it is."""
    sheet, length_m = scene.line.conveyor, lane.sections[rank]
    angle = _angle_rad(lane, rank, length_m)
    if angle is None:
        stock = min(sheet.sections, key=lambda one: abs(one.length_m - length_m))
        return _block_name(scene, stock.part_number, f"SECTION-{scene.length(length_m)}")
    assert lane.radius_m is not None  # it is curved
    number_of = None if sheet.curve is None else sheet.curve.part_number
    return _block_name(scene, number_of, f"CURVE-{math.degrees(angle):.4g}deg-radius-{scene.length(lane.radius_m)}")


def carrier_block(scene: Scene) -> str:
    """Name of the block of the carrier."""
    return _block_name(scene, scene.line.conveyor.carrier.part_number, "CARRIER")


def _angle_rad(lane: LaneLayout, rank: int, length_m: float) -> float | None:
    """By what angle a section turns; None where it is straight."""
    start_m = (0.0, *lane.joints_travel_m)[rank]
    if lane.radius_m is None or not lane.touches_curve(start_m, start_m + length_m):
        return None
    return length_m / lane.radius_m


def _block_name(scene: Scene, part_number: str | None, else_named: str) -> str:
    """The part number as all readers take it as the name of a block, unless two parts would then have one name."""
    sheet = scene.line.conveyor
    stated = [one.part_number for one in (*sheet.sections, sheet.curve, sheet.carrier) if one is not None]
    named = [_plain_name(one).casefold() for one in stated if one] + [FIXTURE_BLOCK.casefold()]
    name = "" if part_number is None else _plain_name(part_number)
    return name if name and named.count(name.casefold()) == 1 else _plain_name(else_named)


def _plain_name(text: str) -> str:
    return re.sub(r"[^\w.-]+", "_", text, flags=re.ASCII).strip("_")
