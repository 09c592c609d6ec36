"""Bounds of a line's rate, reckoned from its traffic plan alone: what no run of it can leave in the long term."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from linewright.flow.bounds.closed import balanced_job_bounds
from linewright.flow.bounds.factory import practical_worst_case
from linewright.flow.part_ways import PartRoute, mean_per_part, part_route, rides_per_part, ways_us
from linewright.traffic.plan import (
    ABOARD,
    DOCK,
    EMPIRICAL,
    EMPTY,
    EXPONENTIAL,
    FIXED,
    GAMMA,
    GEOMETRIC,
    GIVEN,
    LOADED,
    LOGNORMAL,
    NO_LEG,
    OF_CLOCK,
    OF_CYCLES,
    OF_RUNNING,
    TRIANGULAR,
    WAITING,
    FailureKind,
    Law,
    TrafficPlan,
)

Floats = NDArray[np.float64]

HOUR_US: Final = 3.6e9


@dataclass(frozen=True)
class RateBounds:
    """Between what the rate of a line with K carriers lies, and usual yardsticks beside it. Good parts an hour. [1/h]

    Parameters
    ----------
    upper_per_h : no long run makes more: the least of the next three
    carriers_per_h : K over the time in which a carrier makes one good part when nothing is in its way
    step_per_h : the slowest step, never starved and never blocked; limiting_step is its name
    transfer_per_h : the slowest transfer, always with a carrier at its dock; limiting_transfer is its name
    limit : which of the three it is
    worst_per_h : all carriers in one heap, each thing after the other at its slowest; no long run makes less, where
        worst_holds: the line has at least one common stop more than carriers, so it never locks
    practical_worst_per_h : practical worst case of the bottleneck and the loop time; a yardstick, no bound
    balanced_low_per_h, balanced_high_per_h : balanced-job bounds with travel as thinking; they hold for exponential
        times and ample waiting stops, and are a yardstick elsewhere
    loop_s : time per good part of one carrier in whose way nothing is, repairs and flagged parts counted. [s]
    carriers : K
    """

    upper_per_h: float
    carriers_per_h: float
    step_per_h: float
    limiting_step: str
    transfer_per_h: float
    limiting_transfer: str
    limit: Literal["carriers", "step", "transfer"]
    worst_per_h: float
    worst_holds: bool
    practical_worst_per_h: float
    balanced_low_per_h: float
    balanced_high_per_h: float
    loop_s: float
    carriers: int


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
    handshake + mean work with its expected repairs + clear + done handshake at each step, the mean over good and
    flagged parts, over the share of good ones. Station cycle: work with its repairs + the larger of (clear + prepare)
    and (clear + done handshake + with several carriers reaction + the quickest leg that ends there + settling + start
    handshake): a follower reserves a station's stop only after the one before has committed beyond it. A clock failure
    costs a station what of its repair is longer than an exchange; to an exponential one also at least its share of work
    is lost. Step: its stations' rates together over the works per good part. Transfer: the quickest move aboard +
    `aboard_us` + until the quickest rear is clear + `home_us`, times rides per good part. Worst: every way at its
    slowest, each move with a reaction and each ride with the platform's return, each work with its prepare, all clock
    failures apart; one of these goes on at any time in a line that never locks.

    Source
    ------
    docs/semantics.md; docs/bounds.md shows why each is a bound. Yardsticks: `linewright.flow.bounds`.
    """
    count = plan.carriers if carriers is None else carriers
    if count < 1:
        raise ValueError(f"a line has at least one carrier, not {count}")
    route = part_route(plan)
    if route.good_share <= 0.0:
        names = (plan.step_names[0], plan.transfer_names[0])
        return RateBounds(0.0, 0.0, 0.0, names[0], 0.0, names[1], "step", 0.0, True, 0.0, 0.0, 0.0, math.inf, count)
    dwell = [_dwell_us(plan, station) for station in range(len(plan.station_names))]
    loop_us = mean_per_part(plan, route, ways_us(plan, slow=False), dwell, slow=False) / route.good_share
    steps = [
        _step_per_us(plan, p, count) * route.good_share / visits if visits > 0.0 else math.inf
        for p, visits in enumerate(route.visits)
    ]
    rides = [rides_per_part(plan, route, t) / route.good_share for t in range(len(plan.transfer_names))]
    cycles = [transfer_cycle_us(plan, t, quickest=True) * n for t, n in enumerate(rides)]
    transfers = [1.0 / cycle if cycle > 0.0 else math.inf for cycle in cycles]
    step, transfer = int(np.argmin(steps)), int(np.argmin(transfers))
    found: dict[Literal["carriers", "step", "transfer"], float] = {
        "carriers": count / loop_us, "step": steps[step], "transfer": transfers[transfer],
    }  # fmt: skip
    limit = min(found, key=lambda name: found[name])
    bottleneck = min(found["step"], found["transfer"])
    practical = practical_worst_case(bottleneck, max(loop_us, 1.0 / bottleneck), count).rate_per_s
    demands = _demands_us(plan, route, dwell, rides)
    balanced = balanced_job_bounds(demands, count, max(loop_us - sum(demands), 0.0))
    common = int(np.isin(plan.stop_kind, (WAITING, DOCK, ABOARD)).sum())
    return RateBounds(
        upper_per_h=found[limit] * HOUR_US,
        carriers_per_h=found["carriers"] * HOUR_US,
        step_per_h=found["step"] * HOUR_US,
        limiting_step=plan.step_names[step],
        transfer_per_h=found["transfer"] * HOUR_US,
        limiting_transfer=plan.transfer_names[transfer],
        limit=limit,
        worst_per_h=_worst_per_us(plan, route) * HOUR_US,
        worst_holds=count <= common - 1,
        practical_worst_per_h=practical * HOUR_US,
        balanced_low_per_h=balanced.low_per_s * HOUR_US,
        balanced_high_per_h=balanced.high_per_s * HOUR_US,
        loop_s=loop_us * 1e-6,
        carriers=count,
    )


