"""The kernel's draws against the laws they claim: closed-form moments, scipy's distributions, data/time_laws.json."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from numba import njit
from numpy.typing import NDArray
from scipy import special, stats

from agree.agreed_cases import load_case, plan_of
from agree.test_reference_cases import AGREED
from linewright.flow.kernel.draws import (
    Laws,
    draw,
    duration,
    law_arrays,
    looked_up,
    luck_of,
    normal_quantile,
    stream_key,
    uniform,
)
from linewright.layout import lay_out
from linewright.line.load import read_line
from linewright.traffic.compile import compile_plan, law_of
from linewright.traffic.plan import (
    EMPIRICAL,
    EXPONENTIAL,
    FIXED,
    GAMMA,
    GEOMETRIC,
    LOGNORMAL,
    OF_CLOCK,
    OF_CYCLES,
    OF_RUNNING,
    TRIANGULAR,
    Law,
    TrafficPlan,
)

RECORDS: Final[dict[str, dict[str, Any]]] = {
    record["id"]: record
    for record in json.loads((Path(__file__).parent / "data" / "time_laws.json").read_text("utf-8"))
}

SEED: Final = 7
DRAWS: Final = 1_200_000
EQUIVALENT: Final = 0.005
NARROW: Final = 0.002
Z95: Final = 1.959963985
"""The normal quantile of a two-sided 95 % interval; with over a million draws Student's is the same."""

TRIANGLE_S: Final = (1.0, 1.2, 2.5)
LINE: Final = """\
linewright: 1
name: One station a law (invented)
conveyor: demo-light
lanes:
  out: {length: 2208 mm, from: west, to: east}
  back: {length: 2208 mm, from: east, to: west, level: -400 mm}
transfers:
  east: {kind: lift, takes: out, gives: back}
  west: {kind: lift, takes: back, gives: out}
carriers: 4
stations:
  fixed: {lane: out, at: 300 mm, time: 1.4 s, rejects: 30 %}
  triangular: {lane: out, at: 600 mm, time: {law: triangular, least: 1 s, likely: 1.2 s, most: 2.5 s}}
  lognormal: {lane: out, at: 900 mm, time: {mean: 2.6 s, cv: 15 %}}
  pair-1: {lane: out, at: 1200 mm, time: {law: exponential, mean: 3 s}}
  pair-2: {lane: out, at: 1500 mm, like: pair-1}
  gamma: {lane: out, at: 1800 mm, time: {law: gamma, mean: 2.6 s, cv: 60 %}}
  failing: {lane: back, at: 1800 mm, time: 1 s, failures: [{every: 40 s, repair: 5 s}, {every: 40 s, repair: 5 s}]}
  jamming:
    lane: back
    at: 300 mm
    time: {law: empirical, times: [1.9 s, 1.2 s, 1.4 s, 1.2 s]}
    failures:
      - {one_in: 800 cycles, repair: {law: gamma, mean: 20 s, cv: 50 %}}
      - {every: 8 h, of: clock, repair: {mean: 10 min, cv: 40 %}}
      - {every: {law: gamma, mean: 2 h, cv: 50 %}, repair: {law: empirical, times: [1 min, 3 min]}}
      - {every: {law: fixed, mean: 1 h}, of: clock, repair: 5 s}
  ten: {lane: back, at: 1500 mm, time: {mean: 10 s, cv: 50 %}}
  sixty: {lane: back, at: 1200 mm, time: {mean: 60 s, cv: 10 %}}
  three: {lane: back, at: 900 mm, time: {mean: 3 s, cv: 150 %}}
  scrap: {lane: back, at: 600 mm, time: 1 s, reject_exit: true}
route: [fixed, triangular, lognormal, [pair-1, pair-2], gamma, failing, ten, sixty, three, scrap, jamming]
"""


@pytest.fixture(scope="module", name="plan")
def plan_fixture() -> TrafficPlan:
    line = read_line(LINE, "laws")
    return compile_plan(line, lay_out(line))


@pytest.fixture(scope="module", name="exponential")
def exponential_fixture() -> TrafficPlan:
    """An agreed case with parallel stations, all works exponential with a mean of 3 s."""
    plan = plan_of(load_case(AGREED[1])["case"])
    assert max(len(stations) for stations in plan.step_stations) > 1
    return replace(plan, work=(Law(EXPONENTIAL, 3e6),) * len(plan.work))


