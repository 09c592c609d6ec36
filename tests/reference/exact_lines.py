"""Exact rates of small lines, solved apart from the program: Markov chains and a recursion of fixed times.

Nothing here knows carriers, stops or reservations; stations, buffer places and jobs are the textbooks' own.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ways = list[tuple[float, Hashable]]
"""Where a state leads: rate and next state."""


def stationary(start: Hashable, ways: Callable[..., Ways]) -> dict[Hashable, float]:
    """The stationary law of the continuous-time Markov chain that is reached from a state."""
    number, queue, rows = {start: 0}, [start], []
    for state in queue:
        for rate, target in ways(state):
            if target not in number:
                number[target] = len(number)
                queue.append(target)
            rows.append((number[state], number[target], rate))
    flow = np.zeros((len(number), len(number)))
    for row, column, rate in rows:
        flow[column, row] += rate
        flow[row, row] -= rate
    flow[0] = 1.0  # one balance follows from the others; the law sums to one in its place
    law = np.linalg.solve(flow, np.eye(len(number))[0])
    return dict(zip(number, law.tolist(), strict=True))


def serial_line_per_s(mean_s: Sequence[float], places: int = 0) -> float:
    """Exponential stations in series with so many places between, blocked after work, work always there. [1/s]

    A state is (parts at each station and waiting before it, one at the first; which stations stand blocked).
    """
    stations, room = len(mean_s), places + 1

    def ways(state: tuple[tuple[int, ...], tuple[bool, ...]]) -> Ways:
        found: Ways = []
        for station in range(stations):
            counts, blocked = list(state[0]), list(state[1])
            if blocked[station] or (station > 0 and counts[station] == 0):
                continue
            if station < stations - 1 and counts[station + 1] == room:
                blocked[station] = True
            else:
                _pass_on(counts, blocked, station)
            found.append((1.0 / mean_s[station], (tuple(counts), tuple(blocked))))
        return found

    law = stationary(((1,) + (0,) * (stations - 1), (False,) * stations), ways)
    return sum(p for (n, _), p in law.items() if n[-1] > 0) / mean_s[-1]  # type: ignore[misc]


def _pass_on(counts: list[int], blocked: list[bool], station: int) -> None:
    """A part leaves a station of an open line; those blocked behind it move up."""
    if station < len(counts) - 1:
        counts[station + 1] += 1
    if station > 0:
        counts[station] -= 1
        if blocked[station - 1]:
            blocked[station - 1] = False
            _pass_on(counts, blocked, station - 1)


def failing_pair_per_s(
    mean_s: Sequence[float], every_s: Sequence[float], repair_s: Sequence[float], places: int
) -> float:
    """Two machines, all times exponential, failing only in work, blocked after work, work always there. [1/s]

    A state is (done by the first and not by the second, the first is up, the second is up); with places + 2 of them the
    first stands blocked.
    """
    full = places + 2

    def ways(state: tuple[int, bool, bool]) -> Ways:
        n, first, second = state
        found: Ways = []
        if not first:
            found.append((1.0 / repair_s[0], (n, True, second)))
        elif n < full:
            found += [(1.0 / mean_s[0], (n + 1, True, second)), (1.0 / every_s[0], (n, False, second))]
        if not second:
            found.append((1.0 / repair_s[1], (n, first, True)))
        elif n > 0:
            found += [(1.0 / mean_s[1], (n - 1, first, True)), (1.0 / every_s[1], (n, first, False))]
        return found

    law = stationary((0, True, True), ways)
    return sum(share for (n, _, second), share in law.items() if second and n > 0) / mean_s[1]  # type: ignore[misc]


def little_room_per_s(mean_s: Sequence[float], room: Sequence[int], jobs: int) -> float:
    """A closed loop of exponential stations, blocked after work; room counts the station and the places before. [1/s]

    A state is (jobs at each station, which of them stand blocked).
    """
    stations = len(mean_s)

    def free(counts: list[int], blocked: list[bool], station: int) -> None:
        """A job has left a station: the blocked one before it moves up, and so on upstream."""
        before = (station - 1) % stations
        if blocked[before]:
            blocked[before] = False
            counts[before] -= 1
            counts[station] += 1
            free(counts, blocked, before)

    def ways(state: tuple[tuple[int, ...], tuple[bool, ...]]) -> Ways:
        found: Ways = []
        for station in range(stations):
            counts, blocked = list(state[0]), list(state[1])
            if counts[station] == 0 or blocked[station]:
                continue
            after = (station + 1) % stations
            if counts[after] < room[after]:
                counts[station] -= 1
                counts[after] += 1
                free(counts, blocked, station)
            else:
                blocked[station] = True
            found.append((1.0 / mean_s[station], (tuple(counts), tuple(blocked))))
        return found

    start, left = [], jobs
    for places in room:
        start.append(min(places, left))
        left -= start[-1]
    law = stationary((tuple(start), (False,) * stations), ways)
    return sum(p for (n, blocked), p in law.items() if n[0] > 0 and not blocked[0]) / mean_s[0]  # type: ignore[misc]


def closed_loop_per_s(demand_s: Sequence[float], jobs: int) -> float:
    """A closed loop of exponential single servers with ample room: exact mean value analysis. [1/s]

    Source: M. Reiser and S. S. Lavenberg, Journal of the ACM 27 (1980), from memory.
    """
    queue, rate = np.zeros(len(demand_s)), 0.0
    for n in range(1, jobs + 1):
        stay = np.asarray(demand_s) * (1.0 + queue)
        rate = n / float(stay.sum())
        queue = rate * stay
    return rate


def in_line_per_h(groups: Sequence[tuple[int, int]], jobs: int, rounds: int = 400) -> Fraction:
    """A closed loop of steps with c stations in line and t whole hours each, nobody passing, ample room between. [1/h]

    The recursion of examples/published/penny-fab-two-in-line.yaml, in whole hours; the rate is that of the period into
    which the loop falls.
    """
    last, place = [0] * len(groups), [0] * len(groups)
    waiting, finishes = deque([0] * jobs), []
    seen: dict[Hashable, tuple[int, int]] = {}
    for part in range(rounds * jobs):
        time = waiting.popleft()
        for step, (stations, work) in enumerate(groups):
            if time < last[step] and place[step] < stations:
                place[step] += 1
            else:
                time, place[step] = max(time, last[step]), 1
            time = last[step] = max(time + work, last[step])
        waiting.append(time)
        finishes.append(time)
        state = (tuple(t - time for t in waiting), tuple(t - time for t in last), tuple(place))
        if state in seen:
            then, at = seen[state]
            return Fraction(part - then, time - at)
        seen[state] = (part, time)
    raise AssertionError("no period was found")


def transfer_line_per_cycle(storage: int, one_in: Sequence[int], repairs: Sequence[Sequence[int]]) -> float:
    """Gershwin's two-machine transfer line with repairs of equally likely whole cycles: parts a cycle.

    In every cycle first the machines change: one that is up, with a part and room, fails with probability 1/one_in; one
    that is down counts its cycles. Then each that is up, with part and room at the start of the cycle, makes one part.
    The law of (stored, cycles left of both repairs) is iterated until the rate stands.
    """
    laws = [np.bincount(cycles)[1:] / len(cycles) for cycles in repairs]
    law = np.zeros((storage + 1, len(laws[0]) + 1, len(laws[1]) + 1))
    law[storage // 2, 0, 0] = 1.0
    rate, before = 0.0, -1.0
    for cycle in range(20_000):
        law = _change(law, slice(0, storage), 1.0 / one_in[0], laws[0])
        law = _change(law.transpose(0, 2, 1), slice(1, storage + 1), 1.0 / one_in[1], laws[1]).transpose(0, 2, 1)
        makes, takes = np.zeros(law.shape, bool), np.zeros(law.shape, bool)
        makes[:storage, 0, :], takes[1:, :, 0] = True, True
        rate = float(law[takes].sum())
        moved = np.where(makes == takes, law, 0.0)
        moved[1:] += np.where(makes & ~takes, law, 0.0)[:-1]
        moved[:-1] += np.where(takes & ~makes, law, 0.0)[1:]
        law = moved
        if cycle % 50 == 0:
            if abs(rate - before) < 1e-12:
                return rate
            before = rate
    raise AssertionError("the law does not settle")


def _change(law: Floats, able: slice, probability: float, repair: Floats) -> Floats:
    """One machine, on the middle axis, changes: repairs count down, one that is up and able may fail."""
    changed = np.zeros_like(law)
    changed[:, :-1] += law[:, 1:]
    changed[:, 0] += law[:, 0]
    changed[able, 0] -= probability * law[able, 0]
    changed[able, 1:] += probability * law[able, 0][:, None, :] * repair[None, :, None]
    return changed