def mean_us(law: Law) -> float:
    """The mean of a law of a plan. [us], of a geometric one in cycles

    Parameters
    ----------
    law : of any kind; the mean of a GIVEN one is that of its times

    Raises
    ------
    ValueError   The kind is unknown, or no times are given.

    Notes
    -----
    Lognormal exp(a + b²/2), triangular (a + b + c)/3, gamma a b. That a draw is rounded up to a whole microsecond is
    left out: it only lowers a rate.

    Source     Moments of the laws; tests/reference/data/time_laws.json holds some.
    Examples   >>> mean_us(Law(TRIANGULAR, 1e6, 2e6, 6e6)), mean_us(Law(GAMMA, 4.0, 5e5))
               (3000000.0, 2000000.0)
    """
    if law.kind in (FIXED, EXPONENTIAL, GEOMETRIC):
        return law.a
    if law.kind == TRIANGULAR:
        return (law.a + law.b + law.c) / 3.0
    if law.kind == LOGNORMAL:
        return math.exp(law.a + 0.5 * law.b**2)
    if law.kind == GAMMA:
        return law.a * law.b
    if law.kind in (GIVEN, EMPIRICAL) and law.given_us:
        return sum(law.given_us) / len(law.given_us)
    raise ValueError(f"a law of kind {law.kind} with {len(law.given_us)} times has no mean")


def laps_per_part(plan: TrafficPlan) -> int:
    """How often a good part goes round the loop from one first step to the next: 1 where the stations lie in route
    order."""
    good = [stations for stations, is_exit in zip(plan.step_stations, plan.step_exit, strict=True) if not is_exit]
    stops = [int(plan.station_stop[stations[0]]) for stations in good]
    return sum(plan.ahead(here, there) for here, there in zip(stops, stops[1:] + stops[:1], strict=True)) // plan.stops


def transfer_cycle_us(plan: TrafficPlan, transfer: int, quickest: bool = False) -> int:
    """The least cycle of a transfer with a carrier always at its dock. [us]

    Parameters
    ----------
    plan : a traffic plan
    transfer : its number
    quickest : of the load classes that pass, and the legs that begin there, count the quickest (what no run can be
        under); else the slower class

    Notes
    -----
    Move from the dock stop aboard + unlock, ride, align and lock + the move off until the rear has left + unlock, empty
    ride, align and lock. A load class that never passes has no legs and does not count.

    Source     docs/semantics.md, "Transfers".
    """
    aboard = int(plan.stop_transfer.tolist().index(transfer))
    ons = [time for load in (EMPTY, LOADED) if (time := int(plan.move_us[load, aboard - 1, 0])) != NO_LEG]
    offs = [
        min(times)
        for load in (EMPTY, LOADED)
        if (times := plan.rear_us[load, transfer][plan.move_us[load, aboard] != NO_LEG].tolist())
    ]
    of = min if quickest else max
    return of(ons, default=0) + int(plan.aboard_us[transfer]) + of(offs, default=0) + int(plan.home_us[transfer])


# ---- dwells ----------------------------------------------------------------------------------------------------------


def _work_us(plan: TrafficPlan, station: int) -> float:
    """Mean work with the expected repairs of failures of running and of jams. [us]"""
    work = mean_us(plan.work[station])
    more = 0.0
    for kind in _failures(plan, station, OF_RUNNING):
        more += work * mean_us(kind.repair) / (mean_us(kind.every) + 1.0)
    for kind in _failures(plan, station, OF_CYCLES):
        more += mean_us(kind.repair) / mean_us(kind.every)
    return work + more


def _clock_in_work_us(plan: TrafficPlan, station: int) -> float:
    """Mean repair of clock failures that come during one work: of exponential ones the hazard is the same at any time;
    of others nothing is certain. [us]"""
    work = mean_us(plan.work[station])
    kinds = [kind for kind in _failures(plan, station, OF_CLOCK) if kind.every.kind == EXPONENTIAL]
    return sum(work * mean_us(kind.repair) / (mean_us(kind.every) + 1.0) for kind in kinds)


