"""The line from the side: floor distance to the right, level upwards; under it the overall length and a scale bar."""

from __future__ import annotations

import itertools
from typing import Any, Final

from linewright.pictures.floor.board import CARRIERS, CENTRES, Board
from linewright.pictures.floor.dimensions import FAINT, Dimension, draw_row, level_row, vertical_chain
from linewright.pictures.floor.ground import Ground, corners, docks, lanes_at, levels_of, levels_said
from linewright.pictures.floor.standing import Standing
from linewright.pictures.floor.track import FIXTURE, PLATFORM, RIDE, Across
from linewright.pictures.grammar import Datasets, Spec
from linewright.pictures.labels import place_labels, spread
from linewright.pictures.style import INK, PALE, PAPER, QUIET

LEADER_PX: Final = 18.0
TRACK_PX: Final = 5.0  # the height of the track is stated nowhere
BAR_PX: Final = 6.0


def side_view(ground: Ground, heading: str, standing: tuple[Standing, ...], data: Datasets) -> Spec:
    """All decks from the side, with their levels."""
    text, layout = ground.text, ground.layout
    board = Board()
    board.words(0.0, 0.6 * text.line_px, heading, text.px, {"fontWeight": "bold"})
    transfers = layout.transfers
    all_docks = docks(layout)
    middles = [next(ground.x(dock.middle_m) for dock in all_docks if dock.transfer is one) for one in transfers]
    labels = place_labels([one.name for one in transfers], middles, ground.width_px, text.px)
    foot = 1.7 * text.line_px + (labels.height_px if transfers else 0.0)
    levels = levels_of(layout)
    envelope = None if ground.line.fixture is None else ground.line.fixture.envelope_m
    first = len(levels_said(layout, ground.lengths, text)[0][1]) * text.line_px / 2  # words beside the highest level
    fixture_px = 0.0 if envelope is None else envelope[2] * ground.px_m
    top = foot + 6.0 + max((LEADER_PX if transfers else 0.0) + fixture_px, first)
    heights = {level_m: top + (levels[0] - level_m) * ground.px_m for level_m in levels}

    def y(level_m: float) -> float:
        return heights[min(levels, key=lambda one: abs(one - level_m))]

    _lifts(ground, board, y)
    for one, at, centre in zip(transfers, middles, labels.centres_px, strict=True):
        docked = [dock for dock in all_docks if dock.transfer is one]
        highest = min(y(dock.lane.level_m) for dock in docked)
        board.rule(centre, foot + 2.0, at, highest - 4.0, FAINT)
        look: dict[str, Any] = {"align": "center", "baseline": "bottom", "fontStyle": "italic"}
        if labels.direction == "upright":
            look |= {"align": "left", "baseline": "middle", "angle": 270}
        board.words(centre, foot, one.name, text.px, look, f"{one.kind} {one.name}")
    _decks(ground, board, y, standing)
    height = max(_levels(ground, board, y, foot + 4.0), _under(ground, board, heights))
    return board.view(heading, ground.width_px, height, data)


def _decks(ground: Ground, board: Board, y: Across, standing: tuple[Standing, ...]) -> None:
    """Lanes as bars under their level, stations as ticks, fixtures on their carriers."""
    layout = ground.layout
    for lane in layout.lanes:
        places = [lane.floor_point(travel_m)[0] for travel_m in corners(lane)]
        room = ground.strip_px / 2 if lane.is_ring else 0.0
        ends = ground.x(min(places)) - room, ground.x(max(places)) + room
        level = y(lane.level_m)
        board.box(ends[0], level, ends[1], level + TRACK_PX, {"color": PALE}, f"lane {lane.name}, from the side")
        board.rule(ends[0], level, ends[1], level, {"color": QUIET, "strokeWidth": 1.2})
    for stop in layout.stops:
        if stop.kind == "station":
            lane = layout.lane(stop.lane)
            at, level = ground.x(lane.floor_point(stop.travel_m)[0]), y(lane.level_m)
            name = f"station {stop.station} on lane {lane.name}, from the side"
            board.rule(at, level - 1.0, at, level + TRACK_PX + 4.0, {"color": INK, "strokeWidth": 1.2}, name, CENTRES)
    for carrier in standing:
        _fixture(ground, board, carrier, y(carrier.lane.level_m))


def _levels(ground: Ground, board: Board, y: Across, start: float) -> float:
    """At the left of each level the names of its lanes, and how high it lies; where the words end. [px]"""
    text = ground.text
    said = levels_said(ground.layout, ground.lengths, text)
    sizes = [text.line_px * len(lines) + 4.0 for _, lines in said]
    room = y(said[-1][0]) - start + sum(sizes)
    centres = spread([y(level_m) - start for level_m, _ in said], sizes, room)
    for (level_m, lines), centre in zip(said, centres, strict=True):
        at, name = start + centre, ": ".join([" ".join(lines[:-1]), lines[-1]])
        board.rule(ground.left_px - 12.0, at, ground.left_px - 3.0, y(level_m), FAINT)
        for number, one in enumerate(lines):
            place = at + (number - (len(lines) - 1) / 2) * text.line_px
            board.words(ground.left_px - 16.0, place, one, text.px, {"align": "right"}, name)
    return start + centres[-1] + sizes[-1] / 2


