"""Serial lines: stations in a row with buffers of a given size between them, the first never starved, the last never
blocked."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_STATES: Final = 3000
"""States of a Markov chain that is solved as one dense system: some 70 MB and under a second."""


@dataclass(frozen=True, eq=False)
class SerialLine:
    """The steady state of a serial line of K stations.

    Parameters
    ----------
    rate_per_s : parts a second. [1/s]
    busy, blocked, starved : shape (K,)   Shares of the time, which sum to one
    levels : shape (K − 1,)   Mean number between two stations: finished by the first, not by the second
    states : number of states of its Markov chain
    """

    rate_per_s: float
    busy: Floats
    blocked: Floats
    starved: Floats
    levels: Floats
    states: int


@dataclass(frozen=True)
class TwoMachineLine:
    """The steady state of two machines with one time unit a part, failures and a buffer.

    Parameters
    ----------
    efficiency : parts per time unit that leave the second machine
    first_efficiency : parts per time unit that enter the buffer; the same, reckoned apart
    level : mean number in the buffer
    starved, blocked : shares of the time units in which the second machine is up and has no part; the first is up and
        has no room
    """

    efficiency: float
    first_efficiency: float
    level: float
    starved: float
    blocked: float


@dataclass(frozen=True)
class UnreliableLimits:
    """Efficiency of a line of unreliable machines of one speed, without and with endless buffers.

    Parameters
    ----------
    no_buffer_running : no buffers; a machine fails only while it works
    no_buffer_clock : no buffers; a machine fails at any time
    endless_buffers : the least availability of a machine alone
    """

    no_buffer_running: float
    no_buffer_clock: float
    endless_buffers: float


def two_station_rate(first_s: float, second_s: float, buffer: int) -> float:
    """Parts a second of two exponential stations with a buffer between them. [1/s]

    Parameters
    ----------
    first_s, second_s : mean work, > 0. [s]
    buffer : places between them, >= 0

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    Blocking after service. The parts finished by the first and not by the second are 0 to B + 2; with ρ = t_2 / t_1,
    p_n ∝ ρ^n and the rate is (1 − p_0) / t_2. For equal stations (B + 2) / (B + 3) / t.

    Source
    ------
    Birth and death process; the closed form for equal stations from memory, checked with tests/reference.

    Examples
    --------
    >>> two_station_rate(1.0, 1.0, 2)
    0.8
    """
    if min(first_s, second_s) <= 0.0 or buffer < 0:
        raise ValueError(f"work {first_s} s and {second_s} s, buffer {buffer}: above 0 and not under 0 are due")
    # From the larger end, so that no power overflows.
    ratio, places = second_s / first_s, buffer + 2
    if ratio <= 1.0:
        empty = 1.0 / math.fsum(ratio**n for n in range(places + 1))
    else:
        empty = ratio**-places / math.fsum(ratio**-n for n in range(places + 1))
    return (1.0 - empty) / second_s


def exponential_line(mean_s: Sequence[float], buffers: Sequence[int]) -> SerialLine:
    """The exact steady state of a serial line with exponential work and blocking after service.

    Parameters
    ----------
    mean_s : K values > 0, K >= 1   Mean work of each station. [s]
    buffers : K − 1 values >= 0     Places between one station and the next

    Returns
    -------
    SerialLine   .rate_per_s, .busy, .blocked, .starved, .levels, .states

    Raises
    ------
    ValueError   An argument is out of range, or the chain has more than MOST_STATES states.

    Notes
    -----
    State: n_k, the parts finished by station k and not by the next. Station k is blocked when n_k = B_k + 2 less one if
    the next is blocked itself; it works when it is not blocked and n_{k−1} ≥ 1. The balance equations are solved as one
    dense linear system.

    Source
    ------
    Hillier and Boling, Operations Research 15 (1967), the model; values in tests/reference/data/serial_lines.json.

    Examples
    --------
    >>> round(exponential_line([1.0, 1.0, 1.0], [0, 0]).rate_per_s * 39, 9)
    22.0
    """
    if len(mean_s) < 1 or len(buffers) != len(mean_s) - 1 or min(mean_s) <= 0.0 or min(buffers, default=0) < 0:
        raise ValueError("there is a mean above 0 for every station and a buffer, not under 0, between every two")
    states = _line_states(buffers)
    number = {state: i for i, state in enumerate(states)}
    blocked = np.array([_blocked(state, buffers) for state in states])
    fed = np.array([[True, *(level > 0 for level in state)] for state in states])
    busy = ~blocked & fed
    flow = np.zeros((len(states), len(states)))
    for here, state in enumerate(states):
        for station in np.flatnonzero(busy[here]).tolist():
            there = number[_finish(state, station)]
            flow[here, there] += 1.0 / mean_s[station]
            flow[here, here] -= 1.0 / mean_s[station]
    chances = _steady(flow)
    levels = np.array([chances @ [state[k] for state in states] for k in range(len(buffers))])
    shares = [chances @ of for of in (busy, blocked, ~blocked & ~fed)]
    return SerialLine(float(shares[0][-1]) / mean_s[-1], shares[0], shares[1], shares[2], levels, len(states))


def two_machine_line(failure_chances: Sequence[float], repair_chances: Sequence[float], buffer: int) -> TwoMachineLine:
    """The exact steady state of two machines of one time unit a part that fail while they work, and a buffer.

    Parameters
    ----------
    failure_chances : two chances, above 0 to 1    Of failing in a time unit in which it works
    repair_chances : two chances, above 0 to 1     Of coming up in a time unit
    buffer : places, >= 1

    Raises
    ------
    ValueError   An argument is out of range, or the chain has more than MOST_STATES states.

    Notes
    -----
    In each time unit the machines' states change first: one that is up and neither starved nor blocked fails with its
    chance, one that is down is repaired with its chance. Then the buffer takes a part if the first is up and there was
    room, and gives one if the second is up and there was one. E = e_1 (1 − blocked) = e_2 (1 − starved),
    e = r / (r + p); E grows towards min(e_1, e_2) with the buffer.

    Source
    ------
    Buzacott (1967); Gershwin, Manufacturing Systems Engineering (1994), ch. 3, conventions from memory; solved here as
    a Markov chain.

    Examples
    --------
    >>> round(two_machine_line([0.01, 0.01], [0.1, 0.1], 10).efficiency, 6)
    0.856175
    """
    if len(failure_chances) != 2 or len(repair_chances) != 2 or buffer < 1:
        raise ValueError("two machines have two chances of each kind, and the buffer has a place")
    if not all(0.0 < chance <= 1.0 for chance in (*failure_chances, *repair_chances)):
        raise ValueError("a chance lies above 0 and not above 1")
    if 4 * (buffer + 1) > MOST_STATES:
        raise ValueError(f"a buffer of {buffer} gives {4 * (buffer + 1)} states, at most {MOST_STATES} may be")
    states = list(itertools.product(range(buffer + 1), (0, 1), (0, 1)))
    number = {state: i for i, state in enumerate(states)}
    step = np.zeros((len(states), len(states)))
    made = np.zeros((len(states), 2))
    for here, (level, *up) in enumerate(states):
        able = (level < buffer, level > 0)
        comes_up = [(1.0 - failure_chances[m] if able[m] else 1.0) if up[m] else repair_chances[m] for m in (0, 1)]
        for after in itertools.product((0, 1), (0, 1)):
            chance = math.prod(comes_up[m] if after[m] else 1.0 - comes_up[m] for m in (0, 1))
            works = [int(after[m] and able[m]) for m in (0, 1)]
            step[here, number[level + works[0] - works[1], *after]] += chance
            made[here] += chance * np.array(works)
    chances = _steady(step - np.eye(len(states)))
    first, second = chances @ made
    at = np.array(states)
    return TwoMachineLine(
        efficiency=float(second),
        first_efficiency=float(first),
        level=float(chances @ at[:, 0]),
        starved=float(chances[(at[:, 0] == 0) & (at[:, 2] == 1)].sum()),
        blocked=float(chances[(at[:, 0] == buffer) & (at[:, 1] == 1)].sum()),
    )


def unreliable_limits(failure_chances: Sequence[float], repair_chances: Sequence[float]) -> UnreliableLimits:
    """What a line of unreliable machines of one speed attains without buffers and with endless ones.

    Parameters
    ----------
    failure_chances : each >= 0   Chance, or rate, of failing in a time unit of work
    repair_chances : each > 0     Chance, or rate, of coming up in a time unit

    Raises
    ------
    ValueError   An argument is out of range.

    Notes
    -----
    Without buffers 1 / (1 + Σ p/r) if machines fail only while they work, Π r/(r + p) if they fail at any time; with
    endless buffers min r/(r + p).

    Source
    ------
    Buzacott (1967), from memory; records unreliable_line_limits and unreliable_line_limits_b in tests/reference.

    Examples
    --------
    >>> unreliable_limits([0.01, 0.01], [0.1, 0.1]).no_buffer_running.__round__(6)
    0.833333
    """
    if not failure_chances or len(failure_chances) != len(repair_chances):
        raise ValueError("every machine has a chance of failing and one of coming up")
    if min(failure_chances) < 0.0 or min(repair_chances) <= 0.0:
        raise ValueError("a chance of failing is not under 0, one of coming up is above")
    pairs = list(zip(failure_chances, repair_chances, strict=True))
    alone = [r / (r + p) for p, r in pairs]
    return UnreliableLimits(1.0 / (1.0 + math.fsum(p / r for p, r in pairs)), math.prod(alone), min(alone))


def _line_states(buffers: Sequence[int]) -> list[tuple[int, ...]]:
    """All states of a line, last buffer first: how many a buffer holds at most depends on what is downstream."""
    found: list[tuple[tuple[int, ...], bool]] = [((), False)]
    for buffer in reversed(buffers):
        more = []
        for state, next_blocked in found:
            most = buffer + 2 - next_blocked
            more += [((level, *state), level == most) for level in range(most + 1)]
            if len(more) > MOST_STATES:
                raise ValueError(f"the line has more than {MOST_STATES} states: fewer stations or smaller buffers")
        found = more
    return [state for state, _ in found]


def _blocked(state: tuple[int, ...], buffers: Sequence[int]) -> list[bool]:
    """Which stations are blocked; the last never is."""
    blocked = [False]
    for level, buffer in zip(reversed(state), reversed(buffers), strict=True):
        blocked.append(level == buffer + 2 - blocked[-1])
    return blocked[::-1]


def _finish(state: tuple[int, ...], station: int) -> tuple[int, ...]:
    """The state after a station has finished a part."""
    levels = list(state)
    if station > 0:
        levels[station - 1] -= 1
    if station < len(levels):
        levels[station] += 1
    return tuple(levels)


def _steady(flow: Floats) -> Floats:
    """The steady state of a chain with one recurrent class: chances · flow = 0, their sum 1."""
    system = flow.T.copy()
    system[-1] = 1.0
    right = np.zeros(len(flow))
    right[-1] = 1.0
    chances: Floats = np.linalg.solve(system, right).astype(np.float64)
    return chances
