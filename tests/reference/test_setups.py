"""Setups: effective process time by an example and by enumeration, batches by worked examples, mixes by counting."""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from linewright.flow import bounds

DATA: Final = Path(__file__).parent / "data" / "setups.json"
RECORDS: Final[dict[str, dict[str, Any]]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}
CHANGES: Final = [[0.0, 30.0, 10.0], [20.0, 0.0, 5.0], [12.0, 40.0, 0.0]]


def test_a_fast_machine_with_setups() -> None:
    record = RECORDS["two_machines_with_setups"]
    given, expected = record["inputs"], record["expected"]
    found = bounds.setup_time(
        given["process_h"], given["squared_cv"], given["parts"], given["setup_h"], math.sqrt(given["setup_squared_cv"])
    )
    assert found.mean_s == pytest.approx(expected["mean_h"], abs=1e-12)
    assert found.squared_cv == pytest.approx(expected["squared_cv"], abs=record["tol"])
    assert found.rate_per_s == pytest.approx(expected["rate_per_h"], abs=record["tol"])


@pytest.mark.parametrize("parts", [1.0, 2.5, 10.0])
def test_enumeration(parts: float) -> None:
    """Two values of the process time, two of the setup, and whether it comes: all cases with their chances."""
    process, setup = (3.0, 7.0), (1.0, 9.0)
    cases = [
        (0.25 * chance, work + before)
        for work, before in itertools.product(process, setup)
        for chance, before in ((1.0 / parts, before), (1.0 - 1.0 / parts, 0.0))
    ]
    mean = sum(p * time for p, time in cases)
    variance = sum(p * (time - mean) ** 2 for p, time in cases)
    found = bounds.setup_time(5.0, (2.0 / 5.0) ** 2, parts, 5.0, 4.0 / 5.0)
    assert found.mean_s == pytest.approx(mean, rel=1e-12)
    assert found.variance_s2 == pytest.approx(variance, rel=1e-12)
    assert found.squared_cv == pytest.approx(variance / mean**2, rel=1e-12)


def test_setups_after_a_fixed_number_vary_a_part_alike() -> None:
    """One part in four has the setup: the variance over a cycle is the formula's."""
    times = np.array([2.0 + 6.0, 2.0, 2.0, 2.0])
    found = bounds.setup_time(2.0, 0.0, 4.0, 6.0)
    assert (found.mean_s, found.variance_s2) == (pytest.approx(times.mean()), pytest.approx(times.var()))


def test_printed_batches() -> None:
    record = RECORDS["cutting_of_shirts"]
    given = record["inputs"]
    rates = [bounds.batch_rate(b, given["setup_min"], given["process_min"]) for b in given["batches"]]
    assert rates == pytest.approx(record["expected"]["per_min"], abs=record["tol"])
    record = RECORDS["stamping_of_boxes"]
    given, expected = record["inputs"], record["expected"]
    times = (given["setup_min"], given["process_min"])
    assert bounds.batch_rate(given["batch"], *times) == pytest.approx(expected["per_min"], abs=record["tol"])
    assert bounds.least_batch(given["rate_per_min"], *times) == pytest.approx(
        expected["least_batch"], rel=record["tol"]
    )


def test_a_batch_for_a_rate_attains_it() -> None:
    for rate in (0.01, 0.2, 0.249):
        assert bounds.batch_rate(bounds.least_batch(rate, 30.0, 4.0), 30.0, 4.0) == pytest.approx(rate, rel=1e-12)
    assert bounds.least_batch(0.25, 30.0, 4.0) == math.inf
    # The setup spread over the batch is the effective time's mean.
    assert bounds.batch_rate(8, 30.0, 4.0) == pytest.approx(
        bounds.setup_time(4.0, 0.0, 8.0, 30.0).rate_per_s, rel=1e-12
    )


def test_changes_of_a_mix_counted() -> None:
    shares = [0.5, 0.3, 0.2]
    tenths = [0] * 5 + [1] * 3 + [2] * 2
    counted = sum(CHANGES[i][j] for i, j in itertools.product(tenths, tenths)) / 100
    assert bounds.random_changeover(shares, CHANGES) == pytest.approx(counted, rel=1e-12)
    sequence = [0, 0, 2, 1]
    assert bounds.sequence_changeover(sequence, CHANGES) == pytest.approx((10.0 + 40.0 + 20.0) / 4, rel=1e-12)
    assert bounds.sequence_changeover([1], CHANGES) == 0.0


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (bounds.setup_time, (0.0, 1.0, 2.0, 1.0)),
        (bounds.setup_time, (1.0, 1.0, 0.5, 1.0)),
        (bounds.batch_rate, (0, 1.0, 1.0)),
        (bounds.least_batch, (0.0, 1.0, 1.0)),
        (bounds.random_changeover, ([0.5, 0.4], [[0.0, 1.0], [1.0, 0.0]])),
        (bounds.random_changeover, ([1.0], [[1.0]])),
        (bounds.sequence_changeover, ([2], [[0.0, 1.0], [1.0, 0.0]])),
        (bounds.sequence_changeover, ([], [[0.0]])),
    ],
)
def test_what_is_out_of_range_is_refused(function: Any, arguments: tuple[Any, ...]) -> None:
    with pytest.raises(ValueError, match=r"under 0|above 0|variants|square"):
        function(*arguments)
