"""Labels along a track: as near their places as can be, in order, none over another."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

# Widths of letters over the font size in a wide sans-serif face (DejaVu Sans; from memory), so that a text takes rather
# less than this in the faces that browsers and converters choose. What is not named here counts as a usual letter.
_WIDE: Final = dict.fromkeys("mwMW%@Æ—", 0.98) | dict.fromkeys("GOQDHNUAKRXCVZBYTE&±≤≥→↔×−+=<>~", 0.84)
_NARROW: Final = dict.fromkeys("ijlI.,:;'|! ·\u00a0", 0.34) | dict.fromkeys('frt()[]-/"', 0.41)
LETTER_WIDTH: Final = 0.64
LEVEL_SHIFT_PX: Final = 40.0  # a level label farther from its place than this is harder to follow than an upright one


@dataclass(frozen=True)
class LabelRow:
    """A row of labels.

    Parameters
    ----------
    direction : ``level``, or ``upright`` (reading upwards) where level ones find no room
    centres_px : centre of each label along the track, in the order in which they were asked for
    height_px : how much room the row takes above the track
    """

    direction: Literal["level", "upright"]
    centres_px: tuple[float, ...]
    height_px: float


def text_width_px(text: str, size_px: float) -> float:
    """Width of a text in a sans-serif face, rather too much than too little. [px]"""
    return size_px * sum(_NARROW.get(letter) or _WIDE.get(letter) or _usual_width(letter) for letter in text)


def _usual_width(letter: str) -> float:
    """A letter of an East Asian script takes a square."""
    return 1.05 if unicodedata.east_asian_width(letter) in "WF" else LETTER_WIDTH


def place_labels(texts: Sequence[str], places_px: Sequence[float], width_px: float, size_px: float) -> LabelRow:
    """Lay labels above their places: level where that is easy to follow, else upright.

    Parameters
    ----------
    texts, places_px : the labels and where their places are, 0 to width_px. [px]
    width_px : length of the row. [px]
    size_px : font size. [px]

    Raises
    ------
    ValueError   Not even upright labels fit: more than about one label for each 1.25 font sizes.
    """
    gap_px = size_px
    widths = [text_width_px(text, size_px) + gap_px for text in texts]
    if sum(widths) <= width_px:
        centres = spread(places_px, widths, width_px)
        shifts = [abs(centre - place) for centre, place in zip(centres, places_px, strict=True)]
        if max(shifts, default=0.0) <= LEVEL_SHIFT_PX:
            return LabelRow("level", centres, 1.4 * size_px)
    centres = spread(places_px, [1.25 * size_px] * len(texts), width_px)
    tallest = max((text_width_px(text, size_px) for text in texts), default=0.0)
    return LabelRow("upright", centres, tallest)


def spread(places_px: Sequence[float], sizes_px: Sequence[float], width_px: float) -> tuple[float, ...]:
    """Centres of boxes in a row, in the order of their places, not overlapping, with the least sum of squared shifts.

    Raises
    ------
    ValueError   The boxes are together longer than the row.

    Notes      With the room that the boxes before take up subtracted, centres need only not fall: a least-squares fit
               of a rising row, by pooling adjacent violators; cutting it at the row's ends keeps it the best fit.
    Source     pool-adjacent-violators: Barlow, Bartholomew, Bremner and Brunk 1972 (from memory).
    Examples
    --------
    >>> spread([50, 52, 90], [20, 20, 20], 100)
    (41.0, 61.0, 90.0)
    """
    if sum(sizes_px) > width_px + 1e-9:
        raise ValueError(f"boxes of {sum(sizes_px):g} px do not fit into a row of {width_px:g} px")
    order = sorted(range(len(places_px)), key=lambda number: (places_px[number], number))
    before, used = [], 0.0
    for number in order:
        before.append(used + sizes_px[number] / 2)
        used += sizes_px[number]
    pools: list[tuple[float, int]] = []  # mean and number of each pool
    for number, room in zip(order, before, strict=True):
        mean, count = places_px[number] - room, 1
        while pools and pools[-1][0] > mean:
            other, others = pools.pop()
            mean, count = (mean * count + other * others) / (count + others), count + others
        pools.append((mean, count))
    fitted = [min(max(mean, 0.0), width_px - used) for mean, count in pools for _ in range(count)]
    centres = [0.0] * len(order)
    for number, start, room in zip(order, fitted, before, strict=True):
        centres[number] = start + room
    return tuple(centres)


def wrapped(text: str, width_px: float, size_px: float) -> list[str]:
    """A text broken at its spaces so that each line takes no more than a width; a longer word stands alone. [px]

    A no-break space, such as between a number and its unit, stays whole.

    Examples
    --------
    >>> wrapped("one two three", 60, 10)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_px(longer, size_px) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def fitting(texts: Sequence[str], width_px: float, size_px: float) -> str:
    """The first text that takes no more than a width, or else the last. [px]

    Parameters
    ----------
    texts : the same said at less and less length, at least one
    """
    return next((text for text in texts if text_width_px(text, size_px) <= width_px), texts[-1])
