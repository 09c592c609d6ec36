"""Runs of a line: replications on all cores, one warm-up for all, the rate with its interval, the stations' shares."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.errors import SimulationError
from linewright.flow.bins import RunLength, bin_length_s, run_length
from linewright.flow.causes import find_causes
from linewright.flow.kpi import availability, effectiveness, oee_index, quality_ratio
from linewright.flow.replications import Progress, replicate
from linewright.flow.statistics import Interval, WarmUp, mean_interval, warm_up
from linewright.layout import lay_out
from linewright.line.model import Line
from linewright.tables import Column, Table
from linewright.traffic.compile import compile_plan
from linewright.traffic.plan import TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.kernel.run import Replication
    from linewright.flow.kernel.state import Totals

Floats = NDArray[np.float64]

TRACE_BEFORE_S: Final = 120.0
TRACE_AFTER_S: Final = 600.0
STALL_FACTOR: Final = 5.0
"""A quarter of a run must be so much longer than the longest repair, break or bin to show that a line stands still."""

STATE_COLUMNS: Final = (
    ("down_share", "its failure is being repaired"),
    ("work_share", "at work"),
    ("clear_share", "the tool clears the part"),
    ("done_handshake_share", "clear, the carrier not yet ready"),
    ("blocked_share", "a ready carrier cannot leave"),
    ("partner_share", "the same, held by one at a station of the same step"),
    ("settling_share", "a carrier settles and shakes hands"),
    ("prepare_share", "a carrier waits for the tool"),
    ("exchange_share", "empty, the next carrier is on its way"),
    ("starved_share", "empty, none is on its way"),
    ("changeover_share", "the tool changes over to another variant, or waits for the last to run out"),
    ("operator_share", "a carrier waits for an operator, or for being released by one"),
    ("outside_share", "a carrier waits for a part from the feed or for room in the take-away"),
    ("break_share", "a carrier waits for the end of a break"),
)
"""The states of a station, in the order of the kernel's state numbers."""


@dataclass(frozen=True)
class LimitingStation:
    """The step that limits the line.

    Parameters
    ----------
    step, next_step : the step with the largest time per good part, and the one with the second largest
    time_s : time per good part in which the step was neither blocked nor starved, over its number of stations. [s]
    by_s : how much more that is than the next. [s]
    """

    step: str
    time_s: float
    next_step: str
    by_s: float


@dataclass(frozen=True)
class ShortHalts:
    """Arrivals at a waiting or dock stop from which the carrier sets out again at once, in the whole runs.

    Parameters
    ----------
    per_part : how many for each good part
    lost_s : time that they cost all carriers together, for each good part. [s]
    """

    per_part: float
    lost_s: float


@dataclass(frozen=True, eq=False)
class Run:
    """What happened in the simulated time, after the warm-up unless it says otherwise.

    Parameters
    ----------
    rate : good parts an hour; None without an interval, then `reason` says why
    line_cycle_s : time per good part; None without an interval. [s]
    warm_up_s : time left out of every replication; warm_up_past_half if it does not end in the first half. [s]
    rates_per_h : shape (runs,)   Good parts an hour of each replication. [1/h]
    good_per_run : shape (runs,)  Good parts of each replication
    stations : shares of the states, parts, rejected, failures summed over the runs, indicators after ISO 22400-2
    steps : time per good part of each step
    limiting : None with fewer than two steps or without an interval
    cycle_causes : what the line cycle is made of: kind, place, time per good part, share; the largest first
    cycle_causes_by_station : the same, a row a station or transfer, a column a kind
    causes_cycle_s : the line cycle to which the causes add up, from the first to the last good part of each run after
        the warm-up; None where no run has two. [s]
    short_halts : halts that cost a stop and a start anew, per good part, and what they cost; None of a plain line,
        whose loop does not count them, and without good parts
    stalled_runs : runs that make no good part in their last quarter, which is longer than any repair or break is
        expected to last, whether they made some before or stand from the first part on
    failures : how often each kind of failure was seen in the whole runs
    moves, works : replication 0 from trace_from_s to trace_to_s
    events : handled by the kernel in all replications
    """

    rate: Interval | None
    reason: str | None
    line_cycle_s: float | None
    warm_up_s: float
    warm_up_past_half: bool
    rates_per_h: Floats
    good_per_run: NDArray[np.int64]
    stations: Table
    steps: Table
    limiting: LimitingStation | None
    cycle_causes: Table
    cycle_causes_by_station: Table
    causes_cycle_s: float | None
    short_halts: ShortHalts | None
    stalled_runs: int
    failures: Table
    moves: Table
    works: Table
    trace_from_s: float
    trace_to_s: float
    seed: int
    hours: float
    runs: int
    confidence: float
    events: int


