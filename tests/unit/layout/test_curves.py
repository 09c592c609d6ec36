"""The gap inside a curve against two rectangles measured edge by edge, and what a ring's pitch makes of it."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from linewright.layout import curve_pitch_m, lay_out, least_gap_m, least_pitch_m, ring_pitch_m
from unit.layout.track_lines import HALF_M, PITCH_M, branch_line, ring_line

Point = tuple[float, float]
CASES = [(0.24, 0.112, 0.084, 0.006), (0.42, 0.188, 0.236, 0.008), (0.15, 0.2, 0.1, 0.0), (1.0, 0.05, 0.6, 0.02)]


def body(centre: Point, heading: float, length_m: float, width_m: float) -> list[Point]:
    """The corners of a rectangle."""
    along, across = (math.cos(heading), math.sin(heading)), (-math.sin(heading), math.cos(heading))
    return [
        (centre[0] + x * along[0] + y * across[0], centre[1] + x * along[1] + y * across[1])
        for x, y in (
            (length_m / 2, width_m / 2),
            (-length_m / 2, width_m / 2),
            (-length_m / 2, -width_m / 2),
            (length_m / 2, -width_m / 2),
        )
    ]


def to_edge(point: Point, one: Point, other: Point) -> float:
    """Distance of a point from a stretch between two others."""
    dx, dy = other[0] - one[0], other[1] - one[1]
    share = ((point[0] - one[0]) * dx + (point[1] - one[1]) * dy) / (dx * dx + dy * dy)
    share = min(max(share, 0.0), 1.0)
    return math.dist(point, (one[0] + share * dx, one[1] + share * dy))


def apart(one: list[Point], other: list[Point]) -> float:
    """Distance of two polygons that do not touch: a corner of one from an edge of the other."""
    pairs = [(one, other), (other, one)]
    return min(to_edge(p, a, b) for ours, theirs in pairs for p in ours for a, b in pairwise([*theirs, theirs[0]]))


def on_track(travel_m: float, radius_m: float) -> tuple[Point, float]:
    """Place and heading on a track that runs straight up to 0 and then turns to the left for ever."""
    if travel_m <= 0.0:
        return (travel_m, 0.0), 0.0
    turn = travel_m / radius_m
    return (radius_m * math.sin(turn), radius_m * (1.0 - math.cos(turn))), turn


def gap(first_m: float, second_m: float, radius_m: float, width_m: float, body_m: float) -> float:
    bodies = [body(*on_track(place_m, radius_m), body_m, width_m) for place_m in (first_m, second_m)]
    return apart(*bodies)


@pytest.mark.parametrize(("radius_m", "width_m", "body_m", "gap_m"), CASES)
def test_the_gap_is_just_the_one_asked_for(radius_m: float, width_m: float, body_m: float, gap_m: float) -> None:
    pitch_m = curve_pitch_m(radius_m, width_m, body_m, gap_m)
    assert pitch_m is not None
    assert gap(0.1, 0.1 + pitch_m, radius_m, width_m, body_m) == pytest.approx(gap_m, abs=1e-12)
    if width_m > body_m / 3:
        assert pitch_m > body_m + gap_m, "bodies turn their inner corners to each other"


@pytest.mark.parametrize(("radius_m", "width_m", "body_m", "gap_m"), CASES)
def test_with_one_on_the_straight_the_gap_is_no_less(
    radius_m: float, width_m: float, body_m: float, gap_m: float
) -> None:
    pitch_m = ring_pitch_m(radius_m, (2.0,), width_m, body_m, gap_m)
    assert pitch_m is not None
    gaps = [
        gap(-pitch_m * share / 400, pitch_m - pitch_m * share / 400, radius_m, width_m, body_m) for share in range(401)
    ]
    assert min(gaps) >= gap_m - 2e-7
    assert min(gaps) == pytest.approx(gap_m, abs=2e-5)
    assert least_gap_m(radius_m, 2.0, width_m, body_m, pitch_m) == pytest.approx(min(gaps), abs=1e-5)


def test_a_long_narrow_body_needs_more_where_one_stands_on_the_straight() -> None:
    long_m, round_m = ring_pitch_m(1.0, (2.0,), 0.05, 0.6, 0.02), curve_pitch_m(1.0, 0.05, 0.6, 0.02)
    assert long_m is not None
    assert round_m is not None
    assert long_m > round_m + 0.004
    assert ring_pitch_m(0.24, (2.0, 0.05), 0.112, 0.084, 0.006) == curve_pitch_m(0.24, 0.112, 0.084, 0.006)


def test_bodies_that_touch_have_a_gap_below_nought() -> None:
    assert least_gap_m(0.24, 2.0, 0.112, 0.084, 0.07) < -0.01
    assert least_gap_m(1e6, 2.0, 0.1, 0.2, 0.25) == pytest.approx(0.05, abs=1e-6)


def test_no_pitch_where_the_curve_is_too_narrow() -> None:
    assert curve_pitch_m(0.1, 0.2, 0.1, 0.006) is None
    assert curve_pitch_m(0.12, 0.2, 0.3, 0.2) is None
    assert curve_pitch_m(0.24, 0.112, 0.084, 9.0) is None


def test_a_ring_keeps_the_pitch_of_its_curves_everywhere() -> None:
    line = ring_line(300, 900)
    due_m = curve_pitch_m(0.24, 0.112, 0.084, 0.006)
    assert due_m is not None
    assert due_m > PITCH_M
    assert least_pitch_m(line) == lay_out(line).pitch_m == due_m
    assert least_pitch_m(branch_line()) == PITCH_M, "a curve in the sheet alone is no ring"


def test_a_wide_fixture_asks_for_more_and_one_too_wide_blocks() -> None:
    plain, wide, too_wide = (
        lay_out(ring_line(300, 900, more=f"fixture: {{mass: 0.1 kg, envelope: [84 mm, {mm} mm, 50 mm]}}"))
        for mm in (80, 180, 490)
    )
    assert plain.pitch_m < wide.pitch_m
    assert (plain.blocking, wide.blocking) == ((), ())
    assert too_wide.blocking == ("inside-gap: ring round",)


def test_a_ring_lies_as_two_straights_and_turns() -> None:
    layout = lay_out(ring_line(300, 900, short_mm=368))
    lane = layout.lanes[0]
    turn_m = 0.24 * math.pi / 2
    assert lane.length_m == layout.loop_m == pytest.approx(2 * 1.472 + 2 * 0.368 + 4 * turn_m)
    assert [piece.is_curved for piece in lane.pieces] == [False, True] * 4
    assert sum(lane.sections) == pytest.approx(lane.length_m)
    assert len(lane.joints_travel_m) == len(lane.sections) - 1
    assert lane.floor_point(0.3) == pytest.approx((0.24 + 0.3, 0.0)), "its western edge is the lane's west end"
    opposite_m = 1.472 + 2 * turn_m + 0.368
    assert lane.floor_point(opposite_m) == pytest.approx((0.24 + 1.472, 0.368 + 0.48)), "it turns to greater across"
    assert lane.floor_point(lane.length_m + 0.1) == pytest.approx(lane.floor_point(0.1))


def test_a_half_turn_of_quarter_sections_is_two_sections() -> None:
    lane = lay_out(ring_line(300, 900)).lanes[0]
    turn_m = 0.24 * math.pi / 2
    assert sum(section == pytest.approx(turn_m) for section in lane.sections) == 4
    assert sum(lane.sections) == pytest.approx(lane.length_m)


def test_a_body_touches_a_curve_before_its_centre_does() -> None:
    lane = lay_out(ring_line(300, 900)).lanes[0]
    turn_m, round_m = 0.24 * math.pi, lane.length_m
    assert not lane.touches_curve(0.2 - HALF_M, 1.472)
    assert lane.touches_curve(0.2 - HALF_M, 1.472 + 1e-6)
    assert not lane.touches_curve(1.472 + turn_m, 2 * 1.472 + turn_m)
    assert lane.touches_curve(0.1, round_m), "once round"
    assert lane.touches_curve(-HALF_M, 0.2), "the curve before the start"
    assert not lane.touches_curve(round_m, round_m + 0.2), "beyond the start again"
