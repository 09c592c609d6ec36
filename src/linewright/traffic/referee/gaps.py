"""The least distance of two carriers over continuous time, exactly; of some on a grid of 1 ms, as a second witness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.traffic.referee.following import AT_REST, Stretches
from linewright.traffic.referee.keys import kinds_of
from linewright.traffic.referee.log import Log
from linewright.traffic.referee.order import Pairs
from linewright.traffic.referee.profiles import ProfileTable
from linewright.traffic.referee.report import LeastGap, Violation

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

TOLERANCE_M: Final = 1e-9
"""To which the clear gap is held: docs/semantics.md, Places and moves."""
GRID_S: Final = 1e-3
NEAREST: Final = 2000
AT_RANDOM: Final = 1000
SEED: Final = 5
"""The grid is laid over the duets that come nearest, and so many others at random, always the same."""
CHUNK: Final = 4096


@dataclass(frozen=True, eq=False)
class Duets:
    """Two moves beside each other, D of them, on the leader's clock: 0 at its departure.

    Parameters
    ----------
    follower, leader : int64[D]           Numbers of their profiles
    follower_sign, leader_sign : int64[D] 1, or -1 against the lane's stated direction
    offset_s : float64[D]                 When the follower departs. [s]
    from_s, to_s : float64[D]             The stretch of time looked at. [s]
    """

    follower: Ints
    leader: Ints
    follower_sign: Ints
    leader_sign: Ints
    offset_s: Floats
    from_s: Floats
    to_s: Floats

    def part(self, chosen: slice | Ints) -> Duets:
        """Some of them."""
        return Duets(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))

    def apart(self, table: ProfileTable, time_s: Floats, number: Ints) -> Floats:
        """The leader's way less the follower's, of the duets of these numbers at these times. [m]"""
        lead = self.leader_sign[number] * table.position(self.leader[number], time_s)
        follow = table.position(self.follower[number], time_s - self.offset_s[number])
        return lead - self.follower_sign[number] * follow


def least_apart(table: ProfileTable, duets: Duets) -> tuple[Floats, Floats]:
    """The least of the leader's way less the follower's, and when: exact. [m], [s]

    Parameters
    ----------
    table : the profiles
    duets : D pairs of moves

    Returns
    -------
    least_m, time_s : float64[D], float64[D]   The time on the leader's clock.

    Notes      Between two changes of either's jerk the difference is a cubic. Its least value is at an end of that
               stretch or where its derivative, a quadratic, is zero; all of these are tried.
    Source     elementary calculus.
    """
    least, when = np.empty(len(duets.leader)), np.empty(len(duets.leader))
    for begin in range(0, len(least), CHUNK):
        part = slice(begin, begin + CHUNK)
        least[part], when[part] = _least_of(table, duets.part(part))
    return least, when


def _least_of(table: ProfileTable, duets: Duets) -> tuple[Floats, Floats]:
    low, high = duets.from_s[:, None], duets.to_s[:, None]
    ends = np.concatenate(
        (low, high, table.starts_s[duets.leader], table.starts_s[duets.follower] + duets.offset_s[:, None]), axis=1
    )
    ends = np.sort(np.clip(ends, low, high), axis=1)
    begin, length = ends[:, :-1], np.diff(ends, axis=1)
    middle = begin + 0.5 * length
    x, v, a, j = (
        duets.leader_sign[:, None] * one - duets.follower_sign[:, None] * other
        for one, other in zip(
            _cubic(table, duets.leader, begin, middle),
            _cubic(table, duets.follower, begin - duets.offset_s[:, None], middle - duets.offset_s[:, None]),
            strict=True,
        )
    )
    tries = np.stack((np.zeros_like(length), length, *_roots(0.5 * j, a, v, length)), axis=2)
    values = x[..., None] + tries * (v[..., None] + tries * (0.5 * a[..., None] + tries * j[..., None] / 6.0))
    flat = values.reshape(len(values), -1)
    best = np.argmin(flat, axis=1)
    row = np.arange(len(flat))
    return flat[row, best], (begin[..., None] + tries).reshape(len(flat), -1)[row, best]


def _cubic(
    table: ProfileTable, number: Ints, time_s: Floats, middle_s: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Position, speed, acceleration and jerk at a time, of the cubic that holds at another; at rest outside."""
    wide = np.broadcast_to(number[:, None], time_s.shape)
    k = table.stretch(wide, middle_s)
    x, v, a, j = table.at(wide, k, time_s - table.starts_s[wide, k])
    before, after = middle_s < 0.0, middle_s > table.starts_s[wide, -1]
    rest = before | after
    x = np.where(after, table.distance_m[wide], np.where(before, 0.0, x))
    return x, np.where(rest, 0.0, v), np.where(rest, 0.0, a), np.where(rest, 0.0, j)