@njit
def times_us(laws: Laws, law: int, count: int) -> NDArray[np.float64]:
    times = np.empty(count)
    for number in range(count):
        times[number] = draw(laws, law, number)
    return times


@njit
def uniforms(key: int, count: int) -> NDArray[np.float64]:
    values = np.empty(count)
    for number in range(count):
        values[number] = uniform(key, number, 0)
    return values


def drawn_s(plan: TrafficPlan, station: str, count: int = DRAWS) -> NDArray[np.float64]:
    """Work times of the parts 0, 1, ... at a station. [s]"""
    work = luck_of(plan, SEED, 0).work
    times: NDArray[np.float64] = times_us(work, plan.station_names.index(station), count) * 1e-6
    return times


def check_mean(values: NDArray[np.float64], expected: float) -> None:
    """The mean of the values is the expected one, as an equivalence test."""
    half = Z95 * float(values.std(ddof=1)) / math.sqrt(len(values)) / expected
    assert half <= NARROW
    assert abs(float(values.mean()) / expected - 1.0) + half <= EQUIVALENT


def check_law(times_s: NDArray[np.float64], law: Any) -> None:
    """Mean and spread are the law's, and so is the distribution function everywhere.

    Notes    Kolmogorov's distance and its 95 % bound √(ln(2/0.05)/(2n)).
    Source   Dvoretzky, Kiefer, Wolfowitz (1956) with the constant of Massart (1990), from memory.
    """
    check_mean(times_s, float(law.mean()))
    # The fourth moment makes the half-width of a spread large; the distance below is the sharper test.
    assert float(times_s.std(ddof=1)) == pytest.approx(float(law.std()), rel=0.01)
    below = law.cdf(np.sort(times_s))
    steps = np.arange(len(times_s) + 1) / len(times_s)
    distance = float(max(np.abs(below - steps[1:]).max(), np.abs(below - steps[:-1]).max()))
    assert distance + math.sqrt(math.log(2 / 0.05) / (2 * len(times_s))) <= EQUIVALENT


def test_fixed_times_are_themselves(plan: TrafficPlan) -> None:
    assert set(drawn_s(plan, "fixed", 100).round(9).tolist()) == {1.4}


def test_triangular_law(plan: TrafficPlan) -> None:
    least, likely, most = TRIANGLE_S
    times = drawn_s(plan, "triangular")
    check_law(times, stats.triang((likely - least) / (most - least), least, most - least))
    assert least < times.min() < times.max() <= most + 1e-6
    check_mean(times, (least + likely + most) / 3)


def test_triangular_law_that_leans_to_one_side() -> None:
    assert duration(TRIANGULAR, 1e6, 1e6, 2e6, 0.19) == math.ceil(2e6 - math.sqrt(0.81) * 1e6)
    assert duration(TRIANGULAR, 1e6, 2e6, 2e6, 0.25) == 1_500_000


def test_exponential_law(plan: TrafficPlan) -> None:
    check_law(drawn_s(plan, "pair-1"), stats.expon(0, 3.0))


@pytest.mark.parametrize("station, mean_s, cv", [("lognormal", 2.6, 0.15), ("ten", 10.0, 0.5), ("sixty", 60.0, 0.1)])
def test_lognormal_law(plan: TrafficPlan, station: str, mean_s: float, cv: float) -> None:
    sigma = math.sqrt(math.log1p(cv**2))
    times = drawn_s(plan, station)
    check_law(times, stats.lognorm(sigma, 0.0, mean_s / math.sqrt(1 + cv**2)))
    check_mean(times, mean_s)
    assert float(times.std(ddof=1) / times.mean()) == pytest.approx(cv, rel=0.01)


def test_lognormal_parameters_of_mean_and_cv() -> None:
    line = read_line(LINE, "laws")
    record = RECORDS["lognormal_mean_cv"]
    assert record["inputs"]["cases"] == [[10, 0.5], [60, 0.1], [3, 1.5]]
    for name, (mu, sigma) in zip(("ten", "sixty", "three"), record["expected"]["mu_sigma"], strict=True):
        law = law_of(line.station(name).time)
        assert law.a - math.log(1e6) == pytest.approx(mu, abs=5.1e-10)  # ten digits are printed
        assert law.b == pytest.approx(sigma, abs=5.1e-10)


