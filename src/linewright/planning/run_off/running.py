"""Rows of the continuous run that count parts: rate and reject share."""

from __future__ import annotations

import math
from typing import Final

from linewright.planning.run_off.basis import TIMES_PLANNED, Basis, Found
from linewright.planning.run_off.counts import SamplingPlan, sampling_plan, success_run
from linewright.planning.run_off.rates import RatePlan, rate_hours, rate_plan, rate_shown
from linewright.planning.run_off.records import NotPlanned, Phase, RunOffTest
from linewright.planning.run_off.words import about, hours_told, share_told
from linewright.quantities import KEEP, counted, number

LEAST_RATE_HOURS: Final = 4.0
"""Shortest count of good parts: half a shift, common practice. [h]"""

LEAST_SHOWN: Final = 0.8
"""Of the required rate: less is not worth a day's count; common practice."""

WHAT: Final = "good parts an hour, required rate"

_CLOCK: Final = "The clock stands only while the line waits for parts, people or machines that are not part of it."


def rate_row(basis: Basis) -> Found:
    """The count of good parts."""
    takt, run = basis.evaluation.takt, basis.run
    if takt is None:
        return Found(not_planned=(NotPlanned("rate", "the line file states no demand: write the key demand"),))
    if run.rate is None or run.runs < 2:
        why = run.reason or "one run shows no spread: two or more are needed"
        return Found(not_planned=(NotPlanned("rate", f"the run gives no rate with an interval: {why}"),))
    required, agreed = takt.required_rate_per_h, basis.agreed
    step_h = _step_h(basis)
    needed = rate_hours(required, run.rates_per_h, basis.run_h, agreed.builder_risk, agreed.confidence, step_h)
    stated_h = None if agreed.time_s is None else agreed.time_s / 3600.0
    if stated_h is None and (needed is None or basis.phase_of(needed) == "not to be shown"):
        return _rate_in_a_day(basis, required, later=False) + Found((_rate_not_shown(basis, required, needed),))
    least_h = math.ceil(LEAST_RATE_HOURS / step_h - 1e-9) * step_h
    hours = stated_h if stated_h is not None else max(least_h, needed or 0.0)
    plan = rate_plan(required, run.rates_per_h, basis.run_h, hours, agreed.confidence)
    good = f"{counted(plan.least_good, 'good part')} in {hours_told(hours)}"
    phase: Phase = "running" if stated_h is not None else basis.phase_of(hours)
    test = RunOffTest(
        "rate", "whole line", phase, WHAT, _rate_method(basis, hours, step_h), hours_told(hours),
        f"at least {good} ({number(plan.least_good / hours)}{KEEP}an hour)",
        _rate_why(basis, required, plan, needed, least_h), (f"simulated: {number(run.rate.mean)}{KEEP}an hour",),
        hours=hours, count=plan.least_good, planned=run.rate.mean, limit=required, pass_value=plan.least_good / hours,
        unit="1/h", refused_if_planned=plan.refused_if_planned, passed_at_limit=plan.passed_at_limit,
    )  # fmt: skip
    return Found((test,)) if phase == "running" else _rate_in_a_day(basis, required, later=True) + Found((test,))


