"""Dimension lines: thin, with oblique ticks at their ends and the number over the line, as engineering drawings have
them.

A number that does not fit between its ticks stands upright with all others of its row, led to the middle of its line.

Source     practice of ISO 129-1, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, Literal

from linewright.pictures.floor.board import Board
from linewright.pictures.labels import fitting, spread, text_width_px
from linewright.pictures.style import GREY, INK

TICK_PX: Final = 3.5
LEAD_PX: Final = 10.0
THIN: Final[dict[str, Any]] = {"color": INK, "strokeWidth": 0.8}
FAINT: Final[dict[str, Any]] = {"color": GREY, "strokeWidth": 0.7}


@dataclass(frozen=True)
class Dimension:
    """One dimension.

    Parameters
    ----------
    from_px, to_px : its two ends, the lesser first. [px]
    words : what stands over it, at less and less length
    name : what a pointer tells
    bold : the words name something
    """

    from_px: float
    to_px: float
    words: tuple[str, ...]
    name: str
    bold: bool = False

    @property
    def middle_px(self) -> float:
        """Its middle. [px]"""
        return (self.from_px + self.to_px) / 2


@dataclass(frozen=True)
class DimensionRow:
    """Dimensions on one level line, laid out.

    Parameters
    ----------
    direction : of all words
    words, centres_px : of each dimension, and where the words stand
    lead_px : between the line and the words. [px]
    height_px : from the ticks' foot to the words' top. [px]
    """

    dimensions: tuple[Dimension, ...]
    direction: Literal["level", "upright"]
    words: tuple[str, ...]
    centres_px: tuple[float, ...]
    lead_px: float
    size_px: float
    height_px: float

    @property
    def right_px(self) -> float:
        """Right end of lines and words. [px]"""
        level = self.direction == "level"
        half = [text_width_px(said, self.size_px) / 2 if level else 0.6 * self.size_px for said in self.words]
        ends = [centre + one for centre, one in zip(self.centres_px, half, strict=True)]
        return max(*ends, *(one.to_px for one in self.dimensions))


def chain_row(dimensions: Sequence[Dimension], low_px: float, high_px: float, size_px: float) -> DimensionRow:
    """A chain of dimensions: all level where each fits between its ticks, else all upright. [px]

    Parameters
    ----------
    dimensions : from left to right
    low_px, high_px : between which the words stay
    size_px : of the letters
    """
    words = tuple(one.words[0] for one in dimensions)
    middles = tuple(one.middle_px for one in dimensions)
    rooms = [one.to_px - one.from_px - 4.0 for one in dimensions]
    if all(text_width_px(said, size_px) <= room for said, room in zip(words, rooms, strict=True)):
        return DimensionRow(
            tuple(dimensions), "level", words, middles, 2.0, size_px, 1.15 * size_px + 2.0 + 2 * TICK_PX
        )
    places = [middle - low_px for middle in middles]
    centres = spread(places, [1.25 * size_px] * len(dimensions), high_px - low_px)
    tallest = max(text_width_px(said, size_px) for said in words)
    height = tallest + LEAD_PX + 2 * TICK_PX
    shifted = tuple(low_px + centre for centre in centres)
    return DimensionRow(tuple(dimensions), "upright", words, shifted, LEAD_PX, size_px, height)


def level_row(dimensions: Sequence[Dimension], low_px: float, high_px: float, size_px: float) -> DimensionRow:
    """Dimensions with long words, always level: shortened, then moved aside and led to their lines. [px]"""
    words = [fitting(one.words, one.to_px - one.from_px - 6.0, 1.1 * size_px) for one in dimensions]
    widths = [text_width_px(said, 1.1 * size_px) + 8.0 for said in words]
    if sum(widths) > high_px - low_px:
        words = [one.words[-1] for one in dimensions]
        widths = [text_width_px(said, 1.1 * size_px) + 8.0 for said in words]
    centres = spread([one.middle_px - low_px for one in dimensions], widths, high_px - low_px)
    centres = tuple(low_px + centre for centre in centres)
    aside = any(abs(centre - one.middle_px) > 3.0 for centre, one in zip(centres, dimensions, strict=True))
    lead = LEAD_PX if aside else 2.0
    height = 1.15 * size_px + lead + 2 * TICK_PX
    return DimensionRow(tuple(dimensions), "level", tuple(words), centres, lead, size_px, height)


def draw_row(board: Board, row: DimensionRow, foot_px: float) -> float:
    """Draw a row of dimensions whose ticks end at a height; the height of its line. [px]"""
    line = foot_px - TICK_PX
    look: dict[str, Any] = {"align": "center", "baseline": "bottom"}
    if row.direction == "upright":
        look = {"align": "left", "baseline": "middle", "angle": 270}
    for one, said, centre in zip(row.dimensions, row.words, row.centres_px, strict=True):
        board.rule(one.from_px, line, one.to_px, line, THIN, one.name)
        for end in (one.from_px, one.to_px):
            board.rule(end - TICK_PX, line + TICK_PX, end + TICK_PX, line - TICK_PX, {**THIN, "strokeWidth": 1.2})
        if row.lead_px > 2.0 and (row.direction == "upright" or abs(centre - one.middle_px) > 3.0):
            board.rule(one.middle_px, line, centre, line - row.lead_px + 1.0, FAINT)
        weight = {"fontWeight": "bold"} if one.bold else {}
        board.words(centre, line - row.lead_px, said, row.size_px, {**look, **weight}, one.name)
    return line


def vertical_chain(
    board: Board, x_px: float, levels: Sequence[tuple[float, float]], said: Sequence[tuple[str, str]], size_px: float
) -> None:
    """Dimensions between heights, one under the other, their words level on the right.

    Parameters
    ----------
    x_px : where the dimension line stands
    levels : heights from the top down, and from where a thin line leads to the dimension line. [px]
    said : for each two neighbours the words, and what a pointer tells
    """
    heights = [height for height, _ in levels]
    middles = [(one + other) / 2 for one, other in pairwise(heights)]
    for height, from_px in levels:
        board.rule(from_px, height, x_px + TICK_PX, height, FAINT)
        board.rule(x_px - TICK_PX, height + TICK_PX, x_px + TICK_PX, height - TICK_PX, {**THIN, "strokeWidth": 1.2})
    room = max(heights[-1] - heights[0] + 4.0 * size_px, 1.3 * size_px * len(middles))
    top = (heights[0] + heights[-1] - room) / 2
    centres = spread([middle - top for middle in middles], [1.2 * size_px] * len(middles), room)
    for (one, other), centre, (words, name) in zip(pairwise(heights), centres, said, strict=True):
        board.rule(x_px, one, x_px, other, THIN, name)
        middle, at = (one + other) / 2, top + centre
        if abs(at - middle) > 3.0:
            board.rule(x_px, middle, x_px + LEAD_PX, at, FAINT)
        board.words(x_px + LEAD_PX + 2.0, at, words, size_px, {"align": "left", "baseline": "middle"}, name)
