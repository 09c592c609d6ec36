"""Words on the string line: names over and under its plot, and beside failures and the carrier to follow.

Words within the plot stand on a ground of paper, beside their mark, and none over another. Where there is no room the
words are left out: the mark tells its sentence to a pointer all the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from linewright.pictures.grammar import Spec, as_is, end, field, layer, pixels
from linewright.pictures.labels import LabelRow, place_labels, text_width_px
from linewright.pictures.style import GREY, HUE, INK, PAPER
from linewright.pictures.track.sheet import Sheet
from linewright.pictures.track.string_frame import Frame
from linewright.pictures.track.string_words import failure_label
from linewright.pictures.track.threads import Thread
from linewright.pictures.track.values import SHAPE_AS_IS, rectangle
from linewright.pictures.track.works import DrawnFailure

Floats = NDArray[np.float64]

LEAD_PX: Final = 14.0
AGAIN_PX: Final = 300.0  # about so far apart the number of the carrier to follow stands beside its thread
UPRIGHT_PX: Final = 4.0  # a shorter rest is none to the eye
BESIDE_PX: Final = 5.0
CLEAR_PX: Final = 3.0
BOLD_WIDER: Final = 1.1


@dataclass(frozen=True)
class Named:
    """Something over or under the plot with its name: kind ``station``, ``transfer`` or ``carrier``."""

    words: str
    axis_m: float
    kind: str


@dataclass(frozen=True)
class Names:
    """Names in a row of their own.

    Parameters
    ----------
    named : places and names
    row : where the names stand
    """

    named: tuple[Named, ...]
    row: LabelRow

    @property
    def height_px(self) -> float:
        """Of names and lines to their places. [px]"""
        return self.row.height_px + LEAD_PX + 4.0


def names_of(sheet: Sheet, followed: Thread | None, at: int) -> Names:
    """The names of all stations and transfers and of the carrier to follow, laid out.

    Parameters
    ----------
    sheet : the sheet
    followed : its thread
    at : the point of the thread that the plot's edge cuts: 0 at the top, -1 at the foot
    """
    named = []
    for stop in sheet.layout.stops:
        if stop.kind == "station":
            named.append(Named(str(stop.station), stop.axis_m, "station"))
        elif stop.kind == "aboard" and stop.index == sheet.layout.transfer_of(stop).aboard:
            named.append(Named(str(stop.transfer), sheet.layout.transfer_of(stop).platform_axis_m, "transfer"))
    if followed is not None:
        named.append(Named(f"carrier {followed.carrier}", float(followed.axis_m[at]), "carrier"))
    places = [sheet.to_px(one.axis_m) for one in named]
    # A letter more for the bold one, so that it has the room that it takes.
    words = [f"{one.words}m" if one.kind == "carrier" else one.words for one in named]
    return Names(tuple(named), place_labels(words, places, sheet.width_px, sheet.text.small_px))


def name_layers(sheet: Sheet, names: Names, edge: float, above: bool) -> list[Spec]:
    """Names with a thin line each to its place at an edge of the plot. [px]"""
    way = -1.0 if above else 1.0
    upright = names.row.direction == "upright"
    layers = []
    for kind in ("station", "transfer", "carrier"):
        rows = [
            {
                "x": sheet.value(one.axis_m),
                "label_x": sheet.value(sheet.to_m(centre_px)),
                "edge": edge,
                "lead": edge + way * LEAD_PX,
                "y": edge + way * (LEAD_PX + 2.0),
                "words": one.words,
            }
            for one, centre_px in zip(names.named, names.row.centres_px, strict=True)
            if one.kind == kind
        ]
        bold = kind == "carrier"
        data = sheet.data.named(rows, f"{kind}-{'over' if above else 'under'}-string-line")
        lead = {"x": sheet.x("label_x"), "x2": end("x"), "y": pixels("lead"), "y2": end("edge")}
        look = {
            "fontSize": sheet.text.small_px,
            "color": HUE if bold else INK,
            "fontWeight": "bold" if bold else "normal",
            "fontStyle": "italic" if kind == "transfer" else "normal",
            "angle": 270 if upright else 0,
            "align": ("left" if above else "right") if upright else "center",
            "baseline": "middle" if upright else ("bottom" if above else "top"),
            "clip": True,
        }
        stroke = {"color": HUE if bold else GREY, "strokeWidth": 1.2 if bold else 0.8, "clip": True}
        place = {"x": sheet.x("label_x"), "y": pixels("y"), "text": field("words", "nominal")}
        layers += [layer(data, "rule", stroke, lead), layer(data, "text", look, place)]
    return layers


@dataclass(frozen=True)
class _Beside:
    """Words beside a mark: to the right of a place or to its left."""

    words: str
    axis_m: float
    y_px: float
    is_right: bool
    left: float
    right: float
    half: float

    def meets(self, other: _Beside) -> bool:
        """Whether both stand on one spot."""
        apart = self.left >= other.right or other.left >= self.right
        return not apart and abs(self.y_px - other.y_px) < self.half + other.half


def _beside(frame: Frame, words: str, wide_px: float, spots: Iterable[tuple[float, bool, float]]) -> Iterator[_Beside]:
    """All ways to write words at these spots (edge of the mark, to the right of it, height), within the plot."""
    half = 0.68 * frame.sheet.text.small_px
    for axis_m, is_right, y_px in spots:
        edge_px = frame.sheet.to_px(axis_m) + (BESIDE_PX if is_right else -BESIDE_PX)
        left, right = (edge_px, edge_px + wide_px) if is_right else (edge_px - wide_px, edge_px)
        inside = left >= 0.0 and right <= frame.sheet.width_px
        if inside and frame.top + half <= y_px <= frame.foot - half:
            yield _Beside(words, axis_m, y_px, is_right, left, right, half)


def _free(ways: Iterable[_Beside], taken: Sequence[_Beside]) -> _Beside | None:
    """The first way on which nothing stands yet."""
    return next((way for way in ways if not any(way.meets(other) for other in taken)), None)


def words_in_plot(frame: Frame, half_m: float) -> list[Spec]:
    """The words beside failures, and the number of the carrier to follow again and again along its thread.

    Parameters
    ----------
    frame : the plot
    half_m : half the width of a failure's area. [m]
    """
    failures = _beside_failures(frame, half_m)
    return [
        *_drawn(frame, failures, "failure-words", {"color": INK}),
        *_drawn(frame, _beside_followed(frame, failures), "followed-words", {"color": HUE, "fontWeight": "bold"}),
    ]


def is_large(frame: Frame, one: DrawnFailure) -> bool:
    """Whether the area of a failure is large enough for words beside it."""
    return (one.end_s - one.start_s) / frame.s_a_px >= 0.8 * frame.sheet.text.small_px


def _beside_failures(frame: Frame, half_m: float) -> list[_Beside]:
    """Words beside the failures that are large enough, those of the longest first."""
    taken: list[_Beside] = []
    size = frame.sheet.text.small_px
    for one in sorted(frame.seen.failures, key=lambda one: (-one.repair_s, one.start_s, one.station)):
        if not is_large(frame, one):
            continue
        top, foot = (frame.to_px(frame.instant(at_s)) for at_s in (one.start_s, one.end_s))
        middle, room = (top + foot) / 2, max(0.0, (foot - top) / 2 - 0.7 * size)
        heights = [middle + share * room for share in (0.0, -0.4, 0.4, -0.8, 0.8)]
        spots = [
            (one.axis_m + half_m * (1 if right else -1), right, y_px) for y_px in heights for right in (True, False)
        ]
        words = failure_label(one)
        found = _free(_beside(frame, words, text_width_px(words, size), spots), taken)
        if found is not None:
            taken.append(found)
    return taken


def _beside_followed(frame: Frame, others: Sequence[_Beside]) -> list[_Beside]:
    """The number of the carrier to follow at the longest of its rests in each stretch of the page."""
    thread = frame.followed
    if thread is None or frame.is_dense:
        return []
    axis_m, y_px = thread.axis_m, frame.top + (thread.time_s - frame.seen.window.start_s) / frame.s_a_px
    across_px = (axis_m + frame.sheet.margin_m) / frame.sheet.m_a_px
    upright = np.abs(np.diff(axis_m)) < 0.05 * frame.sheet.m_a_px
    long_px = np.where(upright, np.diff(y_px), 0.0)
    words = f"carrier {thread.carrier}"
    wide_px = BOLD_WIDER * text_width_px(words, frame.sheet.text.small_px)
    found: list[_Beside] = []
    enough_px, half = 1.4 * frame.sheet.text.small_px, 0.68 * frame.sheet.text.small_px
    centre = frame.top + AGAIN_PX
    while centre < frame.foot:
        middles = (y_px[:-1] + y_px[1:]) / 2
        some = np.flatnonzero((long_px >= UPRIGHT_PX) & (np.abs(middles - centre) < 0.4 * AGAIN_PX))
        # All rests as long as the letters are high do as well as one another: then the nearest to the round height.
        order = sorted(
            some.tolist(), key=lambda at: (-min(float(long_px[at]), enough_px), abs(float(middles[at]) - centre))
        )
        spots = [
            spot for at in order for spot in _at_rest(float(axis_m[at]), float(y_px[at]), float(y_px[at + 1]), half)
        ]
        ways = list(_beside(frame, words, wide_px, spots))
        taken = [*others, *found]
        one = _free((way for way in ways if not _covers(way, across_px, y_px)), taken) or _free(ways, taken)
        if one is not None:
            found.append(one)
        centre += AGAIN_PX
    return found


def _covers(way: _Beside, x_px: Floats, y_px: Floats) -> bool:
    """Whether the ground of words would lie over a thread. [px]"""
    left, right = np.fmin(x_px[:-1], x_px[1:]), np.fmax(x_px[:-1], x_px[1:])
    level = (y_px[:-1] < way.y_px + way.half) & (y_px[1:] > way.y_px - way.half)
    return bool(np.any(level & (left < way.right) & (right > way.left)))


def _at_rest(axis_m: float, top: float, foot: float, half: float) -> tuple[tuple[float, bool, float], ...]:
    """Spots beside a rest, clear of the way on which the carrier comes from the left and goes on to the right. [px]"""
    middle = (top + foot) / 2
    return (axis_m, True, min(middle, foot - half - CLEAR_PX)), (axis_m, False, max(middle, top + half + CLEAR_PX))


def _drawn(frame: Frame, labels: Sequence[_Beside], name: str, look: dict[str, Any]) -> list[Spec]:
    """Words on a ground of paper as large as they are, whatever the page stretches."""
    sheet, layers = frame.sheet, []
    for is_right in (True, False):
        way = 1.0 if is_right else -1.0
        rows = [
            {
                "x": sheet.value(one.axis_m),
                "y": one.y_px,
                "words": one.words,
                "ground": rectangle(
                    way * (BESIDE_PX - 2.0), way * (one.right - one.left + BESIDE_PX + 1.0), -one.half, one.half
                ),
            }
            for one in labels
            if one.is_right == is_right
        ]
        data = sheet.data.named(rows, f"{name}-{'right' if is_right else 'left'}")
        place = {"x": sheet.x("x"), "y": pixels("y")}
        paper = {"size": SHAPE_AS_IS, "fill": PAPER, "strokeWidth": 0, "opacity": 1, "clip": True}
        written = {
            "align": "left" if is_right else "right",
            "baseline": "middle",
            "dx": way * BESIDE_PX,
            "fontSize": sheet.text.small_px,
            "clip": True,
            **look,
        }
        layers.append(layer(data, "point", paper, {**place, "shape": as_is("ground")}))
        layers.append(layer(data, "text", written, {**place, "text": field("words", "nominal")}))
    return layers