def _rate_in_a_day(basis: Basis, required: float, later: bool) -> Found:
    """What the longest count of the run-off can show instead, where it is worth showing.

    The required rate itself is counted in production (`later`), or by nobody.
    """
    run, agreed, step_h = basis.run, basis.agreed, _step_h(basis)
    hours = max(math.floor(basis.most_hours / step_h + 1e-9), 1) * step_h
    shown = float(math.floor(rate_shown(run.rates_per_h, basis.run_h, hours, agreed.builder_risk, agreed.confidence)))
    if run.rate is None or shown < LEAST_SHOWN * required:
        return Found()
    plan = rate_plan(shown, run.rates_per_h, basis.run_h, hours, agreed.confidence)
    told, asked, day = f"{number(shown)}{KEEP}an hour", f"{number(required)}{KEEP}an hour", hours_told(hours)
    where = f'the row "{WHAT}", counted in production from the day of handing over' if later else "shown by no row"
    near = f"the required rate, {asked}, lies too near what is planned for {day} to tell the two apart; it is {where}"
    here = (
        f"to be refused here: {told}, {share_told(shown / required)} of the required rate. A line between {told} and "
        f"{asked} may pass here and yet miss the required rate"
    )
    test = RunOffTest(
        "rate-in-a-day", "whole line", "running",
        f"good parts an hour, what {day} can show: {number(shown)}, not the required {number(required)}",
        _rate_method(basis, hours, step_h), day,
        f"at least {counted(plan.least_good, 'good part')} in {day} ({number(plan.least_good / hours)}{KEEP}an hour): "
        f"shows {told}, not {number(required)}",
        (near, here), (f"simulated: {number(run.rate.mean)}{KEEP}an hour",),
        hours=hours, count=plan.least_good, planned=run.rate.mean, limit=shown, pass_value=plan.least_good / hours,
        unit="1/h", refused_if_planned=plan.refused_if_planned, passed_at_limit=plan.passed_at_limit,
    )  # fmt: skip
    return Found((test,))


def _step_h(basis: Basis) -> float:
    """Parts are counted over whole hours; of a line with shifts over whole shifts. [h]"""
    calendar = basis.line.calendar
    return 1.0 if calendar is None else calendar.shift_s / 3600.0


def _rate_why(basis: Basis, required: float, plan: RatePlan, needed: float | None, least_h: float) -> tuple[str, ...]:
    run, agreed = basis.run, basis.agreed
    above = (
        f"required: {number(required)}{KEEP}an hour, by the demand of the line file. The pass line lies above it by "
        f"what luck alone may add in {hours_told(plan.hours)}, by the scatter of {counted(run.runs, 'simulated run')}"
    )
    why = [above]
    if agreed.time_s is not None:
        why.append("length as agreed (key time of acceptance)")
    else:
        unit = "hours" if basis.line.calendar is None else "shifts"
        why.append(f"length: the fewest whole {unit}, and at least {hours_told(least_h)} (common practice)")
        why += basis.phase_words(basis.phase_of(plan.hours))
    if plan.refused_if_planned > agreed.builder_risk:
        longer = "no length is enough" if needed is None else f"it takes {hours_told(needed)}"
        risk = share_told(agreed.builder_risk)
        why.append(f"the agreed length is too short for a builder's risk of {risk}: {longer}")
    if not run.rates_per_h.std() > 0.0:
        why.append("all simulated runs are alike: the line file states no spread and no failure, so none is counted on")
    return tuple(why)


def _rate_method(basis: Basis, hours: float, step_h: float) -> str:
    if basis.line.calendar is not None:
        return "Count good parts over whole shifts with their breaks, shift by shift; failures and repairs count."
    if hours > basis.most_hours:
        return (
            "From the day of handing over count good parts at the end of the line and the hours of line time, day by "
            f"day; failures and repairs of the line count. {_CLOCK}"
        )
    blocks = math.ceil(hours / step_h - 1e-9)
    return (
        f"Warm up, then count good parts at the end of the line without a break and write down each of the "
        f"{counted(blocks, 'hour')}; failures and repairs of the line count. {_CLOCK}"
    )


def _rate_not_shown(basis: Basis, required: float, needed: float | None) -> RunOffTest:
    run = basis.run
    assert run.rate is not None  # asked by the caller
    long = "no length is enough"
    if needed is not None:
        long = f"it would take {hours_told(needed)}"
        why = f"what is planned lies so near the required rate that {long} to tell the two apart"
    elif run.rate.mean <= required:
        why = "what is planned is not above the required rate: no length of count can show that it is"
    else:
        why = f"{counted(run.runs, 'simulated run')} tell too little of the planned rate: make more runs"
    return RunOffTest(
        "rate", "whole line", "not to be shown", WHAT,
        "A count shows a rate only where the planned one lies clear of the required one.", long, "",
        (why, f"required: {number(required)}{KEEP}an hour"), (f"simulated: {number(run.rate.mean)}{KEEP}an hour",),
        hours=needed, planned=run.rate.mean, limit=required, unit="1/h", falls_short=run.rate.mean <= required,
    )  # fmt: skip


