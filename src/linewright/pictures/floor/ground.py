"""The floor under all views of one picture: one scale, along, across and upwards, and what stands where on it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from linewright.evaluation import Evaluation
from linewright.layout import LaneLayout, Layout, Stop, TransferLayout
from linewright.layout.curves import body_width_m
from linewright.line.model import Line
from linewright.pictures.labels import text_width_px, wrapped
from linewright.pictures.style import Lengths, Text

WIDTH_PX: Final = 1180.0
TALLEST_PX: Final = 640.0
"""Of a plan or the side view between its outermost lanes."""
UPRIGHT_ROOM: Final = 1.35  # of an upright label along the track, in sizes of its letters
LEFT_SIZES: Final = 9.0  # most width of the words beside the side view, in sizes of their letters
SAME_M: Final = 1e-6


@dataclass(frozen=True)
class Dock:
    """Where the platform of a transfer stands at a lane.

    Parameters
    ----------
    west_m, east_m : ends of the platform, floor distance. [m]
    """

    transfer: TransferLayout
    lane: LaneLayout
    west_m: float
    east_m: float

    @property
    def middle_m(self) -> float:
        """Centre of the platform, floor distance. [m]"""
        return (self.west_m + self.east_m) / 2


@dataclass(frozen=True)
class Part:
    """A stretch of a lane that runs along the floor: a straight lane, or a long straight of a ring.

    Parameters
    ----------
    from_m, to_m : travel on the lane. [m]
    across_m : where it lies. [m]
    stations : their stops, from west to east
    """

    lane: LaneLayout
    from_m: float
    to_m: float
    across_m: float
    stations: tuple[Stop, ...]

    @property
    def is_first(self) -> bool:
        """Whether the lane starts with it: where the lane is named."""
        return self.from_m == 0.0

    @property
    def ends_m(self) -> tuple[float, float]:
        """West and east end, floor distance. [m]"""
        west, east = sorted(self.lane.floor_point(travel_m)[0] for travel_m in (self.from_m, self.to_m))
        return west, east


@dataclass(frozen=True)
class TrackRow:
    """All parts of one deck that lie in one line on the floor, from west to east."""

    across_m: float
    parts: tuple[Part, ...]


@dataclass(frozen=True, eq=False)
class Ground:
    """What all views share.

    Parameters
    ----------
    evaluation, lengths, text : what is drawn, in which unit, with how large letters
    west_m, east_m : ends of the track with its platforms, floor distance. [m]
    px_m : pixels of one metre, along, across and upwards
    left_px, high_px : where the track's west end is drawn, and up to where words along it may go. [px]
    width_px : of the picture. [px]
    """

    evaluation: Evaluation
    lengths: Lengths
    text: Text
    west_m: float
    east_m: float
    px_m: float
    left_px: float
    high_px: float
    width_px: float

    @property
    def line(self) -> Line:
        """The line."""
        return self.evaluation.line

    @property
    def layout(self) -> Layout:
        """Its track."""
        return self.evaluation.layout

    @property
    def strip_px(self) -> float:
        """Width of a lane: that of the carrier. [px]"""
        return self.line.conveyor.carrier.width_m * self.px_m

    @property
    def east_px(self) -> float:
        """Where the track's east end is drawn. [px]"""
        return self.x(self.east_m)

    def x(self, floor_m: float) -> float:
        """Where a floor distance is drawn. [px]"""
        return self.left_px + (floor_m - self.west_m) * self.px_m

    def number(self, length_m: float) -> str:
        """A length without its unit."""
        return self.lengths.text(length_m).removesuffix(f" {self.lengths.short}")


def ground_of(evaluation: Evaluation, text: Text) -> Ground:
    """A scale at which the whole track and its upright words fit."""
    layout, lengths = evaluation.layout, Lengths(evaluation.line.units)
    west_m, east_m = overall_ends(evaluation)
    words = [words for _, lines in levels_said(layout, lengths, text) for words in lines]
    left_px = max(text_width_px(one, text.px) for one in words) + 22.0
    right_px = 44.0 + text_width_px("88888.8 mm", text.small_px)
    decks = [track_rows(layout, level_m) for level_m in levels_of(layout)]
    rows = [row for deck in decks for row in deck]
    beside = [chain_words(lengths), *(chain_words(lengths, row) for deck in decks for row in deck[1:-1])]
    left_px = max(left_px, *(text_width_px(one, text.small_px) + 16.0 for one in beside))
    crowd = max(sum(len(part.stations) + 1 for part in row.parts) for row in rows) + len(layout.transfers)
    named = max(
        sum(text_width_px(f"{part.lane.name}, 88888.8 mm →", 1.1 * text.px) + 20 for part in row.parts) for row in rows
    )
    plot_px = max(WIDTH_PX - left_px - right_px, UPRIGHT_ROOM * text.px * (crowd + 2), named)
    across = [row.across_m for row in rows]
    tall_m = max(_span(across), _span(levels_of(layout)))
    px_m = min(plot_px / (east_m - west_m), TALLEST_PX / tall_m if tall_m > 0.0 else math.inf)
    return Ground(
        evaluation, lengths, text, west_m, east_m, px_m, left_px, left_px + plot_px, left_px + plot_px + right_px
    )


def _span(values: list[float]) -> float:
    return max(values) - min(values)


