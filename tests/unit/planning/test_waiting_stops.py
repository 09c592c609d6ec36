"""Waiting stops: found, taken out, and how long carriers rest on them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from linewright.flow.bins import run_length
from linewright.layout import Layout, lay_out
from linewright.line.model import Line
from linewright.planning.waiting_stops import (
    judge_waiting_stops,
    rests_of,
    waiting_groups,
    waiting_stop_runs,
    without_stop,
)
from unit.handover.stand_in_run import demo_line


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


@pytest.fixture
def layout(line: Line) -> Layout:
    return lay_out(line)


def test_every_waiting_stop_is_in_one_group_nearest_first(layout: Layout) -> None:
    groups = waiting_groups(layout)
    found = sorted(rank for group in groups for rank in group.stops)
    assert found == [stop.index for stop in layout.stops if stop.kind == "waiting"]
    for group in groups:
        target = layout.stops[group.stops[0] + 1]
        assert target.kind in ("station", "dock")
        assert (group.before, group.lane) == (target.label, target.lane)
        assert list(group.stops) == sorted(group.stops, reverse=True)


def test_a_stop_taken_out_leaves_all_else_where_it_was(layout: Layout) -> None:
    rank = waiting_groups(layout)[2].stops[-1]
    less = without_stop(layout, rank)
    assert [stop.index for stop in less.stops] == list(range(len(layout.stops) - 1))
    kept = [stop.axis_m for stop in layout.stops if stop.index != rank]
    assert [stop.axis_m for stop in less.stops] == kept
    assert [less.stops[one.aboard].transfer for one in less.transfers] == [one.name for one in layout.transfers]
    with pytest.raises(ValueError, match="is no waiting stop"):
        without_stop(layout, layout.stop_of("press").index)


def test_rests_are_counted_between_begin_and_end() -> None:
    moves = np.array(
        [
            # carrier, departure, from, to, arrival, load class; looked at from 100 to 200
            [0, 120, 1, 2, 130, 0],  # on 1 from before the begin to 120
            [0, 150, 2, 3, 160, 0],  # on 2 from 130 to 150, on 3 from 160 to the end
            [1, 90, 0, 1, 125, 0],  # under way at the begin
            [1, 125, 1, 2, 155, 0],  # went on at once: a halt of no length
            [1, 190, 2, 3, 220, 0],  # on 2 from 155 to 190, under way at the end
        ]
    )
    rest_us, halts = rests_of(moves, 4, 100, 200)
    assert rest_us.tolist() == [0, 20, 20 + 35, 40]
    assert halts.tolist() == [0, 1, 2, 1]
    assert rests_of(moves[:0], 4, 100, 200)[0].tolist() == [0, 0, 0, 0]


def test_each_group_is_judged(line: Line, layout: Layout) -> None:
    jobs = waiting_stop_runs(line, layout, run_length(line, 0.75, 2, 1))
    rows = judge_waiting_stops(jobs)
    assert [row.before for row in rows] == [group.before for group in jobs.groups]
    for row in rows:
        assert row.gain_per_h is not None
        assert row.gain_per_h.confidence == pytest.approx(1 - 0.05 / len(rows))
        assert row.used == sum(visits > 0 for visits in row.visits_per_h)
        assert all(0.0 <= share <= 1.0 for share in row.occupied_share)
    # What no carrier halts at cannot matter, to the last part.
    idle = [row for row in rows if row.visits_per_h[-1] == 0.0 and row.before != "station load"]
    assert idle
    for row in idle:
        assert row.gain_per_h is not None
        assert (row.gain_per_h.low, row.gain_per_h.high, row.worth) == (0.0, 0.0, "does nothing")


def test_a_stop_that_carriers_stand_on_at_time_zero_is_not_tried(line: Line, layout: Layout) -> None:
    full = line.model_copy(update={"carriers": 24})
    jobs = waiting_stop_runs(full, layout, run_length(line, 0.5, 2, 1))
    assert len(jobs.plans) == 1
    assert set(jobs.why.values()) == {"the 24 carriers need it to stand on at time zero"}
    assert {row.worth for row in judge_waiting_stops(jobs)} == {"not tried"}


def test_the_runs_for_it_are_short(line: Line, layout: Layout) -> None:
    assert waiting_stop_runs(line, layout, run_length(line, 8.0, 2, 1)).length.horizon_us == 2 * 3_600_000_000
    assert waiting_stop_runs(line, layout, run_length(line, 1.0, 2, 1)).length.horizon_us == 3_600_000_000
