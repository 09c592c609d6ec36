"""The legs of a line: which moves its carriers can make, how long each takes, and how close each may follow another."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.errors import SimulationError
from linewright.layout import Layout
from linewright.motion.gaps import profile_table, start_delays_us
from linewright.motion.profile import Move, to_microseconds
from linewright.traffic.general import Track
from linewright.traffic.plan import ABOARD, DOCK, EMPTY, LOADED, NO_BOUND, NO_LEG, WAITING, Ints

MOST_LEGS: Final = 16_384
"""Each leg behind each other takes four bytes: a gibibyte."""

MoveOver = Callable[[int, float, bool], Move]
Int32s = NDArray[np.int32]


@dataclass(frozen=True)
class Way:
    """A way that carriers of one load class go: from one stop to the farthest of the stations of their next step.

    Parameters
    ----------
    start : the stop from which they come
    goals : the stops of the step's stations
    load : EMPTY or LOADED
    """

    start: int
    goals: tuple[int, ...]
    load: int


@dataclass(frozen=True)
class Leg:
    """One move that carriers of one load class can make.

    Parameters
    ----------
    load : EMPTY or LOADED
    start, end : stops
    reach : stops from one to the other round a loop; 0 where the track has ways of its own
    distance_m : along the centre line. [m]
    lane : number of the lane on which it runs; from a place aboard the one to which the transfer gives
    start_m : where it starts, in the direction of the move: travel on that lane; before the lane's start for a place
        aboard, and less than nought on the way against a lane's stated direction. [m]
    against : it runs against the lane's stated direction
    curved : the carrier's body reaches into a curve at some instant of it
    """

    load: int
    start: int
    end: int
    reach: int
    distance_m: float
    lane: int
    start_m: float
    against: bool = False
    curved: bool = False


@dataclass(frozen=True, eq=False)
class Legs:
    """All legs of a plan, shapes as in `TrafficPlan`; of a track with ways of its own `track` has them, and the arrays
    by reach have R = 0. differs_us as in `General`."""

    move_us: Ints
    leg: Ints
    rear_us: Ints
    delay_us: Int32s
    track: Track | None = None
    differs_us: Int32s | None = None


def next_aboard(stop_kind: Ints) -> list[int]:
    """Stops from each stop to the next place aboard in travel, at least 1; on a ring without any more than a round."""
    count = len(stop_kind)
    if ABOARD not in stop_kind:
        return [count + 1] * count
    return [next(r for r in range(1, count + 1) if stop_kind[(i + r) % count] == ABOARD) for i in range(count)]


def find_legs(ways: tuple[Way, ...], stop_kind: Ints) -> set[tuple[int, int, int]]:
    """The legs that carriers can make on these ways round a loop or a ring: (load class, start stop, stops).

    A leg starts where the carrier has come from or may rest, ends where it may rest or at its destination, and never
    reaches across a place aboard.
    """
    count = len(stop_kind)
    aboard = next_aboard(stop_kind)
    legs = set()
    for way in ways:
        length = max((goal - way.start) % count or count for goal in way.goals)
        for passed in range(length):
            start = (way.start + passed) % count
            if passed and stop_kind[start] not in (WAITING, DOCK, ABOARD):
                continue
            for reach in range(1, min(length - passed, aboard[start]) + 1):
                end = (start + reach) % count
                if end in way.goals or stop_kind[end] in (WAITING, DOCK, ABOARD):
                    legs.add((way.load, start, reach))
    return legs


def loop_legs(layout: Layout, stop_kind: Ints, ways: tuple[Way, ...]) -> list[Leg]:
    """The legs of these ways round a loop or a ring, ordered by start, length and load class."""
    count, names = len(stop_kind), [lane.name for lane in layout.lanes]
    after_lane = {name: number for number, name in enumerate(names)}
    aboards = {transfer.aboard: transfer for transfer in layout.transfers}
    legs = []
    for load, start, reach in sorted(find_legs(ways, stop_kind), key=lambda leg: (leg[1], leg[2], leg[0])):
        end = (start + reach) % count
        here, there = layout.stops[start], layout.stops[end]
        distance_m = round((there.axis_m - here.axis_m) % layout.loop_m, 12) if reach < count else layout.loop_m
        transfer = aboards.get(start)
        if transfer is None:
            lane, start_m = after_lane[here.lane], here.travel_m
        else:
            lane, start_m = after_lane[transfer.gives[0]], -transfer.off_from_m(start)
        curved = is_curved(layout, lane, start_m, distance_m)
        legs.append(Leg(load, start, end, reach, distance_m, lane, start_m, curved=curved))
    return legs


def is_curved(layout: Layout, lane: int, start_m: float, distance_m: float) -> bool:
    """Whether the body of a carrier reaches into a curve at some instant of a leg on this lane."""
    half_m = layout.body_m / 2
    return layout.lanes[lane].touches_curve(start_m - half_m, start_m + distance_m + half_m)


def build_legs(layout: Layout, stop_kind: Ints, found: list[Leg], move_over: MoveOver, going_on: bool = False) -> Legs:
    """Times of all legs round a loop or a ring, and the least delay of every leg behind every other.

    Parameters
    ----------
    layout : the track
    stop_kind : kinds of its stops
    found : its legs, from :func:`loop_legs`
    move_over : the move of a load class over a distance, in a curve or not
    going_on : find `differs_us` too
    """
    count, aboard = len(stop_kind), next_aboard(stop_kind)
    reach = min(max(aboard), count)
    move_us = np.full((2, count, reach), NO_LEG, np.int64)
    rear_us = np.zeros((2, len(layout.transfers), reach), np.int64)
    leg = np.full((count, reach), NO_LEG, np.int64)
    transfers = {transfer.aboard: number for number, transfer in enumerate(layout.transfers)}
    moves = [move_over(one.load, one.distance_m, one.curved) for one in found]
    rows = np.zeros(len(found), np.int64)
    for k, (one, move) in enumerate(zip(found, moves, strict=True)):
        at = one.start, one.reach - 1
        move_us[(one.load, *at)] = to_microseconds(move.duration_s)
        if leg[at] == NO_LEG:
            leg[at] = leg.max() + 1
        rows[k] = 2 * leg[at] + one.load
        if one.start in transfers:
            number = transfers[one.start]
            left_s = move.time_to_cover_s(layout.transfers[number].rear_from_m(one.start))
            rear_us[(one.load, number, one.reach - 1)] = to_microseconds(left_s)
    size = 2 * (int(leg.max(initial=NO_LEG)) + 1)
    differs = differences_us(found, moves, rows, size) if going_on else None
    return Legs(move_us, leg, rear_us, delays_us(layout, found, moves, rows, size), differs_us=differs)


def delays_us(layout: Layout, found: list[Leg], moves: list[Move], rows: Ints, size: int) -> Int32s:
    """Delay of every leg behind every other that runs on the same lane in the same direction, its platform included.

    Parameters
    ----------
    layout : the track
    found, moves, rows : its legs, their moves, and the row of each in the table
    size : rows of the table

    Returns
    -------
    int32[size, size]   As in `TrafficPlan`.

    Raises
    ------
    SimulationError   There are more legs than MOST_LEGS.

    Notes      On a ring the leader's end is the next place ahead of the follower's; two carriers are at least a least
               pitch apart on either side, so a pair that would be nearer round the ring never occurs and has no bound.
    """
    if size > MOST_LEGS:
        raise SimulationError(
            f"the track has {len(layout.stops)} stops and {size:,} moves between them: how each may follow each other "
            f"is planned of at most {MOST_LEGS:,}; shorten the lanes, or set stations where carriers go far, so that "
            "their ways from one to the next are shorter"
        )
    delays = np.full((size, size), NO_BOUND, np.int32)
    group = np.array([2 * one.lane + one.against for one in found], np.int64)
    start_m = np.array([one.start_m for one in found])
    way_m = np.array([move.distance_m for move in moves])
    number, profiles = _distinct(moves)
    table = profile_table(profiles)
    pitch_m = layout.pitch_m
    for one in np.unique(group):
        here = np.flatnonzero(group == one)
        lane = layout.lanes[int(one) // 2]
        begin, end, length = start_m[here], start_m[here] + way_m[here], way_m[here]
        if lane.is_ring:
            ahead = np.round((end[:, None] - end[None, :]) % lane.length_m, 12)
            last = ahead <= lane.length_m - pitch_m - length[None, :] + 5e-10
            behind = (ahead >= pitch_m - 5e-10) & last
            # leader's start minus follower's, as they stand to each other when the leader's end is ahead
            lead = ahead - length[:, None] + length[None, :]
        else:
            behind = end[None, :] <= end[:, None] - pitch_m + 5e-10
            lead = begin[:, None] - begin[None, :]
        near = length[None, :] > lead - pitch_m if lane.is_ring else end[None, :] > begin[:, None] - pitch_m
        leader, follower = np.nonzero(behind & near)
        if not leader.size:
            continue
        lead_m = lead[leader, follower]
        leader, follower = here[leader], here[follower]
        _, lead_number = np.unique(np.round(lead_m * 1e12), return_inverse=True)
        keys = (number[leader] * len(profiles) + number[follower]) * (int(lead_number.max(initial=0)) + 1) + lead_number
        _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
        distinct = start_delays_us(table, number[leader][first], number[follower][first], lead_m[first], pitch_m)
        delays[rows[leader], rows[follower]] = distinct[inverse]
    return delays


def differences_us(found: list[Leg], moves: list[Move], rows: Ints, size: int) -> Int32s:
    """From departure until a longer leg from the same stop first differs from a shorter one of the same load class.

    Parameters
    ----------
    found, moves, rows, size : as for :func:`delays_us`

    Returns
    -------
    int32[size, size]   At [shorter, longer], rounded down to whole microseconds; NO_BOUND where the two do not begin at
                        one stop, or the second is no longer way over the first.
    """
    differs = np.full((size, size), NO_BOUND, np.int32)
    number, profiles = _distinct(moves)
    known: dict[tuple[int, int], int] = {}
    from_stop: dict[tuple[int, int, int], list[int]] = {}
    for k, one in enumerate(found):
        from_stop.setdefault((one.load, one.start, one.lane), []).append(k)
    for legs in from_stop.values():
        for short in legs:
            for long in legs:
                if found[long].distance_m <= found[short].distance_m:
                    continue
                pair = int(number[short]), int(number[long])
                if pair not in known:
                    known[pair] = math.floor(first_difference_s(profiles[pair[0]], profiles[pair[1]]) * 1e6 + 1e-3)
                differs[rows[short], rows[long]] = known[pair]
    return differs


def first_difference_s(one: Move, other: Move) -> float:
    """The first time after departure at which two moves differ. [s]

    Notes      Both are made of stretches of constant jerk; they are the same as long as acceleration and jerk are, to
               1e-9 of the greater jerk or acceleration.
    """
    ends = sorted({s.start_s + s.duration_s for move in (one, other) for s in move.segments})
    since = 0.0
    for end in ends:
        middle = 0.5 * (since + end)
        a, b = _state(one, middle), _state(other, middle)
        if any(abs(x - y) > 1e-9 * max(abs(x), abs(y), 1.0) for x, y in zip(a, b, strict=True)):
            return since
        since = end
    return since


def _state(move: Move, time_s: float) -> tuple[float, float]:
    """Acceleration and jerk at a time; none at rest."""
    for s in move.segments:
        if s.start_s <= time_s < s.start_s + s.duration_s:
            return s.acceleration_m_s2 + (time_s - s.start_s) * s.jerk_m_s3, s.jerk_m_s3
    return 0.0, 0.0


def _distinct(moves: list[Move]) -> tuple[Ints, list[Move]]:
    """The number of each move among the different ones."""
    numbers: dict[Move, int] = {}
    index = [numbers.setdefault(move, len(numbers)) for move in moves]
    return np.array(index, np.int64), list(numbers)


__all__ = [
    "EMPTY",
    "LOADED",
    "Leg",
    "Legs",
    "MoveOver",
    "Way",
    "build_legs",
    "delays_us",
    "differences_us",
    "find_legs",
    "first_difference_s",
    "loop_legs",
    "next_aboard",
]
