"""How long after its leader a follower may depart, so that the clear gap holds at every instant.

Positions lie on the unrolled axis, in the direction of travel. The follower starts at 0 and the leader at `lead_m`;
a delay is the follower's departure minus the leader's, so it may be negative.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from linewright.motion.profile import Move, Segment

__all__ = ["GAP_TOLERANCE_M", "NO_BOUND", "profile_table", "start_delay_us", "start_delays_us"]

GAP_TOLERANCE_M = 1e-9
"""The gap counts as held when it is short by no more than this. [m]"""

NO_BOUND = -(2**31)
"""Stands in arrays of delays where the leader gives no bound."""

TABLE_ROWS = 8
"""Rows of one move in :func:`profile_table`: at most seven segments and the rest after them."""

State = tuple[float, float, float, float]


def start_delay_us(leader: Move, follower: Move, lead_m: float, pitch_m: float) -> int | None:
    """The least delay of the follower's departure behind the leader's.

    Parameters
    ----------
    leader, follower : Move    Their moves, each from rest to rest.
    lead_m : float             The leader's start minus the follower's start; may be zero or negative. [m]
    pitch_m : float            The least distance of their centres. [m], > 0

    Returns
    -------
    int   Whole microseconds, negative where the follower may leave first; the least d for which
          X_L(u + d) - X_F(u) ≥ pitch - 1e-9 m at every u ≥ 0, u counted from the follower's departure.
    None  The follower's move never comes within a pitch of the leader's start: no bound.

    Raises
    ------
    ValueError   The places where the moves end are closer than the pitch; or a figure is out of its range.

    Notes
    -----
    X_L(t) is lead_m before the leader leaves, and moves on from there; so the condition is monotone in d. From a delay
    that is too short the least gap over u is found exactly (the difference of the two moves is a cubic between
    breakpoints, its stationary points are the roots of a quadratic); the delay that closes the gap at that u is a
    better lower bound, and so on. The bound rises to the answer with the order of Newton's method. Last, the answer
    is rounded up to whole microseconds, and moved until it holds and one less does not.

    Source     derived from docs/semantics.md, "Departure"; checked by tests/property/test_motion_laws.py.

    Examples
    --------
    >>> from linewright.motion.profile import Limits, plan_move
    >>> move = plan_move(0.4, Limits(1.85, 14.0, 260.0))
    >>> start_delay_us(move, move, lead_m=0.1, pitch_m=0.1)
    0
    >>> start_delay_us(move, plan_move(0.3, Limits(1.85, 14.0, 260.0)), lead_m=0.1, pitch_m=0.2)
    145493
    >>> start_delay_us(move, move, lead_m=0.6, pitch_m=0.2) is None
    True
    """
    _refuse_closer_ends(np.array([lead_m + leader.distance_m - follower.distance_m]), pitch_m)
    held_m = pitch_m - GAP_TOLERANCE_M
    if lead_m - follower.distance_m >= held_m:  # written as the search computes it, so that the two cannot disagree
        return None
    delay_s = leader.time_to_cover_s(follower.distance_m + held_m - lead_m) - follower.duration_s
    while True:
        gap_m, at_s = _least_gap(leader, follower, lead_m, delay_s)
        if gap_m >= held_m:
            break
        closed_s = leader.time_to_cover_s(follower.position_m(at_s) + held_m - lead_m) - at_s
        if closed_s <= delay_s + 1e-12:  # within rounding of the answer; the check below settles the microsecond
            break
        delay_s = closed_s
    delay_us = math.ceil(delay_s * 1e6 - 1e-4)
    while _least_gap(leader, follower, lead_m, delay_us * 1e-6)[0] < held_m:
        delay_us += 1
    while _least_gap(leader, follower, lead_m, (delay_us - 1) * 1e-6)[0] >= held_m:
        delay_us -= 1
    return delay_us


def profile_table(moves: Sequence[Move]) -> npt.NDArray[np.float64]:
    """Moves as one array, the form in which :func:`start_delays_us` takes them.

    Returns
    -------
    array, shape (moves, 8, 5)   Rows are stretches of constant jerk, columns their start [s], position [m], speed
                                 [m/s], acceleration [m/s²] and jerk [m/s³] at their start; the rows after the last
                                 stretch stand for the rest at the end.
    """
    table = np.zeros((len(moves), TABLE_ROWS, 5))
    for rows, move in zip(table, moves, strict=True):
        rows[:, 0], rows[:, 1] = move.duration_s, move.distance_m
        for row, s in zip(rows, move.segments, strict=False):
            row[:] = s.start_s, s.position_m, s.speed_m_s, s.acceleration_m_s2, s.jerk_m_s3
    return table


def start_delays_us(
    table: npt.NDArray[np.float64],
    leader: npt.ArrayLike,
    follower: npt.ArrayLike,
    lead_m: npt.ArrayLike,
    pitch_m: float,
) -> npt.NDArray[np.int64]:
    """:func:`start_delay_us` of many pairs, compiled.

    Parameters
    ----------
    table : shape (moves, 8, 5)    From :func:`profile_table`.
    leader, follower : shape (n,)  Numbers of moves in the table.
    lead_m : shape (n,)            The leader's start minus the follower's start. [m]
    pitch_m : float                The least distance of their centres. [m], > 0

    Returns
    -------
    int64 array, shape (n,)   Delays in whole microseconds; `NO_BOUND` where the leader gives no bound.

    Raises
    ------
    ValueError   In some pair the ends are closer than the pitch; or a figure is out of its range.

    Examples
    --------
    >>> from linewright.motion.profile import Limits, plan_move
    >>> table = profile_table([plan_move(way, Limits(1.85, 14.0, 260.0)) for way in (0.4, 0.3)])
    >>> start_delays_us(table, [0, 0], [0, 1], [0.1, 0.1], 0.1).tolist()
    [0, 0]
    """
    table = np.ascontiguousarray(table, dtype=np.float64)
    if table.ndim != 3 or table.shape[1:] != (TABLE_ROWS, 5):
        raise ValueError(f"table has the shape {table.shape}; it must be (moves, {TABLE_ROWS}, 5)")
    leaders, followers = np.asarray(leader, dtype=np.int64), np.asarray(follower, dtype=np.int64)
    leads = np.asarray(lead_m, dtype=np.float64)
    if leaders.ndim != 1 or not leaders.shape == followers.shape == leads.shape:
        raise ValueError("leader, follower and lead_m must be of one length")
    for numbers in (leaders, followers):
        if numbers.size and not 0 <= numbers.min() <= numbers.max() < len(table):
            raise ValueError("leader and follower must be numbers of moves in the table")
    _refuse_closer_ends(leads + table[leaders, -1, 1] - table[followers, -1, 1], pitch_m)
    from linewright.motion._gap_batch import delays_us  # compiled code, loaded when first used

    return delays_us(table, leaders, followers, leads, pitch_m - GAP_TOLERANCE_M, NO_BOUND)


def _refuse_closer_ends(end_gaps_m: npt.NDArray[np.float64], pitch_m: float) -> None:
    """Half the tolerance here, so that rounding cannot leave a pair that no delay can satisfy."""
    if not 0.0 < pitch_m < math.inf:
        raise ValueError(f"pitch_m is {pitch_m}; it must be positive and finite")
    if not (end_gaps_m >= pitch_m - 0.5 * GAP_TOLERANCE_M).all() or not np.isfinite(end_gaps_m).all():
        raise ValueError(f"the moves end {end_gaps_m.min()} m apart; at least pitch_m = {pitch_m} is due")


def _least_gap(leader: Move, follower: Move, lead_m: float, delay_s: float) -> tuple[float, float]:
    """Least distance of the centres from the follower's departure on, and when it comes about, for one delay."""
    end = follower.duration_s
    breaks = {0.0, end} | {s.start_s for s in follower.segments}
    breaks |= {s.start_s - delay_s for s in leader.segments} | {leader.duration_s - delay_s}
    times = sorted(time for time in breaks if 0.0 <= time <= end)
    # The leader only moves on after the follower's arrival, so the gap grows from there on.
    best = (lead_m + leader.position_m(end + delay_s) - follower.distance_m, end)
    for start, stop in pairwise(times):
        middle = 0.5 * (start + stop)
        x1, v1, a1, j1 = _state(leader, middle + delay_s, start + delay_s)
        x2, v2, a2, j2 = _state(follower, middle, start)
        x, v, a, j = lead_m + x1 - x2, v1 - v2, a1 - a2, j1 - j2
        best = min(best, (x, start))
        at = _valley(v, a, j)
        if 0.0 < at < stop - start:
            best = min(best, (x + at * (v + at * (0.5 * a + at * j / 6.0)), start + at))
    return best


def _valley(v: float, a: float, j: float) -> float:
    """Where v + a t + j t²/2 rises through zero: the one minimum of its integral; -1 where there is none."""
    square = a * a - 2.0 * j * v
    if square < 0.0:
        return -1.0
    root = math.sqrt(square)
    if a > 0.0:
        return -2.0 * v / (a + root)
    return (root - a) / j if j != 0.0 else -1.0


def _state(move: Move, inside_s: float, at_s: float) -> State:
    """Position, speed, acceleration and jerk at a time, by the stretch in which `inside_s` lies."""
    if inside_s < 0.0 or not move.segments:
        return 0.0, 0.0, 0.0, 0.0
    if inside_s >= move.duration_s:
        return move.distance_m, 0.0, 0.0, 0.0
    segment: Segment = max((s for s in move.segments if s.start_s <= inside_s), key=lambda s: s.start_s)
    t, a, j = at_s - segment.start_s, segment.acceleration_m_s2, segment.jerk_m_s3
    speed = segment.speed_m_s + t * (a + 0.5 * t * j)
    return segment.position_m + t * (segment.speed_m_s + t * (0.5 * a + t * j / 6.0)), speed, a + t * j, j