def _roots(a: Floats, b: Floats, c: Floats, length: Floats) -> tuple[Floats, Floats]:
    """Both zeros of a t² + b t + c within a length, in the form that keeps its digits; an end where there is none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(np.maximum(b * b - 4.0 * a * c, 0.0))
        q = -0.5 * (b + np.where(b >= 0.0, root, -root))
        one, other = q / a, c / q
    return tuple(np.clip(np.nan_to_num(t, nan=0.0, posinf=0.0, neginf=0.0), 0.0, length) for t in (one, other))  # type: ignore[return-value]


def least_on_grid(table: ProfileTable, duets: Duets, step_s: float = GRID_S) -> tuple[Floats, int]:
    """The least on a grid of the leader's clock, both ends included, and the number of samples. [m]"""
    many = np.floor((duets.to_s - duets.from_s) / step_s).astype(np.int64) + 2
    least = np.full(len(many), np.inf)
    most = max(CHUNK * 64, int(many.max(initial=0)))
    bound = 0
    while bound < len(many):
        upto = max(int(np.searchsorted(np.cumsum(many[bound:]), most, "right")), 1) + bound
        each = many[bound:upto]
        owner = np.repeat(np.arange(bound, upto), each)
        step = np.arange(each.sum()) - np.repeat(np.cumsum(each) - each, each)
        time = np.minimum(duets.from_s[owner] + step * step_s, duets.to_s[owner])
        values = duets.apart(table, time, owner)
        least[bound:upto] = np.minimum.reduceat(values, np.cumsum(each) - each)
        bound = upto
    return least, int(many.sum())


@dataclass(frozen=True, eq=False)
class Distances:
    """The least distance of each stretch of each pair, and when.

    Parameters
    ----------
    least_m, time_us : float64[S]. [m], [us]
    grid_m : float64[S]   On the grid; infinite where it was not laid over the stretch. [m]
    exact, witnessed, grid : distinct duets, those of them with the grid laid over, and its samples
    """

    least_m: Floats
    time_us: Floats
    grid_m: Floats
    exact: int
    witnessed: int
    grid: int


def duets_of(log: Log, stretches: Stretches) -> tuple[Duets, Ints, Floats]:
    """The distinct duets among the stretches in which both move; the number of each such stretch's; where the leader
    began before the follower. [m]"""
    both = np.flatnonzero(stretches.both_move)
    follower, leader = stretches.follower_row[both], stretches.leader_row[both]
    departs = log.departure_us[leader]
    kinds = (log.profile[follower], log.profile[leader], log.sign[follower], log.sign[leader])
    times_us = (
        np.asarray(log.departure_us[follower] - departs, np.int64),
        np.asarray(stretches.begin_us[both] - departs, np.int64),
        np.asarray(stretches.end_us[both] - departs, np.int64),
    )
    first, number = kinds_of((*kinds, *times_us))
    offset_s, from_s, to_s = (np.asarray(one[first] * 1e-6, np.float64) for one in times_us)
    follows, leads, follows_on, leads_on = (one[first] for one in kinds)
    duets = Duets(follows, leads, follows_on, leads_on, offset_s, from_s, to_s)
    return duets, number, stretches.leader_m[both] - stretches.follower_m[both]


def distances_of(log: Log, stretches: Stretches) -> Distances:
    """The least distance of each stretch.

    Notes      Where one of the two rests the least is at an end of the stretch, as a move never turns back.
    """
    begins = _apart_at(log, stretches, stretches.begin_us)
    ends = _apart_at(log, stretches, stretches.end_us)
    least = np.minimum(begins, ends)
    time = np.where(begins <= ends, stretches.begin_us, stretches.end_us).astype(np.float64)
    grid = least.copy()
    both = np.flatnonzero(stretches.both_move)
    duets, number, ahead = duets_of(log, stretches)
    exact_m, when_s = least_apart(log.table, duets)
    least[both] = ahead + exact_m[number]
    time[both] = log.departure_us[stretches.leader_row[both]] + when_s[number] * 1e6
    chosen = _sample(least[both], number, len(exact_m))
    grid_m = np.full(len(exact_m), np.inf)
    grid_m[chosen], samples = least_on_grid(log.table, duets.part(chosen))
    grid[both] = ahead + grid_m[number]
    return Distances(least, time, grid, len(exact_m), len(chosen), samples)


