"""The ways of parts and carriers through a traffic plan: how often each step is worked, and the least or greatest mean
time of a part's ways."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from linewright.traffic.plan import ABOARD, EMPTY, LOADED, NO_LEG, TrafficPlan

Way = Callable[[int, int, int], float]
"""What a way of a load class costs from one station to another."""

# Rounds of the search for the best choice among parallel first stations, and the share at which it ends.
ROUNDS: Final = 200
CLOSE: Final = 1e-12


@dataclass(frozen=True, eq=False)
class PartRoute:
    """Where parts go.

    Parameters
    ----------
    flag : of each step the chance that a part is flagged there
    good, flagged : the step that follows for a good and for a flagged part; None where the part leaves its carrier
    visits : mean works at each step per started part
    good_share : of the started parts
    """

    flag: tuple[float, ...]
    good: tuple[int | None, ...]
    flagged: tuple[int | None, ...]
    visits: tuple[float, ...]
    good_share: float


def part_route(plan: TrafficPlan) -> PartRoute:
    """Where a plan's parts go. Raises ValueError where a step flags parts and no exit follows."""
    steps = range(len(plan.step_names))
    exits = plan.step_exit
    chances = [plan.reject[plan.step_stations[p][0]] for p in steps]
    # Serials that are given to be flagged are used up in the long run.
    flag = [0.0 if exits[p] or chances[p].given is not None else chances[p].share for p in steps]

    def after(p: int, is_exit: bool) -> int | None:
        return None if exits[p] else next((q for q in steps if q > p and exits[q] == is_exit), None)

    good, flagged = [after(p, False) for p in steps], [after(p, True) for p in steps]
    if any(flag[p] > 0.0 and flagged[p] is None for p in steps):
        raise ValueError("a step flags parts, but no exit follows")
    visits = [1.0] + [0.0] * (len(steps) - 1)
    for p in steps:
        for chance, following in ((1.0 - flag[p], good[p]), (flag[p], flagged[p])):
            if following is not None and chance > 0.0:
                visits[following] += visits[p] * chance
    share = math.prod(1.0 - chance for chance in flag)
    return PartRoute(tuple(flag), tuple(good), tuple(flagged), tuple(visits), share)


def mean_per_part(plan: TrafficPlan, route: PartRoute, way: Way, dwell: Sequence[float], slow: bool) -> float:
    """The least, or with `slow` the greatest, long-run mean per started part of the ways between its steps and the
    dwells at them, over all choices among parallel stations.

    Where the choice of the first station carries over to the next part, this is the mean cost of a small decision
    process: with T one part's choice, min (T h − h) ≤ mean ≤ max (T h − h) for any values h of the first stations
    (Odoni 1969, from memory); the iteration of T makes the two meet.
    """
    best = max if slow else min
    first = plan.step_stations[0]
    value = dict.fromkeys(first, 0.0)
    found = math.inf if slow else -math.inf
    for _ in range(ROUNDS):
        after = _one_part(plan, route, way, dwell, value, best)
        gains = [after[station] - value[station] for station in first]
        found = min(found, max(gains)) if slow else max(found, min(gains))
        if max(gains) - min(gains) <= CLOSE * abs(max(gains)):
            break
        # Half steps: with whole ones two first stations that are used in turn would never settle.
        value = {station: 0.5 * (value[station] + after[station]) for station in first}
    if not math.isfinite(found):
        raise ValueError("the plan lacks legs for its route")
    return found


def _one_part(
    plan: TrafficPlan,
    route: PartRoute,
    way: Way,
    dwell: Sequence[float],
    value: dict[int, float],
    best: Callable[..., float],
) -> dict[int, float]:
    """From each first station, its work done, to the end of the next part's work at a first station, then `value`."""
    ahead: list[dict[int, float]] = [{} for _ in route.flag]

    def onward(station: int, following: int | None) -> float:
        step = 0 if following is None else following
        values = value if following is None else ahead[step]
        load = EMPTY if step == 0 else LOADED
        return float(
            best(way(load, station, there) + dwell[there] + values[there] for there in plan.step_stations[step])
        )

    for p in reversed(range(len(route.flag))):
        if route.visits[p] == 0.0:
            continue
        for station in plan.step_stations[p]:
            cost = (1.0 - route.flag[p]) * onward(station, route.good[p]) if route.flag[p] < 1.0 else 0.0
            if route.flag[p] > 0.0:
                cost += route.flag[p] * onward(station, route.flagged[p])
            ahead[p][station] = cost
    return ahead[0]


def ways_us(plan: TrafficPlan, slow: bool) -> Way:
    """Time of the quickest way of a load class from one station to another, or of the slowest, each of whose moves and
    rides takes all that belongs to it. [us]"""
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


def rides_per_part(plan: TrafficPlan, route: PartRoute, transfer: int) -> float:
    """The least mean number of rides on a transfer per started part."""
    aboard = int(plan.stop_transfer.tolist().index(transfer))

    def way(load: int, start: int, end: int) -> float:
        here = int(plan.station_stop[start])
        return float(plan.ahead(here, aboard) < plan.ahead(here, int(plan.station_stop[end])))

    return max(mean_per_part(plan, route, way, [0.0] * len(plan.station_names), slow=False), 0.0)
