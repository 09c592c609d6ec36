"""Whether nobody departs earlier, after the commitment of the one whose stop it needed, than the reaction allows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.traffic.plan import DOCK, NO_BOUND, NO_LEG, WAITING, TrafficPlan
from linewright.traffic.referee.frames import Frames
from linewright.traffic.referee.log import KEY, Log
from linewright.traffic.referee.order import Pairs
from linewright.traffic.referee.report import Violation

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NOBODY: Final = -1
UNKNOWN: Final = -2


@dataclass(frozen=True)
class Reactions:
    """What was found: departures judged, of these by a commitment known exactly, not judged; the least reaction. [s]"""

    judged: int
    exact: int
    unjudged: int
    least_s: float | None
    violations: tuple[Violation, ...]


@dataclass(frozen=True, eq=False)
class _Needs:
    """Departures that needed a stop which another had left: the row, that one's row, by when it may be due.

    later_us is how long after its departure a re-aimed carrier may still have been re-aimed; 0 for all others.
    """

    row: Ints
    left: Ints
    later_us: Ints


def judge_reactions(
    plan: TrafficPlan, layout: Layout, frames: Frames, log: Log, pairs: Pairs, out: dict[int, int]
) -> Reactions:
    """Judge all departures of a log.

    Notes
    -----
    The log has departures, not commitments. A departure is its own commitment where the leader can have delayed
    nothing: the leader's last departure, and the reaction and δ behind it, are over (with `going_on` the reaction
    counts from that move's end, as it may have been re-aimed until then), and its next was committed later. Else a
    commitment is no earlier than the carrier can have been ready, and no earlier than the commitment of the one that
    had to leave a stop on the way. The two are found together, until nothing more follows.

    A carrier that goes to a stop which another left, or beyond it, has committed no earlier than that one; so it
    departs no earlier than that commitment plus the reaction. A carrier that was re-aimed may have departed before,
    for a stop short of that one; it was re-aimed, less the reaction, before its profile came to the last such stop.

    Who leads is known on a loop, a ring and a lane to and fro. On other tracks it is the next on the lane; the first on
    a lane has a leader beyond the platform, which is not looked for: its commitment is bounded by its arrival alone.

    Source     docs/semantics.md, Places and moves (Departure), Going on.
    """
    if not len(log):
        return Reactions(0, 0, 0, None, ())
    needs = _needs(plan, log, out)
    firm = needs.later_us == 0
    known, committed, by_known = _commitments(plan, frames, log, _leaders(layout, log, pairs, out), needs, firm)
    spare = log.departure_us[needs.row] + needs.later_us - committed[needs.left] - plan.follow_us
    found = []
    for k in np.flatnonzero(spare < 0).tolist():
        one, other = int(needs.row[k]), int(needs.left[k])
        carriers = int(log.carrier[one]), int(log.carrier[other])
        what = (
            f"carrier {carriers[0]} departs for {layout.stops[int(log.end[one])].label} too soon after carrier "
            f"{carriers[1]} committed to leave {layout.stops[int(log.start[other])].label}"
        )
        value, limit = (spare[k] + plan.follow_us) / 1e6, plan.follow_us / 1e6
        found.append(Violation("reaction", int(log.departure_us[one]), carriers, what, value, limit, "s"))
    by_exact = known[needs.left] | by_known[needs.left]
    sure = by_exact & firm
    least = float((spare[sure] + plan.follow_us).min() / 1e6) if sure.any() else None
    judged, exact = (_different(rows, len(log)) for rows in (needs.row, needs.row[by_exact]))
    return Reactions(judged, exact, judged - exact, least, tuple(found))


def _different(rows: Ints, count: int) -> int:
    """How many different rows, of so many."""
    there = np.zeros(count, np.bool_)
    there[rows] = True
    return int(there.sum())


def _leaders(layout: Layout, log: Log, pairs: Pairs, out: dict[int, int]) -> Ints:
    """The leader of each departure, NOBODY where there is none, UNKNOWN where it is not looked for."""
    leader = np.full(len(log), UNKNOWN, np.int64)
    same = len(log.begins) == len(set(log.carrier[log.first].tolist()) | set(log.begins)) and not out
    if same and (layout.is_closed or any(lane.two_way for lane in layout.lanes)):
        order = sorted(log.begins, key=lambda carrier: log.begins[carrier])
        rank = {carrier: k for k, carrier in enumerate(order)}
        for carrier, k in rank.items():
            rows = log.carrier == carrier
            if layout.is_closed:
                ahead = order[(k + 1) % len(order)]
                leader[rows] = NOBODY if ahead == carrier else ahead
                continue
            up, down = order[k + 1 : k + 2], order[max(k - 1, 0) : k]
            leader[rows & (log.sign > 0)] = up[0] if up else NOBODY
            leader[rows & (log.sign < 0)] = down[0] if down else NOBODY
        return leader
    if any(lane.two_way for lane in layout.lanes) or not len(pairs.follower):
        return leader
    visit = _visit_of(log, pairs)
    order_of = np.lexsort((pairs.begin_us, pairs.follower))
    span = max(int(pairs.end_us.max()), int(log.departure_us.max())) + 1
    keys = pairs.follower[order_of] * span + pairs.begin_us[order_of]
    at = np.searchsorted(keys, visit * span + log.departure_us, "right") - 1
    pair = order_of[np.maximum(at, 0)]
    fits = (at >= 0) & (pairs.follower[pair] == visit) & (log.departure_us < pairs.end_us[pair])
    leader[fits] = pairs.visits.carrier[pairs.leader[pair[fits]]]
    return leader


def _visit_of(log: Log, pairs: Pairs) -> Ints:
    """The visit that each move belongs to."""
    moves = np.flatnonzero(pairs.visits.last > pairs.visits.first)
    return np.repeat(moves, pairs.visits.last[moves] - pairs.visits.first[moves])


def _commitments(
    plan: TrafficPlan, frames: Frames, log: Log, leader: Ints, needs: _Needs, firm: Bools
) -> tuple[Bools, Ints, Bools]:
    """Of each departure whether it is its own commitment; the earliest that its commitment can have been; whether that
    comes from a departure known to be a commitment. [us]"""
    row, left = needs.row[firm], needs.left[firm]
    committed, before = _ready_us(plan, frames, log), _Before(plan, log, leader)
    exact, by_exact = np.zeros(len(log), np.bool_), np.zeros(len(log), np.bool_)
    while True:
        now = exact | before.exact(committed)
        raised = np.where(now, np.maximum(committed, log.departure_us), committed)
        np.maximum.at(raised, row, raised[left])
        grown = raised > committed
        from_exact = grown[row] & (raised[left] == raised[row]) & (now[left] | by_exact[left])
        by_exact[row[from_exact]] = True
        if not grown.any() and (now == exact).all():
            return exact, committed, by_exact
        exact, committed = now, raised


def _ready_us(plan: TrafficPlan, frames: Frames, log: Log) -> Ints:
    """When the carrier of each departure can have been ready at the earliest, whatever its work. [us]"""
    ready = log.came_us.copy()
    station = plan.stop_station[log.start]
    works = ~log.first & (station >= 0)
    least = plan.settling_us + plan.clear_us + plan.start_handshake_us + plan.done_handshake_us
    ready[works] += least[station[works]]
    rows = np.flatnonzero(~log.first)
    ready[rows] += frames.rides_before_us(log.start, log.lane, rows)
    return np.minimum(ready, log.departure_us)


class _Before:
    """Of each departure what its leader did last before it, and does next after it."""

    def __init__(self, plan: TrafficPlan, log: Log, leader: Ints) -> None:
        keys = log.carrier * KEY + log.departure_us
        before = np.searchsorted(keys, leader * KEY + log.departure_us, "right") - 1
        after = before + 1
        led = leader >= 0
        has_before = led & (before >= 0) & (log.carrier[np.maximum(before, 0)] == leader)
        has_after = led & (after < len(log)) & (log.carrier[np.minimum(after, len(log) - 1)] == leader)
        before, self._after = np.where(has_before, before, 0), np.where(has_after, after, 0)
        from_us = log.arrival_us if plan.general.going_on else log.departure_us
        due = np.maximum(from_us[before] + plan.follow_us, log.departure_us[before] + _delays(plan, log, before))
        # What comes after the log is not in it: only a leader that is still under way has committed to nothing more.
        self._under_way = ~has_after & has_before & (log.arrival_us[before] > log.departure_us)
        self._departure_us, self._has_after = log.departure_us, has_after
        self._alone, self._free = leader == NOBODY, led & (~has_before | (due < log.departure_us))

    def exact(self, committed: Ints) -> Bools:
        """Whether each departure is its own commitment, as far as the earliest commitments of the leaders tell."""
        quiet = self._under_way | (self._has_after & (committed[self._after] > self._departure_us))
        return np.asarray(self._alone | (self._free & quiet), np.bool_)


def _delays(plan: TrafficPlan, log: Log, leader_row: Ints) -> Ints:
    """δ of each departure behind its leader's last; with `going_on` that one may have been re-aimed: the greatest."""
    if not plan.delay_us.size:
        return np.zeros(len(log), np.int64)
    number = delay_rows(plan, log)
    found = plan.delay_us[np.maximum(number[leader_row], 0), np.maximum(number, 0)].astype(np.int64)
    if plan.general.going_on:
        found = plan.delay_us.max(axis=0).astype(np.int64)[np.maximum(number, 0)]
    return np.where((number < 0) | (number[leader_row] < 0), int(plan.delay_us.max()), found)


