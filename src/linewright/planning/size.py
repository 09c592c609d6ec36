"""How many carriers a line needs: its rate over their number, and what can be read from that."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.checks.bounds import ALLOWANCE, CONFIDENCE, nearly_done, surely_seen
from linewright.errors import SimulationError
from linewright.flow.bins import run_length
from linewright.flow.line_bounds import RateBounds, rate_bounds
from linewright.flow.statistics import Interval, mean_interval
from linewright.layout import Layout, lay_out, resting_places
from linewright.line.demand import find_takt
from linewright.line.model import Line
from linewright.planning.choices import Choices, choose
from linewright.planning.counts import BLOCKED, STARVED, PlanRuns, run_plans
from linewright.planning.waiting_stops import WaitingStops, judge_waiting_stops, waiting_stop_runs
from linewright.traffic.compile import compile_plan

if TYPE_CHECKING:
    from linewright.traffic.plan import TrafficPlan

MOST_COUNTS: Final = 60
"""Counts in a range that nobody asked for."""


@dataclass(frozen=True)
class CountRow:
    """The line with one number of carriers.

    Parameters
    ----------
    carriers : how many
    rate : good parts an hour; None without an interval, then `reason` says why. [1/h]
    upper_bound_per_h : more than that no order of moves can give in the long term. [1/h]
    bound : what sets that bound: ``carriers``, or the name of the slowest step or transfer
    of_bound : mean rate over upper bound; None without a rate
    above_bounds : the rate lies beyond doubt above the bound of the line without its failures: the whole 99.99 %
        interval, by more than the allowance for runs that end. That cannot be: something is wrong. (Above
        `upper_bound_per_h` itself it may lie, by the luck of runs in which few failures come.)
    blocked_share : of all stations' time, how much a ready carrier cannot leave; held by a partner not counted. This
        and what follows from the stations' time counts from time zero on
    limiting_step : the step with the most time per good part that is neither blocked nor starved
    limiting_blocked_share : blocked share of that step's stations
    round_s : carriers over rate: how long one carrier takes round for each good part; None without a rate. [s]
    loop_s : the same for a carrier in whose way nothing is; None where that is not known. [s]
    stalled_runs : runs without a good part in their last quarter: locked up, or in a long repair
    """

    carriers: int
    rate: Interval | None
    reason: str | None
    upper_bound_per_h: float
    bound: str
    of_bound: float | None
    above_bounds: bool
    blocked_share: float
    limiting_step: str
    limiting_blocked_share: float
    round_s: float | None
    loop_s: float | None
    stalled_runs: int


@dataclass(frozen=True, eq=False)
class Sizing:
    """The rate of a line over its number of carriers.

    Parameters
    ----------
    line, layout : what was sized
    counts : a row for each number of carriers asked for, ascending
    most_fit : carriers for which the waiting and dock stops before the first station have room
    most_on_sheet : carriers that the conveyor sheet allows; None where it says nothing
    required_rate_per_h : good parts an hour that the demand asks for; None without a demand. [1/h]
    choices : what follows from the rows
    waiting_stops : which of them earn their place; None where that was not asked for
    stops_hours : length of the runs behind that; None likewise. [h]
    warm_up_s : left out of each run of every count. [s]
    hours, runs, seed : of each count
    """

    line: Line
    layout: Layout
    counts: tuple[CountRow, ...]
    most_fit: int
    most_on_sheet: int | None
    required_rate_per_h: float | None
    choices: Choices
    waiting_stops: tuple[WaitingStops, ...] | None
    stops_hours: float | None
    warm_up_s: float
    hours: float
    runs: int
    seed: int

    def row(self, carriers: int) -> CountRow | None:
        """The row with so many carriers; None where that count was not asked for."""
        return next((row for row in self.counts if row.carriers == carriers), None)


def most_that_fit(line: Line, layout: Layout) -> int:
    """Carriers for which there are places at time zero: the first station's stop and the waiting and dock stops from
    which it is reached.

    Source     semantics.md, Work, Time zero; the same stops as `linewright.layout.resting_order`.
    """
    return len(resting_places(line, layout))


def size_line(
    line: Line,
    fewest: int | None = None,
    most: int | None = None,
    hours: float = 8.0,
    runs: int = 10,
    seed: int = 1,
    judge_stops: bool = False,
    workers: int | None = None,
    progress_of_all: Callable[[int, int], None] | None = None,
) -> Sizing:
    """Simulate a line with each number of carriers from `fewest` to `most`, all under the same luck.

    Parameters
    ----------
    line : a valid line; its own number of carriers and one fewer are always run too
    fewest, most : range of counts; None for 1, and for the most that fit and that the sheet allows. Where neither is
        given and those are more than 60, it is the 60 counts round the file's own
    hours, runs, seed : of each count; run r of every count meets the same luck
    judge_stops : judge the waiting stops too
    workers : threads; None for one a core. The result does not depend on it.
    progress_of_all : called with finished runs and all runs, from any thread

    Returns
    -------
    Sizing

    Raises
    ------
    LineFileError     The line cannot be built.
    SimulationError   The range holds no count or more carriers than fit; no traffic is possible on the track; the run
                      cannot be made as asked.
    ValueError        hours, runs, seed or workers is out of range.
    """
    if line.fixture_sets:
        raise SimulationError("the fixture sets say how many carriers there are: change them there, then use rate")
    length = run_length(line, hours, runs, seed)
    layout = lay_out(line)
    if layout.blocking:
        raise SimulationError(f"no traffic can be planned on this track: {'; '.join(layout.blocking)}")
    asked = _range(line, layout, fewest, most)
    counts = sorted({*asked, line.carriers, max(1, line.carriers - 1)})
    plans = _plans(line, layout, counts)
    jobs = waiting_stop_runs(line, layout, length) if judge_stops else None
    total = runs * (len(counts) + (0 if jobs is None else len(jobs.plans)))

    def told(finished: int) -> None:
        if progress_of_all is not None:
            progress_of_all(finished, total)

    done = dict(zip(counts, run_plans(list(plans.values()), length, workers, told), strict=True))
    rows = tuple(_row(plans[carriers], done[carriers]) for carriers in asked)
    required = None if line.demand is None else find_takt(line.demand).required_rate_per_h
    choices = choose(tuple(done[carriers] for carriers in asked), done, line.carriers, required)
    judged = None
    if jobs is not None:
        judged = judge_waiting_stops(jobs, workers, lambda finished: told(runs * len(counts) + finished))
    return Sizing(
        line=line,
        layout=layout,
        counts=rows,
        most_fit=most_that_fit(line, layout),
        most_on_sheet=None if line.conveyor.most is None else line.conveyor.most.carriers,
        required_rate_per_h=required,
        choices=choices,
        waiting_stops=judged,
        stops_hours=None if jobs is None else jobs.length.horizon_us / 3600e6,
        warm_up_s=done[line.carriers].cut_bins * length.bin_us / 1e6,
        hours=length.horizon_us / 3600e6 if length.cut_us is not None else hours,
        runs=runs,
        seed=seed,
    )


def _plans(line: Line, layout: Layout, counts: Sequence[int]) -> dict[int, TrafficPlan]:
    """A plan for each count, ascending; compiled once where that is the same.

    Carrier 0 stands nearest to the first station, so that a plan for the most carriers holds those for fewer. Only the
    settling that follows from the moves which end at a station can differ: more carriers start on more stops, and what
    they add to the moves can only lengthen it. Where it is the same for the fewest, it is for all between.
    """

    def compiled(carriers: int) -> TrafficPlan:
        return compile_plan(line.model_copy(update={"carriers": carriers}), layout)

    whole = compiled(counts[-1])
    vibrates = any(station.window_m is not None for station in line.stations)
    if vibrates and not np.array_equal(compiled(counts[0]).settling_us, whole.settling_us):
        return {carriers: compiled(carriers) for carriers in counts}
    return {carriers: replace(whole, first_stops=whole.first_stops[:carriers]) for carriers in counts}


def _range(line: Line, layout: Layout, fewest: int | None, most: int | None) -> range:
    """The counts to run."""
    fit = most_that_fit(line, layout)
    allowed = fit if line.conveyor.most is None else min(fit, line.conveyor.most.carriers)
    low, high = 1 if fewest is None else fewest, allowed if most is None else most
    if fewest is None and most is None and high > MOST_COUNTS:
        low = max(1, min(line.carriers - MOST_COUNTS // 2, high - MOST_COUNTS + 1))
        high = low + MOST_COUNTS - 1
    if max(low, high) > fit:
        raise SimulationError(
            f"{max(low, high)} carriers do not fit: at most {fit} do, on the first station, the waiting stops and the "
            "dock stops, where carriers stand at time zero"
        )
    if most is None and low > high:
        raise SimulationError(f"{low} carriers: the sheet {line.conveyor.name} allows at most {high}")
    if low < 1 or high < low:
        raise SimulationError(f"from {low} to {high} carriers is no range: write two counts, the smaller first")
    return range(low, high + 1)


def _row(plan: TrafficPlan, done: PlanRuns) -> CountRow:
    bounds = rate_bounds(plan)
    step, blocked = _limiting(plan, done)
    rate = done.rate
    return CountRow(
        carriers=plan.carriers,
        rate=rate,
        reason=done.reason,
        upper_bound_per_h=bounds.upper_per_h,
        bound=_what_binds(bounds),
        of_bound=None if rate is None or bounds.upper_per_h <= 0.0 else rate.mean / bounds.upper_per_h,
        above_bounds=_is_above(plan, done, bounds),
        blocked_share=done.blocked_share,
        limiting_step=step,
        limiting_blocked_share=blocked,
        round_s=plan.carriers * 3600.0 / rate.mean if rate is not None and rate.mean > 0.0 else None,
        loop_s=bounds.loop_s,
        stalled_runs=done.stalled_runs,
    )


def _what_binds(bounds: RateBounds) -> str:
    return bounds.binding


def _is_above(plan: TrafficPlan, done: PlanRuns, bounds: RateBounds) -> bool:
    """Whether the rate is more than any run can make, judged as `linewright.checks.bounds` judges it."""
    if done.rate is None or done.rate.mean <= bounds.upper_per_h:
        return False
    # The bound counts failures and breaks at their long-term share; runs of some hours may see none.
    upper_per_h = rate_bounds(surely_seen(plan, ())).upper_per_h
    allowed_per_h = upper_per_h * (1.0 + ALLOWANCE) + nearly_done(plan) / done.counted_h
    return mean_interval(done.rates_per_h, CONFIDENCE).low > allowed_per_h


def _limiting(plan: TrafficPlan, done: PlanRuns) -> tuple[str, float]:
    """The step with the most time neither blocked nor starved, over its number of stations, and their blocked share."""
    busy_s = done.time_s - done.state_s[:, BLOCKED] - done.state_s[:, STARVED]
    times = [float(np.mean(busy_s[list(stations)])) for stations in plan.step_stations]
    step = int(np.argmax(times))
    stations: Sequence[int] = plan.step_stations[step]
    return plan.step_names[step], float(np.mean(done.state_s[list(stations), BLOCKED])) / done.time_s
