"""Side pull against data/curves.json: worked examples of published physics texts."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from linewright.motion import pull_m_s2, side_pull_m_s2

DATA = Path(__file__).parent / "data" / "curves.json"
RECORDS: list[dict[str, Any]] = json.loads(DATA.read_text("utf-8"))


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: str(record["id"]))
def test_the_printed_value(record: dict[str, Any]) -> None:
    printed = record["pull_m_s2"]
    digits = len(printed.partition(".")[2])
    found = pull_m_s2(record["along_m_s2"], record["speed_m_s"], record["radius_m"])
    assert round(found, digits) == float(printed)
    assert record["source"]
    assert record["access"]
    if record["along_m_s2"] == 0.0:
        assert found == side_pull_m_s2(record["speed_m_s"], record["radius_m"])
