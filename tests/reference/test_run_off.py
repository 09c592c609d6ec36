"""Plans of a run-off against published tables, against sums written out here, and against chance itself."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.planning.run_off import (
    availability_plan,
    failure_plan,
    failure_test_time,
    index_pass_line,
    index_plan,
    rate_hours,
    rate_plan,
    sampling_plan,
    spread_plan,
    success_run,
    tolerance_factor,
)

RECORDS: dict[str, dict[str, Any]] = {
    record["id"]: record for record in json.loads((Path(__file__).parent / "data" / "run_off.json").read_text("utf-8"))
}
KINDS = {
    "success_run", "sampling_plan", "failure_test_time", "failure_plan", "tolerance_factor", "spread", "f", "oc",
}  # fmt: skip


def of(kind: str) -> list[dict[str, Any]]:
    return [record for record in RECORDS.values() if record["kind"] == kind]


def binomial(most: int, trials: int, bad: float) -> float:
    """P(X <= most), term by term."""
    terms = [math.comb(trials, i) * bad**i * (1.0 - bad) ** (trials - i) for i in range(most + 1)]
    return math.fsum(terms)


def poisson(most: int, mean: float) -> float:
    """P(N <= most), term by term."""
    return math.fsum(math.exp(-mean) * mean**i / math.factorial(i) for i in range(most + 1))


def test_every_record_is_of_a_kind_that_is_held() -> None:
    assert {record["kind"] for record in RECORDS.values()} == KINDS
    assert all(record["source"] for record in RECORDS.values())


def test_success_runs() -> None:
    for record in of("success_run"):
        for confidence, reliability, trials in record["rows"]:
            assert success_run(reliability, confidence) == trials, (record["id"], confidence, reliability)


@pytest.mark.parametrize("allowed", [0, 1, 2, 5, 11])
@pytest.mark.parametrize(("share", "confidence"), [(0.9, 0.9), (0.95, 0.8), (0.7, 0.99)])
def test_trials_are_the_fewest_by_the_sum(share: float, confidence: float, allowed: int) -> None:
    trials = success_run(share, confidence, allowed)
    assert binomial(allowed, trials, 1.0 - share) <= 1.0 - confidence
    assert trials - 1 <= allowed or binomial(allowed, trials - 1, 1.0 - share) > 1.0 - confidence


def test_published_sampling_plans() -> None:
    for record in of("sampling_plan"):
        given, expected = record["inputs"], record["expected"]
        plan = sampling_plan(given["planned"], given["limit"], given["builder_risk"], 1.0 - given["customer_risk"])
        assert plan is not None
        assert (plan.trials, plan.allowed) == (expected["trials"], expected["allowed"])
        for name in ("refused_if_planned", "passed_at_limit"):
            if name in expected:
                assert getattr(plan, name) == pytest.approx(expected[name], abs=6e-8 if name[0] == "p" else 6e-9)


def test_the_sum_of_the_handbook() -> None:
    """Holds the sum that the plans are held to."""
    for record in of("oc"):
        for bad, accepted in record["rows"]:
            assert binomial(record["allowed"], record["trials"], bad) == pytest.approx(accepted, abs=1.01e-3)


@pytest.mark.parametrize(("planned", "limit"), [(0.02, 0.05), (0.05, 0.2), (0.1, 0.2), (0.001, 0.03)])
def test_no_smaller_sampling_plan_exists(planned: float, limit: float) -> None:
    plan = sampling_plan(planned, limit, 0.05, 0.9)
    assert plan is not None
    assert plan.refused_if_planned == pytest.approx(1.0 - binomial(plan.allowed, plan.trials, planned), abs=1e-12)
    assert plan.passed_at_limit == pytest.approx(binomial(plan.allowed, plan.trials, limit), abs=1e-12)
    assert plan.refused_if_planned <= 0.05
    assert plan.passed_at_limit <= 0.1
    for trials in range(1, plan.trials):
        # The most that may be allowed and still refuses the limit; a plan with fewer refuses still more.
        allowed = -1
        while binomial(allowed + 1, trials, limit) <= 0.1:
            allowed += 1
        assert allowed < 0 or 1.0 - binomial(allowed, trials, planned) > 0.05, trials


def test_factors_of_the_test_length() -> None:
    for record in of("failure_test_time"):
        for allowed, factors in enumerate(record["rows"]):
            for confidence, factor in zip(record["confidences"], factors, strict=True):
                printed = 5e-4 if factor < 1.0 else 5e-3
                assert failure_test_time(1.0, confidence, allowed) == pytest.approx(factor, abs=1.2 * printed)


def test_fixed_length_plans() -> None:
    for record in of("failure_plan"):
        for name, ratio, length, allowed, producer, consumer in record["rows"]:
            assert 100.0 * poisson(allowed, length) == pytest.approx(consumer, abs=0.35), name
            assert 100.0 * (1.0 - poisson(allowed, length / ratio)) == pytest.approx(producer, abs=0.35), name
            assert failure_test_time(1.0, 1.0 - consumer / 100.0, allowed) == pytest.approx(length, rel=0.006), name


@pytest.mark.parametrize(("ratio", "step"), [(1.5, 0.0), (2.0, 0.0), (3.0, 0.5), (5.0, 2.0)])
def test_failure_plans_keep_both_chances(ratio: float, step: float) -> None:
    plan = failure_plan(ratio, 1.0, 0.05, 0.9, step)
    assert plan is not None
    assert plan.refused_if_planned == pytest.approx(1.0 - poisson(plan.allowed, plan.time_s / ratio), abs=1e-12)
    assert plan.passed_at_limit == pytest.approx(poisson(plan.allowed, plan.time_s), abs=1e-12)
    assert plan.refused_if_planned <= 0.05
    assert plan.passed_at_limit <= 0.1 + 1e-12
    assert step == 0.0 or plan.time_s / step == pytest.approx(round(plan.time_s / step), abs=1e-9)
    fewer = failure_test_time(1.0, 0.9, plan.allowed - 1)
    fewer = math.ceil(fewer / step) * step if step else fewer
    assert 1.0 - poisson(plan.allowed - 1, fewer / ratio) > 0.05


def test_tolerance_factors() -> None:
    for record in of("tolerance_factor"):
        for covered, confidence, readings, factor, printed in record["rows"]:
            assert tolerance_factor(covered, confidence, readings) == pytest.approx(factor, abs=printed)


def test_spread_against_the_tables() -> None:
    for record in of("spread"):
        for freedom, confidence, quantile in record["rows"]:
            plan = spread_plan(0.01, 0.05, confidence, freedom)
            assert plan is not None
            assert plan.freedom == freedom
            assert freedom * plan.most_of_limit**2 == pytest.approx(quantile, abs=6e-4)


def test_availability_against_the_tables() -> None:
    """The pass line is the limit over a quantile; a plan of n failures is none where n - 1 would do."""
    table = {(freedom, share): value for record in of("f") for freedom, share, value in record["rows"]}
    for failures in (5, 10, 15, 30):
        most = table[2 * failures, 0.95] * table[2 * failures, 0.90]
        # Down over up time: planned 0.01, to be refused a little more than the table's product of quantiles.
        worse = 0.01 * most * 1.02
        plan = availability_plan(1.0 / 1.01, 1.0 / (1.0 + worse), 0.05, 0.9)
        assert plan is not None
        assert failures - 2 <= plan.failures <= failures
        ratio = (1.0 - plan.least_availability) / plan.least_availability
        if plan.failures == failures:
            assert worse / ratio == pytest.approx(table[2 * failures, 0.90], abs=6e-3)


def test_availability_in_ten_thousand_tests() -> None:
    plan = availability_plan(0.95, 0.88, 0.05, 0.9)
    assert plan is not None
    luck = np.random.default_rng(3)
    for true, told in ((0.95, 1.0 - plan.refused_if_planned), (0.88, plan.passed_at_limit)):
        up = luck.exponential(true, (10_000, plan.failures)).sum(axis=1)
        down = luck.exponential(1.0 - true, (10_000, plan.failures)).sum(axis=1)
        passed = float((up / (up + down) >= plan.least_availability).mean())
        assert passed == pytest.approx(told, abs=0.012)


def test_index_in_ten_thousand_tests() -> None:
    """The mean lies off the middle, as the one-sided distribution wants it."""
    plan = index_plan(1.8, 1.33, 0.05, 0.9)
    assert plan is not None
    assert plan.least_index == pytest.approx(index_pass_line(1.33, 0.9, plan.readings))
    luck = np.random.default_rng(5)
    for true, told in ((1.8, 1.0 - plan.refused_if_planned), (1.33, plan.passed_at_limit)):
        values = luck.normal(0.4, (1.0 - 0.4) / (3.0 * true), (10_000, plan.readings))
        measured = (1.0 - np.abs(values.mean(axis=1))) / (3.0 * values.std(axis=1, ddof=1))
        assert float((measured >= plan.least_index).mean()) == pytest.approx(told, abs=0.01)


def test_rate_in_ten_thousand_tests() -> None:
    """Pass line and length are found from twenty runs, again and again; then the line is counted for that long."""
    luck = np.random.default_rng(7)
    run_h, scatter = 8.0, 30.0
    refused = passed = 0
    for _ in range(2000):
        runs = luck.normal(1050.0, scatter, 20)
        plan = rate_plan(1000.0, runs, run_h, 12.0, 0.9)
        sigma = scatter * math.sqrt(run_h / 12.0)
        passed += int(luck.normal(1000.0, sigma) * 12.0 >= plan.least_good)
    assert passed / 2000 == pytest.approx(0.1, abs=0.02)
    runs = luck.normal(1050.0, scatter, 20)
    hours = rate_hours(1000.0, runs, run_h, 0.05, 0.9)
    assert hours is not None
    assert rate_plan(1000.0, runs, run_h, hours, 0.9).refused_if_planned <= 0.05
    assert hours == 1.0 or rate_plan(1000.0, runs, run_h, hours - 1.0, 0.9).refused_if_planned > 0.05
    # Of lines whose runs look like these, one in so many is refused: mean and count both scatter.
    plan = rate_plan(1000.0, runs, run_h, 12.0, 0.9)
    spread = float(runs.std(ddof=1))
    for _ in range(4000):
        chi = luck.chisquare(19) / 19.0
        true = luck.normal(float(runs.mean()), spread / math.sqrt(chi) / math.sqrt(20))
        refused += int(luck.normal(true, spread / math.sqrt(chi) * math.sqrt(run_h / 12.0)) * 12.0 < plan.least_good)
    assert refused / 4000 == pytest.approx(plan.refused_if_planned, abs=0.02)
