"""One deck of the line, seen from above: floor distance to the right, across upwards."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

from linewright.pictures.floor.blocks import LEADER_PX, PIN_PX, ZONE_PX, Block, Named, block_of, names_of
from linewright.pictures.floor.board import CENTRES, LINES, Board
from linewright.pictures.floor.dimensions import FAINT, DimensionRow, draw_row, vertical_chain
from linewright.pictures.floor.ground import Ground, chain_words, lanes_at, track_rows
from linewright.pictures.floor.standing import Standing
from linewright.pictures.floor.track import CENTRE, CLEAR, draw_carrier, draw_lane, draw_transfers
from linewright.pictures.grammar import Datasets, Spec
from linewright.pictures.labels import text_width_px
from linewright.pictures.style import HUE, INK

PAD_PX: Final = 6.0


@dataclass(frozen=True)
class Placed:
    """A block with its place in the plan.

    Parameters
    ----------
    sign : -1 where the outward part stands above the track, 1 where below
    tier_px : how far from the track's edge the outward part starts: beyond other rows of track. [px]
    inside : zones and lane length stand inwards
    """

    block: Block
    y_px: float
    sign: int
    tier_px: float
    inside: bool


def plan_view(ground: Ground, level_m: float, heading: str, standing: tuple[Standing, ...], data: Datasets) -> Spec:
    """A deck with all that stands on it and its dimensions."""
    rows = track_rows(ground.layout, level_m)
    blocks = [block_of(ground, row, named) for row, named in zip(rows, names_of(ground, level_m, rows), strict=True)]
    board, top = Board(), 1.6 * ground.text.line_px
    board.words(0.0, 0.6 * ground.text.line_px, heading, ground.text.px, {"fontWeight": "bold"})
    placed, height = _place(ground, blocks, top)

    def y(across_m: float) -> float:
        return placed[0].y_px + (rows[0].across_m - across_m) * ground.px_m

    draw_transfers(ground, board, level_m, y)
    for lane in lanes_at(ground.layout, level_m):
        draw_lane(ground, board, lane, y)
    for one in placed:
        _clear(ground, board, one)
        _beside(ground, board, one)
    for carrier in standing:
        if abs(carrier.lane.level_m - level_m) < 1e-6:
            draw_carrier(ground, board, carrier, y)
    if len(placed) > 1:
        _spacings(ground, board, placed)
    return board.view(heading, ground.width_px, height, data)


def _spacings(ground: Ground, board: Board, placed: list[Placed]) -> None:
    """How far the rows of track lie apart, right of all words between them."""
    levels = [(one.y_px, max(ground.x(part.ends_m[1]) for part in one.block.row.parts)) for one in placed]
    said = []
    for before, after in itertools.pairwise(one.block.row for one in placed):
        words = ground.lengths.text(before.across_m - after.across_m)
        lane, other = after.parts[0].lane, before.parts[0].lane
        between = "between the straights of the ring" if lane is other else f"from {lane.name} to {other.name}"
        said.append((words, f"{between}: {words} across, centre to centre"))
    words_px = [one.block.lanes.right_px for one in placed] + [one.block.right_px for one in placed[1:-1]]
    vertical_chain(board, max(ground.east_px + 4.0, *words_px) + 12.0, levels, said, ground.text.small_px)


def _place(ground: Ground, blocks: list[Block], top_px: float) -> tuple[list[Placed], float]:
    """Where each row of track and what belongs to it stands, and the height of the whole. [px]"""
    strip, last = ground.strip_px, len(blocks) - 1
    gaps = [(one.row.across_m - other.row.across_m) * ground.px_m - strip for one, other in itertools.pairwise(blocks)]
    rooms = list(gaps)
    in_gap = [False] * len(blocks)
    for number in range(1, last):
        in_gap[number] = rooms[number - 1] >= blocks[number].outward_px + PAD_PX
        rooms[number - 1] -= blocks[number].outward_px + PAD_PX if in_gap[number] else 0.0
    inside = [True] * len(blocks)
    for number, block in enumerate(blocks):
        if last:
            gap = number if number < last else last - 1
            inside[number] = rooms[gap] >= block.inward_px + PAD_PX
            rooms[gap] -= block.inward_px + PAD_PX if inside[number] else 0.0
    need = [block.outward_px + (0.0 if ok else block.inward_px) for block, ok in zip(blocks, inside, strict=True)]
    # Rows of track between others whose words find no room there have them above the first, the nearest row lowest.
    tiers, used = [0.0] * len(blocks), need[0]
    for number in range(1, last):
        if not in_gap[number]:
            below = (blocks[0].row.across_m - blocks[number].row.across_m) * ground.px_m
            tiers[number] = below + used + PAD_PX
            used += need[number] + PAD_PX
    y_px = top_px + used + strip / 2
    placed = [
        Placed(
            block,
            y_px + (blocks[0].row.across_m - block.row.across_m) * ground.px_m,
            1 if last and number == last else -1,
            tiers[number],
            inside[number],
        )
        for number, block in enumerate(blocks)
    ]
    foot = placed[-1].y_px + strip / 2
    foot += need[last] if last else (blocks[0].inward_px if inside[0] else 0.0)
    return placed, foot + 4.0


def _beside(ground: Ground, board: Board, placed: Placed) -> None:
    """Pins, centre lines, dimensions, names and zones of a row of track."""
    block, sign = placed.block, placed.sign
    edge = placed.y_px + sign * ground.strip_px / 2
    at = edge + sign * (placed.tier_px + PIN_PX)
    if placed.inside:
        _inward(ground, board, placed, placed.y_px - sign * ground.strip_px / 2, -sign)
    else:
        at = _inward(ground, board, placed, at, sign)
    if block.chain is not None:
        at = _dimension(ground, board, placed, block.chain, at, sign)
        words = chain_words(ground.lengths, block.row if placed.tier_px > 0.0 else None)
        low = min(one.from_px for one in block.chain.dimensions)
        line = at - 3.0 - 3.5 if sign > 0 else at + block.chain.height_px + 3.0 - 3.5
        first = min([low, *block.chain.centres_px])
        look: Spec = {"align": "right"}
        # Left of the platform at the lane's end, whose name's line leads up there.
        low = first - text_width_px(words, ground.text.small_px) - 16.0
        beside = min([first, *(one.x_px for one in block.named if low < one.x_px < first)])
        board.words(beside - 8.0, line - 4.0, words, ground.text.small_px, look)
    upright = block.labels.direction == "upright"
    foot = at + sign * LEADER_PX
    for one, centre in zip(block.named, block.labels.centres_px, strict=True):
        _named(ground, board, placed, one)
        start = placed.y_px - one.off_px + (0.0 if abs(one.off_px) > 1.0 else sign * (ground.strip_px / 2 + 1.0))
        board.rule(one.x_px, start, one.x_px, at, FAINT)
        board.rule(one.x_px, at, centre, foot - sign * 2.0, FAINT)
        look = {"align": "center", "baseline": "bottom" if sign < 0 else "top"}
        if upright:
            look = {"align": "left" if sign < 0 else "right", "baseline": "middle", "angle": 270}
        slant = {"fontStyle": "italic"} if one.kind == "transfer" else {}
        board.words(centre, foot, one.label, ground.text.px, {**look, **slant}, one.name)


def _dimension(ground: Ground, board: Board, placed: Placed, row: DimensionRow, at_px: float, sign: int) -> float:
    """A row of dimensions from a height on, away from the track, with lines to its ends; where the next may start."""
    far = at_px + sign * (row.height_px + 3.0)
    line = draw_row(board, row, max(at_px, far) - (3.0 if sign > 0 else 0.0))
    edge = placed.y_px + sign * ground.strip_px / 2
    for x_px in sorted({round(end, 3) for one in row.dimensions for end in (one.from_px, one.to_px)}):
        board.rule(x_px, edge, x_px, line, FAINT)
    return far


def _inward(ground: Ground, board: Board, placed: Placed, at_px: float, sign: int) -> float:
    """Zones and lanes' lengths from a height on; where the next may start. [px]"""
    block, size = placed.block, ground.text.small_px
    at = at_px + sign * 4.0
    if block.zones is not None:
        for (start, end, said, name), centre in zip(block.zones.zones, block.zones.centres_px, strict=True):
            bar = at + sign * 1.5
            if not block.row.parts[0].lane.is_ring:
                board.rule(start, bar, end, bar, {"color": HUE, "strokeWidth": 3}, name)
            base = "top" if sign > 0 else "bottom"
            board.words(centre, at + sign * (ZONE_PX - 3.0), said, size, {"align": "center", "baseline": base}, name)
        at += sign * (block.zones.height_px + 3.0)
    return _dimension(ground, board, placed, block.lanes, at, sign) + sign


