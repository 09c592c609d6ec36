"""Rings, branches and lanes to and fro as plans: legs, delays, ways, transfers, and when one move leaves another."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from linewright.layout import Layout, lay_out, ways_of
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.motion.gaps import start_delay_us
from linewright.motion.limits import ride_move
from linewright.motion.profile import Limits, Move, plan_move, to_microseconds
from linewright.traffic.compile import compile_plan, legs_of
from linewright.traffic.compile_track import admission_of, together_of
from linewright.traffic.general import NO_WAY, Placement, Track
from linewright.traffic.legs import first_difference_s, loop_legs
from linewright.traffic.plan import ABOARD, DOCK, EMPTY, LOADED, NO_BOUND, NO_LEG, STATION, WAITING, TrafficPlan
from linewright.traffic.route_ways import next_steps, route_ways
from unit.layout.track_lines import PITCH_M, branch_line, line_of, ring_line, straight_on_line, to_and_fro_line

LOADS = (EMPTY, LOADED)


def compiled(line: Line) -> tuple[Layout, TrafficPlan]:
    layout = lay_out(line)
    return layout, compile_plan(line, layout)


def track_of(plan: TrafficPlan) -> Track:
    assert plan.general.track is not None
    return plan.general.track


def move_on_ring(line: Line, layout: Layout, load: int, start: int, distance_m: float) -> Move:
    travel_m, half_m = layout.stops[start].travel_m, layout.body_m / 2
    curved = layout.lanes[0].touches_curve(travel_m - half_m, travel_m + distance_m + half_m)
    return plan_move(distance_m, leg_limits(line, load == LOADED, distance_m, curved).limits)


# ---- rings -----------------------------------------------------------------------------------------------------------


def test_a_ring_is_a_plain_plan_without_a_place_aboard() -> None:
    line = ring_line(300, 900, 2600)
    layout, plan = compiled(line)
    assert plan.general.is_plain
    assert plan.general.track is None
    assert ABOARD not in plan.stop_kind
    assert (plan.transfer_names, plan.aboard_us.size, plan.rear_us.shape[1]) == ((), 0, 0)
    assert plan.loop_m == layout.loop_m


def test_the_legs_of_a_ring_lead_over_its_start_and_slow_down_in_its_curves() -> None:
    line = ring_line(300, 900, 2600)
    layout, plan = compiled(line)
    c, a = layout.stop_of("c").index, layout.stop_of("a").index
    reach = plan.ahead(c, a)
    distance_m = (0.3 - 2.6) % layout.loop_m
    assert plan.move_us[EMPTY, c, reach - 1] == to_microseconds(
        move_on_ring(line, layout, EMPTY, c, round(distance_m, 12)).duration_s
    )
    straight = plan_move(distance_m, leg_limits(line, False, distance_m, False).limits)
    assert plan.move_us[EMPTY, c, reach - 1] > to_microseconds(straight.duration_s)
    inside = plan.move_time_us(LOADED, a, layout.stop_of("b").index)
    assert inside == to_microseconds(plan_move(0.6, leg_limits(line, True, 0.6, False).limits).duration_s)
    assert plan.move_us[LOADED, c, reach - 1] == NO_LEG, "from the last step carriers come empty"


def ring_pairs(plan: TrafficPlan) -> Iterator[tuple[tuple[int, int, int], tuple[int, int, int]]]:
    """Legs of two carriers as they can meet: the leader's stop ahead of the follower's, within one round."""
    legs = [(s, s + r + 1, load) for load in LOADS for s, r in np.argwhere(plan.move_us[load] != NO_LEG).tolist()]
    generator = np.random.default_rng(7)
    for number in generator.permutation(len(legs) ** 2)[:1500].tolist():
        leader, follower = legs[number // len(legs)], legs[number % len(legs)]
        yield leader, follower


def test_delays_on_a_ring_are_those_of_the_two_moves_as_they_follow_each_other() -> None:
    line = ring_line(300, 900, 2600)
    layout, plan = compiled(line)
    places, round_m, pitch_m = [stop.travel_m for stop in layout.stops], layout.loop_m, layout.pitch_m
    count, seen, bounds, over_start = plan.stops, 0, 0, 0
    for (lead, lead_end, lead_load), (own, own_end, own_load) in ring_pairs(plan):
        apart = (lead_end - own_end) % count
        if apart == 0 or apart + (own_end - own) >= count:
            continue  # never: the leader would stand at, or beyond, the follower's own stop once round
        lead_way = (places[lead_end % count] - places[lead]) % round_m
        own_way = (places[own_end % count] - places[own]) % round_m
        ends_m = (places[lead_end % count] - places[own_end % count]) % round_m
        if min(ends_m, round_m - ends_m - own_way) < pitch_m - 5e-10:
            continue
        leader = move_on_ring(line, layout, lead_load, lead, round(lead_way, 12))
        follower = move_on_ring(line, layout, own_load, own, round(own_way, 12))
        lead_m = ends_m + follower.distance_m - leader.distance_m
        expected = start_delay_us(leader, follower, lead_m, pitch_m)
        found = plan.delay((lead, lead_end % count, lead_load), (own, own_end % count, own_load))
        assert found is None if expected is None else found == pytest.approx(expected, abs=1)
        seen += 1
        bounds += expected is not None
        over_start += lead_end % count < own
    assert min(bounds, over_start) > 50
    assert seen > 300


def test_a_carrier_alone_on_a_ring_is_not_held_by_itself() -> None:
    line = ring_line(300, 900, carriers=1)
    layout, plan = compiled(line)
    a, b = layout.stop_of("a").index, layout.stop_of("b").index
    for end in range(plan.stops):
        reach = plan.ahead(b, end)
        if reach <= plan.leg.shape[1] and plan.move_us[EMPTY, b, reach - 1] != NO_LEG:
            assert plan.delay((a, b, LOADED), (b, end, EMPTY)) is None


# ---- branches --------------------------------------------------------------------------------------------------------


def test_the_legs_of_a_branch_are_those_that_its_carriers_need() -> None:
    line = branch_line()
    layout, plan = compiled(line)
    track = track_of(plan)
    assert not plan.general.is_plain
    assert plan.move_us.shape[2] == plan.leg.shape[1] == plan.rear_us.shape[2] == 0
    rests = {WAITING, DOCK, ABOARD}
    for start, end in np.argwhere(track.leg != NO_LEG).tolist():
        path = [start, *ways_of(layout).stops(start, end)]
        assert not any(plan.stop_kind[rank] == ABOARD for rank in path[1:-1]), "no leg leads across a platform"
        assert plan.stop_kind[end] in {*rests, STATION}
    x, y = layout.stop_of("x").index, layout.stop_of("y").index
    aboard = layout.transfers[0].aboard
    for goal in (x, y):
        assert track.leg[aboard, goal] != NO_LEG
    load = layout.stop_of("load").index
    assert track.leg[load, aboard] != NO_LEG
    assert track.leg[x, y] == NO_LEG
    assert track.leg[load, layout.stop_of("unload").index] == NO_LEG, "a station that it passes"


def test_beyond_a_station_a_carrier_looks_for_a_farther_one() -> None:
    line = line_of(
        "lanes:",
        "  out: {length: 1104 mm, from: west, to: east}",
        "  back: {length: 1104 mm, from: east, to: west, across: 300 mm}",
        "transfers:",
        "  east: {kind: cross-transfer, takes: out, gives: back, returns: when-called}",
        "  west: {kind: cross-transfer, takes: back, gives: out}",
        "stations:",
        "  a: {lane: out, at: 300 mm, time: 1 s}",
        "  x: {lane: out, at: 600 mm, time: 1 s}",
        "  y: {lane: back, at: 600 mm, time: 1 s}",
        "route: [a, [x, y]]",
    )
    layout, plan = compiled(line)
    track = track_of(plan)
    a, x = layout.stop_of("a").index, layout.stop_of("x").index
    waits = list(range(x + 1, layout.transfers[0].aboard + 1))
    assert {layout.stops[rank].kind for rank in waits} == {"waiting", "dock", "aboard"}
    assert all(track.leg[a, rank] != NO_LEG for rank in waits), "it may pass x for y"
    assert track.leg[x - 1, layout.transfers[0].aboard] != NO_LEG


def test_every_wait_on_the_way_has_the_legs_to_go_on() -> None:
    layout, plan = compiled(branch_line())
    track = track_of(plan)
    rests = {WAITING, DOCK, ABOARD}
    goals = {layout.stop_of(name).index for name in ("load", "x", "y", "unload")}
    ends = {int(end) for _, end in np.argwhere(track.leg != NO_LEG)} | goals
    starts = {int(start) for start, _ in np.argwhere(track.leg != NO_LEG)}
    for end in ends:
        assert end in starts, layout.stops[end].label
    for start in starts:
        nexts = [h.to for h in ways_of(layout).hops[start]]
        assert any(track.leg[start, n] != NO_LEG for n in nexts) or all(plan.stop_kind[n] not in rests for n in nexts)


def test_times_and_rears_of_a_branch() -> None:
    line = branch_line()
    layout, plan = compiled(line)
    track = track_of(plan)
    aboard, y = layout.transfers[0].aboard, layout.stop_of("y").index
    row = 2 * int(track.leg[aboard, y]) + LOADED
    distance_m = 0.118 / 2 + 0.003 + layout.stops[y].travel_m
    move = plan_move(distance_m, leg_limits(line, True, distance_m, False).limits)
    assert track.leg_us[row] == to_microseconds(move.duration_s)
    assert track.rear_us[row] == to_microseconds(move.time_to_cover_s(0.118 / 2 + 0.042))
    assert track.leg_us[row - 1] == NO_LEG, "nobody goes there empty"
    on_lane = 2 * int(track.leg[y, y + 1]) + LOADED
    assert (track.leg_us[on_lane] > 0, track.rear_us[on_lane]) == (True, 0)


def test_delays_hold_on_one_lane_alone() -> None:
    line = branch_line()
    layout, plan = compiled(line)
    track = track_of(plan)
    aboard, x, y = layout.transfers[0].aboard, layout.stop_of("x").index, layout.stop_of("y").index
    to_x, to_y = (2 * int(track.leg[aboard, goal]) + LOADED for goal in (x, y))
    assert plan.delay_us[to_x, to_y] == plan.delay_us[to_y, to_x] == NO_BOUND, "two lanes"
    short = 2 * int(track.leg[aboard, x - 1]) + LOADED
    way_m = [0.062 + layout.stops[end].travel_m for end in (x, x - 1)]
    leader, follower = (plan_move(m, leg_limits(line, True, m, False).limits) for m in way_m)
    assert plan.delay_us[to_x, short] == start_delay_us(leader, follower, 0.0, PITCH_M)


def test_transfers_with_several_docks_ride_between_any_two() -> None:
    line = branch_line(returns=", returns: when-called")
    layout, plan = compiled(line)
    west, east = plan.general.platforms
    names = [lane.name for lane in layout.lanes]
    assert [names[n] for n in (*west.takes, *west.gives)] == ["back", "main", "side"]
    assert [names[n] for n in (*east.takes, *east.gives)] == ["side", "main", "back"], "takes by priority"
    assert (west.at_once, east.at_once) == (True, False)
    sheet = line.conveyor.transfers["cross-transfer"]
    across_m = {"main": 0.0, "side": 0.3, "back": 0.6}
    fixed_us = sum(to_microseconds(time_s) for time_s in (sheet.unlock_s, sheet.align_s, sheet.lock_s))
    docks = [names[n] for n in (*west.takes, *west.gives)]
    for a, one in enumerate(docks):
        for b, other in enumerate(docks):
            ride_m = abs(across_m[one] - across_m[other])
            due = 0 if a == b else fixed_us + to_microseconds(ride_move(sheet, ride_m).duration_s)
            assert west.ride_us[a][b] == due
    assert plan.aboard_us[0] == plan.home_us[0] == west.ride_us[0][1]


def test_docks_at_one_place_take_no_ride() -> None:
    line = straight_on_line()
    lanes = tuple(lane.model_copy(update={"across_m": 0.0}) if lane.name == "second" else lane for lane in line.lanes)
    _, plan = compiled(line.model_copy(update={"lanes": lanes}))
    assert plan.general.is_plain
    assert (plan.aboard_us[0], plan.home_us[0]) == (0, 0)
    assert plan.aboard_us[1] > 0


def test_several_places_have_legs_onto_each_and_off_each() -> None:
    line = straight_on_line(places=2)
    kind = line.conveyor.transfers["cross-transfer"].model_copy(update={"platform_m": 0.3})
    sheet = line.conveyor.model_copy(update={"transfers": {"cross-transfer": kind}})
    layout, plan = compiled(line.model_copy(update={"conveyor": sheet}))
    track, (first, second) = track_of(plan), layout.transfers[0].aboards
    assert plan.general.platforms[0].aboard == (first, second)
    assert plan.stop_transfer[[first, second]].tolist() == [0, 0]
    dock, beyond = first - 1, second + 1
    for start, end in ((dock, first), (dock, second), (first, beyond), (second, beyond)):
        assert track.leg[start, end] != NO_LEG
    assert track.leg[first, second] == NO_LEG
    assert track.leg[dock, beyond] == NO_LEG
    rows = [2 * int(track.leg[start, beyond]) + LOADED for start in (first, second)]
    assert track.rear_us[rows[0]] > track.rear_us[rows[1]]
    on = [2 * int(track.leg[dock, end]) + LOADED for end in (first, second)]
    assert plan.delay_us[on[1], on[0]] != NO_BOUND, "the second boards behind the first, a pitch apart"


# ---- to and fro ------------------------------------------------------------------------------------------------------


def test_legs_go_both_ways_and_none_follows_one_that_goes_the_other() -> None:
    line = to_and_fro_line(400, 700, 1100, carriers=2)
    layout, plan = compiled(line)
    track = track_of(plan)
    assert track.two_way
    assert track.against is not None
    a, b, c = (layout.stop_of(name).index for name in "abc")
    assert track.leg[a, b] != NO_LEG
    assert track.leg[c, a] != NO_LEG
    assert not track.against[a, b]
    assert track.against[c, a]
    rows = {key: 2 * int(track.leg[key[:2]]) + key[2] for key in ((a, b, LOADED), (b, c, LOADED), (c, a, EMPTY))}
    assert plan.delay_us[rows[c, a, EMPTY], rows[a, b, LOADED]] == NO_BOUND
    assert plan.delay_us[rows[b, c, LOADED], rows[a, b, LOADED]] != NO_BOUND
    back = [(int(s), int(e)) for s, e in np.argwhere(track.against) if s == c]
    far, near = sorted(back, key=lambda leg: leg[1])[:2]
    leader, follower = (2 * int(track.leg[leg]) + EMPTY for leg in (far, near))
    way_m = [layout.stops[s].travel_m - layout.stops[e].travel_m for s, e in (far, near)]
    moves = [plan_move(round(m, 12), leg_limits(line, False, round(m, 12), False).limits) for m in way_m]
    assert plan.delay_us[leader, follower] == start_delay_us(moves[0], moves[1], 0.0, PITCH_M)
    assert track.way[a, a] == NO_WAY


def test_on_the_way_back_too_a_carrier_may_pass_one_station_for_a_farther_one() -> None:
    line = line_of(
        "lanes:",
        "  bed: {length: 1472 mm, from: west, to: east, two_way: true}",
        "stations:",
        *(f"  {name}: {{lane: bed, at: {at} mm, time: 1 s}}" for name, at in (("a", 300), ("b", 600), ("c", 1100))),
        "route: [[a, b], c]",
    )
    layout, plan = compiled(line)
    track = track_of(plan)
    a, b, c = (layout.stop_of(name).index for name in "abc")
    for start, end in ((c, a), (c, b), (b + 1, a), (a, c), (b, c)):
        assert track.leg[start, end] != NO_LEG
    assert all(track.leg[start, start] == NO_LEG for start in range(plan.stops))
    assert track.against is not None
    assert (track.against[c, a], track.against[a, c]) == (True, False)


# ---- which step follows which ----------------------------------------------------------------------------------------


def test_the_steps_of_a_plain_route_follow_one_another() -> None:
    assert next_steps(branch_line()) == {(0, 1, LOADED), (1, 2, LOADED), (2, 0, EMPTY)}


def test_variants_skip_rework_goes_back_and_exits_lead_to_the_first_step() -> None:
    line = line_of(
        "lanes:",
        "  round: {ring: {long: 1472 mm}}",
        "variants: {plain: {share: 50 %, skips: [b]}, rich: {share: 50 %}}",
        "stations:",
        "  a: {lane: round, along: 300 mm, time: 1 s, misses: 1 %}",
        "  b: {lane: round, along: 500 mm, time: 1 s}",
        "  c: {lane: round, along: 700 mm, time: 1 s, rejects: 2 %, rework: {share: 5 %, to: fix, at_most: 2}}",
        "  fix: {lane: round, along: 900 mm, time: 1 s, rework_only: true}",
        "  d: {lane: round, along: 1100 mm, time: 1 s}",
        "  out: {lane: round, along: 1300 mm, time: 1 s, reject_exit: true}",
        "route: [a, b, c, fix, d, out]",
    )
    a, b, c, fix, d, out = range(6)
    expected = {(a, b), (a, c), (b, c), (c, d), (c, fix), (c, out), (fix, d)}
    found = next_steps(line)
    assert {(p, q) for p, q, load in found if load == LOADED} == expected
    assert {(p, q) for p, q, load in found if load == EMPTY} == {(a, a), (d, a), (out, a)}


def test_carriers_with_several_nests_may_go_on_with_some_parts() -> None:
    line = line_of(
        "fixture: {mass: 0.1 kg, nests: 2}",
        "lanes:",
        "  round: {ring: {long: 1472 mm}}",
        "stations:",
        "  a: {lane: round, along: 300 mm, time: 1 s, rejects: 2 %}",
        "  b: {lane: round, along: 500 mm, time: 1 s}",
        "  out: {lane: round, along: 700 mm, time: 1 s, reject_exit: true}",
        "  c: {lane: round, along: 900 mm, time: 1 s}",
        "route: [a, b, out, c]",
    )
    found = next_steps(line)
    assert {(p, q) for p, q, load in found if load == LOADED} == {(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)}
    assert {(p, q) for p, q, load in found if load == EMPTY} == {(2, 0), (3, 0)}


def test_a_start_of_its_own_brings_its_legs() -> None:
    line = ring_line(300, 900, 2600, carriers=1)
    layout = lay_out(line)
    b, c = (layout.stop_of(name).index for name in "bc")
    start = Placement((b - 1,), (2,), (0,), (1,), (0,), (-1,), (0,), 1)
    plan, plain = compile_plan(line, layout, start=start), compile_plan(line, layout)
    assert plan.general.start is start
    assert plan.first_stops.tolist() == [b - 1]
    assert plan.move_time_us(LOADED, b - 1, c) > 0
    with pytest.raises(KeyError):
        plain.move_time_us(LOADED, b - 1, c)


# ---- going on, together, admission -----------------------------------------------------------------------------------


def test_two_moves_are_the_same_until_they_differ() -> None:
    limits = Limits(1.85, 14.0, 260.0)
    generator = np.random.default_rng(11)
    for short_m, more_m in zip(generator.uniform(0.01, 1.5, 40), generator.uniform(0.02, 1.0, 40), strict=True):
        one, other = plan_move(float(short_m), limits), plan_move(float(short_m + more_m), limits)
        at_s = first_difference_s(one, other)
        before = np.linspace(0.0, at_s, 50)
        assert np.abs(one.position_m(before) - other.position_m(before)).max() < 1e-9
        later_s = at_s + 0.004
        assert abs(one.position_m(later_s) - other.position_m(later_s)) > 1e-7
    assert first_difference_s(one, one) == pytest.approx(one.duration_s)
    slower = plan_move(1.0, Limits(1.85, 7.0, 260.0))
    assert first_difference_s(slower, plan_move(2.0, limits)) == pytest.approx(7.0 / 260.0)


def test_going_on_knows_when_the_longer_move_differs() -> None:
    line = ring_line(300, 900, 2600).model_copy(update={"going_on": True})
    layout, plan = compiled(line)
    table = plan.general.differs_us
    assert table is not None
    assert not plan.general.is_plain
    assert compile_plan(ring_line(300, 900, 2600), layout).general.differs_us is None
    found = loop_legs(layout, plan.stop_kind, route_ways(line, layout))
    rows = {(leg.load, leg.start, leg.reach): 2 * int(plan.leg[leg.start, leg.reach - 1]) + leg.load for leg in found}
    same = 0
    for one in found:
        for other in found:
            value = table[rows[one.load, one.start, one.reach], rows[other.load, other.start, other.reach]]
            longer = one.load == other.load and one.start == other.start and other.reach > one.reach
            assert (value != NO_BOUND) == longer
            same += longer
            if longer:
                assert 0 < value < plan.move_us[one.load, one.start, one.reach - 1]
    assert same > 100
    again = legs_of(plan)
    assert again.differs_us is table


def test_lanes_that_move_together_and_stretches_are_numbers() -> None:
    line = branch_line()
    lanes = tuple(lane.model_copy(update={"moves": "together"}) if lane.name == "side" else lane for lane in line.lanes)
    line = line.model_copy(update={"lanes": lanes})
    layout = lay_out(line)
    assert together_of(line, layout) == (2,)
    more = branch_line(more="admission: {zone: {lane: back, from: 300 mm, to: 800 mm, most: 2}}")
    layout = lay_out(more)
    (zone,) = admission_of(more, layout)
    assert (zone.name, zone.most) == ("zone", 2)
    inside = [s.index for s in layout.stops if s.lane == "back" and s.kind != "aboard" and 0.3 <= s.floor_m <= 0.8]
    assert list(zone.stops) == inside
    assert layout.stop_of("load").index in zone.stops


def test_whole_lanes_and_transfers_are_all_their_stops() -> None:
    line = branch_line(more="admission: {spur: {lanes: [side, main], transfers: [east], most: 3}}")
    layout = lay_out(line)
    (spur,) = compile_plan(line, layout).general.admission
    (aboard,) = [one.aboards for one in layout.transfers if one.name == "east"]
    on_lanes = [s.index for s in layout.stops if s.lane in ("side", "main") and s.kind != "aboard"]
    assert (spur.name, spur.most) == ("spur", 3)
    assert spur.stops == tuple(sorted([*on_lanes, *aboard]))
    assert layout.stop_of("load").index not in spur.stops
    line = branch_line(more="admission: {turn: {transfers: [west], most: 1}}")
    (turn,) = admission_of(line, lay_out(line))
    assert turn.stops == next(one.aboards for one in layout.transfers if one.name == "west")
