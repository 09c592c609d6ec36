"""Rings, branches, lanes to and fro, lanes that go straight on: where stops and carriers are, what is found amiss."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from linewright.errors import LineFileError
from linewright.findings import Finding
from linewright.layout import Layout, check_layout, lay_out, resting_order, resting_places, travel_order, ways_of
from linewright.layout.graph import NOWHERE, lane_numbers
from linewright.line.model import Line
from unit.layout.track_lines import (
    HALF_M,
    LINK_M,
    PITCH_M,
    branch_line,
    line_of,
    ring_line,
    straight_on_line,
    to_and_fro_line,
)


def of_code(line: Line, layout: Layout, code: str) -> list[Finding]:
    return [finding for finding in check_layout(line, layout) if finding.code == code]


def labels(layout: Layout, ranks: tuple[int, ...]) -> list[str]:
    return [layout.stops[rank].label for rank in ranks]


# ---- rings -----------------------------------------------------------------------------------------------------------


def test_the_grid_of_a_ring_goes_on_round_its_start() -> None:
    layout = lay_out(ring_line(500, 900))
    pitch_m, round_m = layout.pitch_m, layout.loop_m
    places = [stop.travel_m for stop in layout.stops]
    assert places == sorted(places)
    between = [0.9 - k * pitch_m for k in (2, 1)]
    assert between[0] >= 0.5 + pitch_m > between[0] - pitch_m
    count = int((round_m - 0.4) / pitch_m) - 1
    upstream = [(0.5 - k * pitch_m) % round_m for k in range(1, count + 1)]
    waiting = [stop.travel_m for stop in layout.stops if stop.kind == "waiting"]
    assert waiting == pytest.approx(sorted([*between, *upstream]))
    gaps = np.diff([*places, places[0] + round_m])
    assert gaps.min() >= pitch_m - 1e-9


def test_a_ring_with_one_station_waits_for_itself() -> None:
    line = ring_line(500, carriers=1)
    layout = lay_out(line)
    assert layout.blocking == ()
    assert of_code(line, layout, "station-centres")[0].value == pytest.approx(layout.loop_m)


def test_carriers_stand_upstream_round_the_start() -> None:
    layout = lay_out(ring_line(300, 900, carriers=5))
    order = resting_order(ring_line(300, 900, carriers=5), layout)
    back_m = [(0.3 - layout.stops[rank].travel_m) % layout.loop_m for rank in order]
    assert back_m == pytest.approx([k * layout.pitch_m for k in range(5)])


def test_a_keep_clear_stretch_reaches_over_the_start() -> None:
    far = lay_out(ring_line(60, 900))
    kept = lay_out(ring_line(60, 900, keys=", keep_clear: 200 mm"))
    near = [stop for stop in kept.stops if stop.kind == "waiting"]
    away_m = [min((stop.travel_m - 0.06) % kept.loop_m, (0.06 - stop.travel_m) % kept.loop_m) for stop in near]
    assert min(away_m) == pytest.approx(0.2 + HALF_M)
    assert len(kept.stops) < len(far.stops)


def test_stations_of_a_ring_too_near_block() -> None:
    crowded = lay_out(ring_line(1200, 1250, carriers=1))
    assert crowded.blocking == ("station-centres: station a and station b",)


def test_a_straight_that_stock_cannot_make_is_told() -> None:
    line = ring_line(300, 900, long_mm=1500.0)
    (finding,) = of_code(line, lay_out(line), "lane-sections")
    assert finding.verdict == "fails"
    assert finding.remedy == "make the straights as long as their sections: long 1564 mm"
    assert of_code(ring_line(300, 900), lay_out(ring_line(300, 900)), "lane-sections")[0].verdict == "holds"


# ---- branches --------------------------------------------------------------------------------------------------------


def test_lanes_follow_one_another_first_named_first() -> None:
    line = branch_line()
    assert [lane.name for lane in travel_order(line)] == ["main", "back", "side"]
    layout = lay_out(line)
    assert [transfer.name for transfer in layout.transfers] == ["west", "east"]
    main, back, side = layout.lanes
    assert back.start_axis_m == pytest.approx(main.end_axis_m + PITCH_M), "its platform stands elsewhere: a gap"
    assert side.start_axis_m == pytest.approx(back.end_axis_m + LINK_M)
    assert layout.loop_m == pytest.approx(side.end_axis_m + LINK_M)
    assert [stop.index for stop in layout.stops] == list(range(len(layout.stops)))
    assert (layout.is_closed, layout.is_plain) == (False, False)
    assert layout.transfer_after("main").name == layout.transfer_after("side").name == "east"


def test_a_lane_that_nothing_leads_to_is_refused() -> None:
    line = branch_line()
    apart = line.model_copy(update={"transfers": line.transfers[1:]})
    with pytest.raises(ValueError, match="do not lead from lane main to side"):
        travel_order(apart)


def test_ways_go_the_shorter_lane_and_of_equals_the_one_named_first() -> None:
    for side_mm, lane in ((1104.0, "main"), (1012.0, "side")):
        layout = lay_out(branch_line(side_mm=side_mm))
        ways = ways_of(layout)
        aboard = layout.transfers[0].aboard
        back = layout.stop_of("unload").index
        assert layout.stops[ways.next_stop[aboard, back]].lane == lane
        assert layout.stops[ways.next_stop[aboard, layout.stop_of("y").index]].lane == "side"
        assert layout.stops[ways.onward[aboard]].lane == "main", "straight on is the first named"


def test_ways_once_round_and_their_lengths() -> None:
    layout = lay_out(branch_line())
    ways = ways_of(layout)
    load = layout.stop_of("load").index
    round_m = 2 * 1.104 + 2 * LINK_M
    assert ways.length_m[load, load] == pytest.approx(round_m)
    passed = ways.stops(load, load)
    assert passed[-1] == load
    assert {layout.stops[rank].lane for rank in passed} == {"main", "back", "side"}, "the platform at side is passed"
    assert not any(layout.stops[rank].lane == "side" and layout.stops[rank].kind != "aboard" for rank in passed)
    for start, end in ((0, 3), (load, 1), (3, 2)):
        ranks = [start, *ways.stops(start, end)]
        hops = [next(h.length_m for h in ways.hops[a] if h.to == b) for a, b in pairwise(ranks)]
        assert sum(hops) == pytest.approx(ways.length_m[start, end])


def test_carriers_stand_along_every_lane_that_leads_to_the_first_station() -> None:
    line = branch_line()
    layout = lay_out(line)
    places = resting_places(line, layout)
    ways_m = ways_of(layout).length_m[list(places[1:]), places[0]]
    assert (np.diff(ways_m) >= -1e-9).all()
    assert {layout.stops[rank].lane for rank in places} == {"main", "side", "back"}
    docks = [label for label in labels(layout, places) if label.startswith("dock of east")]
    assert sorted(docks) == ["dock of east on main", "dock of east on side"]  # one transfer, a name for each dock
    first, second = (rank for rank in places if layout.stops[rank].label.startswith("dock of east"))
    assert first < second, "of equal ways the lower rank"
    assert len(places) == 1 + sum(stop.kind in ("waiting", "dock") for stop in layout.stops)


def test_every_dock_of_a_merge_is_measured_against_its_platform() -> None:
    line = branch_line()
    layout = lay_out(line)
    assert layout.blocking == ()
    reach = of_code(line, layout, "dock-reach")
    assert [finding.verdict for finding in reach] == ["holds", "holds"]
    short = branch_line(side_mm=1012.0)
    (bad,) = [finding for finding in of_code(short, lay_out(short), "dock-reach") if finding.verdict == "fails"]
    assert bad.where == "transfer east, side to back"
    assert bad.value == pytest.approx(0.092)


# ---- straight on, several places -------------------------------------------------------------------------------------


def test_a_lane_that_goes_straight_on_starts_beyond_the_platform() -> None:
    line = straight_on_line()
    layout = lay_out(line)
    assert layout.is_plain
    found = {finding.where: finding for finding in of_code(line, layout, "dock-reach")}
    assert found["transfer middle"].value == 0.0
    meeting = straight_on_line(start_mm=1104.0)
    (bad,) = [f for f in of_code(meeting, lay_out(meeting), "dock-reach") if f.where == "transfer middle"]
    assert (bad.verdict, bad.value) == ("fails", pytest.approx(LINK_M))
    assert "start 124 mm beyond the end of first, for platform and gaps, at 1228 mm" in bad.remedy


def wide(line: Line, platform_m: float) -> Line:
    kind = line.conveyor.transfers["cross-transfer"].model_copy(update={"platform_m": platform_m})
    sheet = line.conveyor.model_copy(update={"transfers": {"cross-transfer": kind}})
    return line.model_copy(update={"conveyor": sheet})


def test_places_aboard_lie_a_least_pitch_apart_about_the_middle() -> None:
    line = wide(straight_on_line(places=2), 0.3)
    layout = lay_out(line)
    assert layout.blocking == ()
    transfer = layout.transfers[0]
    first, second = (layout.stops[rank] for rank in transfer.aboards)
    assert second.axis_m - first.axis_m == pytest.approx(PITCH_M)
    assert (first.axis_m + second.axis_m) / 2 == pytest.approx(transfer.platform_axis_m)
    dock = layout.stops[transfer.aboard - 1]
    assert first.axis_m - dock.axis_m == pytest.approx(transfer.on_m)
    assert transfer.off_from_m(second.index) == pytest.approx(0.15 + 0.003 - PITCH_M / 2)
    assert transfer.off_from_m(first.index) == pytest.approx(0.15 + 0.003 + PITCH_M / 2)
    assert transfer.rear_from_m(first.index) == pytest.approx(0.15 + PITCH_M / 2 + HALF_M)
    assert not layout.is_plain
    (length,) = [f for f in of_code(line, layout, "platform-length") if f.where == "transfer middle"]
    assert length.limit == pytest.approx(2 * HALF_M + PITCH_M)
    assert of_code(line, layout, "platform-order")[0].verdict == "holds"


def test_several_places_before_a_lane_that_leads_back_are_told() -> None:
    line = wide(straight_on_line(), 0.3)
    east = line.transfers[1].model_copy(update={"places": 2})
    line = line.model_copy(update={"transfers": (line.transfers[0], east, line.transfers[2])})
    (finding,) = of_code(line, lay_out(line), "platform-order")
    assert finding.verdict == "fails"
    assert "the last carrier on is the first off" in finding.remedy


# ---- to and fro ------------------------------------------------------------------------------------------------------


def test_a_lane_to_and_fro_has_no_dock_and_no_way_round() -> None:
    line = to_and_fro_line(400, 700, 1100)
    layout = lay_out(line)
    assert layout.blocking == ()
    assert {stop.kind for stop in layout.stops} == {"waiting", "station"}
    assert layout.loop_m == layout.lanes[0].length_m
    ways = ways_of(layout)
    a, c = layout.stop_of("a").index, layout.stop_of("c").index
    assert ways.next_stop[c, a] == c - 1
    assert ways.next_stop[a, c] == a + 1
    assert ways.next_stop[a, a] == NOWHERE
    assert ways.length_m[c, a] == ways.length_m[a, c] == pytest.approx(0.7)
    assert ways.onward[-1] == NOWHERE
    with pytest.raises(KeyError, match="no way leads"):
        ways.stops(a, a)


def test_carriers_of_a_lane_to_and_fro_stand_against_its_stated_direction() -> None:
    line = to_and_fro_line(400, 700, 1100)
    layout = lay_out(line)
    places = resting_places(line, layout)
    assert [layout.stops[rank].travel_m for rank in places] == pytest.approx([0.4 - k * PITCH_M for k in range(4)])
    with pytest.raises(LineFileError, match="at most 4"):
        lay_out(to_and_fro_line(400, 700, 1100, carriers=5))


def test_of_two_first_stations_the_last_in_the_stated_direction_comes_first() -> None:
    line = line_of(
        "lanes:",
        "  bed: {length: 1472 mm, from: east, to: west, two_way: true}",
        "stations:",
        "  a: {lane: bed, at: 1000 mm, time: 1 s}",
        "  b: {lane: bed, at: 800 mm, time: 1 s}",
        "  c: {lane: bed, at: 300 mm, time: 1 s}",
        "route: [[a, b], c]",
        carriers=2,
    )
    layout = lay_out(line)
    assert labels(layout, resting_order(line, layout)[:1]) == ["station b"]
    assert layout.stops[resting_order(line, layout)[1]].travel_m == pytest.approx(0.672 - PITCH_M)


def test_lane_numbers_follow_the_axis() -> None:
    layout = lay_out(branch_line())
    numbers = lane_numbers(layout)
    assert numbers.tolist() == sorted(numbers.tolist())
    assert numbers[layout.transfers[1].aboard] == 2
