"""How the stops of a track follow one another, and the shortest way from each to each.

Works for every track: a loop, a ring, a lane to and fro, lanes that branch and merge at transfers.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout.lanes import SAME_PLACE_M, Layout

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

NOWHERE: Final = -1


@dataclass(frozen=True)
class Hop:
    """From one stop to the next on the track.

    Parameters
    ----------
    to : rank of the stop that follows
    length_m : along the track. [m]
    """

    to: int
    length_m: float


@dataclass(frozen=True, eq=False)
class Ways:
    """The shortest ways of a track of N stops.

    Parameters
    ----------
    hops : of each stop those that follow it, at a transfer in the order in which it names the lanes it gives to
    onward : int64[N]        The stop straight on, NOWHERE at the track's end
    next_stop : int64[N, N]  Next stop on the way from i to j; [i, i] leads once round; NOWHERE where nothing leads
    length_m : float64[N, N] Of that way; infinite where there is none. [m]
    """

    hops: tuple[tuple[Hop, ...], ...]
    onward: Ints
    next_stop: Ints
    length_m: Floats

    def stops(self, start: int, end: int) -> list[int]:
        """The stops from one to another, the first left out. Raises KeyError where no way leads."""
        passed: list[int] = []
        here = start
        while here != end or not passed:
            here = int(self.next_stop[here, end])
            if here == NOWHERE:
                raise KeyError(f"no way leads from stop {start} to stop {end}")
            passed.append(here)
        return passed


def lane_numbers(layout: Layout) -> Ints:
    """The number of the lane of each stop; of a place aboard that of the first lane its transfer takes from."""
    names = [lane.name for lane in layout.lanes]
    return np.array([names.index(stop.lane) for stop in layout.stops], np.int64)


def hops_of(layout: Layout) -> tuple[tuple[Hop, ...], ...]:
    """Of each stop those that follow it, in the direction of travel."""
    of_lane = {
        lane.name: [stop for stop in layout.stops if stop.lane == lane.name and stop.kind != "aboard"]
        for lane in layout.lanes
    }
    hops: list[list[Hop]] = [[] for _ in layout.stops]
    for lane in layout.lanes:
        stops = of_lane[lane.name]
        for before, after in pairwise(stops):
            hops[before.index].append(Hop(after.index, after.travel_m - before.travel_m))
        if lane.is_ring and stops:
            last, first = stops[-1], stops[0]
            hops[last.index].append(Hop(first.index, first.travel_m + lane.length_m - last.travel_m))
    for transfer in layout.transfers:
        aboards = transfer.aboards
        for name in transfer.takes:
            hops[of_lane[name][-1].index].append(Hop(aboards[0], transfer.on_m))
        for before_rank, after_rank in pairwise(aboards):
            hops[before_rank].append(Hop(after_rank, transfer.pitch_m))
        for name in transfer.gives:
            first = of_lane[name][0]
            hops[aboards[-1]].append(Hop(first.index, transfer.off_m + first.travel_m))
    return tuple(tuple(of_stop) for of_stop in hops)


def ways_of(layout: Layout) -> Ways:
    """The shortest ways between all stops; of equal ones that by the lane named first.

    Notes      All shortest distances by Floyd and Warshall (1962, from memory); lengths that differ by less than
               1e-9 m are equal. On a lane to and fro a way leads either way, and none leads from a stop to itself.
    Source     semantics.md, The track in general.
    """
    hops = hops_of(layout)
    count = len(layout.stops)
    onward = np.array([of_stop[0].to if of_stop else NOWHERE for of_stop in hops], np.int64)
    two_way = any(lane.two_way for lane in layout.lanes)
    if two_way:
        back: list[list[Hop]] = [list(of_stop) for of_stop in hops]
        for start, of_stop in enumerate(hops):
            for hop in of_stop:
                back[hop.to].append(Hop(start, hop.length_m))
        hops = tuple(tuple(of_stop) for of_stop in back)
    apart = np.full((count, count), np.inf)
    for start, of_stop in enumerate(hops):
        for hop in of_stop:
            apart[start, hop.to] = min(apart[start, hop.to], hop.length_m)
    if two_way:
        np.fill_diagonal(apart, 0.0)
    for middle in range(count):
        np.minimum(apart, apart[:, middle, None] + apart[None, middle, :], out=apart)
    if two_way:
        np.fill_diagonal(apart, np.inf)
    next_stop = np.full((count, count), NOWHERE, np.int64)
    for start, of_stop in enumerate(hops):
        for hop in reversed(of_stop):  # the first named last, so that of equals it stays
            beyond = apart[hop.to].copy()
            beyond[hop.to] = 0.0
            along = np.isfinite(apart[start]) & (hop.length_m + beyond <= apart[start] + SAME_PLACE_M)
            next_stop[start, along] = hop.to
    return Ways(hops, onward, next_stop, apart)
