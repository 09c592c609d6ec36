"""The drawing of a line: plan and side view to scale, put on a sheet of paper, as DXF and as SVG."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from linewright.handover.drawing.dxf import INCH_MM, dxf_of
from linewright.handover.drawing.lists import (
    LEAST_MM,
    note_shapes,
    roll_shapes,
    rolls_of,
    title_shapes,
    width_of_roll,
)
from linewright.handover.drawing.notes import notes_of
from linewright.handover.drawing.plan import plan_views
from linewright.handover.drawing.scene import Scene, View, blocks_of
from linewright.handover.drawing.shapes import Drawing, Shape, Words, bounds, moved, rectangle
from linewright.handover.drawing.side import side_view
from linewright.handover.drawing.svg import svg_of
from linewright.handover.drawing.whole import marks_of, whole_view
from linewright.handover.papers.material import Material

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation
    from linewright.planning.money.parts_list import PartsList

# Sheets and scales from the handiest on: name, length and height. [mm]
ISO: Final = {"A3": (420.0, 297.0), "A2": (594.0, 420.0), "A1": (841.0, 594.0), "A0": (1189.0, 841.0)}
ANSI: Final = {
    "ANSI B": (431.8, 279.4),
    "ANSI C": (558.8, 431.8),
    "ANSI D": (863.6, 558.8),
    "ANSI E": (1117.6, 863.6),
}
CHOICES: Final = ((0, 5), (0, 10), (1, 10), (1, 20), (2, 10), (2, 20), (3, 20), (2, 50), (3, 50), (3, 100), (3, 200))
MARGIN_MM: Final = 10.0
INSIDE_MM: Final = 8.0


def files_of(material: Material) -> dict[str, Callable[[], bytes]]:
    """The drawing as DXF and as SVG, drawn when the first of them is asked for.

    Parameters
    ----------
    material : of the line; its track and its parts list are drawn, so that a run is not needed
    """
    kept: list[Drawing] = []

    def drawing() -> Drawing:
        if not kept:
            kept.append(drawing_of(material.evaluation, material.parts))
        return kept[0]

    return {"drawing.dxf": lambda: dxf_of(drawing()), "drawing.svg": lambda: svg_of(drawing())}


def drawing_of(evaluation: Evaluation, parts: PartsList) -> Drawing:
    """Draw a line on the smallest sheet at the largest scale that reads well.

    Parameters
    ----------
    evaluation : of the line
    parts : what its list of parts names
    """
    inch = evaluation.line.units == "inch"
    sheets = list((ANSI if inch else ISO).items())
    edges = 2 * (MARGIN_MM + INSIDE_MM)
    for choice, scale in CHOICES:
        sheet, (long, high) = sheets[choice]
        scene = Scene(evaluation, scale)
        views, notes = _views(scene)
        for arrange in (_beside, _below):
            shapes, title = arrange(scene, parts, views, notes, sheet)
            box = bounds([*shapes, *title])
            if box[2] - box[0] <= (long - edges) * scale and box[3] - box[1] <= (high - edges) * scale:
                return _framed(scene, sheet, (long, high), shapes, title)
    # Longer than any sheet: the paper is as large as the drawing, as a plotter with a roll takes it.
    shapes, title = _beside(scene, parts, views, notes, "a roll")
    box = bounds([*shapes, *title])
    size = (box[2] - box[0]) / scale + edges, (box[3] - box[1]) / scale + edges
    return _framed(scene, "a roll", size, shapes, title)


def _framed(scene: Scene, sheet: str, size: tuple[float, float], shapes: list[Shape], title: list[Shape]) -> Drawing:
    """A drawing on its paper, the title block in the corner. [mm] of paper"""
    scale, line = scene.scale, scene.line
    box, block = bounds([*shapes, *title]), bounds(title)
    west, top = box[0] - (MARGIN_MM + INSIDE_MM) * scale, box[3] + (MARGIN_MM + INSIDE_MM) * scale
    frame = west, top - size[1] * scale, west + size[0] * scale, top
    edge = MARGIN_MM * scale
    inner = rectangle("TITLE", frame[0] + edge, frame[1] + edge, frame[2] - edge, frame[3] - edge)
    corner = moved(title, frame[2] - edge - block[2], frame[1] + edge - block[1])
    return Drawing(blocks_of(scene), (*shapes, *corner, inner), scale, sheet, frame, line.units, line.input_hash[:32])


def _views(scene: Scene) -> tuple[list[Shape], list[str]]:
    """All views one below the other, and what is to be noted of them."""
    placed, shapes = _stacked(scene, [*plan_views(scene), whole_view(scene, marks_of(scene)), side_view(scene)])
    return shapes, notes_of(scene, placed)


def _beside(
    scene: Scene, parts: PartsList, views: list[Shape], notes: list[str], sheet: str
) -> tuple[list[Shape], list[Shape]]:
    """The lists in one column right of the views, and the title block below them."""
    box = bounds(views)
    rolls = rolls_of(scene, marks_of(scene), parts)
    room = max(width_of_roll(scene, one) for one in rolls)
    west, top = box[2] + 6.0 * scene.size, box[3]
    shapes = list(views)
    for roll in rolls:
        drawn, top = roll_shapes(scene, roll, west, top, room)
        shapes += drawn
    drawn, top = note_shapes(scene, notes, west, top, room)
    return [*shapes, *drawn], title_shapes(scene, sheet, west, top, room)[0]


def _below(
    scene: Scene, parts: PartsList, views: list[Shape], notes: list[str], sheet: str
) -> tuple[list[Shape], list[Shape]]:
    """The lists in columns below the views, and the title block in one more at their right."""
    box, gap = bounds(views), 6.0 * scene.size
    rolls = rolls_of(scene, marks_of(scene), parts)
    shapes = list(views)
    west, head = box[0], box[1] - 5.0 * scene.size
    room = max(width_of_roll(scene, one) for one in rolls)
    half = -(-len(rolls) // 2)
    for column in (rolls[:half], rolls[half:]):
        top = head
        for roll in column:
            drawn, top = roll_shapes(scene, roll, west, top, room)
            shapes += drawn
        west += room + gap
    room = LEAST_MM * scene.scale
    drawn, top = note_shapes(scene, notes, west, head, room)
    return [*shapes, *drawn], title_shapes(scene, sheet, west, top, room)[0]


def _stacked(scene: Scene, views: list[View]) -> tuple[list[tuple[View, float]], list[Shape]]:
    """Views with their headings, the first at its own place, each further one moved straight down. [mm]"""
    size = scene.size
    placed: list[tuple[View, float]] = []
    shapes: list[Shape] = []
    west = min(bounds(view.shapes)[0] for view in views)
    top: float | None = None
    for view in views:
        box = bounds(view.shapes)
        head = box[3] + 2.5 * size
        # Round paces, so that what is told of them is short.
        pace = INCH_MM if scene.line.units == "inch" else scene.scale
        down = 0.0 if top is None else -(-(head + 1.4 * size - top) // pace) * pace
        shapes += moved(view.shapes, 0.0, -down)
        shapes.append(Words("TITLE", view.heading, (west, head - down), 1.4 * size))
        placed.append((view, down))
        top = box[1] - down - 3.0 * size
    return placed, shapes
