"""Plans run under the same luck: they give what a run alone gives, whatever the threads."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from linewright.errors import SimulationError
from linewright.flow.bins import RunLength, run_length
from linewright.flow.run import STATE_COLUMNS, run_plan
from linewright.layout import lay_out
from linewright.line.model import Line
from linewright.planning.counts import BLOCKED, STARVED, PlanRuns, common_cut, difference, run_plans
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan
from unit.handover.stand_in_run import demo_line


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


@pytest.fixture
def plans(line: Line) -> list[TrafficPlan]:
    most = compile_plan(line.model_copy(update={"carriers": 12}), lay_out(line))
    return [replace(most, first_stops=most.first_stops[:carriers]) for carriers in (3, 7, 12)]


def test_a_count_gives_what_the_line_with_that_count_gives(line: Line, plans: list[TrafficPlan]) -> None:
    """The plan for most carriers, cut down, is the plan for fewer: with one count the warm-up is that of `rate` too."""
    (mine,) = run_plans(plans[1:2], run_length(line, 1.0, 3, 5))
    fewer = line.model_copy(update={"carriers": 7})
    alone = run_plan(fewer, compile_plan(fewer, lay_out(fewer)), 1.0, 3, 5)
    assert mine.rate == alone.rate
    assert mine.rates_per_h.tolist() == alone.rates_per_h.tolist()
    assert mine.cut_bins * mine.length.bin_us / 1e6 == pytest.approx(alone.warm_up_s)
    assert alone.warm_up_s > 0.0
    assert mine.state_s.sum(axis=1) == pytest.approx(3 * 3600.0)


def test_the_result_does_not_depend_on_the_threads(line: Line, plans: list[TrafficPlan]) -> None:
    length = run_length(line, 0.5, 2, 1)
    told: list[int] = []
    ones = run_plans(plans, length, workers=1, progress=told.append)
    assert sorted(told) == [1, 2, 3, 4, 5, 6]
    for workers in (3, 7):
        for one, other in zip(ones, run_plans(plans, length, workers), strict=True):
            assert one.carriers == other.carriers
            assert np.array_equal(one.good, other.good)
            assert np.array_equal(one.state_s, other.state_s)


def test_all_counts_have_one_warm_up(line: Line, plans: list[TrafficPlan]) -> None:
    done = run_plans(plans, run_length(line, 1.0, 2, 1))
    assert len({one.cut_bins for one in done}) == 1
    assert {one.carriers for one in done} == {3, 7, 12}


def test_the_common_warm_up_is_that_of_all_together() -> None:
    slow = np.array([[0.0] * 10 + [4.0, 5.0, 6.0, 5.0, 6.0, 5.0, 4.0, 5.0, 5.0, 5.0] * 5])
    fast = np.array([[80.0, 80.0, 80.0, 80.0, 82.0, 80.0, 80.0, 80.0, 80.0, 78.0] * 6])
    assert common_cut([slow]) == 10
    assert common_cut([fast]) == 0
    assert common_cut([slow, fast]) == 10  # the fast one's parts do not drown the slow one's start
    assert common_cut([]) == 0


def test_only_runs_made_alike_are_compared(line: Line, plans: list[TrafficPlan]) -> None:
    one, other, _ = run_plans(plans, run_length(line, 0.5, 2, 1))
    assert difference(one, other).mean == pytest.approx(float((other.rates_per_h - one.rates_per_h).mean()))
    (apart,) = run_plans(plans[:1], run_length(line, 0.5, 2, 2))
    with pytest.raises(ValueError, match="only runs of the same length"):
        difference(apart, other)


def test_the_states_are_those_of_a_run() -> None:
    assert [STATE_COLUMNS[state][0] for state in (BLOCKED, STARVED)] == ["blocked_share", "starved_share"]


def test_runs_that_stop_are_counted() -> None:
    good = np.array([[5, 5, 5, 0], [5, 5, 5, 1], [0, 0, 0, 0]])
    runs = PlanRuns(2, good, 0, None, None, np.zeros((1, 10)), RunLength(4_000_000, 1_000_000, 3, 1))
    assert runs.stalled_runs == 2


@pytest.mark.parametrize(("hours", "runs", "seed"), [(0.0, 1, 1), (float("nan"), 1, 1), (1.0, 0, 1), (1.0, 1, -1)])
def test_a_length_out_of_range_is_refused(line: Line, hours: float, runs: int, seed: int) -> None:
    with pytest.raises(ValueError, match=r"must be above 0|at least 1 and 0"):
        run_length(line, hours, runs, seed)


def test_a_run_too_short_or_of_too_many_bins_is_refused(line: Line) -> None:
    with pytest.raises(SimulationError, match="at least one microsecond"):
        run_length(line, 1e-11, 1, 1)
    with pytest.raises(SimulationError, match="bins of ten takts"):
        run_length(line, 1e9, 1, 1)
