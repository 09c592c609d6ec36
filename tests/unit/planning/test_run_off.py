"""The run-off of whole lines: limits agreed or derived, what fits into a day, and what cannot be shown."""

from __future__ import annotations

import functools
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import linewright as lw
from linewright.errors import SimulationError
from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.flow.statistics import mean_interval
from linewright.line.handing_over import Acceptance
from linewright.line.times import Failure, TimeLaw
from linewright.planning.run_off import PHASES, RunOff, RunOffTest, plan_run_off, rate_plan, success_run
from linewright.planning.run_off.basis import MOST_HOURS, MOST_LATER_HOURS
from linewright.planning.run_off.words import share_told
from linewright.quantities import quantity

ROOT = Path(__file__).parents[3]


@functools.cache
def evaluated(name: str) -> Evaluation:
    return lw.evaluate(lw.load(ROOT / "examples" / name), hours=1, runs=3, workers=1)


def planned(evaluation: Evaluation, rates: tuple[float, ...] | None = None, **agreed: Any) -> RunOff:
    """Its run-off, with rates of its runs and what is agreed put in."""
    if agreed:
        line = evaluation.line.model_copy(update={"acceptance": Acceptance(**agreed)})
        evaluation = replace(evaluation, line=line)
    if rates is not None:
        assert evaluation.run is not None
        values = np.array(rates)
        run = replace(evaluation.run, rates_per_h=values, rate=mean_interval(values), runs=len(values))
        evaluation = replace(evaluation, run=run)
    return plan_run_off(evaluation)


def one(plan: RunOff, code: str) -> RunOffTest:
    (test,) = plan.of(code)
    return test


def around(mean: float, spread: float = 20.0) -> tuple[float, ...]:
    """Twenty rates with that mean and about that spread."""
    return tuple(mean + spread * sign * (0.5 + i / 10.0) for i in range(10) for sign in (-1.0, 1.0))


def test_every_row_of_a_line_is_whole() -> None:
    for name in ("charts/five.yaml", "charts/fourteen.yaml", "ways/to-and-fro.yaml"):
        plan = planned(evaluated(name))
        order = [PHASES.index(test.phase) for test in plan.tests]
        assert order == sorted(order)
        for test in plan.tests:
            assert test.what
            assert test.method.endswith(".")
            assert test.why
            assert (test.pass_line == "") == (test.phase == "not to be shown"), test
            if test.possible and test.refused_if_planned is not None:
                assert test.refused_if_planned <= plan.builder_risk, test
            if test.possible and test.passed_at_limit is not None:
                assert test.passed_at_limit <= 1.0 - plan.confidence + 1e-9, test
            if test.phase == "running":
                assert test.hours is not None
                assert test.hours <= plan.most_hours
            assert test.phase != "later" or MOST_HOURS < (test.hours or 0.0) <= MOST_LATER_HOURS
        assert plan.total_hours == pytest.approx(sum(phase.hours for phase in plan.phases))


def test_the_rate_clears_the_demand_by_its_own_luck() -> None:
    answer = evaluated("charts/fourteen.yaml")
    assert answer.takt is not None
    assert answer.run is not None
    required = answer.takt.required_rate_per_h
    test = one(planned(answer, around(1400.0)), "rate")
    run_h = answer.run.hours - answer.run.warm_up_s / 3600.0
    assert test.hours == 4.0
    assert test.limit == required
    assert test.count == rate_plan(required, around(1400.0), run_h, 4.0, 0.9).least_good
    assert test.count > 4.0 * required
    assert f"{test.count:,}".replace(",", "\u00a0") in test.pass_line


