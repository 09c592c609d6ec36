"""In which order carriers stand along a lane, and so who is the next behind whom."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linewright.layout.lanes import LaneLayout
from linewright.traffic.referee.log import KEY, Log

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Columns = tuple[Ints, Ints, Ints, Ints, Floats]
"""Of pairs: follower, leader, begin, end, wrap."""


@dataclass(frozen=True, eq=False)
class Visits:
    """Stays of one carrier each in the frame of one lane, platforms at both ends included, V of them.

    Parameters
    ----------
    carrier, lane : int64[V]
    first, last : int64[V]        Its rows in the log, from the first up to, not including, the last
    place_m : float64[V]          Where it is before its first move. [m]
    begin_us, end_us : int64[V]   From when to when it counts. [us]
    """

    carrier: Ints
    lane: Ints
    first: Ints
    last: Ints
    place_m: Floats
    begin_us: Ints
    end_us: Ints


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
    visits: Visits

    def carriers(self, pair: int) -> tuple[int, int]:
        """Follower and leader of a pair."""
        of = self.visits.carrier
        return int(of[self.follower[pair]]), int(of[self.leader[pair]])


def row_at(log: Log, visits: Visits, number: Ints, time_us: Ints) -> Ints:
    """The last move that each of these visits has begun by a time, -1 for none."""
    keys = log.carrier * KEY + log.departure_us
    row = np.searchsorted(keys, visits.carrier[number] * KEY + time_us, "right") - 1
    row = np.minimum(row, visits.last[number] - 1)
    return np.where(row >= visits.first[number], row, -1)


def places_at(log: Log, visits: Visits, number: Ints, time_us: Ints) -> Floats:
    """Where the carriers of these visits are at these times. [m]"""
    if not len(log):
        return visits.place_m[number]
    row = row_at(log, visits, number, time_us)
    safe = np.maximum(row, 0)
    place = np.where(row < 0, visits.place_m[number], log.end_m[safe])
    under_way = np.flatnonzero((row >= 0) & (time_us < log.arrival_us[safe]))
    of = row[under_way]
    gone = log.table.position(log.profile[of], np.asarray((time_us[under_way] - log.departure_us[of]) * 1e-6))
    place[under_way] = log.start_m[of] + log.sign[of] * gone
    return place


def row_of_pairs(log: Log, visits: Visits, here: Ints, until_us: int) -> Columns | None:
    """The pairs on a lane on which each comes in behind the one that came last, and they leave in that order.

    Parameters
    ----------
    log, visits : of the run
    here : the visits that count, of one lane that is no ring
    until_us : when the last pairs end. [us]

    Returns
    -------
    Columns   None where one comes in ahead of another or leaves before it: then `sorted_pairs` must be asked.
    """
    begin = visits.begin_us
    here = here[np.lexsort((here, -visits.place_m[here], begin[here]))]
    behind, ahead = here[1:], here[:-1]
    still_there = visits.end_us[ahead] > begin[behind]
    places = places_at(log, visits, ahead, begin[behind])
    if (visits.end_us[behind] < visits.end_us[ahead]).any() or (still_there & (places < visits.place_m[behind])).any():
        return None
    end = np.minimum(visits.end_us[ahead], until_us)
    kept = begin[behind] < end
    return behind[kept], ahead[kept], begin[behind][kept], end[kept], np.zeros(int(kept.sum()))


def sorted_pairs(lane: LaneLayout, log: Log, visits: Visits, here: Ints, until_us: int) -> Columns:
    """The pairs on any lane, found one event after the other.

    Notes      The members of the lane are kept in their order along it; where one comes in or goes, pairs end and
               others begin.
    """
    order = _Order(lane, log, visits)
    begins, ends = visits.begin_us[here].tolist(), visits.end_us[here].tolist()
    places = visits.place_m[here].tolist()
    events = [(begin, 1, -place, n) for n, begin, place in zip(here.tolist(), begins, places, strict=True)]
    events += [(end, 0, 0.0, n) for n, end in zip(here.tolist(), ends, strict=True) if end <= until_us]
    for time, comes, _, number in sorted(events):
        order.comes(number, time) if comes else order.goes(number, time)
    found = [*order.found, *((*pair, since, until_us, order.wrap(pair, since)) for pair, since in order.since.items())]
    kept = [one for one in found if one[2] < one[3]]
    table = np.array([one[:4] for one in kept], np.int64).reshape(len(kept), 4)
    return table[:, 0], table[:, 1], table[:, 2], table[:, 3], np.array([one[4] for one in kept], np.float64)


class _Order:
    """The visits on one lane in their order along it, from the start on; on a ring from the first that came on."""

    def __init__(self, lane: LaneLayout, log: Log, visits: Visits) -> None:
        self.lane, self.log, self.visits = lane, log, visits
        self.departures = log.departure_us.tolist()
        self.row: list[int] = []
        self.since: dict[tuple[int, int], int] = {}
        self.found: list[tuple[int, int, int, int, float]] = []

    def place_m(self, number: int, time_us: int) -> float:
        log, visits = self.log, self.visits
        first, last = int(visits.first[number]), int(visits.last[number])
        row = bisect_right(self.departures, time_us, first, last) - 1
        if row < first:
            return float(visits.place_m[number])
        if time_us >= log.arrival_us[row]:
            return float(log.end_m[row])
        gone = log.table.position(log.profile[row : row + 1], np.array([(time_us - self.departures[row]) * 1e-6]))
        return float(log.start_m[row] + log.sign[row] * gone[0])

    def wrap(self, pair: tuple[int, int], time_us: int) -> float:
        """Once round, as often as brings the leader's place next ahead of the follower's; 0 where there is no ring."""
        if not self.lane.is_ring:
            return 0.0
        apart = self.place_m(pair[1], time_us) - self.place_m(pair[0], time_us)
        return (apart % self.lane.length_m) - apart

    def beside(self, number: int) -> tuple[list[int], list[int]]:
        """The next behind and the next ahead of a member, as far as there are others."""
        row, ring = self.row, self.lane.is_ring and len(self.row) > 1
        k = row.index(number)
        behind = [row[k - 1]] if k or ring else []
        return behind, [row[(k + 1) % len(row)]] if k + 1 < len(row) or ring else []

    def comes(self, number: int, time_us: int) -> None:
        self._insert(number, time_us)
        behind, ahead = self.beside(number)
        for one in behind:
            for other in ahead:
                self._end((one, other), time_us)
        for pair in [*((one, number) for one in behind), *((number, one) for one in ahead)]:
            self.since.setdefault(pair, time_us)

    def goes(self, number: int, time_us: int) -> None:
        behind, ahead = self.beside(number)
        for pair in [*((one, number) for one in behind), *((number, one) for one in ahead)]:
            self._end(pair, time_us)
        self.row.remove(number)
        for one in behind:
            for other in ahead:
                if one != other:
                    self.since.setdefault((one, other), time_us)

    def _end(self, pair: tuple[int, int], time_us: int) -> None:
        since = self.since.pop(pair, None)
        if since is not None:
            self.found.append((*pair, since, time_us, self.wrap(pair, since)))

    def _insert(self, number: int, time_us: int) -> None:
        row, ring, length = self.row, self.lane.is_ring, self.lane.length_m
        here = self.place_m(number, time_us)
        first = self.place_m(row[0], time_us) if row and ring else here
        here = first + (here - first) % length if ring else here
        k = 1 if row and ring else 0
        while k < len(row):
            there = self.place_m(row[k], time_us)
            there = first + (there - first) % length if ring else there
            if there >= here:
                break
            k += 1
        row.insert(k, number)
