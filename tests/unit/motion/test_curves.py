"""Moves in a curve: the curve's speed, the hold that takes the side pull too, and what governs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from linewright.line.model import FrictionHold, Held, Line, Part
from linewright.motion.curves import curve_limits, leg_limits, pull_m_s2
from linewright.motion.limits import Candidate, governing_limits, hold_limits
from linewright.motion.profile import Limits, plan_move
from linewright.motion.thrust import DriveFigures
from unit.layout.track_lines import branch_line, ring_line

DRIVE = DriveFigures(
    1.85, 14.0, 260.0, ((0.0, 29.0), (1.4, 29.0), (2.1, 15.0)), 1.1, 0.7, nominal_voltage_V=42.0, lowest_voltage_V=38.0
)
MASS_KG = 0.7
RADIUS_M = 0.24
CURVE_M_S = 1.2
WAYS_M = (0.1, 0.25, 0.6, 1.5, 4.0)


def hold(value: float) -> tuple[Candidate, ...]:
    return (Candidate("part hold (pocket)", "acceleration", value, "test"),)


def with_part(line: Line, held: Held, height_m: float | None = None) -> Line:
    return line.model_copy(update={"part": Part(mass_kg=0.08, held=held, mass_height_m=height_m)})


def test_an_empty_carrier_keeps_the_curve_speed_alone() -> None:
    for way_m in WAYS_M:
        found = curve_limits(way_m, DRIVE, MASS_KG, (), CURVE_M_S, RADIUS_M)
        slow = governing_limits(way_m, replace(DRIVE, speed_m_s=CURVE_M_S), MASS_KG)
        assert found.limits == slow.limits
        assert found.move.peak_speed_m_s <= CURVE_M_S
    assert found.governs == "curve speed"
    assert found.speed_set_by == "curve speed"
    assert ("curve speed", CURVE_M_S) in {(one.name, one.value) for one in found.candidates}


def test_a_curve_faster_than_the_drive_sets_nothing() -> None:
    found = curve_limits(2.0, DRIVE, MASS_KG, (), 9.0, RADIUS_M)
    assert found.limits == governing_limits(2.0, DRIVE, MASS_KG).limits
    assert "curve speed" not in (found.governs, found.speed_set_by)


def test_a_firm_hold_changes_nothing() -> None:
    for way_m in WAYS_M:
        firm = curve_limits(way_m, DRIVE, MASS_KG, hold(40.0), CURVE_M_S, RADIUS_M)
        assert firm.limits == curve_limits(way_m, DRIVE, MASS_KG, (), CURVE_M_S, RADIUS_M).limits


@pytest.mark.parametrize("stands", [2.0, 5.0, 6.5, 9.0, 14.5])
@pytest.mark.parametrize("way_m", WAYS_M)
def test_the_hold_takes_both_and_nothing_quicker_does(way_m: float, stands: float) -> None:
    found = curve_limits(way_m, DRIVE, MASS_KG, hold(stands), CURVE_M_S, RADIUS_M)
    move = found.move
    assert pull_m_s2(move.peak_acceleration_m_s2, move.peak_speed_m_s, RADIUS_M) <= stands * (1 + 1e-9)
    for hundredth in range(1, 101):
        speed = CURVE_M_S * hundredth / 100
        side = speed * speed / RADIUS_M
        if side >= stands:
            break
        thrust = (0.8 * 29.0 - 1.8) / MASS_KG  # the curve's speed is below the knee of the thrust
        most = min(math.sqrt(stands**2 - side**2), thrust, DRIVE.acceleration_m_s2)
        other = plan_move(way_m, Limits(speed, most, DRIVE.jerk_m_s3))
        if pull_m_s2(other.peak_acceleration_m_s2, other.peak_speed_m_s, RADIUS_M) <= stands:
            assert move.duration_s <= other.duration_s + 1e-9


def test_what_governs_is_named() -> None:
    weak = curve_limits(1.5, DRIVE, MASS_KG, hold(5.0), CURVE_M_S, RADIUS_M)
    assert (weak.speed_set_by, weak.acceleration_set_by) == ("side pull", "side pull")
    assert weak.governs == "side pull"
    assert weak.move.peak_speed_m_s < math.sqrt(5.0 * RADIUS_M)
    (side,) = [one for one in weak.candidates if one.name == "side pull"]
    assert side.value == pytest.approx(weak.move.peak_speed_m_s**2 / RADIUS_M)
    assert weak.saved_per_m_s2_s > 0.0
    fast = curve_limits(4.0, DRIVE, MASS_KG, hold(9.0), CURVE_M_S, RADIUS_M)
    assert fast.speed_set_by == "curve speed"
    assert fast.limits.acceleration_m_s2 == pytest.approx(math.sqrt(81.0 - 36.0), rel=1e-6)


def test_the_search_gives_the_same_every_time() -> None:
    one, other = (curve_limits(0.6, DRIVE, MASS_KG, hold(5.0), CURVE_M_S, RADIUS_M) for _ in range(2))
    assert one == other


def test_a_line_takes_hold_and_curve_from_its_file() -> None:
    line = with_part(ring_line(300, 900), Held(pocket_m_s2=7.0))
    loaded, empty = leg_limits(line, True, 1.0, True), leg_limits(line, False, 1.0, True)
    assert loaded.move.duration_s > empty.move.duration_s
    assert pull_m_s2(loaded.limits.acceleration_m_s2, loaded.move.peak_speed_m_s, 0.24) == pytest.approx(7.0)
    assert leg_limits(line, True, 1.0, False).limits.speed_m_s > 1.2, "no curve on the straight"
    friction = Held(friction=FrictionHold(coefficient=0.6, half_base_m=0.02))
    slipping = leg_limits(with_part(ring_line(300, 900), friction, 0.05), True, 1.0, True)
    tips_at = min(one.value for one in hold_limits(with_part(line, friction, 0.05).part) if one.value is not None)
    assert pull_m_s2(slipping.move.peak_acceleration_m_s2, slipping.move.peak_speed_m_s, 0.24) == pytest.approx(tips_at)
    sheet = branch_line().conveyor.model_copy(update={"curve": None})
    with pytest.raises(ValueError, match="states none"):
        leg_limits(branch_line().model_copy(update={"conveyor": sheet}), False, 1.0, True)
