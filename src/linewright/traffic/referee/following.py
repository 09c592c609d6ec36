"""Who follows whom on each lane, from when to when, and the stretches of time in which neither changes its state."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.referee.frames import Frames
from linewright.traffic.referee.log import FOREVER_US, KEY, Log

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

AT_REST = -1


@dataclass(frozen=True)
class Visit:
    """One carrier's stay in the frame of one lane, platforms at both ends included.

    Parameters
    ----------
    carrier, lane : numbers
    first, last : its rows in the log, from the first up to, not including, the last
    place_m : where it is before its first move. [m]
    begin_us, end_us : from when to when it counts. [us]
    """

    carrier: int
    lane: int
    first: int
    last: int
    place_m: float
    begin_us: int
    end_us: int


@dataclass(frozen=True, eq=False)
class Pairs:
    """Stretches of time in which one carrier is the next behind another, A of them.

    Parameters
    ----------
    follower, leader : int64[A]   Numbers of visits
    begin_us, end_us : int64[A]
    wrap_m : float64[A]           To be added to the leader's place: on a ring once round where it is behind. [m]
    visits : all visits
    """

    follower: Ints
    leader: Ints
    begin_us: Ints
    end_us: Ints
    wrap_m: Floats
    visits: tuple[Visit, ...]


@dataclass(frozen=True, eq=False)
class Stretches:
    """Stretches of time of a pair in which each of the two rests or makes one move, S of them.

    Parameters
    ----------
    pair : int64[S]                      Number of the pair
    begin_us, end_us : int64[S]
    follower_row, leader_row : int64[S]  The move in the log, AT_REST if it rests
    follower_m, leader_m : float64[S]    Where it rests, or where its move began; the leader's with the pair's wrap. [m]
    """

    pair: Ints
    begin_us: Ints
    end_us: Ints
    follower_row: Ints
    leader_row: Ints
    follower_m: Floats
    leader_m: Floats

    @property
    def both_move(self) -> NDArray[np.bool_]:
        """Where both are under way."""
        return np.asarray((self.follower_row != AT_REST) & (self.leader_row != AT_REST), np.bool_)


def taken_out(plan: TrafficPlan, log: Log) -> dict[int, int]:
    """Carriers that were taken out, and the earliest instant of it. [us]

    Notes      The log does not say it. A carrier that never moves again, stands without a part at a station where some
               are taken out, and is among the first of these to have come there, may have been.
    """
    last: dict[int, tuple[int, int, int]] = {c: (stop, 0, 0) for c, stop in log.begins.items()}
    for row in range(len(log)):
        last[int(log.carrier[row])] = int(log.end[row]), int(log.arrival_us[row]), int(log.load[row])
    out: dict[int, int] = {}
    for change in plan.general.carrier_changes:
        if change.count >= 0:
            continue
        stop = int(plan.station_stop[change.station])
        at = sorted((t, c) for c, (s, t, load) in last.items() if s == stop and load == 0 and c not in out)
        for time, carrier in at[: -change.count]:
            out[carrier] = max(time, change.at_us)
    return out


def visits_of(frames: Frames, log: Log, out: dict[int, int]) -> list[Visit]:
    """All visits of all carriers, by carrier and time."""
    aboard = np.isin(log.start, list(frames.transfer_of)) if len(log) else np.zeros(0, np.bool_)
    heads = np.flatnonzero(log.first | aboard)
    bounds = np.append(heads, len(log)).tolist()
    visits: list[Visit] = []
    for number, first in enumerate(heads.tolist()):
        last, carrier, lane = bounds[number + 1], int(log.carrier[first]), int(log.lane[first])
        begin = int(log.came_us[first])
        if not log.first[first] and aboard[first]:
            ride = frames.ride_us(frames.transfer_of[int(log.start[first])], int(log.lane[first - 1]), lane)
            begin = min(begin + ride, int(log.departure_us[first]))
        elif carrier not in log.begins:
            begin = int(log.departure_us[first])
        end = out.get(carrier, FOREVER_US)
        if last < len(log) and not log.first[last]:
            end = int(log.departure_us[last])
        visits.append(Visit(carrier, lane, first, last, float(log.start_m[first]), begin, end))
    moved = set(log.carrier.tolist())
    for carrier, stop in log.begins.items():
        if carrier not in moved and stop not in frames.transfer_of:
            lane = frames.leaving_lanes(stop)[0]
            visits.append(Visit(carrier, lane, 0, 0, frames.place_m(stop, lane, True), 0, out.get(carrier, FOREVER_US)))
    return visits


class _Places:
    """Where visits are at an instant."""

    def __init__(self, log: Log) -> None:
        self.log = log
        self.departures = log.departure_us.tolist()

    def at(self, visit: Visit, time_us: int) -> float:
        row = bisect_right(self.departures, time_us, visit.first, visit.last) - 1
        if row < visit.first:
            return visit.place_m
        log = self.log
        if time_us >= log.arrival_us[row]:
            return float(log.end_m[row])
        gone = log.table.position(log.profile[row : row + 1], np.array([(time_us - self.departures[row]) * 1e-6]))
        return float(log.start_m[row] + log.sign[row] * gone[0])


def pairs_of(layout: Layout, frames: Frames, log: Log, out: dict[int, int], until_us: int) -> Pairs:
    """All pairs of carriers that follow each other on a lane.

    Notes      The members of each lane are kept in their order along it; where one comes in or goes, pairs end and
               others begin. A carrier aboard counts on the lane it came by until it leaves the platform, and on the
               lane by which it leaves from when the platform can have locked there.
    """
    visits = visits_of(frames, log, out)
    places = _Places(log)
    events = sorted(
        [
            (v.begin_us, 1, v.place_m, n)
            for n, v in enumerate(visits)
            if v.begin_us <= until_us and v.begin_us < v.end_us
        ]
        + [(v.end_us, 0, 0.0, n) for n, v in enumerate(visits) if v.end_us <= until_us],
        key=lambda event: (event[0], event[1], -event[2] if event[1] else 0.0, event[3]),
    )
    members: list[list[int]] = [[] for _ in layout.lanes]
    found: list[tuple[int, int, int, int, float]] = []
    open_since: dict[tuple[int, int], int] = {}

    def neighbours(lane: int) -> set[tuple[int, int]]:
        row = members[lane]
        pairs = set(pairwise(row))
        if layout.lanes[lane].is_ring and len(row) > 1:
            pairs.add((row[-1], row[0]))
        return pairs

    def change(lane: int, time: int, number: int, comes: bool) -> None:
        before = _beside(members[lane], number, layout.lanes[lane].is_ring) if not comes else set()
        if comes:
            _insert(layout, visits, members[lane], number, time, places)
            after = _beside(members[lane], number, layout.lanes[lane].is_ring)
            outer = [a for a, b in after if b == number and a != number]
            inner = [b for a, b in after if a == number and b != number]
            before = {(a, b) for a in outer for b in inner if (a, b) in open_since}
        else:
            outer = [a for a, b in before if b == number]
            inner = [b for a, b in before if a == number]
            members[lane].remove(number)
            after = {(a, b) for a in outer for b in inner if a != b} & neighbours(lane)
        for pair in sorted(before):
            since = open_since.pop(pair, None)
            if since is not None:
                found.append((*pair, since, time, _wrap(layout, visits, places, pair, since)))
        for pair in sorted(after):
            open_since.setdefault(pair, time)

    for time, comes, _, number in events:
        lane = visits[number].lane
        if comes or number in members[lane]:
            change(lane, time, number, bool(comes))
    for pair, since in sorted(open_since.items()):
        found.append((*pair, since, until_us, _wrap(layout, visits, places, pair, since)))
    kept = [one for one in found if one[2] < one[3]]
    table = np.array([one[:4] for one in kept], np.int64).reshape(len(kept), 4)
    wrap = np.array([one[4] for one in kept], np.float64)
    return Pairs(table[:, 0], table[:, 1], table[:, 2], table[:, 3], wrap, tuple(visits))


def _beside(row: list[int], number: int, ring: bool) -> set[tuple[int, int]]:
    """The pairs, follower and leader, that a member is in."""
    k, pairs = row.index(number), set()
    if k or (ring and len(row) > 1):
        pairs.add((row[k - 1], number))
    if k + 1 < len(row) or (ring and len(row) > 1):
        pairs.add((number, row[(k + 1) % len(row)]))
    return pairs


def _insert(layout: Layout, visits: list[Visit], row: list[int], number: int, time_us: int, places: _Places) -> None:
    """Into the order along the lane, from the start on; on a ring from the first that came on."""
    lane = layout.lanes[visits[number].lane]
    here = places.at(visits[number], time_us)
    first = places.at(visits[row[0]], time_us) if row and lane.is_ring else here
    if lane.is_ring:
        here = first + (here - first) % lane.length_m
    k = 1 if row and lane.is_ring else 0
    while k < len(row):
        there = places.at(visits[row[k]], time_us)
        if lane.is_ring:
            there = first + (there - first) % lane.length_m
        if there >= here:
            break
        k += 1
    row.insert(k, number)


def _wrap(layout: Layout, visits: list[Visit], places: _Places, pair: tuple[int, int], time_us: int) -> float:
    """Once round, as often as brings the leader's place next ahead of the follower's; 0 where there is no ring."""
    lane = layout.lanes[visits[pair[0]].lane]
    if not lane.is_ring:
        return 0.0
    apart = places.at(visits[pair[1]], time_us) - places.at(visits[pair[0]], time_us)
    return (apart % lane.length_m) - apart


def stretches_of(log: Log, pairs: Pairs) -> Stretches:
    """The stretches of all pairs, by pair and time."""
    first = np.array([v.first for v in pairs.visits], np.int64)
    last = np.array([v.last for v in pairs.visits], np.int64)
    place = np.array([v.place_m for v in pairs.visits], np.float64)
    marks_us = np.stack((log.departure_us, log.arrival_us), axis=1).reshape(-1)
    keys = np.repeat(log.carrier, 2) * KEY + marks_us
    count = len(pairs.follower)
    owners, times = [np.arange(count), np.arange(count)], [pairs.begin_us, pairs.end_us]
    carriers = np.array([v.carrier for v in pairs.visits], np.int64)
    for side in (pairs.follower, pairs.leader):
        low = np.searchsorted(keys, carriers[side] * KEY + pairs.begin_us, "right")
        high = np.searchsorted(keys, carriers[side] * KEY + pairs.end_us, "left")
        many = np.maximum(high - low, 0)
        owner = np.repeat(np.arange(count), many)
        within = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many)
        owners.append(owner)
        times.append(marks_us[low[owner] + within])
    pair, time = np.concatenate(owners), np.concatenate(times)
    order = np.lexsort((time, pair))
    pair, time = pair[order], time[order]
    same = (pair[1:] == pair[:-1]) & (time[1:] > time[:-1])
    pair, begin, end = pair[:-1][same], time[:-1][same], time[1:][same]
    rows, places = [], []
    departures = log.carrier * KEY + log.departure_us
    for side in (pairs.follower, pairs.leader):
        visit = side[pair]
        row = np.searchsorted(departures, carriers[visit] * KEY + begin, "right") - 1
        row = np.minimum(row, last[visit] - 1)
        began = row >= first[visit]
        safe = np.maximum(row, 0)
        if len(log):
            moves = began & (begin < log.arrival_us[safe])
            rested = np.where(began, log.end_m[safe], place[visit])
            rows.append(np.where(moves, row, AT_REST))
            places.append(np.where(moves, log.start_m[safe], rested))
        else:
            rows.append(np.full(len(pair), AT_REST, np.int64))
            places.append(place[visit])
    return Stretches(pair, begin, end, rows[0], rows[1], places[0], places[1] + pairs.wrap_m[pair])
