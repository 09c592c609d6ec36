"""The key of a picture: every mark once more, beside what it means, laid out in as many rows as it takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from linewright.pictures.grammar import Datasets, Spec, end, field, layer, layered, pixels
from linewright.pictures.labels import text_width_px
from linewright.pictures.style import FILL_WORDS, FILLS, HUE, INK, Text

MARK_PX: Final = 34.0  # room for a mark before its words
MARK_HEIGHT_PX: Final = 20.0


@dataclass(frozen=True)
class Glyph:
    """One stroke of a mark in the key, in a box of MARK_PX by MARK_HEIGHT_PX.

    Parameters
    ----------
    kind : ``box`` (two corners), ``path`` (points) or ``point`` (one place)
    points : places from the box's upper left corner. [px]
    mark : how it is drawn, in words of the drawing grammar
    """

    kind: str
    points: tuple[tuple[float, float], ...]
    mark: tuple[tuple[str, Any], ...]


@dataclass(frozen=True)
class KeyEntry:
    """A mark and what it means.

    Parameters
    ----------
    words : what it means
    glyphs : its strokes, the first at the bottom
    """

    words: str
    glyphs: tuple[Glyph, ...]


def box(words: str, height_px: float = 12.0, width_px: float = 22.0, **mark: Any) -> KeyEntry:
    """A rectangle in the key."""
    return KeyEntry(words, (box_glyph(height_px, width_px, **mark),))


def box_glyph(height_px: float = 12.0, width_px: float = 22.0, **mark: Any) -> Glyph:
    """A rectangle about the middle of the mark's box."""
    x, y = (MARK_PX - 6 - width_px) / 2, (MARK_HEIGHT_PX - height_px) / 2
    return Glyph("box", ((x, y), (x + width_px, y + height_px)), tuple(mark.items()))


def stroke(words: str, *points: tuple[float, float], **mark: Any) -> KeyEntry:
    """A line through points in the key."""
    return KeyEntry(words, (Glyph("path", points, tuple(mark.items())),))


def point(words: str, **mark: Any) -> KeyEntry:
    """A point mark in the key."""
    return KeyEntry(words, (Glyph("point", (((MARK_PX - 6) / 2, MARK_HEIGHT_PX / 2),), tuple(mark.items())),))


def fill_entry(name: str, words: str | None = None) -> KeyEntry:
    """The entry of one of the fills of `style.FILLS`."""
    return box(FILL_WORDS[name] if words is None else words, fill=FILLS[name].paint, stroke=HUE, strokeWidth=0.8)


def once(entries: Sequence[KeyEntry]) -> tuple[KeyEntry, ...]:
    """The entries, each that comes again left out."""
    return tuple(one for number, one in enumerate(entries) if one not in entries[:number])


def key_chart(entries: Sequence[KeyEntry], data: Datasets, text: Text, width_px: float) -> Spec:
    """The key as a view: entries from left to right, a new row where there is no room.

    Parameters
    ----------
    entries : marks and their meaning
    data : takes the rows
    text : sizes of letters
    width_px : of the picture. [px]
    """
    row_px = max(MARK_HEIGHT_PX + 4, text.line_px)
    words: list[dict[str, Any]] = []
    layers: list[Spec] = []
    x = y = 0.0
    for entry in entries:
        wide = MARK_PX + text_width_px(entry.words, text.px) + 18
        if x > 0.0 and x + wide > width_px:
            x, y = 0.0, y + row_px
        words.append({"x": x + MARK_PX, "y": y + row_px / 2, "text": entry.words})
        layers += [_glyph(glyph, x, y + (row_px - MARK_HEIGHT_PX) / 2, data) for glyph in entry.glyphs]
        x += wide
    look = {"align": "left", "baseline": "middle", "fontSize": text.px, "color": INK}
    place = {"x": pixels("x"), "y": pixels("y"), "text": field("text", "nominal")}
    layers.append(layer(data.named(words, "key"), "text", look, place))
    return layered(layers, width_px, y + row_px)


def _glyph(glyph: Glyph, left: float, top: float, data: Datasets) -> Spec:
    at = [(left + x, top + y) for x, y in glyph.points]
    place, look = {"x": pixels("x"), "y": pixels("y")}, dict(glyph.mark)
    if glyph.kind == "box":
        row = {"x": at[0][0], "x2": at[1][0], "y": at[0][1], "y2": at[1][1]}
        return layer(data.named([row]), "rect", look, {**place, "x2": end("x2"), "y2": end("y2")})
    if glyph.kind == "path":
        rows = [{"n": number, "x": x, "y": y} for number, (x, y) in enumerate(at)]
        return layer(data.named(rows), "line", look, {**place, "order": field("n")})
    rows = [{"x": at[0][0], "y": at[0][1]}]
    return layer(data.named(rows), "point", {"opacity": 1, **look}, place)
