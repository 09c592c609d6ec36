"""The range of counts and the row of each."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from linewright.errors import LineFileError, SimulationError
from linewright.layout import Layout, lay_out
from linewright.line.model import Line, TimeLaw
from linewright.planning import counts, most_that_fit, size, size_line
from linewright.planning.counts import run_plans
from linewright.traffic.plan import TrafficPlan
from unit.handover.stand_in_run import demo_line


@pytest.fixture
def line(tmp_path: Path) -> Line:
    return demo_line(tmp_path)


def test_as_many_fit_as_can_be_laid(line: Line) -> None:
    fit = most_that_fit(line, lay_out(line))
    lay_out(line.model_copy(update={"carriers": fit}))
    with pytest.raises(LineFileError, match=f"at most {fit}"):
        lay_out(line.model_copy(update={"carriers": fit + 1}))


def test_rows_are_those_asked_for_and_the_file_s_count_is_known(line: Line) -> None:
    told: list[tuple[int, int]] = []
    sizing = size_line(line, 4, 5, hours=0.75, runs=2, progress_of_all=lambda *pair: told.append(pair))
    assert [row.carriers for row in sizing.counts] == [4, 5]
    assert (sizing.row(5), sizing.row(14)) == (sizing.counts[1], None)
    assert sizing.choices.one_out is not None
    assert sizing.choices.one_out.carriers == line.carriers - 1
    assert sorted(told) == [(n, 8) for n in range(1, 9)]  # 4, 5, 13 and 14 carriers, twice each
    for row in sizing.counts:
        assert row.rate is not None
        assert row.round_s == pytest.approx(row.carriers * 3600 / row.rate.mean)
        assert row.of_bound == pytest.approx(row.rate.mean / row.upper_bound_per_h)
        assert row.bound == "carriers"
        assert not row.above_bounds
    assert sizing.warm_up_s > 0.0
    assert sizing.waiting_stops is None
    assert sizing.required_rate_per_h == pytest.approx(760.2, abs=0.1)


def test_the_bound_names_what_sets_it(line: Line) -> None:
    (row,) = size_line(line, 20, 20, hours=0.2, runs=1).counts
    assert row.bound == "east-lift"
    assert row.rate is None
    assert row.reason is not None


@pytest.mark.parametrize(
    ("fewest", "most", "words"),
    [
        (9, 8, "from 9 to 8 carriers is no range"),
        (0, 3, "from 0 to 3 carriers is no range"),
        (1, 25, "25 carriers do not fit: at most 24 do"),
        (25, None, "25 carriers do not fit"),
    ],
)
def test_a_range_that_cannot_be_is_refused(line: Line, fewest: int | None, most: int | None, words: str) -> None:
    with pytest.raises(SimulationError, match=words):
        size_line(line, fewest, most)


def of_sheet(line: Line, carriers: int) -> Line:
    most = line.conveyor.most
    assert most is not None
    sheet = line.conveyor.model_copy(update={"most": most.model_copy(update={"carriers": carriers})})
    return line.model_copy(update={"conveyor": sheet})


def test_the_sheet_limits_only_the_range_that_nobody_asked_for(line: Line) -> None:
    small = of_sheet(line, 9)
    layout = lay_out(small)
    assert size._range(small, layout, None, None) == range(1, 10)
    assert size._range(small, layout, 5, 12) == range(5, 13)
    with pytest.raises(SimulationError, match="10 carriers: the sheet demo-heavy allows at most 9"):
        size._range(small, layout, 10, None)


def test_a_long_range_that_nobody_asked_for_lies_round_the_file_s_count(line: Line) -> None:
    layout = lay_out(line)
    waiting = next(stop for stop in layout.stops if stop.kind == "waiting")
    long: Layout = replace(layout, stops=layout.stops + (waiting,) * 176)
    vast = of_sheet(line, 1000)
    assert size._range(vast, long, None, None) == range(1, 61)
    middle = vast.model_copy(update={"carriers": 100})
    assert size._range(middle, long, None, None) == range(70, 130)
    assert size._range(vast.model_copy(update={"carriers": 199}), long, None, None) == range(141, 201)
    assert size._range(vast, long, 1, None) == range(1, 201)


def test_plans_are_compiled_one_by_one_only_where_their_settling_differs(
    line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    layout = lay_out(line)
    asked: list[int] = []
    compiled = size.compile_plan

    def compile_plan(one: Line, of: Layout) -> TrafficPlan:
        asked.append(one.carriers)
        plan = compiled(one, of)
        return replace(plan, settling_us=plan.settling_us + (1 if differs and one.carriers > 6 else 0))

    monkeypatch.setattr(size, "compile_plan", compile_plan)
    differs = True
    plans = size._plans(line, layout, (5, 6, 7))
    assert asked == [7]  # no station states a window: nothing to compare
    assert [plan.carriers for plan in plans.values()] == [5, 6, 7]
    windows = tuple(station.model_copy(update={"window_m": 1e-4}) for station in line.stations)
    assert line.fixture is not None
    fixture = line.fixture.model_copy(update={"natural_frequency_hz": 40.0, "damping": 0.05})
    swings = line.model_copy(update={"stations": windows, "fixture": fixture})
    asked.clear()
    plans = size._plans(swings, layout, (5, 6, 7))
    assert asked == [7, 5, 5, 6, 7]
    assert [int(plan.settling_us[0] - plans[5].settling_us[0]) for plan in plans.values()] == [0, 0, 1]
    differs = False
    asked.clear()
    size._plans(swings, layout, (5, 6, 7))
    assert asked == [7, 5]


def test_no_plan_gives_no_runs(line: Line) -> None:
    from linewright.flow.bins import run_length

    assert run_plans((), run_length(line, 1.0, 1, 1)) == ()
    with pytest.raises(ValueError, match="workers is 0"):
        run_plans((), run_length(line, 1.0, 1, 1), workers=0)


def test_a_fixed_line_at_its_bound_is_not_above_it_but_one_that_makes_more_is(
    line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A run that is cut just after a part has a little more than the long term: no fault. Two per cent more is one."""
    fixed = line.model_copy(
        update={
            "stations": tuple(
                one.model_copy(update={"time": TimeLaw(law="fixed", mean=f"{one.time.mean_s} s"), "failures": ()})
                for one in line.stations
            )
        }
    )
    (row,) = size_line(fixed, 1, 1, hours=2.0, runs=2).counts
    assert row.rate is not None
    assert row.rate.low > row.upper_bound_per_h
    assert not row.above_bounds
    plain = counts.PlanRuns.rates_per_h.fget
    assert plain is not None
    monkeypatch.setattr(counts.PlanRuns, "rates_per_h", property(lambda done: 1.02 * plain(done)))
    (row,) = size_line(fixed, 1, 1, hours=2.0, runs=2).counts
    assert row.above_bounds
