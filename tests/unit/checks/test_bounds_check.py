"""A run within its bounds holds; a run that is wrong beyond doubt fails, and only such a one."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import pytest

from agree.random_lines import random_line
from linewright.checks.bounds import check_bounds
from linewright.flow.line_bounds import rate_bounds
from linewright.flow.run import Run, run_plan
from linewright.flow.statistics import mean_interval
from linewright.line.load import read_line
from linewright.line.model import Line
from linewright.line.patterns import pattern_text
from linewright.tables import Column, Table
from unit.flow.bound_lines import bound_line, plan_of, run_of

FEW: Final = range(1001, 1011)
MANY: Final = range(1001, 1301)


def scaled(run: Run, factor: float) -> Run:
    rates = run.rates_per_h * factor
    return replace(run, rates_per_h=rates, rate=mean_interval(rates))


def held(line: Line, hours: float, runs: int, seed: int) -> str | None:
    """The verdict of a run; None without an interval."""
    plan = plan_of(line)
    run = run_plan(line, plan, hours, runs, seed, workers=1)
    findings = check_bounds(line, plan, run)
    assert len(findings) == (0 if run.rate is None else 1)
    return findings[0].verdict if findings else None


@pytest.fixture(scope="module")
def saturated() -> tuple[Line, Run]:
    line = bound_line("demo-heavy", ("time: {mean: 1.5 s, cv: 10 %}", "time: {mean: 3 s, cv: 5 %}", "time: 1 s"), 8)
    return line, run_of(line, hours=4.0, runs=6)


def test_the_finding_carries_its_figures(saturated: tuple[Line, Run]) -> None:
    line, run = saturated
    plan = plan_of(line)
    (finding,) = check_bounds(line, plan, run)
    assert run.rate is not None
    assert (finding.code, finding.subject, finding.verdict, finding.remedy) == ("rate-bounds", "rate", "holds", "")
    assert (finding.value, finding.unit) == (run.rate.mean, "1/h")
    assert finding.limit == rate_bounds(plan).upper_per_h
    assert finding.margin == pytest.approx(1.0 - run.rate.mean / rate_bounds(plan).upper_per_h)
    assert finding.value > 0.99 * finding.limit  # saturated: what follows stands on that
    assert finding.place is not None


def test_a_run_that_is_two_per_cent_too_good_fails(saturated: tuple[Line, Run]) -> None:
    line, run = saturated
    (finding,) = check_bounds(line, plan_of(line), scaled(run, 1.02))
    assert finding.verdict == "fails"
    assert finding.margin is not None
    assert finding.margin < 0.0
    assert "contradicts a bound that always holds" in finding.remedy
    assert "do not use the rate" in finding.remedy


def test_a_run_that_makes_next_to_nothing_fails(saturated: tuple[Line, Run]) -> None:
    line, run = saturated
    worst = rate_bounds(plan_of(line)).worst_per_h
    assert run.rate is not None
    (finding,) = check_bounds(line, plan_of(line), scaled(run, 0.8 * worst / run.rate.mean))
    assert (finding.verdict, finding.limit) == ("fails", worst)
    assert "fewer than" in finding.remedy
    (finding,) = check_bounds(line, plan_of(line), scaled(run, 1.3 * worst / run.rate.mean))
    assert finding.verdict == "holds"


def test_scatter_that_may_be_luck_is_no_contradiction(saturated: tuple[Line, Run]) -> None:
    line, run = saturated
    few = replace(scaled(run, 1.02), rates_per_h=1.02 * run.rates_per_h[:2] + np.array([-2.0, 2.0]))
    assert check_bounds(line, plan_of(line), few)[0].verdict == "holds"


def test_no_interval_no_finding(saturated: tuple[Line, Run]) -> None:
    line, run = saturated
    assert check_bounds(line, plan_of(line), replace(run, rate=None, reason="there is one run")) == ()


def test_a_failure_hardly_seen_counts_nothing() -> None:
    """One repair of eight hours in 400 h of work: a run without it makes more than the long-term mean allows."""
    keys = ("time: 1.5 s", "time: 3 s, failures: [{every: 400 h, repair: 8 h}]", "time: 1 s")
    line = bound_line("demo-heavy", keys, 8)
    plan, run = plan_of(line), run_of(line, hours=1.0, runs=3)
    assert int(run.failures["seen"][0]) == 0
    assert run.rate is not None
    assert run.rate.mean > 1.01 * rate_bounds(plan).upper_per_h
    assert check_bounds(line, plan, run)[0].verdict == "holds"
    often = Table(
        tuple(Column(c.name, c.unit, np.array([10])) if c.name == "seen" else c for c in run.failures.columns)
    )
    assert check_bounds(line, plan, replace(run, failures=often))[0].verdict == "fails"


@pytest.mark.parametrize("pattern", ["two-deck", "two-lane"])
def test_the_starting_patterns_stay_within_their_bounds(pattern: str) -> None:
    assert held(read_line(pattern_text(pattern), pattern), hours=2.0, runs=4, seed=5) == "holds"


def test_random_lines_stay_within_their_bounds() -> None:
    verdicts = [held(random_line(number).read(), hours=1.0, runs=4, seed=number) for number in FEW]
    assert set(verdicts) <= {"holds", None}
    assert verdicts.count("holds") >= 8


@pytest.mark.long
def test_many_random_lines_stay_within_their_bounds() -> None:
    verdicts = {number: held(random_line(number).read(), hours=4.0, runs=6, seed=number) for number in MANY}
    assert [number for number, verdict in verdicts.items() if verdict == "fails"] == []
    assert sum(verdict == "holds" for verdict in verdicts.values()) >= 0.9 * len(MANY)
