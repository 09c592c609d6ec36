"""Bounds of a line's rate, reckoned from its traffic plan alone: what no run of it can leave in the long term."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from linewright.flow.bounds.closed import balanced_job_bounds
from linewright.flow.bounds.factory import practical_worst_case
from linewright.flow.line_bounds_station import (
    down_shares,
    dwell_us,
    least_gap_us,
    least_transfer_cycle_us,
    mean_us,
    pool_per_us,
    step_per_us,
    transfer_cycle_us,
    work_us,
)
from linewright.flow.part_routes import Journey, Stay, journeys
from linewright.flow.part_ways import least_ways_us, mean_per_load, rides_per_load, ways_us
from linewright.traffic.plan import ABOARD, DOCK, WAITING, TrafficPlan

__all__ = ["RateBounds", "laps_per_part", "least_gap_us", "mean_us", "rate_bounds", "transfer_cycle_us"]

Limit = Literal["carriers", "step", "transfer", "operators"]

HOUR_US: Final = 3.6e9

NO_WAY_KNOWN: Final = "carriers have no way along the route whose least time is known"
TRANSFERS_IN_GENERAL: Final = "a transfer with several docks or places, or called, has no cycle of its own"
NO_TRANSFER: Final = "there is no transfer"
ONLY_PLAIN: Final = "known for a plain loop only"


@dataclass(frozen=True)
class RateBounds:
    """Between what the rate of a line with K carriers lies, and usual yardsticks beside it. Good parts an hour. [1/h]

    Parameters
    ----------
    upper_per_h : no long run makes more: the least of the next four
    carriers_per_h : K over the time in which a carrier makes one good part when nothing is in its way
    step_per_h : the slowest step, never starved and never blocked, its feeds and take-aways and their breaks counted;
        limiting_step is its name
    transfer_per_h : the slowest transfer, always with a carrier at its dock; limiting_transfer is its name
    operators_per_h : the pool with the most work for its operators, walking apart; limiting_pool is its name
    limit : which of the four it is
    worst_per_h : all carriers in one heap, each thing after the other at its slowest; no long run makes less, where
        worst_holds: the line has at least one common stop more than carriers, so it never locks
    practical_worst_per_h : practical worst case of the bottleneck and the loop time; a yardstick, no bound
    balanced_low_per_h, balanced_high_per_h : balanced-job bounds with travel as thinking; they hold for exponential
        times and ample waiting stops, and are a yardstick elsewhere
    loop_s : time per good part of one carrier in whose way nothing is, repairs and flagged parts counted. [s]
    carriers : K; where carriers are put in and taken out, the most there ever are
    left_out : (field, why) of the fields that are None, in words
    """

    upper_per_h: float
    carriers_per_h: float | None
    step_per_h: float
    limiting_step: str
    transfer_per_h: float | None
    limiting_transfer: str
    operators_per_h: float | None
    limiting_pool: str
    limit: Limit
    worst_per_h: float | None
    worst_holds: bool
    practical_worst_per_h: float | None
    balanced_low_per_h: float | None
    balanced_high_per_h: float | None
    loop_s: float | None
    carriers: int
    left_out: tuple[tuple[str, str], ...] = ()

    @property
    def binding(self) -> str:
        """What the upper bound is of: `carriers`, or the name of the step, the transfer or the pool."""
        return {
            "carriers": "carriers", "step": self.limiting_step, "transfer": self.limiting_transfer,
            "operators": self.limiting_pool,
        }[self.limit]  # fmt: skip


def rate_bounds(plan: TrafficPlan, carriers: int | None = None) -> RateBounds:
    """Between what the simulated rate of a line must lie.

    Parameters
    ----------
    plan : its traffic plan
    carriers : K >= 1; None for as many as the plan has

    Returns
    -------
    RateBounds   Where no part can become good, all rates are zero and the loop time is infinite.

    Raises
    ------
    ValueError   No carrier, a law without a mean, a plan without the legs of its route, or no exit for flagged parts.

    Notes
    -----
    Loop time: the quickest way of each leg of the route (moves from rest to rest, rests aboard) + settling + start
    handshake + mean work with its expected repairs + clear or release + done handshake at each stay, the mean over all
    that may become of a load's parts, over its good ones. Station cycle: work with its repairs + the larger of (clear +
    prepare) and (clear or release + done handshake + with several carriers reaction + the quickest leg that ends there
    + settling + start handshake): a follower reserves a station's stop only after the one before has committed beyond
    it. A clock failure costs a station what of its repair is longer than an exchange; to an exponential one also at
    least its share of work is lost; a break costs what of it is longer than the work in hand and an exchange. Step: its
    stations together over the stays per good part, and no more than its feeds make. Transfer: the quickest move aboard
    + `aboard_us` + until the quickest rear is clear + `home_us`, times rides per good part. Operators: how many, over
    their work per good part. Worst: every way at its slowest, each move with a reaction and each ride with the
    platform's return, each work with its prepare, all clock failures apart; one of these goes on at any time in a line
    that never locks. What has no proof beyond the plain loop is None there.

    Source
    ------
    docs/semantics.md; docs/bounds.md shows why each is a bound. Yardsticks: `linewright.flow.bounds`.
    """
    given = plan.carriers if carriers is None else carriers
    if given < 1:
        raise ValueError(f"a line has at least one carrier, not {given}")
    count = given + _most_put_in(plan)
    found = journeys(plan, count)
    if max(journey.good for journey in found) <= 0.0:
        return _nothing_good(plan, count)
    # Carriers whose loads never become good only stand in the way.
    found = tuple(journey for journey in found if journey.good > 0.0)
    carriers_per_us = _carriers_per_us(plan, found, count, of_plan=carriers is None)
    steps = [step_per_us(plan, found, p, count) for p in range(len(plan.step_names))]
    rides = _rides_per_good(plan, found)
    cycles = [least_transfer_cycle_us(plan, t) * n for t, n in enumerate(rides)]
    transfers = [1.0 / cycle if cycle > 0.0 else math.inf for cycle in cycles]
    pools = [pool_per_us(plan, found, pool) for pool in plan.general.pools]
    step = int(np.argmin(steps))
    rates: dict[Limit, float | None] = {
        "carriers": carriers_per_us, "step": steps[step], "transfer": min(transfers, default=None),
        "operators": min(pools, default=None),
    }  # fmt: skip
    known = {name: rate for name, rate in rates.items() if rate is not None}
    limit = min(known, key=lambda name: known[name])
    yardsticks = _Yardsticks() if not plan.general.is_plain else _plain_yardsticks(plan, found[0], rides, rates, count)
    return RateBounds(
        upper_per_h=known[limit] * HOUR_US,
        carriers_per_h=_per_h(rates["carriers"]),
        step_per_h=steps[step] * HOUR_US,
        limiting_step=plan.step_names[step],
        transfer_per_h=_per_h(rates["transfer"]),
        limiting_transfer=plan.transfer_names[int(np.argmin(transfers))] if transfers else "",
        operators_per_h=_per_h(rates["operators"]),
        limiting_pool=plan.general.pools[int(np.argmin(pools))].name if pools else "",
        limit=limit,
        worst_per_h=_per_h(yardsticks.worst),
        worst_holds=yardsticks.worst_holds,
        practical_worst_per_h=_per_h(yardsticks.practical),
        balanced_low_per_h=_per_h(yardsticks.low),
        balanced_high_per_h=_per_h(yardsticks.high),
        loop_s=None if carriers_per_us is None else count / carriers_per_us * 1e-6,
        carriers=count,
        left_out=_left_out(plan, rates),
    )


def laps_per_part(plan: TrafficPlan) -> int:
    """How often a good part goes round the loop from one first step to the next: 1 where the stations lie in route
    order. Of parts that are neither sent back nor of a variant that skips steps."""
    alone = plan.general.rework_alone
    good = [
        stations
        for p, (stations, is_exit) in enumerate(zip(plan.step_stations, plan.step_exit, strict=True))
        if not is_exit and p not in alone
    ]
    stops = [int(plan.station_stop[stations[0]]) for stations in good]
    return sum(plan.ahead(here, there) for here, there in zip(stops, stops[1:] + stops[:1], strict=True)) // plan.stops


# ---- the bounds ------------------------------------------------------------------------------------------------------


def _most_put_in(plan: TrafficPlan) -> int:
    """How many carriers more than at time zero there are at the most."""
    total, most = 0, 0
    for change in plan.general.carrier_changes:
        total += change.count
        most = max(most, total)
    return most


def _carriers_per_us(plan: TrafficPlan, found: Sequence[Journey], count: int, of_plan: bool) -> float | None:
    """Good parts per time of carriers in whose way nothing is; None where they have no known way. [1/us]"""
    way = least_ways_us(plan)

    def dwell(station: int, stay: Stay) -> float:
        return dwell_us(plan, station, stay)

    each = [journey.good / mean_per_load(plan, journey, way, dwell, slow=False) for journey in found]
    if min(each) <= 0.0:
        if plan.general.track is None:
            raise ValueError("the plan lacks legs for its route")
        return None
    if of_plan:
        return math.fsum(journey.carriers * rate for journey, rate in zip(found, each, strict=True))
    return count * max(each)


def _rides_per_good(plan: TrafficPlan, found: Sequence[Journey]) -> list[float]:
    """The least mean rides per good part on each transfer of a plain loop; nothing elsewhere."""
    if plan.general.track is not None or plan.general.platforms:
        return []
    return [
        min(rides_per_load(plan, journey, t) / journey.good for journey in found)
        for t in range(len(plan.transfer_names))
    ]


def _per_h(rate_per_us: float | None) -> float | None:
    return None if rate_per_us is None else rate_per_us * HOUR_US


def _nothing_good(plan: TrafficPlan, count: int) -> RateBounds:
    transfer = plan.transfer_names[0] if plan.transfer_names else ""
    return RateBounds(
        0.0, 0.0, 0.0, plan.step_names[0], 0.0, transfer, None, "", "step", 0.0, True, 0.0, 0.0, 0.0, math.inf, count
    )  # fmt: skip


def _left_out(plan: TrafficPlan, rates: dict[Limit, float | None]) -> tuple[tuple[str, str], ...]:
    found = []
    if rates["carriers"] is None:
        found += [("carriers_per_h", NO_WAY_KNOWN), ("loop_s", NO_WAY_KNOWN)]
    if rates["transfer"] is None:
        found.append(("transfer_per_h", TRANSFERS_IN_GENERAL if plan.transfer_names else NO_TRANSFER))
    if rates["operators"] is None:
        found.append(("operators_per_h", "there is no pool of operators"))
    if not plan.general.is_plain:
        names = ("worst_per_h", "practical_worst_per_h", "balanced_low_per_h", "balanced_high_per_h")
        found += [(name, ONLY_PLAIN) for name in names]
    return tuple(found)


# ---- the plain loop alone --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Yardsticks:
    """Good parts per time; None where not known. [1/us]"""

    worst: float | None = None
    worst_holds: bool = False
    practical: float | None = None
    low: float | None = None
    high: float | None = None


def _plain_yardsticks(
    plan: TrafficPlan, journey: Journey, rides: Sequence[float], rates: dict[Limit, float | None], count: int
) -> _Yardsticks:
    assert rates["carriers"] is not None  # a plain loop has ways, or the bound was refused
    loop_us = count / rates["carriers"]
    bottleneck = min(rate for name in ("step", "transfer") if (rate := rates[name]) is not None)
    practical = practical_worst_case(bottleneck, max(loop_us, 1.0 / bottleneck), count).rate_per_s
    demands = _demands_us(plan, journey, rides)
    balanced = balanced_job_bounds(demands, count, max(loop_us - sum(demands), 0.0))
    common = int(np.isin(plan.stop_kind, (WAITING, DOCK, ABOARD)).sum())
    worst = _worst_per_us(plan, journey)
    return _Yardsticks(worst, count <= common - 1, practical, balanced.low_per_s, balanced.high_per_s)


def _demands_us(plan: TrafficPlan, journey: Journey, rides: Sequence[float]) -> list[float]:
    """Time of a carrier at each step and aboard each transfer per good part, that of parallel stations over their
    number: what is over counts as thinking (Seidmann, Schweitzer and Shalev-Oren 1987, from memory). [us]"""
    steps = [0.0] * len(plan.step_names)
    for stay in journey.stays:
        stations = plan.step_stations[stay.step]
        least = min(dwell_us(plan, station, stay) for station in stations)
        steps[stay.step] += stay.reached / journey.good * least / len(stations)
    return steps + [float(time) * count for time, count in zip(plan.aboard_us, rides, strict=True)]


def _worst_per_us(plan: TrafficPlan, journey: Journey) -> float:
    """Good parts per time where one thing follows the other. [1/us]"""
    fixed = plan.settling_us + plan.start_handshake_us + plan.clear_us + plan.done_handshake_us + plan.prepare_us

    def dwell(station: int, stay: Stay) -> float:
        # A draw is rounded up to a whole microsecond.
        return float(fixed[station]) + work_us(plan, station, stay) + 1.0

    loop_us = mean_per_load(plan, journey, ways_us(plan, slow=True), dwell, slow=True)
    return max(1.0 - down_shares(plan), 0.0) * journey.good / loop_us
