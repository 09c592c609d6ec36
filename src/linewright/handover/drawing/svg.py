"""A drawing as SVG: the same description, drawn by hand so that its words stay words."""

from __future__ import annotations

import html
import math
from collections.abc import Callable
from typing import Final

from linewright.handover.drawing.shapes import (
    CAPITALS,
    LAYERS,
    PATTERNS,
    Arc,
    Drawing,
    Insert,
    Measure,
    Point,
    Radius,
    Shape,
    Stroke,
    Words,
    line,
    said_mm,
)

_ANCHORS: Final = {"left": "start", "centre": "middle", "right": "end"}
_LOWER: Final = {"foot": 0.0, "middle": 0.5, "top": 1.0}
Place = Callable[[Point], Point]


def svg_of(drawing: Drawing) -> bytes:
    """A drawing as an SVG picture, as large as its sheet of paper, a group a layer."""
    west, foot, east, top = drawing.frame
    scale = drawing.scale
    long, high = (east - west) / scale, (top - foot) / scale

    def place(point: Point) -> Point:
        return (point[0] - west) / scale, (top - point[1]) / scale

    drawn: dict[str, list[str]] = {name: [] for name in LAYERS}
    for shape in drawing.shapes:
        for one in _pieces(drawing, shape):
            drawn[shape.layer].append(_element(one, place, scale))
    groups = []
    for name, elements in drawn.items():
        if elements:
            layer = LAYERS[name]
            broken = ""
            if layer.line != "full":
                broken = f' stroke-dasharray="{" ".join(_short(abs(step)) for step in PATTERNS[layer.line])}"'
            groups.append(
                f'<g id="{name}" stroke="{layer.colour}" stroke-width="{_short(layer.weight_mm)}"{broken}>'
                f"<title>{layer.holds}</title>\n" + "\n".join(elements) + "\n</g>"
            )
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_short(long)}mm" height="{_short(high)}mm" '
        f'viewBox="0 0 {_short(long)} {_short(high)}" fill="none" font-family="sans-serif">\n'
        '<rect width="100%" height="100%" fill="#ffffff"/>\n'
    )
    return (head + "\n".join(groups) + "\n</svg>\n").encode("utf-8")


def _pieces(drawing: Drawing, shape: Shape) -> list[Stroke | Arc | Words]:
    """A shape as lines, arcs and words."""
    if isinstance(shape, Insert):
        turned = [_turned(one, shape.turn_deg) for one in drawing.blocks[shape.block]]
        return [piece for one in turned for piece in _pieces(drawing, one.moved(*shape.at))]
    if isinstance(shape, Measure):
        return _measured(shape, drawing.units)
    if isinstance(shape, Radius):
        return _radius(shape, drawing.units)
    return [shape]


def _turned(shape: Shape, turn_deg: float) -> Shape:
    """A shape of a block, turned about 0, 0: blocks hold strokes and arcs alone."""
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def turn(point: Point) -> Point:
        return point[0] * cos - point[1] * sin, point[0] * sin + point[1] * cos

    if isinstance(shape, Arc):
        angles = shape.from_deg + turn_deg, shape.to_deg + turn_deg
        return Arc(shape.layer, turn(shape.centre), shape.radius, *angles)
    if isinstance(shape, Stroke):
        return Stroke(shape.layer, tuple(turn(one) for one in shape.points), shape.closed)
    raise TypeError(f"a block holds strokes and arcs, not {type(shape).__name__}")


def _measured(shape: Measure, units: str) -> list[Stroke | Arc | Words]:
    """Dimension line, oblique ticks, lines from what is measured, and the number."""
    size, layer = shape.height, shape.layer
    drawn: list[Stroke | Arc | Words] = [line(layer, *shape.line), shape.words(units)]
    for point, (x, y) in zip((shape.start, shape.end), shape.line, strict=True):
        drawn.append(line(layer, (x - 0.4 * size, y - 0.4 * size), (x + 0.4 * size, y + 0.4 * size)))
        off, far = (point[0], x) if shape.upright else (point[1], y)
        way = math.copysign(1.0, far - off)
        if abs(far - off) > 0.3 * size:
            ends = off + way * 0.3 * size, far + way * 0.5 * size
            both = [(one, y) if shape.upright else (x, one) for one in ends]
            drawn.append(line(layer, both[0], both[1]))
    return drawn


def _radius(shape: Radius, units: str) -> list[Stroke | Arc | Words]:
    (x, y), (x2, y2) = shape.centre, shape.at
    upright = (90.0 if x2 >= x else -90.0) if abs(y2 - y) > abs(x2 - x) * 4 else 0.0
    middle = (x + x2) / 2, (y + y2) / 2 + (0.0 if upright else 0.2 * shape.height)
    words = Words(shape.layer, f"R{said_mm(shape.length, units)}", middle, shape.height, "centre", "foot", upright)
    return [line(shape.layer, shape.centre, shape.at), words]


def _element(shape: Stroke | Arc | Words, place: Place, scale: float) -> str:
    if isinstance(shape, Words):
        x, y = place(shape.at)
        size = shape.height / scale
        turn = f' transform="rotate({_short(-shape.turn_deg)} {_short(x)} {_short(y)})"' if shape.turn_deg else ""
        return (
            f'<text x="{_short(x)}" y="{_short(y + 0.0)}" dy="{_short(_LOWER[shape.base] * size)}" '
            f'font-size="{_short(size / CAPITALS)}" text-anchor="{_ANCHORS[shape.align]}" '
            f'fill="{LAYERS[shape.layer].colour if shape.layer != "DIMENSION" else LAYERS["TEXT"].colour}" '
            f'stroke="none"{turn}>{html.escape(shape.text)}</text>'
        )
    if isinstance(shape, Arc):
        start, end = (place(one) for one in shape.ends)
        large = 1 if shape.to_deg - shape.from_deg > 180.0 else 0
        r = _short(shape.radius / scale)
        return f'<path d="M{_pair(start)}A{r} {r} 0 {large} 0 {_pair(end)}"/>'
    points = [place(one) for one in shape.points]
    path = "L".join(_pair(one) for one in points)
    return f'<path d="M{path}{"Z" if shape.closed else ""}"/>'


def _pair(point: Point) -> str:
    return f"{_short(point[0])} {_short(point[1])}"


def _short(value: float) -> str:
    """A number to a thousandth of a millimetre on paper."""
    return f"{round(value, 3) + 0.0:g}" if abs(value) < 1000 else f"{round(value, 3)}"