def test_a_rate_too_near_is_counted_later_and_a_day_shows_less() -> None:
    answer = evaluated("charts/fourteen.yaml")
    assert answer.takt is not None
    required = answer.takt.required_rate_per_h
    plan = planned(answer, around(required + 12.0))
    later, day = one(plan, "rate"), one(plan, "rate-in-a-day")
    assert later.phase == "later"
    assert later.hours is not None
    assert later.hours > MOST_HOURS
    assert day.phase == "running"
    assert day.limit is not None
    assert day.limit < required
    assert day.hours == MOST_HOURS
    # What it shows, and that it is less than required, stands in the row itself, beside the pass line.
    shown, asked = f"{day.limit:,.0f}".replace(",", "\u00a0"), quantity(required, None)
    assert day.pass_value is not None
    assert day.limit < day.pass_value
    assert f"shows {shown}\u00a0an hour, not {asked}" in day.pass_line
    assert f"can show: {shown}, not the required {asked}" in day.what
    assert later.what in day.why[0]
    assert "counted in production from the day of handing over" in day.why[0]
    assert "miss the required rate" in day.why[1]
    # A hair more than that could not be shown in a day.
    assert answer.run is not None
    run_h = answer.run.hours - answer.run.warm_up_s / 3600.0
    assert rate_plan(day.limit + 2.0, around(required + 12.0), run_h, MOST_HOURS, 0.9).refused_if_planned > 0.05


def test_a_rate_that_falls_short_is_said_to() -> None:
    answer = evaluated("charts/fourteen.yaml")
    assert answer.takt is not None
    plan = planned(answer, around(answer.takt.required_rate_per_h - 1.0))
    test = one(plan, "rate")
    assert (test.phase, test.falls_short, test.hours) == ("not to be shown", True, None)
    assert "not above the required rate" in test.why[0]
    few = one(planned(answer, (1270.0, 1300.0)), "rate")
    assert (few.phase, few.falls_short) == ("not to be shown", False)
    assert "make more runs" in few.why[0]


def test_an_agreed_length_is_kept_and_its_risk_told() -> None:
    answer = evaluated("charts/fourteen.yaml")
    assert answer.takt is not None
    near = around(answer.takt.required_rate_per_h + 12.0)
    test = one(planned(answer, near, time_s=36_000.0), "rate")
    assert (test.hours, test.phase) == (10.0, "running")
    assert test.refused_if_planned is not None
    assert test.refused_if_planned > 0.05
    assert any("too short" in words for words in test.why)
    long = planned(answer, near, time_s=48 * 3600.0)
    assert one(long, "rate").hours == long.most_hours == 48.0


def test_rejects_agreed_or_derived() -> None:
    answer = evaluated("charts/fourteen.yaml")
    derived = one(planned(answer), "rejects")
    weights = {str(row["station"]): int(row["parts"]) for row in answer.run.stations.rows()} if answer.run else {}
    assert weights["light-test-1"] > 0
    # Both light tests reject 0.9 %, vision 0.5 %.
    assert derived.planned == pytest.approx(1.0 - 0.991 * 0.995)
    assert derived.limit == pytest.approx(2.0 * (derived.planned or 0.0))
    agreed = one(planned(answer, rejects=0.05), "rejects")
    assert agreed.limit == 0.05
    assert agreed.count is not None
    assert derived.count is not None
    assert agreed.count < derived.count
    short = one(planned(answer, rejects=0.01), "rejects")
    assert (short.phase, short.falls_short) == ("not to be shown", True)
    none = one(planned(evaluated("ways/to-and-fro.yaml"), rejects=0.02), "rejects")
    assert (none.allowed, none.count, none.refused_if_planned) == (0, success_run(0.98, 0.9), 0.0)


