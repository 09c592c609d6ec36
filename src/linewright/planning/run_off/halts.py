"""Rows of the continuous run that count failures: availability of the line, failures of each station."""

from __future__ import annotations

from typing import Final

from linewright.planning.run_off.basis import Basis, Failing, Found, failing_stations
from linewright.planning.run_off.counts import failure_plan
from linewright.planning.run_off.rates import AvailabilityPlan, availability_plan
from linewright.planning.run_off.records import NotPlanned, RunOffTest
from linewright.planning.run_off.words import about, hours_told, share_told
from linewright.quantities import counted

RATIOS: Final = (2.0, 3.0)
"""What is to be refused, over what is planned, of down time and of how often a station fails: the finer first, the
coarser where only it fits into the run-off; common practice."""
STEP_S: Final = 1800.0
"""Counts of failures last whole half hours. [s]"""
STEP_AVAILABILITY: Final = 0.001

_TIMES: Final = {2.0: "twice", 3.0: "three times"}
_PARTS: Final = {2.0: "half", 3.0: "a third of"}


def availability_row(basis: Basis) -> Found:
    """Up time over all time."""
    failing, stated = failing_stations(basis), basis.agreed.availability
    down = sum(one.down_share for one in failing)
    if not failing:
        why = "no station states failures: write failures, each with its repair, at the stations"
        return Found(not_planned=(NotPlanned("availability, time between failures", why),))
    if down >= 1.0:
        why = "by the line file repairs fill all the time: look at failures of the stations"
        return Found(not_planned=(NotPlanned("availability", why),))
    per_h = sum(one.per_h for one in failing)
    planned = 1.0 - down
    ratios = [ratio for ratio in RATIOS if ratio * down < 1.0]
    limits = [(stated, "as agreed (key availability of acceptance)")] if stated is not None else [
        (1.0 - ratio * down, f"{_TIMES[ratio]} the planned down time (common practice)") for ratio in ratios
    ]  # fmt: skip
    plans = [(limit, rule, _plan(basis, planned, limit)) for limit, rule in limits]
    shown = [(limit, rule, plan) for limit, rule, plan in plans if plan is not None]
    internal = (f"planned: {share_told(planned)}, a failure every {about(1.0 / per_h)}",)
    if not shown:
        limit = limits[0][0] if limits else None
        told = "" if limit is None else f"; to be refused: {share_told(limit)}"
        why = f"what is planned, {share_told(planned)}, does not lie clear above what is to be refused{told}"
        test = RunOffTest(
            "availability", "whole line", "not to be shown", "availability of the line",
            "A count shows it only where the planned one lies clear of what is to be refused.", "no length is enough",
            "", (why,), internal, planned=planned, limit=limit, unit="1",
            falls_short=limit is not None and planned <= limit,
        )  # fmt: skip
        return Found((test,))
    fitting = (one for one in shown if one[2].failures / per_h <= basis.most_hours)
    return Found((_availability_test(basis, planned, per_h, internal, *next(fitting, shown[0])),))


def _plan(basis: Basis, planned: float, limit: float) -> AvailabilityPlan | None:
    if not limit < planned:
        return None
    return availability_plan(planned, limit, basis.agreed.builder_risk, basis.agreed.confidence, STEP_AVAILABILITY)


def _availability_test(
    basis: Basis,
    planned: float,
    per_h: float,
    internal: tuple[str, ...],
    limit: float,
    rule: str,
    plan: AvailabilityPlan,
) -> RunOffTest:
    hours = plan.failures / per_h
    phase = basis.phase_of(hours)
    halts = counted(plan.failures, "failure")
    exact = "exact where failures and repairs are exponential; repairs that are more regular make both chances smaller"
    return RunOffTest(
        "availability", "whole line", phase, "availability of the line",
        "Write down when each halt for a failure of any station begins and when the station is ready again; two at "
        "once count once, waiting for a mechanic or a spare does not count. The test ends with the last repair, "
        "whenever it comes. Availability: up time over up and down time.",
        f"until {halts} are repaired, about {about(hours)}",
        basis.pass_line(phase, f"at least {share_told(plan.least_availability)} over {halts}"),
        (f"to be refused: {share_told(limit)}, {rule}", exact, *basis.phase_words(phase)), internal,
        hours=hours, count=plan.failures, planned=planned, limit=limit, pass_value=plan.least_availability, unit="1",
        refused_if_planned=plan.refused_if_planned, passed_at_limit=plan.passed_at_limit,
    )  # fmt: skip


def failure_rows(basis: Basis) -> Found:
    """Failures of each station that states some, over hours of the line at work."""
    return Found(tuple(_failure_row(basis, one) for one in failing_stations(basis)))


def _failure_row(basis: Basis, one: Failing) -> RunOffTest:
    agreed, planned_s = basis.agreed, 3600.0 / one.per_h
    plans = []
    for ratio in RATIOS:
        plan = failure_plan(planned_s, planned_s / ratio, agreed.builder_risk, agreed.confidence, STEP_S)
        assert plan is not None  # ratios of two and more need few failures
        plans.append((ratio, plan))
    fit = next(((ratio, plan) for ratio, plan in plans if plan.time_s / 3600.0 <= basis.most_hours), None)
    ratio, plan = fit or plans[0]
    hours, limit_s = plan.time_s / 3600.0, planned_s / ratio
    limit = about(limit_s / 3600.0)
    why = [f"to be refused: a failure every {limit} of line time, {_PARTS[ratio]} the planned time (common practice)"]
    if one.regular:
        why.append("not all failures come at random with a constant rate: the chances are near, not exact")
    phase = basis.phase_of(hours)
    why += basis.phase_words(phase)
    return RunOffTest(
        "failures", f"station {one.station}", phase, "failures of this station",
        "Count the failures of this station, whatever their cause, while the line is at work. Halts for parts, people "
        "or machines that are not part of the line do not count.",
        hours_told(hours) if phase != "not to be shown" else f"it would take {hours_told(hours)}",
        basis.pass_line(phase, f"at most {counted(plan.allowed, 'failure')} in {hours_told(hours)}"), tuple(why),
        (f"planned: a failure every {about(planned_s / 3600.0)} of the line at work",),
        hours=hours, allowed=plan.allowed, planned=planned_s, limit=limit_s, unit="s",
        refused_if_planned=plan.refused_if_planned, passed_at_limit=plan.passed_at_limit,
    )  # fmt: skip
