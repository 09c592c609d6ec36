"""A track that is no plain loop, compiled: how its stops follow one another, its legs, its transfers.

Also the rules of traffic that belong to lanes: which move together, which stretches admit how many carriers.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from linewright.layout import Layout, Ways, ways_of
from linewright.layout.graph import NOWHERE, lane_numbers
from linewright.layout.lanes import SAME_PLACE_M, LaneLayout
from linewright.line.model import Line
from linewright.line.model import Stretch as StretchOfLine
from linewright.line.sheet import TransferSheet
from linewright.motion.limits import ride_move
from linewright.motion.profile import to_microseconds
from linewright.traffic.general import NO_WAY, Platform, Stretch, Track
from linewright.traffic.legs import Leg, Legs, MoveOver, Way, delays_us, differences_us, is_curved
from linewright.traffic.plan import ABOARD, DOCK, NO_LEG, WAITING, Ints

assert NO_WAY == NOWHERE


def track_legs(layout: Layout, stop_kind: Ints, ways: tuple[Way, ...], on_track: Ways) -> list[Leg]:
    """The legs of these ways on a track with ways of its own, ordered by start, end and load class.

    Parameters
    ----------
    layout : the track
    stop_kind : kinds of its stops
    ways : the ways of all carriers
    on_track : the shortest ways between its stops

    Notes      From each stop at which a carrier may come to rest on its way to one of the stations of its step it may
               head for another of them, and beyond the one for which it heads it looks straight on for a farther one;
               so the legs are those of every shortest way from every such stop, and of several stations of those ways
               on to the next platform. A leg ends where the carrier may rest or at a station of its step. It enters a
               platform at most, and passes no place aboard but of the platform that it leaves or enters.
    Source     semantics.md, The track in general; Transfers with several docks.
    """
    found: set[tuple[int, int, int]] = set()
    rests = {WAITING, DOCK, ABOARD}
    for way in ways:
        seen, ahead = {way.start}, [way.start]
        while ahead:
            start = ahead.pop()
            for goal in way.goals:
                if on_track.next_stop[start, goal] == NOWHERE:
                    continue  # on a lane to and fro nothing leads from a stop to itself
                path = on_track.stops(start, goal)
                if len(way.goals) > 1:
                    path += _straight_on(on_track, stop_kind, path[-2] if len(path) > 1 else start, goal)
                for end in _reached(layout, stop_kind, path, start):
                    if end not in way.goals and stop_kind[end] not in rests:
                        continue
                    found.add((start, end, way.load))
                    if end not in way.goals and end not in seen:
                        seen.add(end)
                        ahead.append(end)
    return [_leg(layout, on_track, start, end, load) for start, end, load in sorted(found)]


def _straight_on(on_track: Ways, stop_kind: Ints, before: int, start: int) -> list[int]:
    """The stops straight on from one, as it is reached from the one before, up to the next places aboard or to the
    track's end; on a lane to and fro in the direction in which it is reached."""
    if on_track.onward[before] != start and on_track.onward[start] == before:
        return list(range(start - 1, -1, -1))
    passed: list[int] = []
    here = int(on_track.onward[start])
    while here not in (NOWHERE, start):
        if stop_kind[here] != ABOARD and passed and stop_kind[passed[-1]] == ABOARD:
            break
        passed.append(here)
        here = int(on_track.onward[here])
    return passed


def _reached(layout: Layout, stop_kind: Ints, path: list[int], start: int) -> list[int]:
    """The stops of a path that one leg from `start` can reach."""
    transfer_of = [layout.stops[rank].transfer if stop_kind[rank] == ABOARD else None for rank in path]
    left = layout.stops[start].transfer if stop_kind[start] == ABOARD else None
    reached: list[int] = []
    entered = None
    for rank, transfer in zip(path, transfer_of, strict=True):
        if entered is not None and transfer != entered:
            break
        if transfer is not None and transfer == left:
            continue  # it passes the places before it on the platform that it leaves
        left = None
        entered = transfer
        reached.append(rank)
    return reached


def _leg(layout: Layout, on_track: Ways, start: int, end: int, load: int) -> Leg:
    path = on_track.stops(start, end)
    here, there = layout.stops[start], layout.stops[end]
    names = [lane.name for lane in layout.lanes]
    passed = [rank for rank in path if layout.stops[rank].kind != "aboard"]
    lane = names.index(layout.stops[passed[-1]].lane if passed else here.lane)
    distance_m = round(float(on_track.length_m[start, end]), 12)
    against = layout.lanes[lane].two_way and there.travel_m < here.travel_m
    if here.kind == "aboard":
        start_m = -next(t for t in layout.transfers if t.name == here.transfer).off_from_m(start)
    else:
        start_m = -here.travel_m if against else here.travel_m
    return Leg(load, start, end, 0, distance_m, lane, start_m, against, is_curved(layout, lane, start_m, distance_m))