def test_failures_follow_from_the_line_file_and_the_run() -> None:
    answer = evaluated("charts/fourteen.yaml")
    assert answer.run is not None
    rows = {str(row["station"]): row for row in answer.run.stations.rows()}
    plan = planned(answer)
    assert [test.where for test in plan.of("failures")] == ["station press", "station solder", "station glue"]
    per_h = down = 0.0
    for name, every_s, repair_s in (("press", 4200.0, 110.0), ("solder", 2100.0, 45.0), ("glue", 1200.0, 25.0)):
        rate = float(rows[name]["work_share"]) * 3600.0 / every_s
        test = next(test for test in plan.of("failures") if test.where == f"station {name}")
        assert test.planned == pytest.approx(3600.0 / rate)
        assert test.hours is not None
        assert test.hours % 0.5 == 0.0
        per_h, down = per_h + rate, down + rate * repair_s / 3600.0
    whole = one(plan, "availability")
    assert whole.planned == pytest.approx(1.0 - down)
    assert whole.limit == pytest.approx(1.0 - 2.0 * down)
    assert whole.hours == pytest.approx((whole.count or 0) / per_h)
    stated = one(planned(answer, availability=0.90), "availability")
    assert (stated.limit, stated.why[0].split(",")[1]) == (0.90, " as agreed (key availability of acceptance)")
    above = one(planned(answer, availability=0.99), "availability")
    assert (above.phase, above.falls_short) == ("not to be shown", True)


def test_a_rare_failure_is_counted_later() -> None:
    answer = evaluated("charts/five.yaml")
    line = answer.line
    stations = []
    for station in line.stations:
        failures = tuple(
            failure.model_copy(update={"every": type(failure.every).exponential(200 * 3600.0)})
            for failure in station.failures
            if failure.every is not None
        )
        stations.append(station.model_copy(update={"failures": failures}))
    rare = replace(answer, line=line.model_copy(update={"stations": tuple(stations)}))
    (test,) = planned(rare).of("failures")
    assert test.phase == "not to be shown"
    assert any("nobody counts" in words for words in test.why)


def test_stops_follow_the_budget() -> None:
    plan = planned(evaluated("charts/fourteen.yaml"))
    along, across = plan.of("stop-accuracy")[0], [t for t in plan.of("stop-accuracy") if t.phase != "standing"]
    assert along.count is not None
    assert along.count % 27 == 0  # of each carrier as many
    assert along.pass_value is not None
    assert along.pass_value > 1.33
    assert [test.falls_short for test in across] == [False, True, True]
    repeat = one(plan, "stop-repeatability")
    assert repeat.count == 50
    assert repeat.pass_value is not None
    assert 18e-6 < repeat.pass_value < 27e-6
    assert quantity(repeat.pass_value, "m") in repeat.pass_line


def test_forces_against_what_the_carrier_may_take() -> None:
    answer = evaluated("charts/fourteen.yaml")
    tests = planned(answer).of("force")
    assert answer.limits is not None
    allowed = [float(row["allowed_N"]) for row in answer.limits.strength.stations.rows()]
    assert [test.pass_value for test in tests] == allowed
    assert all(quantity(value, "N") in test.pass_line for value, test in zip(allowed, tests, strict=True))
    assert all(test.passed_at_limit == pytest.approx(0.1) for test in tests)


def test_what_is_not_stated_is_said_with_its_key() -> None:
    told = {one.what: one.why for one in planned(evaluated("ways/to-and-fro.yaml")).not_planned}
    assert "demand" in told["rate"]
    assert "rejects" in told["reject share"]
    assert "cabinet" in told["temperature in the cabinet"]
    assert "tolerance" in told["accuracy of the stops at the tools"]
    assert "failures" in told["availability, time between failures"]


def test_shifts_are_counted_whole() -> None:
    answer = lw.evaluate(lw.load(ROOT / "examples/ways/shifts.yaml"), hours=8, runs=4, workers=1)
    tests = [test for test in planned(answer).tests if test.code.startswith("rate")]
    assert tests
    assert all(test.hours is None or test.hours % 8.0 == 0.0 for test in tests)


def test_without_a_run_there_is_no_plan() -> None:
    with pytest.raises(SimulationError, match="planned from a run"):
        plan_run_off(evaluate_without_run(evaluated("charts/five.yaml").line))


