"""Other lanes within reach of a guarded station, and what the rows of its guard rest on."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from linewright.checks.safety import check_safety, hazard_list
from linewright.layout import lay_out
from linewright.line.model import Line
from linewright.line.tooling import ToolForce
from unit.checks.safety_lines import GUARD, KEYS, codes, on_sheet, result, row, safety_line

UNSTATED = KEYS.replace(", others_out_of_reach: true", "")
LOCKED = (
    "{kind: locked, distance: 200 mm, device: 10 ms, logic: 15 ms, unlocks_after: 800 ms, seen_behind: true, "
    "others_out_of_reach: true}"
)


def with_lower(line: Line, **changed: float) -> Line:
    """The line with its lower lane elsewhere: level, side, and 2208 mm or less long from its west end on."""
    lanes = tuple(one.model_copy(update=changed) if one.name == "lower" else one for one in line.lanes)
    return line.model_copy(update={"lanes": lanes})


def others(line: Line) -> list[str]:
    return [one.verdict for one in result(line).findings if one.code == "other-lane"]


# The carrier is 112 mm wide, more than its fixture, which is 60 mm high; the body is 84 mm long.
def test_a_lane_below_is_asked_about() -> None:
    found = row(safety_line(UNSTATED), "other-lane")
    assert (found.verdict, found.value, found.limit, found.margin) == ("not checked", None, None, None)
    assert "at load lane lower, 260 mm away" in found.where
    assert "others_out_of_reach" in found.remedy
    assert "crush-gap" not in [one.code for one in result(safety_line(UNSTATED)).findings]
    holds = row(safety_line(), "other-lane")
    assert (holds.verdict, holds.value, holds.limit, holds.remedy) == ("holds", pytest.approx(0.26), None, "")
    within = safety_line(KEYS.replace("others_out_of_reach: true", "others_out_of_reach: false"))
    assert codes(within, "fails") == ["other-lane", "crush-gap"]
    assert row(within, "other-lane").remedy.startswith("guarded: ")


@pytest.mark.parametrize(
    ("level_mm", "across_mm", "is_near"),
    [
        (-909.9, 0.0, True),
        (-910.1, 0.0, False),
        (0.0, 905.9, True),
        (0.0, -905.9, True),
        (0.0, 906.1, False),
        (-660.0, 656.0, True),  # 600 mm off both ways: 848.5 mm
        (-662.0, 658.0, False),  # 602 mm both ways: 851.4 mm
    ],
)
def test_reach_is_counted_across_and_in_height(level_mm: float, across_mm: float, is_near: bool) -> None:
    line = with_lower(safety_line(), level_m=level_mm / 1000, across_m=across_mm / 1000)
    assert others(line) == (["holds"] if is_near else [])


@pytest.mark.parametrize(("west_mm", "away_mm"), [(700.0, 260.0), (942.0, math.hypot(200, 260)), (1600.0, None)])
def test_a_lane_that_begins_beyond_the_station_is_farther(west_mm: float, away_mm: float | None) -> None:
    line = with_lower(safety_line(), west_end_m=west_mm / 1000)
    layout = lay_out(safety_line())  # of a line whose lanes end together, so that its lifts fit
    lanes = tuple(replace(one, west_end_m=west_mm / 1000) if one.name == "lower" else one for one in layout.lanes)
    rows = [one for one in check_safety(line, replace(layout, lanes=lanes)).findings if one.code == "other-lane"]
    assert [one.value for one in rows] == ([] if away_mm is None else [pytest.approx(away_mm / 1000)])


def test_without_a_guard_or_another_lane_nothing_is_asked() -> None:
    assert others(safety_line("")) == []


def test_rows_that_count_end_stops_say_what_that_rests_on() -> None:
    counted = safety_line()
    bare = safety_line(KEYS.replace("end_stops: 50 mm, ", ""))
    for code in ("stop-time", "safety-distance"):
        assert "if they absorb the blow: a rebound is not reckoned" in row(counted, code).where
        assert "absorb" not in row(bare, code).where
        assert "absorb" not in row(on_sheet(counted, coasting={"least_drag_N": 50.0}), code).where  # stands before
    assert "is enough if they absorb the blow" in row(bare, "safety-distance").remedy
    locked = row(safety_line(KEYS.replace(GUARD, LOCKED)), "unlock-time")
    assert "a rebound is not reckoned" in locked.where
    assert "only if its lock holds without power and it opens from inside" in locked.where


def test_the_tool_is_in_no_time_and_crushes_by_hand_too() -> None:
    line = safety_line()
    assert "tool" not in row(line, "safety-distance").where
    pressed = line.station("load").model_copy(update={"force": (ToolForce(down_N=900.0, greatest_N=1300.0),)})
    line = line.model_copy(update={"stations": tuple(pressed if s.name == "load" else s for s in line.stations)})
    assert "the tool's own stop is in none of these times" in row(line, "safety-distance").where
    found = {one["hazard"]: one["where"] for one in hazard_list(line).rows() if "900 N set" in one["known"]}
    assert found == {
        "crushing under the tool": "station load",
        "force by hand, again and again": "station load",
    }


def test_the_voltage_without_a_resistor_is_told_in_words_alone() -> None:
    line = safety_line()
    layout = lay_out(line)
    for code in ("extra-low-voltage", "stored-charge"):
        (plain,) = [one for one in check_safety(line, layout, 52.0).findings if one.code == code]
        (told,) = [one for one in check_safety(line, layout, 52.0, 175.3).findings if one.code == code]
        assert "with a braking resistor gone, a single fault, 175.3 V" in told.where
        assert "single fault" not in plain.where
        assert (told.verdict, told.value, told.margin) == (plain.verdict, plain.value, plain.margin)
        (less,) = [one for one in check_safety(line, layout, 52.0, 53.0).findings if one.code == code]
        assert "single fault" not in less.where  # below the trip that counts anyway


def test_end_stops_are_not_proposed_without_the_zone_that_they_need() -> None:
    keys = KEYS.replace("end_stops: 50 mm, ", "").replace(GUARD, LOCKED)
    zone = "motor_zones: {{hands: {{lane: upper, from: {} mm, to: {} mm}}}}\nenvironment: {{dry: true}}\n"
    short = safety_line(keys, zone.format(580, 820))
    for code in ("unlock-time", "coast-in"):
        remedy = row(short, code).remedy
        told = re.search(r"end_stops: ([\d.]+) mm\) and a motor zone of (\d+) mm or more", remedy)
        assert told, remedy
        assert (told[1], told[2]) == ("47", "131")  # 1.1 times half a body, and a body of 84 mm more
    reach = 131
    fitted = keys.replace("motor_zone", "end_stops: 47 mm, motor_zone")
    assert row(safety_line(fitted, zone.format(700 - reach, 700 + reach)), "coast-in").verdict == "tight"
    assert row(safety_line(fitted, zone.format(701 - reach, 699 + reach)), "coast-in").verdict == "fails"
    beside = zone.format(580, 820).replace("}}\nenv", "}, more: {lane: upper, from: 825 mm, to: 1200 mm}}\nenv")
    tied = safety_line(keys, beside)
    assert "end_stops" not in row(tied, "unlock-time").remedy + row(tied, "coast-in").remedy
    long = safety_line(keys, zone.format(540, 860))
    assert "end_stops: 47 mm), with which" in row(long, "unlock-time").remedy
