"""The two stops: against an integration in small steps, and what is refused."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from linewright.checks.safety import (
    coarsest_scanner_m,
    crush_gap,
    fall_speed_m_s,
    interlocked_distance,
    kinetic_energy_J,
    light_curtain_distance,
    powered_stop,
    scanner_distance,
    stored_energy_J,
)
from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.motion.coasting import coast_over
from linewright.motion.limits import carrier_limits
from linewright.traffic.compile import compile_plan
from unit.checks.safety_lines import KEYS, on_sheet, result, safety_line

EXAMPLES = Path(__file__).parents[3] / "examples"


def stepped(speed: float, reaction: float, deceleration: float, jerk: float) -> tuple[float, float]:
    """Distance and time of a stop whose deceleration ramps up, holds and ramps down: trapezoid sums on a fine grid."""
    peak = min(deceleration, math.sqrt(speed * jerk))
    ramp = peak / jerk
    hold = speed / peak - ramp
    end = reaction + 2.0 * ramp + hold
    t = np.linspace(0.0, end, 200_001)
    a = np.interp(t, [0.0, reaction, reaction + ramp, reaction + ramp + hold, end], [0.0, 0.0, peak, peak, 0.0])
    step = t[1] - t[0]
    v = speed - np.concatenate([[0.0], np.cumsum(0.5 * step * (a[1:] + a[:-1]))])
    assert abs(v[-1]) < 1e-6
    return float(np.sum(0.5 * step * (v[1:] + v[:-1]))), end


def test_powered_stop_against_integration() -> None:
    draw = random.Random(7)
    long_ramp = set()
    for _ in range(8):
        speed, deceleration = draw.uniform(0.2, 3.0), draw.uniform(2.0, 20.0)
        jerk, reaction = draw.uniform(5.0, 400.0), draw.uniform(0.0, 0.05)
        found = powered_stop(speed, reaction, deceleration, jerk)
        distance, time = stepped(speed, reaction, deceleration, jerk)
        assert found.time_s == pytest.approx(time, rel=1e-9)
        assert found.distance_m == pytest.approx(distance, rel=1e-6)
        long_ramp.add(speed < deceleration**2 / jerk)
    assert long_ramp == {True, False}


def test_powered_stop_without_jerk_against_quadrature() -> None:
    found = powered_stop(1.7, 0.02, 8.0)
    area, _ = quad(lambda t: 1.7 if t < 0.02 else 1.7 - 8.0 * (t - 0.02), 0.0, found.time_s, points=[0.02])
    assert found.time_s == pytest.approx(0.02 + 1.7 / 8.0)
    assert found.distance_m == pytest.approx(area, rel=1e-9)


def test_plan_speed_is_the_greatest_of_any_leg_that_comes_near() -> None:
    """Against the moves of a compiled plan, whose legs are looked at one by one."""
    line = safety_line()
    layout = lay_out(line)
    plan = compile_plan(line, layout)
    count, half_m, (zone,) = len(layout.stops), layout.body_m / 2, line.motor_zones
    lane = layout.lane("upper")
    assert (zone.lane, lane.from_) == ("upper", "west")
    for load in (0, 1):
        peaks = []
        for start in range(count):
            here = layout.stops[start]
            for reach in range(1, plan.move_us.shape[2] + 1):
                there = layout.stops[(start + reach) % count]
                if plan.move_us[load, start, reach - 1] < 0 or there.kind == "aboard" or there.lane != "upper":
                    continue
                way_m = (there.axis_m - here.axis_m) % layout.loop_m
                if there.travel_m - way_m - half_m < zone.to_m and zone.from_m < there.travel_m + half_m:
                    peaks.append(carrier_limits(line, load == 1, way_m).move.peak_speed_m_s)
        told = [
            one["speed_m_s"]
            for one in result(line).stops.rows()
            if one["cause"] == "plan" and one["loaded"] == bool(load)
        ]
        assert len(peaks) > 1
        assert max(peaks) > min(peaks) + 0.1
        assert told == pytest.approx([max(peaks)] * 2)


@pytest.mark.parametrize("path", ["ways/ring.yaml", "ways/to-and-fro.yaml"])
def test_plan_speed_on_other_tracks(path: str) -> None:
    line = load_line(EXAMPLES / path)
    planned = [one["speed_m_s"] for one in result(line).stops.rows() if one["cause"] == "plan"]
    assert planned
    assert all(0.3 < speed_m_s <= line.conveyor.drive.speed_m_s for speed_m_s in planned)


def test_the_table_has_every_case() -> None:
    rows = result(safety_line()).stops.rows()
    assert {(one["case"], one["cause"], one["loaded"]) for one in rows} == {
        (case, cause, loaded)
        for case in ("powered", "coast")
        for cause in ("plan", "fault")
        for loaded in (True, False)
    }
    by_key = {(one["case"], one["cause"], one["loaded"]): one for one in rows}
    loaded = by_key["coast", "fault", True]
    assert loaded["mass_kg"] == pytest.approx(0.7)
    assert loaded["distance_m"] == pytest.approx(0.1)  # from one end stop to the other
    tried = [coast_over(0.7, 1.85 * k / 2000, 0.6, 0.1).time_s for k in range(1, 2001)]
    assert loaded["time_s"] - 0.009 == pytest.approx(max(tried), rel=0.01)
    assert loaded["time_s"] - 0.009 >= max(tried)
    assert loaded["time_s"] > by_key["coast", "fault", False]["time_s"]
    powered = by_key["powered", "fault", True]
    assert powered["time_s"] == pytest.approx(0.009 + 1.85 / 14.0 + 14.0 / 260.0)


def test_without_end_stops_it_coasts_all_the_way() -> None:
    line = safety_line(KEYS.replace("end_stops: 50 mm, ", ""))
    (loaded,) = [
        one
        for one in result(line).stops.rows()
        if (one["case"], one["cause"], one["loaded"]) == ("coast", "fault", True)
    ]
    assert loaded["distance_m"] == pytest.approx(1.85 * 0.009 + 0.7 * 1.85**2 / (2.0 * 0.6))
    assert loaded["time_s"] == pytest.approx(0.009 + 0.7 * 1.85 / 0.6)


def test_without_stated_stops_the_table_has_only_what_is_known() -> None:
    cases = {one["case"] for one in result(on_sheet(safety_line(), coasting=None)).stops.rows()}
    assert cases == {"powered"}
    assert len(result(on_sheet(safety_line(), stopping=None)).stops) == 0


@pytest.mark.parametrize("speed_m_s", [-0.1, math.nan, math.inf])
def test_impossible_speeds(speed_m_s: float) -> None:
    with pytest.raises(ValueError, match="speed_m_s"):
        powered_stop(speed_m_s, 0.01, 10.0)
    with pytest.raises(ValueError, match="speed_m_s"):
        kinetic_energy_J(1.0, speed_m_s)


def test_impossible_figures() -> None:
    for bad in (-1.0, math.nan):
        with pytest.raises(ValueError, match="reaction_s"):
            powered_stop(1.0, bad, 10.0)
        with pytest.raises(ValueError, match="deceleration_m_s2"):
            powered_stop(1.0, 0.0, bad)
        with pytest.raises(ValueError, match="jerk_m_s3"):
            powered_stop(1.0, 0.0, 1.0, bad)
        with pytest.raises(ValueError, match="mass_kg"):
            kinetic_energy_J(bad, 1.0)
        with pytest.raises(ValueError, match="capacitance_F"):
            stored_energy_J(bad, 1.0)
        with pytest.raises(ValueError, match="voltage_V"):
            stored_energy_J(1.0, bad)
        with pytest.raises(ValueError, match="height_m"):
            fall_speed_m_s(bad)
        with pytest.raises(ValueError, match="gap_m"):
            crush_gap(bad)
        for distance in (light_curtain_distance, scanner_distance, interlocked_distance):
            with pytest.raises(ValueError, match="stop_time_s"):
                distance(bad, 0.014)
        with pytest.raises(ValueError, match="resolution_m"):
            light_curtain_distance(0.1, bad)
        with pytest.raises(ValueError, match="height_m"):
            scanner_distance(0.1, bad)
        with pytest.raises(ValueError, match="height_m"):
            coarsest_scanner_m(bad)
        with pytest.raises(ValueError, match="reach_through_m"):
            interlocked_distance(0.1, bad)


def test_forms_that_are_not_held_are_refused() -> None:
    with pytest.raises(ValueError, match="resolution_m"):
        light_curtain_distance(0.1, 0.041)
    with pytest.raises(ValueError, match="height_m"):
        scanner_distance(0.1, 1.001)


def test_light_curtain_at_its_knees() -> None:
    assert light_curtain_distance(0.0, 0.014).distance_m == 0.1
    assert light_curtain_distance(0.2, 0.005).distance_m == pytest.approx(0.4)  # no reward for less than 14 mm
    just_over = light_curtain_distance(0.2501, 0.014)
    assert just_over.distance_m == 0.5
    assert just_over.approach_m_s == 1.6
    assert light_curtain_distance(0.3125, 0.014).distance_m == pytest.approx(0.5)
    assert light_curtain_distance(0.32, 0.014).distance_m > 0.5


def test_a_gap_just_short_spares_nothing_more() -> None:
    assert crush_gap(0.0249999).spared == ()
    assert crush_gap(0.025).spared == ("finger",)
    assert crush_gap(0.5).crushed == ()
