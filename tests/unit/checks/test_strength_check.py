"""The rows of strength: what a line states, what fails, what would make it hold, what is missing."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

from linewright.findings import judge
from linewright.line.load import load_line
from linewright.motion.limits import STANDARD_GRAVITY_M_S2
from unit.checks.strength_lines import (
    GAUGE_M,
    MAGNETS_N,
    NONE,
    PLATE_M,
    SPACING_M,
    STATIC_N,
    THRUST_M,
    checked,
    line_of,
    one,
    rows,
)
from unit.layout.track_lines import branch_line, ring_line

EXAMPLES = Path(__file__).parents[3] / "examples"


# ---- forces ----------------------------------------------------------------------------------------------------------


def test_the_greatest_force_counts_and_not_the_stated_one() -> None:
    row = one(line_of("force: {down: 80 N, greatest: 160 N, at: [0 mm, 0 mm, 40 mm]}"), "force-down")
    assert (row.verdict, row.value, row.limit, row.unit) == ("fails", 160.0, 150.0, "N")
    assert row.margin == pytest.approx(1.0 - 160.0 / 150.0)
    assert "pushes 150 N at most" in row.remedy
    assert "a support under the carrier that takes 160 N carry it (support: {down: 160 N})" in row.remedy
    assert "closes its own force loop" in row.remedy
    assert row.place is not None
    assert row.place.line == 16


def test_a_force_at_an_angle_grows_in_its_own_direction() -> None:
    line = line_of("force: {down: 30 N, across: -40 N, greatest: 100 N, at: [0 mm, 0 mm, 40 mm]}")
    assert one(line, "force-down").value == pytest.approx(60.0)
    across = one(line, "force-across")
    assert (across.value, across.verdict) == (pytest.approx(80.0), "fails")
    assert "pushes 52.5 N at most" in across.remedy
    assert "a side stop" in across.remedy


@pytest.mark.parametrize("greatest_N, verdict", [(150.0, "tight"), (150.001, "fails"), (134.9, "holds")])
def test_the_border_of_an_allowed_force(greatest_N: float, verdict: str) -> None:
    line = line_of(f"force: {{down: 20 N, greatest: {greatest_N} N, at: [0 mm, 0 mm, 40 mm]}}")
    assert one(line, "force-down").verdict == verdict


def test_what_is_told_to_hold_does() -> None:
    template = "force: {{down: 3 N, across: 2.5 N, along: 0.9 N, greatest: {} N, at: [4 mm, 3 mm, 40 mm]}}"
    failing = [row for row in checked(line_of(template.format("130"))).findings if row.verdict == "fails"]
    assert {row.code for row in failing} == {"force-across", "force-along", "holding-lasting", "holding-short"}
    for row in failing:
        force = re.search(r"pushes ([0-9.]+) N at most", row.remedy)
        assert force is not None
        assert one(line_of(template.format(force[1])), row.code).verdict == "tight"
        support = re.search(r"\(support: ({[^}]*})\)", row.remedy)
        assert support is not None
        held = line_of(f"{template.format('130')}, support: {support[1]}")
        assert not rows(held, row.code)
        assert one(held, "support").verdict in ("tight", "holds")


def test_a_support_carries_its_axis_alone_and_is_rated() -> None:
    line = line_of(
        "force: {down: 300 N, across: 10 N, at: [0 mm, 0 mm, 40 mm], greatest: 600 N}, support: {down: 500 N}"
    )
    assert not rows(line, "force-down")
    assert one(line, "force-across").value == pytest.approx(600.0 * 10.0 / math.hypot(300.0, 10.0))
    support = one(line, "support")
    assert (support.verdict, support.limit) == ("fails", 500.0)
    assert "a support that takes 600 N or more down" in support.remedy
    (station,) = checked(line).stations.rows()
    assert station["down_N"] == 0.0
    assert station["support_share"] == pytest.approx(support.value / 500.0)


def test_tools_that_work_against_each_other_do_not_ease_each_other() -> None:
    ways = ((30, 50), (-30, 45))
    left, right = (f"{{across: {way} N, greatest: {most} N, at: [0 mm, 0 mm, 40 mm]}}" for way, most in ways)
    row = one(line_of(f"force: [{left}, {right}]"), "force-across")
    assert (row.value, row.verdict) == (50.0, "fails")
    assert "up to 84 % of the tools' greatest forces" in row.remedy


def test_lifting_against_weight_and_magnets() -> None:
    weight_N = (0.38 + 0.3) * STANDARD_GRAVITY_M_S2
    row = one(line_of("force: {down: -50 N, greatest: 130 N, at: [0 mm, 0 mm, 40 mm]}"), "carrier-lift")
    assert (row.verdict, row.value) == ("fails", 130.0)
    assert row.limit == pytest.approx(MAGNETS_N + weight_N)
    assert "a hold-down clamp that takes 130 N" in row.remedy
    assert not rows(line_of("force: {down: -50 N, greatest: 130 N}"), "force-down")


def test_holding_against_a_force_along() -> None:
    line = line_of("force: {along: 3 N, greatest: 7.7 N, at: [0 mm, 0 mm, 40 mm]}")
    lasting, short = one(line, "holding-lasting"), one(line, "holding-short")
    assert (lasting.verdict, lasting.limit) == ("tight", pytest.approx(0.7 * 11.0))
    assert (short.verdict, short.limit) == ("holds", pytest.approx(0.8 * 29.0))


# ---- blocks ----------------------------------------------------------------------------------------------------------


def test_static_safety_by_hand() -> None:
    line = line_of("force: {down: 60 N, across: 20 N, along: 6 N, greatest: 80 N, at: [10 mm, -8 mm, 40 mm]}")
    scale = 80.0 / math.sqrt(60.0**2 + 20.0**2 + 6.0**2)
    fx, fy, fz = 6.0 * scale, 20.0 * scale, -60.0 * scale
    x, y, z = 0.010, -0.008, 0.040 + PLATE_M
    rest_N = (MAGNETS_N + (0.38 + 0.3 + 0.1) * STANDARD_GRAVITY_M_S2) / 4.0
    mx, my, mz = y * fz - z * fy, z * fx - x * fz - THRUST_M * fx, x * fy - y * fx
    loads = {}
    for name, s, t in (("front-left", 1, 1), ("front-right", 1, -1), ("rear-left", -1, 1), ("rear-right", -1, -1)):
        normal = -fz / 4.0 + s * my / (2 * SPACING_M) - t * mx / (2 * GAUGE_M)
        loads[name] = (rest_N + normal, fy / 4.0 + s * mz / (2 * SPACING_M))
    worst_N = max(abs(normal) + abs(side) for normal, side in loads.values())
    row = one(line, "static-safety")
    assert row.value == pytest.approx(STATIC_N / worst_N)
    assert (row.limit, row.margin) == (2.5, pytest.approx(STATIC_N / worst_N / 2.5 - 1.0))
    (station,) = checked(line).stations.rows()
    assert station["block_load_N"] == pytest.approx(worst_N)
    assert abs(sum(loads[station["worst_block"]])) == pytest.approx(worst_N)


def pushed(text: str, factor: float) -> str:
    """The force of a remedy, in place of the tool's."""
    found = re.search(r"it holds with a tool that pushes ([\d.]+) N at most, with a tenth to spare", text)
    assert found, text
    return f"force: {{down: 1 N, across: 0 N, greatest: {float(found[1]) * factor} N, at: [0 mm, 0 mm, 0 mm]}}"


