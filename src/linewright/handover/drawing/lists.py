"""The lists beside the views: what fails, stations, transfers, mounting, marks, parts, notes, and the title block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from linewright.handover.drawing.failing import failing, part_note, unchecked, untouched
from linewright.handover.drawing.scene import Scene
from linewright.handover.drawing.shapes import CAPITALS, Shape, Words, line, rectangle, width_of
from linewright.handover.drawing.whole import Mark
from linewright.handover.papers.rows import AN_AID
from linewright.handover.wording import bound_of
from linewright.pictures.floor.ground import docks
from linewright.pictures.labels import wrapped
from linewright.quantities import KEEP, number, quantity, scale_of
from linewright.version import __version__

if TYPE_CHECKING:
    from linewright.planning.money.parts_list import PartsList

LINE: Final = 1.8  # from one line of words to the next, in heights of a capital
LEAST_MM: Final = 150.0  # width of the lists on paper
BROKEN_MM: Final = 70.0  # width on paper of a column of words that is broken, beside others


@dataclass(frozen=True)
class Roll:
    """A list.

    Parameters
    ----------
    columns : headings; one that begins with ">" stands at the right of its column
    breaks : whether the words of the second column are broken to the room, as in every list of two
    """

    heading: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    breaks: bool = False


def rolls_of(scene: Scene, marks: Sequence[Mark], parts: PartsList) -> list[Roll]:
    """All lists of a line."""
    found = [_not_sound(scene), _stations(scene)]
    if scene.layout.transfers:
        found.append(_transfers(scene))
    mounting = _mounting(scene)
    if mounting.rows:
        found.append(mounting)
    if marks:
        told = tuple((f"{one.code} (fails)" if one.fails else one.code, one.told) for one in marks)
        found.append(Roll("Marks", ("mark", "what"), told))
    found.append(_parts(scene, parts))
    return found


def _not_sound(scene: Scene) -> Roll:
    """What fails of what is built, wired and guarded; how much of it is not checked."""
    units, count = scene.line.units, unchecked(scene.evaluation)
    rows = [
        (
            one.code,
            one.where,
            "" if one.value is None else quantity(one.value, one.unit, units, one.limit),
            "" if one.limit is None else f"{bound_of(one)} {quantity(one.limit, one.unit, units, one.value)}",
        )
        for one in failing(scene.evaluation)
    ]
    if not rows:
        rows = [("", "of what was checked of layout, power, safety and strength nothing fails", "", "")]
    lacking = f"{number(count)} {'row is' if count == 1 else 'rows are'} NOT CHECKED"
    bare = ", ".join(untouched(scene.evaluation))
    rest = f"layout, power, safety and strength: {lacking}{bare and f', and nothing at all of {bare} is checked'}"
    rows.append(("", f"{rest}; see the dossier, there all other subjects too", "", ""))
    return Roll("Not sound as planned", ("code", "where", ">value", ">limit"), tuple(rows), breaks=True)


def _parts(scene: Scene, parts: PartsList) -> Roll:
    """The parts with their counts; where the check of one fails, a column says so."""
    rows = []
    for one in parts.rows:
        pieces = f"{number(one.count)} {'piece' if one.count == 1.0 else 'pieces'}"
        counted = scene.run(one.count) if one.unit == "m" else pieces
        rows.append((one.part_number or "no part number stated", one.item, counted, part_note(scene.evaluation, one)))
    columns = ("part number", "item", ">count", "check")
    if any(row[-1] for row in rows):
        return Roll("Parts", columns, tuple(rows))
    return Roll("Parts", columns[:-1], tuple(row[:-1] for row in rows))


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


def _transfers(scene: Scene) -> Roll:
    """A row for each lane at which a platform stands: the ways that are to meet it, and where."""
    rows = []
    for transfer in scene.layout.transfers:
        whole = transfer.name, transfer.kind
        sizes = tuple(scene.length(one) for one in (transfer.platform_m, transfer.gap_m, transfer.ride_m))
        for dock in (one for one in docks(scene.layout) if one.transfer is transfer):
            lane = dock.lane
            ways = [way for way, lanes in (("from", transfer.takes), ("to", transfer.gives)) if lane.name in lanes]
            places = tuple(scene.length(one) for one in (dock.middle_m, lane.across_m, lane.level_m))
            row = (*whole, f"{' and '.join(ways)} {lane.name}", *places, *sizes)
            if row not in rows:
                rows.append(row)
            whole, sizes = ("", ""), ("", "", "")
    columns = ("name", "kind", "at lane", ">centre from the west end", ">across", ">level")
    return Roll("Transfers", (*columns, ">platform", ">gap to lane", ">ride"), tuple(rows))


def _mounting(scene: Scene) -> Roll:
    """How the track must lie, lane by lane, as the conveyor sheet states it, and how that is measured."""
    limits = scene.evaluation.limits
    rows = tuple(
        (
            str(row["what"]).replace("_", " "),
            str(row["lane"]),
            _within(float(row["limit_m"]), scene.line.units),
            str(row["places"]) if row["what"] == "joint_step" else "",
            str(row["method"]),
        )
        for row in ([] if limits is None else limits.accuracy.mounting.rows())
    )
    return Roll("Mounting", ("what", "lane", ">within", ">joints", "how it is measured"), rows)


def _within(limit_m: float, units: str) -> str:
    """A limit to both sides; in inches to three digits, of which more could not be measured."""
    if units != "inch":
        return f"±{quantity(limit_m, 'm', units)}"
    shown, factor = scale_of([limit_m], "m", units)
    return f"±{number(float(f'{limit_m * factor:.3g}'))}{KEEP}{shown}"


def roll_shapes(scene: Scene, roll: Roll, west: float, top: float, room: float) -> tuple[list[Shape], float]:
    """A list from its upper left corner on; and where it ends. [mm]

    Parameters
    ----------
    scene : of the line, for the size of the letters
    roll : the list; where its second column is broken, it is broken to the room, else it is as wide as its words
    west, top : the upper left corner, on the floor. [mm]
    room : width beside it. [mm]
    """
    size, widths = scene.size, _widths(scene, roll)
    if _is_broken(roll):
        widths[1] = room - sum(widths) + widths[1]
    title = Words("TITLE", roll.heading, (west, top), 1.2 * size, "left", "top")
    heads, y = _row_shapes(roll, _heads(roll), widths, (west, top - 1.4 * LINE * size), size)
    rule = line("TITLE", (west, y + 0.5 * size), (west + max(room, sum(widths)), y + 0.5 * size))
    shapes: list[Shape] = [title, *heads, rule]
    for cells in roll.rows:
        row, y = _row_shapes(roll, cells, widths, (west, y), size)
        shapes += row
    return shapes, y - size


def _row_shapes(
    roll: Roll, cells: Sequence[str], widths: Sequence[float], corner: tuple[float, float], size: float
) -> tuple[list[Shape], float]:
    """A row of a list from its upper left corner on; and where it ends. [mm]"""
    (x, y), lines = corner, 1
    shapes: list[Shape] = []
    for k, (cell, wide) in enumerate(zip(cells, widths, strict=True)):
        right = roll.columns[k].startswith(">")
        at = x + wide - 1.5 * size if right else x
        texts = wrapped(cell, wide, size / CAPITALS) if _is_broken(roll) and k == 1 else [cell]
        lines = max(lines, len(texts))
        for n, text in enumerate(one for one in texts if one):
            shapes.append(Words("TITLE", text, (at, y - n * LINE * size), size, "right" if right else "left", "top"))
        x += wide
    return shapes, y - lines * LINE * size


def _heads(roll: Roll) -> tuple[str, ...]:
    return tuple(name.removeprefix(">") for name in roll.columns)


def _is_broken(roll: Roll) -> bool:
    return roll.breaks or len(roll.columns) == 2


def _widths(scene: Scene, roll: Roll) -> list[float]:
    """Of the columns, as their longest words want it. [mm]"""
    texts = zip(_heads(roll), *roll.rows, strict=True)
    return [max(width_of(one, scene.size) for one in column) + 1.5 * scene.size for column in texts]


def width_of_roll(scene: Scene, roll: Roll) -> float:
    """How wide a list is at least. [mm]"""
    widths = _widths(scene, roll)
    if not _is_broken(roll):
        return sum(widths)
    beside = sum(widths) - widths[1]
    return max(LEAST_MM * scene.scale, beside + BROKEN_MM * scene.scale)


def note_shapes(scene: Scene, notes: Sequence[str], west: float, top: float, room: float) -> tuple[list[Shape], float]:
    """Notes with their numbers, broken to a room; and where they end. [mm]

    Parameters
    ----------
    scene : of the line, for the size of the letters
    notes : in the order of their numbers
    west, top : the upper left corner, on the floor. [mm]
    room : width beside it. [mm]
    """
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
    """The title block, with lines to sign; and where it ends. [mm]

    Parameters
    ----------
    scene : of the line
    sheet : name of the paper's size
    west, top : the upper left corner, on the floor. [mm]
    room : width beside it. [mm]
    """
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
