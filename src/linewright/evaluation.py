"""The one path: a line in, everything that is known of it out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from linewright.checks.accuracy import AccuracyResult, check_accuracy
from linewright.checks.bus import BusResult, check_bus
from linewright.checks.motion import MotionResult, check_motion, check_move_limits
from linewright.checks.power import PowerResult, check_power
from linewright.checks.rate import check_rate, check_run_length, check_standstill, check_step_times
from linewright.checks.safety import SafetyResult, check_safety
from linewright.checks.settling import check_settling
from linewright.checks.strength import StrengthResult, check_strength
from linewright.checks.transfers import check_transfers
from linewright.checks.upkeep import UpkeepResult, check_upkeep
from linewright.findings import Finding, counts_sentence
from linewright.layout import Layout, check_layout, lay_out
from linewright.line.demand import TaktResult, find_takt
from linewright.line.model import Line
from linewright.remedies import NEEDS_RUN

if TYPE_CHECKING:
    from linewright.flow.duty import Duty
    from linewright.flow.line_bounds import RateBounds
    from linewright.flow.run import Run
    from linewright.traffic.plan import TrafficPlan

WITHOUT_RUN = "linewright check --run simulates the line, as linewright rate does"


@dataclass(frozen=True, eq=False)
class Limits:
    """What the builder signs for, a result a subject: findings, and the tables behind them."""

    motion: MotionResult
    strength: StrengthResult
    accuracy: AccuracyResult
    power: PowerResult
    bus: BusResult
    safety: SafetyResult
    upkeep: UpkeepResult

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Of all subjects, in this order."""
        subjects = (self.motion, self.strength, self.accuracy, self.power, self.bus, self.safety, self.upkeep)
        return tuple(finding for subject in subjects for finding in subject.findings)


@dataclass(frozen=True, eq=False, repr=False)
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
    limits : what each subject found; None where no carrier can move at all
    duty : the moves that the first run really made; None without a run
    """

    line: Line
    layout: Layout
    plan: TrafficPlan | None
    run: Run | None
    takt: TaktResult | None
    findings: tuple[Finding, ...]
    bounds: RateBounds | None = None
    limits: Limits | None = None
    duty: Duty | None = None

    def __repr__(self) -> str:
        """The line and its findings counted: the whole record would fill a screen a hundred times."""
        return f"<Evaluation of {self.line.name!r}. {counts_sentence(self.findings)}>"

    def _repr_svg_(self) -> str:
        """What a notebook shows of it: its track chart."""
        from linewright.pictures import track_chart

        return track_chart(self).svg()


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
    reason = _no_traffic(line, layout)
    if reason:
        return _gather(line, layout, None, None, reason)
    from linewright.flow.run import run_plan
    from linewright.traffic.compile import compile_plan

    plan = compile_plan(line, layout)
    run = run_plan(line, plan, hours, runs, seed, workers, progress)
    return _gather(line, layout, plan, run, "")


def evaluate_without_run(line: Line, reason: str = "") -> Evaluation:
    """Everything that can be said of a line without simulating it; the rate is ``not checked``.

    Parameters
    ----------
    line : a validated line
    reason : why it is not simulated, where that was tried; in words

    Raises
    ------
    LineFileError   The line cannot be built; every fault with its place.
    """
    layout = lay_out(line)
    return _gather(line, layout, None, None, _no_traffic(line, layout) or reason or WITHOUT_RUN)


def _no_thrust(line: Line, layout: Layout) -> tuple[Finding, ...]:
    """What says that a carrier cannot be accelerated at all; empty where it can."""
    rows = [row for loaded in (False, True) for row in check_move_limits(line, layout, loaded)]
    return tuple(row for row in rows if row.code == "thrust")


def _no_traffic(line: Line, layout: Layout) -> str:
    """Why no traffic is possible on this track, in words; empty where it is."""
    reasons = list(layout.blocking)
    reasons += [f"thrust: {finding.where}" for finding in _no_thrust(line, layout)]
    return f"no traffic can be planned on this track ({'; '.join(reasons)})" if reasons else ""


def _gather(line: Line, layout: Layout, plan: TrafficPlan | None, run: Run | None, no_run: str) -> Evaluation:
    takt = None if line.demand is None else find_takt(line.demand)
    findings = (check_rate(line, run, takt, no_run), *check_step_times(line, takt))
    duty, bounds = None, None
    if plan is not None and run is not None:
        from linewright.checks.bounds import check_bounds
        from linewright.flow.duty import find_duty
        from linewright.flow.line_bounds import rate_bounds

        findings += check_standstill(line, run) + check_bounds(line, plan, run) + check_run_length(line, run)
        findings += check_transfers(line, plan, takt)
        duty, bounds = find_duty(line, layout, plan, run), rate_bounds(plan)
    findings += check_layout(line, layout) + check_settling(line, layout)
    if _no_thrust(line, layout):
        findings += check_motion(line, layout).findings
        return Evaluation(line, layout, plan, run, takt, findings, bounds)
    limits = limits_of(line, layout, takt, duty)
    findings += limits.findings if duty is not None or no_run == WITHOUT_RUN else _without_track(limits.findings)
    return Evaluation(line, layout, plan, run, takt, findings, bounds, limits, duty)


def _without_track(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """The same, but nobody is sent to a run that the track does not allow."""
    first = "mend the track first, see layout; then "
    return tuple(
        replace(row, remedy=first + row.remedy) if row.remedy.startswith(NEEDS_RUN) else row for row in findings
    )


def limits_of(line: Line, layout: Layout, takt: TaktResult | None, duty: Duty | None) -> Limits:
    """What each subject says of a line whose carriers can be accelerated.

    Parameters
    ----------
    line, layout : a line and its own layout
    takt : from its demand; None where the line file states none
    duty : what its carriers did in a run; None without one
    """
    power = check_power(line, layout, duty)
    return Limits(
        motion=check_motion(line, layout, duty),
        strength=check_strength(line, layout, takt, duty),
        accuracy=check_accuracy(line, layout),
        power=power,
        bus=check_bus(line, layout),
        safety=check_safety(line, layout, power.highest_V, power.without_resistor_V),
        upkeep=check_upkeep(line, layout, takt, duty),
    )