def _sample(least_m: Floats, number: Ints, count: int) -> Ints:
    """The duets over which the grid is laid, of all with these numbers in stretches of this least distance."""
    nearest = np.full(count, np.inf)
    np.minimum.at(nearest, number, least_m)
    order = np.argsort(nearest, kind="stable")
    others = np.random.default_rng(SEED).permutation(order[NEAREST:])[:AT_RANDOM]
    return np.sort(np.concatenate((order[:NEAREST], others)))


def _apart_at(log: Log, stretches: Stretches, time_us: Ints) -> Floats:
    places = []
    for row, begin in ((stretches.leader_row, stretches.leader_m), (stretches.follower_row, stretches.follower_m)):
        place = begin.copy()
        moves = np.flatnonzero(row != AT_REST)
        of = row[moves]
        gone = log.table.position(
            log.profile[of], np.asarray((time_us[moves] - log.departure_us[of]) * 1e-6, np.float64)
        )
        place[moves] += log.sign[of] * gone
        places.append(place)
    return np.asarray(places[0] - places[1])


def judge_gaps(
    layout: Layout, log: Log, pairs: Pairs, stretches: Stretches, distances: Distances
) -> tuple[LeastGap | None, float | None, list[Violation]]:
    """The least gap, that of the grid, and where a pair is nearer than the least pitch or the witnesses disagree."""
    if not len(distances.least_m):
        return None, None, []
    spare = distances.least_m - layout.pitch_m
    worst = int(np.lexsort((distances.time_us, np.round(spare * 1e12)))[0])
    found: list[Violation] = []
    near = np.flatnonzero(spare < -TOLERANCE_M)
    # One row for each pair: the least of its stretches.
    order = near[np.lexsort((spare[near], stretches.pair[near]))]
    _, firsts = np.unique(stretches.pair[order], return_index=True)
    for k in order[firsts].tolist():
        gap = _gap(layout, log, pairs, stretches, distances, k)
        what = f"carrier {gap.follower} comes nearer to carrier {gap.leader} on lane {gap.lane} than the least pitch"
        found.append(
            Violation("gap", int(gap.time_us), (gap.follower, gap.leader), what, gap.distance_m, layout.pitch_m, "m")
        )
    found += _witness(log, pairs, stretches, distances)
    return _gap(layout, log, pairs, stretches, distances, worst), float(distances.grid_m.min() - layout.pitch_m), found


def _gap(layout: Layout, log: Log, pairs: Pairs, stretches: Stretches, distances: Distances, k: int) -> LeastGap:
    pair = int(stretches.pair[k])
    follower, leader = pairs.carriers(pair)
    lane, row, time = (
        layout.lanes[int(pairs.visits.lane[pairs.follower[pair]])],
        int(stretches.follower_row[k]),
        float(distances.time_us[k]),
    )
    place = float(stretches.follower_m[k])
    if row != AT_REST:
        gone = log.table.position(log.profile[row : row + 1], np.array([(time - log.departure_us[row]) * 1e-6]))
        place += float(log.sign[row] * gone[0])
    if lane.is_ring:
        place %= lane.length_m
    distance = float(distances.least_m[k])
    return LeastGap(distance, distance - layout.pitch_m, time, follower, leader, lane.name, place)


def _witness(log: Log, pairs: Pairs, stretches: Stretches, distances: Distances) -> list[Violation]:
    """Where the grid lies below the exact least, or above it by more than a step of 1 ms can hide.

    Notes      At a least value inside a stretch the difference's slope is zero; over half a step it rises by at most
               A h²/8 with A the sum of both accelerations. A whole step, so four times that, is allowed.
    """
    both = np.flatnonzero(stretches.both_move)
    hidden = distances.grid_m[both] - distances.least_m[both]
    strongest = np.abs(log.table.acceleration_m_s2).max(axis=1) if len(log.profiles) else np.zeros(0)
    a = strongest[log.profile[stretches.follower_row[both]]] + strongest[log.profile[stretches.leader_row[both]]]
    found = []
    wrong = np.isfinite(hidden) & ((hidden < -TOLERANCE_M) | (hidden > 0.5 * a * GRID_S**2 + TOLERANCE_M))
    for k in np.flatnonzero(wrong).tolist():
        carriers = pairs.carriers(int(stretches.pair[both[k]]))
        what = f"of carriers {carriers[0]} and {carriers[1]} the 1 ms grid and the exact least distance do not agree"
        value, limit = float(distances.grid_m[both[k]]), float(distances.least_m[both[k]])
        found.append(Violation("witness", int(distances.time_us[both[k]]), carriers, what, value, limit, "m"))
    return found
