"""What the ways of carriers through a traffic plan cost: the least or greatest mean time of a load's ways and stays."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from linewright.flow.part_routes import END, Journey, Stay
from linewright.traffic.general import Platform, Track
from linewright.traffic.plan import ABOARD, EMPTY, LOADED, NO_LEG, TrafficPlan

Floats = NDArray[np.float64]

Way = Callable[[int, int, int], float]
"""What a way of a load class costs from one station to another."""

Dwell = Callable[[int, Stay], float]
"""What a stay at a station costs."""

# Rounds of the search for the best choice among parallel first stations, and the share at which it ends.
ROUNDS = 200
CLOSE = 1e-12


def mean_per_load(plan: TrafficPlan, journey: Journey, way: Way, dwell: Dwell, slow: bool) -> float:
    """The least, or with `slow` the greatest, long-run mean per load of the ways between its stays and of these, over
    all choices among parallel stations; infinite where there is no way.

    Where the choice of the first station carries over to the next load, this is the mean cost of a small decision
    process: with T one load's choice, min (T h − h) ≤ mean ≤ max (T h − h) for any values h of the first stations
    (Odoni 1969, from memory); the iteration of T makes the two meet.
    """
    first = plan.step_stations[0]
    value = dict.fromkeys(first, 0.0)
    found = math.inf if slow else -math.inf
    for _ in range(ROUNDS):
        after = _one_load(plan, journey, way, dwell, value, slow)
        gains = [after[station] - value[station] for station in first]
        if not all(math.isfinite(gain) for gain in gains):
            return math.inf
        found = min(found, max(gains)) if slow else max(found, min(gains))
        if max(gains) - min(gains) <= CLOSE * abs(max(gains)):
            break
        # Half steps: with whole ones two first stations that are used in turn would never settle.
        value = {station: 0.5 * (value[station] + after[station]) for station in first}
    return found


def _one_load(
    plan: TrafficPlan, journey: Journey, way: Way, dwell: Dwell, value: dict[int, float], slow: bool
) -> dict[int, float]:
    """From the arrival at each first station through one load to the next arrival at a first station, then `value`."""
    best = max if slow else min
    ahead: list[dict[int, float]] = [{} for _ in journey.stays]

    def onward(station: int, following: int) -> float:
        if following == END:
            return float(best(way(EMPTY, station, there) + value[there] for there in plan.step_stations[0]))
        stay = journey.stays[following]
        return float(
            best(
                way(LOADED, station, there) + dwell(there, stay) + ahead[following][there]
                for there in plan.step_stations[stay.step]
            )
        )

    for k in reversed(range(len(journey.stays))):
        stay = journey.stays[k]
        for station in plan.step_stations[stay.step]:
            ahead[k][station] = sum(chance * onward(station, following) for chance, following in stay.after)
    return {
        station: sum(chance * (dwell(station, journey.stays[k]) + ahead[k][station]) for chance, k in journey.first)
        for station in plan.step_stations[0]
    }


def least_ways_us(plan: TrafficPlan) -> Way:
    """Time of the quickest way of a load class from one station to another; infinite where there is none. [us]"""
    track = plan.general.track
    return ways_us(plan, slow=False) if track is None else _track_ways_us(plan, track)


def ways_us(plan: TrafficPlan, slow: bool) -> Way:
    """The same on a plain loop; with `slow` the slowest, each of whose moves and rides takes all that belongs to it.
    [us]"""
    count, reach = plan.stops, plan.move_us.shape[2]
    none = -math.inf if slow else math.inf
    cost = np.where(plan.move_us == NO_LEG, none, plan.move_us + (plan.follow_us if slow else 0.0))
    for aboard in np.flatnonzero(plan.stop_kind == ABOARD):
        transfer = int(plan.stop_transfer[aboard])
        ride = float(plan.aboard_us[transfer])
        if slow:
            ride += float(plan.rear_us[:, transfer].max() + plan.home_us[transfer])
        for back in range(1, reach + 1):
            cost[:, (aboard - back) % count, back - 1] += ride
    pick = np.maximum if slow else np.minimum
    known: dict[tuple[int, int, int], float] = {}

    def way(load: int, start: int, end: int) -> float:
        key = (load, start, end)
        if key not in known:
            here = int(plan.station_stop[start])
            length = plan.ahead(here, int(plan.station_stop[end]))
            times = np.full(length + 1, none)
            times[0] = 0.0
            for passed in range(length):
                legs = cost[load, (here + passed) % count, : min(reach, length - passed)]
                ends = slice(passed + 1, passed + 1 + len(legs))
                times[ends] = pick(times[ends], times[passed] + legs)
            known[key] = float(times[length])
        return known[key]

    return way


def leg_times_us(track: Track, load: int) -> Floats:
    """Time of the leg from every stop to every other for a load class; infinite where there is none. [us]"""
    times = np.full(track.leg.shape, math.inf)
    there = track.leg != NO_LEG
    legs = track.leg_us[2 * track.leg[there] + load].astype(np.float64)
    times[there] = np.where(legs == NO_LEG, math.inf, legs)
    return times


def _track_ways_us(plan: TrafficPlan, track: Track) -> Way:
    """On any track: the shortest sequences of legs, each from rest to rest, a ride before each leg from aboard."""
    cost = [leg_times_us(track, load) for load in (EMPTY, LOADED)]
    for aboard in np.flatnonzero(plan.stop_kind == ABOARD):
        ride = _least_rides_us(plan, track, int(aboard))
        for times in cost:
            times[aboard] += ride
    for times in cost:
        # Nothing leads from a stop to itself but a way round.
        for middle in range(plan.stops):
            np.minimum(times, times[:, middle, None] + times[None, middle, :], out=times)

    def way(load: int, start: int, end: int) -> float:
        return float(cost[load][plan.station_stop[start], plan.station_stop[end]])

    return way


def _least_rides_us(plan: TrafficPlan, track: Track, aboard: int) -> Floats:
    """The least ride before a leg from a place aboard to each stop. [us]"""
    platform = next((one for one in plan.general.platforms if aboard in one.aboard), None)
    if platform is None:
        transfer = int(plan.stop_transfer[aboard])
        known = transfer >= 0 and transfer < len(plan.aboard_us)
        return np.full(plan.stops, float(plan.aboard_us[transfer]) if known else 0.0)
    return np.array([_least_ride_us(platform, int(lane)) for lane in track.stop_lane])


def _least_ride_us(platform: Platform, lane: int) -> float:
    """From any dock it takes from to that of a lane it gives to; of any lane where it gives to no such one. [us]"""
    docks = len(platform.takes)
    ends = [docks + k for k, given in enumerate(platform.gives) if given == lane]
    ends = ends or [docks + k for k in range(len(platform.gives))]
    return float(min(platform.ride_us[start][end] for start in range(docks) for end in ends))


def rides_per_load(plan: TrafficPlan, journey: Journey, transfer: int) -> float:
    """The least mean number of rides on a transfer per load, on a plain loop."""
    aboard = int(plan.stop_transfer.tolist().index(transfer))

    def way(load: int, start: int, end: int) -> float:
        here = int(plan.station_stop[start])
        return float(plan.ahead(here, aboard) < plan.ahead(here, int(plan.station_stop[end])))

    return max(mean_per_load(plan, journey, way, lambda station, stay: 0.0, slow=False), 0.0)
