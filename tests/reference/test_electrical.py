"""Power, conductors, capacitors and protection against data/electrical.json, iec60228.csv and awg.csv."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from linewright.checks import power
from linewright.checks.power.conductors import AT_ONCE, NOT_TRIPPING
from linewright.motion.electric import hot_resistance_ohm

DATA = Path(__file__).parent / "data"
RECORDS: dict[str, dict[str, Any]] = {r["id"]: r for r in json.loads((DATA / "electrical.json").read_text("utf-8"))}

# No formula of ours touches these.
UNTOUCHED = {
    "selv_iev": "defines safety extra-low voltage in general; the check holds the closer limits of EN 60204-1",
    "supply_budget_given": "a stated simultaneity; the check takes the simultaneity of the run and that of a restart",
}
TESTED = {
    "iec60228_kt_given",
    "awg_given",
    "vdrop_electrician2",
    "vdrop_1",
    "vdrop_2",
    "vdrop_3",
    "vdrop_5",
    "pelv_60204",
    "regen_1",
    "regen_2",
    "regen_4",
    "brake_resistor_1",
    "motor_power_1",
    "motor_power_2",
    "motor_power_3",
    "motor_power_5",
    "precharge_1",
    "mcb_curves",
    "mcb_select_1",
}


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def some(prefix: str) -> list[str]:
    return [name for name in RECORDS if name.startswith(prefix)]


def test_every_record_is_asserted_or_listed() -> None:
    assert set(RECORDS) == TESTED | set(UNTOUCHED)
    assert not TESTED & set(UNTOUCHED)


def test_conductors_are_the_standards_table() -> None:
    table = rows("iec60228.csv")
    assert [float(row["mm2"]) for row in table] == list(power.SIZES_MM2)
    for row in table:
        area = float(row["mm2"])
        printed = row["class1_2_plain_Cu_ohm_per_km_20C"], row["class5_6_plain_Cu_ohm_per_km_20C"]
        for conductor, text in zip(("stranded", "flexible"), printed, strict=True):
            assert power.conductor_ohm_per_m(area, conductor) * 1000.0 == pytest.approx(float(text), rel=1e-12)  # type: ignore[arg-type]


def test_factor_to_20_degrees() -> None:
    record = RECORDS["iec60228_kt_given"]
    for degC, factor in zip(record["inputs"]["T_C"], record["expected"]["kt"], strict=True):
        assert power.measured_at_20_ohm(1.0, degC) == pytest.approx(factor, abs=0.001)


def test_gauge_sizes() -> None:
    record, table = RECORDS["awg_given"], rows("awg.csv")
    assert [int(row["awg"]) for row in table] == record["inputs"]["awg"]
    for row in table:
        size = power.gauge_size(int(row["awg"]))
        assert size.diameter_m * 1e3 == pytest.approx(float(row["d_mm_published"]), rel=4e-3)
        assert size.ohm_per_m * 1e3 == pytest.approx(float(row["ohm_per_km_published"]), rel=5e-3)
        assert size.diameter_m * 1e3 == pytest.approx(float(row["d_mm_formula"]), abs=1e-5)
        assert size.area_mm2 == pytest.approx(float(row["area_mm2_formula"]), abs=1e-5)
        assert size.ohm_per_m * 1e3 == pytest.approx(float(row["ohm_per_km_rho_1.7241e-8"]), abs=1e-4)


def test_voltage_drop_of_a_textbook() -> None:
    record = RECORDS["vdrop_electrician2"]
    inputs, expected = record["inputs"], record["expected"]
    drop_V = power.voltage_drop_V(inputs["I_A"], inputs["length_ft"], inputs["ohm_per_1000ft"] / 1000.0)
    assert drop_V == pytest.approx(expected["exact_V"])
    assert drop_V == pytest.approx(expected["drop_V"], abs=0.05)
    assert 100.0 * drop_V / inputs["V"] == pytest.approx(expected["percent"], abs=0.07)  # of the rounded drop


@pytest.mark.parametrize("name", ["vdrop_1", "vdrop_2", "vdrop_3", "vdrop_5"])
def test_voltage_drop(name: str) -> None:
    inputs, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    conductor = {2: "stranded", 5: "flexible"}[inputs["iec_class"]]
    per_m = power.conductor_ohm_per_m(inputs["mm2"], conductor, inputs["T_C"])  # type: ignore[arg-type]
    drop_V = power.voltage_drop_V(inputs["I_A"], inputs["length_m"], per_m)
    found = {
        "r_ohm_km": per_m * 1000.0,
        "drop_V": drop_V,
        "percent": 100.0 * drop_V / inputs["V"],
        "loss_W": drop_V * inputs["I_A"],
    }
    assert found == pytest.approx(expected, rel=1e-9)
    assert hot_resistance_ohm(1.0, 21.0) - 1.0 == pytest.approx(inputs["alpha"])


def test_extra_low_voltage() -> None:
    expected = RECORDS["pelv_60204"]["expected"]
    assert expected["dry"]["dc_ripple_free_V"] == power.DRY_LIMIT_V
    assert expected["other"]["dc_V"] == power.OTHER_LIMIT_V


@pytest.mark.parametrize("name", some("regen_"))
def test_regeneration(name: str) -> None:
    inputs, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    found = power.regeneration(
        inputs["mass_kg"], inputs["v"], inputs["eta"], inputs["C_F"], inputs["V_nom"], inputs["V_max"]
    )
    assert found.kinetic_J == pytest.approx(expected["E_kin_J"], rel=1e-9)
    assert found.back_J == pytest.approx(expected["E_regen_J"], rel=1e-9)
    assert found.held_J == pytest.approx(expected["E_cap_J"], rel=1e-9)
    assert found.absorbed_V == pytest.approx(expected["V_if_all_absorbed"], rel=1e-9)
    assert found.resistor_needed is expected["resistor_needed"]
    assert found.capacitance_F == pytest.approx(expected["C_needed_F"], rel=1e-9)


def test_braking_resistor() -> None:
    inputs, expected = RECORDS["brake_resistor_1"]["inputs"], RECORDS["brake_resistor_1"]["expected"]
    held_J = power.held_J(inputs["V_nom"], inputs["V_chopper"], inputs["C_F"])
    found = power.resistor_duty(
        0.5 * inputs["mass_kg"] * inputs["v"] ** 2,
        inputs["eta"],
        inputs["t_decel_s"],
        inputs["t_cycle_s"],
        held_J,
        inputs["V_chopper"],
    )
    assert found.energy_J == pytest.approx(expected["E_resistor_J"], rel=1e-9)
    assert found.peak_W == pytest.approx(expected["P_peak_W"], rel=1e-9)
    assert found.braking_mean_W == pytest.approx(expected["P_decel_mean_W"], rel=1e-9)
    assert found.mean_W == pytest.approx(expected["P_avg_W"], rel=1e-9)
    assert found.largest_ohm == pytest.approx(expected["R_max_ohm"], rel=1e-9)


@pytest.mark.parametrize("name", some("motor_power_"))
def test_motor_power(name: str) -> None:
    inputs, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    found = power.motor_power(inputs["F_N"], inputs["v"], inputs["I_A"], inputs["R_ohm"])
    assert found.electrical_W == pytest.approx(expected["P_elec_W"], rel=1e-9)
    assert found.mechanical_W == pytest.approx(expected["P_mech_W"], rel=1e-9)
    assert found.copper_W == pytest.approx(expected["P_copper_W"], rel=1e-9)
    if expected["efficiency"] is None:
        assert found.efficiency is None
    else:
        assert found.efficiency == pytest.approx(expected["efficiency"], rel=1e-9)


def test_precharge() -> None:
    inputs, expected = RECORDS["precharge_1"]["inputs"], RECORDS["precharge_1"]["expected"]
    found = power.precharge(inputs["V"], inputs["R_ohm"], inputs["C_F"])
    assert found.peak_A == pytest.approx(expected["I_peak_A"], rel=1e-9)
    assert found.time_constant_s == pytest.approx(expected["tau_s"], rel=1e-9)
    assert found.charged_s == pytest.approx(expected["t_5tau_s"], rel=1e-9)
    assert found.charged_V == pytest.approx(expected["V_at_5tau"], rel=1e-9)
    assert found.capacitor_J == pytest.approx(expected["E_cap_J"], rel=1e-9)
    assert found.resistor_J == pytest.approx(expected["E_resistor_J"], rel=1e-9)


def test_circuit_breakers() -> None:
    expected = RECORDS["mcb_curves"]["expected"]
    assert {name: [low, high] for name, low, high in AT_ONCE} == {name: expected[name] for name in "BCD"}
    assert (expected["I_nontrip"], expected["I_trip"]) == (NOT_TRIPPING, power.TRIPPING)


def test_coordination_of_cable_and_fuse() -> None:
    inputs, expected = RECORDS["mcb_select_1"]["inputs"], RECORDS["mcb_select_1"]["expected"]
    found = power.protection(inputs["Ib"], inputs["In"], inputs["Iz"], "breaker")
    assert found.holds is expected["ok"]
    assert found.tripping_A == pytest.approx(expected["I2"], rel=1e-9)
    assert found.tripping_limit_A == pytest.approx(expected["limit"], rel=1e-9)
