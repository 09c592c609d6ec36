"""Machine interference against printed queueing tables and Markov chains; the man-machine chart drawn by events."""

from __future__ import annotations

import itertools
import json
import math
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from linewright.flow import bounds
from reference.exact_lines import Ways, stationary

DATA: Final = Path(__file__).parent / "data" / "operators.json"
RECORDS: Final[dict[str, dict[str, Any]]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}

ROWS: Final = [
    pytest.param(*row, RECORDS[name]["tol"], id="-".join(str(value) for value in row[:3]))
    for name in ("peck_hazelwood", "peck_hazelwood_five")
    for row in RECORDS[name]["rows"]
]


def test_every_record_says_where_it_is_from() -> None:
    assert all(record["source"] and record["access"] for record in RECORDS.values())


# ---- by chance -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("machines", "operators", "factor", "waits", "efficiency", "tol"), ROWS)
def test_printed_tables(
    machines: int, operators: int, factor: float, waits: float, efficiency: float, tol: float
) -> None:
    found = bounds.machine_interference(machines, operators, run_s=1.0 - factor, service_s=factor)
    assert found.wait_chance == pytest.approx(waits, abs=tol)
    assert found.efficiency == pytest.approx(efficiency, abs=tol)


def test_twenty_machines() -> None:
    given, expected = RECORDS["twenty_machines"]["inputs"], RECORDS["twenty_machines"]["expected"]
    found = [
        bounds.machine_interference(
            given["machines"], c, given["run_h"] * 3600.0, given["service_h"] * 3600.0
        ).efficiency
        for c in given["operators"]
    ]
    assert found == pytest.approx(expected["F"], abs=RECORDS["twenty_machines"]["tol"])


def test_five_printers_and_six_machines() -> None:
    given, expected = RECORDS["five_printers"]["inputs"], RECORDS["five_printers"]["expected"]
    one, two = (bounds.machine_interference(given["machines"], c, given["run_h"], given["service_h"]) for c in (1, 2))
    assert one.running == pytest.approx(expected["running_and_one_operator"], abs=RECORDS["five_printers"]["tol"])
    assert two.running == pytest.approx(expected["running_and_two_operators"], abs=RECORDS["five_printers"]["tol"])
    given, expected = RECORDS["six_machines"]["inputs"], RECORDS["six_machines"]["expected"]
    found = bounds.machine_interference(given["machines"], given["operators"], given["run_h"], given["service_h"])
    values = (found.down_chances[0], found.waiting, found.down, found.wait_s, found.wait_s + given["service_h"])
    assert values == pytest.approx(list(expected.values()), abs=RECORDS["six_machines"]["tol"])


@pytest.mark.parametrize(
    ("machines", "operators", "run_s", "service_s"),
    [(3, 1, 7.0, 2.0), (5, 2, 3.0, 4.0), (4, 4, 5.0, 1.0), (2, 9, 1.0, 3.0)],
)
def test_markov_chain(machines: int, operators: int, run_s: float, service_s: float) -> None:
    """Every machine a state of its own (running, waiting or served), first come, first served; solved as a whole."""

    def ways(state: tuple[tuple[int, ...], ...]) -> Ways:
        served, queue = state
        up = [m for m in range(machines) if m not in served and m not in queue]
        found: Ways = []
        for m in up:
            free = len(served) < operators
            found.append((1.0 / run_s, (tuple(sorted((*served, m))), queue) if free else (served, (*queue, m))))
        for m in served:
            left = tuple(x for x in served if x != m)
            target = (tuple(sorted((*left, queue[0]))), queue[1:]) if queue else (left, queue)
            found.append((1.0 / service_s, target))
        return found

    law = stationary(((), ()), ways)
    busy = sum(share * len(served) for (served, _), share in law.items())  # type: ignore[misc]
    waiting = sum(share * len(queue) for (_, queue), share in law.items())  # type: ignore[misc]
    found = bounds.machine_interference(machines, operators, run_s, service_s)
    assert found.rate_per_s == pytest.approx(busy / service_s, rel=1e-10)
    assert found.waiting == pytest.approx(waiting, abs=1e-10)
    assert found.operator_utilisation == pytest.approx(busy / operators, rel=1e-10)
    assert found.running + found.down == pytest.approx(machines, rel=1e-12)
    assert found.wait_s * found.rate_per_s == pytest.approx(found.waiting, abs=1e-12)


def test_it_is_a_closed_network_with_one_station() -> None:
    """Running is thinking; the operators are the servers."""
    for machines, operators in itertools.product((1, 4, 30), (1, 3)):
        found = bounds.machine_interference(machines, operators, 9.0, 2.0)
        other = bounds.mean_value_analysis([2.0], machines, servers=[operators], think_s=9.0)
        assert found.rate_per_s == pytest.approx(other.rate_per_s, rel=1e-10)
        assert found.down == pytest.approx(float(other.queue[0]), rel=1e-10)


def test_with_an_operator_for_each_machine_nobody_waits() -> None:
    found = bounds.machine_interference(7, 7, 3.0, 1.0)
    assert (found.waiting, found.wait_chance) == (0.0, 0.0)
    assert found.rate_per_s == pytest.approx(7 / 4.0, rel=1e-12)
    many = bounds.machine_interference(3000, 10, 1000.0, 10.0)
    assert many.rate_per_s == pytest.approx(1.0, rel=1e-3)
    assert float(many.down_chances.sum()) == pytest.approx(1.0, rel=1e-12)


