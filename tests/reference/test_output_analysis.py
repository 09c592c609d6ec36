"""MSER-5 cuts and Student quantiles against data/output_analysis.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from linewright.flow.statistics import mean_interval, mser5

DATA = Path(__file__).parent / "data"
RECORDS: dict[str, dict[str, Any]] = {
    r["id"]: r for r in json.loads((DATA / "output_analysis.json").read_text("utf-8"))
}


@pytest.mark.parametrize("name", ["mser5_A", "mser5_B", "mser5_C"])
def test_mser5(name: str) -> None:
    record = RECORDS[name]
    series = np.loadtxt(DATA / record["inputs"]["csv"])
    expected, tol = record["expected"], record["tol"]
    assert len(series) == record["inputs"]["n"]
    found = mser5(series, batch=record["inputs"]["batch"])
    assert found.cut == expected["truncate_obs"]
    assert found.cut == expected["d_batches"] * found.batch
    assert found.statistic == pytest.approx(expected["mser_at_d"], abs=tol)
    assert found.statistic_uncut == pytest.approx(expected["mser_at_0"], rel=tol)
    assert found.mean_after == pytest.approx(expected["mean_after"], rel=tol)
    assert found.at_end is not expected["reliable"]


def test_student_quantiles() -> None:
    record = RECORDS["t_quantiles"]
    for confidence, key in ((0.95, "t975"), (0.90, "t95")):
        for df, quantile in zip(record["inputs"]["df"], record["expected"][key], strict=True):
            values = np.zeros(df + 1)
            values[0] = 1.0  # any values: the half-width is quantile times the standard error
            standard_error = values.std(ddof=1) / np.sqrt(len(values))
            assert mean_interval(values, confidence).half_width / standard_error == pytest.approx(
                quantile, rel=record["tol"]
            )
