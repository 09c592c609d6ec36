"""The one path: a line in, everything that is known of it out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from linewright.checks.motion import check_motion
from linewright.checks.rate import check_rate, check_run_length, check_standstill, check_step_times
from linewright.checks.settling import check_settling
from linewright.checks.transfers import check_transfers
from linewright.findings import Finding
from linewright.layout import Layout, check_layout, lay_out
from linewright.line.demand import TaktResult, find_takt
from linewright.line.model import Line

if TYPE_CHECKING:
    from linewright.flow.line_bounds import RateBounds
    from linewright.flow.run import Run
    from linewright.traffic.plan import TrafficPlan

WITHOUT_RUN = "no run was asked for: linewright rate simulates the line"


@dataclass(frozen=True, eq=False)
class Evaluation:
    """All that is known of a line: a plain record, of which a reader takes what it needs.

    Parameters
    ----------
    line, layout : the line and its track unrolled
    plan : its traffic plan; None where no run was asked for or the layout allows no traffic
    run : what happened in the simulated time; None where there is no plan
    takt : what the demand asks for; None where the line file states no demand
    findings : every check's findings, in the order in which the checks ran
    bounds : between what the rate of any run must lie; None without a run
    """

    line: Line
    layout: Layout
    plan: TrafficPlan | None
    run: Run | None
    takt: TaktResult | None
    findings: tuple[Finding, ...]
    bounds: RateBounds | None = None


def evaluate(
    line: Line,
    hours: float = 8.0,
    runs: int = 20,
    seed: int = 1,
    workers: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> Evaluation:
    """Lay a line out, plan its traffic, simulate it and check it.

    Parameters
    ----------
    line : a validated line
    hours : simulated time of one run, > 0. [h]
    runs : number of runs, each with its own luck, >= 1
    seed : of all luck; the same seed gives the same result whatever the workers
    workers : threads; None for one a core
    progress : called with the number of finished runs, from any thread

    Returns
    -------
    Evaluation   .run is None where the layout allows no traffic; the finding ``rate`` then says why.

    Raises
    ------
    LineFileError     The line cannot be built; every fault with its place.
    SimulationError   The run cannot be made as asked.
    ValueError        An argument is out of range.
    """
    layout = lay_out(line)
    track = check_layout(line, layout) + check_motion(line, layout) + check_settling(line, layout)
    reason = _no_traffic(layout, track)
    if reason:
        return _gather(line, layout, None, None, track, reason)
    from linewright.flow.run import run_plan
    from linewright.traffic.compile import compile_plan

    plan = compile_plan(line, layout)
    run = run_plan(line, plan, hours, runs, seed, workers, progress)
    return _gather(line, layout, plan, run, track, "")


def evaluate_without_run(line: Line) -> Evaluation:
    """Everything that can be said of a line without simulating it; the rate is ``not checked``.

    Raises
    ------
    LineFileError   The line cannot be built; every fault with its place.
    """
    layout = lay_out(line)
    track = check_layout(line, layout) + check_motion(line, layout) + check_settling(line, layout)
    return _gather(line, layout, None, None, track, _no_traffic(layout, track) or WITHOUT_RUN)


def _no_traffic(layout: Layout, track: tuple[Finding, ...]) -> str:
    """Why no traffic is possible on this track, in words; empty where it is."""
    reasons = list(layout.blocking)
    reasons += [f"thrust: {finding.where}" for finding in track if finding.code == "thrust"]
    return f"no traffic can be planned on this track ({'; '.join(reasons)})" if reasons else ""


def _gather(
    line: Line, layout: Layout, plan: TrafficPlan | None, run: Run | None, track: tuple[Finding, ...], no_run: str
) -> Evaluation:
    takt = None if line.demand is None else find_takt(line.demand)
    rate = (check_rate(line, run, takt, no_run), *check_step_times(line, takt))
    if plan is None or run is None:
        return Evaluation(line, layout, plan, run, takt, rate + track)
    from linewright.checks.bounds import check_bounds
    from linewright.flow.line_bounds import rate_bounds

    of_run = check_standstill(line, run) + check_bounds(line, plan, run) + check_run_length(line, run)
    of_run += check_transfers(line, plan, takt)
    return Evaluation(line, layout, plan, run, takt, rate + of_run + track, rate_bounds(plan))