def _named(ground: Ground, board: Board, placed: Placed, one: Named) -> None:
    """The mark of a station: its centre line over the track, and a pin that points at it."""
    if one.kind != "station":
        return
    half, sign = ground.strip_px / 2, placed.sign
    if abs(one.off_px) > 1.0:
        y = placed.y_px - one.off_px
        ends = one.track_px - half - 3.0, one.track_px + half + 3.0
        board.rule(ends[0], y, ends[1], y, CENTRE, f"centre line of {one.label}", CENTRES)
        pin = {"shape": "circle", "filled": True, "size": 40, "color": INK}
        board.point(one.x_px, y, pin, one.name)
        return
    ends = placed.y_px - half - 3.0, placed.y_px + half + 3.0
    board.rule(one.x_px, ends[0], one.x_px, ends[1], CENTRE, f"centre line of {one.label}", CENTRES)
    shape = "triangle-down" if sign < 0 else "triangle-up"
    pin = {"shape": shape, "filled": True, "size": 45, "color": INK}
    board.point(one.x_px, placed.y_px + sign * (half + 5.0), pin, one.name)


def _clear(ground: Ground, board: Board, placed: Placed) -> None:
    """Stretches kept clear of waiting carriers, along the inner edge of the track."""
    inner = placed.y_px - placed.sign * ground.strip_px / 2
    high = min(5.0, 0.35 * ground.strip_px)
    for part in placed.block.row.parts:
        for stop in () if part.lane.is_ring else part.stations:
            half_m = next(one.keep_clear_m for one in ground.line.stations if one.name == stop.station)
            if half_m > 0.0:
                x_m = part.lane.floor_point(stop.travel_m)[0]
                name = f"kept clear about {stop.station}: {ground.lengths.text(half_m)} on each side"
                ends = ground.x(x_m - half_m), ground.x(x_m + half_m)
                top = min(inner, inner + placed.sign * high)
                board.box(ends[0], top, ends[1], top + high, CLEAR, name, LINES)