def test_gamma_law(plan: TrafficPlan) -> None:
    times = drawn_s(plan, "gamma")
    check_law(times, stats.gamma(1 / 0.6**2, 0.0, 2.6 * 0.6**2))
    check_mean(times, 2.6)
    assert float(times.std(ddof=1) / times.mean()) == pytest.approx(0.6, rel=0.01)


@pytest.mark.parametrize(
    "name, law, given_u",
    [
        ("exponential(mean 2)", Law(EXPONENTIAL, 2e6), lambda p: 1 - p),  # falls with its uniform
        ("exponential(mean 2)", Law(GAMMA, 1.0, 2e6), lambda p: p),
        ("erlang2(mean 2)", Law(GAMMA, 2.0, 1e6), lambda p: p),
        ("gamma(k=.5,scale 4)", Law(GAMMA, 0.5, 4e6), lambda p: p),
        ("triangular(1,2,5)", Law(TRIANGULAR, 1e6, 2e6, 5e6), lambda p: p),
    ],
)
def test_quantiles_and_moments_of_the_record(name: str, law: Law, given_u: Callable[[float], float]) -> None:
    """Quantiles to the microsecond; mean and spread of a million draws."""
    expected = RECORDS["variate_moments"]["expected"][name]
    laws = law_arrays([law], [stream_key(SEED, 0, name, 1)])
    for p, key in ((0.1, "p10"), (0.5, "p50"), (0.9, "p90")):
        u = given_u(p)
        if law.kind == GAMMA:
            time_us = looked_up(GAMMA, law.a, law.b, laws.given, laws.table, 0, laws.length[0], u)
        else:
            time_us = duration(law.kind, law.a, law.b, law.c, u)
        assert time_us == pytest.approx(expected[key] * 1e6, abs=1.0 + 1e-3)
    times_s = times_us(laws, 0, DRAWS) * 1e-6
    assert float(times_s.mean()) == pytest.approx(expected["mean"], rel=EQUIVALENT)
    assert float(times_s.std()) == pytest.approx(expected["sd"], rel=0.01)


def test_empirical_law(plan: TrafficPlan) -> None:
    times = drawn_s(plan, "jamming")
    found, counts = np.unique(times.round(6), return_counts=True)
    assert found.tolist() == [1.2, 1.4, 1.9]
    chi_square = stats.chisquare(counts, len(times) * np.array([0.5, 0.25, 0.25])).statistic
    assert stats.chi2.ppf(1e-4, 2) < chi_square < stats.chi2.ppf(1 - 1e-4, 2)
    check_mean(times, (1.9 + 1.2 + 1.4 + 1.2) / 4)


def test_works_between_jams(plan: TrafficPlan) -> None:
    jam = next(i for i, failure in enumerate(plan.failures) if failure.of == OF_CYCLES)
    assert plan.failures[jam].every == Law(GEOMETRIC, 800.0)
    works = times_us(luck_of(plan, SEED, 0).running, jam, DRAWS)
    assert (works.min(), works.max() == works.max().round()) == (1, True)
    check_mean(works, 800.0)
    assert float(works.std(ddof=1)) == pytest.approx(math.sqrt(800.0 * 799.0), rel=0.01)
    counts = np.histogram(works, [0.5, 100.5, 400.5, 800.5, 1600.5, 3200.5, math.inf])[0]
    tail = (1 - 1 / 800) ** np.array([0, 100, 400, 800, 1600, 3200, math.inf])
    chi_square = stats.chisquare(counts, DRAWS * -np.diff(tail)).statistic
    assert stats.chi2.ppf(1e-4, 5) < chi_square < stats.chi2.ppf(1 - 1e-4, 5)


def test_failures_of_the_plan(plan: TrafficPlan) -> None:
    station = plan.station_names.index("jamming")
    jam, clock, wear, fixed = (failure for failure in plan.failures if failure.station == station)
    assert [kind.of for kind in (jam, clock, wear, fixed)] == [OF_CYCLES, OF_CLOCK, OF_RUNNING, OF_CLOCK]
    assert (jam.repair.kind, jam.repair.a, jam.repair.b) == (GAMMA, 4.0, 5e6)
    assert clock.every == Law(EXPONENTIAL, 8 * 3.6e9)
    assert clock.repair.kind == LOGNORMAL
    assert (wear.every.kind, wear.every.a, wear.every.b) == (GAMMA, 4.0, 1.8e9)
    assert wear.repair == Law(EMPIRICAL, given_us=(60_000_000, 180_000_000))
    assert (fixed.every, fixed.repair) == (Law(FIXED, 3.6e9), Law(FIXED, 5e6))
    assert {failure.of for failure in plan.failures if failure.station != station} == {OF_RUNNING}


