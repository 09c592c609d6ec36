"""What stations of one step in line gain at best."""

from __future__ import annotations

import numpy as np
import pytest

from linewright.flow.line_bounds import least_gap_us, mean_us
from linewright.flow.parallel import POINTS, parallel_steps, quantiles_us
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.line.patterns import pattern_text
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import LOADED, TrafficPlan

MEAN_S = 4.2


def plan_with(time: str, stations: int = 2) -> TrafficPlan:
    """The two-deck pattern with this time at its two leak testers, or with three of them, or one."""
    text = pattern_text("two-deck").replace("time: {mean: 4.2 s, cv: 4 %}", f"time: {time}")
    names = [f"leak-{i + 1}" for i in range(stations)]
    text = text.replace("[leak-1, leak-2]", f"[{', '.join(names)}]")
    rows = [row for row in text.splitlines() if stations > 1 or "leak-2:" not in row]
    if stations == 3:
        place = next(i for i, row in enumerate(rows) if "leak-2:" in row)
        rows.insert(place + 1, "  leak-3: {lane: upper, at: 3200 mm, like: leak-1}")
    line = read_line("\n".join(rows))
    return compile_plan(line, lay_out(line))


def gap_s(plan: TrafficPlan) -> float:
    return least_gap_us(plan, plan.station_names.index("leak-1"), LOADED, plan.carriers) / 1e6


def test_without_a_shared_step_there_is_nothing_to_say() -> None:
    assert parallel_steps(plan_with(f"{MEAN_S} s", stations=1)) == ()


@pytest.mark.parametrize("stations", [2, 3])
def test_fixed_times_share_work_and_exchange_fully(stations: int) -> None:
    plan = plan_with(f"{MEAN_S} s", stations)
    (step,) = parallel_steps(plan)
    assert (step.step, step.stations) == ("/".join(f"leak-{i + 1}" for i in range(stations)), stations)
    assert step.alone_s == pytest.approx(MEAN_S + gap_s(plan), abs=1e-9)
    assert step.shared_s == pytest.approx(step.alone_s / stations, abs=1e-9)
    assert step.times == pytest.approx(stations)


@pytest.mark.parametrize("stations", [2, 3])
def test_of_exponential_times_the_group_waits_for_the_largest(stations: int) -> None:
    """The mean of the largest of m exponential times is the mean times 1 + 1/2 + ... + 1/m (textbook)."""
    plan = plan_with(f"{{law: exponential, mean: {MEAN_S} s}}", stations)
    (step,) = parallel_steps(plan)
    largest_s = MEAN_S * sum(1.0 / i for i in range(1, stations + 1))
    assert step.alone_s == pytest.approx(MEAN_S + gap_s(plan), rel=1e-4)
    assert stations * step.shared_s == pytest.approx(largest_s + gap_s(plan), rel=2e-4)
    assert step.times < stations - 0.4


@pytest.mark.parametrize(
    "time",
    [
        "4.2 s",
        "{law: exponential, mean: 4.2 s}",
        "{mean: 4.2 s, cv: 60 %}",
        "{law: gamma, mean: 4.2 s, cv: 60 %}",
        "{law: triangular, least: 1 s, likely: 2 s, most: 9 s}",
        "{law: empirical, times: [1 s, 2 s, 9.5 s]}",
    ],
)
def test_the_quantiles_have_the_mean_of_the_law_and_rise(time: str) -> None:
    plan = plan_with(time)
    law = plan.work[plan.station_names.index("leak-1")]
    times_us = quantiles_us(law, (np.arange(POINTS) + 0.5) / POINTS)
    assert times_us.mean() == pytest.approx(mean_us(law), rel=3e-4)
    assert (np.diff(times_us) >= 0.0).all()


def test_the_more_the_times_vary_the_less_a_second_station_gains() -> None:
    times = [parallel_steps(plan_with(f"{{mean: {MEAN_S} s, cv: {cv} %}}"))[0].times for cv in (1, 10, 50)]
    assert 2.0 > times[0] > times[1] > times[2] > 1.0


def test_the_same_plan_gives_the_same_figures() -> None:
    plan = plan_with("{law: gamma, mean: 4.2 s, cv: 40 %}")
    assert parallel_steps(plan) == parallel_steps(plan)
