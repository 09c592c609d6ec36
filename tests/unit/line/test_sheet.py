"""The built-in sheets: every figure that the families are known by, and that they are marked as invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from linewright.line.load import BUILT_IN_SHEETS, load_sheet
from linewright.line.sheet import Sheet

DATA = Path(__file__).parents[2] / "data"


def figures(sheet: Sheet) -> dict[str, object]:
    assert sheet.allowed_force is not None
    assert sheet.supply is not None
    assert sheet.image is not None
    assert sheet.most is not None
    assert sheet.upkeep is not None
    drive = sheet.drive
    return {
        "sections": tuple(section.length_m for section in sheet.sections),
        "carrier": (
            sheet.carrier.length_m,
            sheet.carrier.width_m,
            sheet.carrier.mass_kg,
            sheet.carrier.payload_kg,
        ),
        "least pitch": sheet.least_pitch_m,
        "motion": (drive.speed_m_s, drive.acceleration_m_s2, drive.jerk_m_s3),
        "thrust": (max(force for _, force in drive.thrust), drive.continuous_thrust_N),
        "force": (sheet.allowed_force.down_N, sheet.allowed_force.across_N, sheet.allowed_force.along_N),
        "repeatability": sheet.repeatability_m,
        "supply": (sheet.supply.voltage_V, sheet.supply.current_A),
        "most": (sheet.most.carriers, sheet.most.sections),
        "image": (sheet.image.bytes_per_carrier, sheet.image.cycle_s),
        "relubrication": (sheet.upkeep.relubrication_travel_m, sheet.upkeep.relubrication_months),
    }


def test_demo_light() -> None:
    assert figures(load_sheet("demo-light")) == {
        "sections": (0.276, 0.368, 0.736),
        "carrier": (0.084, 0.112, 0.38, 0.9),
        "least pitch": 0.092,
        "motion": (1.85, 14.0, 260.0),
        "thrust": (29.0, 11.0),
        "force": (150.0, 42.0, 9.0),
        "repeatability": 18e-6,
        "supply": (42.0, 24.0),
        "most": (56, 30),
        "image": (18, 1.5e-3),
        "relubrication": (1.4e6, 14.0),
    }


def test_demo_heavy() -> None:
    sheet = load_sheet("demo-heavy")
    assert figures(sheet) == {
        "sections": (0.385, 0.77, 1.155),
        "carrier": (0.236, 0.188, 3.4, 11.0),
        "least pitch": 0.265,
        "motion": (2.35, 9.0, 120.0),
        "thrust": (165.0, 62.0),
        "force": (1350.0, 520.0, 55.0),
        "repeatability": 32e-6,
        "supply": (56.0, 45.0),
        "most": (44, 26),
        "image": (26, 2.5e-3),
        "relubrication": (2.3e6, 16.0),
    }
    assert sheet.drive.thrust == ((0.0, 165.0), (1.7, 165.0), (2.35, 80.0))


@pytest.mark.parametrize("name", BUILT_IN_SHEETS)
def test_built_in_sheets_say_that_they_are_invented(name: str) -> None:
    sheet = load_sheet(name)
    assert sheet.name == name
    assert sheet.invented
    assert "invented" in sheet.maker_note
    assert set(sheet.transfers) == {"lift", "cross-transfer"}


@pytest.mark.parametrize("name", BUILT_IN_SHEETS)
def test_figures_of_a_built_in_sheet_agree_with_each_other(name: str) -> None:
    sheet = load_sheet(name)
    drive = sheet.drive
    assert sheet.magnets is not None
    assert sheet.supply is not None
    assert 0.010 <= sheet.reaction.start_handshake_s <= 0.025
    assert 0.010 <= sheet.reaction.done_handshake_s <= 0.025
    assert 0.010 <= sheet.reaction.follow_s <= 0.025
    assert 0.030 <= sheet.settling_s <= 0.060
    assert sheet.magnets.attraction_N > 3 * max(force for _, force in drive.thrust)
    assert drive.nominal_voltage_V == sheet.supply.voltage_V < sheet.supply.trip_V <= 60.0
    reach_m_s = drive.thrust[-1][0] * drive.lowest_voltage_V / drive.nominal_voltage_V
    assert reach_m_s >= 0.85 * drive.speed_m_s


def test_the_ideal_sheet_of_tests_exchanges_in_no_time() -> None:
    sheet = load_sheet(DATA / "ideal-sheet.yaml")
    pitch_m, limit = sheet.least_pitch_m, sheet.drive.acceleration_m_s2
    jerk_time_s = limit / sheet.drive.jerk_m_s3
    mean_work_s = 100.0  # of the lines that are held to exact solutions
    assert 2 * (pitch_m / limit) ** 0.5 + 2 * jerk_time_s < 1e-4 * mean_work_s
    assert sheet.drive.thrust[0][1] > 2 * limit * (sheet.carrier.mass_kg + 0.01)
    assert sheet.settling_s == sheet.reaction.follow_s == sheet.transfers["lift"].lock_s == 0.0


def test_places_of_a_sheet() -> None:
    place = load_sheet("demo-heavy").place("drive", "speed")
    assert place is not None
    assert (place.file, place.column) == ("built-in sheet demo-heavy", 3)