def _dwell_us(plan: TrafficPlan, station: int) -> float:
    """Least mean time from arrival at a station until the carrier is ready. [us]"""
    fixed = plan.settling_us[station] + plan.start_handshake_us + plan.clear_us[station] + plan.done_handshake_us
    return float(fixed) + _work_us(plan, station) + _clock_in_work_us(plan, station)


def _failures(plan: TrafficPlan, station: int, of: int) -> list[FailureKind]:
    """A station's kinds of failure of a sort. Those with given times end some day and count nothing."""
    return [kind for kind in plan.failures if kind.station == station and kind.of == of and kind.every.kind != GIVEN]


# ---- stations and transfers ------------------------------------------------------------------------------------------


def _step_per_us(plan: TrafficPlan, step: int, carriers: int) -> float:
    """Most works per time at a step. [1/us]"""
    load = EMPTY if step == 0 else LOADED
    return sum(_station_per_us(plan, station, load, carriers) for station in plan.step_stations[step])


def _station_per_us(plan: TrafficPlan, station: int, load: int, carriers: int) -> float:
    """Most works per time at a station: its cycle without clock failures, and what these take of it. [1/us]"""
    work = _work_us(plan, station)
    gap = least_gap_us(plan, station, load, carriers)
    lost = 0.0
    kinds = _failures(plan, station, OF_CLOCK)
    for kind in kinds:
        # A failure that comes due while the station is down waits, so that others' repairs thin it out.
        others = min(sum(_most_down(plan, other, gap) for other in plan.failures
                         if other.station == station and other is not kind), 1.0)  # fmt: skip
        repair = mean_us(kind.repair)
        lost += (1.0 - others) * max(repair - gap, 0.0) / (mean_us(kind.every) + 1.0 + repair)
    return min(max(1.0 - lost, 0.0) / (work + gap), 1.0 / (work + gap + _clock_in_work_us(plan, station)))


def least_gap_us(plan: TrafficPlan, station: int, load: int, carriers: int) -> float:
    """Least time from the end of one work at a station to the start of the next. [us]

    Parameters
    ----------
    plan : a traffic plan
    station : its number
    load : class of the carrier that comes next
    carriers : how many there are; one alone follows nobody
    """
    stop, reach = int(plan.station_stop[station]), plan.move_us.shape[2]
    legs = [int(plan.move_us[load, (stop - back) % plan.stops, back - 1]) for back in range(1, reach + 1)]
    move = min((leg for leg in legs if leg != NO_LEG), default=0)
    # The same carrier may be the next only after a round, which has a ride in it.
    follow = min(plan.follow_us, int(plan.aboard_us.min())) if carriers > 1 else 0
    settled = int(plan.settling_us[station]) + plan.start_handshake_us
    exchange = plan.done_handshake_us + follow + move + settled
    return float(int(plan.clear_us[station]) + max(int(plan.prepare_us[station]), exchange))


def _most_down(plan: TrafficPlan, kind: FailureKind, gap: float) -> float:
    """The largest share of time in which a kind of failure holds its station down."""
    if kind.every.kind == GIVEN:
        return 0.0
    every, repair = mean_us(kind.every), mean_us(kind.repair)
    if kind.of == OF_CYCLES:
        every *= mean_us(plan.work[kind.station]) + gap
    return repair / (every + repair) if repair > 0.0 else 0.0


def _demands_us(plan: TrafficPlan, route: PartRoute, dwell: Sequence[float], rides: Sequence[float]) -> list[float]:
    """Time of a carrier at each step and aboard each transfer per good part, that of parallel stations over their
    number: what is over counts as thinking (Seidmann, Schweitzer and Shalev-Oren 1987, from memory). [us]"""
    steps = [
        route.visits[p] / route.good_share * min(dwell[station] for station in stations) / len(stations)
        for p, stations in enumerate(plan.step_stations)
    ]
    return steps + [float(time) * count for time, count in zip(plan.aboard_us, rides, strict=True)]


def _worst_per_us(plan: TrafficPlan, route: PartRoute) -> float:
    """Good parts per time where one thing follows the other. [1/us]"""
    stations = range(len(plan.station_names))
    down = [
        mean_us(kind.repair) / (mean_us(kind.every) + mean_us(kind.repair))
        for station in stations
        for kind in _failures(plan, station, OF_CLOCK)
    ]
    fixed = plan.settling_us + plan.start_handshake_us + plan.clear_us + plan.done_handshake_us + plan.prepare_us
    # A draw is rounded up to a whole microsecond.
    dwell = [float(fixed[station]) + _work_us(plan, station) + 1.0 for station in stations]
    loop_us = mean_per_part(plan, route, ways_us(plan, slow=True), dwell, slow=True)
    return max(1.0 - sum(down), 0.0) * route.good_share / loop_us