def _fixture(ground: Ground, board: Board, carrier: Standing, level_px: float) -> None:
    line = ground.line
    x = ground.x(carrier.lane.floor_point(carrier.travel_m)[0])
    half = line.conveyor.carrier.length_m / 2 * ground.px_m
    name = f"carrier {carrier.carrier} at {carrier.stop}, from the side"
    board.rule(x - half, level_px - 1.0, x + half, level_px - 1.0, {"color": INK, "strokeWidth": 2}, name, CARRIERS)
    envelope = None if line.fixture is None else line.fixture.envelope_m
    if envelope is not None:
        long, high = envelope[0] / 2 * ground.px_m, envelope[2] * ground.px_m
        look = {
            "fill": PAPER,
            "fillOpacity": 0.0,
            "stroke": FIXTURE["color"],
            "strokeWidth": 0.8,
            "strokeDash": [2, 1.5],
        }
        said = f"fixture of carrier {carrier.carrier}, {ground.lengths.text(envelope[2])} high"
        board.box(x - long, level_px - 2.0 - high, x + long, level_px - 2.0, look, said, CARRIERS)


def _lifts(ground: Ground, board: Board, y: Across) -> None:
    """The way of each lift, and every platform where it stands at a lane."""
    found = docks(ground.layout)
    for transfer in ground.layout.transfers:
        some = [dock for dock in found if dock.transfer is transfer]
        heights = [y(dock.lane.level_m) for dock in some]
        west, east = ground.x(some[0].west_m), ground.x(some[0].east_m)
        if max(heights) > min(heights):
            name = f"way of {transfer.kind} {transfer.name}"
            board.box(west, min(heights) - 2.0, east, max(heights) + TRACK_PX + 2.0, RIDE, name)
        for dock in some:
            level = y(dock.lane.level_m)
            name = f"platform of {transfer.kind} {transfer.name} at lane {dock.lane.name}, from the side"
            board.box(ground.x(dock.west_m), level, ground.x(dock.east_m), level + TRACK_PX, PLATFORM, name)


def _under(ground: Ground, board: Board, heights: dict[float, float]) -> float:
    """Differences of level, overall length and scale bar; the height of the whole. [px]"""
    size, lengths = ground.text.small_px, ground.lengths
    levels = sorted(heights, reverse=True)
    if len(levels) > 1:
        ends = [
            max(
                ground.x(max(lane.floor_point(travel_m)[0] for travel_m in corners(lane)))
                for lane in lanes_at(ground.layout, one)
            )
            for one in levels
        ]
        said = [
            (
                lengths.text(one - other),
                f"{lengths.text(one - other)} from level {lengths.text(other)} up to level {lengths.text(one)}",
            )
            for one, other in itertools.pairwise(levels)
        ]
        places = [(heights[one], end) for one, end in zip(levels, ends, strict=True)]
        vertical_chain(board, ground.east_px + 16.0, places, said, size)
    foot = max(heights.values()) + max(TRACK_PX + 12.0, 1.2 * size * max(1.0, len(levels) - 1.0), ground.text.line_px)
    whole = lengths.text(ground.east_m - ground.west_m)
    ends_px = ground.left_px, ground.east_px
    dimension = Dimension(*ends_px, (f"overall {whole}",), f"overall length of the track with its platforms {whole}")
    row = level_row([dimension], 0.0, ground.width_px, size)
    line = draw_row(board, row, foot + row.height_px)
    for x in ends_px:
        board.rule(x, max(heights.values()) + TRACK_PX + 3.0, x, line, FAINT)
    bar_top = foot + row.height_px + 12.0
    length = lengths.to_SI(lengths.round_step((ground.east_m - ground.west_m) / 8))
    half = length * ground.px_m / 2
    board.box(ground.left_px, bar_top, ground.left_px + half, bar_top + BAR_PX, {"fill": INK, "stroke": INK})
    name = f"scale bar of {lengths.text(length)}"
    board.box(
        ground.left_px + half,
        bar_top,
        ground.left_px + 2 * half,
        bar_top + BAR_PX,
        {"fill": PAPER, "stroke": INK},
        name,
    )
    words = f"{lengths.text(length)}, in all views along, across and upwards"
    board.words(ground.left_px + 2 * half + 10.0, bar_top + BAR_PX / 2, words, size, {"baseline": "middle"})
    return bar_top + BAR_PX + size