def test_every_draw_is_rounded_up_to_a_microsecond(exponential: TrafficPlan) -> None:
    luck = luck_of(exponential, SEED, 0)
    for serial in range(200):
        exact_us = -math.log(uniform(luck.work.key[0], serial, 0)) * 3e6
        assert 0 <= luck.work_us(0, serial) - exact_us < 1


def test_normal_quantile() -> None:
    tails = np.logspace(-300, -1, 600)
    middle = np.linspace(0.001, 0.999, 3001)
    near_half = 0.5 + np.concatenate([np.logspace(-12, -1, 50), -np.logspace(-12, -1, 50)])
    near_one = 1.0 - np.logspace(-15, -1, 60)
    for p in np.concatenate([tails, middle, near_half, near_one]):
        assert normal_quantile(p) == pytest.approx(float(special.ndtri(p)), rel=1e-14, abs=1e-300)


def test_uniforms_are_uniform() -> None:
    values = uniforms(np.uint64(stream_key(SEED, 0, "any", 1)), DRAWS)
    assert 0.0 < values.min() < values.max() < 1.0
    check_mean(values, 0.5)
    chi_square, cells = _chi_square(values), 1000
    assert stats.chi2.ppf(1e-4, cells - 1) < chi_square < stats.chi2.ppf(1 - 1e-4, cells - 1)
    for lag in (1, 2, 3, 10):
        assert abs(np.corrcoef(values[:-lag], values[lag:])[0, 1]) < 4 / math.sqrt(DRAWS)


def _chi_square(values: NDArray[np.float64]) -> float:
    counts = np.histogram(values, 1000, (0.0, 1.0))[0]
    return float(((counts - len(values) / 1000) ** 2).sum() / (len(values) / 1000))


def test_streams_are_independent_of_each_other() -> None:
    """Streams that differ in one argument alone: next seed, next replication, another name or purpose."""
    arguments = [
        (SEED, 0, "any", 1),
        (SEED + 1, 0, "any", 1),
        (SEED, 1, "any", 1),
        (SEED, 0, "ana", 1),
        (SEED, 0, "any", 2),
    ]
    count = 100_000
    streams = np.array([uniforms(np.uint64(stream_key(*each)), count) for each in arguments])
    correlations = np.corrcoef(streams) - np.eye(len(arguments))
    assert np.abs(correlations).max() < 4.5 / math.sqrt(count)


def test_a_part_has_the_same_luck_at_parallel_stations_alone(exponential: TrafficPlan) -> None:
    luck = luck_of(exponential, SEED, 3)
    times = [[luck.work_us(station, serial) for serial in range(20)] for station in range(len(exponential.work))]
    for station, step in enumerate(exponential.station_step):
        for other, other_step in enumerate(exponential.station_step):
            assert (times[station] == times[other]) == (step == other_step)


def test_replications_have_their_own_luck(exponential: TrafficPlan) -> None:
    times = {luck_of(exponential, seed, replication).work_us(0, 0) for seed in range(3) for replication in range(10)}
    assert len(times) == 30


def test_flagged_share(plan: TrafficPlan) -> None:
    luck, station = luck_of(plan, SEED, 0), plan.station_names.index("fixed")
    count = 20_000
    flagged = sum(luck.flagged(station, serial) for serial in range(count))
    assert stats.binom.ppf(1e-4, count, 0.3) < flagged < stats.binom.ppf(1 - 1e-4, count, 0.3)
    clean = plan.station_names.index("lognormal")
    assert not any(luck.flagged(clean, serial) for serial in range(1000))


def test_two_failures_of_one_station_have_their_own_luck(plan: TrafficPlan) -> None:
    luck = luck_of(plan, SEED, 0)
    assert [failure.station for failure in plan.failures[:2]] == [plan.station_names.index("failing")] * 2
    first, second = ([luck.running_us(failure, number) for number in range(20)] for failure in (0, 1))
    assert len({*first, *second}) == 40
    assert {luck.repair_us(failure, number) for failure in (0, 1) for number in range(20)} == {5_000_000}