def chain_words(lengths: Lengths, row: TrackRow | None = None) -> str:
    """What stands beside a row of distances between centres; with a row of track also whose they are."""
    of = "" if row is None else f"{row.parts[0].lane.name}: "
    return f"{of}centres ({lengths.short})"


def overall_ends(evaluation: Evaluation) -> tuple[float, float]:
    """West and east end of the track with its platforms; of a ring with its carriers' width. [m]"""
    layout, half_m = evaluation.layout, body_width_m(evaluation.line) / 2
    ends = [end for dock in docks(layout) for end in (dock.west_m, dock.east_m)]
    for lane in layout.lanes:
        places = [lane.floor_point(at_m)[0] for at_m in corners(lane)]
        room_m = half_m if lane.is_ring else 0.0
        ends += [min(places) - room_m, max(places) + room_m]
    return min(ends), max(ends)


def width_m(evaluation: Evaluation) -> float:
    """Width of the track with its carriers and their fixtures. [m]"""
    sides = [lane.floor_point(at_m)[1] for lane in evaluation.layout.lanes for at_m in corners(lane)]
    return max(sides) - min(sides) + body_width_m(evaluation.line)


def corners(lane: LaneLayout) -> list[float]:
    """Travels among which the outermost places of a lane are: its ends, and the quarters of a ring's turns. [m]"""
    if not lane.is_ring:
        return [0.0, lane.length_m]
    assert lane.radius_m is not None
    quarter_m = lane.radius_m * math.pi / 2
    found = [piece.from_m for piece in lane.pieces]
    for piece in lane.pieces:
        if piece.is_curved:
            found += [piece.from_m + k * quarter_m for k in range(round((piece.to_m - piece.from_m) / quarter_m))]
    return found


def levels_of(layout: Layout) -> list[float]:
    """Levels of the lanes, the highest first. [m]"""
    found: list[float] = []
    for level_m in sorted((lane.level_m for lane in layout.lanes), reverse=True):
        if not found or found[-1] - level_m > SAME_M:
            found.append(level_m)
    return found


def lanes_at(layout: Layout, level_m: float) -> list[LaneLayout]:
    """The lanes of one deck, in the order of the track."""
    return [lane for lane in layout.lanes if abs(lane.level_m - level_m) <= SAME_M]


def levels_said(layout: Layout, lengths: Lengths, text: Text) -> list[tuple[float, list[str]]]:
    """Every level, the highest first, with the names of its lanes and the level in lines of words."""
    return [
        (
            level_m,
            [
                *wrapped(", ".join(lane.name for lane in lanes_at(layout, level_m)), LEFT_SIZES * text.px, text.px),
                f"level {lengths.text(level_m).replace('-', '−')}",
            ],
        )
        for level_m in levels_of(layout)
    ]


def track_rows(layout: Layout, level_m: float) -> list[TrackRow]:
    """What of a deck lies in one line each, the greatest across first."""
    parts = [part for lane in lanes_at(layout, level_m) for part in parts_of(layout, lane)]
    rows: list[list[Part]] = []
    for part in sorted(parts, key=lambda one: -one.across_m):
        if rows and rows[-1][0].across_m - part.across_m <= SAME_M:
            rows[-1].append(part)
        else:
            rows.append([part])
    return [TrackRow(row[0].across_m, tuple(sorted(row, key=lambda one: one.ends_m))) for row in rows]


def parts_of(layout: Layout, lane: LaneLayout) -> Iterator[Part]:
    """What of a lane runs along the floor, in travel."""
    stops = [stop for stop in layout.stops if stop.lane == lane.name and stop.kind == "station"]
    stretches = [(0.0, lane.length_m)]
    if lane.is_ring:
        stretches = [
            (one.from_m, one.to_m) for one in lane.pieces if not one.is_curved and abs(math.sin(one.heading_rad)) < 0.5
        ]
    for from_m, to_m in stretches:
        here = [stop for stop in stops if from_m - SAME_M <= stop.travel_m <= to_m + SAME_M]
        here.sort(key=lambda stop: lane.floor_point(stop.travel_m)[0])
        yield Part(lane, from_m, to_m, lane.floor_point(from_m)[1], tuple(here))


def docks(layout: Layout) -> list[Dock]:
    """Where platforms stand: beyond the end of each lane they take from, before the start of each they give to."""
    found = []
    for transfer in layout.transfers:
        near_m, far_m = transfer.gap_m, transfer.gap_m + transfer.platform_m
        for names, is_end in ((transfer.takes, True), (transfer.gives, False)):
            for name in names:
                lane = layout.lane(name)
                travels = (lane.length_m + near_m, lane.length_m + far_m) if is_end else (-near_m, -far_m)
                west_m, east_m = sorted(lane.travel_to_floor(travel_m) for travel_m in travels)
                found.append(Dock(transfer, lane, west_m, east_m))
    return found


def heading_rad(lane: LaneLayout, travel_m: float) -> float:
    """Which way the track runs at a travel: 0 along the floor, pi / 2 to greater across."""
    if lane.radius_m is None:
        return 0.0
    along_m = travel_m % lane.length_m
    piece = next(one for one in reversed(lane.pieces) if one.from_m <= along_m)
    return piece.heading_rad + ((along_m - piece.from_m) / lane.radius_m if piece.is_curved else 0.0)