def planned_rejects(basis: Basis) -> float:
    """Share of the parts that is rejected if all is as planned.

    Notes
    -----
    1 - Π (1 - share of the step), a step's share being that of its stations, weighted with their parts in the run. With
    rework it is counted in the run: rejected over good and rejected.
    """
    run, line = basis.run, basis.line
    parts = {str(row["station"]): int(row["parts"]) for row in run.stations.rows()}
    if any(station.rework is not None for station in line.stations):
        rejected = int(run.stations["rejected"].sum())
        made = rejected + int(run.good_per_run.sum())
        return rejected / made if made else 0.0
    good = 1.0
    for step in line.route:
        weights = [max(parts[name], 1) for name in step.stations]
        shares = [line.station(name).rejects for name in step.stations]
        good *= 1.0 - sum(w * s for w, s in zip(weights, shares, strict=True)) / sum(weights)
    return 1.0 - good


def rejects_row(basis: Basis) -> Found:
    """The count of rejected parts."""
    if not basis.run.good_per_run.any():
        why = "the run makes no good part: see the row rate"
        return Found(not_planned=(NotPlanned("reject share", why),))
    planned, stated = planned_rejects(basis), basis.agreed.rejects
    if stated is None and planned <= 0.0:
        why = "no station states rejects and nothing is agreed: write the key rejects under acceptance"
        return Found(not_planned=(NotPlanned("reject share", why),))
    limit = stated if stated is not None else TIMES_PLANNED * planned
    rule = "as agreed (key rejects of acceptance)" if stated is not None else "twice what is planned (common practice)"
    internal = (f"planned: {share_told(planned)} rejected",)
    plan = _sampling(basis, planned, limit) if planned < limit < 1.0 else None
    if plan is None:
        why = (
            f"to be refused: {share_told(limit)} rejected, {rule}; what is planned, {share_told(planned)}, does not "
            "lie clear below it"
        )
        test = RunOffTest(
            "rejects", "whole line", "not to be shown", "share of rejected parts",
            "A count shows a share only where the planned one lies clear of what is to be refused.",
            "no number is enough", "", (why,), internal, planned=planned, limit=limit, unit="1",
            falls_short=planned >= limit,
        )  # fmt: skip
        return Found((test,))
    hours = plan.trials * (1.0 - planned) / float(basis.run.rates_per_h.mean())
    phase = basis.phase_of(hours)
    why = f"to be refused: {share_told(limit)} rejected, {rule}"
    test = RunOffTest(
        "rejects", "whole line", phase, "share of rejected parts",
        "Of the parts made one after another, good and rejected, count those that the line rejects. A part that "
        "was bad when it was loaded does not count, if both sides say so at once.",
        f"{counted(plan.trials, 'part')}, about {about(hours)} at the planned rate",
        basis.pass_line(phase, f"at most {number(plan.allowed)} rejected of {counted(plan.trials, 'part')}"),
        (why, *basis.phase_words(phase)), internal, hours=hours, count=plan.trials, allowed=plan.allowed,
        planned=planned, limit=limit, pass_value=plan.allowed / plan.trials, unit="1",
        refused_if_planned=plan.refused_if_planned, passed_at_limit=plan.passed_at_limit,
    )  # fmt: skip
    return Found((test,))


def _sampling(basis: Basis, planned: float, limit: float) -> SamplingPlan | None:
    """A plan; without planned rejects a success run, which the builder cannot fail by luck."""
    if planned > 0.0:
        return sampling_plan(planned, limit, basis.agreed.builder_risk, basis.agreed.confidence)
    trials = success_run(1.0 - limit, basis.agreed.confidence)
    return SamplingPlan(trials, 0, 0.0, (1.0 - limit) ** trials)