def test_what_is_tight_is_told_the_force_that_leaves_a_tenth() -> None:
    allowed = line_of(NONE).conveyor.allowed_force
    assert allowed is not None
    at = "at: [0 mm, 0 mm, 0 mm]"
    force = f"force: {{down: 1 N, greatest: {0.95 * allowed.down_N} N, {at}}}"
    safety = one(line_of(force, allowed_force={"down_N": 1e4}), "static-safety")
    assert safety.value is not None
    weak = {"guides": {"least_static_safety": safety.value / 1.05}, "allowed_force": {"down_N": 1e4}}
    for code, sheet in (("force-down", {}), ("static-safety", weak)):
        row = one(line_of(force, **sheet), code)
        assert row.verdict == "tight"
        assert one(line_of(pushed(row.remedy, 1.0), **sheet), code).verdict == "holds"
        assert one(line_of(pushed(row.remedy, 1.02), **sheet), code).verdict == "tight"
    held = f"force: {{down: 50 N, greatest: 95 N, {at}}}, support: {{down: 100 N}}"
    row = one(line_of(held), "support")
    needed = re.search(r"takes ([\d.]+) N or more", row.remedy)
    assert (row.verdict, needed is not None) == ("tight", True)
    assert float(needed[1]) > 100.0  # type: ignore[index]
    assert one(line_of(held.replace("100 N}", f"{needed[1]} N}}")), "support").verdict == "holds"  # type: ignore[index]


