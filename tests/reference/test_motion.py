"""Moves and ramps against data/motion.json: cases computed by closed forms and by a general trajectory library."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from linewright.motion import Limits, Move, move_times, plan_move, plan_ramp

DATA = Path(__file__).parent / "data" / "motion.json"
RECORDS: dict[str, dict[str, Any]] = {record["id"]: record for record in json.loads(DATA.read_text("utf-8"))}
MOVES = sorted(name for name in RECORDS if name.startswith(("scurve_rest", "trapezoid")))
STOPS = sorted(name for name in RECORDS if name.startswith("stop_ramp"))


def limits_of(inputs: dict[str, Any]) -> Limits:
    return Limits(inputs["v_max"], inputs["a_max"], float(inputs["j_max"]), inputs["d_max"])


def planned(name: str) -> Move:
    inputs = RECORDS[name]["inputs"]
    return plan_move(inputs["distance"], limits_of(inputs))


def test_the_records_are_all_there() -> None:
    assert (len(MOVES), len(STOPS)) == (18, 3)
    assert all(record["tol"] == "rel 1e-9" and record["source"] for record in RECORDS.values())


@pytest.mark.parametrize("name", MOVES)
def test_duration_and_peaks(name: str) -> None:
    expected, move = RECORDS[name]["expected"], planned(name)
    assert move.duration_s == pytest.approx(expected["duration_s"], rel=1e-9)
    assert move.peak_speed_m_s == pytest.approx(expected["peak_speed"], rel=1e-9)
    if "peak_accel" in expected:
        assert move.peak_acceleration_m_s2 == pytest.approx(expected["peak_accel"], rel=1e-9)
        assert move.peak_deceleration_m_s2 == pytest.approx(expected["peak_decel"], rel=1e-9)
    inputs = RECORDS[name]["inputs"]
    (time,) = move_times([inputs["distance"]], limits_of(inputs))
    assert time == pytest.approx(expected["duration_s"], rel=1e-9)


@pytest.mark.parametrize("name", [name for name in MOVES if "segment_times_s" in RECORDS[name]["expected"]])
def test_segments(name: str) -> None:
    """Jerk, hold and jerk of both ramps, and the cruise.

    Compared phase by phase: where no limit is reached the records run two stretches of one jerk together.
    """
    move = planned(name)
    up, down = move.speeding_up, move.slowing_down
    jerk_up, hold_up, mid, cruise, tail, hold_down, last = RECORDS[name]["expected"]["segment_times_s"]
    assert up.jerk_time_s == pytest.approx(jerk_up, abs=1e-11)
    assert up.hold_time_s == pytest.approx(hold_up, abs=1e-11)
    assert move.cruise_s == pytest.approx(cruise, abs=1e-11)
    assert up.jerk_time_s + down.jerk_time_s == pytest.approx(mid + tail, abs=1e-11)
    assert down.hold_time_s == pytest.approx(hold_down, abs=1e-11)
    assert down.jerk_time_s == pytest.approx(last, abs=1e-11)


@pytest.mark.parametrize("name", MOVES)
def test_samples(name: str) -> None:
    """Times and values are printed to 1e-12; what half a digit of the time makes of a value is allowed for."""
    move, jerk = planned(name), float(RECORDS[name]["inputs"]["j_max"])
    steps = [segment.start_s for segment in move.segments] if math.isinf(jerk) else []
    for sample in RECORDS[name]["expected"]["samples"]:
        time = sample["t"]
        assert move.position_m(time) == pytest.approx(sample["p"], rel=1e-9, abs=1e-12 * (1 + move.peak_speed_m_s))
        assert move.speed_m_s(time) == pytest.approx(sample["v"], rel=1e-9, abs=1e-12 * 30)
        if all(abs(time - step) > 1e-9 for step in steps):  # on a step of the acceleration its value is a convention
            spread = 1e-12 * (1 + (jerk if math.isfinite(jerk) else 0.0))
            assert move.acceleration_m_s2(time) == pytest.approx(sample["a"], rel=1e-9, abs=spread)


def test_what_a_jerk_limit_costs() -> None:
    record = RECORDS["jerk_limit_given"]
    inputs, expected = record["inputs"], record["expected"]
    speed, acceleration, distance = inputs["v_max"], inputs["a_max"], inputs["distance"]
    trapezoid = plan_move(distance, Limits(speed, acceleration, math.inf)).duration_s
    assert trapezoid == pytest.approx(expected["trapezoid_s"], rel=1e-9)
    for jerk, duration in zip(inputs["j_max"], expected["durations_s"], strict=True):
        planned_s = plan_move(distance, Limits(speed, acceleration, jerk)).duration_s
        assert planned_s == pytest.approx(duration, rel=1e-9)
        assert planned_s - trapezoid == pytest.approx(acceleration / jerk, rel=1e-6)


@pytest.mark.parametrize("name", STOPS)
def test_a_stop_from_full_speed(name: str) -> None:
    inputs, expected = RECORDS[name]["inputs"], RECORDS[name]["expected"]
    ramp = plan_ramp(inputs["v0"], inputs["d_max"], inputs["j_max"])
    assert ramp.duration_s == pytest.approx(expected["time_s"], rel=1e-9)
    assert ramp.travel_m == pytest.approx(expected["distance_m"], rel=1e-9)
    assert ramp.peak_m_s2 == pytest.approx(expected["peak_decel"], rel=1e-9)