def build_track_legs(
    layout: Layout, found: list[Leg], on_track: Ways, move_over: MoveOver, going_on: bool = False
) -> Legs:
    """The track with the times of all its legs, and the least delay of every leg behind every other.

    Parameters
    ----------
    layout : the track
    found : its legs, from :func:`track_legs`
    on_track : its ways
    move_over, going_on : as for :func:`linewright.traffic.legs.build_legs`
    """
    count = len(layout.stops)
    leg = np.full((count, count), NO_LEG, np.int64)
    against = np.zeros((count, count), np.bool_)
    for one in found:
        if leg[one.start, one.end] == NO_LEG:
            leg[one.start, one.end] = leg.max() + 1
        against[one.start, one.end] = one.against
    size = 2 * (int(leg.max(initial=NO_LEG)) + 1)
    leg_us, rear_us = np.full(size, NO_LEG, np.int64), np.zeros(size, np.int64)
    moves = [move_over(one.load, one.distance_m, one.curved) for one in found]
    rows = np.array([2 * leg[one.start, one.end] + one.load for one in found], np.int64)
    aboard = {rank: transfer for transfer in layout.transfers for rank in transfer.aboards}
    for one, move, row in zip(found, moves, rows, strict=True):
        leg_us[row] = to_microseconds(move.duration_s)
        if one.start in aboard:
            rear_us[row] = to_microseconds(move.time_to_cover_s(aboard[one.start].rear_from_m(one.start)))
    two_way = any(lane.two_way for lane in layout.lanes)
    track = Track(
        lanes=len(layout.lanes),
        stop_lane=lane_numbers(layout),
        onward=on_track.onward,
        way=on_track.next_stop,
        way_m=on_track.length_m,
        leg=leg,
        leg_us=leg_us,
        rear_us=rear_us,
        two_way=two_way,
        against=against if two_way else None,
    )
    none = np.zeros((2, count, 0), np.int64)
    return Legs(
        move_us=none,
        leg=none[0],
        rear_us=np.zeros((2, len(layout.transfers), 0), np.int64),
        delay_us=delays_us(layout, found, moves, rows, size),
        track=track,
        differs_us=differences_us(found, moves, rows, size) if going_on else None,
    )


def track_and_legs(
    layout: Layout, stop_kind: Ints, ways: tuple[Way, ...], move_over: MoveOver, going_on: bool = False
) -> Legs:
    """:func:`track_legs` and :func:`build_track_legs` in one."""
    on_track = ways_of(layout)
    return build_track_legs(layout, track_legs(layout, stop_kind, ways, on_track), on_track, move_over, going_on)


def platforms_of(line: Line, layout: Layout) -> tuple[Platform, ...]:
    """The transfers of a track with ways of its own, in the order of the layout."""
    numbers = {lane.name: number for number, lane in enumerate(layout.lanes)}
    platforms = []
    for transfer in layout.transfers:
        sheet = line.conveyor.transfers[transfer.kind]
        docks = [layout.lane(name) for name in (*transfer.takes, *transfer.gives)]
        platforms.append(
            Platform(
                aboard=transfer.aboards,
                takes=tuple(numbers[name] for name in transfer.takes),
                gives=tuple(numbers[name] for name in transfer.gives),
                ride_us=tuple(tuple(ride_us(sheet, transfer.kind, one, other) for other in docks) for one in docks),
                at_once=transfer.at_once,
            )
        )
    return tuple(platforms)


def ride_us(sheet: TransferSheet, kind: str, one: LaneLayout, other: LaneLayout) -> int:
    """From unlocking at the dock of one lane to the lock at that of another; 0 between docks at the same place. [us]

    Source     semantics.md, Transfers with several docks.
    """
    ride_m = abs(one.level_m - other.level_m) if kind == "lift" else abs(one.across_m - other.across_m)
    if ride_m <= SAME_PLACE_M:
        return 0
    ride = ride_move(sheet, ride_m)
    return sum(to_microseconds(part) for part in (sheet.unlock_s, ride.duration_s, sheet.align_s, sheet.lock_s))


def together_of(line: Line, layout: Layout) -> tuple[int, ...]:
    """The numbers of the lanes that move together."""
    return tuple(number for number, lane in enumerate(layout.lanes) if line.lane(lane.name).moves == "together")


def admission_of(line: Line, layout: Layout) -> tuple[Stretch, ...]:
    """The stretches with their stops: those whose centres lie in a stretch of one lane, or all those of whole lanes and
    transfers; a place aboard is a stop of its transfer and of no lane."""
    return tuple(Stretch(one.name, tuple(_stops_of(one, layout)), one.most) for one in line.admission)


def _stops_of(stretch: StretchOfLine, layout: Layout) -> Iterator[int]:
    """The stops of a stretch. On a ring one of a single lane may reach over the start."""
    if stretch.lane is None:
        for stop in layout.stops:
            of_transfer = stop.kind == "aboard"
            if stop.transfer in stretch.transfers if of_transfer else stop.lane in stretch.lanes:
                yield stop.index
        return
    assert stretch.from_m is not None  # held by the validator, as is the other
    assert stretch.to_m is not None
    lane = layout.lane(stretch.lane)
    ends = lane.floor_to_travel(stretch.from_m), lane.floor_to_travel(stretch.to_m)
    over_start = lane.is_ring and ends[0] > ends[1]
    low_m, high_m = ends if lane.is_ring else sorted(ends)
    for stop in layout.stops:
        if stop.lane != lane.name or stop.kind == "aboard":
            continue
        after, before = stop.travel_m >= low_m - SAME_PLACE_M, stop.travel_m <= high_m + SAME_PLACE_M
        if (after or before) if over_start else (after and before):
            yield stop.index