def test_moving_blocks_that_are_tight_are_told_a_fixture_that_leaves_a_tenth() -> None:
    row = one(line_of(NONE), "static-safety-moving")
    assert row.value is not None
    line = line_of(NONE, guides={"least_static_safety": row.value / 1.05})
    row = one(line, "static-safety-moving")
    assert row.verdict == "tight"
    found = re.search(r"(fixture|static rating) of ([\d.]+) (kg|N) or", row.remedy)
    assert found, row.remedy
    if found[1] == "fixture":
        assert line.fixture is not None
        line = line.model_copy(update={"fixture": line.fixture.model_copy(update={"mass_kg": float(found[2])})})
    else:
        least = row.value / 1.05 if row.value is None else line.conveyor.guides.least_static_safety  # type: ignore[union-attr]
        line = line_of(NONE, guides={"least_static_safety": least, "static_rating_N": float(found[2])})
    assert one(line, "static-safety-moving").verdict == "holds"


def test_a_weak_block_fails_and_what_is_told_makes_it_hold() -> None:
    weak: dict[str, Any] = {"static_rating_N": 130.0, "dynamic_rating_N": 900.0}
    template = "force: {{down: 10 N, greatest: {} N, at: [20 mm, 15 mm, 40 mm]}}"
    row = one(line_of(template.format("100"), guides=weak), "static-safety")
    assert row.verdict == "fails"
    force = re.search(r"pushes ([0-9.]+) N at most", row.remedy)
    assert force is not None
    assert one(line_of(template.format(force[1]), guides=weak), "static-safety").verdict == "tight"
    more = float(force[1]) * 1.02
    assert one(line_of(template.format(f"{more:.4g}"), guides=weak), "static-safety").verdict == "fails"
    assert "support: {down: 100 N}" in row.remedy
    held = f"{template.format('100')}, support: {{down: 200 N}}"
    assert one(line_of(held, guides=weak), "static-safety").verdict != "fails"


def test_the_greatest_tool_force_is_the_least_of_what_the_rows_allow() -> None:
    template = "force: {{down: 30 N, across: 25 N, along: 2 N, greatest: {} N, at: [4 mm, 3 mm, 40 mm]}}"
    (station,) = checked(line_of(template.format("50"))).stations.rows()
    allowed_N = station["allowed_N"]
    assert station["allowed_by"] == "force-across"
    at_it = checked(line_of(template.format(f"{allowed_N * (1 - 1e-9):.12g}")))
    assert all(row.verdict != "fails" for row in at_it.findings)
    beyond = checked(line_of(template.format(f"{allowed_N * 1.001:.12g}")))
    assert {row.code for row in beyond.findings if row.verdict == "fails"} == {"force-across"}
    assert (
        f"all rows together allow {allowed_N:.4g} N (force-across)"
        in one(line_of(template.format("50")), "static-safety").where
    )


def test_a_block_that_is_lifted_is_told_without_a_verdict() -> None:
    line = line_of("force: {down: 60 N, greatest: 140 N, at: [0 mm, 90 mm, 40 mm]}")
    at_station, moving = rows(line, "block-uplift")
    assert (at_station.verdict, at_station.limit) == ("holds", None)
    assert at_station.value == pytest.approx((MAGNETS_N + 0.68 * STANDARD_GRAVITY_M_S2) / 4 + 35.0 - 140 * 0.09 / 0.148)
    assert at_station.value < 0.0
    assert "front-right" in at_station.where
    assert "pulled off its rail" in at_station.where
    assert "stays pressed" in moving.where


def test_without_a_stated_safety_common_practice_is_named() -> None:
    row = one(
        line_of("force: {down: 20 N, greatest: 30 N, at: [0 mm, 0 mm, 4 mm]}", guides={"least_static_safety": None}),
        "static-safety",
    )
    assert row.limit == 2.0
    assert "common practice" in row.source


