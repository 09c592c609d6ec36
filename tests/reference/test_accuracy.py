"""Accuracy against data/accuracy.json: geometry, budgets, capability, uncertainty, evaluation of measured positions."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from numpy.typing import NDArray

from linewright.checks.accuracy import (
    abbe_error_m,
    axis_accuracy,
    bias_of,
    capability_interval,
    cosine_error_m,
    coverage_factor,
    effective_freedom,
    pose_repeatability,
    process_capability,
    propagate_uncertainty,
    simulate_budget,
    spread_of,
    sum_budget,
    thermal_growth_m,
)

DATA = Path(__file__).parent / "data"
RECORDS: dict[str, dict[str, Any]] = {
    record["id"]: record for record in json.loads((DATA / "accuracy.json").read_text("utf-8"))
}
EXPANSIONS, ABBES, BUDGETS = (
    sorted(name for name in RECORDS if name.startswith(start)) for start in ("expansion_", "abbe_", "error_budget_")
)
CAPABILITIES: Final = ["capability_nist", "capability_wiki"]
ONCE: Final = [
    "cte_nist",
    "cosine_given",
    "iso230_2_given",
    "iso9283_given",
    "capability_ci",
    "gum_h1",
    "gum_h2",
    "jcgm101_9_2_rect",
    "jcgm101_9_2_gauss",
    "tolerance_four_parts",
    "welch_satterthwaite",
]
# No formula of the accuracy check touches these.
NOT_HERE: Final = {
    "sensor_latency_given": "latency and following error are of a carrier under way; tools meet carriers at rest",
    "lognormal_mean_cv": "a law of times, asserted with the random numbers of the flow",
    "mle_fits": "fits of laws of times, no part of an error budget",
}
MICRO: Final = 1e-6


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_every_record_is_asserted_or_listed() -> None:
    asserted = {*EXPANSIONS, *ABBES, *BUDGETS, *CAPABILITIES, *ONCE}
    assert asserted | set(NOT_HERE) == set(RECORDS)
    assert not asserted & set(NOT_HERE)
    assert (len(EXPANSIONS), len(ABBES), len(BUDGETS), len(RECORDS)) == (5, 4, 2, 27)
    assert all(record["source"] and (record.get("status") or record.get("access")) for record in RECORDS.values())


# ---- geometry --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EXPANSIONS)
def test_growth(name: str) -> None:
    given, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    alpha = given["alpha"] if "alpha" in given else given["alpha_base"] - given["alpha_scale"]
    (value,) = expected.values()
    assert thermal_growth_m(given["L_m"], alpha, given["dT_K"]) / MICRO == pytest.approx(value, rel=1e-9)


def test_expansions_of_metals_are_those_of_the_growth_records() -> None:
    metals = RECORDS["cte_nist"]["expected"]
    used = {RECORDS[name]["inputs"].get("alpha") for name in EXPANSIONS} - {None}
    assert used == {metals["steel_ppm_K"] * MICRO, metals["aluminium_ppm_K"] * MICRO}


@pytest.mark.parametrize("name", ABBES)
def test_levers(name: str) -> None:
    given, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    lever_m = given["offset_m"] if "offset_m" in given else given["offset_mm"] * 1e-3
    angle_deg = given["angle_deg"] if "angle_deg" in given else given["angle_arcsec"] / 3600.0
    error_m = abbe_error_m(lever_m, math.radians(angle_deg))
    if name == "abbe_nist":
        assert round(error_m / MICRO, 2) == expected["error_um"]
        assert error_m / MICRO == pytest.approx(expected["exact_um"], rel=1e-9)
    elif name == "abbe_wiki":
        assert round(error_m * 100.0, 3) == expected["error_cm"]
    else:
        assert error_m / MICRO == pytest.approx(expected["error_um"], rel=1e-9)


def test_cosine_error() -> None:
    given = RECORDS["cosine_given"]["inputs"]
    error_m = cosine_error_m(given["L_m"], math.radians(given["misalignment_deg"]))
    assert error_m / MICRO == pytest.approx(RECORDS["cosine_given"]["expected"]["error_um"], rel=1e-9)


# ---- budgets ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", BUDGETS)
def test_budgets(name: str) -> None:
    expected = RECORDS[name]["expected"]
    widths = RECORDS[name]["inputs"]["components_um"]
    budget = sum_budget([spread_of(f"c{i}", "x", width * MICRO) for i, width in enumerate(widths)], 1e-3)
    assert budget.worst_case_m / MICRO == pytest.approx(expected["worst_case_um"], rel=1e-9)
    assert budget.rss_m / MICRO == pytest.approx(expected["rss_um"], rel=1e-9)
    assert budget.halfway_m / MICRO == pytest.approx(expected["half_way_mean_um"], rel=1e-9)


def test_four_parts_in_a_housing() -> None:
    given, expected = RECORDS["tolerance_four_parts"]["inputs"], RECORDS["tolerance_four_parts"]["expected"]
    gap = given["housing"][0] - sum(given[part][0] for part in "ABC")
    budget = sum_budget([spread_of(name, "x", width) for name, (_, width) in given.items()], expected["gap"])
    assert gap == pytest.approx(expected["gap"])
    assert budget.worst_case_m == pytest.approx(expected["WC"], rel=1e-9)
    assert round(budget.rss_m, 5) == expected["RSS"]
    assert budget.rss_m == pytest.approx(expected["RSS_exact"], rel=1e-9)
    assert [gap - budget.worst_case_m, gap + budget.worst_case_m] == pytest.approx(expected["WC_range"])
    assert [round(gap - budget.rss_m, 3), round(gap + budget.rss_m, 3)] == expected["RSS_range"]


@pytest.mark.parametrize("name, law, half_width", [("rect", "uniform", math.sqrt(3.0)), ("gauss", "normal", 3.0)])
def test_four_equal_inputs_drawn(name: str, law: Any, half_width: float) -> None:
    expected = RECORDS[f"jcgm101_9_2_{name}"]["expected"]
    drawn = simulate_budget([spread_of(f"x{i}", "x", half_width, law) for i in range(4)], 1_000_000, seed=20)
    low, high = drawn.interval_m(0.95)
    assert drawn.sigma_m == pytest.approx(expected["u"], abs=0.005)
    assert [-low, high] == pytest.approx([expected["interval"]] * 2, abs=0.012)  # rect and gauss are 0.04 apart
    if "analytic" in expected:
        assert 0.5 * (high - low) == pytest.approx(expected["analytic"], abs=0.008)


# ---- capability ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", CAPABILITIES)
def test_capability(name: str) -> None:
    given, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    found = process_capability(given["mean"], given["s"], given["LSL"], given["USL"], given.get("target"))
    exact = expected["exact"]
    indices = {
        "Cp": found.cp,
        "Cpu": found.cpu,
        "Cpl": found.cpl,
        "Cpk": found.cpk,
        "Cpm": found.cpm,
        "Cpkm": found.cpkm,
        "k": found.off_centre,
        "ppm": found.parts_per_million,
    }
    assert set(exact) == set(indices)
    for key, value in exact.items():
        assert indices[key] == pytest.approx(value, rel=1e-9), key
    for key, value in expected.items():
        if key != "exact":
            assert indices[key] == pytest.approx(value, abs=RECORDS[name]["tol"]), key


def test_a_budget_has_the_same_index_as_its_capability() -> None:
    given = RECORDS["capability_nist"]["inputs"]
    middle, half = 0.5 * (given["LSL"] + given["USL"]), 0.5 * (given["USL"] - given["LSL"])
    off = given["mean"] - middle
    budget = sum_budget([spread_of("s", "x", 3.0 * given["s"]), bias_of("b", "x", off, off)], half)
    exact = RECORDS["capability_nist"]["expected"]["exact"]
    assert (budget.cp, budget.cpk) == pytest.approx((exact["Cp"], exact["Cpk"]), rel=1e-9)
    assert budget.parts_per_million == pytest.approx(exact["ppm"], rel=1e-9)


def test_intervals_of_capability() -> None:
    given, expected = RECORDS["capability_ci"]["inputs"], RECORDS["capability_ci"]["expected"]
    for count, cp, cpk in zip(given["n"], expected["Cp_ci"], expected["Cpk_ci"], strict=True):
        found = capability_interval(given["Cp"], given["Cpk"], count)
        assert [found.cp_low, found.cp_high] == pytest.approx(cp, rel=1e-9)
        assert [found.cpk_low, found.cpk_high] == pytest.approx(cpk, rel=1e-9)


# ---- uncertainty -----------------------------------------------------------------------------------------------------


def test_end_gauge() -> None:
    given, expected = RECORDS["gum_h1"]["inputs"]["inputs_value_u_dof"], RECORDS["gum_h1"]["expected"]
    values, spreads = [row[1] for row in given], [row[2] for row in given]
    freedoms = [math.inf if row[3] == "inf" else row[3] for row in given]

    def length(x: NDArray[np.float64]) -> float:
        ls, d, alpha, theta, d_alpha, d_theta = x.tolist()
        return float(ls + d - ls * (d_alpha * theta + alpha * d_theta))

    found = propagate_uncertainty(length, values, spreads)
    assert round(float(found.values[0])) == expected["l_nm"]
    assert round(float(found.uncertainties[0])) == expected["uc_nm"]
    assert float(found.uncertainties[0]) == pytest.approx(expected["uc_unrounded"], abs=0.005)
    assert [round(float(c), 1) for c in found.contributions[0]] == pytest.approx(expected["contributions"], abs=0.051)
    freedom = effective_freedom(found.contributions[0].tolist(), freedoms)
    assert freedom == pytest.approx(expected["veff_unrounded"], abs=0.1)  # printed from rounded contributions
    assert math.floor(freedom) == expected["veff"]
    factor = coverage_factor(0.99, math.floor(freedom))
    assert round(factor, 2) == expected["k99"]
    assert round(factor * float(found.uncertainties[0])) == expected["U99"]


def test_resistance_and_reactance_from_inputs_that_go_together() -> None:
    data = np.array(RECORDS["gum_h2"]["inputs"]["V_I_mA_phi"]) * np.array([1.0, 1e-3, 1.0])
    expected = RECORDS["gum_h2"]["expected"]
    together = np.corrcoef(data.T)
    spreads = data.std(axis=0, ddof=1) / math.sqrt(len(data))
    assert [round(float(together[i, j]), 2) for i, j in ((0, 1), (0, 2), (1, 2))] == [
        expected[name] for name in ("r_VI", "r_Vphi", "r_Iphi")
    ]

    def impedance(x: NDArray[np.float64]) -> tuple[float, float, float]:
        volt, amp, phi = x.tolist()
        return volt / amp * math.cos(phi), volt / amp * math.sin(phi), volt / amp

    found = propagate_uncertainty(impedance, data.mean(axis=0).tolist(), spreads.tolist(), together)
    for i, name in enumerate("RXZ"):
        printed, uncertainty = expected[name]
        assert round(float(found.values[i]), 3 if name != "Z" else 2) == printed
        # Printed from correlations and uncertainties that were rounded before: one unit of the last digit.
        assert float(found.uncertainties[i]) == pytest.approx(uncertainty, abs=0.0011)
    for (i, j), name in {(0, 1): "r_RX", (0, 2): "r_RZ", (1, 2): "r_XZ"}.items():
        assert float(found.correlations[i, j]) == pytest.approx(expected[name], abs=0.0055), name
    alone = propagate_uncertainty(impedance, data.mean(axis=0).tolist(), spreads.tolist())
    assert abs(float(alone.uncertainties[0]) - expected["R"][1]) > 0.1


def test_degrees_of_freedom() -> None:
    given = RECORDS["welch_satterthwaite"]["inputs"]
    assert effective_freedom(given["u"], given["dof"]) == RECORDS["welch_satterthwaite"]["expected"]["veff"]


# ---- measured positions ----------------------------------------------------------------------------------------------


def test_iso_230_2() -> None:
    given, expected = RECORDS["iso230_2_given"]["inputs"], RECORDS["iso230_2_given"]["expected"]
    read = rows(given["data"])
    up, down = (
        np.array([float(row["deviation_um"]) for row in read if row["direction"] == way]).reshape(
            given["targets"], given["runs"]
        )
        for way in ("up", "down")
    )
    found = axis_accuracy(up * MICRO, down * MICRO)
    named = {
        "B_um": found.reversal_m,
        "B_mean_um": found.mean_reversal_m,
        "M_um": found.mean_deviation_range_m,
        "E_um": found.systematic_m,
        "E_up_um": found.systematic_up_m,
        "E_down_um": found.systematic_down_m,
        "R_up_um": found.repeatability_up_m,
        "R_down_um": found.repeatability_down_m,
        "R_um": found.repeatability_m,
        "A_up_um": found.accuracy_up_m,
        "A_down_um": found.accuracy_down_m,
        "A_um": found.accuracy_m,
    }
    assert {name: value / MICRO for name, value in named.items()} == pytest.approx(expected, rel=1e-9)


def test_iso_9283() -> None:
    given, expected = RECORDS["iso9283_given"]["inputs"], RECORDS["iso9283_given"]["expected"]
    points = [[float(row[key]) for key in ("dx_mm", "dy_mm", "dz_mm")] for row in rows(given["data"])]
    assert len(points) == given["n"]
    found = pose_repeatability(np.array(points) * 1e-3, [value * 1e-3 for value in given["commanded"]])
    assert found.accuracy_m * 1e3 == pytest.approx(expected["AP_P_mm"], rel=1e-9)
    assert found.mean_distance_m * 1e3 == pytest.approx(expected["l_bar_mm"], rel=1e-9)
    assert found.sigma_m * 1e3 == pytest.approx(expected["S_l_mm"], rel=1e-9)
    assert found.repeatability_m * 1e3 == pytest.approx(expected["RP_l_mm"], rel=1e-9)
