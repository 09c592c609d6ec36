"""Lanes are cut so that joints keep off the stations that ask for it."""

from __future__ import annotations

import pytest

from linewright.errors import LineFileError
from linewright.layout import check_layout, lay_out
from linewright.line.load import read_line
from linewright.line.patterns import pattern_text
from unit.layout.layout_lines import LineText


def test_the_cut_keeps_its_joints_off_on_either_lane() -> None:
    plain = LineText((("load", "upper", 1155.0, ""), ("press", "lower", 2695.0, "")))
    asking = LineText(
        (("load", "upper", 1155.0, ", no_joint: 120 mm"), ("press", "lower", 2695.0, ", no_joint: 90 mm"))
    )
    free, kept = lay_out(plain.line()), lay_out(asking.line())
    for layout, clear in ((free, False), (kept, True)):
        for name, distance_m in (("load", 0.12), ("press", 0.09)):
            stop = layout.stop_of(name)
            nearest = min(abs(joint_m - stop.travel_m) for joint_m in layout.lane(stop.lane).joints_travel_m)
            assert (nearest >= distance_m - 1e-9) == clear
    assert sum(kept.lane("upper").sections) == pytest.approx(sum(free.lane("upper").sections))
    (row,) = [one for one in check_layout(asking.line(), kept) if one.code == "joint-distance"]
    assert row.verdict == "holds"
    assert row.value is not None
    assert row.limit is not None
    assert row.value >= row.limit
    assert not any(one.code == "joint-distance" for one in check_layout(plain.line(), free))


def test_a_lane_of_one_section_has_no_joint() -> None:
    asking = LineText((("load", "upper", 600.0, ", no_joint: 200 mm"),), length_mm=1155.0)
    (row,) = [one for one in check_layout(asking.line(), lay_out(asking.line())) if one.code == "joint-distance"]
    assert (row.verdict, row.value, row.margin) == ("holds", None, None)
    assert "has no joint" in row.where


def test_what_no_cut_can_keep_is_told_at_the_station() -> None:
    asking = LineText(
        (("load", "upper", 500.0, ", no_joint: 100 mm"), ("press", "upper", 2000.0, ", no_joint: 700 mm"))
    )
    with pytest.raises(LineFileError) as raised:
        lay_out(asking.line())
    (fault,) = raised.value.faults
    assert "no row of the sheet's sections keeps its joints 700 mm off" in fault.found
    assert asking.line().place("stations", "press", "no_joint") == fault.place


def test_a_ring_cannot_keep_joints_off() -> None:
    text = pattern_text("ring")
    changed = text.replace("along: 2500 mm, time", "along: 2500 mm, no_joint: 50 mm, time")
    assert changed != text
    with pytest.raises(LineFileError, match="is a ring; leave it out: only straight lanes are cut"):
        read_line(changed)
