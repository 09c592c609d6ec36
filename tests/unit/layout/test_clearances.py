"""The findings on the track: each one made to fail by a line that has just that shortcoming."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewright.findings import Finding
from linewright.layout import check_layout, lay_out
from linewright.line.model import Line
from unit.layout.layout_lines import LineText

SOUND = (("load", "upper", 700.0, ""), ("press", "upper", 1500.0, ""))


def findings(line: Line, code: str) -> list[Finding]:
    return [one for one in check_layout(line, lay_out(line)) if one.code == code]


def test_a_sound_track_fails_nothing_and_tells_what_was_checked() -> None:
    line = LineText(SOUND).line()
    found = check_layout(line, lay_out(line))
    assert {one.verdict for one in found} <= {"holds", "tight"}
    assert {one.subject for one in found} == {"layout"}
    assert {one.code for one in found} == {
        "lane-sections", "lane-length", "station-centres", "dock-pitch", "carrier-overhang", "dock-reach",
        "platform-length", "carrier-count", "section-count",
    }  # fmt: skip
    assert all(one.remedy == "" for one in found if one.verdict == "holds")
    assert all(one.source for one in found)


def test_a_lane_that_stock_does_not_meet_fails_with_its_surplus() -> None:
    text = LineText(SOUND, length_mm=3700.0)
    upper, lower = findings(text.line(), "lane-sections")
    assert (upper.verdict, lower.verdict) == ("fails", "fails")
    assert upper.value == pytest.approx(0.150)
    assert upper.margin == pytest.approx(-0.150 / 3.7)
    assert "3850 mm" in upper.remedy
    assert "3465 mm" in upper.remedy
    assert upper.place is not None
    assert text.text().splitlines()[upper.place.line - 1].lstrip().startswith("upper:")


def test_lengths_are_said_in_the_units_of_the_file() -> None:
    (upper, _) = findings(LineText(SOUND, length_mm=3700.0, units="inch").line(), "lane-sections")
    assert "151.575 in" in upper.remedy


def test_stations_too_near_fail_at_the_station_downstream() -> None:
    text = LineText((("load", "upper", 700.0, ""), ("press", "upper", 938.5, "")))
    (found,) = [one for one in findings(text.line(), "station-centres") if one.verdict == "fails"]
    assert found.where == "station load to station press"
    assert found.value == pytest.approx(0.2385)
    assert found.limit == pytest.approx(0.265)
    assert found.margin == pytest.approx(-0.1)
    assert found.unit == "m"
    assert "no traffic can be planned" in found.remedy
    assert found.place is not None
    assert text.text().splitlines()[found.place.line - 1].lstrip().startswith("press:")


def test_stations_a_little_over_the_pitch_are_tight() -> None:
    line = LineText((("load", "upper", 700.0, ""), ("press", "upper", 980.0, ""))).line()
    (found,) = findings(line, "station-centres")
    assert found.verdict == "tight"
    assert "no traffic" not in found.remedy


def test_stations_exactly_one_pitch_apart_do_not_fail() -> None:
    line = LineText((("load", "upper", 700.0, ""), ("press", "upper", 965.0, ""))).line()
    assert [one.verdict for one in findings(line, "station-centres")] == ["tight"]
    assert lay_out(line).blocking == ()


def test_a_station_too_near_the_dock_fails() -> None:
    (found,) = [
        one
        for one in findings(LineText((("load", "upper", 3600.0, ""),)).line(), "station-centres")
        if one.verdict == "fails"
    ]
    assert found.where == "station load to dock of east-lift"
    assert found.value == pytest.approx(3.732 - 3.6)


def test_a_station_beyond_the_dock_stop_fails() -> None:
    (found,) = findings(LineText((("load", "upper", 3800.0, ""),)).line(), "station-beyond-dock")
    assert found.verdict == "fails"
    assert (found.value, found.limit) == (pytest.approx(3.8), pytest.approx(3.732))


@pytest.mark.parametrize("at_mm, verdict", [(100.0, "fails"), (118.0, "tight"), (125.0, "tight"), (140.0, "holds")])
def test_overhang_at_a_lane_start(at_mm: float, verdict: str) -> None:
    (found,) = findings(LineText((("load", "upper", at_mm, ""),)).line(), "carrier-overhang")
    assert found.verdict == verdict
    assert (found.value, found.limit) == (pytest.approx(at_mm / 1000), pytest.approx(0.118))


def test_a_fixture_that_hangs_over_the_lane_start() -> None:
    (found,) = findings(LineText((("load", "upper", 140.0, ""),), fixture_mm=320.0).line(), "carrier-overhang")
    assert found.verdict == "fails"
    assert found.limit == pytest.approx(0.160)


def test_a_neighbour_inside_a_keep_clear_stretch_fails() -> None:
    stations = (("load", "upper", 700.0, ""), ("press", "upper", 1100.0, ", keep_clear: 300 mm"))
    (found,) = findings(LineText(stations).line(), "keep-clear")
    assert (found.verdict, found.where) == ("fails", "station load by station press")
    assert (found.value, found.limit) == (pytest.approx(0.400), pytest.approx(0.418))


def test_a_dock_inside_a_keep_clear_stretch_fails() -> None:
    stations = (("load", "upper", 700.0, ""), ("press", "upper", 3400.0, ", keep_clear: 300 mm"))
    (found,) = findings(LineText(stations).line(), "keep-clear")
    assert (found.verdict, found.where) == ("fails", "dock of east-lift by station press")
    assert found.remedy.startswith("move station press")


@pytest.mark.parametrize("apart_mm, verdict", [(0.0, "holds"), (0.95, "tight"), (1.5, "fails")])
def test_lanes_must_meet_on_the_floor(apart_mm: float, verdict: str) -> None:
    line = LineText(SOUND).line()
    layout = lay_out(line)
    upper, lower = layout.lanes
    moved = replace(layout, lanes=(upper, replace(lower, west_end_m=apart_mm / 1000)))
    found = [one for one in check_layout(line, moved) if one.code == "dock-reach"]
    assert [one.verdict for one in found] == [verdict, verdict], "both ends of a lane that is moved as a whole"
    assert found[0].value == pytest.approx(apart_mm / 1000)


def test_a_platform_shorter_than_the_fixture_fails() -> None:
    line = LineText(SOUND, fixture_mm=301.0, carriers=1).line()
    found = findings(line, "platform-length")
    assert [one.verdict for one in found] == ["fails", "fails"]


def test_a_platform_that_does_not_keep_the_pitch_fails_and_blocks() -> None:
    line = LineText(SOUND, platform_mm=270.0).line()
    found = findings(line, "dock-pitch")
    assert [one.verdict for one in found] == ["fails", "fails"]
    assert found[0].value == pytest.approx(0.118 + 0.004 + 0.135)
    assert set(lay_out(line).blocking) == {
        "dock-pitch: dock of east-lift and aboard east-lift",
        "dock-pitch: dock of west-lift and aboard west-lift",
    }


def test_counts_against_the_sheet() -> None:
    line = LineText(SOUND, length_mm=15400.0, carriers=45).line()
    (carriers,) = findings(line, "carrier-count")
    assert (carriers.verdict, carriers.value, carriers.limit) == ("fails", 45.0, 44.0)
    (sections,) = findings(line, "section-count")
    assert (sections.verdict, sections.value, sections.limit) == ("fails", 28.0, 26.0)


def test_counts_that_the_sheet_does_not_state_are_not_checked() -> None:
    line = LineText(SOUND).line()
    line = line.model_copy(update={"conveyor": line.conveyor.model_copy(update={"most": None})})
    (carriers,) = findings(line, "carrier-count")
    assert (carriers.verdict, carriers.limit, carriers.margin) == ("not checked", None, None)
