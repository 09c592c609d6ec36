"""A ring, a branch and a lane to and fro on the one unrolled axis: strip and threads."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from linewright.layout import Layout, lay_out, resting_order, ways_of
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.motion.profile import plan_move
from linewright.pictures.style import Text
from linewright.pictures.track.sheet import sheet_of
from linewright.pictures.track.strip import strip_row
from linewright.pictures.track.threads import Thread, Window, carrier_threads
from linewright.pictures.track.unrolled import axis_stretches
from unit.layout.track_lines import LINK_M, PITCH_M, branch_line, ring_line, to_and_fro_line
from unit.pictures.hand_made import as_run


def moved(line: Line, *stops: int, pause_s: float = 1.0) -> Any:
    """An evaluation whose carrier 0 goes from stop to stop, a pause at each."""
    layout = lay_out(line)
    ways, half_m = ways_of(layout), layout.body_m / 2
    moves, time_s, here = [], pause_s, resting_order(line, layout)[0]
    for there in stops:
        distance_m = round(float(ways.length_m[here, there]), 12)
        travel_m = layout.stops[here].travel_m
        curved = layout.lanes[0].touches_curve(travel_m - half_m, travel_m + distance_m + half_m)
        move = plan_move(distance_m, leg_limits(line, True, distance_m, curved).limits)
        moves.append((0, time_s, here, there, time_s + move.duration_s, True))
        time_s += move.duration_s + pause_s
        here = there
    run = as_run(moves, [], time_s)
    return SimpleNamespace(line=line, layout=layout, run=run, findings=(), plan=None, takt=None, duty=None)


def thread_of(e: Any) -> Thread:
    return carrier_threads(e.line, e.layout, e.run, Window(0.0, e.run.trace_to_s))[0]


def unbroken(thread: Thread) -> list[list[float]]:
    """Axis places of each stretch of a thread."""
    parts: list[list[float]] = [[]]
    for at_m in thread.axis_m.tolist():
        if math.isnan(at_m):
            parts.append([])
        else:
            parts[-1].append(at_m)
    return parts


def rank(layout: Layout, station: str) -> int:
    return layout.stop_of(station).index


def test_a_ring_breaks_at_its_start_alone_and_slows_down_in_its_curves() -> None:
    line = ring_line(300, 900, carriers=1)
    layout = lay_out(line)
    e = moved(line, rank(layout, "b"), rank(layout, "a"))
    first, second = unbroken(thread_of(e))
    assert (first[0], first[-1]) == (pytest.approx(0.3), layout.loop_m)
    assert (second[0], second[-1]) == (0.0, pytest.approx(0.3))
    thread = thread_of(e)
    assert thread.travel_m == pytest.approx(layout.loop_m)
    departure_s, arrival_s = e.run.moves.rows()[1]["departure_s"], e.run.moves.rows()[1]["arrival_s"]
    known = ~np.isnan(thread.axis_m)
    way_m = np.unwrap(thread.axis_m[known], period=layout.loop_m)
    speeds = np.diff(way_m) / np.diff(thread.time_s[known]).clip(1e-9)
    inside = (thread.time_s[known][1:] > departure_s) & (thread.time_s[known][1:] <= arrival_s)
    assert speeds[inside].max() == pytest.approx(1.2, rel=1e-3), "the curve's speed, not the drive's 1.85 m/s"


def test_a_branch_breaks_where_the_next_stop_lies_elsewhere() -> None:
    line = branch_line(carriers=1)
    layout = lay_out(line)
    west, east = layout.transfers
    to = [rank(layout, name) for name in ("unload", "x")]
    e = moved(line, west.aboard, to[1], layout.transfers[1].aboard, to[0])
    main, back, side = layout.lanes
    parts = unbroken(thread_of(e))
    assert [(round(part[0], 6), round(part[-1], 6)) for part in parts] == [
        (round(layout.stop_of("load").axis_m, 6), round(back.end_axis_m + LINK_M, 6)),
        (0.0, round(main.end_axis_m, 6)),
        (round(side.end_axis_m, 6), round(side.end_axis_m + LINK_M, 6)),
        (round(back.start_axis_m, 6), round(layout.stop_of("unload").axis_m, 6)),
    ]
    way_m = sum(part[-1] - part[0] for part in parts)
    assert thread_of(e).travel_m == pytest.approx(way_m) == pytest.approx(sum(_distances(e)))
    assert east.start_axis_m == side.end_axis_m


def _distances(e: Any) -> list[float]:
    length_m = ways_of(e.layout).length_m
    return [float(length_m[row["from_stop"], row["to_stop"]]) for row in e.run.moves.rows()]


def test_the_lane_behind_its_platform_is_not_broken() -> None:
    line = branch_line(carriers=1)
    layout = lay_out(line)
    e = moved(line, layout.transfers[0].aboard, rank(layout, "y"))
    (whole,) = unbroken(thread_of(e))
    assert (np.diff(whole) >= -1e-12).all()
    assert whole[-1] == pytest.approx(layout.stop_of("y").axis_m)


def test_a_lane_to_and_fro_goes_back_on_the_axis() -> None:
    line = to_and_fro_line(400, 700, 1100)
    layout = lay_out(line)
    e = moved(line, rank(layout, "c"), rank(layout, "a"))
    (whole,) = unbroken(thread_of(e))
    assert max(whole) == pytest.approx(1.1)
    assert (whole[0], whole[-1]) == (pytest.approx(0.4), pytest.approx(0.4))
    assert thread_of(e).travel_m == pytest.approx(1.4)
    turn = int(np.argmax(whole))
    assert (np.diff(whole[:turn]) >= -1e-12).all()
    assert (np.diff(whole[turn + 1 :]) <= 1e-12).all()


def test_a_window_within_a_broken_move_shows_its_own_part() -> None:
    line = branch_line(carriers=1)
    layout = lay_out(line)
    e = moved(line, layout.transfers[0].aboard, rank(layout, "x"))
    row = e.run.moves.rows()[1]
    late = Window(row["arrival_s"] - 0.05, row["arrival_s"] + 0.5)
    (part,) = unbroken(carrier_threads(line, layout, e.run, late)[0])
    assert part[-1] == pytest.approx(layout.stop_of("x").axis_m)
    assert 0.0 < part[0] < part[-1]


def test_stretches_say_how_far_the_carrier_has_come() -> None:
    layout = lay_out(branch_line())
    aboard, x = layout.transfers[0].aboard, rank(layout, "x")
    off, on = axis_stretches(layout, ways_of(layout), aboard, x)
    assert (off.way_m, off.length_m) == (0.0, pytest.approx(LINK_M / 2))
    assert (on.way_m, on.from_m, on.length_m) == (off.length_m, 0.0, pytest.approx(0.5))
    assert on.at_m(0.2) == pytest.approx(0.2)
    assert on.at_m(9.0) == pytest.approx(0.5)


def rows_of(line: Line, name: str) -> list[dict[str, Any]]:
    """The rows of the strip under a name."""
    e: Any = SimpleNamespace(line=line, layout=lay_out(line), run=None, findings=())
    sheet = sheet_of(e, None, Text())
    strip_row(sheet, None)
    return sheet.data.rows.get(name, [])


def headings(line: Line) -> list[str]:
    return [row["name"] for row in rows_of(line, "lanes")]


def test_the_strip_says_what_kind_of_track_it_is() -> None:
    branch, ring, bed = branch_line(carriers=1), ring_line(300, 900, carriers=1), to_and_fro_line(400, 700, 1100)
    assert headings(branch) == [
        "lane main, 1104 mm, west → east, to east",
        "lane back, 1104 mm, east → west",
        "lane side, 1104 mm, west → east",
    ]
    assert headings(ring) == ["ring round, 4452 mm, curves darker"]
    assert headings(bed) == ["lane bed, 1472 mm, west ↔ east"]


def test_the_strip_shows_curves_platforms_and_the_gap_after_a_lane() -> None:
    ring = ring_line(300, 900, carriers=1)
    pieces = [piece for piece in lay_out(ring).lanes[0].pieces if piece.is_curved]
    spans = {(row["x"], row["x2"]) for row in rows_of(ring, "curves")}
    assert {(round(p.from_m * 1000, 2), round(p.to_m * 1000, 2)) for p in pieces} == spans
    ticks = rows_of(ring, "floor")
    assert {(row["x"], row["label"]) for row in ticks} >= {(1000.0, "1000"), (4000.0, "4000")}, "along the ring"
    branch = branch_line(carriers=1)
    names = {row["name"] for row in rows_of(branch, "platforms")}
    assert names == {
        "cross-transfer west, from back to main and side",
        "cross-transfer east, from side and main to back",
    }
    main, back, _ = lay_out(branch).lanes
    assert back.start_axis_m - main.end_axis_m == pytest.approx(PITCH_M)
