"""Names on leader lines under or over a bar, and the words that every picture of a run says of itself."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

from linewright.line.model import Line
from linewright.pictures.grammar import Datasets, Spec, as_is, end, field, layer, pixels, told
from linewright.pictures.labels import text_width_px, wrapped
from linewright.pictures.style import FILLS, HUE, INK, PAPER, QUIET, Text
from linewright.pictures.wording import invented
from linewright.quantities import KEEP

LEAD_GAP_PX: Final = 9.0  # between the upright ends of two leader lines
NAME_GAP_PX: Final = 5.0  # from a name to its leader line
MARK_ROOM_PX: Final = 8.0  # from an upright line through a bar to the nearest leader line
FAN_PX: Final = 14.0  # height in which leader lines draw apart
_TEXT_COLOUR: Final = {"work": PAPER}
_UNIT: Final = re.compile(
    r"(?<=\d) (?=(?:/|%|σ|°C|mm|in|m|kg|g|s|ms|min|h|A|V|W|J|N|runs?)(?!\w))"  # 12 mm
    r"|(?<=\d\u00a0/) (?=s\b)|(?<=\u00a0σ) (?=\d)"  # 0.008 / s, 3 σ 0.06 mm
)
_PLAIN: Final = ("work", "tool", "starved", "")  # fills on which words read without a box of their own


@dataclass(frozen=True)
class Stretch:
    """A named part of a bar.

    Parameters
    ----------
    from_px, to_px : along the bar. [px]
    words : its name, inside it or beside a leader line
    told : what a pointer tells of it
    fill : a name out of `style.FILLS`; empty for a part with a dashed edge that holds several
    """

    from_px: float
    to_px: float
    words: str
    told: str
    fill: str


@dataclass(frozen=True)
class Mark:
    """A place along a bar with its name.

    Parameters
    ----------
    at_px : along the bar. [px]
    words : its name
    told : what a pointer tells of it
    """

    at_px: float
    words: str
    told: str


def caution(line: Line, runs: str) -> list[str]:
    """What stands over every picture of simulated figures: that they are simulated, and where the sheet is invented.

    Parameters
    ----------
    line : that was simulated
    runs : how many runs, how long, of which seed; empty where nothing was simulated
    """
    simulated = [f"Simulated, not measured: {runs}."] if runs else []
    said = " ".join([*simulated, *invented(line)])
    return [said] if said else []


def kept(words: str) -> str:
    """Words in which no line breaks between a number and its unit.

    Examples
    --------
    >>> kept("0.008 / s, 2 runs of 2.03 h").count(KEEP)
    4
    """
    return _UNIT.sub(KEEP, _UNIT.sub(KEEP, words))


def kept_lines(words: str, width_px: float, size_px: float) -> list[str]:
    """Words broken into lines, but never between a number and its unit. [px]"""
    grouped = words.replace(KEEP, "\0")  # a space within a number stays what it is
    lines = wrapped(kept(grouped), width_px, size_px)
    return [line.replace(KEEP, " ").replace("\0", KEEP) for line in lines]


def words_layer(rows: Sequence[tuple[float, float, str]], data: Datasets, size_px: float, **look: Any) -> Spec:
    """Words at places, from their left ends and about their middle heights. [px]"""
    place = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
    drawn = {"align": "left", "baseline": "middle", "fontSize": size_px, "color": INK, **look}
    return layer(data.named([{"x": x, "y": y, "words": words} for x, y, words in rows]), "text", drawn, place)


def comb(
    marks: Sequence[Mark], top: float, width_px: float, data: Datasets, text: Text, upwards: bool = False
) -> tuple[list[Spec], float]:
    """Names of places in a row, each on a line of its own, beside the end of its leader line; no leader meets a name.

    Parameters
    ----------
    marks : the places, in any order
    top : upper edge. [px]
    width_px : of the row. [px]
    data : takes the rows
    text : sizes of letters
    upwards : the names stand over the row that is named, not under it

    Returns
    -------
    layers, height   [px]

    Raises
    ------
    ValueError   A name does not fit into the width.

    Notes      All names stand left of their leaders, or all right of them, whichever bends the leaders less. Ends of
               leaders keep the order of the places. With names at the left the leftmost stands nearest to the row: each
               leader ends before the next line of names begins, and all that pass a name pass right of it.
    """
    if not marks:
        return [], 0.0
    ends, side = _lead_ends(marks, width_px, text.px)
    height = FAN_PX + text.line_px * len(marks)

    def y(down: float) -> float:
        return top + (height - down if upwards else down)

    lines, names = [], []
    nearest_first = sorted(range(len(marks)), key=lambda number: side * ends[number])
    for line, number in enumerate(nearest_first):
        mark, at, middle = marks[number], ends[number], FAN_PX + text.line_px * (line + 0.5)
        points = ((mark.at_px, 0.0), (at, FAN_PX), (at, middle))
        lines += [{"x": x, "y": y(down), "n": number, "k": k} for k, (x, down) in enumerate(points)]
        names.append({"x": at - side * NAME_GAP_PX, "y": y(middle), "words": mark.words, "name": mark.told})
    place = {"x": pixels("x"), "y": pixels("y")}
    lead = {**place, "detail": field("n", "nominal"), "order": field("k")}
    align = "right" if side > 0 else "left"
    look = {"align": align, "baseline": "middle", "fontSize": text.px, "color": INK}
    words = {**place, "text": field("words", "nominal"), **told()}
    return [
        layer(data.named(lines), "line", {"color": QUIET, "strokeWidth": 0.9}, lead),
        layer(data.named(names), "text", look, words),
    ], height


def _lead_ends(marks: Sequence[Mark], width_px: float, size_px: float) -> tuple[list[float], int]:
    """Where leaders end, in the order of the marks, and 1 where names stand left of them, -1 for right. [px]"""
    widths = [text_width_px(mark.words, size_px) + NAME_GAP_PX for mark in marks]
    if max(widths) + LEAD_GAP_PX * (len(marks) - 1) > width_px:
        raise ValueError(f"a name of {max(widths):g} px does not fit into a row of {width_px:g} px")
    places = [mark.at_px for mark in marks]
    left = _pushed(places, widths, width_px)
    right = [width_px - end_px for end_px in _pushed([width_px - at for at in places], widths, width_px)]
    bends = [sum(abs(end_px - at) for end_px, at in zip(ends, places, strict=True)) for ends in (left, right)]
    return (left, 1) if bends[0] <= bends[1] else (right, -1)


def _pushed(places: Sequence[float], widths: Sequence[float], width_px: float) -> list[float]:
    """The places, each pushed right as far as its width and the one before ask for, but not out of the row. [px]"""
    order = sorted(range(len(places)), key=lambda number: (places[number], number))
    ends = [0.0] * len(places)
    reached = -LEAD_GAP_PX
    for number in order:
        reached = ends[number] = max(places[number], widths[number], reached + LEAD_GAP_PX)
    last = width_px
    for number in reversed(order):
        ends[number] = min(ends[number], last)
        last = ends[number] - LEAD_GAP_PX
    return ends


def named_bar(
    stretches: Sequence[Stretch],
    top: float,
    high: float,
    width_px: float,
    data: Datasets,
    text: Text,
    marks_px: Sequence[float] = (),
) -> tuple[list[Spec], float]:
    """A bar of stretches, each named inside where there is room, else beside a leader line below.

    Parameters
    ----------
    stretches : from left to right
    top, high : upper edge and height of the bar. [px]
    width_px : of the picture. [px]
    data : takes the rows
    text : sizes of letters
    marks_px : upright lines through the bar, by which no leader line shall begin. [px]

    Returns
    -------
    layers, height   of bar and names together. [px]
    """
    boxes, grounds, inside, outside = [], [], [], []
    for one in stretches:
        paint = FILLS[one.fill].paint if one.fill else PAPER
        edges = {"x": one.from_px, "x2": one.to_px, "y": top, "y2": top + high}
        boxes.append({**edges, "paint": paint, "several": not one.fill, "name": one.told})
        wide, middle = text_width_px(one.words, text.px), (one.from_px + one.to_px) / 2
        if wide + 16.0 > one.to_px - one.from_px:
            outside.append(Mark(_apart(one, marks_px), one.words, one.told))
            continue
        row = {"x": middle, "y": top + high / 2, "words": one.words, "name": one.told}
        inside.append({**row, "colour": _TEXT_COLOUR.get(one.fill, INK)})
        if one.fill not in _PLAIN:
            half = 0.75 * text.px
            box_ends = {"x": middle - wide / 2 - 4.0, "x2": middle + wide / 2 + 4.0}
            grounds.append({**box_ends, "y": top + high / 2 - half, "y2": top + high / 2 + half})
    area = {"x": pixels("x"), "x2": end("x2"), "y": pixels("y"), "y2": end("y2")}
    filled, edge = {**area, "fill": as_is("paint"), **told()}, {"stroke": HUE, "strokeWidth": 0.8}
    layers = [
        layer(data.named([row for row in boxes if row["several"] == several]), "rect", {**edge, **dash}, filled)
        for several, dash in ((False, {}), (True, {"strokeDash": [3, 2]}))
    ]
    # Two dark stretches side by side would read as one.
    dark = [before.to_px for before, after in pairwise(stretches) if before.fill == after.fill == "work"]
    if dark:
        between = data.named([{"x": at, "y": top, "y2": top + high} for at in dark])
        upright = {"x": pixels("x"), "y": pixels("y"), "y2": end("y2")}
        layers.append(layer(between, "rule", {"color": PAPER, "strokeWidth": 1.6}, upright))
    if grounds:
        layers.append(layer(data.named(grounds), "rect", {"color": PAPER}, area))
    if inside:
        look = {"align": "center", "baseline": "middle", "fontSize": text.px}
        place = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal"), "color": as_is("colour")}
        layers.append(layer(data.named(inside), "text", look, {**place, **told()}))
    named, taken = comb(outside, top + high, width_px, data, text)
    return layers + named, high + taken


def _apart(stretch: Stretch, marks_px: Sequence[float]) -> float:
    """Where the leader line of a stretch begins: its middle, or what of it lies farthest from a mark near it. [px]"""
    places = (stretch.from_px + stretch.to_px) / 2, stretch.from_px + 1.0, stretch.to_px - 1.0

    def room(place_px: float) -> float:
        return min((abs(place_px - mark_px) for mark_px in marks_px), default=MARK_ROOM_PX)

    return places[0] if room(places[0]) >= MARK_ROOM_PX else max(places, key=room)