def test_chances_add_up() -> None:
    plan = planned(evaluated("charts/fourteen.yaml"))
    chances = [test.refused_if_planned for test in plan.tests if test.planned_for]
    assert plan.refused_somewhere == pytest.approx(math.fsum(one for one in chances if one is not None))


def test_a_row_of_production_is_added_to_the_others() -> None:
    answer = evaluated("charts/fourteen.yaml")
    assert answer.takt is not None
    plan = planned(answer, around(answer.takt.required_rate_per_h + 12.0))
    later = [test for test in plan.tests if test.phase == "later"]
    assert [test.code for test in later] == ["rate"]
    in_run_off = math.fsum(test.refused_if_planned or 0.0 for test in plan.tests if test.possible)
    assert later[0].refused_if_planned
    assert plan.refused_somewhere == pytest.approx(in_run_off + later[0].refused_if_planned)


def test_the_builder_reads_each_chance() -> None:
    plan = planned(evaluated("charts/fourteen.yaml"))
    for test in plan.tests:
        told = [words for words in test.internal if words.startswith("refused, though as planned: ")]
        assert len(told) == (test.planned_for and test.refused_if_planned is not None), test
        assert all(test.refused_if_planned is not None and share_told(test.refused_if_planned) in one for one in told)


def test_jams_count_works_and_clock_failures_the_clock() -> None:
    answer = evaluated("charts/five.yaml")
    assert answer.run is not None
    row = next(row for row in answer.run.stations.rows() if str(row["station"]) == "leak")
    works_per_h = int(row["parts"]) / (answer.run.runs * (answer.run.hours - answer.run.warm_up_s / 3600.0))
    repair = TimeLaw.fixed(20.0)
    kinds = (
        Failure(one_in=400, repair=repair),
        Failure(every=TimeLaw.gamma(7200.0, 0.5), of="clock", repair=repair),
    )
    stations = tuple(
        station.model_copy(update={"failures": kinds if station.name == "leak" else ()})
        for station in answer.line.stations
    )
    (test,) = planned(replace(answer, line=answer.line.model_copy(update={"stations": stations}))).of("failures")
    assert test.planned == pytest.approx(3600.0 / (works_per_h / 400.0 + 0.5))
    assert any("not all failures come at random" in words for words in test.why)
    fixture = answer.line.fixture
    assert fixture is not None
    two = answer.line.model_copy(update={"stations": stations, "fixture": fixture.model_copy(update={"nests": 2})})
    (half,) = planned(replace(answer, line=two)).of("failures")
    assert half.planned == pytest.approx(3600.0 / (works_per_h / 800.0 + 0.5))


def test_guards_are_held_to_the_time_they_were_reckoned_with() -> None:
    answer = evaluated("charts/five.yaml")
    test = one(planned(answer), "stopping-time")
    (found,) = (row for row in answer.findings if row.code == "safety-distance")
    assert f"{test.pass_value:.3f} s from its trip until all stands" in found.where
    assert test.pass_line == f"the greatest at most {test.pass_value:.3f}\u00a0s"
    assert test.count == 10
    assert found.verdict == "fails"
    assert any("fails in the plan" in words for words in test.why)
    bare = planned(evaluated("charts/fourteen.yaml"))
    assert not bare.of("stopping-time")
    assert "guard" in next(one.why for one in bare.not_planned if one.what == "stopping time at station load")


def test_a_hand_presses_on_a_load_cell_in_the_place_of_the_carrier() -> None:
    tests = {test.where: test for test in planned(evaluated("charts/fourteen.yaml")).of("force")}
    hand, tool = tests["station load"], tests["station press"]
    assert hand.method.startswith("Press by hand as in work onto a load cell in the carrier's place, 10 times")
    assert "between tool and carrier" in tool.method
    assert hand.pass_line.endswith("at most 150\u00a0N (stated: 55\u00a0N at most)")
    assert any("holds nobody to the stated force" in words for words in hand.why)