# ---- moving ----------------------------------------------------------------------------------------------------------


def test_the_worst_state_of_motion_by_hand() -> None:
    row = one(line_of(NONE), "static-safety-moving")
    mass = {0.38: PLATE_M - 0.014, 0.3: PLATE_M + 0.015, 0.1: PLATE_M + 0.045}
    weight_N = MAGNETS_N + sum(mass) * STANDARD_GRAVITY_M_S2
    pitch = sum(m * 14.0 * (height - THRUST_M) for m, height in mass.items()) - 1.1 * THRUST_M
    assert row.value == pytest.approx(STATIC_N / (weight_N / 4 + pitch / (2 * SPACING_M)))
    assert "loaded carrier, speeding up at 14 m/s²: block rear-left" in row.where
    states = checked(line_of(NONE)).moving.rows()
    assert len(states) == 10
    lift = next(state for state in states if state["state"] == "on a lift, 8 m/s² up" and state["loaded"])
    assert lift["block_load_N"] == pytest.approx(weight_N / 4 + sum(mass) * 8.0 / 4)


def test_an_emergency_stop_that_is_harder_than_the_drive_counts() -> None:
    row = one(line_of(NONE, stopping={"deceleration_m_s2": 40.0}), "static-safety-moving")
    assert "emergency stop at 40 m/s²" in row.where


def test_too_heavy_a_fixture_is_told_how_light_it_must_be() -> None:
    weak: dict[str, Any] = {"static_rating_N": 85.0, "dynamic_rating_N": 800.0}
    row = one(line_of(NONE, guides=weak), "static-safety-moving")
    assert row.verdict == "fails"
    mass = re.search(r"a fixture of ([0-9.]+) kg or less", row.remedy)
    assert mass is not None
    assert row.place is not None
    assert row.place.file == "test.yaml"
    line = line_of(NONE, guides=weak)
    assert line.fixture is not None
    lighter = line.model_copy(update={"fixture": line.fixture.model_copy(update={"mass_kg": float(mass[1])})})
    assert one(lighter, "static-safety-moving").verdict == "tight"
    hopeless = one(line_of(NONE, guides={"static_rating_N": 40.0}), "static-safety-moving")
    rating = re.search(r"static rating of ([0-9.]+) N or more", hopeless.remedy)
    assert rating is not None
    better = line_of(NONE, guides={"static_rating_N": float(rating[1])})
    assert one(better, "static-safety-moving").verdict == "tight"


def test_the_side_pull_of_a_ring_and_the_ride_across_count() -> None:
    fixture = "part: {mass: 100 g, mass_height: 20 mm}\nfixture: {mass: 300 g, mass_height: 15 mm, seat_height: 25 mm}"
    ring = checked(ring_line(300.0, 900.0, more=fixture, keys=", force: none"))
    assert {row["state"] for row in ring.moving.rows()} == {
        "speeding up at 14 m/s² in a curve", "braking at 14 m/s² in a curve", "emergency stop at 14 m/s² in a curve"
    }  # fmt: skip
    pull = 1.2**2 / 0.24
    straight = next(row for row in checked(line_of(NONE)).moving.rows() if row["loaded"])
    curved = next(row for row in ring.moving.rows() if row["loaded"])
    mass = {0.38: PLATE_M - 0.014, 0.3: PLATE_M + 0.015, 0.1: PLATE_M + 0.045}
    side = pull * (sum(m * height for m, height in mass.items()) / (2 * GAUGE_M) + sum(mass) / 4)
    assert curved["block_load_N"] == pytest.approx(straight["block_load_N"] + side)
    across = {row["state"]: row for row in checked(branch_line(more=fixture)).moving.rows() if row["loaded"]}
    ride = across["on a cross-transfer, 6 m/s² across"]["block_load_N"]
    rest_N = (MAGNETS_N + sum(mass) * STANDARD_GRAVITY_M_S2) / 4
    assert ride == pytest.approx(rest_N + side * 6.0 / pull)


