"""Machines that share operators: by chance (finite-source queues) and in step (the man-machine chart)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class MachineGroup:
    """The steady state of machines that run until they need an operator. N machines.

    Parameters
    ----------
    rate_per_s : services finished a second, all machines together. [1/s]
    running : mean number of machines that run
    down : mean number that do not: waiting or being served
    waiting : mean number that wait for an operator
    wait_s : mean wait of one call. [s]
    machine_utilisation : share of time in which a machine runs
    operator_utilisation : share of time in which an operator serves
    wait_chance : share of the calls that have to wait
    efficiency : machines running or being served, over all: 1 - waiting / N
    down_chances : shape (N + 1,)   Share of time in which so many machines are down.
    """

    rate_per_s: float
    running: float
    down: float
    waiting: float
    wait_s: float
    machine_utilisation: float
    operator_utilisation: float
    wait_chance: float
    efficiency: float
    down_chances: Floats


@dataclass(frozen=True)
class FixedInterference:
    """The steady state of machines that share one operator whose services all take the same time.

    Parameters
    ----------
    rate_per_s : services finished a second, all machines together. [1/s]
    running : mean number of machines that run
    waiting : mean number that wait for the operator
    machine_utilisation : share of time in which a machine runs
    operator_utilisation : share of time in which the operator serves
    """

    rate_per_s: float
    running: float
    waiting: float
    machine_utilisation: float
    operator_utilisation: float


@dataclass(frozen=True)
class OperatorRound:
    """One operator's round from machine to machine, where nothing varies.

    Parameters
    ----------
    cycle_s : time of one round; each machine makes one part in it. [s]
    operator_utilisation : share of the round in which the operator attends or walks
    machine_idle_s : time of each machine in a round in which it neither runs nor is attended. [s]
    """

    cycle_s: float
    operator_utilisation: float
    machine_idle_s: tuple[float, ...]


def machine_interference(machines: int, operators: int, run_s: float, service_s: float) -> MachineGroup:
    """Machines that stop by chance and wait for one of several operators.

    Parameters
    ----------
    machines : N >= 1
    operators : c >= 1
    run_s : mean time from the end of one service of a machine to its next call, > 0. [s]
    service_s : mean time of one service, > 0. [s]

    Returns
    -------
    MachineGroup   .rate_per_s, .running, .down, .waiting, .wait_s, ...

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    M/M/c//N: p_n / p_(n-1) = (N - n + 1) service / (min(n, c) run) for n machines down. Services are exponential and
    taken in any order that does not look at their lengths; running times may follow any law with that mean, since the
    running machines wait for nobody. With c >= N the law of service does not matter either. A call finds n machines
    down with a chance that is proportional to (N - n) p_n.

    Source
    ------
    The finite-source queue, textbook material (Palm 1947; Peck and Hazelwood, Finite Queuing Tables, 1958), from
    memory; held to rows of those tables and to Markov chains in tests/reference/test_operators.py.

    Examples
    --------
    >>> found = machine_interference(6, 1, run_s=20.0, service_s=2.0)
    >>> round(found.down, 4), round(found.waiting, 4), round(found.wait_s, 3)
    (0.8451, 0.3297, 1.279)
    """
    if machines < 1 or operators < 1 or not (0.0 < run_s < math.inf and 0.0 < service_s < math.inf):
        raise ValueError(
            f"{machines} machines, {operators} operators, running {run_s} s, service {service_s} s: at least 1, at "
            "least 1, above 0, above 0"
        )
    down = np.arange(1, machines + 1)
    # In logarithms, so that many machines do not overflow.
    ratios = np.log((machines - down + 1) * (service_s / run_s) / np.minimum(down, operators))
    logs = np.concatenate(([0.0], np.cumsum(ratios)))
    chances = np.exp(logs - logs.max())
    chances /= chances.sum()
    count = np.arange(machines + 1)
    running = float(chances @ (machines - count))
    waiting = float(chances @ np.maximum(count - operators, 0))
    rate = running / run_s
    calls = chances * (machines - count)
    return MachineGroup(
        rate_per_s=rate,
        running=running,
        down=machines - running,
        waiting=waiting,
        wait_s=waiting / rate,
        machine_utilisation=running / machines,
        operator_utilisation=rate * service_s / operators,
        wait_chance=float(calls[operators:].sum() / calls.sum()),
        efficiency=1.0 - waiting / machines,
        down_chances=chances,
    )


def fixed_interference(machines: int, run_s: float, service_s: float) -> FixedInterference:
    """Machines that stop by chance and wait for one operator whose services all take the same time.

    Parameters
    ----------
    machines : N >= 1
    run_s : mean time from the end of one service of a machine to its next call, exponential, > 0. [s]
    service_s : time of every service, > 0. [s]

    Returns
    -------
    FixedInterference   .rate_per_s, .running, .waiting, .machine_utilisation, .operator_utilisation

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    M/D/1//N. Services of one busy stretch of the operator: Y = Σ_(k < N) C(N - 1, k) Π_(i ≤ k) (exp(i s / r) - 1), with
    service s and running r; idle between two such stretches r / N; rate = Y / (Y s + r / N). `running` is N times the
    efficiency that the tables of Ashcroft's numbers give.

    Source
    ------
    H. Ashcroft, "The productivity of several machines under the care of one operator", Journal of the Royal Statistical
    Society B 12 (1950) 145, from memory; no table was at hand. Held to the chain of how many are down after each
    service in tests/reference/test_operators.py.

    Examples
    --------
    >>> round(fixed_interference(4, run_s=8.0, service_s=2.0).operator_utilisation, 6)
    0.723041
    """
    if machines < 1 or not (0.0 < run_s < math.inf and 0.0 < service_s < math.inf):
        raise ValueError(f"{machines} machines, running {run_s} s, service {service_s} s: at least 1, above 0, above 0")
    step = np.arange(1, machines)
    # Term k over term k - 1; in logarithms, so that many machines do not overflow.
    ratios = np.log((machines - step) / step) + np.log(np.expm1(step * (service_s / run_s)))
    logs = np.concatenate(([0.0], np.cumsum(ratios)))
    services = float(np.exp(logs - logs.max()).sum())
    idle_s = run_s / machines * math.exp(-float(logs.max()))
    rate = services / (services * service_s + idle_s)
    running, busy = rate * run_s, rate * service_s
    return FixedInterference(rate, running, max(machines - running - busy, 0.0), running / machines, busy)


def operator_round(attend_s: Sequence[float], run_s: Sequence[float], walk_s: Sequence[float]) -> OperatorRound:
    """One operator who goes round some machines in a fixed order, where nothing varies: the man-machine chart.

    Parameters
    ----------
    attend_s : shape (N,), >= 0   Time in which the operator works at each machine while it cannot run. [s]
    run_s : shape (N,), >= 0      Time in which each machine then runs by itself. [s]
    walk_s : shape (N,), >= 0     Walk from each machine to the next, from the last to the first. [s]

    Returns
    -------
    OperatorRound   .cycle_s, .operator_utilisation, .machine_idle_s

    Raises
    ------
    ValueError   Other lengths, a time under 0, or no time at all.

    Notes
    -----
    cycle = max(max (attend_i + run_i), Σ (attend_i + walk_i)). The visits obey t_i(k) = max(t_(i-1)(k) + attend_(i-1) +
    walk_(i-1), t_i(k-1) + attend_i + run_i), a system in (max, +) whose only simple circuits are each machine with
    itself and the whole round; its cycle is the largest mean of a circuit. Two machines and one operator:
    max(a_1 + r_1, a_2 + r_2, a_1 + a_2 + both walks).

    Source
    ------
    Common practice of the man-machine chart; derived as above, and held to the chart drawn event by event.

    Examples
    --------
    >>> operator_round([40.0, 40.0], [216.0, 216.0], [20.0, 20.0])
    OperatorRound(cycle_s=256.0, operator_utilisation=0.46875, machine_idle_s=(0.0, 0.0))
    """
    if not attend_s or not len(attend_s) == len(run_s) == len(walk_s):
        raise ValueError("there is one attendance, one running time and one walk for every machine")
    if min(*attend_s, *run_s, *walk_s) < 0.0 or sum(attend_s) + sum(run_s) + sum(walk_s) <= 0.0:
        raise ValueError("times are not under 0, and one is above")
    alone = [attend + run for attend, run in zip(attend_s, run_s, strict=True)]
    walked = sum(attend_s) + sum(walk_s)
    cycle = max(*alone, walked)
    return OperatorRound(cycle, walked / cycle, tuple(cycle - time for time in alone))


def machines_per_operator(attend_s: float, run_s: float, walk_s: float = 0.0) -> float:
    """How many like machines keep one operator just busy, where nothing varies; seldom a whole number.

    Parameters
    ----------
    attend_s : time of the operator at one machine while it cannot run, >= 0. [s]
    run_s : time in which a machine runs by itself, >= 0. [s]
    walk_s : walk to the next machine, >= 0. [s]

    Raises
    ------
    ValueError   A time is under 0, or the operator has nothing to do.

    Notes      (attend + run) / (attend + walk). Rounded down no machine waits, rounded up the operator never does.
    Source     Common practice; a worked example in tests/reference/data/operators.json.
    Examples   >>> round(machines_per_operator(1.0, 2.0, 0.1), 1)
               2.7
    """
    if min(attend_s, run_s, walk_s) < 0.0 or attend_s + walk_s <= 0.0:
        raise ValueError("times are not under 0, and the operator's are above")
    return (attend_s + run_s) / (attend_s + walk_s)
