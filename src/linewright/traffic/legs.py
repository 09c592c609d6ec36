"""The legs of a line: which moves its carriers can make, how long each takes, and how close each may follow another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from linewright.layout import Layout
from linewright.motion.gaps import profile_table, start_delays_us
from linewright.motion.profile import Move, to_microseconds
from linewright.traffic.plan import ABOARD, DOCK, EMPTY, LOADED, NO_BOUND, NO_LEG, WAITING, Ints

MoveOver = Callable[[int, float], Move]


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


@dataclass(frozen=True, eq=False)
class Legs:
    """All legs of a plan, shapes as in `TrafficPlan`."""

    move_us: Ints
    leg: Ints
    rear_us: Ints
    delay_us: np.ndarray[tuple[int, ...], np.dtype[np.int32]]


def next_aboard(stop_kind: Ints) -> list[int]:
    """Stops from each stop to the next place aboard in travel, at least 1."""
    count = len(stop_kind)
    return [next(r for r in range(1, count + 1) if stop_kind[(i + r) % count] == ABOARD) for i in range(count)]


def find_legs(ways: tuple[Way, ...], stop_kind: Ints) -> set[tuple[int, int, int]]:
    """The legs that carriers can make on these ways: (load class, start stop, stops).

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


def build_legs(layout: Layout, stop_kind: Ints, ways: tuple[Way, ...], move_over: MoveOver) -> Legs:
    """Times of all legs, and the least delay of every leg behind every other.

    Parameters
    ----------
    layout : the track
    stop_kind : kinds of its stops
    ways : the ways of all carriers
    move_over : the move of a load class over a distance
    """
    found = sorted(find_legs(ways, stop_kind), key=lambda leg: (leg[1], leg[2], leg[0]))
    count, reach = len(stop_kind), max(next_aboard(stop_kind))
    move_us = np.full((2, count, reach), NO_LEG, np.int64)
    rear_us = np.zeros((2, len(layout.transfers), reach), np.int64)
    leg = np.full((count, reach), NO_LEG, np.int64)
    at_m = [stop.axis_m for stop in layout.stops]
    transfers = {transfer.aboard: number for number, transfer in enumerate(layout.transfers)}
    moves: list[Move] = []
    for load, start, stops in found:
        distance_m = round((at_m[(start + stops) % count] - at_m[start]) % layout.loop_m, 12)
        move = move_over(load, distance_m)
        moves.append(move)
        move_us[load, start, stops - 1] = to_microseconds(move.duration_s)
        if leg[start, stops - 1] == NO_LEG:
            leg[start, stops - 1] = leg.max() + 1
        if start in transfers:
            number = transfers[start]
            rear_us[load, number, stops - 1] = to_microseconds(move.time_to_cover_s(layout.transfers[number].rear_m))
    return Legs(move_us, leg, rear_us, _delays(layout, found, leg, moves))


def _delays(
    layout: Layout, found: list[tuple[int, int, int]], leg: Ints, moves: list[Move]
) -> np.ndarray[tuple[int, ...], np.dtype[np.int32]]:
    """Delay of every leg behind every other that runs on the same lane, its platform included."""
    rows = 2 * (int(leg.max()) + 1)
    delays = np.full((rows, rows), NO_BOUND, np.int32)
    row = np.array([2 * leg[start, stops - 1] + load for load, start, stops in found])
    lane = np.array([_lane_of(layout, start) for _, start, _ in found])
    start_m = np.array([_start_on_lane_m(layout, start) for _, start, _ in found])
    end_m = start_m + np.array([move.distance_m for move in moves])
    number, profiles = _distinct(moves)
    table = profile_table(profiles)
    for one in range(len(layout.lanes)):
        here = np.flatnonzero(lane == one)
        if not here.size:
            continue
        behind = end_m[here][None, :] <= end_m[here][:, None] - layout.pitch_m + 5e-10
        near = end_m[here][None, :] > start_m[here][:, None] - layout.pitch_m
        leader, follower = (here[i] for i in np.nonzero(behind & near))
        lead_m = start_m[leader] - start_m[follower]
        _, lead = np.unique(np.round(lead_m * 1e12), return_inverse=True)
        keys = (number[leader] * len(profiles) + number[follower]) * (int(lead.max(initial=0)) + 1) + lead
        _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
        distinct = start_delays_us(table, number[leader][first], number[follower][first], lead_m[first], layout.pitch_m)
        delays[row[leader], row[follower]] = distinct[inverse]
    return delays


def _distinct(moves: list[Move]) -> tuple[Ints, list[Move]]:
    """The number of each move among the different ones."""
    numbers: dict[Move, int] = {}
    index = [numbers.setdefault(move, len(numbers)) for move in moves]
    return np.array(index, np.int64), list(numbers)


def _lane_of(layout: Layout, start: int) -> int:
    """The lane on which a leg from this stop runs: for a place aboard the one that the transfer gives to."""
    stop = layout.stops[start]
    names = [lane.name for lane in layout.lanes]
    if stop.kind == "aboard":
        return names.index(next(t.gives for t in layout.transfers if t.aboard == start))
    return names.index(stop.lane)


def _start_on_lane_m(layout: Layout, start: int) -> float:
    """Where a leg starts, in travel on the lane on which it runs; before the lane's start for a place aboard."""
    stop = layout.stops[start]
    if stop.kind == "aboard":
        return -next(t.off_m for t in layout.transfers if t.aboard == start)
    return stop.travel_m


__all__ = ["EMPTY", "LOADED", "Legs", "Way", "build_legs", "find_legs", "next_aboard"]
