"""Closed networks with several classes against printed examples, Markov chains, and the recursion of mean values."""

from __future__ import annotations

import itertools
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from numpy.typing import NDArray

from linewright.flow import bounds
from reference.exact_lines import Ways, stationary

Floats = NDArray[np.float64]

DATA: Final = Path(__file__).parent / "data" / "classes.json"
RECORDS: Final[dict[str, dict[str, Any]]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}


def solved(name: str) -> tuple[bounds.ClassNetwork, dict[str, Any], float]:
    record = RECORDS[name]
    assert record["source"]
    assert record["access"]
    given = record["inputs"]
    found = bounds.class_network(
        given["service"], given["populations"], given.get("visits"), given.get("servers"), given.get("think")
    )
    return found, record["expected"], record["tol"]


def check(value: Floats, expected: object, tol: float) -> None:
    np.testing.assert_allclose(value, np.asarray(expected, float), rtol=0.0, atol=tol)


@pytest.mark.parametrize("name", sorted(RECORDS))
def test_printed_examples(name: str) -> None:
    found, expected, tol = solved(name)
    check(found.rate_per_s, expected["rate"], tol)
    for key, values in {"queue": found.queue, "response": found.response_s, "utilisation": found.utilisation}.items():
        if key in expected:
            check(values, expected[key], tol)


def test_the_fractions_of_the_first_example() -> None:
    found, expected, _ = solved("lazowska_142")
    exact = RECORDS["lazowska_142"]["exact_tol"]
    check(found.queue, expected["queue"], exact)
    check(found.rate_per_s, expected["rate"], exact)
    visits = np.asarray(RECORDS["lazowska_142"]["inputs"]["visits"], float)
    check(found.response_s * visits, expected["residence"], exact * 100)


def test_thinking_and_both_classes_together() -> None:
    found, expected, tol = solved("schwetman_table_3")
    check(found.queue.sum(axis=0), expected["queue_both"], tol)
    check(found.rate_per_s * [1.0, 15.0], expected["thinking"], tol)


# ---- second witnesses ------------------------------------------------------------------------------------------------


def recursion(demands: Floats, populations: Sequence[int], think: Floats) -> tuple[Floats, Floats]:
    """Exact mean value analysis of single servers by its recursion: rates and queues."""
    queues = {(0,) * len(populations): np.zeros(demands.shape[1])}
    rates, each = np.zeros(len(populations)), np.zeros(demands.shape)
    for place in itertools.product(*(range(n + 1) for n in populations)):
        if sum(place) == 0:
            continue
        each = np.zeros(demands.shape)
        rates = np.zeros(len(populations))
        for c in range(len(populations)):
            if place[c]:
                less = queues[tuple(n - (k == c) for k, n in enumerate(place))]
                residence = demands[c] * (1.0 + less)
                rates[c] = place[c] / (think[c] + residence.sum())
                each[c] = rates[c] * residence
        queues[place] = each.sum(axis=0)
    return rates, each


@pytest.mark.parametrize("populations", [(3,), (4, 2), (2, 1, 3)])
def test_recursion(populations: tuple[int, ...]) -> None:
    luck = np.random.default_rng(len(populations))
    demands, think = luck.uniform(0.1, 2.0, (len(populations), 4)), luck.uniform(0.0, 5.0, len(populations))
    rates, queues = recursion(demands, populations, think)
    found = bounds.class_network(demands, populations, think_s=think.tolist())
    np.testing.assert_allclose(found.rate_per_s, rates, rtol=1e-11)
    np.testing.assert_allclose(found.queue, queues, rtol=1e-10)
    np.testing.assert_allclose(found.round_s + think, np.asarray(populations) / rates, rtol=1e-11)