def delay_rows(plan: TrafficPlan, log: Log) -> Ints:
    """The row of each move in the plan's delays; NO_LEG where the plan has no such leg."""
    track = plan.general.track
    if track is not None:
        leg = track.leg[log.start, log.end]
    else:
        reach = (log.end - log.start) % plan.stops
        reach = np.where(reach == 0, plan.stops, reach) - 1
        leg = np.full(len(log), NO_LEG, np.int64)
        inside = reach < plan.leg.shape[1]
        leg[inside] = plan.leg[log.start[inside], reach[inside]]
    return np.where(leg == NO_LEG, NO_LEG, 2 * leg + log.load)


def _needs(plan: TrafficPlan, log: Log, out: dict[int, int]) -> _Needs:
    """Who needed which stop that another had left last, before it came past."""
    counts = np.array([len(run.passed) for run in log.runs], np.int64)
    firsts = np.cumsum(counts) - counts
    stops = np.array([stop for run in log.runs for stop in run.passed], np.int64)
    profile = np.zeros(len(log.runs), np.int64)
    profile[log.run_of] = log.profile
    passed_m = np.array([way for run in log.runs for way in run.passed_m], np.float64)
    passed_us = np.floor(log.table.time_to_cover(np.repeat(profile, counts), passed_m) * 1e6).astype(np.int64)
    later = [_last_rest_m(plan, run.passed, run.passed_m) for run in log.runs]
    later_m = np.array([way for ways in later for way in ways], np.float64)
    many = counts[log.run_of]
    row = np.repeat(np.arange(len(log)), many)
    within = np.arange(many.sum()) - np.repeat(np.cumsum(many) - many, many)
    at = firsts[log.run_of[row]] + within
    stop, way = stops[at], later_m[at]
    by_stop = np.lexsort((log.departure_us, log.start))
    keys = log.start[by_stop] * KEY + log.departure_us[by_stop]
    place = np.searchsorted(keys, stop * KEY + log.departure_us[row] + passed_us[at], "right") - 1
    left = by_stop[np.maximum(place, 0)]
    fits = (place >= 0) & (log.start[left] == stop) & (log.carrier[left] != log.carrier[row])
    if out:
        ends = np.ones(len(log), np.bool_)
        ends[:-1] = log.first[1:]
        fits &= ~(ends[left] & np.isin(log.carrier[left], list(out)))
    row, left, way = row[fits], left[fits], way[fits]
    later_us = np.zeros(len(row), np.int64)
    if plan.general.going_on:
        later_us = np.ceil(log.table.time_to_cover(log.profile[row], way) * 1e6).astype(np.int64)
    return _Needs(row, left, later_us)


def _last_rest_m(plan: TrafficPlan, passed: tuple[int, ...], passed_m: tuple[float, ...]) -> list[float]:
    """Of each stop of a way how far the last before it is for which a carrier under way may be re-aimed; 0 for none."""
    found, last = [], 0.0
    for stop, way in zip(passed, passed_m, strict=True):
        found.append(last)
        if plan.stop_kind[stop] in (WAITING, DOCK):
            last = way
    return found


assert NO_BOUND < 0  # a delay that bounds nothing is below every other
