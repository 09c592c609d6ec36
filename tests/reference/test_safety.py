"""Safety distances, crush gaps, energies and headings against data/safety.json and data/crush_gaps.csv."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from linewright.checks.safety import (
    CRUSH_GAPS_M,
    HEADINGS,
    coarsest_scanner_m,
    crush_gap,
    interlocked_distance,
    kinetic_energy_J,
    light_curtain_distance,
    scanner_distance,
)

DATA = Path(__file__).parent / "data"
RECORDS: dict[str, dict[str, Any]] = {
    record["id"]: record for record in json.loads((DATA / "safety.json").read_text("utf-8"))
}
CURTAIN = [name for name in RECORDS if name.startswith("iso13855_") and "resolution_mm" in RECORDS[name]["inputs"]]
PARALLEL = [name for name in RECORDS if name.startswith("iso13855_parallel")]
IMPACT = ["impact_1", "impact_2"]
ASSERTED = {*CURTAIN, *PARALLEL, *IMPACT, "iso13855_interlock_1", "crush_gap_1", "iso12100_headings"}

_LEVELS = "the program states no performance level, category or failure rate of a safety function"
_FIELD = "the program reckons no field: the distance from magnets is the maker's statement only"
NOT_ASSERTED = {
    "stop_categories": "words of a standard; no formula",
    "plr_graph": _LEVELS,
    "pfh_ranges": _LEVELS,
    "mttfd_dc_bands": _LEVELS,
    "mttfd_b10d_1": _LEVELS,
    "mttfd_b10d_2": _LEVELS,
    "channel_1": _LEVELS,
    "symmetrise_given": _LEVELS,
    "magnetic_limits": _FIELD,
    "magnetic_limits_icnirp": _FIELD,
    "dipole_distance_1": _FIELD,
    "dipole_distance_2": _FIELD,
    "transient_speed_given": "the program reckons no force on a person: limits were not read",
    "noise_sum_1": "the program knows no noise",
    "noise_sum_2": "the program knows no noise",
}
# Of the impacts the energy is asserted; forces and the speeds for 4 J and 10 J are not.
FIELDS_NOT_ASSERTED = {
    "F_mean_N": "the program reckons no force on a person",
    "F_peak_linear_spring_N": "the program reckons no force on a person",
    "v_for_10J": "the energies of ISO 14120 are never a limit here",
    "v_for_4J": "the energies of ISO 14120 are never a limit here",
}
PARTS = {"hand_wrist_fist": "hand"}


def test_every_record_is_asserted_or_listed_with_a_reason() -> None:
    assert set(RECORDS) == ASSERTED | set(NOT_ASSERTED)
    assert not ASSERTED & set(NOT_ASSERTED)
    for record in RECORDS.values():
        assert record["source"]
        assert record["status"]
    for name in IMPACT:
        assert set(RECORDS[name]["expected"]) == {"E_J", *FIELDS_NOT_ASSERTED}


@pytest.mark.parametrize("name", CURTAIN)
def test_light_curtain(name: str) -> None:
    record = RECORDS[name]
    given, expected = record["inputs"], record["expected"]
    found = light_curtain_distance(given["T_s"], given["resolution_mm"] / 1000.0)
    final_mm = expected.get("S_final_mm", expected.get("S_mm"))
    assert found.distance_m * 1000.0 == pytest.approx(final_mm, abs=1e-6)
    if "S_first_mm" in expected:  # what was reckoned with 2 m/s, before the rule reckons anew with 1.6 m/s
        assert given["T_s"] * 2000.0 + found.intrusion_m * 1000.0 == pytest.approx(expected["S_first_mm"], abs=1e-6)
        assert found.approach_m_s == 1.6


@pytest.mark.parametrize("name", PARALLEL)
def test_scanner(name: str) -> None:
    given, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    found = scanner_distance(given["T_s"], given["H_mm"] / 1000.0)
    assert found.distance_m * 1000.0 == pytest.approx(expected["S_mm"], rel=1e-9)
    assert found.intrusion_m * 1000.0 == pytest.approx(expected["C_mm"], rel=1e-9)
    assert coarsest_scanner_m(given["H_mm"] / 1000.0) * 1000.0 == pytest.approx(expected["d_max_mm"], rel=1e-9)


def test_interlocked_door() -> None:
    given, expected = RECORDS["iso13855_interlock_1"]["inputs"], RECORDS["iso13855_interlock_1"]["expected"]
    found = interlocked_distance(given["T_s"], given["D_GT_mm"] / 1000.0)
    assert found.distance_m * 1000.0 == pytest.approx(expected["S_mm"], rel=1e-9)


@pytest.mark.parametrize("name", IMPACT)
def test_energy(name: str) -> None:
    given, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    assert kinetic_energy_J(given["mass_kg"], given["v"]) == pytest.approx(expected["E_J"], rel=1e-9)


def test_crush_gaps_of_the_record() -> None:
    record = RECORDS["crush_gap_1"]
    for gap_mm, parts in zip(record["inputs"]["gap_mm"], record["expected"]["safe_parts"], strict=True):
        spared = crush_gap(gap_mm / 1000.0).spared
        assert sorted(spared) == sorted(PARTS.get(part, part) for part in parts)


def test_crush_gaps_of_the_table() -> None:
    with (DATA / "crush_gaps.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert all(row["source"] and row["status"] == "READ" for row in rows)
    printed = {PARTS.get(row["body_part"], row["body_part"]): float(row["min_gap_mm"]) for row in rows}
    assert {part: least_m * 1000.0 for part, least_m in CRUSH_GAPS_M.items()} == pytest.approx(printed)


def test_headings() -> None:
    assert list(HEADINGS) == RECORDS["iso12100_headings"]["expected"]["headings"]
    assert RECORDS["iso12100_headings"]["status"] == "FROM MEMORY"
