"""Does the run stay within the bounds that hold for any run of the line."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from linewright.findings import Finding, Verdict
from linewright.flow.line_bounds import rate_bounds
from linewright.flow.statistics import mean_interval

if TYPE_CHECKING:
    from linewright.flow.run import Run
    from linewright.line.model import Line
    from linewright.traffic.plan import FailureKind, TrafficPlan

LEAST_SEEN: Final = 10
CONFIDENCE: Final = 0.9999
ALLOWANCE: Final = 0.001

RULE: Final = "docs/bounds.md, Bounds of a line"


def check_bounds(line: Line, plan: TrafficPlan, run: Run) -> tuple[Finding, ...]:
    """Whether the simulated rate lies between the bounds that no run of the line can leave in the long term.

    Parameters
    ----------
    line : the line
    plan : the plan that the run was made of
    run : its run

    Returns
    -------
    tuple of Finding   One, code ``rate-bounds``; none without an interval. value: mean of the simulated rate, limit:
        the bound. [1/h] ``fails`` only beyond doubt, else ``holds``, however near it is.

    Notes
    -----
    ``fails`` if the low end of the 99.99 % interval over the runs lies above the upper bound by more than the
    allowance, or its high end under the lower bound by more than that. Allowance: 0.1 % of the bound and as many parts
    a run as carriers have nests, since each of them may be nearly done at the cut, and as many as one sequence of
    variants makes, whose quick half may be all that is seen. A kind of failure that was seen fewer than ten times
    counts nothing in the upper bound, because its repairs are luck, nor does one of a machine outside; nor do breaks,
    of which a run sees no whole number. Where there is such a failure, or where the line might lock, the lower bound is
    not judged. margin = 1 − mean / bound for the upper bound, mean / bound − 1 for the lower.

    Source
    ------
    `linewright.flow.line_bounds`; confidence and allowance are rules of this program.
    """
    if run.rate is None:
        return ()
    seen = np.asarray(run.failures["seen"], np.int64)
    known = tuple(kind for kind, times in zip(plan.failures, seen, strict=True) if times >= LEAST_SEEN)
    bounds = rate_bounds(surely_seen(plan, known))
    window_h = run.hours - run.warm_up_s / 3600.0
    parts_per_h = nearly_done(plan) / window_h
    interval = mean_interval(run.rates_per_h, CONFIDENCE)
    mean, upper, worst = run.rate.mean, bounds.upper_per_h, bounds.worst_per_h
    judged = bounds.worst_holds and len(known) == len(plan.failures)
    lowest = worst if judged else None
    limit, margin = upper, 1.0 - mean / upper if upper > 0.0 else 0.0
    why = ""
    if interval.low > upper * (1.0 + ALLOWANCE) + parts_per_h:
        why = f"makes more than {upper:.1f} good parts an hour, which is more than any run can"
    elif lowest is not None and interval.high < lowest * (1.0 - ALLOWANCE) - parts_per_h:
        limit, margin = lowest, mean / lowest - 1.0
        why = f"makes fewer than {lowest:.1f} good parts an hour, which is fewer than any run can"
    place = line.place("route")
    remedy = (
        f"the simulation contradicts a bound that always holds: it {why}. Something is wrong in the program: do not "
        "use the rate, and report the line file with this finding"
    )
    verdict: Verdict = "fails" if why else "holds"
    figures = (mean, limit, "1/h", margin)
    return (Finding("rate-bounds", "rate", verdict, "whole line", place, *figures, RULE, remedy if why else ""),)


def nearly_done(plan: TrafficPlan) -> int:
    """Parts that a run may count beyond its long-term share because it is cut somewhere; see `check_bounds`."""
    changes = sum(max(0, change.count) for change in plan.general.carrier_changes)
    return (plan.carriers + changes + len(plan.general.sequence)) * plan.general.nests


def surely_seen(plan: TrafficPlan, known: tuple[FailureKind, ...]) -> TrafficPlan:
    """The plan with no stop but those that a run of any length shows at their long-term share."""
    general = plan.general
    if general.breaks or general.outside:
        outside = tuple(replace(machine, failures=()) for machine in general.outside)
        general = replace(general, breaks=(), outside=outside)
    return replace(plan, failures=known, general=general)
