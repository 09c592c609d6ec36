"""The compiled half of :mod:`linewright.motion.gaps`: the same method on arrays, written for numba.

Loaded only when many delays are asked for. Every function is at module level, so that the compiled code is kept on
disk between runs. The rows of a move are those of `gaps.profile_table`.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


@njit(cache=True)
def least_gap(leader: FloatArray, follower: FloatArray, lead: float, delay: float) -> tuple[float, float]:
    """Least distance of the centres over the follower's move, and when; one walk along both moves' breakpoints."""
    last = leader.shape[0] - 1
    end = follower[last, 0]
    row = -1  # of the leader; -1 while it still rests at its start
    while row < last and leader[row + 1, 0] <= delay:
        row += 1
    own = 0
    best, best_at, now = math.inf, 0.0, 0.0
    while now < end:
        until = follower[own + 1, 0]
        if row < last and leader[row + 1, 0] - delay < until:
            until = max(leader[row + 1, 0] - delay, now)
        t = now - follower[own, 0]
        j = follower[own, 4]
        x = lead - (follower[own, 1] + t * (follower[own, 2] + t * (0.5 * follower[own, 3] + t * j / 6.0)))
        v = -(follower[own, 2] + t * (follower[own, 3] + 0.5 * t * j))
        a = -(follower[own, 3] + t * j)
        j = -j
        if row >= 0:
            t = now + delay - leader[row, 0]
            k = leader[row, 4]
            x += leader[row, 1] + t * (leader[row, 2] + t * (0.5 * leader[row, 3] + t * k / 6.0))
            v += leader[row, 2] + t * (leader[row, 3] + 0.5 * t * k)
            a += leader[row, 3] + t * k
            j += k
        if x < best:
            best, best_at = x, now
        square = a * a - 2.0 * j * v
        if square >= 0.0 and (a > 0.0 or j != 0.0):
            root = math.sqrt(square)
            at = -2.0 * v / (a + root) if a > 0.0 else (root - a) / j
            if 0.0 < at < until - now:
                x += at * (v + at * (0.5 * a + at * j / 6.0))
                if x < best:
                    best, best_at = x, now + at
        now = until
        while own < last and follower[own + 1, 0] <= now:
            own += 1
        while row < last and leader[row + 1, 0] - delay <= now:
            row += 1
    x = lead + position(leader, end + delay) - follower[last, 1]
    if x < best:
        best, best_at = x, end
    return best, best_at


@njit(cache=True)
def position(move: FloatArray, time: float) -> float:
    """Way covered by a time; rest before and after the move."""
    if time < 0.0:
        return 0.0
    last = move.shape[0] - 1
    if time >= move[last, 0]:
        return float(move[last, 1])
    row = 0
    while move[row + 1, 0] <= time:
        row += 1
    t = time - move[row, 0]
    return float(move[row, 1] + t * (move[row, 2] + t * (0.5 * move[row, 3] + t * move[row, 4] / 6.0)))


@njit(cache=True)
def time_to_cover(move: FloatArray, distance: float) -> float:
    """First time at which a distance is covered: Newton inside a bracket, halving where it would leave it."""
    last = move.shape[0] - 1
    if distance <= 0.0:
        return 0.0
    if distance >= move[last, 1]:
        return float(move[last, 0])
    row = 0
    while move[row + 1, 1] <= distance:
        row += 1
    low, high = 0.0, move[row + 1, 0] - move[row, 0]
    x, v, a, j = move[row, 1] - distance, move[row, 2], move[row, 3], move[row, 4]
    t = high * -x / (move[row + 1, 1] - move[row, 1])
    for _ in range(80):
        error = x + t * (v + t * (0.5 * a + t * j / 6.0))
        if error < 0.0:
            low = t
        else:
            high = t
        speed = v + t * (a + 0.5 * t * j)
        new = t - error / speed if speed > 0.0 else -1.0
        if not low <= new <= high:
            new = 0.5 * (low + high)
        if abs(new - t) < 1e-13:
            return float(move[row, 0] + new)
        t = new
    return float(move[row, 0] + t)


@njit(cache=True)
def delay_us(leader: FloatArray, follower: FloatArray, lead: float, held: float) -> int:
    """The least delay of one pair that has one; see `gaps.start_delay_us`."""
    last = leader.shape[0] - 1
    delay = time_to_cover(leader, follower[last, 1] + held - lead) - follower[last, 0]
    while True:
        gap, at = least_gap(leader, follower, lead, delay)
        if gap >= held:
            break
        closed = time_to_cover(leader, position(follower, at) + held - lead) - at
        if closed <= delay + 1e-12:
            break
        delay = closed
    whole = math.ceil(delay * 1e6 - 1e-4)
    while least_gap(leader, follower, lead, whole * 1e-6)[0] < held:
        whole += 1
    while least_gap(leader, follower, lead, (whole - 1) * 1e-6)[0] >= held:
        whole -= 1
    return int(whole)


@njit(cache=True)
def delays_us(
    table: FloatArray, leaders: IntArray, followers: IntArray, leads: FloatArray, held: float, no_bound: int
) -> IntArray:
    """Delays of many pairs; `no_bound` where the follower never comes within a pitch of the leader's start."""
    delays = np.empty(len(leaders), dtype=np.int64)
    last = table.shape[1] - 1
    for n in range(len(leaders)):
        follower = table[followers[n]]
        if leads[n] - follower[last, 1] >= held:  # written as least_gap computes it
            delays[n] = no_bound
        else:
            delays[n] = delay_us(table[leaders[n]], follower, leads[n], held)
    return delays
