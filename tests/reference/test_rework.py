"""Rework: visits by a printed formula, by enumeration of all fates of a part, and by a chain of three stages."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from linewright.flow import bounds

DATA: Final = Path(__file__).parent / "data" / "rework.json"
RECORDS: Final[dict[str, dict[str, Any]]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}


def test_without_a_limit() -> None:
    record = RECORDS["endless_sendings"]
    for chance in record["inputs"]["chance"]:
        found = bounds.rework_visits(chance)
        series = [k * chance ** (k - 1) * (1.0 - chance) for k in range(1, 3000)]
        assert found.visits == pytest.approx(1.0 / (1.0 - chance), rel=record["tol"])
        assert found.visits == pytest.approx(math.fsum(series), rel=1e-12)
        square = math.fsum(k * share for k, share in enumerate(series, 1))
        assert found.variance == pytest.approx(square - found.visits**2, rel=1e-9, abs=1e-12)
        assert (found.scrapped_share, found.visits_per_good) == (0.0, found.visits)


@pytest.mark.parametrize("chance", [0.0, 0.05, 0.3, 1.0])
@pytest.mark.parametrize("at_most", [0, 1, 2, 5])
def test_all_fates_of_a_part(chance: float, at_most: int) -> None:
    """Good at visit k, or failed at all m + 1."""
    fates = [(chance ** (k - 1) * (1.0 - chance), k, True) for k in range(1, at_most + 2)]
    fates.append((chance ** (at_most + 1), at_most + 1, False))
    assert math.fsum(p for p, _, _ in fates) == pytest.approx(1.0)
    mean = math.fsum(p * k for p, k, _ in fates)
    found = bounds.rework_visits(chance, at_most)
    assert found.visits == pytest.approx(mean, rel=1e-12)
    assert found.variance == pytest.approx(math.fsum(p * (k - mean) ** 2 for p, k, _ in fates), rel=1e-9, abs=1e-12)
    assert found.reworks == pytest.approx(mean - 1.0, abs=1e-12)
    assert found.scrapped_share == pytest.approx(1.0 - math.fsum(p for p, _, good in fates if good), abs=1e-12)
    if chance < 1.0:
        assert found.visits_per_good == pytest.approx(1.0 / (1.0 - chance), rel=1e-12)
    else:
        assert found.visits_per_good == math.inf


def test_three_stages_with_scrap() -> None:
    """Scrap beside rework: of those not scrapped outright again / (again + onward) fail; the chain solved at once."""
    record = RECORDS["three_stages"]
    given, expected = record["inputs"], record["expected"]
    chain = np.zeros((3, 3))
    for k, (again, onward) in enumerate(zip(given["again"], given["onward"], strict=True)):
        chain[k, k] = again
        if k < 2:
            chain[k, k + 1] = onward
    fundamental = np.linalg.inv(np.eye(3) - chain)
    reached, visits = 1.0, []
    for again, onward in zip(given["again"], given["onward"], strict=True):
        at_one = bounds.rework_visits(again)
        visits.append(reached * at_one.visits)
        reached *= onward * at_one.visits
    np.testing.assert_allclose(visits, fundamental[0], rtol=1e-12)
    np.testing.assert_allclose(visits, expected["visits"], atol=record["tol"])
    assert reached == pytest.approx(expected["sold"], abs=record["tol"])
    assert reached == pytest.approx(float(fundamental[0, 2]) * given["onward"][2], rel=1e-12)
    assert math.prod(given["onward"]) == pytest.approx(expected["without_rework"])


def test_time_and_capacity_by_enumeration() -> None:
    """Each visit lasts 6 or 14 s with equal chance; two reworks at most."""
    chance, at_most = 0.3, 2
    cases: list[tuple[float, float, bool]] = []

    def go(p: float, time: float, visit: int) -> None:
        for work in (6.0, 14.0):
            cases.append((0.5 * p * (1.0 - chance), time + work, True))
            if visit <= at_most:
                go(0.5 * p * chance, time + work, visit + 1)
            else:
                cases.append((0.5 * p * chance, time + work, False))

    go(1.0, 0.0, 1)
    mean = math.fsum(p * time for p, time, _ in cases)
    variance = math.fsum(p * (time - mean) ** 2 for p, time, _ in cases)
    good = math.fsum(p for p, _, is_good in cases if is_good)
    found = bounds.rework_time(10.0, 0.16, chance, at_most)
    assert found.mean_s == pytest.approx(mean, rel=1e-12)
    assert found.squared_cv == pytest.approx(variance / mean**2, rel=1e-12)
    assert found.good_per_s == pytest.approx(good / mean, rel=1e-12)
    assert found.good_per_s == pytest.approx((1.0 - chance) / 10.0, rel=1e-12)


@pytest.mark.parametrize("wrong", [(-0.1, 1), (1.1, 1), (0.5, -1), (1.0, None)])
def test_what_is_no_rework_is_refused(wrong: tuple[float, int | None]) -> None:
    with pytest.raises(ValueError, match="chance"):
        bounds.rework_visits(*wrong)


def test_a_time_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="process time"):
        bounds.rework_time(0.0, 0.0, 0.1, 1)