def test_a_part_in_each_nest_rides_along() -> None:
    line = line_of(NONE)
    assert line.fixture is not None
    several = line.model_copy(update={"fixture": line.fixture.model_copy(update={"nests": 3})})
    single, triple = (next(row for row in checked(one).moving.rows() if row["loaded"]) for one in (line, several))
    tip = 14.0 * (PLATE_M + 0.045 - THRUST_M) / (2 * SPACING_M)
    more_N = triple["block_load_N"] - single["block_load_N"]
    assert more_N == pytest.approx(0.2 * (STANDARD_GRAVITY_M_S2 / 4 + tip))


def test_a_platform_that_falls_takes_weight_off_the_blocks() -> None:
    states = {row["state"]: row for row in checked(line_of(NONE)).moving.rows() if not row["loaded"]}
    weight_N = MAGNETS_N + 0.68 * STANDARD_GRAVITY_M_S2
    assert states["on a lift, 8 m/s² down"]["least_block_N"] == pytest.approx((weight_N - 0.68 * 8.0) / 4)


def test_blocks_that_do_not_stand_the_magnets_alone() -> None:
    line = line_of("force: {down: 5 N, greatest: 9 N, at: [0 mm, 0 mm, 40 mm]}", guides={"static_rating_N": 60.0})
    remedy = one(line, "static-safety").remedy
    found = re.search(r"static rating of ([\d.]+) N or more; weight and magnets alone ask for ([\d.]+) N", remedy)
    assert found
    assert checked(line).stations["allowed_N"].tolist() == [0.0]
    bare = line_of("force: {down: 0.001 N, greatest: 0.001 N, at: [0 mm, 0 mm, 40 mm]}")
    for rated, needed_N in ((line, float(found[1])), (bare, float(found[2]))):
        for factor, verdict in ((1.0, "tight"), (0.99, "fails")):
            strong = rated.conveyor.guides.model_copy(update={"static_rating_N": factor * needed_N})  # type: ignore[union-attr]
            sheet = rated.conveyor.model_copy(update={"guides": strong})
            assert one(rated.model_copy(update={"conveyor": sheet}), "static-safety").verdict == verdict


def test_what_lifting_hangs_on_is_asked_for_without_guides_too() -> None:
    lifts = "force: {down: -40 N, greatest: 50 N}"
    line = line_of(lifts, guides=None, magnets=None).model_copy(update={"fixture": None})
    for code in ("magnet-attraction", "carried-mass"):
        row = one(line, code)
        assert row.verdict == "not checked"
        assert "lifted off at station a" in row.where
    pushes = line_of("force: {down: 40 N, greatest: 50 N}", guides=None, magnets=None)
    assert rows(pushes, "magnet-attraction") == rows(pushes, "carried-mass") == []


def test_where_tools_push_both_ways_what_carries_them_holds_both_ways() -> None:
    at = "at: [0 mm, 0 mm, 0 mm]"
    force = f"force: [{{down: 9 kN, greatest: 9 kN, {at}}}, {{down: -10 N, greatest: 10 N, {at}}}]"
    assert "a support under the carrier and a hold-down clamp, each" in one(line_of(force), "force-down").remedy


def test_a_support_is_proposed_against_deflection_only_where_it_is_enough() -> None:
    force = "force: {down: 90 N, along: 45 N, greatest: 101 N, at: [-9 mm, 0 mm, 78 mm]}"
    line = line_of(f"{force}, tolerance: {{x: ±1 µm}}")
    row = one(line, "deflection")
    assert row.verdict == "fails"
    proposed = re.search(r"support: \{(\w+): ([\d.e+]+) N\}", row.remedy)
    assert (
        proposed is None
        or one(
            line_of(f"{force}, tolerance: {{x: ±1 µm}}, support: {{{proposed[1]}: {proposed[2]} N}}"), "deflection"
        ).verdict
        != "fails"
    )
    assert proposed is not None or "closes its own force loop" in row.remedy


def test_the_worst_of_counts_stations_and_not_axes() -> None:
    force = "force: {down: 20 N, across: 3 N, along: 2 N, greatest: 22 N, at: [0 mm, 0 mm, 0 mm]}"
    held = one(line_of(f"{force}, support: {{down: 100 N, across: 100 N, along: 100 N}}"), "support")
    assert held.verdict == "holds"
    assert "the worst of" not in held.where


