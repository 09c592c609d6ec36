"""Takt and demand against published examples, each at its printed precision."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from linewright.line.demand import find_takt, parts_per_year, planned_time_s, takt_of, takt_s
from linewright.line.model import Demand

UNITS_S = {"s": 1.0, "min": 60.0, "h": 3600.0}
RECORDS: dict[str, Any] = {
    record["id"]: record
    for record in json.loads((Path(__file__).parent / "data" / "kpi.json").read_text(encoding="utf-8"))
}


def test_two_shifts_less_breaks() -> None:
    """A textbook example (its source stands in the record): 480 min less 40 and 30, two shifts, 80 parts a day."""
    record = RECORDS["takt_stevenson"]
    given, expected = record["inputs"], record["expected"]
    net_min = given["shift_min"] - given["rest_min"] - given["lunch_min"]
    assert net_min == expected["net_per_shift"]
    day = Demand(
        good_parts_per_year=given["demand"],
        shifts_per_day=given["shifts"],
        paid_time_per_shift_s=net_min * 60.0,
        days_per_year=1,
    )
    assert planned_time_s(day) / 60.0 == pytest.approx(expected["net_day"], rel=record["tol"])
    assert takt_s(day) / 60.0 == pytest.approx(expected["takt_min"], rel=record["tol"])


@pytest.mark.parametrize("index", range(3))
def test_available_time_over_demand(index: int) -> None:
    record = RECORDS["takt_more"]
    case = record["inputs"]["cases"][index]
    key = next(name for name in case if name.startswith("avail_"))
    value, unit = record["expected"]["takt"][index].split()
    takt = takt_of(case[key] * UNITS_S[key.removeprefix("avail_")], case["demand"]) / UNITS_S[unit]
    assert takt == pytest.approx(float(value), abs=record["tol"])


def test_two_seconds_in_three_shifts_are_ten_million_parts() -> None:
    """Common practice, no source: 2 s takt, three shifts, five days a week: about 10.3 million parts a year."""
    parts = parts_per_year(2.0, planned_time_s=3 * 7.33 * 3600.0 * 260)
    assert parts / 1e6 == pytest.approx(10.29, abs=0.005)
    assert parts / 1e6 == pytest.approx(10.3, abs=0.05)


def test_the_gap_to_the_clock_is_shown() -> None:
    """Common practice, no source: three shifts of 7.33 h are 91.6 % of the 6,240 clock hours of 260 days."""
    demand = Demand(
        good_parts_per_year=10_290_000, shifts_per_day=3, paid_time_per_shift_s=7.33 * 3600.0, days_per_year=260
    )
    result = find_takt(demand)
    assert result.planned_time_s / 3600.0 / result.clock_share == pytest.approx(6240.0)
    assert result.clock_share * 100.0 == pytest.approx(91.6, abs=0.05)
    assert result.takt_s == pytest.approx(2.0, abs=0.001)


def test_losses_shrink_the_takt_and_the_inverse_undoes_it() -> None:
    demand = Demand(
        good_parts_per_year=5_500_000,
        shifts_per_day=3,
        paid_time_per_shift_s=7.6 * 3600.0,
        days_per_year=242,
        losses_not_modelled=0.04,
    )
    result = find_takt(demand)
    assert result.usable_time_s == pytest.approx(0.96 * result.planned_time_s)
    assert result.required_rate_per_h * result.takt_s == pytest.approx(3600.0)
    assert parts_per_year(result.takt_s, result.planned_time_s, 0.04) == pytest.approx(5_500_000)


@pytest.mark.parametrize("time, parts", [(0.0, 1), (-1.0, 1), (float("nan"), 1), (1.0, 0)])
def test_takt_of_nothing_is_refused(time: float, parts: float) -> None:
    with pytest.raises(ValueError, match="must be positive"):
        takt_of(time, parts)


@pytest.mark.parametrize("takt, time, losses", [(0.0, 1.0, 0.0), (1.0, 0.0, 0.0), (1.0, 1.0, 1.0), (1.0, 1.0, -0.1)])
def test_parts_of_nothing_are_refused(takt: float, time: float, losses: float) -> None:
    with pytest.raises(ValueError, match="takt and time must be positive"):
        parts_per_year(takt, time, losses)
