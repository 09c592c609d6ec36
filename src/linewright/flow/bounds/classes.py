"""Closed networks with several classes of carriers: the exact mean values."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Rows = Sequence[Sequence[float]] | Floats


@dataclass(frozen=True, eq=False)
class ClassNetwork:
    """The steady state of a closed network with C classes and M stations.

    Parameters
    ----------
    rate_per_s : shape (C,)        Rounds of each class finished per second. [1/s]
    round_s : shape (C,)           Mean time of a round, thinking not counted; 0 for a class without carriers. [s]
    response_s : shape (C, M)      Mean time from arrival to departure at one visit; 0 where a class never comes. [s]
    queue : shape (C, M)           Mean number of carriers there, those in service counted.
    utilisation : shape (C, M)     Share of the time in which each server serves the class.
    """

    rate_per_s: Floats
    round_s: Floats
    response_s: Floats
    queue: Floats
    utilisation: Floats


def class_network(
    service_s: Rows,
    populations: Sequence[int],
    visits: Rows | None = None,
    servers: Sequence[int] | None = None,
    think_s: Sequence[float] | None = None,
) -> ClassNetwork:
    """The exact mean values of a closed product-form network whose carriers belong to several classes.

    Parameters
    ----------
    service_s : shape (C, M), >= 0   Mean time of one service of each class at each station. [s]
    populations : shape (C,), >= 0   Carriers of each class, at least one in all
    visits : shape (C, M), >= 0      Mean visits of each class in one round; None for one each
    servers : shape (M,), >= 1       Servers of each station, who share one queue; None for one each. As many as there
        are carriers: nobody waits there
    think_s : shape (C,), >= 0       Mean time of a round away from all stations; None for none. [s]

    Returns
    -------
    ClassNetwork   .rate_per_s, .round_s, .response_s, .queue, .utilisation

    Raises
    ------
    ValueError   An argument is out of range, a class has no time at all, or the numbers overflow.

    Notes
    -----
    Exponential service in order of arrival, the same mean for all classes that come to a station; or, with means that
    differ, service shared equally among those present (min(n, m) servers). Then with demands D_ck = visits × service
    G(n) = Σ Π f_k(n_k), f_k(n) = |n|! Π_c D_ck^(n_c) / n_c! / Π_(i ≤ |n|) min(i, m_k), thinking Π Z_c^(n_c) / n_c!,
    X_c = G(K - e_c) / G(K), and the queues from G without a station. All terms are positive, so that no digits are
    lost; the recursion of mean value analysis gives the same. Effort: the square of Π (K_c + 1), for each station.

    Source
    ------
    Baskett, Chandy, Muntz and Palacios (1975), Reiser and Lavenberg (1980), from memory; held to four published
    examples in tests/reference/data/classes.json and to Markov chains.

    Examples
    --------
    >>> found = class_network([[0.1, 1 / 3], [0.4, 1.0]], [1, 1], visits=[[10, 9], [5, 4]])
    >>> (found.rate_per_s * 19).round(9).tolist()
    [3.0, 2.0]
    """
    times, count, often, many, think = _checked(service_s, populations, visits, servers, think_s)
    demands = times * often
    total = int(count.sum())
    # Each class in a unit of its own, so that no term grows without need.
    units = np.maximum(demands.max(axis=1), (demands.sum(axis=1) + think) / max(total, 1))
    scaled = demands / units[:, None]
    with np.errstate(over="ignore", invalid="ignore"):
        factors = [_factors(scaled[:, k], int(many[k]), count) for k in range(len(many))]
        others, whole = _without_each(factors, _factors(think / units, total, count))
    if not (np.isfinite(whole).all() and whole[tuple(count)] > 0.0):
        raise ValueError(f"{total} carriers in these classes are too many for this computation")
    full = whole[tuple(count)]
    rate = np.array([whole[tuple(count - _one(c, len(count)))] / full if n else 0.0 for c, n in enumerate(count)])
    rate /= units
    queue = np.zeros(demands.shape)
    grid = np.indices(whole.shape)
    for k, (factor, other) in enumerate(zip(factors, others, strict=True)):
        # other at K - n is the whole array turned round in every direction.
        chances = factor * np.flip(other)
        queue[:, k] = (grid * chances).reshape(len(count), -1).sum(axis=1) / full
    through = rate[:, None] * often
    response = np.divide(queue, through, out=np.zeros(queue.shape), where=through > 0.0)
    round_s = np.divide(count, rate, out=np.zeros(len(count)), where=rate > 0.0) - np.where(rate > 0.0, think, 0.0)
    return ClassNetwork(rate, round_s, response, queue, rate[:, None] * demands / many)


def _checked(
    service_s: Rows,
    populations: Sequence[int],
    visits: Rows | None,
    servers: Sequence[int] | None,
    think_s: Sequence[float] | None,
) -> tuple[Floats, NDArray[np.int64], Floats, NDArray[np.int64], Floats]:
    times = np.asarray(service_s, np.float64)
    count = np.asarray(populations, np.int64)
    if times.ndim != 2 or count.shape != (len(times),) or (count < 0).any() or count.sum() < 1:
        raise ValueError("there is one row of services and one number of carriers for every class, and one carrier")
    often = np.ones(times.shape) if visits is None else np.asarray(visits, np.float64)
    many = np.ones(times.shape[1], np.int64) if servers is None else np.asarray(servers, np.int64)
    think = np.zeros(len(times)) if think_s is None else np.asarray(think_s, np.float64)
    if often.shape != times.shape or many.shape != times.shape[1:] or think.shape != count.shape or (many < 1).any():
        raise ValueError("visits stand as the services, servers one a station and at least 1, thinking one a class")
    known = np.concatenate((times.ravel(), often.ravel(), think))
    if not np.isfinite(known).all() or (known < 0.0).any():
        raise ValueError("services, visits and thinking are finite and not under 0")
    if ((times * often).sum(axis=1) + think <= 0.0).any():
        raise ValueError("every class has some time in its round")
    return times, count, often, many, think


def _one(place: int, length: int) -> NDArray[np.int64]:
    found = np.zeros(length, np.int64)
    found[place] = 1
    return found


def _factors(demands: Floats, servers: int, count: NDArray[np.int64]) -> Floats:
    """f(n) of one station for every vector n up to the populations."""
    shape = tuple(int(n) + 1 for n in count)
    values = np.empty(shape)
    for place in np.ndindex(shape):
        total = sum(place)
        value = 1.0
        # |n|! / Π n_c! as a product of binomials, each of them exact enough as a float.
        left = total
        for number, demand in zip(place, demands.tolist(), strict=True):
            value *= math.comb(left, number) * demand**number
            left -= number
        for i in range(1, total + 1):
            value /= min(i, servers)
        values[place] = value
    return values


def _convolve(first: Floats, second: Floats) -> Floats:
    """Σ first(m) second(n - m) for every n, in as many directions as there are classes."""
    found = np.zeros(first.shape)
    for place in np.ndindex(first.shape):
        if first[place] != 0.0:
            reach = tuple(slice(0, size - at) for size, at in zip(first.shape, place, strict=True))
            found[tuple(slice(at, None) for at in place)] += first[place] * second[reach]
    return found


def _without_each(factors: Sequence[Floats], think: Floats) -> tuple[list[Floats], Floats]:
    """For each station the convolution of all others with thinking, and that of all."""
    before = [think]
    for factor in factors:
        before.append(_convolve(factor, before[-1]))
    after = np.zeros(think.shape)
    after[(0,) * think.ndim] = 1.0
    others: list[Floats] = []
    for k in reversed(range(len(factors))):
        others.append(_convolve(before[k], after))
        after = _convolve(factors[k], after)
    return others[::-1], before[-1]