def test_without_a_load_factor_years_are_not_checked_and_a_load_that_is_too_much_already_is_told() -> None:
    line = line_of(NONE, guides={"load_factor": None})
    assert (one(line, "guide-years").verdict, one(line, "guide-years").value is None) == ("not checked", False)
    assert rows(line, "guide-load") == []
    assert one(line_of(NONE, guides={"load_factor": None, "dynamic_rating_N": 60.0}), "guide-load").verdict == "fails"


def test_several_tools_grow_in_step() -> None:
    two = "{down: 20 N, greatest: 30 N, at: [0 mm, 0 mm, 4 mm]}, {down: 50 N, greatest: 70 N, at: [0 mm, 0 mm, 4 mm]}"
    (station,) = checked(line_of(f"force: [{two}]")).stations.rows()
    assert station["down_N"] == pytest.approx(100.0)
    assert station["allowed_N"] == pytest.approx(70.0 * 1.5)


# ---- deflection ------------------------------------------------------------------------------------------------------


def test_deflection_is_that_of_the_stated_force_against_the_tolerance() -> None:
    line = line_of("force: {along: 5 N, greatest: 7 N, at: [0 mm, 0 mm, 40 mm]}, tolerance: {x: ±3 µm}")
    row = one(line, "deflection")
    turn = 5.0 * (0.078 - THRUST_M) / (65e6 * SPACING_M**2)
    assert row.value == pytest.approx(5.0 / 2.5e6 + turn * (0.078 - THRUST_M))
    assert (row.limit, row.unit, row.verdict) == (3e-6, "m", judge(1.0 - row.value / 3e-6))
    failing = one(
        line_of("force: {along: 5 N, greatest: 7 N, at: [0 mm, 0 mm, 40 mm]}, tolerance: {x: ±1 µm}"), "deflection"
    )
    work = re.search(r"work with ([0-9.]+) N at most", failing.remedy)
    assert failing.verdict == "fails"
    assert work is not None
    eased = line_of(f"force: {{along: {work[1]} N, greatest: 7 N, at: [0 mm, 0 mm, 40 mm]}}, tolerance: {{x: ±1 µm}}")
    assert one(eased, "deflection").verdict == "tight"
    assert "(support: {along: 7 N})" in failing.remedy


def test_the_point_of_the_tool_counts_too() -> None:
    force = "force: {down: 50 N, greatest: 60 N, at: [0 mm, 0 mm, 40 mm]}"
    near = checked(line_of(force)).stations.rows()[0]
    far = checked(line_of(f"{force}, tool: {{at: [0 mm, 30 mm, 40 mm]}}")).stations.rows()[0]
    assert near["deflection_z_m"] == pytest.approx(50 / (4 * 65e6))
    assert far["deflection_z_m"] == pytest.approx(near["deflection_z_m"])
    turned = "force: {down: 50 N, greatest: 60 N, at: [0 mm, 10 mm, 40 mm]}"
    roll = 50 * 0.01 / (65e6 * GAUGE_M**2)
    far = checked(line_of(f"{turned}, tool: {{at: [0 mm, 30 mm, 40 mm]}}")).stations.rows()[0]
    assert far["deflection_z_m"] == pytest.approx(50 / (4 * 65e6) + roll * 0.03)


# ---- examples --------------------------------------------------------------------------------------------------------


def test_the_demo_line_holds() -> None:
    found = checked(load_line(EXAMPLES / "demo" / "line.yaml"))
    assert {row.verdict for row in found.findings} == {"holds"}
    assert {row.subject for row in found.findings} == {"strength"}
    assert len(found.stations) == 8


def test_the_example_made_to_fail_fails_where_it_says() -> None:
    found = checked(load_line(EXAMPLES / "limits" / "strength.yaml"))
    failing = {row.code: row.where.split(",")[0] for row in found.findings if row.verdict == "fails"}
    assert failing == {
        "force-down": "station press",
        "force-along": "station bearing",
        "holding-lasting": "station bearing",
        "carrier-lift": "station pull",
        "force-off-carrier": "station unload",
    }
    tight = [(row.code, row.where.split(",")[0]) for row in found.findings if row.verdict == "tight"]
    assert tight == [("force-across", "station seal")]
    assert not [row for row in found.findings if row.verdict == "not checked"]
    assert one(load_line(EXAMPLES / "limits" / "strength.yaml"), "support").verdict == "holds"