def simulate(
    line: Line,
    hours: float = 8.0,
    runs: int = 20,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Run:
    """Simulate a line.

    Parameters
    ----------
    line : a valid line
    hours : length of one replication, > 0. [h]
    runs : replications, >= 1
    seed : of all luck, >= 0
    workers : threads; None for one a core. The result does not depend on it.
    progress : called with the number of finished replications, from any thread

    Raises
    ------
    LineFileError     The line cannot be built.
    SimulationError   No traffic is possible on its track, or the run is too long.
    NoAccelerationError   The thrust leaves nothing to accelerate with.
    ValueError        An argument is out of range.
    """
    layout = lay_out(line)
    if layout.blocking:
        raise SimulationError(f"no traffic can be planned on this track: {'; '.join(layout.blocking)}")
    return run_plan(line, compile_plan(line, layout), hours, runs, seed, workers, progress)


def run_plan(
    line: Line,
    plan: TrafficPlan,
    hours: float = 8.0,
    runs: int = 20,
    seed: int = 1,
    workers: int | None = None,
    progress: Progress | None = None,
) -> Run:
    """Simulate a line whose traffic plan is compiled; see `simulate`."""
    if workers is not None and workers < 1:
        raise ValueError(f"workers is {workers}; at least 1 is due")
    length = run_length(line, hours, runs, seed)
    horizon_us, bin_us = length.horizon_us, length.bin_us
    whole = replicate(plan, seed, runs, horizon_us, bin_us, workers, progress, with_chain=True)
    bins = np.array([one.totals.good for one in whole])
    cut = _find_cut(bins[:, : horizon_us // bin_us], length)
    cut_us = cut.cut_bins * bin_us
    early = replicate(plan, seed, runs, cut_us, bin_us, workers) if cut_us else []
    causes = find_causes(plan, whole, cut.cut_bins, bin_us)
    good = bins[:, cut.cut_bins :].sum(axis=1)
    if cut.reason is None and not good.any():
        cut = replace(cut, reason=f"no good part is finished after the first {cut_us / 60e6:.1f} min: the line stands")
    rates = good / ((horizon_us - cut_us) / 3600e6)
    interval = mean_interval(rates) if cut.reason is None else None
    window_s = runs * (horizon_us - cut_us) / 1e6
    stations = _stations(line, plan, whole, early, window_s)
    steps = _steps(plan, stations, window_s, int(good.sum()))
    trace_from, trace_to, moves, works = _trace(plan, seed, horizon_us, cut_us)
    return Run(
        rate=interval,
        reason=cut.reason,
        line_cycle_s=window_s / int(good.sum()) if interval is not None else None,
        warm_up_s=cut_us / 1e6,
        warm_up_past_half=cut.past_half,
        rates_per_h=rates,
        good_per_run=good,
        stations=stations,
        steps=steps,
        limiting=_limiting(steps) if interval is not None else None,
        cycle_causes=causes.table(),
        cycle_causes_by_station=causes.by_place(),
        causes_cycle_s=causes.cycle_s if causes.parts else None,
        short_halts=_short_halts(whole),
        stalled_runs=_stalled(line, bins, horizon_us),
        failures=_failures(plan, whole),
        moves=moves,
        works=works,
        trace_from_s=trace_from,
        trace_to_s=trace_to,
        seed=seed,
        hours=horizon_us / 3600e6 if length.cut_us is not None else hours,
        runs=runs,
        confidence=0.95 if interval is None else interval.confidence,
        events=sum(one.events for one in whole),
    )


def _find_cut(bins: NDArray[np.int64], length: RunLength) -> WarmUp:
    if length.cut_us is not None:
        return WarmUp(length.cut_us // length.bin_us, _no_interval(bins, length), past_half=False)
    if bins.shape[1] == 0:
        return WarmUp(0, "a run is shorter than one bin of ten cycles: run longer", past_half=False)
    return warm_up(bins.astype(np.float64))


def _no_interval(bins: NDArray[np.int64], length: RunLength) -> str | None:
    """Why runs of whole shifts give no interval."""
    if length.runs < 2:
        return "one run shows no spread: two or more are needed"
    return None if bins.any() else "no good part was finished"


def _stalled(line: Line, bins: NDArray[np.int64], horizon_us: int) -> int:
    """Runs without a good part in their last quarter; none where that is too short to tell."""
    repairs = [failure.repair.mean_s for station in line.stations for failure in station.failures]
    breaks = [] if line.calendar is None else [one.for_s for one in line.calendar.breaks]
    outside = [machine for station in line.stations for machine in (station.feed, station.take_away)]
    repairs += [failure.repair.mean_s for machine in outside if machine is not None for failure in machine.failures]
    longest_s = STALL_FACTOR * max([*repairs, *breaks, bin_length_s(line)], default=0.0)
    if line.calendar is not None and line.calendar.run_down_s is not None:
        longest_s = max(longest_s, 2.0 * line.calendar.run_down_s)
    quarter = bins.shape[1] // 4
    if horizon_us / 4e6 < longest_s or quarter < 1:
        return 0
    return int((bins[:, -quarter:].sum(axis=1) == 0).sum())


def _short_halts(whole: list[Replication]) -> ShortHalts | None:
    good = sum(int(one.totals.good.sum()) for one in whole)
    beyond = [one.beyond for one in whole if one.beyond is not None]
    if not beyond or not good:
        return None
    lost_us = sum(one.short_halts_lost_us for one in beyond)
    return ShortHalts(sum(one.short_halts for one in beyond) / good, lost_us / 1e6 / good)


def _sum(whole: list[Replication], early: list[Replication], name: str) -> NDArray[np.int64]:
    """A total over all replications, between the warm-up and the horizon."""

    def total(replications: list[Replication]) -> NDArray[np.int64]:
        return np.sum([_array(one.totals, name) for one in replications], axis=0)  # type: ignore[no-any-return]

    return total(whole) - (total(early) if early else 0)


def _array(totals: Totals, name: str) -> NDArray[np.int64]:
    array: NDArray[np.int64] = getattr(totals, name)
    return array


def _stations(
    line: Line, plan: TrafficPlan, whole: list[Replication], early: list[Replication], window_s: float
) -> Table:
    booked_s = _sum(whole, early, "state_us") / 1e6
    state_s = np.zeros((len(booked_s), len(STATE_COLUMNS)))
    state_s[:, : booked_s.shape[1]] = booked_s  # the loop of plain lines books the first ten alone
    parts, rejected = _sum(whole, early, "parts"), _sum(whole, early, "rejected")
    by_kind = _sum(whole, early, "failures") if plan.failures else np.zeros(0, np.int64)
    owners = np.array([failure.station for failure in plan.failures], np.int64)
    failures = np.bincount(owners, weights=by_kind, minlength=len(plan.station_names)).astype(np.int64)
    planned_s = np.array([line.station(name).time.mean_s for name in plan.station_names])
    work_s = state_s[:, 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        able = availability(work_s, np.full(len(work_s), window_s))
        effective = effectiveness(planned_s, parts, work_s)
        quality = quality_ratio(parts - rejected, parts)
    columns = [
        Column("station", None, np.array(plan.station_names), "station"),
        Column("step", None, np.array([plan.step_names[p] for p in plan.station_step]), "step of the route"),
    ]
    columns += [
        Column(name, None, state_s[:, state] / window_s, meaning) for state, (name, meaning) in enumerate(STATE_COLUMNS)
    ]
    columns += [
        Column("parts", None, parts, "works ended, all runs"),
        Column("rejected", None, rejected, "parts flagged here, all runs"),
        Column("failures", None, failures, "failures begun, all runs"),
        Column("availability", None, able, "ISO 22400-2: APT / PBT"),
        Column("effectiveness", None, effective, "ISO 22400-2: PRI · PQ / APT"),
        Column("quality_ratio", None, quality, "ISO 22400-2: GQ / PQ"),
        Column("oee_index", None, oee_index(able, effective, quality), "ISO 22400-2: their product"),
    ]
    return Table(tuple(columns))


def _steps(plan: TrafficPlan, stations: Table, window_s: float, good: int) -> Table:
    """Time per good part of each step: neither blocked nor starved (held by a partner counts), over its number of
    stations."""
    busy_s = (1.0 - stations["blocked_share"] - stations["starved_share"]) * window_s
    times = [float(busy_s[list(members)].sum()) / len(members) for members in plan.step_stations]
    names = [", ".join(plan.station_names[k] for k in members) for members in plan.step_stations]
    per_part = np.array(times) / good if good else np.full(len(times), math.nan)
    return Table(
        (
            Column("step", None, np.array(plan.step_names), "step of the route"),
            Column("stations", None, np.array(names), "where it is worked"),
            Column("time_per_good_part_s", "s", per_part, "time neither blocked nor starved, per good part"),
        )
    )


def _limiting(steps: Table) -> LimitingStation | None:
    times = steps["time_per_good_part_s"]
    if len(times) < 2 or not np.isfinite(times).all():
        return None
    order = np.argsort(-times, kind="stable")
    first, second = int(order[0]), int(order[1])
    names = steps["step"]
    return LimitingStation(
        str(names[first]), float(times[first]), str(names[second]), float(times[first] - times[second])
    )


def _failures(plan: TrafficPlan, whole: list[Replication]) -> Table:
    seen = _sum(whole, [], "failures") if plan.failures else np.zeros(0, np.int64)
    owners = [failure.station for failure in plan.failures]
    numbers = [owners[:i].count(owner) + 1 for i, owner in enumerate(owners)]
    names = np.array([plan.station_names[owner] for owner in owners], dtype=np.str_)
    return Table(
        (
            Column("station", None, names, "station"),
            Column("failure", None, np.array(numbers, np.int64), "which of the station's failures, from 1"),
            Column("seen", None, np.asarray(seen, np.int64), "times in all runs"),
        )
    )


def _trace(plan: TrafficPlan, seed: int, horizon_us: int, cut_us: int) -> tuple[float, float, Table, Table]:
    """Replication 0 again, up to some minutes after the warm-up, with its moves and works logged."""
    from linewright.flow.kernel.draws import luck_of
    from linewright.flow.kernel.run import run_once
    from linewright.flow.kernel.state import tables_of

    begin_us = max(0, cut_us - round(TRACE_BEFORE_S * 1e6))
    end_us = min(horizon_us, cut_us + round(TRACE_AFTER_S * 1e6))
    traced = run_once(plan, tables_of(plan), luck_of(plan, seed, 0), end_us, end_us, trace_from_us=begin_us)
    moves = traced.moves[np.lexsort((traced.moves[:, 0], traced.moves[:, 1]))]
    works = traced.works[np.lexsort((traced.works[:, 0], traced.works[:, 3]))]
    return begin_us / 1e6, end_us / 1e6, _moves_table(moves), _works_table(plan, works)


def _moves_table(moves: NDArray[np.int64]) -> Table:
    return Table(
        (
            Column("carrier", None, moves[:, 0].copy(), "number of the carrier"),
            Column("departure_s", "s", moves[:, 1] / 1e6, "when it departs"),
            Column("from_stop", None, moves[:, 2].copy(), "rank of the stop it leaves"),
            Column("to_stop", None, moves[:, 3].copy(), "rank of the stop it goes to"),
            Column("arrival_s", "s", moves[:, 4] / 1e6, "when it arrives"),
            Column("loaded", None, moves[:, 5] == 1, "a part is aboard"),
        )
    )


def _works_table(plan: TrafficPlan, works: NDArray[np.int64]) -> Table:
    names = np.array([plan.station_names[k] for k in works[:, 0]], dtype=np.str_)
    return Table(
        (
            Column("station", None, names, "station"),
            Column("carrier", None, works[:, 1].copy(), "number of the carrier"),
            Column("serial", None, works[:, 2].copy(), "serial of the part"),
            Column("start_s", "s", works[:, 3] / 1e6, "when work starts"),
            Column("end_s", "s", works[:, 4] / 1e6, "when it ends, repairs included"),
            Column("repair_s", "s", works[:, 5] / 1e6, "repairs in it"),
        )
    )
