"""The clear gap in what the kernel really ran, looked at from outside: positions on a grid, and rides by hand figures.

Kernel and reference model both read the traffic plan, so neither sees a wrong figure in it; this does.
"""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

from agree.random_lines import random_line
from linewright.flow.kernel.draws import luck_of
from linewright.flow.kernel.run import run_once
from linewright.flow.kernel.state import tables_of
from linewright.layout import Layout, lay_out
from linewright.line.load import load_line
from linewright.line.model import Line
from linewright.motion import carrier_limits, plan_move
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import ABOARD, TrafficPlan

EXAMPLES = Path(__file__).parents[2] / "examples"
STEP_S = 0.002
SECONDS = 240
TRIED = ("demo", "two-lane", *range(1, 17, 4))
TRIED_LONG = tuple(range(17, 41, 4))


def line_of(which: str | int) -> Line:
    return random_line(which).read() if isinstance(which, int) else load_line(EXAMPLES / which / "line.yaml")


def least_margin_m(line: Line, layout: Layout, plan: TrafficPlan) -> tuple[float, int]:
    """Least (distance of neighbours - pitch) on one lane over the grid, and how many moves were looked at.

    A carrier's place is its travel on the lane on which it is; at rest aboard it is on none.
    """
    horizon_us = SECONDS * 1_000_000
    moves = run_once(plan, tables_of(plan), luck_of(plan, 3, 0), horizon_us, horizon_us, trace_from_us=0).moves
    names = [lane.name for lane in layout.lanes]
    grid_s = np.arange(0.0, SECONDS, STEP_S)
    lane = np.full((plan.carriers, len(grid_s)), -1)
    travel_m = np.zeros((plan.carriers, len(grid_s)))

    def stand(carrier: int, stop: int, begin_s: float) -> None:
        begin = np.searchsorted(grid_s, begin_s)
        lane[carrier, begin:] = -1 if plan.stop_kind[stop] == ABOARD else names.index(layout.stops[stop].lane)
        travel_m[carrier, begin:] = layout.stops[stop].travel_m

    for carrier, stop in enumerate(plan.first_stops.tolist()):
        stand(carrier, stop, 0.0)
    for carrier, departs, start, end, arrives, load in moves.tolist():
        number = names.index(layout.stops[end].lane)
        end_m = layout.stops[end].travel_m
        distance_m = (layout.stops[end].axis_m - layout.stops[start].axis_m) % layout.loop_m
        move = plan_move(distance_m, carrier_limits(line, load == 1, distance_m).limits)
        under_way = slice(*np.searchsorted(grid_s, [departs / 1e6, arrives / 1e6]))
        lane[carrier, under_way] = number
        travel_m[carrier, under_way] = end_m - distance_m + move.position_m(grid_s[under_way] - departs / 1e6)
        stand(carrier, end, arrives / 1e6)
    margins = []
    for number in range(len(names)):
        here = lane == number
        changes = np.flatnonzero((here[:, 1:] != here[:, :-1]).any(axis=0)) + 1
        # Between two changes the same carriers are on the lane.
        for begin, end in itertools.pairwise([0, *changes.tolist(), len(grid_s)]):
            places = np.sort(travel_m[here[:, begin], begin:end], axis=0)
            margins.append(np.min(np.diff(places, axis=0), initial=np.inf) - layout.pitch_m)
    return float(min(margins)), len(moves)


@pytest.mark.parametrize("which", [*TRIED, *(pytest.param(one, marks=pytest.mark.long) for one in TRIED_LONG)])
def test_neighbours_keep_the_clear_gap(which: str | int) -> None:
    line = line_of(which)
    layout = lay_out(line)
    margin_m, moves = least_margin_m(line, layout, compile_plan(line, layout))
    assert moves > 20
    assert margin_m >= -1e-9


def test_a_gap_that_is_not_kept_is_seen() -> None:
    """With every delay taken away and no reaction, an empty carrier runs up to a loaded leader somewhere."""
    line = line_of("two-lane")
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    hasty = np.where(plan.delay_us > -(2**31), plan.delay_us - 100_000, plan.delay_us).astype(np.int32)
    object.__setattr__(plan, "delay_us", hasty)
    object.__setattr__(plan, "follow_us", -60_000)
    margin_m, _ = least_margin_m(line, layout, plan)
    assert margin_m < -1e-3


def test_a_ride_by_hand() -> None:
    """The demo's lift: 320 mm at 1.4 m/s, 8 m/s², 120 m/s³.

    a/j = 66.7 ms; 2 a³/j² = 71 mm < 320 mm, so a is reached; peak = -a²/2j + sqrt((a²/2j)² + a d)
    = -0.26667 + sqrt(0.071111 + 2.56) = 1.35541 m/s < 1.4, so the speed is not;
    T = a/j + sqrt((a/j)² + 4 d/a) = 0.0666667 + sqrt(0.0044444 + 0.16) = 0.4721842 s.
    With unlock 40 ms, align 50 ms, lock 60 ms: 622 185 us, rounded up.
    """
    line = line_of("demo")
    plan = compile_plan(line, lay_out(line))
    assert plan.aboard_us.tolist() == [622_185, 622_185]
    assert plan.home_us.tolist() == [622_185, 622_185]
