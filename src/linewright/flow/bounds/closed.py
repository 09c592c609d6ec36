"""Closed networks: a fixed number of carriers that go round. Bounds, exact solution, and two models with full stops.

A station's **demand** is the mean time that a carrier is served there in one round: mean visits times mean service.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Numbers = Sequence[float] | Floats


@dataclass(frozen=True)
class RateRange:
    """A rate lies between these two. [1/s]"""

    low_per_s: float
    high_per_s: float


@dataclass(frozen=True, eq=False)
class ClosedNetwork:
    """The steady state of a closed network with M stations.

    Parameters
    ----------
    rate_per_s : rounds finished per second, all carriers together. [1/s]
    round_s : mean time of a carrier's round, thinking not counted. [s]
    response_s : shape (M,)   Mean time from arrival to departure at one visit. [s]
    queue : shape (M,)        Mean number of carriers there, those in service counted.
    utilisation : shape (M,)  Share of the time in which each of its servers is busy.
    """

    rate_per_s: float
    round_s: float
    response_s: Floats
    queue: Floats
    utilisation: Floats


@dataclass(frozen=True, eq=False)
class BlockingNetwork:
    """The approximate steady state of a closed network whose stations have room for so many carriers.

    Parameters
    ----------
    rate_per_s : shape (M,)   Carriers that leave each station. [1/s]
    response_s : shape (M,)   Mean time from arrival to departure, blocking counted. [s]
    queue : shape (M,)        Mean number of carriers there.
    """

    rate_per_s: Floats
    response_s: Floats
    queue: Floats


def asymptotic_bounds(
    demands_s: Numbers, carriers: int, think_s: float = 0.0, servers: Sequence[int] | None = None
) -> RateRange:
    """Bounds of the rate of any closed loop, whatever the laws of its times.

    Parameters
    ----------
    demands_s : shape (M,), >= 0, one > 0   Mean service of a carrier at each station in one round. [s]
    carriers : >= 1
    think_s : mean time of a round in which a carrier is hindered by nobody, >= 0. [s]
    servers : shape (M,), >= 1   Servers of each station; None for one each

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    K / (K D + Z) ≤ X ≤ min(K / (D + Z), min m / D_k); D the sum of the demands D_k, Z thinking, m servers. The upper
    bound holds for any laws and orders of service; the lower one as long as no server idles while a carrier waits for
    it, and nobody is blocked.

    Source
    ------
    Asymptotic bounds of operational analysis: Denning and Buzen (1978), from memory; checked with the records of
    tests/reference/data/queueing.json.

    Examples
    --------
    >>> asymptotic_bounds([2.0, 3.0], carriers=2, think_s=1.0)
    RateRange(low_per_s=0.18181818181818182, high_per_s=0.3333333333333333)
    """
    demands, many = _checked(demands_s, carriers, think_s, servers)
    total = float(demands.sum())
    high = min(carriers / (total + think_s), 1.0 / float((demands / many).max()))
    return RateRange(carriers / (carriers * total + think_s), high)


def balanced_job_bounds(demands_s: Numbers, carriers: int, think_s: float = 0.0) -> RateRange:
    """Closer bounds of the rate of a closed network of single servers with exponential service, or of its like.

    Parameters
    ----------
    demands_s, carriers, think_s : as in `asymptotic_bounds`

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    K / (D + Z + (K − 1) D_max / (1 + Z / (K D))) ≤ X ≤ min(1 / D_max, K / (D + Z + (K − 1) D_mean / (1 + Z / D))).
    Holds for networks with a product form: exponential service in order of arrival, ample room. Regular times may do
    better than the upper one.

    Source
    ------
    Zahorjan, Sevcik, Eager and Galler (1982) and Lazowska et al., Quantitative System Performance (1984), from memory;
    checked with the record ``bounds_D4`` and against the exact solution on random networks.

    Examples
    --------
    >>> found = balanced_job_bounds([0.1, 0.1, 0.09, 0.08], carriers=5)
    >>> round(found.low_per_s, 6), round(found.high_per_s, 6)
    (6.493506, 6.756757)
    """
    demands, _ = _checked(demands_s, carriers, think_s, None)
    total, most = float(demands.sum()), float(demands.max())
    mean = total / len(demands)
    more = carriers - 1
    low = carriers / (total + think_s + more * most / (1.0 + think_s / (carriers * total)))
    high = carriers / (total + think_s + more * mean / (1.0 + think_s / total))
    return RateRange(low, min(high, 1.0 / most))


def mean_value_analysis(
    service_s: Numbers,
    carriers: int,
    visits: Numbers | None = None,
    servers: Sequence[int] | None = None,
    think_s: float = 0.0,
) -> ClosedNetwork:
    """The exact mean values of a closed product-form network: single servers, several servers, thinking.

    Parameters
    ----------
    service_s : shape (M,), >= 0, one > 0   Mean time of one service. [s]
    carriers : >= 1
    visits : shape (M,), >= 0   Mean visits in one round; None for one each
    servers : shape (M,), >= 1   Servers of each station, who share one queue; None for one each
    think_s : mean time of a round away from all stations, >= 0. [s]

    Returns
    -------
    ClosedNetwork   .rate_per_s, .round_s, .response_s, .queue, .utilisation

    Raises
    ------
    ValueError   An argument is out of range, or there are so many carriers that the numbers overflow (700 or more).

    Notes
    -----
    Exponential service in order of arrival. The mean values are those of the recursion of mean value analysis; they are
    taken from the convolution G(n) = Σ f_1(n_1) … f_M(n_M), f_k(j) = Π_{i ≤ j} D_k / min(i, m_k), thinking
    Z^n / n!, because its terms are all positive: no digits are lost with several servers, where the recursion takes
    probabilities from one. X = G(K − 1) / G(K). The demands are scaled so that no term grows beyond about e^K.

    Source
    ------
    Buzen (1973), Reiser and Lavenberg (1980), from memory; checked with five records of
    tests/reference/data/queueing.json and serial_lines.json.

    Examples
    --------
    >>> mean_value_analysis([1.0, 1.0, 1.0, 1.0], carriers=4).rate_per_s.__round__(9)
    0.571428571
    """
    times = np.asarray(service_s, np.float64)
    often = np.ones(times.shape) if visits is None else np.asarray(visits, np.float64)
    if often.shape != times.shape or (often < 0.0).any() or (times < 0.0).any():
        raise ValueError("visits and service times are not negative, and there is one of each for every station")
    demands, many = _checked(times * often, carriers, think_s, servers)
    unit_s = 1.0 / asymptotic_bounds(demands, carriers, think_s, servers).high_per_s
    with np.errstate(over="ignore", invalid="ignore"):
        factors = [_station_factors(float(d) / unit_s, int(m), carriers) for d, m in zip(demands, many, strict=True)]
        others = _all_but_one(factors, _station_factors(think_s / unit_s, carriers, carriers), carriers)
        whole = _convolve(others[0], factors[0], carriers)
    if not (np.isfinite(whole).all() and whole[carriers] > 0.0):
        raise ValueError(f"{carriers} carriers are too many for this computation")
    rate = float(whole[carriers - 1] / whole[carriers]) / unit_s
    count = np.arange(carriers + 1)
    queue = np.array(
        [float(count @ (factor * other[::-1])) / whole[carriers] for factor, other in zip(factors, others, strict=True)]
    )
    # A station that nobody visits answers in its bare service time.
    response = np.where(often > 0.0, queue / np.where(often > 0.0, rate * often, 1.0), times)
    return ClosedNetwork(rate, carriers / rate - think_s, response, queue, rate * demands / many)


def blocking_mva(
    service_s: Numbers, routing: Sequence[Sequence[float]] | Floats, capacities: Sequence[int], carriers: int
) -> BlockingNetwork:
    """An approximation of a closed network with little room, in which a carrier that finds none stays where it is.

    Parameters
    ----------
    service_s : shape (M,), > 0    Mean time of one service, exponential, one server each. [s]
    routing : shape (M, M)         Chance of going from one station to another; rows sum to 1
    capacities : shape (M,), >= 1  Carriers for whom a station has room, the one in service counted
    carriers : >= 1, fewer than the room of all stations

    Raises
    ------
    ValueError   An argument is out of range, or the iteration finds no state within the room.

    Notes
    -----
    Mean value analysis, R_k(n) = S_k (z_k + Q_k(n − 1)) + B_k with z_k = 1 and B_k = 0 at first. Whenever the mean
    number at a station i exceeds its room, z_i becomes 0 and B_k grows by S_i V_k P_ki / V_i for all k: its feeders
    wait for one of its services; then n is reckoned anew. An approximation without a stated error;
    it is refused where it does not settle.

    Source
    ------
    Akyildiz, "Mean value analysis for blocking queueing networks", IEEE Transactions on Software Engineering 14 (1988)
    418; the algorithm as read second-hand, its printed examples in tests/reference/data/queueing.json.
    """
    times, room = np.asarray(service_s, np.float64), np.asarray(capacities, np.int64)
    chances = np.asarray(routing, np.float64)
    if times.shape != room.shape or chances.shape != (len(times), len(times)) or (times <= 0.0).any():
        raise ValueError("there is one service time > 0, one capacity and one row of chances for every station")
    if np.abs(chances.sum(axis=1) - 1.0).max() > 1e-9 or (chances < 0.0).any() or (room < 1).any():
        raise ValueError("the chances of a row sum to 1, and a station has room for at least one")
    if not 1 <= carriers < room.sum():
        raise ValueError(f"{carriers} carriers: at least 1 and fewer than the room for {room.sum()} may be")
    visits = _visits(chances)
    first, blocked_s, queue = np.ones(len(times)), np.zeros(len(times)), np.zeros(len(times))
    response, rate = times, 0.0
    for number in range(1, carriers + 1):
        before = queue
        # Each pass adds waiting to a station's feeders; a station is full in few of them, so this limit is never near.
        for _ in range(1000):
            response = times * (first + before) + blocked_s
            rate = number / float(visits @ response)
            queue = rate * visits * response
            full = np.flatnonzero(queue > room)
            if not full.size:
                break
            station = int(full[0])
            first[station] = 0.0
            blocked_s = blocked_s + times[station] * visits * chances[:, station] / visits[station]
        else:
            raise ValueError(f"no state of {number} carriers within the room was found")
    return BlockingNetwork(rate * visits, response, queue)


def unit_stop_ring(stops: int, carriers: int, attempts_per_s: float) -> float:
    """Carriers a second past any point of a ring of single stops, where a carrier that finds no room tries again.

    Parameters
    ----------
    stops : >= 2
    carriers : 1 to stops
    attempts_per_s : rate at which each carrier tries, after exponential times; it goes on if the next stop is empty.
        [1/s]

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    μ K (N − K) / (N (N − 1)): all placements are equally likely. This is another traffic than that of
    docs/semantics.md, where who has finished does not start anew; it serves as a check of formulas only.

    Source
    ------
    The totally asymmetric exclusion process on a ring, uniform stationary law; from memory, derivable: every state has
    as many ways in as out.

    Examples
    --------
    >>> unit_stop_ring(4, 2, 1.0)
    0.3333333333333333
    """
    if stops < 2 or not 1 <= carriers <= stops or attempts_per_s <= 0.0:
        raise ValueError("a ring has two stops or more, one carrier to one a stop, and attempts at a rate above 0")
    return attempts_per_s * carriers * (stops - carriers) / (stops * (stops - 1))


def _checked(
    demands_s: Numbers, carriers: int, think_s: float, servers: Sequence[int] | None
) -> tuple[Floats, NDArray[np.int64]]:
    """Demands and servers as arrays."""
    demands = np.asarray(demands_s, np.float64)
    many = np.ones(demands.shape, np.int64) if servers is None else np.asarray(servers, np.int64)
    if demands.ndim != 1 or not np.isfinite(demands).all() or (demands < 0.0).any() or not (demands > 0.0).any():
        raise ValueError("demands stand in one row, none is under 0 and one is above")
    if many.shape != demands.shape or (many < 1).any():
        raise ValueError("every station has at least one server, and there is one number for each")
    if carriers < 1 or not (math.isfinite(think_s) and think_s >= 0.0):
        raise ValueError(f"{carriers} carriers, thinking {think_s} s: at least 1 and 0 are due")
    return demands, many


def _station_factors(demand: float, servers: int, carriers: int) -> Floats:
    factors = np.array([1.0] + [demand / min(j, servers) for j in range(1, carriers + 1)], np.float64)
    product: Floats = np.cumprod(factors).astype(np.float64)
    return product


def _convolve(one: Floats, other: Floats, carriers: int) -> Floats:
    return np.convolve(one, other)[: carriers + 1].astype(np.float64)


def _all_but_one(factors: list[Floats], thinking: Floats, carriers: int) -> list[Floats]:
    """The convolution of all stations and thinking without each station in turn: of those before it and those after."""
    before = [thinking]
    for factor in factors[:-1]:
        before.append(_convolve(before[-1], factor, carriers))
    after = np.zeros(carriers + 1)
    after[0] = 1.0
    found = []
    for factor, ahead in zip(reversed(factors), reversed(before), strict=True):
        found.append(_convolve(ahead, after, carriers))
        after = _convolve(after, factor, carriers)
    return found[::-1]


def _visits(chances: Floats) -> Floats:
    """Mean visits in a round, one at the first station: V = V P."""
    count = len(chances)
    system = np.eye(count) - chances.T
    system[0] = 0.0
    system[0, 0] = 1.0
    right = np.zeros(count)
    right[0] = 1.0
    visits: Floats = np.linalg.solve(system, right).astype(np.float64)
    if (visits <= 0.0).any():
        raise ValueError("every station must be reached from every other")
    return visits
