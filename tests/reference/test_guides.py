"""Guides, contact and a bar against data/guides.json: published and recomputed figures of general sources."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from linewright.checks.strength import (
    Body,
    ball_contact,
    block_loads,
    body_loads,
    cantilever_deflection,
    contact_modulus_Pa,
    guide_life,
    mean_load,
    rating_at_reference,
    single_carriage_load,
    static_safety,
    two_rail_shares,
)
from linewright.motion.limits import STANDARD_GRAVITY_M_S2

DATA = Path(__file__).parent / "data" / "guides.json"
RECORDS: list[dict[str, Any]] = json.loads(DATA.read_text("utf-8"))
NOT_TOUCHED = {
    "static_criterion": "defines C0 by the dent it leaves; the program takes C0 from the sheet and computes no dent",
}
Found = dict[str, Any]


def ratings_of_travel(given: dict[str, Any]) -> Found:
    ratio = rating_at_reference(1.0, 100e3, 50e3)
    return {"ratio_C50_over_C100": ratio, "published": ratio, "C100_over_C50_published": 1.0 / ratio}


def life(given: dict[str, Any]) -> Found:
    found = guide_life(given["C_N"], given["P_N"], given["reference_km"] * 1000.0, given.get("fw", 1.0))
    hours = found.hours(given["mean_speed_m_min"] / 60.0) if "mean_speed_m_min" in given else None
    return {"L10_km": found.travel_m / 1000.0, "L10_h": hours}


def mean(given: dict[str, Any]) -> Found:
    loads, shares = zip(*given["load_N_and_distance_fraction"], strict=True)
    return {"Pm_N": mean_load(loads, shares)}


def safety(given: dict[str, Any]) -> Found:
    return {"S0": static_safety(given["C0_kN"] * 1000.0, given["F_kN"] * 1000.0, given["fs"])}


def four_blocks(given: dict[str, Any]) -> Found:
    force = (0.0, 0.0, -given["force_down_N"])
    found = block_loads(force, (given["x"], given["y"], 0.0), given["block_spacing_x"], given["block_spacing_y"])
    names = ("block_+x+y_N", "block_+x-y_N", "block_-x+y_N", "block_-x-y_N")
    loads = dict(zip(names, found.normal_N.tolist(), strict=True))
    return {**loads, "max_abs_N": float(found.equivalent_N.max()), "uplift": found.uplift}


def speeding_up(given: dict[str, Any]) -> Found:
    # The records take 9.81 m/s²: the mass here is the one whose weight is theirs, its inertia a force of its own.
    weight = given["mass_kg"] * given["g"] / STANDARD_GRAVITY_M_S2
    own = body_loads((Body(weight, given["cog_height"]),), 0.0, given["thrust_height"])
    inertia = (-given["mass_kg"] * given["accel"], 0.0, 0.0)
    found = block_loads(
        [*own.force_N, inertia],
        [*own.at_m, (0.0, 0.0, given["cog_height"])],
        given["block_spacing_x"],
        0.1,
        given["thrust_height"],
    )
    return {"front_block_N": found.normal_N[0], "rear_block_N": found.normal_N[2]}


def one_block(given: dict[str, Any]) -> Found:
    load_N = single_carriage_load(given["F_N"], given["M_Nm"], given["C0_N"], given["M0_Nm"])
    slope = (load_N - abs(given["F_N"])) / given["M_Nm"]
    return {"K_per_m": slope, "P0_N": load_N, "S0": static_safety(given["C0_N"], load_N)}


def two_rails(given: dict[str, Any]) -> Found:
    # A share does not depend on the unit: pounds in, pounds out.
    found = two_rail_shares(given["load_total_lb"], given["wheel_pairs"], given["A_in"], given["B_in"], given["FA"])
    return {"Lo1_lb": found.near_N, "Lo2_lb": found.far_N}


def press(given: dict[str, Any]) -> Found:
    forces = [(0, 0, -given["plate_mass_kg"] * given["g"]), (0, 0, -given["press_force_N"])]
    points = [(0, 0, 0), (0, given["offset_y_from_centre"], 0)]
    found = block_loads(forces, points, 0.2, given["block_spacing_y"])
    near, far = found.normal_N[:2].tolist()
    moment = (near - far) * given["block_spacing_y"]
    return {"near_block_N": near, "far_block_N": far, "far_uplift": found.uplift, "roll_moment_Nm": moment}


def bar(given: dict[str, Any]) -> Found:
    found = cantilever_deflection(given["F_N"], given["length"], given["E"], given["width"], given["thickness"])
    return {
        "I_m4": found.second_moment_m4,
        "deflection_m": found.deflection_m,
        "slope_rad": found.slope_rad,
        "sigma_MPa": found.stress_Pa / 1e6,
    }


def contact(given: dict[str, Any]) -> Found:
    modulus = contact_modulus_Pa(given["E"], given["nu"], rigid=given["flat"] == "rigid")
    found = ball_contact(given["F_N"], given["R"] if "R" in given else given["ball_diameter"] / 2.0, modulus)
    return {
        "contact_radius_m": found.radius_m,
        "exact": found.radius_m,
        "E_star_Pa": modulus,
        "p_max_Pa": found.pressure_Pa,
        "approach_m": found.approach_m,
    }


FORMULAS: dict[str, Callable[[dict[str, Any]], Found]] = {
    "c50_c100": ratings_of_travel,
    "L10_1": life,
    "L10_2": life,
    "L10_3": life,
    "L10_5": life,
    "L10_fw_1": life,
    "mean_load_1": mean,
    "static_tea": safety,
    "four_block_1": four_blocks,
    "four_block_2": four_blocks,
    "four_block_3": four_blocks,
    "four_block_4": four_blocks,
    "four_block_6": four_blocks,
    "four_block_accel_1": speeding_up,
    "four_block_accel_2": speeding_up,
    "single_carriage_1": one_block,
    "offset_load_two_rail_1": two_rails,
    "press_cantilever_1": press,
    "cantilever_plate_1": bar,
    "hertz_rigid_flat": contact,
    "hertz_ball_flat": contact,
}


def test_every_record_is_asserted_or_listed() -> None:
    names = [record["id"] for record in RECORDS]
    assert len(names) == len(set(names)) == 22
    assert set(names) == set(FORMULAS) | set(NOT_TOUCHED)
    assert not set(FORMULAS) & set(NOT_TOUCHED)


@pytest.mark.parametrize("record", [r for r in RECORDS if r["id"] not in NOT_TOUCHED], ids=lambda record: record["id"])
def test_the_figure_of_a_record(record: dict[str, Any]) -> None:
    assert record["source"]
    assert record["status"]
    kind, _, size = record["tol"].partition(" ")
    found = FORMULAS[record["id"]](record["inputs"])
    for name, expected in record["expected"].items():
        if isinstance(expected, bool):
            assert found[name] is expected
        elif kind == "rel":
            assert found[name] == pytest.approx(expected, rel=float(size), abs=1e-9 if expected == 0 else 0.0), name
        else:
            assert abs(found[name] - expected) <= float(size), name


def test_a_moment_of_one_block_over_the_whole_spacing_is_the_pair_of_two() -> None:
    pair = block_loads((0, 0, -100), (0.05, 0, 0), 0.1, 0.1)
    shares = two_rail_shares(100.0, 2, 0.0, 0.1)
    assert pair.normal_N[0] == pytest.approx(shares.near_N)
    assert pair.normal_N[2] == pytest.approx(shares.far_N)
