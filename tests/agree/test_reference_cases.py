"""The reference model reproduces every agreed case to the microsecond, and its station states fill the time."""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import pytest

from agree.reference_model import run_json_case

DATA = Path(__file__).parent / "data"
AGREED = sorted(DATA.glob("case*.json.gz"))
BY_HAND = sorted(DATA.glob("hand-*.json"))


def read_case(path: Path) -> dict[str, Any]:
    """The case and its expected logs."""
    raw = path.read_bytes()
    record: dict[str, Any] = json.loads(gzip.decompress(raw) if path.suffix == ".gz" else raw)
    return record


def test_all_cases_are_here() -> None:
    assert len(AGREED) == 20
    assert len(BY_HAND) >= 2


@pytest.mark.parametrize("path", AGREED + BY_HAND, ids=lambda path: path.name.split(".")[0])
def test_reference_model_reproduces(path: Path) -> None:
    record = read_case(path)
    result = run_json_case(record["case"])
    for log in ("moves", "works", "good"):
        assert result.logs()[log] == record["expected"][log], log
    for station, times in result.states.items():
        assert sum(times.values()) == record["case"]["horizon_us"], station
