"""The track in general of any plan: that of its general record, or what a plain loop is when seen as one."""

from __future__ import annotations

import numpy as np

from linewright.traffic.general import Platform, Track
from linewright.traffic.plan import ABOARD, EMPTY, LOADED, NO_LEG, TrafficPlan


def track_of(plan: TrafficPlan) -> Track:
    """How the stops of a plan follow one another, and its legs from stop to stop."""
    return plan.general.track if plan.general.track is not None else _loop(plan)


def platforms_of(plan: TrafficPlan) -> tuple[Platform, ...]:
    """The transfers of a plan; those of a plain loop take from the lane before them and give to the one behind."""
    if plan.general.track is not None or plan.general.platforms:
        return plan.general.platforms
    lanes = len(plan.transfer_names)
    platforms: list[Platform | None] = [None] * lanes
    for stop in np.flatnonzero(plan.stop_kind == ABOARD).tolist():
        transfer = int(plan.stop_transfer[stop])
        lane = int(_lanes(plan)[stop])
        away_us, home_us = int(plan.aboard_us[transfer]), int(plan.home_us[transfer])
        platforms[transfer] = Platform((stop,), (lane,), ((lane + 1) % lanes,), ((0, away_us), (home_us, 0)))
    return tuple(platform for platform in platforms if platform is not None)


def _lanes(plan: TrafficPlan) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """The lane of each stop of a loop: a lane ends in the place aboard behind it."""
    aboard = plan.stop_kind == ABOARD
    before = np.cumsum(aboard) - aboard
    return np.asarray(before % max(int(aboard.sum()), 1), np.int64)


def _loop(plan: TrafficPlan) -> Track:
    """A plain loop as a track: from each stop to the next, round and round."""
    stops = plan.stops
    onward = (np.arange(stops) + 1) % stops
    way_m = (plan.stop_axis_m[None, :] - plan.stop_axis_m[:, None]) % plan.loop_m
    np.fill_diagonal(way_m, plan.loop_m)
    leg = np.full((stops, stops), NO_LEG, np.int64)
    legs = int(plan.leg.max(initial=NO_LEG)) + 1
    leg_us, rear_us = np.full(2 * legs, NO_LEG, np.int64), np.zeros(2 * legs, np.int64)
    for start, reach in zip(*np.nonzero(plan.leg != NO_LEG), strict=True):
        number = plan.leg[start, reach]
        # A carrier alone on a loop may go all the way round, but never to its own stop.
        leg[start, (start + reach + 1) % stops] = number
        transfer = plan.stop_transfer[start]
        for load in (EMPTY, LOADED):
            leg_us[2 * number + load] = plan.move_us[load, start, reach]
            if transfer >= 0 and reach < plan.rear_us.shape[2]:
                rear_us[2 * number + load] = plan.rear_us[load, transfer, reach]
    return Track(
        lanes=max(len(plan.transfer_names), 1),
        stop_lane=_lanes(plan),
        onward=onward,
        way=np.repeat(onward[:, None], stops, axis=1),
        way_m=way_m,
        leg=leg,
        leg_us=leg_us,
        rear_us=rear_us,
    )
