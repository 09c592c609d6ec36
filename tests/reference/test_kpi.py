"""Indicators of ISO 22400-2 against data/kpi.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.flow.kpi import availability, effectiveness, oee_index, quality_ratio

DATA = Path(__file__).parent / "data"
RECORDS: dict[str, dict[str, Any]] = {r["id"]: r for r in json.loads((DATA / "kpi.json").read_text("utf-8"))}


def test_formulas_as_read() -> None:
    expected = RECORDS["iso22400_formulas"]["expected"]
    names = {"APT": 7.0, "PBT": 11.0, "PRI": 0.25, "PQ": 23.0, "GQ": 19.0}

    def by_text(formula: str) -> float:
        return float(eval(formula, {"__builtins__": {}}, names))

    available = availability(names["APT"], names["PBT"])
    effective = effectiveness(names["PRI"], names["PQ"], names["APT"])
    quality = quality_ratio(names["GQ"], names["PQ"])
    assert available == pytest.approx(by_text(expected["availability"]))
    assert effective == pytest.approx(by_text(expected["effectiveness"]))
    assert quality == pytest.approx(by_text(expected["quality_ratio"]))
    product, short = expected["OEE_index"].split(" = ")
    assert product == "Availability*Effectiveness*Quality"
    assert oee_index(available, effective, quality) == pytest.approx(by_text(short))


def test_book_example() -> None:
    record = RECORDS["oee_tpm_book"]
    inputs, expected, tol = record["inputs"], record["expected"], record["tol"]
    uptime = inputs["planned_availability_min"] - inputs["downtime_min"]
    assert uptime == expected["uptime"]
    assert 100 * availability(uptime, inputs["planned_availability_min"]) == pytest.approx(
        expected["availability_pct"], abs=tol
    )
    performance = 100 * effectiveness(inputs["cycle_min"], inputs["completed"], uptime)
    assert performance == pytest.approx(expected["performance_pct_printed"], abs=tol)
    assert performance == pytest.approx(expected["performance_exact"], abs=1e-8)


def test_worksheet() -> None:
    record = RECORDS["oee_worksheet"]
    inputs, expected, tol = record["inputs"], record["expected"], record["tol"]
    a = availability(inputs["operating_min"], inputs["planned_production_min"])
    p = effectiveness(1.0 / inputs["ideal_rate_ppm"], inputs["total"], inputs["operating_min"])
    q = quality_ratio(inputs["total"] - inputs["reject"], inputs["total"])
    found = 100 * np.array([a, p, q, oee_index(a, p, q)])
    printed = [expected[key] for key in ("A_pct", "P_pct", "Q_pct", "OEE_pct")]
    assert found == pytest.approx(expected["exact"], abs=1e-4)
    assert found == pytest.approx(printed, abs=tol)


def test_availability_of_mean_times() -> None:
    record = RECORDS["availability_mttf_mttr"]
    for (running, repair), share in zip(record["inputs"]["cases"], record["expected"]["A"], strict=True):
        assert availability(running, running + repair) == pytest.approx(share, abs=record["tol"])


def test_nothing_made_is_not_a_number() -> None:
    found = availability([0.0, 5.0], [0.0, 10.0])
    assert np.isnan(found[0])
    assert found[1] == 0.5
    assert np.isnan(effectiveness(1.0, 0, 0.0))
    assert np.isnan(quality_ratio(0, 0))
    assert np.isnan(oee_index(0.5, 1.0, np.nan))


def test_negative_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        availability(-1.0, 2.0)
    with pytest.raises(ValueError, match="negative"):
        effectiveness(1.0, -2, 2.0)
    with pytest.raises(ValueError, match="more parts are good"):
        quality_ratio(3, 2)
