"""Who follows whom on each lane, from when to when, and the stretches of time in which neither changes its state."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.referee.frames import Frames
from linewright.traffic.referee.log import FOREVER_US, KEY, Log
from linewright.traffic.referee.order import Pairs, Visits, row_at, row_of_pairs, sorted_pairs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

AT_REST = -1


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
    ends = np.flatnonzero(np.append(log.first[1:], True)) if len(log) else np.zeros(0, np.int64)
    for row in ends.tolist():
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


def visits_of(frames: Frames, log: Log, out: dict[int, int]) -> Visits:
    """All visits of all carriers, by carrier and time; last those that never move."""
    gone = {carrier: out.get(carrier, FOREVER_US) for carrier in {*log.begins, *log.carrier[log.first].tolist()}}
    aboard = np.isin(log.start, list(frames.transfer_of))
    first = np.flatnonzero(log.first | aboard)
    last = np.append(first, len(log))[1:]
    begin = log.came_us[first]
    rides = frames.rides_before_us(log.start, log.lane, first)
    comes_aboard = ~log.first[first] & aboard[first]
    begin = np.where(comes_aboard, np.minimum(begin + rides, log.departure_us[first]), begin)
    put_in = ~comes_aboard & ~np.isin(log.carrier[first], list(log.begins))
    begin = np.where(put_in, log.departure_us[first], begin)
    end = np.array([gone[carrier] for carrier in log.carrier[first].tolist()], np.int64)
    goes_on = (last < len(log)) & ~np.append(log.first, True)[last]
    end[goes_on] = log.departure_us[last[goes_on]]
    still = sorted(set(log.begins) - set(log.carrier[log.first].tolist()))
    still = [carrier for carrier in still if log.begins[carrier] not in frames.transfer_of]
    stops = [log.begins[carrier] for carrier in still]
    lanes = [frames.leaving_lanes(stop)[0] for stop in stops]
    none = np.zeros(len(still), np.int64)
    places = [frames.place_m(stop, lane, True) for stop, lane in zip(stops, lanes, strict=True)]
    return Visits(
        carrier=np.concatenate((log.carrier[first], np.array(still, np.int64))),
        lane=np.concatenate((log.lane[first], np.array(lanes, np.int64))),
        first=np.concatenate((first, none)),
        last=np.concatenate((last, none)),
        place_m=np.concatenate((log.start_m[first], np.array(places, np.float64))),
        begin_us=np.concatenate((begin, none)),
        end_us=np.concatenate((end, np.array([gone[carrier] for carrier in still], np.int64))),
    )


def pairs_of(layout: Layout, frames: Frames, log: Log, out: dict[int, int], until_us: int) -> Pairs:
    """All pairs of carriers that follow each other on a lane, by their end.

    Notes      A carrier aboard counts on the lane it came by until it leaves the platform, and on the lane by which it
               leaves from when the platform can have locked there.
    """
    visits = visits_of(frames, log, out)
    counts = np.flatnonzero((visits.begin_us <= until_us) & (visits.begin_us < visits.end_us))
    found = []
    for number, lane in enumerate(layout.lanes):
        here = counts[visits.lane[counts] == number]
        in_a_row = None if lane.is_ring else row_of_pairs(log, visits, here, until_us)
        found.append(in_a_row if in_a_row is not None else sorted_pairs(lane, log, visits, here, until_us))
    columns = [np.concatenate(parts) for parts in zip(*found, strict=True)]
    order = np.lexsort((columns[1], columns[0], columns[3]))
    follower, leader, begin, end = (one[order].astype(np.int64) for one in columns[:4])
    return Pairs(follower, leader, begin, end, columns[4][order].astype(np.float64), visits)


def stretches_of(log: Log, pairs: Pairs) -> Stretches:
    """The stretches of all pairs, by pair and time."""
    pair, begin, end = _marks(log, pairs)
    visits = pairs.visits
    rows, places = [], []
    for side in (pairs.follower, pairs.leader):
        visit = side[pair]
        if not len(log):
            rows.append(np.full(len(pair), AT_REST, np.int64))
            places.append(visits.place_m[visit])
            continue
        row = row_at(log, visits, visit, begin)
        began = row >= 0
        safe = np.maximum(row, 0)
        moves = began & (begin < log.arrival_us[safe])
        rested = np.where(began, log.end_m[safe], visits.place_m[visit])
        rows.append(np.where(moves, row, AT_REST))
        places.append(np.where(moves, log.start_m[safe], rested))
    return Stretches(pair, begin, end, rows[0], rows[1], places[0], places[1] + pairs.wrap_m[pair])


def _marks(log: Log, pairs: Pairs) -> tuple[Ints, Ints, Ints]:
    """Each pair's time cut at every departure and arrival of the two: pair, begin, end. [us]"""
    count = len(pairs.follower)
    if not count:
        return tuple(np.zeros(0, np.int64) for _ in range(3))  # type: ignore[return-value]
    marks_us = np.stack((log.departure_us, log.arrival_us), axis=1).reshape(-1)
    keys = np.repeat(log.carrier, 2) * KEY + marks_us
    # One number for pair and time, so that one sort of plain numbers does.
    span = int(pairs.end_us.max()) + 1
    numbers = np.arange(count) * span
    found = [numbers + pairs.begin_us, numbers + pairs.end_us]
    for side in (pairs.follower, pairs.leader):
        carrier = pairs.visits.carrier[side] * KEY
        low = np.searchsorted(keys, carrier + pairs.begin_us, "right")
        many = np.maximum(np.searchsorted(keys, carrier + pairs.end_us, "left") - low, 0)
        owner = np.repeat(np.arange(count), many)
        within = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many)
        found.append(numbers[owner] + marks_us[low[owner] + within])
    every = np.sort(np.concatenate(found))
    pair, time = np.divmod(every, span)
    same = (pair[1:] == pair[:-1]) & (time[1:] > time[:-1])
    return pair[:-1][same], time[:-1][same], time[1:][same]
