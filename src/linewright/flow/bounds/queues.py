"""Open queues and open networks: jobs come at a mean rate, are served and leave."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Queue:
    """The steady state of one queue.

    Parameters
    ----------
    utilisation : share of the time in which each server is busy
    waiting_s : mean time before service. [s]
    response_s : mean time in all. [s]
    waiting_jobs, jobs : mean number waiting; mean number in all
    through_per_s : jobs that are served. [1/s]
    empty_chance : nobody is there; nan where the formula does not give it
    """

    utilisation: float
    waiting_s: float
    response_s: float
    waiting_jobs: float
    jobs: float
    through_per_s: float
    empty_chance: float


@dataclass(frozen=True, eq=False)
class OpenStations:
    """The steady state of an open network, one value a station.

    Parameters
    ----------
    through_per_s : jobs through it. [1/s]
    utilisation : share of the time in which it is busy
    response_s : mean time of one visit. [s]
    jobs : mean number there
    """

    through_per_s: Floats
    utilisation: Floats
    response_s: Floats
    jobs: Floats


def single_server_queue(arrivals_per_s: float, service_time_s: float, squared_cv: float) -> Queue:
    """One server, random arrivals, any law of service (M/G/1): M/M/1 with squared_cv = 1, M/D/1 with 0.

    Parameters
    ----------
    arrivals_per_s : Poisson arrivals, > 0. [1/s]
    service_time_s : mean service, > 0. [s]
    squared_cv : variance of the service over its mean squared, >= 0

    Raises
    ------
    ValueError   An argument is out of range, or the server cannot keep up.

    Notes
    -----
    W_q = (1 + c²)/2 · u/(1 − u) · t, u = λ t; the rest by Little's law. P_0 = 1 − u.

    Source
    ------
    Pollaczek (1930), Khinchine (1932), from memory; records mm1_basic, md1, mg1_scv in tests/reference.

    Examples
    --------
    >>> single_server_queue(0.8, 1.0, 0.0).waiting_s.__round__(9)
    2.0
    """
    load = _load(arrivals_per_s, service_time_s, 1)
    if squared_cv < 0.0:
        raise ValueError(f"a squared coefficient of variation is not under 0, it is {squared_cv}")
    waiting_s = vut_wait(1.0, squared_cv, load, service_time_s)
    return _by_little(load, waiting_s, service_time_s, arrivals_per_s, 1.0 - load)


def erlang_b(servers: int, offered: float) -> float:
    """The chance that an arrival finds all servers busy where nobody waits (M/G/m/m).

    Parameters
    ----------
    servers : >= 0
    offered : arrivals times mean service, >= 0. [erlang]

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      B(0) = 1, B(m) = a B(m − 1) / (m + a B(m − 1)): all terms positive, no overflow.
    Source     Erlang (1917), from memory; table in tests/reference.
    Examples   >>> erlang_b(2, 1.0)
               0.2
    """
    if servers < 0 or not (math.isfinite(offered) and offered >= 0.0):
        raise ValueError(f"{servers} servers, {offered} erlang offered: not under 0")
    lost = 1.0
    for number in range(1, servers + 1):
        lost = offered * lost / (number + offered * lost)
    return lost


def erlang_c(servers: int, offered: float) -> float:
    """The chance that an arrival has to wait (M/M/m).

    Parameters
    ----------
    servers : >= 1
    offered : arrivals times mean service, >= 0 and under the number of servers. [erlang]

    Raises
    ------
    ValueError   An argument is out of range.

    Notes      C = m B / (m − a (1 − B)), B as in `erlang_b`.
    Source     Erlang (1917), from memory; table in tests/reference.
    Examples   >>> round(erlang_c(2, 1.0), 9)
               0.333333333
    """
    if servers < 1 or not offered < servers:
        raise ValueError(f"{servers} servers cannot keep up with {offered} erlang")
    lost = erlang_b(servers, offered)
    return servers * lost / (servers - offered * (1.0 - lost))


def many_server_queue(arrivals_per_s: float, service_time_s: float, servers: int) -> Queue:
    """Several servers with one queue, random arrivals, exponential service (M/M/m).

    Parameters
    ----------
    arrivals_per_s : Poisson arrivals, > 0. [1/s]
    service_time_s : mean service, > 0. [s]
    servers : >= 1

    Raises
    ------
    ValueError   An argument is out of range, or the servers cannot keep up.

    Notes
    -----
    W_q = C t / (m (1 − u)), u = λ t / m, C as in `erlang_c`; P_0 = (1 − u) C m! / a^m.

    Source
    ------
    Erlang (1917), from memory; record mm2_lam9_mu5 in tests/reference.

    Examples
    --------
    >>> round(many_server_queue(9.0, 0.2, 2).response_s, 3)
    1.053
    """
    load = _load(arrivals_per_s, service_time_s, servers)
    offered = load * servers
    wait = erlang_c(servers, offered)
    empty = (1.0 - load) * wait * math.exp(math.lgamma(servers + 1) - servers * math.log(offered))
    waiting_s = wait * service_time_s / (servers * (1.0 - load))
    return _by_little(load, waiting_s, service_time_s, arrivals_per_s, empty)


def limited_queue(arrivals_per_s: float, service_time_s: float, servers: int, room: int) -> Queue:
    """Several servers and room for so many; who finds none goes away (M/M/m/K).

    Parameters
    ----------
    arrivals_per_s : Poisson arrivals, > 0; they may be more than the servers can do. [1/s]
    service_time_s : mean service, > 0. [s]
    servers : >= 1
    room : jobs for whom there is room, those in service counted; >= servers

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    p_n ∝ Π_{i ≤ n} a / min(i, m), n = 0 … K; served λ (1 − p_K).

    Source
    ------
    Birth and death process, textbook; record mm3_7 in tests/reference.
    """
    if arrivals_per_s <= 0.0 or service_time_s <= 0.0 or servers < 1 or room < servers:
        raise ValueError("arrivals and service are above 0, there is a server, and room for as many as are served")
    offered = arrivals_per_s * service_time_s
    # In logarithms, so that neither many servers nor a heavy load overflows.
    logs = np.concatenate([[0.0], np.cumsum([math.log(offered / min(n, servers)) for n in range(1, room + 1)])])
    chances = np.exp(logs - logs.max())
    chances /= chances.sum()
    through = arrivals_per_s * float(1.0 - chances[-1])
    jobs = float(chances @ np.arange(room + 1))
    waiting_jobs = float(chances @ np.maximum(np.arange(room + 1) - servers, 0))
    return Queue(
        utilisation=through * service_time_s / servers,
        waiting_s=waiting_jobs / through,
        response_s=jobs / through,
        waiting_jobs=waiting_jobs,
        jobs=jobs,
        through_per_s=through,
        empty_chance=float(chances[0]),
    )


def vut_wait(arrival_squared_cv: float, squared_cv: float, utilisation: float, service_time_s: float) -> float:
    """The mean time before service at one server with any arrivals (G/G/1), an approximation. [s]

    Parameters
    ----------
    arrival_squared_cv : variance of the time between arrivals over its mean squared, >= 0
    squared_cv : the same of the service, >= 0
    utilisation : 0 to under 1
    service_time_s : mean service, > 0. [s]

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    (c_a² + c_e²)/2 · u/(1 − u) · t. Exact for Poisson arrivals, good near full load, else an approximation.

    Source
    ------
    Kingman (1961); Hopp and Spearman, Factory Physics, 3rd ed., eq. 8.25, read second-hand; record vut_hare.

    Examples
    --------
    >>> round(vut_wait(1.0, 6.25, 23 / 24, 20.0), 1)
    1667.5
    """
    if min(arrival_squared_cv, squared_cv) < 0.0 or not 0.0 <= utilisation < 1.0 or service_time_s <= 0.0:
        raise ValueError("variation is not under 0, service is above 0, and utilisation is under 1")
    return 0.5 * (arrival_squared_cv + squared_cv) * utilisation / (1.0 - utilisation) * service_time_s


def open_network(
    arrivals_per_s: Sequence[float] | Floats,
    service_s: Sequence[float] | Floats,
    routing: Sequence[Sequence[float]] | Floats | None = None,
) -> OpenStations:
    """An open network of single servers (Jackson): Poisson arrivals, exponential service, random routing.

    Parameters
    ----------
    arrivals_per_s : shape (M,), >= 0   Arrivals from outside at each station. [1/s]
    service_s : shape (M,), > 0         Mean service. [s]
    routing : shape (M, M)   Chance of going from one station to another, the rest leaves; None where all leave, so that
        arrivals_per_s may be given as the whole flow through each station

    Raises
    ------
    ValueError   An argument is out of range, jobs never leave, or a station cannot keep up.

    Notes
    -----
    λ = λ_0 + λ P; then every station by itself as M/M/1: R = t / (1 − u), Q = u / (1 − u).

    Source
    ------
    Jackson (1957), from memory; records bolch_open_7_4 and bolch_open_34_1 in tests/reference.

    Examples
    --------
    >>> open_network([1.0, 0.0], [0.2, 0.25], [[0.0, 1.0], [0.5, 0.0]]).through_per_s.round(9).tolist()
    [2.0, 2.0]
    """
    outside, times = np.asarray(arrivals_per_s, np.float64), np.asarray(service_s, np.float64)
    chances = np.zeros((len(outside), len(outside))) if routing is None else np.asarray(routing, np.float64)
    if outside.shape != times.shape or chances.shape != (len(times), len(times)):
        raise ValueError("every station has arrivals, a service time and a row of chances")
    if (outside < 0.0).any() or (times <= 0.0).any() or (chances < 0.0).any() or chances.sum(axis=1).max() > 1 + 1e-9:
        raise ValueError("arrivals and chances are not under 0, services are above, and a row sums to at most 1")
    if np.abs(np.linalg.eigvals(chances)).max() >= 1.0 - 1e-12:
        raise ValueError("jobs at some stations never leave the network")
    through = np.linalg.solve(np.eye(len(times)) - chances.T, outside).astype(np.float64)
    busy = through * times
    if (busy >= 1.0).any():
        raise ValueError(f"station {int(np.argmax(busy)) + 1} cannot keep up")
    return OpenStations(through, busy, times / (1.0 - busy), busy / (1.0 - busy))


def _load(arrivals_per_s: float, service_time_s: float, servers: int) -> float:
    if arrivals_per_s <= 0.0 or service_time_s <= 0.0 or servers < 1:
        raise ValueError("arrivals and service are above 0, and there is at least one server")
    load = arrivals_per_s * service_time_s / servers
    if load >= 1.0:
        raise ValueError(f"utilisation {load:g}: the queue grows without end")
    return load


def _by_little(load: float, waiting_s: float, service_time_s: float, through_per_s: float, empty: float) -> Queue:
    response_s = waiting_s + service_time_s
    return Queue(
        load, waiting_s, response_s, through_per_s * waiting_s, through_per_s * response_s, through_per_s, empty
    )
