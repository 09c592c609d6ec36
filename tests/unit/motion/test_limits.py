"""Which figure limits a move: each in turn, the errors, and the line's own figures."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from linewright.errors import LinewrightError
from linewright.line.load import load_sheet
from linewright.motion import (
    Candidate,
    CarrierLimits,
    DriveFigures,
    NoAccelerationError,
    ThrustCurveError,
    carrier_limits,
    governing_limits,
    hold_limits,
    plan_move,
    platform_limits,
    ride_move,
)

DRIVE = DriveFigures(2.0, 10.0, 200.0, ((0.0, 100.0), (1.5, 100.0), (2.5, 50.0)), 3.0, 2.0, 48.0, 48.0)
G = 9.80665


def hold(value: float | None, name: str = "part hold (pocket)") -> tuple[Candidate, ...]:
    return (Candidate(name, "acceleration", value, "test"),)


def values(found: CarrierLimits) -> dict[tuple[str, str], float | None]:
    return {(candidate.name, candidate.quantity): candidate.value for candidate in found.candidates}


# ---- each figure in turn ---------------------------------------------------------------------------------------------


def test_a_long_way_is_governed_by_speed() -> None:
    found = governing_limits(20.0, DRIVE, 2.0)
    assert (found.governs, found.limits.speed_m_s, found.limits.acceleration_m_s2) == ("drive speed", 2.0, 10.0)
    assert found.move == plan_move(20.0, found.limits)


def test_a_middling_way_is_governed_by_acceleration() -> None:
    found = governing_limits(0.3, DRIVE, 2.0)
    assert (found.governs, found.acceleration_set_by) == ("drive acceleration", "drive acceleration")
    assert found.move.peak_acceleration_m_s2 == 10.0


def test_a_short_way_is_governed_by_jerk() -> None:
    found = governing_limits(0.005, DRIVE, 2.0)
    assert found.governs == "jerk"
    assert found.move.peak_acceleration_m_s2 < 10.0
    assert found.saved_per_m_s2_s == 0.0


def test_the_part_governs_where_it_stands_least() -> None:
    found = governing_limits(0.3, DRIVE, 2.0, hold(4.0))
    assert (found.governs, found.acceleration_set_by) == ("part hold (pocket)", "part hold (pocket)")
    assert found.limits.acceleration_m_s2 == 4.0
    assert governing_limits(0.3, DRIVE, 2.0, hold(40.0)).governs == "drive acceleration"
    assert governing_limits(0.3, DRIVE, 2.0, hold(None)).limits == governing_limits(0.3, DRIVE, 2.0).limits


def test_a_heavy_carrier_is_governed_by_thrust() -> None:
    """Below 1.5 m/s thrust is level: (0.8·100 - 3 - 2)/15 = 5 m/s²."""
    found = governing_limits(0.3, DRIVE, 15.0)
    assert (found.governs, found.acceleration_set_by) == ("thrust", "thrust")
    assert found.limits.acceleration_m_s2 == pytest.approx(5.0, rel=1e-15)
    assert found.move.peak_speed_m_s < 1.5


def test_thrust_is_that_at_the_moves_own_peak_speed() -> None:
    """At full speed, 2 m/s, the curve gives 75 N: (60 - 5)/11 = 5 m/s². A long move is best at full speed."""
    found = governing_limits(40.0, DRIVE, 11.0)
    assert found.move.peak_speed_m_s == 2.0
    assert found.limits.acceleration_m_s2 == pytest.approx(5.0, rel=1e-14)
    assert found.acceleration_set_by == "thrust"
    assert found.governs == "drive speed"


def test_without_cruise_peak_speed_and_thrust_agree() -> None:
    """The fixed point: the acceleration that thrust allows at the peak speed that this acceleration leads to."""
    gentle = replace(DRIVE, thrust=((0.0, 100.0), (1.5, 100.0), (2.5, 95.0)))
    found = governing_limits(0.55, gentle, 11.0)
    peak = found.move.peak_speed_m_s
    assert 1.5 < peak < 2.0
    assert found.move.cruise_s == 0.0
    allowed = (0.8 * (100.0 - 5.0 * (peak - 1.5)) - 5.0) / 11.0
    assert found.move.peak_acceleration_m_s2 == pytest.approx(allowed, rel=1e-12)
    assert values(found)["thrust", "acceleration"] == pytest.approx(allowed, rel=1e-12)
    assert found.limits.speed_m_s == 2.0


def test_a_slower_peak_may_be_quicker() -> None:
    """Past its corner this curve falls steeply: the move keeps to where the thrust is."""
    steep = replace(DRIVE, thrust=((0.0, 100.0), (1.0, 100.0), (2.0, 10.0)))
    found = governing_limits(1.0, steep, 7.5)
    assert found.limits.speed_m_s < 1.5
    assert (found.speed_set_by, found.governs) == ("thrust", "thrust")
    full = plan_move(1.0, replace(found.limits, speed_m_s=1.9, acceleration_m_s2=(0.8 * 19.0 - 5.0) / 7.5))
    assert found.move.duration_s < full.duration_s


def test_low_voltage_scales_the_speeds_of_the_curve() -> None:
    low = replace(DRIVE, lowest_voltage_V=36.0)
    found = governing_limits(40.0, low, 1.0)
    assert values(found)["thrust", "speed"] == pytest.approx(2.5 * 0.75)
    assert found.limits.speed_m_s == pytest.approx(1.875)
    assert found.speed_set_by == "thrust"
    level = governing_limits(0.2, low, 15.0)
    assert level.limits.acceleration_m_s2 == pytest.approx(5.0)  # forces stay


def test_what_one_more_metre_per_second_squared_saves() -> None:
    found = governing_limits(0.3, DRIVE, 2.0)
    more = governing_limits(0.3, replace(DRIVE, acceleration_m_s2=11.0), 2.0)
    assert found.saved_per_m_s2_s == pytest.approx(found.move.duration_s - more.move.duration_s, rel=1e-12)
    assert found.saved_per_m_s2_s > 0.0


def test_no_way_at_all() -> None:
    found = governing_limits(0.0, DRIVE, 2.0)
    assert found.move.duration_s == 0.0
    assert (found.limits.speed_m_s, found.limits.acceleration_m_s2) == (2.0, 10.0)


def test_every_candidate_is_listed_with_its_unit_and_source() -> None:
    found = governing_limits(0.3, DRIVE, 2.0, hold(None))
    listed = [(candidate.name, candidate.unit) for candidate in found.candidates]
    assert listed == [("drive speed", "m/s"), ("thrust", "m/s"), ("drive acceleration", "m/s²"), ("thrust", "m/s²"),
                      ("part hold (pocket)", "m/s²"), ("jerk", "m/s³")]  # fmt: skip
    assert all(candidate.source for candidate in found.candidates)
    assert "20 % reserve (common practice)" in found.candidates[3].source


# ---- the quickest of all peak speeds ---------------------------------------------------------------------------------


def by_grid(distance: float, drive: DriveFigures, mass: float) -> float:
    """Least duration over a dense grid of peak speeds, from the rule as it is written."""
    share = drive.lowest_voltage_V / drive.nominal_voltage_V
    speeds = np.array([speed * share for speed, _ in drive.thrust])
    forces = np.array([force for _, force in drive.thrust])
    peaks = np.linspace(1e-4, min(drive.speed_m_s, speeds[-1]), 20001)
    allowed = (0.8 * np.interp(peaks, speeds, forces) - drive.friction_N - drive.cogging_N) / mass
    peaks, allowed = peaks[allowed > 0.0], np.minimum(allowed[allowed > 0.0], drive.acceleration_m_s2)
    reached = peaks >= allowed * allowed / drive.jerk_m_s3
    ramps = np.where(reached, peaks / allowed + allowed / drive.jerk_m_s3, 2.0 * np.sqrt(peaks / drive.jerk_m_s3))
    return float(np.where(peaks * ramps <= distance, distance / peaks + ramps, math.inf).min())


def test_no_other_peak_speed_is_quicker() -> None:
    random = np.random.default_rng(3)
    governed = []
    for _ in range(300):
        speed, points = 0.0, [(0.0, float(random.uniform(20.0, 150.0)))]
        for _ in range(int(random.integers(1, 4))):
            speed += float(random.uniform(0.1, 1.2))
            points.append((speed, points[-1][1] * float(random.uniform(0.0, 1.0))))
        jerk = math.inf if random.random() < 0.3 else float(random.uniform(50.0, 400.0))
        drive = DriveFigures(float(random.uniform(0.5, 3.0)), float(random.uniform(3.0, 30.0)), jerk, tuple(points),
                             float(random.uniform(0.0, 2.0)), float(random.uniform(0.0, 1.0)), 48.0,
                             float(random.uniform(30.0, 48.0)))  # fmt: skip
        mass, distance = float(random.uniform(0.5, 8.0)), float(10.0 ** random.uniform(-2.0, 0.8))
        found = governing_limits(distance, drive, mass)
        governed.append(found.governs)
        best = by_grid(distance, drive, mass)
        assert best * (1.0 - 1e-3) <= found.move.duration_s <= best * (1.0 + 1e-12)
        share = drive.lowest_voltage_V / drive.nominal_voltage_V
        at_peak = np.interp(found.move.peak_speed_m_s, [v * share for v, _ in points], [f for _, f in points])
        allowed = (0.8 * at_peak - drive.friction_N - drive.cogging_N) / mass
        assert found.move.peak_acceleration_m_s2 <= allowed * (1.0 + 1e-9)
    assert all(governed.count(name) >= 15 for name in ("drive speed", "thrust", "jerk", "drive acceleration"))


# ---- errors ----------------------------------------------------------------------------------------------------------


def test_nothing_left_to_accelerate_with() -> None:
    weak = replace(DRIVE, friction_N=60.0, cogging_N=20.0)
    with pytest.raises(
        NoAccelerationError, match=r"2 kg: the thrust at rest, 100 N, .* is 80 N; friction 60 N and cog"
    ):
        governing_limits(0.3, weak, 2.0)
    with pytest.raises(NoAccelerationError, match=r"slip.* allows 0 m/s²"):
        governing_limits(0.3, DRIVE, 2.0, hold(0.0, "part hold (friction, slip)"))
    assert issubclass(NoAccelerationError, LinewrightError)


@pytest.mark.parametrize("mass", [0.0, -1.0, math.nan, math.inf])
def test_the_mass_must_be_positive(mass: float) -> None:
    with pytest.raises(ValueError, match="moving_mass_kg"):
        governing_limits(0.3, DRIVE, mass)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"thrust": ((0.0, 100.0),)}, "at least two points"),
        ({"thrust": ((0.1, 100.0), (1.0, 50.0))}, "the first at 0 m/s"),
        ({"thrust": ((0.0, 100.0), (0.0, 50.0))}, "speeds must rise"),
        ({"thrust": ((0.0, 100.0), (1.0, 120.0))}, "forces must not"),
        ({"lowest_voltage_V": 50.0}, "the lowest not above the nominal"),
        ({"lowest_voltage_V": 0.0}, "must be positive"),
    ],
)
def test_curves_that_cannot_be_used(wrong: dict[str, Any], says: str) -> None:
    with pytest.raises(ThrustCurveError, match=says):
        governing_limits(0.3, replace(DRIVE, **wrong), 2.0)


# ---- the part --------------------------------------------------------------------------------------------------------


def part(kind: str, **figures: float) -> Any:
    held = SimpleNamespace(kind=kind, acceleration_m_s2=figures.get("stands"), coefficient=figures.get("coefficient"),
                           half_base_m=figures.get("half_base"))  # fmt: skip
    return SimpleNamespace(held=held, mass_kg=0.4, mass_height_m=figures.get("height"))


def test_how_a_part_is_held() -> None:
    assert [(c.name, c.value) for c in hold_limits(part("pocket", stands=25.0))] == [("part hold (pocket)", 25.0)]
    assert [(c.name, c.value) for c in hold_limits(part("clamp", stands=31.0))] == [("part hold (clamp)", 31.0)]
    slip, tip = hold_limits(part("friction", coefficient=0.3, half_base=0.02, height=0.024))
    assert (slip.name, tip.name) == ("part hold (friction, slip)", "part hold (friction, tip)")
    assert slip.value == pytest.approx(0.3 * G / 1.5)
    assert tip.value == pytest.approx(G * 0.02 / 0.024 / 1.5)


def test_what_is_not_stated_is_not_checked() -> None:
    for nothing in (None, SimpleNamespace(held=None, mass_kg=0.4, mass_height_m=None)):
        (only,) = hold_limits(nothing)  # type: ignore[arg-type]
        assert (only.name, only.value) == ("part hold", None)
        assert "not stated" in only.source
    slip, tip = hold_limits(part("friction", coefficient=0.3, half_base=0.02))
    assert slip.value is not None
    assert (tip.value, tip.source) == (None, "height of the mass centre or half base is not stated")


def line(held: Any = None, fixture_kg: float | None = 1.1, drive: DriveFigures = DRIVE) -> Any:
    fixture = None if fixture_kg is None else SimpleNamespace(mass_kg=fixture_kg, nests=1)
    conveyor = SimpleNamespace(drive=drive, carrier=SimpleNamespace(mass_kg=3.4))
    return SimpleNamespace(conveyor=conveyor, fixture=fixture, part=held, move_limits=None)


def test_the_moving_mass_and_the_hold_of_a_line() -> None:
    held = part("pocket", stands=5.0)
    empty, loaded = carrier_limits(line(held), False, 0.3), carrier_limits(line(held), True, 0.3)
    assert (empty.moving_mass_kg, loaded.moving_mass_kg) == pytest.approx((4.5, 4.9))
    assert (empty.governs, loaded.governs) == ("drive acceleration", "part hold (pocket)")
    assert loaded.move.duration_s > empty.move.duration_s
    assert carrier_limits(line(None, None), False, 0.3).moving_mass_kg == 3.4
    unknown = carrier_limits(line(None), True, 0.3)
    assert values(unknown)["part hold", "acceleration"] is None
    assert unknown.limits == carrier_limits(line(None), False, 0.3).limits


def test_a_lines_own_ceiling_sets_what_it_is_less_in_and_nothing_else() -> None:
    given = line(None)
    free = carrier_limits(given, False, 3.0)
    given.move_limits = SimpleNamespace(speed_m_s=1.5, acceleration_m_s2=400.0, jerk_m_s3=None)
    slow = carrier_limits(given, False, 3.0)
    assert (slow.limits.speed_m_s, slow.speed_set_by, slow.governs) == (1.5, "own speed", "own speed")
    assert slow.limits.acceleration_m_s2 == pytest.approx(free.limits.acceleration_m_s2)
    assert (slow.acceleration_set_by, slow.jerk_set_by) == ("drive acceleration", "jerk")
    (stated,) = [one for one in slow.candidates if one.name == "own speed"]
    assert stated.source == "line file, move_limits"
    given.move_limits = SimpleNamespace(speed_m_s=None, acceleration_m_s2=4.0, jerk_m_s3=20.0)
    soft = carrier_limits(given, False, 3.0)
    assert (soft.limits.acceleration_m_s2, soft.limits.jerk_m_s3) == (4.0, 20.0)
    assert (soft.acceleration_set_by, soft.jerk_set_by) == ("own acceleration", "own jerk")
    assert soft.move.duration_s > free.move.duration_s


@pytest.mark.parametrize("name", ["demo-light", "demo-heavy"])
def test_the_built_in_sheets_move(name: str) -> None:
    sheet = load_sheet(name)
    given: Any = SimpleNamespace(conveyor=sheet, fixture=None, part=None, move_limits=None)
    found = carrier_limits(given, False, 0.5)
    assert found.limits.acceleration_m_s2 == sheet.drive.acceleration_m_s2
    assert found.moving_mass_kg == sheet.carrier.mass_kg
    assert 0.2 < found.move.duration_s < 1.0
    for transfer in sheet.transfers.values():
        ride = ride_move(transfer, 0.5)
        assert ride == plan_move(0.5, platform_limits(transfer))
        assert ride.peak_speed_m_s <= transfer.speed_m_s
