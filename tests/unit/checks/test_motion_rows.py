"""What the moves ask of part, liquid, thrust and coils: the rows, their remedies, and heat reckoned a second time."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from linewright.checks.motion import (
    CoilHeat,
    braking_thrust_N,
    check_motion,
    coil_track,
    curve_thrust_N,
    duty_rms_N,
    falling_hold_m_s2,
    find_coil_heat,
    find_legs,
    governing_cost,
    group_edges_m,
    net_along_N,
    thrust_shares,
)
from linewright.checks.strength import check_strength
from linewright.flow.duty import Duty, DutyLeg
from linewright.layout import Layout, lay_out
from linewright.line.load import load_line, read_line
from linewright.line.model import Line
from linewright.motion import DriveFigures, Limits, leg_limits, plan_move
from linewright.motion.limits import STANDARD_GRAVITY_M_S2, moving_mass_kg
from linewright.traffic.referee.frames import Frames
from unit.checks.motion_lines import HEAD, LOOP, PART, loop, rows, with_motor, with_sheet
from unit.layout.track_lines import branch_line, ring_line, to_and_fro_line

ROOT = Path(__file__).parents[3]


def duty_of(
    line: Line, layout: Layout, ways: list[tuple[str, str, bool]], times: list[list[float]], span_s: float = 600.0
) -> Duty:
    """A duty in which one carrier makes these moves between stops by label, each at these times."""
    frames, rank = Frames(line, layout), {stop.label: stop.index for stop in layout.stops}
    legs = []
    for start, end, loaded in ways:
        run = frames.run(rank[start], rank[end])
        assert run is not None
        curved = frames.is_curved(run)
        move = plan_move(run.length_m, leg_limits(line, loaded, run.length_m, curved).limits)
        mass = moving_mass_kg(line, loaded)
        legs.append(DutyLeg(rank[start], rank[end], loaded, run.lane, run.start_m, run.end_m, curved, mass, move))
    made = sorted((round(time * 1e6), number) for number, one in enumerate(times) for time in one)
    none = np.zeros(0, np.int64)
    at, leg = (np.array(column, np.int64) for column in zip(*made, strict=True))
    return Duty(0.0, span_s, 1, tuple(legs), np.zeros(len(made), np.int64), at, leg, none, none, none)


def with_works(duty: Duty, station: int, spans_s: list[tuple[float, float]]) -> Duty:
    starts, ends = (np.array([round(one[k] * 1e6) for one in spans_s], np.int64) for k in (0, 1))
    number = np.full(len(spans_s), station, np.int64)
    return Duty(duty.from_s, duty.to_s, 1, duty.legs, duty.carrier, duty.departure_us, duty.leg, number, starts, ends)


# ---- legs ------------------------------------------------------------------------------------------------------------


def test_every_leg_says_what_governs_and_what_that_costs() -> None:
    line = loop()
    result = check_motion(line, lay_out(line))
    assert len(result.legs) == len(result.thrust) > 20
    assert set(result.legs["governs"]) == {"jerk", "drive acceleration", "drive speed"}
    for row in result.legs:
        assert 0.0 <= row["eased_s"] < row["time_s"]
        assert row["eased_s"] <= row["lifted_s"] + 1e-12 or row["governs"] == "drive speed"
        assert row["governs"] in row["candidates"]
    by_jerk = next(row for row in result.legs if row["governs"] == "jerk")
    free = plan_move(by_jerk["distance_m"], Limits(1.85, 14.0, math.inf)).duration_s
    assert by_jerk["lifted_s"] == pytest.approx(by_jerk["time_s"] - free)
    eased = plan_move(by_jerk["distance_m"], Limits(1.85, 14.0, 1.1 * 260.0)).duration_s
    assert by_jerk["eased_s"] == pytest.approx(by_jerk["time_s"] - eased)
    assert by_jerk["next"] == ""


def test_the_cost_is_that_of_the_figure_that_governs() -> None:
    line = loop(PART.replace("20 m/s²", "13 m/s²"))
    for leg in find_legs(line, lay_out(line), None):
        cost = governing_cost(leg.limits)
        assert getattr(leg.limits, f"{cost.quantity}_set_by") == leg.limits.governs


def test_a_weak_hold_costs_what_the_drive_would_give() -> None:
    found = leg_limits(loop(PART.replace("20 m/s²", "3 m/s²")), True, 0.5, False)
    cost = governing_cost(found)
    assert (found.governs, cost.quantity, cost.next) == ("part hold (pocket)", "acceleration", "drive acceleration")
    at_14 = plan_move(0.5, Limits(found.limits.speed_m_s, 14.0, 260.0)).duration_s
    assert cost.lifted_s == pytest.approx(found.move.duration_s - at_14)


def test_the_limits_row_tells_the_cost() -> None:
    empty, _ = rows(loop(), "move-limits")
    assert "10 % more drive speed 0.0" in empty.where
    assert "as much as thrust allows 0.0" in empty.where


def test_a_duty_counts_its_legs_and_blocked_tracks_have_none() -> None:
    line = loop()
    layout = lay_out(line)
    duty = duty_of(line, layout, [("station a", "station b", True)], [[1.0, 20.0, 300.0]])
    legs = find_legs(line, layout, duty)
    assert len(legs) == len(find_legs(line, layout, None))
    assert [one.made for one in legs if one.made] == [3]
    crowded = read_line(HEAD + LOOP.replace("FORCE", "none").replace("800 mm", "340 mm"))
    layout = lay_out(crowded)
    assert layout.blocking
    result = check_motion(crowded, layout)
    assert len(result.legs) == len(result.thrust) == 0


# ---- emergency stop, falling lift ------------------------------------------------------------------------------------


def test_a_pocket_too_weak_for_the_emergency_stop_fails_and_the_remedy_holds() -> None:
    line = loop(PART.replace("20 m/s²", "12.5 m/s²"))
    (row,) = rows(line, "emergency-hold")
    assert (row.verdict, row.value, row.limit) == ("fails", 14.0, 12.5)
    assert row.remedy == "a pocket that stands 14 m/s² holds the part in it"
    assert rows(loop(PART.replace("20 m/s²", "14 m/s²")), "emergency-hold")[0].verdict == "tight"
    assert rows(loop(), "emergency-hold")[0].verdict == "holds"


def test_a_tight_emergency_stop_names_figures_with_a_tenth_to_spare() -> None:
    stop = loop().conveyor.stopping
    assert stop is not None
    (row,) = rows(loop(PART.replace("20 m", f"{stop.deceleration_m_s2 / 0.95} m")), "emergency-hold")
    assert row.verdict == "tight"
    needed = float(re.search(r"stands ([\d.]+) m/s²", row.remedy)[1])  # type: ignore[index]
    assert stop.deceleration_m_s2 / 0.9 <= needed < stop.deceleration_m_s2 / 0.9 * 1.01
    (row,) = rows(loop(PART.replace("20 m", f"{needed} m")), "emergency-hold")
    assert (row.verdict, row.remedy) == ("holds", "")
    line = loop()
    (row,) = rows(line, "emergency-thrust")
    assert row.value is not None
    assert row.limit is not None
    slower = stop.model_copy(update={"deceleration_m_s2": stop.deceleration_m_s2 * 0.95 * row.limit / row.value})
    tight = with_sheet(line, stopping=slower)
    (row,) = rows(tight, "emergency-thrust")
    assert row.verdict == "tight"
    mass = float(re.search(r"with ([\d.]+) kg of carrier", row.remedy)[1])  # type: ignore[index]
    assert tight.fixture is not None
    lighter = tight.fixture.model_copy(update={"mass_kg": tight.fixture.mass_kg + mass - moving_mass_kg(tight, True)})
    (row,) = rows(tight.model_copy(update={"fixture": lighter}), "emergency-thrust")
    assert row.verdict == "holds"


def test_friction_slips_and_tips_in_the_emergency_stop() -> None:
    def part(mu: str, base: str) -> str:
        hold = f"{{coefficient: {mu}, half_base: {base}}}"
        return f"part: {{mass: 85 g, mass_height: 18 mm, held: {{friction: {hold}}}}}\n"

    slip, tip = rows(loop(part("0.4", "20 mm")), "emergency-hold")
    assert (slip.verdict, tip.verdict) == ("fails", "fails")
    assert slip.limit == pytest.approx(0.4 * STANDARD_GRAVITY_M_S2 / 1.5)
    assert tip.limit == pytest.approx(20.0 / 18.0 * STANDARD_GRAVITY_M_S2 / 1.5)
    assert slip.remedy.startswith("no dry seat holds it for sure: a pocket or clamp that stands 14 m/s²")
    assert tip.remedy == "with half a base of 38.6 mm instead of 20 mm it does not tip"
    assert pytest.approx(2.15, abs=0.01) == 1.5 * 14.0 / STANDARD_GRAVITY_M_S2
    assert rows(loop(part("0.4", "38.6 mm")), "emergency-hold")[1].verdict == "tight"


def test_in_the_curves_of_a_ring_the_side_pull_adds() -> None:
    (row,) = rows(ring_line(300, 2600, more="part: {mass: 80 g, held: {pocket: 40 m/s²}}"), "emergency-hold")
    assert row.value == pytest.approx(math.hypot(14.0, 1.2**2 / 0.24), rel=1e-6)
    assert "in a curve at 1.2 m/s" in row.where


def test_thrust_for_the_emergency_stop() -> None:
    (light,) = rows(loop(), "emergency-thrust")
    assert light.value == pytest.approx((0.38 + 0.24 + 0.085) * 14.0 + 0.7)
    # from 1.75 m/s or so; the curve's speeds shrink by 38/42 and fall from 29 N at 1.4 to 15 N at 2.1 m/s
    speed = float(light.where.split(" from ")[1].split(" m/s")[0]) * 42.0 / 38.0
    assert light.limit == pytest.approx(29.0 - 14.0 * (speed - 1.4) / 0.7, rel=1e-3)
    heavy = loop(PART.replace("85 g", "660 g"))
    (row,) = rows(heavy, "emergency-thrust")
    assert row.verdict == "fails"
    most = float(row.remedy.split("with ")[1].split(" kg")[0])
    assert row.limit is not None
    assert braking_thrust_N(most, 14.0, 0.7) <= row.limit < braking_thrust_N(most + 0.02, 14.0, 0.7)
    with pytest.raises(ValueError, match="mass_kg"):
        braking_thrust_N(-1.0, 14.0, 0.7)


def test_a_sheet_without_a_stop_is_not_checked_once() -> None:
    line = with_sheet(loop(), stopping=None)
    (row,) = rows(line, "emergency-hold")
    assert row.verdict == "not checked"
    assert "key stopping in the conveyor sheet" in row.remedy
    assert rows(line, "emergency-thrust") == []


def test_on_a_falling_lift_friction_stands_less() -> None:
    part = "part: {mass: 85 g, mass_height: 18 mm, held: {friction: {coefficient: 0.6, half_base: 30 mm}}}\n"
    riding = [row for row in rows(loop(part), "part-hold") if "riding on" in row.where]
    assert [(row.value, row.limit) for row in riding] == [(8.0, STANDARD_GRAVITY_M_S2)] * 2
    left = 1.0 - 8.0 / STANDARD_GRAVITY_M_S2
    slip = 0.6 * STANDARD_GRAVITY_M_S2 / 1.5
    assert falling_hold_m_s2(slip, 8.0) == pytest.approx(0.6 * (STANDARD_GRAVITY_M_S2 - 8.0) / 1.5)
    assert f"{100 * left:.3g} % of its weight stays" in riding[0].where
    assert f"slip) {slip * left:.3g} m/s²" in riding[0].where
    assert falling_hold_m_s2(2.0, 12.0) == 0.0
    with pytest.raises(ValueError, match="fall_m_s2"):
        falling_hold_m_s2(2.0, -1.0)


def test_a_platform_that_falls_with_g_holds_nothing() -> None:
    line = loop("part: {mass: 85 g, held: {friction: {coefficient: 0.3, half_base: 40 mm}}, mass_height: 18 mm}\n")
    lift = line.conveyor.transfers["lift"].model_copy(update={"acceleration_m_s2": STANDARD_GRAVITY_M_S2})
    found = rows(with_sheet(line, transfers={**line.conveyor.transfers, "lift": lift}), "part-hold")
    assert {row.verdict for row in found if "falling with the lift" in row.where} == {"fails"}


def test_no_friction_is_told_that_no_seat_has() -> None:
    line = loop("part: {mass: 85 g, held: {friction: {coefficient: 0.3, half_base: 40 mm}}, mass_height: 18 mm}\n")
    stop = line.conveyor.stopping
    assert stop is not None
    hard = with_sheet(line, stopping=stop.model_copy(update={"deceleration_m_s2": 14.0}))
    (slip,) = [row for row in rows(hard, "emergency-hold") if "slip" in row.where]
    assert slip.verdict == "fails"
    assert "a pocket or clamp that stands 14 m/s²" in slip.remedy


def test_without_a_run_a_long_push_counts_where_it_asks_more_than_any_move() -> None:
    (row,) = rows(loop(force="{along: 9 N}"), "rms-thrust")
    (plain,) = rows(loop(), "rms-thrust")
    assert plain.value is not None
    assert plain.value < 9.0
    assert row.value == 9.0
    assert "station b" in row.where


def test_a_firmer_hold_is_told_for_the_speed_that_it_allows_in_the_curves() -> None:
    part = "part: {mass: 80 g, mass_height: 20 mm, held: {friction: {coefficient: 0.9, half_base: BASE mm}}}"
    line = ring_line(300, 2600, more=part.replace("BASE", "30"))
    (_, tip) = rows(line, "emergency-hold")
    assert tip.verdict == "fails"
    told = re.search(r"with half a base of ([\d.]+) mm", tip.remedy)
    assert told is not None
    (_, tip) = rows(ring_line(300, 2600, more=part.replace("BASE", told[1])), "emergency-hold")
    assert tip.verdict != "fails"


def test_figures_have_no_exponent_and_heat_is_at_the_sheets_ambient() -> None:
    line = loop(PART.replace("85 g", "20 kg"))
    drive = line.conveyor.drive
    strong = drive.model_copy(update={"thrust": tuple((v, 9e4 * f) for v, f in drive.thrust)})
    heavy = with_sheet(line, drive=strong, carrier=line.conveyor.carrier.model_copy(update={"mass_kg": 123456.7}))
    for one in check_motion(heavy, lay_out(heavy)).findings:
        assert not re.search(r"\d[eE][-+]?\d", one.where + one.remedy), one
    layout = lay_out(loop())
    duty = duty_of(loop(), layout, [("station a", "station b", True)], [[1.0, 20.0]])
    (row,) = rows(loop(), "coil-heat", duty)
    assert "at the sheet's ambient" in row.where


# ---- thrust ----------------------------------------------------------------------------------------------------------


def test_peak_thrust_leaves_the_reserve_of_the_plan() -> None:
    for line in (loop(), loop(PART.replace("85 g", "660 g"))):
        (row,) = rows(line, "peak-thrust")
        assert row.margin is not None
        assert row.margin >= 0.2 - 1e-9
    assert row.margin < 0.4  # the heavy one comes nearer


def test_thrust_is_looked_at_where_least_of_the_curve_is_left() -> None:
    line = loop(PART.replace("85 g", "660 g"))
    drive = line.conveyor.drive
    legs = find_legs(line, lay_out(line), None)
    table = check_motion(line, lay_out(line)).thrust
    leg, row = next((leg, row) for leg, row in zip(legs, table, strict=True) if leg.distance_m > 0.4 and leg.loaded)
    times = np.linspace(0.0, leg.limits.move.duration_s, 20001)[:-1]
    thrust = leg.limits.moving_mass_kg * leg.limits.move.acceleration_m_s2(times) + drive.friction_N
    curve = np.interp(leg.limits.move.speed_m_s(times) * 42.0 / 38.0, *np.array(drive.thrust).T)
    used = (np.abs(thrust) + drive.cogging_N) / curve
    assert row["peak_N"] / row["curve_N"] == pytest.approx(used.max(), rel=2e-3)
    assert row["rms_N"] == pytest.approx(math.sqrt((thrust**2).mean()), rel=1e-3)


def test_no_thrust_beyond_the_curve() -> None:
    drive = DriveFigures(2.0, 10.0, 100.0, ((0.0, 30.0), (2.0, 10.0)))
    assert curve_thrust_N(drive, np.array([2.0, 2.1])).tolist() == [10.0, 0.0]


def test_root_mean_square_without_a_run_is_that_of_no_rest() -> None:
    (row,) = rows(loop(), "rms-thrust")
    assert row.verdict == "holds"
    assert row.where.endswith("again and again without rest")
    weak = with_sheet(loop(), drive=loop().conveyor.drive.model_copy(update={"continuous_thrust_N": 5.0}))
    (row,) = rows(weak, "rms-thrust")
    assert row.verdict == "not checked"
    assert row.remedy.startswith("linewright check --run")


def test_root_mean_square_of_a_duty_and_the_fixture_that_holds() -> None:
    line = loop()
    layout = lay_out(line)
    duty = duty_of(line, layout, [("station a", "station b", True)], [np.arange(0.0, 600.0, 1.0).tolist()])
    move, mass = duty.legs[0].move, duty.legs[0].mass_kg
    square = quad(lambda t: (mass * move.acceleration_m_s2(t) + 1.1) ** 2, 0.0, move.duration_s, limit=200)[0]
    assert duty_rms_N(line, duty) == pytest.approx(math.sqrt(square), rel=1e-6)
    for share, before, after in ((0.9, "fails", "tight"), (1.05, "tight", "holds")):
        drive = line.conveyor.drive.model_copy(update={"continuous_thrust_N": share * duty_rms_N(line, duty)})
        (row,) = rows(with_sheet(line, drive=drive), "rms-thrust", duty)
        assert row.verdict == before
        kept = float(row.remedy.split("fixture of ")[1].split(" kg")[0])
        legs = tuple(replace(leg, mass_kg=leg.mass_kg - 0.24 + kept) for leg in duty.legs)
        (row,) = rows(with_sheet(line, drive=drive), "rms-thrust", replace(duty, legs=legs))
        assert row.verdict == after
    limit = 0.9 * duty_rms_N(line, duty)
    weak = with_sheet(line, drive=line.conveyor.drive.model_copy(update={"continuous_thrust_N": limit}))
    (row,) = rows(weak, "rms-thrust", duty)
    assert row.verdict == "fails"
    kept = float(row.remedy.split("fixture of ")[1].split(" kg")[0])
    for fixture_kg, holds in ((kept, True), (kept + 0.002, False)):
        less = mass - 0.24 + fixture_kg
        value = math.sqrt(square - (mass**2 - less**2) * (square - 1.1**2 * move.duration_s) / mass**2)
        assert (value <= limit) is holds


# ---- held carriers ---------------------------------------------------------------------------------------------------


def test_a_push_along_is_held_by_thrust_as_far_as_no_support_takes_it() -> None:
    assert net_along_N(loop().station("b")) == 0.0
    held = loop(force="{along: -5 N, greatest: 9 N}, support: {along: 1.3 N}")
    assert net_along_N(held.station("b")) == pytest.approx(3.7)
    both = loop(force="[{along: 5 N, greatest: 6 N}, {along: -4 N, greatest: 8 N}, {down: 10 N}]")
    assert net_along_N(both.station("b")) == 1.0


def test_the_thrust_of_held_carriers_is_told_by_strength_alone() -> None:
    pushed = loop(force="{along: -5 N, greatest: 9 N}")
    assert "held-thrust" not in {row.code for row in check_motion(pushed, lay_out(pushed)).findings}
    strength = [row for row in check_strength(pushed, lay_out(pushed)).findings if row.code == "holding-lasting"]
    assert [(row.verdict, row.value, row.limit) for row in strength] == [("fails", 9.0, pytest.approx(7.7))]


def test_pushes_along_count_in_the_root_mean_square() -> None:
    line = loop(force="{along: 3 N}")
    layout = lay_out(line)
    duty = duty_of(line, layout, [("station a", "station b", True)], [[1.0, 2.0]])
    pushed = with_works(duty, 1, [(100.0, 220.0), (590.0, 640.0)])  # the last beyond the duty's end
    more = duty_rms_N(line, pushed) ** 2 - duty_rms_N(line, duty) ** 2
    assert more == pytest.approx(3.0**2 * 130.0 / 600.0)


# ---- coil heat -------------------------------------------------------------------------------------------------------


def test_groups_of_a_stretch() -> None:
    assert group_edges_m(0.3, 0.1) == pytest.approx((0.0, 0.1, 0.2, 0.3))
    assert group_edges_m(0.05, 0.1) == (0.0, 0.05)
    for bad in ((0.0, 0.1), (1.0, -0.1), (1.0, math.nan)):
        with pytest.raises(ValueError, match="length_m"):
            group_edges_m(*bad)


@pytest.mark.parametrize("line", [loop(), ring_line(300, 900), branch_line(), to_and_fro_line(400, 700)])
def test_the_thrust_is_shared_by_what_the_carrier_covers(line: Line) -> None:
    layout = lay_out(line)
    track = coil_track(layout, 0.07)
    for number, lane in enumerate(layout.lanes):
        centres = np.linspace(0.042, lane.length_m - 0.042, 57)
        if lane.is_ring:
            centres = np.linspace(0.0, 1.9 * lane.length_m, 57)
        shares = thrust_shares(track, number, centres, 0.084)
        assert shares.sum(axis=1) == pytest.approx(1.0)
        assert ((shares > 0.0).sum(axis=1) <= 4).all()
        if lane.is_ring:
            assert thrust_shares(track, number, centres + lane.length_m, 0.084) == pytest.approx(shares, abs=1e-9)
    first = thrust_shares(track, 0, np.array([0.105, 0.14]), 0.07)
    assert first[0, 1] == pytest.approx(1.0)  # just over the second group
    assert first[1, 1:3] == pytest.approx([0.5, 0.5])


def test_both_lanes_meet_the_platform_at_one_place() -> None:
    line = loop()
    layout = lay_out(line)
    track = coil_track(layout, 0.05)
    lift = layout.transfers[0]
    upper = thrust_shares(track, 0, np.array([layout.lanes[0].length_m + 0.003 + 0.059 - 0.01]), 0.084)
    lower = thrust_shares(track, 1, np.array([-0.003 - 0.059 + 0.01]), 0.084)  # 10 mm west, too: the lane runs west
    assert lift.platform_m == 0.118
    assert upper == pytest.approx(lower)
    assert upper.sum() == pytest.approx(1.0)
    assert track.stretches[2].floor_m[0] == pytest.approx(1.475)
    assert track.stretches[3].floor_m[0] == pytest.approx(-0.121)


WAYS = [
    ("station a", "station b", True),
    ("dock of east-lift", "aboard east-lift", True),
    ("aboard east-lift", "station c", True),
]


def heat_of(line: Line, duty: Duty) -> CoilHeat:
    motor = line.conveyor.drive.motor
    assert motor is not None
    return find_coil_heat(line, lay_out(line), duty, motor)


def test_heat_of_the_groups_against_an_integral_of_their_own() -> None:
    line = loop(force="{along: 3 N}")
    layout = lay_out(line)
    duty = duty_of(line, layout, WAYS, [[5.0, 30.0, 65.0], [10.0], [20.0, 130.0]])
    duty = with_works(duty, 1, [(50.0, 70.0), (100.0, 110.0)])
    heat = heat_of(line, duty)
    assert heat.power_W.shape == (10, heat.track.groups)
    ohm, k = 1.9 * (1.0 + 0.00393 * (105.0 - 20.0)), 5.2

    def energy_J(leg: DutyLeg, low_m: float, high_m: float) -> float:
        sign = math.copysign(1.0, leg.end_m - leg.start_m)

        def loss(t: float) -> float:
            centre = leg.start_m + sign * leg.move.position_m(t)
            rear, front = centre - 0.042, centre + 0.042
            ends = ((0.0, 1.472), (1.475, 1.593), (-0.121, -0.003))
            whole = sum(max(0.0, min(front, high) - max(rear, low)) for low, high in ends)
            share = max(0.0, min(front, high_m) - max(rear, low_m)) / whole
            return ohm * (share * (leg.mass_kg * leg.move.acceleration_m_s2(t) + 1.1) / k) ** 2

        # cut where a stretch of jerk or an edge makes a corner, so that each piece is smooth
        times = np.linspace(0.0, leg.move.duration_s, 4001)
        return float(np.trapezoid([loss(float(t)) for t in times[:-1]] + [0.0], times))

    under_b, near_a = round(0.8 / 0.092 - 0.5), 4
    first, _, third = duty.legs
    energies = {group: energy_J(first, group * 0.092, (group + 1) * 0.092) for group in (under_b, near_a)}
    # station b holds 3 N: the carrier over 0.758 .. 0.842 m, the group over 0.736 .. 0.828 m
    held = ohm * (3.0 * (0.828 - 0.758) / 0.084 / k) ** 2
    assert heat.power_W[0, near_a] * 60.0 == pytest.approx(2.0 * energies[near_a], rel=2e-3)
    assert heat.power_W[0, under_b] * 60.0 == pytest.approx(2.0 * energies[under_b] + 10.0 * held, rel=2e-3)
    assert heat.power_W[1, under_b] * 60.0 == pytest.approx(energies[under_b] + 20.0 * held, rel=2e-3)
    # the platform of the east lift, met from the lower lane, which runs west: its west group lies farther on
    platform = heat.track.stretches[2].first
    alone = energy_J(third, -0.121, -0.121 + 0.118 - 0.092)  # its second, shorter group is the eastern one
    assert heat.power_W[2, platform + 1] * 60.0 == pytest.approx(alone, rel=2e-3)


def test_heat_of_a_move_against_the_stated_direction() -> None:
    line = to_and_fro_line(402, 702)
    layout = lay_out(line)
    there = duty_of(line, layout, [("station a", "station b", False)], [[1.0]])
    back = duty_of(line, layout, [("station b", "station a", False)], [[1.0]])
    assert back.legs[0].end_m < back.legs[0].start_m
    one, other = (heat_of(line, duty).power_W[0] for duty in (there, back))
    # Going back is going there seen from the other side: the middle of the way is an edge of the groups, 6 × 92 mm.
    assert other[3:9] == pytest.approx(one[3:9][::-1], rel=1e-9)
    assert other[9:].sum() == one[9:].sum() == other[:3].sum() == 0.0
    assert one[4] > 1.5 * other[4]  # where it speeds up against friction, not where it brakes with its help


def test_the_worst_hour_of_a_longer_duty() -> None:
    line = loop()
    layout = lay_out(line)
    busy = np.arange(600.0, 3300.0, 2.0).tolist()  # 45 minutes of it, from the tenth minute on
    duty = duty_of(line, layout, WAYS[:1], [busy], span_s=7200.0)
    table = check_motion(line, layout, duty).coil_heat
    assert table is not None
    hot = int(np.argmax(table["mean_W"]))
    mean = table["mean_W"][hot]
    assert table["worst_hour_W"][hot] == pytest.approx(2.0 * mean)
    at_work = mean * 120.0 / 45.0
    idle = mean * math.exp(-600.0 / 480.0)  # it begins at the mean
    assert table["filtered_W"][hot] == pytest.approx(at_work + (idle - at_work) * math.exp(-2700.0 / 480.0), rel=1e-9)
    (row,) = rows(line, "coil-heat", duty)
    assert "in its worst hour" in row.where


def test_less_mass_is_a_parabola_of_the_heat() -> None:
    line, light = loop(), read_line(HEAD + LOOP.replace("FORCE", "none").replace("240 g", "140 g") + PART)
    times = [[5.0, 30.0], [10.0], [20.0, 130.0]]
    heat = heat_of(line, duty_of(line, lay_out(line), WAYS, times))
    lighter = heat_of(light, duty_of(light, lay_out(light), WAYS, times))
    foretold = heat.power_W - 0.1 * heat.per_kg_W + 0.01 * heat.per_kg2_W
    assert foretold == pytest.approx(lighter.power_W, abs=1e-12)


def test_a_hot_group_fails_is_named_and_the_lighter_fixture_holds() -> None:
    line = loop()
    layout = lay_out(line)
    duty = duty_of(line, layout, WAYS[:1], [np.arange(0.0, 600.0, 0.7).tolist()])
    table = check_motion(line, layout, duty).coil_heat
    assert table is not None
    assert len(table) == heat_of(line, duty).track.groups
    worst = float(table["worst_hour_W"].max())
    assert (table["filtered_W"] >= table["mean_W"] - 1e-12).all()
    tight = with_motor(line, continuous_loss_W=0.9 * worst)
    hour, warmest = (rows(tight, code, duty)[0] for code in ("coil-heat", "coil-warming"))
    assert (hour.verdict, warmest.verdict) == ("fails", "fails")
    assert hour.value == pytest.approx(worst)
    assert "under station" in hour.where
    assert "in the mean of 10 min" in hour.where
    kept = float(hour.remedy.split("fixture of ")[1].split(" kg")[0])
    light = read_line(HEAD + LOOP.replace("FORCE", "none").replace("240 g", f"{kept} kg") + PART)
    again = with_motor(light, continuous_loss_W=0.9 * worst)
    (row,) = rows(again, "coil-heat", duty_of(light, layout, WAYS[:1], [np.arange(0.0, 600.0, 0.7).tolist()]))
    assert row.verdict == "tight"
    assert row.margin == pytest.approx(0.0, abs=0.01)


def test_heat_without_a_run_or_a_figure_is_not_checked_in_one_row() -> None:
    line = loop()
    (row,) = rows(line, "coil-heat")
    assert row.remedy.startswith("linewright check --run")
    for update, key in (({"group_length_m": None}, "group_length"), ({"hottest_degC": None}, "hottest")):
        (row,) = rows(with_motor(line, **update), "coil-heat")
        assert row.verdict == "not checked"
        assert f"key {key} under motor" in row.remedy
    bare = with_sheet(line, drive=line.conveyor.drive.model_copy(update={"motor": None}))
    (row,) = rows(bare, "coil-heat")
    assert "key motor under drive" in row.remedy
    assert rows(bare, "coil-warming") == []


def test_a_line_without_figures_has_few_rows_unchecked() -> None:
    line = read_line(HEAD + LOOP.replace(", force: FORCE", "").replace(", force: none", ""))
    line = with_sheet(line, stopping=None, drive=line.conveyor.drive.model_copy(update={"motor": None}))
    unchecked = [row for row in check_motion(line, lay_out(line)).findings if row.verdict == "not checked"]
    assert sorted(row.code for row in unchecked) == [
        "coil-heat",
        "emergency-hold",
        "part-hold",
        "payload",
    ]
    assert all(row.remedy for row in unchecked)


def test_the_example_made_to_fail_fails_as_it_says() -> None:
    line = load_line(ROOT / "examples" / "limits" / "motion.yaml")
    found = check_motion(line, lay_out(line)).findings
    assert sorted(row.code for row in found if row.verdict == "fails") == ["emergency-hold", "slosh"]
    assert sorted(row.code for row in found if row.verdict == "not checked") == ["coil-heat", "rms-thrust"]


def test_the_demo_line_has_room() -> None:
    line = load_line(ROOT / "examples" / "demo" / "line.yaml")
    found = check_motion(line, lay_out(line)).findings
    assert {row.verdict for row in found if row.code != "coil-heat"} == {"holds"}


@pytest.mark.long
def test_the_coils_of_the_example_are_too_hot_in_a_run() -> None:
    from linewright.flow.duty import find_duty
    from linewright.flow.run import run_plan
    from linewright.traffic.compile import compile_plan

    line = load_line(ROOT / "examples" / "limits" / "motion.yaml")
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    duty = find_duty(line, layout, plan, run_plan(line, plan, 2.0, 1, 1))
    result = check_motion(line, layout, duty)
    verdicts = {row.code: row.verdict for row in result.findings}
    assert (verdicts["coil-heat"], verdicts["coil-warming"], verdicts["rms-thrust"]) == ("fails", "fails", "tight")
    assert int(result.legs["made"].sum()) == len(duty.leg)