def chain_rate(machines: int, run_s: float, service_s: float) -> float:
    """Services per time from the chain of how many are down when a service ends, every service the same time."""
    stop = 1.0 - math.exp(-service_s / run_s)
    step = np.zeros((machines, machines))
    for down in range(machines):
        # With nobody down the operator waits for the first to stop, and serves that.
        up = machines - max(down, 1)
        for more in range(up + 1):
            chance = math.comb(up, more) * stop**more * (1.0 - stop) ** (up - more)
            step[down, max(down, 1) - 1 + more] += chance
    system = step.T - np.eye(machines)
    system[0] = 1.0
    law = np.linalg.solve(system, np.eye(machines)[0])
    return 1.0 / (service_s + float(law[0]) * run_s / machines)


@pytest.mark.parametrize(("machines", "factor"), [(1, 0.3), (2, 0.5), (4, 0.25), (9, 0.11), (15, 0.2)])
def test_fixed_services_by_a_chain(machines: int, factor: float) -> None:
    found = bounds.fixed_interference(machines, 1.0, factor)
    assert found.rate_per_s == pytest.approx(chain_rate(machines, 1.0, factor), rel=1e-10)
    assert found.running + found.waiting + found.operator_utilisation == pytest.approx(machines, rel=1e-12)
    # Regular services disturb less than irregular ones.
    irregular = bounds.machine_interference(machines, 1, 1.0, factor)
    assert found.rate_per_s >= irregular.rate_per_s * (1.0 - 1e-12)
    assert found.rate_per_s <= min(1.0 / factor, machines / (1.0 + factor))


def test_many_machines_keep_one_operator_busy() -> None:
    assert bounds.fixed_interference(2000, 100.0, 1.0).rate_per_s == pytest.approx(1.0, rel=1e-12)
    with pytest.raises(ValueError, match="at least 1"):
        bounds.fixed_interference(0, 1.0, 1.0)


@pytest.mark.parametrize("wrong", [(0, 1, 1.0, 1.0), (1, 0, 1.0, 1.0), (1, 1, 0.0, 1.0), (1, 1, 1.0, float("inf"))])
def test_what_is_no_group_is_refused(wrong: tuple[int, int, float, float]) -> None:
    with pytest.raises(ValueError, match="at least 1"):
        bounds.machine_interference(*wrong)


# ---- in step ---------------------------------------------------------------------------------------------------------


def charted_cycle(attend: list[Fraction], run: list[Fraction], walk: list[Fraction], rounds: int = 400) -> Fraction:
    """The chart drawn: the operator goes round, each machine waits for him or he for it."""
    ready = [Fraction(0)] * len(attend)
    now, begins = Fraction(0), []
    for _ in range(rounds):
        for i, time in enumerate(attend):
            now = max(now, ready[i]) + time
            ready[i] = now + run[i]
            if i == 0:
                begins.append(now)
            now += walk[i]
    half = rounds // 2
    return (begins[-1] - begins[-1 - half]) / half


@pytest.mark.parametrize("machines", [1, 2, 3, 5])
def test_the_chart_drawn_event_by_event(machines: int) -> None:
    luck = np.random.default_rng(20 + machines)
    for _ in range(20):
        attend, run, walk = ([Fraction(int(x)) for x in luck.integers(0, 60, machines)] for _ in range(3))
        run[0] *= 3
        attend[0] += 1
        found = bounds.operator_round([float(x) for x in attend], [float(x) for x in run], [float(x) for x in walk])
        assert found.cycle_s == float(charted_cycle(attend, run, walk))


def test_two_machines_and_one_operator() -> None:
    """He serves the other while one runs: who is slower, he or a machine, sets the cycle."""
    assert bounds.operator_round([1.2, 1.2], [2.6, 3.0], [0.1, 0.1]).cycle_s == pytest.approx(4.2)  # the second machine
    assert bounds.operator_round([2.4, 1.8], [2.0, 2.0], [0.3, 0.3]).cycle_s == pytest.approx(4.8)  # the operator
    found = bounds.operator_round([1.2, 1.2], [2.6, 3.0], [0.1, 0.1])
    assert found.machine_idle_s == pytest.approx((0.4, 0.0))
    assert found.operator_utilisation == pytest.approx(2.6 / 4.2)


def test_printed_numbers_of_machines() -> None:
    given, expected = RECORDS["machines_per_operator"]["inputs"], RECORDS["machines_per_operator"]["expected"]
    ratio = bounds.machines_per_operator(given["attend_min"], given["run_min"], given["walk_min"])
    assert ratio == pytest.approx(expected["ratio"], abs=RECORDS["machines_per_operator"]["tol"])
    given, expected = RECORDS["grinders"]["inputs"], RECORDS["grinders"]["expected"]
    times = (given["attend_s"], given["run_s"], given["walk_s"])
    ratio = bounds.machines_per_operator(*times)
    assert (int(ratio), int(ratio) + 1) == (expected["no_machine_idle"], expected["no_operator_idle"])
    four = bounds.operator_round(*([float(time)] * 4 for time in times))
    assert (1.0 - four.operator_utilisation) * four.cycle_s == pytest.approx(expected["operator_idle_s"])
    assert 4 * 3600.0 / four.cycle_s == pytest.approx(expected["parts_per_h"])
    five = bounds.operator_round(*([float(time)] * 5 for time in times))
    assert five.operator_utilisation == 1.0


def test_what_is_no_round_is_refused() -> None:
    with pytest.raises(ValueError, match="for every machine"):
        bounds.operator_round([1.0], [1.0, 2.0], [0.0])
    with pytest.raises(ValueError, match="not under 0"):
        bounds.operator_round([0.0], [0.0], [0.0])
    with pytest.raises(ValueError, match="operator's"):
        bounds.machines_per_operator(0.0, 1.0)
