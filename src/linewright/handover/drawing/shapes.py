"""What a drawing is made of: lines, arcs, words, dimensions and inserted blocks on named layers, in millimetres.

x runs along the floor to the east, y to greater across in a plan and upwards in a side view. Angles are in degrees,
from x to y.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from linewright.layout.placing import length_text
from linewright.pictures.labels import text_width_px
from linewright.pictures.style import HUE, INK, QUIET

MM: Final = 1000.0
CAPITALS: Final = 0.72  # height of a capital over the size of its face; a drawing counts the former
Point = tuple[float, float]
Box = tuple[float, float, float, float]
LineKind = Literal["full", "centre", "dashed", "hidden"]

# Lengths on paper of strokes (positive) and gaps. [mm]
PATTERNS: Final = {"centre": (6.0, -1.2, 0.8, -1.2), "dashed": (2.4, -1.2), "hidden": (1.2, -0.8)}


@dataclass(frozen=True)
class Layer:
    """A layer of the drawing.

    Parameters
    ----------
    colour : of screens and prints, ``#rrggbb``
    line : how its lines are broken
    weight_mm : width of its lines on paper. [mm], of ISO 128's row
    holds : what is on it
    """

    name: str
    colour: str
    line: LineKind
    weight_mm: float
    holds: str


LAYERS: Final = {
    one.name: one
    for one in (
        Layer("OUTLINE-SECTION", INK, "full", 0.35, "stock sections and curves, a block each"),
        Layer("JOINT", INK, "full", 0.5, "where two sections meet"),
        Layer("CARRIER", INK, "full", 0.25, "a carrier at each station"),
        Layer("FIXTURE", HUE, "dashed", 0.18, "envelope of the fixture"),
        Layer("TRANSFER", INK, "dashed", 0.35, "platforms at their lanes"),
        Layer("TRANSFER-WAY", QUIET, "hidden", 0.18, "ways of the platforms"),
        Layer("TRANSFER-CENTRE", INK, "centre", 0.25, "centre lines of platforms"),
        Layer("STATION-CENTRE", INK, "centre", 0.25, "centre lines of stations"),
        Layer("KEEP-CLEAR", HUE, "hidden", 0.25, "stretches kept clear of waiting carriers"),
        Layer("END-STOP", INK, "full", 0.7, "stops that fall in when a guard trips"),
        Layer("MOTOR-ZONE", HUE, "full", 0.5, "stretches whose motor supply is switched off by itself"),
        Layer("FEEDER", HUE, "full", 0.35, "where the cables of the motor supply come in"),
        Layer("GUARD", INK, "full", 0.7, "guards at their distances"),
        Layer("ACCESS", QUIET, "dashed", 0.25, "where people must get at the line"),
        Layer("FOOTPRINT", QUIET, "dashed", 0.35, "the track with its platforms and carriers"),
        Layer("DIMENSION", QUIET, "full", 0.18, "dimensions"),
        Layer("SECTION-NUMBER", INK, "full", 0.18, "numbers of the sections of a lane, in travel"),
        Layer("TEXT", INK, "full", 0.25, "names and notes"),
        Layer("TITLE", INK, "full", 0.35, "frame, lists and title block"),
    )
}
"""All layers by name; what is drawn later stands further down."""


@dataclass(frozen=True)
class Stroke:
    """A line through points."""

    layer: str
    points: tuple[Point, ...]
    closed: bool = False

    def moved(self, x: float, y: float) -> Stroke:
        """The same, elsewhere."""
        return replace(self, points=tuple((one[0] + x, one[1] + y) for one in self.points))

    @property
    def box(self) -> Box:
        """West, foot, east and top. [mm]"""
        return _around(self.points)


@dataclass(frozen=True)
class Arc:
    """An arc, from one angle on to greater ones. [deg]"""

    layer: str
    centre: Point
    radius: float
    from_deg: float
    to_deg: float

    def moved(self, x: float, y: float) -> Arc:
        """The same, elsewhere."""
        return replace(self, centre=(self.centre[0] + x, self.centre[1] + y))

    @property
    def ends(self) -> tuple[Point, Point]:
        """Where it starts and ends."""
        start, end = (_beyond(self.centre, self.radius, angle) for angle in (self.from_deg, self.to_deg))
        return start, end

    @property
    def box(self) -> Box:
        """West, foot, east and top of the whole circle. [mm]"""
        (x, y), r = self.centre, self.radius
        return x - r, y - r, x + r, y + r


@dataclass(frozen=True)
class Words:
    """One line of words.

    Parameters
    ----------
    at : the point that `align` and `base` speak of
    height : of a capital. [mm]
    turn_deg : 0, or 90 for reading upwards
    """

    layer: str
    text: str
    at: Point
    height: float
    align: Literal["left", "centre", "right"] = "left"
    base: Literal["foot", "middle", "top"] = "foot"
    turn_deg: float = 0.0

    def moved(self, x: float, y: float) -> Words:
        """The same, elsewhere."""
        return replace(self, at=(self.at[0] + x, self.at[1] + y))

    @property
    def box(self) -> Box:
        """West, foot, east and top, rather too large than too small. [mm]"""
        long, high = width_of(self.text, self.height), self.height
        left = -long * {"left": 0.0, "centre": 0.5, "right": 1.0}[self.align]
        foot = -high * {"foot": 0.0, "middle": 0.5, "top": 1.0}[self.base]
        corners = [(left, foot), (left + long, foot + high)]
        if self.turn_deg:
            corners = [(-up, on) for on, up in corners]
        return _around([(self.at[0] + on, self.at[1] + up) for on, up in corners])


@dataclass(frozen=True)
class Measure:
    """A dimension between two points, along x or, `upright`, along y; what it says is measured, never written.

    Parameters
    ----------
    start, end : what is measured; lines lead from them to the dimension line
    line_at : y of the dimension line, of an upright one x
    height : of its number. [mm]
    words_at : middle of the number; None for over the middle of the line
    """

    layer: str
    start: Point
    end: Point
    line_at: float
    height: float
    upright: bool = False
    words_at: Point | None = None

    def moved(self, x: float, y: float) -> Measure:
        """The same, elsewhere."""
        start, end = ((one[0] + x, one[1] + y) for one in (self.start, self.end))
        words_at = None if self.words_at is None else (self.words_at[0] + x, self.words_at[1] + y)
        return replace(self, start=start, end=end, line_at=self.line_at + (x if self.upright else y), words_at=words_at)

    @property
    def length(self) -> float:
        """What is measured. [mm]"""
        axis = 1 if self.upright else 0
        return abs(self.end[axis] - self.start[axis])

    @property
    def line(self) -> tuple[Point, Point]:
        """Ends of the dimension line."""
        if self.upright:
            return (self.line_at, self.start[1]), (self.line_at, self.end[1])
        return (self.start[0], self.line_at), (self.end[0], self.line_at)

    @property
    def middle(self) -> Point:
        """Middle of the number."""
        if self.words_at is not None:
            return self.words_at
        (x, y), (x2, y2) = self.line
        off = 0.9 * self.height
        return ((x + x2) / 2 - off, (y + y2) / 2) if self.upright else ((x + x2) / 2, (y + y2) / 2 + off)

    def words(self, units: str) -> Words:
        """Its number, in the unit of the line file."""
        turn = 90.0 if self.upright else 0.0
        return Words(self.layer, said_mm(self.length, units), self.middle, self.height, "centre", "middle", turn)

    @property
    def box(self) -> Box:
        """West, foot, east and top. [mm]"""
        words = self.words("mm").box
        return _around([self.start, self.end, *self.line, words[:2], words[2:]])


@dataclass(frozen=True)
class Radius:
    """The radius of an arc, from its centre to a point on it."""

    layer: str
    centre: Point
    at: Point
    height: float

    def moved(self, x: float, y: float) -> Radius:
        """The same, elsewhere."""
        centre, at = ((one[0] + x, one[1] + y) for one in (self.centre, self.at))
        return replace(self, centre=centre, at=at)

    @property
    def length(self) -> float:
        """What is measured. [mm]"""
        return math.dist(self.centre, self.at)

    @property
    def box(self) -> Box:
        """West, foot, east and top. [mm]"""
        return _around([self.centre, self.at])


@dataclass(frozen=True)
class Insert:
    """A block at a place."""

    layer: str
    block: str
    at: Point
    turn_deg: float = 0.0

    def moved(self, x: float, y: float) -> Insert:
        """The same, elsewhere."""
        return replace(self, at=(self.at[0] + x, self.at[1] + y))

    @property
    def box(self) -> Box:
        """The place alone: what is inserted is drawn where something else is."""
        return (*self.at, *self.at)


Shape = Stroke | Arc | Words | Measure | Radius | Insert


@dataclass(frozen=True)
class Drawing:
    """A whole drawing.

    Parameters
    ----------
    blocks : name -> what it is made of, about 0, 0, on the layer on which it is inserted
    shapes : in the order in which they are drawn
    scale : millimetres of the floor for one of paper
    sheet : name of the paper
    frame : west, foot, east and top of the paper. [mm] of the floor
    units : of the numbers, ``mm`` or ``inch``
    mark : 32 hexadecimal digits that follow from the input
    """

    blocks: dict[str, tuple[Shape, ...]]
    shapes: tuple[Shape, ...]
    scale: int
    sheet: str
    frame: Box
    units: str
    mark: str


def rectangle(layer: str, west: float, foot: float, east: float, top: float) -> Stroke:
    """A rectangle between two corners. [mm]"""
    return Stroke(layer, ((west, foot), (east, foot), (east, top), (west, top)), closed=True)


def line(layer: str, start: Point, end: Point) -> Stroke:
    """A straight line."""
    return Stroke(layer, (start, end))


def upright(layer: str, start: Point, end: Point, line_at: float, height: float, units: str) -> Measure:
    """A dimension along y; where its number is longer than itself, the number stands on the far side of the line."""
    measure = Measure(layer, start, end, line_at, height, upright=True)
    if width_of(said_mm(measure.length, units), height) + height <= measure.length:
        return measure
    return replace(measure, words_at=(line_at + 1.2 * height, (start[1] + end[1]) / 2))


def moved(shapes: Iterable[Shape], x: float, y: float) -> list[Shape]:
    """Shapes elsewhere. [mm]"""
    return [one.moved(x, y) for one in shapes]


def bounds(shapes: Iterable[Shape]) -> Box:
    """West, foot, east and top of shapes. [mm]"""
    boxes = [one.box for one in shapes]
    return (
        min(one[0] for one in boxes),
        min(one[1] for one in boxes),
        max(one[2] for one in boxes),
        max(one[3] for one in boxes),
    )


def width_of(text: str, height: float) -> float:
    """Width of words, rather too much than too little. [mm]"""
    return text_width_px(text, height / CAPITALS)


def mm(length_m: float) -> float:
    """Metres as the drawing counts them; a nanometre is noise of the arithmetic. [mm]"""
    return round(length_m * MM, 6) + 0.0


def said_mm(length_mm: float, units: str) -> str:
    """A length of the drawing as a dimension prints it, without its unit.

    Examples
    --------
    >>> said_mm(276.50, "mm"), said_mm(254.0, "inch")
    ('276.5', '10')
    """
    return length_text(length_mm / MM, units).rsplit(" ", 1)[0]


def _beyond(centre: Point, radius: float, angle_deg: float) -> Point:
    angle = math.radians(angle_deg)
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def _around(points: Sequence[Point]) -> Box:
    xs, ys = [one[0] for one in points], [one[1] for one in points]
    return min(xs), min(ys), max(xs), max(ys)
