"""The lists beside the views: stations, transfers, marks, parts, notes, and the title block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewright.handover.drawing.scene import Scene, View
from linewright.handover.drawing.shapes import CAPITALS, Shape, Words, line, rectangle, width_of
from linewright.handover.drawing.whole import Mark
from linewright.handover.papers.rows import AN_AID
from linewright.pictures.labels import wrapped
from linewright.quantities import number
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.planning.parts_list import PartsList

LINE: Final = 1.8  # from one line of words to the next, in heights of a capital
LEAST_MM: Final = 150.0  # width of the lists on paper


@dataclass(frozen=True)
class Roll:
    """A list.

    Parameters
    ----------
    columns : headings; one that begins with ">" stands at the right of its column
    """

    heading: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def rolls_of(scene: Scene, marks: Sequence[Mark], parts: PartsList) -> list[Roll]:
    """All lists of a line."""
    found = [_stations(scene)]
    if scene.layout.transfers:
        rows = tuple(
            (
                one.name,
                one.kind,
                f"{' and '.join(one.takes)} to {' and '.join(one.gives)}",
                scene.length(one.platform_m),
                scene.length(one.ride_m),
            )
            for one in scene.layout.transfers
        )
        found.append(Roll("Transfers", ("name", "kind", "from and to", ">platform", ">ride"), rows))
    if marks:
        found.append(Roll("Marks", ("mark", "what"), tuple((one.code, one.told) for one in marks)))
    bought = tuple(
        (
            one.part_number or "no part number stated",
            one.item,
            scene.run(one.count)
            if one.unit == "m"
            else f"{number(one.count)} {'piece' if one.count == 1.0 else 'pieces'}",
        )
        for one in parts.rows
    )
    found.append(Roll("Parts", ("part number", "item", ">count"), bought))
    return found


def _stations(scene: Scene) -> Roll:
    rows = []
    rings = any(lane.is_ring for lane in scene.layout.lanes)
    for station in scene.line.stations:
        stop = scene.layout.stop_of(station.name)
        lane = scene.layout.lane(stop.lane)
        west_m, across_m = lane.floor_point(stop.travel_m)
        clear = "" if station.keep_clear_m == 0.0 else f"± {scene.length(station.keep_clear_m)}"
        along = (scene.length(stop.travel_m) if lane.is_ring else "",) if rings else ()
        places = scene.length(west_m), scene.length(across_m), scene.length(lane.level_m)
        rows.append((station.name, lane.name, *places, *along, "by hand" if station.work == "manual" else "", clear))
    columns = ("station", "lane", ">from the west end", ">across", ">level", *((">along",) if rings else ()))
    return Roll("Stations", (*columns, "work", ">kept clear"), tuple(rows))


def roll_shapes(scene: Scene, roll: Roll, west: float, top: float, room: float) -> tuple[list[Shape], float]:
    """A list from its upper left corner on, no wider than a room where words can be broken; and where it ends. [mm]"""
    size = scene.size
    broken = len(roll.columns) == 2
    widths = [
        max(width_of(one, size) for one in (name.removeprefix(">"), *(row[k] for row in roll.rows))) + 1.5 * size
        for k, name in enumerate(roll.columns)
    ]
    shapes: list[Shape] = [Words("TITLE", roll.heading, (west, top), 1.2 * size, "left", "top")]
    y = top - 1.4 * LINE * size
    if broken:
        widths[1] = room - widths[0]
    for cells in (tuple(name.removeprefix(">") for name in roll.columns), *roll.rows):
        x, lines = west, 1
        for k, (cell, wide) in enumerate(zip(cells, widths, strict=True)):
            right = roll.columns[k].startswith(">")
            at = x + wide - 1.5 * size if right else x
            texts = wrapped(cell, wide, size / CAPITALS) if broken and k == 1 else [cell]
            lines = max(lines, len(texts))
            for n, text in enumerate(one for one in texts if one):
                shapes.append(
                    Words("TITLE", text, (at, y - n * LINE * size), size, "right" if right else "left", "top")
                )
            x += wide
        y -= lines * LINE * size
        if cells is not None and len(shapes) == 1 + len(roll.columns):
            shapes.append(line("TITLE", (west, y + 0.5 * size), (west + max(room, sum(widths)), y + 0.5 * size)))
    return shapes, y - size


def width_of_roll(scene: Scene, roll: Roll) -> float:
    """How wide a list is at least. [mm]"""
    if len(roll.columns) == 2:
        return LEAST_MM * scene.scale
    size = scene.size
    return sum(
        max(width_of(one, size) for one in (name.removeprefix(">"), *(row[k] for row in roll.rows))) + 1.5 * size
        for k, name in enumerate(roll.columns)
    )


def notes_of(scene: Scene, moved: Sequence[tuple[View, float]]) -> list[str]:
    """What a reader must know to use the drawing.

    Parameters
    ----------
    moved : views, and how far below its own place each is drawn. [mm]
    """
    line_ = scene.line
    below = "; ".join(f"{view.heading.split(':')[0]}, {number(down)} mm" for view, down in moved[1:])
    said = [
        (
            "x of the drawing is the floor distance from the west end, from which the line file counts; all distances "
            "of stations are measured from there, also where a lane starts elsewhere."
        ),
        (
            f"{moved[0][0].heading}: drawn at its own place, y is {moved[0][0].down}. "
            f"The other views are drawn lower than their own y: {below}."
        ),
        (
            "Track and platforms are drawn as wide as the bare carrier: the conveyor sheet states no width or height "
            "of the track. Levels are those of the line file; heights of track and carriers are not stated."
        ),
        f"A carrier is drawn at each station; the line has {number(line_.carriers)} in all.",
        "Footprint: the track with its platforms and carriers. Machines, guards, access and cabinets are not in it.",
    ]
    if any(station.guard is not None for station in line_.stations):
        said.append(
            "A guard is drawn at its distance from the edge of carrier and fixture, on a side that has no other "
            "lane: the line file states neither its side, nor its width, nor where the nearest danger is."
        )
    if any(station.work == "manual" and station.guard is None for station in line_.stations):
        said.append("Stations with work by hand and no guard: state the key guard of the station, with its distance.")
    if scene.layout.transfers:
        said.append("How much room access takes is stated by no key of the line file: plan it on the floor.")
    if not line_.feeders:
        said.append("Where supply cables come in is not known: the key feeders of the line file would say.")
    said += [
        f"The stock sections of {lane.name} are {scene.length(lane.surplus_m)} longer than the line file asks for."
        for lane in scene.layout.lanes
        if lane.surplus_m
    ]
    if scene.layout.blocking:
        said.append(f"No traffic can be planned on this track: {'; '.join(scene.layout.blocking)}.")
    return said


def note_shapes(scene: Scene, notes: Sequence[str], west: float, top: float, room: float) -> tuple[list[Shape], float]:
    """Notes with their numbers, broken to a room; and where they end. [mm]"""
    size, indent = scene.size, 2.5 * scene.size
    shapes: list[Shape] = [Words("TITLE", "Notes", (west, top), 1.2 * size, "left", "top")]
    y = top - 1.4 * LINE * size
    for n, note in enumerate(notes, start=1):
        shapes.append(Words("TITLE", f"{n}", (west, y), size, "left", "top"))
        for text in wrapped(note, room - indent, size / CAPITALS):
            shapes.append(Words("TITLE", text, (west + indent, y), size, "left", "top"))
            y -= LINE * size
    return shapes, y - size


def title_shapes(scene: Scene, sheet: str, west: float, top: float, room: float) -> tuple[list[Shape], float]:
    """The title block, with lines to sign; and where it ends. [mm]"""
    size, line_ = scene.size, scene.line
    numbers = "mm" if line_.units == "mm" else "inches"
    rows = [
        ("line", line_.name),
        ("drawing", "plan and side view"),
        ("scale", f"1:{scene.scale} on {sheet}; sheet 1 of 1"),
        ("units", f"drawn in mm, 1 unit is 1 mm; dimensions in {numbers}"),
        ("input", line_.input_hash[:16]),
        ("made by", f"Linewright {__version__}"),
        ("date", ""),
        ("approved", ""),
    ]
    sheet_name = line_.conveyor.name
    told = [f"The conveyor sheet {sheet_name} is invented: build nothing from it."] if line_.conveyor.invented else []
    key, shapes = 7.5 * size, list[Shape]()
    y = top
    for name, text in rows:
        texts = wrapped(text, room - key - size, size / CAPITALS) or [""]
        high = (LINE * len(texts) + (1.8 if not text else 0.4)) * size
        shapes.append(Words("TITLE", name, (west + 0.6 * size, y - 0.6 * size), size, "left", "top"))
        for n, one in enumerate(one for one in texts if one):
            at = west + key, y - (0.6 + LINE * n) * size
            shapes.append(Words("TITLE", one, at, size, "left", "top"))
        y -= high
        shapes.append(line("TITLE", (west, y), (west + room, y)))
    for text in (one for note in [*told, AN_AID] for one in wrapped(note, room - 1.2 * size, size / CAPITALS)):
        shapes.append(Words("TITLE", text, (west + 0.6 * size, y - 0.6 * size), size, "left", "top"))
        y -= LINE * size
    y -= 0.6 * size
    shapes.append(rectangle("TITLE", west, y, west + room, top))
    return shapes, y
