"""Greasing and wear against data/upkeep.json, at the precision printed there."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from linewright.checks import upkeep

DATA = Path(__file__).parent / "data" / "upkeep.json"
RECORDS: dict[str, dict[str, Any]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}
TOLERANCE = 1e-9

WEAR = ["mttfd_b10d_1", "mttfd_b10d_2"]
HELD = {*WEAR, "relube_days_given", "relube_rule_hours"}
# Records that no formula here uses, and why.
UNUSED = {
    "relube_rule_memory": "a custom for ball guides by travel; the program takes the interval that the sheet states",
    "mttfd_dc_bands": "bands of performance levels, which the program never states",
}
# Figures of held records that no formula here uses, and why.
UNUSED_FIGURES = {
    "MTTFd_years": "mean time to a dangerous failure belongs to performance levels, which the program never states",
    "normal_h": "hours between greasings by custom; the program takes the interval that the sheet states",
    "high_load_or_speed_h": "as normal_h",
    "harsh_h": "as normal_h",
}


def given(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    return RECORDS[name]["inputs"], RECORDS[name]["expected"]


def test_every_record_is_held_or_listed() -> None:
    assert HELD.isdisjoint(UNUSED)
    assert HELD | set(UNUSED) == set(RECORDS)
    figures = {key for name in HELD for key in RECORDS[name]["expected"]}
    assert figures - set(UNUSED_FIGURES) == {"km_per_day", "days", "idle_months", "n_op", "T10d_years"}
    assert set(UNUSED_FIGURES) <= figures


@pytest.mark.parametrize("name", WEAR)
def test_operations_and_the_life_of_what_wears_with_them(name: str) -> None:
    inputs, expected = given(name)
    per_year = upkeep.operations_per_year(inputs["days"], inputs["hours"], inputs["t_cycle_s"])
    assert per_year == pytest.approx(expected["n_op"], rel=TOLERANCE)
    assert upkeep.wear_life_years(inputs["B10d"], per_year) == pytest.approx(expected["T10d_years"], rel=TOLERANCE)


def test_days_between_greasings_of_a_stroke() -> None:
    inputs, expected = given("relube_days_given")
    per_day_m = upkeep.travel_per_day_m(inputs["stroke_m"], inputs["cycles_per_min"], inputs["hours_per_day"])
    assert per_day_m / 1e3 == pytest.approx(expected["km_per_day"], rel=TOLERANCE)
    # On every day of a year, so that the travel comes before any calendar.
    found = upkeep.relubrication_interval(per_day_m * 365.25, inputs["interval_km"] * 1e3, interval_months=6.0)
    assert found.reason == "travel"
    assert found.weeks * 7.0 == pytest.approx(expected["days"], rel=TOLERANCE)


def test_the_custom_of_six_months() -> None:
    assert given("relube_rule_hours")[1]["idle_months"] == upkeep.COMMON_MONTHS