def test_markov_chain_of_shared_service() -> None:
    """Two stations, two servers at the first, classes of different speed share the service equally."""
    service, populations, many = [[1.0, 3.0], [2.5, 0.5]], (2, 2), (2, 1)

    def ways(state: tuple[int, ...]) -> Ways:
        found: Ways = []
        for station in range(2):
            there = [state[c] if station == 0 else populations[c] - state[c] for c in range(2)]
            for c in range(2):
                if there[c]:
                    rate = min(sum(there), many[station]) * there[c] / sum(there) / service[c][station]
                    step = -1 if station == 0 else 1
                    found.append((rate, tuple(n + step * (k == c) for k, n in enumerate(state))))
        return found

    law = stationary(populations, ways)
    queue = [sum(share * state[c] for state, share in law.items()) for c in range(2)]  # type: ignore[index]
    found = bounds.class_network(service, populations, servers=many)
    np.testing.assert_allclose(found.queue[:, 0], queue, rtol=1e-10)
    np.testing.assert_allclose(found.queue.sum(axis=1), populations, rtol=1e-12)


def test_markov_chain_of_service_in_order() -> None:
    """Two stations in order of arrival whose service does not depend on the class, the classes' routes do."""
    service, populations, skips = (1.0, 2.0, 0.7), (2, 1), {0: (0, 1, 2), 1: (0, 2)}

    def ways(state: tuple[tuple[int, ...], ...]) -> Ways:
        found: Ways = []
        for station, queue in enumerate(state):
            if queue:
                route = skips[queue[0]]
                after = route[(route.index(station) + 1) % len(route)]
                lines = [list(q) for q in state]
                lines[after].append(lines[station].pop(0))
                found.append((1.0 / service[station], tuple(tuple(q) for q in lines)))
        return found

    law = stationary(((0, 0, 1), (), ()), ways)
    busy = sum(p for state, p in law.items() if state[0] and state[0][0] == 1)  # type: ignore[index]
    visits = [[1.0, 1.0, 1.0], [1.0, 0.0, 1.0]]
    found = bounds.class_network([service, service], populations, visits)
    assert found.rate_per_s[1] == pytest.approx(busy / service[0], rel=1e-10)
    assert found.utilisation[1, 0] == pytest.approx(busy, rel=1e-10)
    assert found.queue[1, 1] == 0.0
    assert found.response_s[1, 1] == 0.0


def test_one_class_is_the_network_of_one_class() -> None:
    given: dict[str, Any] = {"visits": [1.0, 2.0, 0.5], "servers": [1, 2, 6], "think_s": 4.0}
    one = bounds.mean_value_analysis([1.0, 3.0, 2.0], 6, **given)
    rows = bounds.class_network([[1.0, 3.0, 2.0]], [6], [given["visits"]], given["servers"], [4.0])
    assert rows.rate_per_s[0] == pytest.approx(one.rate_per_s, rel=1e-12)
    np.testing.assert_allclose(rows.queue[0], one.queue, rtol=1e-11)
    np.testing.assert_allclose(rows.response_s[0], one.response_s, rtol=1e-11)
    np.testing.assert_allclose(rows.utilisation[0], one.utilisation, rtol=1e-12)
    assert rows.round_s[0] == pytest.approx(one.round_s, rel=1e-12)
    # Two classes that are the same are one.
    split = bounds.class_network([[1.0, 3.0, 2.0]] * 2, [4, 2], [given["visits"]] * 2, given["servers"], [4.0] * 2)
    assert split.rate_per_s.sum() == pytest.approx(one.rate_per_s, rel=1e-12)
    assert (split.rate_per_s[0] / split.rate_per_s[1]) == pytest.approx(2.0, rel=1e-12)


def test_a_class_without_carriers_and_other_scales() -> None:
    rows = bounds.class_network([[1e-6, 3e-6], [5.0, 7.0]], [5, 0])
    alone = bounds.mean_value_analysis([1e-6, 3e-6], 5)
    assert rows.rate_per_s.tolist() == [pytest.approx(alone.rate_per_s, rel=1e-12), 0.0]
    assert (rows.round_s[1], rows.queue[1].tolist()) == (0.0, [0.0, 0.0])


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([[1.0]], [0]), "one carrier"),
        (([1.0], [1]), "one row of services"),
        (([[1.0]], [1], [[1.0, 2.0]]), "visits stand"),
        (([[1.0]], [1], None, [0]), "at least 1"),
        (([[-1.0]], [1]), "not under 0"),
        (([[0.0], [1.0]], [1, 1]), "some time"),
    ],
)
def test_what_is_no_network_is_refused(arguments: tuple[Any, ...], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        bounds.class_network(*arguments)
