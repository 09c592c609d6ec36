"""Threads of carriers: where they are at every instant, cut to the window and laid round the loop."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.evaluation import Evaluation, evaluate
from linewright.line.load import load_line
from linewright.motion.limits import carrier_limits
from linewright.motion.profile import plan_move
from linewright.pictures.track.logs import long_logs, reach_of, run_logs
from linewright.pictures.track.thinned import kept_points
from linewright.pictures.track.threads import (
    Thread,
    Window,
    carrier_threads,
    choose_window,
    threads_of,
    what_is_seen,
)
from unit.pictures.hand_made import as_run, evaluation

FIVE = Path(__file__).parents[3] / "examples" / "charts" / "five.yaml"


@pytest.fixture(scope="module")
def five() -> Evaluation:
    """A line of five stations that really ran, for half an hour."""
    return evaluate(load_line(FIVE), hours=0.4, runs=2, workers=1)


def at(thread: Thread, time_s: Any) -> Any:
    """Places of a thread that is not broken."""
    return np.interp(time_s, thread.time_s, thread.axis_m)


def test_a_thread_follows_the_curve_of_the_move() -> None:
    e = evaluation(carriers=1)
    thread = carrier_threads(e.line, e.layout, e.run, Window(0.0, 120.0))[0]
    move_row = e.run.moves.rows()[3]
    start, end = e.layout.stops[move_row["from_stop"]], e.layout.stops[move_row["to_stop"]]
    distance_m = end.axis_m - start.axis_m
    move = plan_move(distance_m, carrier_limits(e.line, True, distance_m).limits)
    quarter_s = move_row["departure_s"] + move.duration_s / 4
    known = ~np.isnan(thread.axis_m)
    at_m = np.interp(quarter_s, thread.time_s[known], thread.axis_m[known])
    assert at_m == pytest.approx(start.axis_m + move.position_m(move.duration_s / 4), abs=1e-6)
    assert at_m < start.axis_m + 0.2 * distance_m, "slower at first: no straight line"


def test_a_resting_carrier_is_upright() -> None:
    e = evaluation(carriers=3)
    e.run = as_run([], [], 130.0)
    threads = carrier_threads(e.line, e.layout, e.run, Window(0.0, 120.0))
    assert [thread.carrier for thread in threads] == [0, 1, 2]
    assert all(set(thread.axis_m) == {thread.axis_m[0]} for thread in threads)
    assert threads[0].axis_m[0] == e.layout.stop_of("load").axis_m
    assert (threads[0].time_s[0], threads[0].time_s[-1], threads[0].travel_m) == (0.0, 120.0, 0.0)


def test_the_end_of_the_axis_breaks_the_thread() -> None:
    e = evaluation(carriers=2, until_s=400.0)
    window = Window(0.0, 400.0)
    for thread in carrier_threads(e.line, e.layout, e.run, window):
        breaks = np.flatnonzero(np.isnan(thread.axis_m))
        assert len(breaks) == np.floor(thread.travel_m / e.layout.loop_m + thread.axis_m[0] / e.layout.loop_m)
        assert len(breaks) >= 1
        for number in breaks:
            assert (thread.axis_m[number - 1], thread.axis_m[number + 1]) == (e.layout.loop_m, 0.0)
            assert len(set(thread.time_s[number - 1 : number + 2])) == 1
        known = thread.axis_m[~np.isnan(thread.axis_m)]
        assert ((known >= 0.0) & (known <= e.layout.loop_m)).all()
        assert (np.diff(thread.time_s) >= 0.0).all()


@given(st.floats(0.0, 60.0), st.floats(0.001, 20.0))
@settings(max_examples=12, deadline=None)
def test_a_window_is_a_cut_of_the_whole(start_s: float, span_s: float) -> None:
    line = SMALL
    whole = carrier_threads(line.line, line.layout, line.run, Window(0.0, 90.0))
    parts = carrier_threads(line.line, line.layout, line.run, Window(start_s, start_s + span_s))
    assert [part.carrier for part in parts] == [0, 1]
    for part, one in zip(parts, whole, strict=True):
        assert (part.time_s[0], part.time_s[-1]) == (start_s, start_s + span_s)
        # Places wound up beyond the end of the axis, so that no break stands between two points.
        wound = [unwound(thread, line.layout.loop_m) for thread in (part, one)]
        expected = np.interp(part.time_s[~np.isnan(part.axis_m)], one.time_s[~np.isnan(one.axis_m)], wound[1])
        rounds = np.round((wound[0] - expected) / line.layout.loop_m)
        assert wound[0] - rounds * line.layout.loop_m == pytest.approx(expected, abs=1e-9)


def unwound(thread: Thread, loop_m: float) -> Any:
    rounds = np.cumsum(np.isnan(thread.axis_m))
    return (thread.axis_m + rounds * loop_m)[~np.isnan(thread.axis_m)]


SMALL = evaluation(carriers=2)


def test_the_window_starts_with_the_steady_line_if_the_log_allows() -> None:
    assert choose_window(180.0, 900.0, 300.0, None, None) == Window(300.0, 420.0)
    assert choose_window(180.0, 900.0, 880.0, None, None) == Window(780.0, 900.0)
    assert choose_window(0.0, 45.0, 0.0, None, None) == Window(0.0, 45.0)
    assert choose_window(180.0, 900.0, 300.0, 200.0, None) == Window(200.0, 320.0)
    assert choose_window(180.0, 900.0, 300.0, None, 700.0) == Window(200.0, 900.0)


@pytest.mark.parametrize(
    ("start_s", "span_s", "said"),
    [
        (100.0, None, "start_s is 100 s; moves are known from 180 s to 900 s"),
        (900.0, None, "start_s is 900 s; moves are known from 180 s to 900 s"),
        (None, 0.0, "must be positive"),
        (None, 721.0, "so at most 720 s may be asked for"),
        (500.0, 401.0, "so at most 400 s may be asked for from there"),
    ],
)
def test_what_may_be_asked_for_is_said(start_s: float | None, span_s: float | None, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        choose_window(180.0, 900.0, 300.0, start_s, span_s)


def test_a_carrier_whose_place_is_not_known_has_no_thread() -> None:
    e = evaluation(carriers=3)
    rows = [tuple(row.values()) for row in e.run.moves.rows() if row["carrier"] == 1 and row["departure_s"] > 20.0]
    works = [("press", 2, 0, 25.0, 90.0, 60.0)]
    e.run = as_run(rows, works, until_s=130.0, from_s=20.0)
    threads = carrier_threads(e.line, e.layout, e.run, Window(20.0, 120.0))
    assert [thread.carrier for thread in threads] == [1, 2]
    assert threads[1].axis_m[0] == e.layout.stop_of("press").axis_m


def test_every_carrier_has_one_thread_over_the_whole_window(five: Evaluation) -> None:
    assert five.run is not None
    seen = what_is_seen(five, five.run.trace_from_s, reach_of(five)[1] - five.run.trace_from_s)
    assert seen is not None
    assert [thread.carrier for thread in seen.threads] == list(range(five.line.carriers))
    for thread in seen.threads:
        assert (thread.time_s[0], thread.time_s[-1]) == (seen.window.start_s, seen.window.end_s)
        assert (np.diff(thread.time_s) >= 0.0).all()


def test_run_and_duty_give_the_same_threads_and_works(five: Evaluation) -> None:
    run, duty = five.run, five.duty
    assert run is not None
    assert duty is not None
    own = run_logs(five.line, five.layout, run)
    both = long_logs(five.line, five.layout, run, duty)
    assert both.to_s == pytest.approx(1440.0)
    assert own.to_s < both.to_s
    for start_s, end_s in ((own.from_s, own.from_s + 30.0), (duty.from_s - 9.0, duty.from_s + 9.0), (500.0, own.to_s)):
        window = Window(max(start_s, own.from_s), end_s)
        first, second = (threads_of(five.line, five.layout, logs, window) for logs in (own, both))
        assert [thread.carrier for thread in first] == [thread.carrier for thread in second]
        for one, other in zip(first, second, strict=True):
            assert one.time_s == pytest.approx(other.time_s, abs=1e-9)
            assert one.axis_m == pytest.approx(other.axis_m, abs=1e-9, nan_ok=True)
    early = both.work_start_s < own.to_s - 20.0
    for name in ("work_stop", "work_carrier", "work_serial", "work_start_s", "work_end_s", "work_repair_s"):
        values = getattr(own, name)[own.work_start_s < own.to_s - 20.0]
        assert getattr(both, name)[early] == pytest.approx(values), name
    assert len(np.unique(both.work_serial)) > len(np.unique(own.work_serial))


def test_a_duty_without_a_log_reaches_no_farther_than_the_run(five: Evaluation) -> None:
    assert five.run is not None
    assert five.duty is not None
    bare = replace(five, duty=replace(five.duty, log=None))
    assert reach_of(five)[1] > reach_of(bare)[1] == five.run.trace_to_s
    with pytest.raises(ValueError, match="has no log"):
        long_logs(five.line, five.layout, five.run, replace(five.duty, log=None))


def test_an_evaluation_without_a_run_shows_nothing() -> None:
    e: Any = SimpleNamespace(run=None, line=None, layout=None)
    assert what_is_seen(e) is None


def test_a_coarse_grain_is_kept_in_time(five: Evaluation) -> None:
    assert five.run is not None
    logs = run_logs(five.line, five.layout, five.run)
    window = Window(logs.from_s + 3.0, logs.from_s + 63.0)
    fine, coarse = (threads_of(five.line, five.layout, logs, window, grain_s) for grain_s in (0.0, 0.3))
    assert sum(len(thread.time_s) for thread in coarse) < 0.5 * sum(len(thread.time_s) for thread in fine)
    for one, other in zip(fine, coarse, strict=True):
        assert other.travel_m == pytest.approx(one.travel_m, abs=1.5), "apart from the moves that the window cuts"
        here = polyline(one.axis_m * 1e6, one.time_s / 0.3)
        assert farthest(here, polyline(other.axis_m * 1e6, other.time_s / 0.3)) <= 1.0 + 1e-6


def polyline(x: Any, y: Any) -> Any:
    return np.stack([x, y], axis=1)


def farthest(whole: Any, thinned: Any) -> float:
    """How far the farthest point of a line is from another line; both broken at NaN."""
    begins, ends = thinned[:-1], thinned[1:]
    known = ~np.isnan(begins[:, 0] + ends[:, 0])
    begins, ends = begins[known], ends[known]
    worst = 0.0
    for point in whole[~np.isnan(whole[:, 0])]:
        # Only strokes near in time can be the nearest: those that end within two of the point.
        near = (begins[:, 1] <= point[1] + 2.0) & (ends[:, 1] >= point[1] - 2.0)
        along = ends[near] - begins[near]
        length2 = (along**2).sum(axis=1)
        share = ((point - begins[near]) * along).sum(axis=1) / np.where(length2 > 0.0, length2, 1.0)
        foot = begins[near] + np.clip(share, 0.0, 1.0)[:, None] * along
        worst = max(worst, float(np.hypot(*(point - foot).T).min()))
    return worst


@given(
    st.lists(st.tuples(st.floats(-30.0, 30.0) | st.just(float("nan")), st.floats(0.0, 4.0)), min_size=1, max_size=60),
    st.floats(0.0, 3.0),
)
@settings(max_examples=30, deadline=None)
def test_no_place_of_a_line_is_farther_from_the_thinned_one_than_told(
    points: list[tuple[float, float]], tolerance_px: float
) -> None:
    x, y = np.array([one for one, _ in points]), np.cumsum([step for _, step in points])
    kept = kept_points(x, y, tolerance_px)
    assert {0, len(x) - 1} <= set(kept.tolist())
    assert set(np.flatnonzero(np.isnan(x)).tolist()) <= set(kept.tolist())
    known = ~np.isnan(x)
    alone = known & np.isnan(np.concatenate([[np.nan], x[:-1]])) & np.isnan(np.concatenate([x[1:], [np.nan]]))
    assert set(np.flatnonzero(alone).tolist()) <= set(kept.tolist()), "a point between two breaks"
    whole = polyline(np.where(alone, np.nan, x), y)
    assert farthest(dense(whole), polyline(x[kept], y[kept])) <= tolerance_px + 1e-6


def dense(line: Any) -> Any:
    """The points of a line and five between every two of them."""
    shares = np.linspace(0.0, 1.0, 7)[:, None, None]
    return ((1.0 - shares) * line[None, :-1] + shares * line[None, 1:]).transpose(1, 0, 2).reshape(-1, 2)


def test_thinning_leaves_out_what_lies_on_a_straight_line_and_nothing_else() -> None:
    x, y = np.array([0.0, 1.0, 2.0, 2.0, 2.0]), np.array([0.0, 1.0, 2.0, 3.0, 4.0])
    assert kept_points(x, y, 0.0).tolist() == [0, 2, 4]
    assert kept_points(x, y, 5.0).tolist() == [0, 4]
    assert kept_points(x[:1], y[:1], 0.0).tolist() == [0]
    with pytest.raises(ValueError, match="negative"):
        kept_points(x, y, -0.1)
