"""Threads of carriers: where they are at every instant, cut to the window and laid round the loop."""

from __future__ import annotations

import numpy as np
import pytest

from linewright.motion.limits import carrier_limits
from linewright.motion.profile import plan_move
from linewright.pictures.threads import Window, carrier_threads, choose_window, drawn_works
from unit.pictures.hand_made import as_run, evaluation


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
        for at in breaks:
            assert (thread.axis_m[at - 1], thread.axis_m[at + 1]) == (e.layout.loop_m, 0.0)
            assert len(set(thread.time_s[at - 1 : at + 2])) == 1
        known = thread.axis_m[~np.isnan(thread.axis_m)]
        assert ((known >= 0.0) & (known <= e.layout.loop_m)).all()
        assert (np.diff(thread.time_s) >= 0.0).all()


def test_a_window_is_a_cut_of_the_whole() -> None:
    e = evaluation(carriers=2)
    whole = carrier_threads(e.line, e.layout, e.run, Window(0.0, 60.0))[1]
    part = carrier_threads(e.line, e.layout, e.run, Window(20.3, 33.1))[1]
    assert (part.time_s[0], part.time_s[-1]) == (20.3, 33.1)
    known = ~np.isnan(whole.axis_m)
    inside = ~np.isnan(part.axis_m)
    expected = np.interp(part.time_s[inside], whole.time_s[known], whole.axis_m[known])
    assert part.axis_m[inside] == pytest.approx(expected, abs=1e-9)


def test_works_are_cut_to_the_window() -> None:
    e = evaluation(carriers=1)
    first = e.run.works.rows()[0]
    window = Window(first["start_s"] + 0.4, first["start_s"] + 0.9)
    (work,) = drawn_works(e.layout, e.run, window)
    assert (work.start_s, work.end_s) == (window.start_s, window.end_s)
    assert work.axis_m == e.layout.stop_of(work.station).axis_m
    assert drawn_works(e.layout, e.run, Window(first["end_s"], first["end_s"] + 0.1)) == ()


def test_the_window_starts_with_the_steady_line_if_the_log_allows() -> None:
    run = as_run([], [], until_s=900.0, from_s=180.0)
    run.warm_up_s = 300.0
    assert choose_window(run) == Window(300.0, 420.0)
    run.warm_up_s = 880.0
    assert choose_window(run) == Window(780.0, 900.0)
    assert choose_window(as_run([], [], until_s=45.0)) == Window(0.0, 45.0)
    assert choose_window(run, start_s=200.0) == Window(200.0, 320.0)
    with pytest.raises(ValueError, match="moves are logged from 180"):
        choose_window(run, start_s=100.0)
    with pytest.raises(ValueError, match="positive"):
        choose_window(run, length_s=0.0)


def test_a_carrier_whose_place_is_not_known_has_no_thread() -> None:
    e = evaluation(carriers=3)
    rows = [tuple(row.values()) for row in e.run.moves.rows() if row["carrier"] == 1 and row["departure_s"] > 20.0]
    works = [("press", 2, 0, 25.0, 90.0, 60.0)]
    e.run = as_run(rows, works, until_s=130.0, from_s=20.0)
    threads = carrier_threads(e.line, e.layout, e.run, Window(20.0, 120.0))
    assert [thread.carrier for thread in threads] == [1, 2]
    assert threads[1].axis_m[0] == e.layout.stop_of("press").axis_m
