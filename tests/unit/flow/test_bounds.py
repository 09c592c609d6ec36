"""Closed forms against each other, against plain enumeration, at their limits and outside their range."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from linewright.flow import bounds


def classic_recursion(demands: np.ndarray, carriers: int, think_s: float) -> float:
    """Mean value analysis as the books write it, single servers."""
    queue = np.zeros(len(demands))
    rate = 0.0
    for n in range(1, carriers + 1):
        response = demands * (1.0 + queue)
        rate = n / (think_s + response.sum())
        queue = rate * response
    return rate


def enumerated(
    demands: Sequence[float], carriers: int, servers: Sequence[int], think_s: float
) -> tuple[float, list[float]]:
    """Rate and mean numbers from the product form, state by state."""

    def total(number: int) -> tuple[float, np.ndarray]:
        weight_sum, weighted = 0.0, np.zeros(len(demands))
        for state in itertools.product(range(number + 1), repeat=len(demands)):
            if (away := number - sum(state)) < 0:
                continue
            weight = think_s**away / math.factorial(away)
            for n, demand, m in zip(state, demands, servers, strict=True):
                weight *= math.prod(demand / min(i, m) for i in range(1, n + 1))
            weight_sum += weight
            weighted += weight * np.array(state)
        return weight_sum, weighted

    whole, weighted = total(carriers)
    return total(carriers - 1)[0] / whole, (weighted / whole).tolist()


# ---- closed networks -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stations", "carriers", "think_s"), [(3, 5, 0.0), (12, 30, 7.0), (40, 60, 25.0), (40, 60, 1e4)]
)
def test_mean_values_are_those_of_the_classic_recursion(stations: int, carriers: int, think_s: float) -> None:
    demands = np.random.default_rng(stations).uniform(0.01, 3.0, stations)
    found = bounds.mean_value_analysis(demands, carriers, think_s=think_s)
    assert found.rate_per_s == pytest.approx(classic_recursion(demands, carriers, think_s), rel=1e-12)


def test_several_servers_against_enumeration() -> None:
    demands, servers, think_s = [1.3, 0.4, 2.0], [2, 1, 4], 0.7
    for carriers in (1, 2, 6):
        found = bounds.mean_value_analysis(demands, carriers, servers=servers, think_s=think_s)
        rate, queue = enumerated(demands, carriers, servers, think_s)
        assert found.rate_per_s == pytest.approx(rate, rel=1e-12)
        assert found.queue.tolist() == pytest.approx(queue, rel=1e-12)


def test_no_digits_are_lost_with_many_servers_stations_and_carriers() -> None:
    luck = np.random.default_rng(3)
    demands, servers = luck.uniform(0.01, 5.0, 40), luck.integers(1, 5, 40).tolist()
    found = bounds.mean_value_analysis(demands, 60, servers=servers, think_s=4.0)
    assert found.queue.sum() + 4.0 * found.rate_per_s == pytest.approx(60.0, rel=1e-12)  # everybody is somewhere
    assert (found.queue > 0.0).all()
    assert 0.0 < found.utilisation.max() < 1.0
    # With as many servers as carriers nobody waits.
    free = bounds.mean_value_analysis(demands, 60, servers=[60] * 40, think_s=4.0)
    assert free.rate_per_s == pytest.approx(60.0 / (demands.sum() + 4.0), rel=1e-12)
    assert free.response_s == pytest.approx(demands, rel=1e-12)


def test_visits_split_the_time_of_a_round() -> None:
    found = bounds.mean_value_analysis([0.5, 2.0, 1.0], 4, visits=[3.0, 0.5, 0.0])
    same = bounds.mean_value_analysis([1.5, 1.0], 4)
    assert found.rate_per_s == pytest.approx(same.rate_per_s, rel=1e-14)
    assert found.response_s @ np.array([3.0, 0.5, 0.0]) == pytest.approx(found.round_s, rel=1e-12)
    assert found.response_s[2] == 1.0
    assert found.queue[2] == 0.0


def test_bounds_hold_the_exact_rate_of_random_networks() -> None:
    luck = np.random.default_rng(11)
    for _ in range(200):
        demands = luck.uniform(0.0, 2.0, luck.integers(1, 9)) + 0.001
        carriers, think_s = int(luck.integers(1, 25)), float(luck.choice([0.0, 1.0, 20.0]))
        exact = bounds.mean_value_analysis(demands, carriers, think_s=think_s).rate_per_s
        wide = bounds.asymptotic_bounds(demands, carriers, think_s)
        close = bounds.balanced_job_bounds(demands, carriers, think_s)
        slack = 1.0 + 1e-12
        assert wide.low_per_s <= close.low_per_s * slack
        assert close.low_per_s <= exact * slack
        assert exact <= close.high_per_s * slack
        assert close.high_per_s <= wide.high_per_s * slack


def test_asymptotic_bound_counts_servers() -> None:
    assert bounds.asymptotic_bounds([4.0, 1.0], 100, servers=[8, 1]).high_per_s == 1.0
    assert bounds.asymptotic_bounds([4.0, 1.0], 100, servers=[2, 1]).high_per_s == 0.5


def test_blocking_changes_nothing_where_there_is_room() -> None:
    routing = [[0.0, 0.7, 0.3], [1.0, 0.0, 0.0], [1.0, 0.0, 0.0]]
    found = bounds.blocking_mva([1.0, 1.25, 2.5], routing, [50, 50, 50], 40)
    free = bounds.mean_value_analysis([1.0, 1.25, 2.5], 40, visits=[1.0, 0.7, 0.3])
    assert found.queue == pytest.approx(free.queue, rel=1e-9)
    ring = [[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]
    tight = bounds.blocking_mva([1.5, 2.0, 1.0], ring, [4, 5, 5], 12)
    assert (tight.queue <= np.array([4.0, 5.0, 5.0])).all()
    assert tight.rate_per_s[0] < bounds.mean_value_analysis([1.5, 2.0, 1.0], 12).rate_per_s
    with pytest.raises(ValueError, match="carriers within the room was found"):
        bounds.blocking_mva([1.0, 1.25, 2.5], routing, [15, 15, 15], 40)


def test_a_ring_flows_alike_with_carriers_and_holes_exchanged() -> None:
    assert bounds.unit_stop_ring(9, 2, 3.0) == bounds.unit_stop_ring(9, 7, 3.0)
    assert bounds.unit_stop_ring(9, 9, 3.0) == 0.0


# ---- laws of a line --------------------------------------------------------------------------------------------------


def test_the_three_cases_agree_with_one_job_and_stay_in_order() -> None:
    for jobs in (1, 2, 5, 40):
        best = bounds.best_case(0.5, 8.0, jobs)
        practical = bounds.practical_worst_case(0.5, 8.0, jobs)
        worst = bounds.worst_case(8.0, jobs)
        assert worst.rate_per_s <= practical.rate_per_s <= best.rate_per_s
        assert best.time_s <= practical.time_s <= worst.time_s
        for case in (best, practical, worst):
            assert case.rate_per_s * case.time_s == pytest.approx(jobs)
    assert bounds.best_case(0.5, 8.0, 1) == bounds.practical_worst_case(0.5, 8.0, 1) == bounds.worst_case(8.0, 1)


def test_short_outages_vary_a_process_less_than_long_ones_of_the_same_share() -> None:
    short, long = (bounds.interrupted_time(10.0, 0.2, 90.0 * k, 10.0 * k) for k in (1, 20))
    assert short.mean_s == long.mean_s == pytest.approx(10.0 / 0.9)
    assert 0.2 < short.squared_cv < long.squared_cv


# ---- open queues -----------------------------------------------------------------------------------------------------


def test_one_server_is_the_same_by_three_formulas() -> None:
    one = bounds.single_server_queue(0.7, 1.2, 1.0)
    many = bounds.many_server_queue(0.7, 1.2, 1)
    roomy = bounds.limited_queue(0.7, 1.2, 1, 400)
    net = bounds.open_network([0.7], [1.2])
    for name in ("waiting_s", "response_s", "jobs", "empty_chance", "utilisation"):
        assert getattr(many, name) == pytest.approx(getattr(one, name), rel=1e-12), name
        assert getattr(roomy, name) == pytest.approx(getattr(one, name), rel=1e-9), name
    assert net.response_s[0] == pytest.approx(one.response_s, rel=1e-12)


def test_many_servers_and_heavy_loads_do_not_overflow() -> None:
    assert 0.0 < bounds.erlang_c(5000, 4900.0) < 1.0
    full = bounds.limited_queue(1e6, 1.0, 2, 2000)
    assert full.through_per_s == pytest.approx(2.0)
    assert full.jobs == pytest.approx(2000.0)


def test_feedback_multiplies_the_flow() -> None:
    found = bounds.open_network([0.5], [1.0], [[0.25]])
    assert found.through_per_s[0] == pytest.approx(0.5 / 0.75)


# ---- serial lines ----------------------------------------------------------------------------------------------------


def test_a_line_turned_round_makes_as_much() -> None:
    there = bounds.exponential_line([1.0, 0.6, 1.4, 0.9], [1, 0, 2])
    back = bounds.exponential_line([0.9, 1.4, 0.6, 1.0], [2, 0, 1])
    assert there.rate_per_s == pytest.approx(back.rate_per_s, rel=1e-12)


def test_shares_of_a_line_add_up_and_every_station_makes_the_same() -> None:
    means = np.array([1.0, 0.6, 1.4])
    line = bounds.exponential_line(means.tolist(), [1, 2])
    assert line.busy + line.blocked + line.starved == pytest.approx(np.ones(3), rel=1e-12)
    assert line.busy / means == pytest.approx(np.full(3, line.rate_per_s), rel=1e-12)
    assert line.starved[0] == line.blocked[-1] == 0.0
    assert ((line.levels > 0.0) & (line.levels < np.array([3.0, 4.0]))).all()


@pytest.mark.parametrize(("first_s", "second_s"), [(1.0, 0.4), (0.4, 1.0), (1.0, 1.0 + 1e-9)])
def test_two_unlike_stations_by_formula_and_by_chain(first_s: float, second_s: float) -> None:
    for buffer in (0, 3, 8):
        chain = bounds.exponential_line([first_s, second_s], [buffer]).rate_per_s
        assert bounds.two_station_rate(first_s, second_s, buffer) == pytest.approx(chain, rel=1e-12)
    assert bounds.two_station_rate(first_s, second_s, 5000) == pytest.approx(1.0 / max(first_s, second_s), rel=1e-3)


def test_one_station_alone_always_works() -> None:
    line = bounds.exponential_line([4.0], [])
    assert (line.rate_per_s, line.states, line.levels.tolist()) == (0.25, 1, [])


def test_a_buffer_helps_from_no_buffer_to_endless() -> None:
    chances = ([0.02, 0.05], [0.2, 0.25])
    limits = bounds.unreliable_limits(*chances)
    rates = [bounds.two_machine_line(*chances, n).efficiency for n in (1, 2, 5, 20, 200)]
    assert rates == sorted(rates)
    assert rates[-1] == pytest.approx(limits.endless_buffers, rel=1e-6)
    assert limits.no_buffer_clock < limits.no_buffer_running < limits.endless_buffers


# ---- out of range ----------------------------------------------------------------------------------------------------

REFUSED: list[Callable[[], object]] = [
    lambda: bounds.asymptotic_bounds([1.0, -1.0], 2),
    lambda: bounds.asymptotic_bounds([0.0], 2),
    lambda: bounds.asymptotic_bounds([1.0], 0),
    lambda: bounds.balanced_job_bounds([1.0], 2, think_s=-1.0),
    lambda: bounds.balanced_job_bounds([math.nan], 2),
    lambda: bounds.mean_value_analysis([1.0, 2.0], 2, servers=[1]),
    lambda: bounds.mean_value_analysis([1.0, 2.0], 2, visits=[1.0]),
    lambda: bounds.mean_value_analysis([1e-3], 2000, think_s=2000.0),
    lambda: bounds.blocking_mva([1.0, 1.0], [[0.0, 1.0], [1.0, 0.0]], [2, 2], 4),
    lambda: bounds.blocking_mva([1.0, 1.0], [[0.0, 0.9], [1.0, 0.0]], [2, 2], 2),
    lambda: bounds.unit_stop_ring(4, 5, 1.0),
    lambda: bounds.line_character([], []),
    lambda: bounds.best_case(0.5, 1.0, 2),
    lambda: bounds.worst_case(0.0, 2),
    lambda: bounds.practical_worst_case(0.5, 8.0, 0),
    lambda: bounds.interrupted_time(0.0, 0.1, 1.0, 1.0),
    lambda: bounds.single_server_queue(1.0, 1.0, 1.0),
    lambda: bounds.single_server_queue(0.5, 1.0, -0.1),
    lambda: bounds.many_server_queue(2.0, 1.0, 2),
    lambda: bounds.erlang_c(2, 2.0),
    lambda: bounds.erlang_b(2, math.nan),
    lambda: bounds.limited_queue(1.0, 1.0, 3, 2),
    lambda: bounds.vut_wait(1.0, 1.0, 1.0, 1.0),
    lambda: bounds.open_network([1.0], [0.5], [[1.0]]),
    lambda: bounds.open_network([3.0], [0.5]),
    lambda: bounds.two_station_rate(1.0, 1.0, -1),
    lambda: bounds.exponential_line([1.0, 1.0], []),
    lambda: bounds.exponential_line([1.0] * 8, [3] * 7),
    lambda: bounds.two_machine_line([0.1, 0.0], [0.1, 0.1], 5),
    lambda: bounds.two_machine_line([0.1, 0.1], [0.1, 0.1], 1000),
    lambda: bounds.unreliable_limits([0.1], [0.0]),
]


@pytest.mark.parametrize("call", REFUSED)
def test_what_lies_outside_the_range_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        call()
