"""Does the line make its rate, and has the run seen enough to say so."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from linewright.findings import Finding, Verdict
from linewright.flow.causes import main_cause

if TYPE_CHECKING:
    from linewright.flow.run import Run
    from linewright.flow.statistics import Interval
    from linewright.line.demand import TaktResult
    from linewright.line.model import Line

LEAST_SEEN: Final = 10
# More runs than this are not proposed: the rate is then simply at the requirement.
MOST_RUNS_PROPOSED: Final = 1000
# From here on it is the place where the line cycle passes, and not the busiest station, that is to be relieved.
MAIN_SHARE: Final = 0.5

RULE: Final = "docs/semantics.md, Words of a result"


def check_rate(line: Line, run: Run | None, takt: TaktResult | None, no_run: str = "") -> Finding:
    """Whether the rate of the run meets the required rate.

    Parameters
    ----------
    line : the line
    run : its run; None where there is none
    takt : from its demand; None where the line file states none
    no_run : why there is no run, in words

    Returns
    -------
    Finding   Code ``rate``. value: mean of the simulated rate, limit: required rate. [1/h]

    Notes
    -----
    ``fails`` if the interval lies wholly below the required rate, ``holds`` if wholly at or above it, else ``tight``;
    without an interval ``not checked``. margin = mean / required − 1.

    Source
    ------
    docs/semantics.md, "Words of a result".
    """
    place = line.place("demand")
    required = None if takt is None else takt.required_rate_per_h
    mean = None if run is None or run.rate is None else run.rate.mean
    if run is None or run.rate is None or required is None or mean is None:
        why = _unchecked(run, no_run)
        return Finding("rate", "rate", "not checked", "whole line", place, mean, required, "1/h", None, RULE, why)
    margin = mean / required - 1.0
    verdict = judge_rate(run.rate, required)
    remedy = {"fails": _speed_up(run), "tight": _look_closer(run, run.rate, required)}.get(verdict, "")
    return Finding("rate", "rate", verdict, "whole line", place, mean, required, "1/h", margin, RULE, remedy)


def judge_rate(rate: Interval, required_per_h: float) -> Verdict:
    """The verdict of a rate: it goes by the interval, not by the margin.

    Examples
    --------
    >>> from linewright.flow.statistics import Interval
    >>> interval = Interval(100.0, 98.0, 102.0, 0.95)
    >>> [judge_rate(interval, required) for required in (98.0, 100.0, 102.0, 102.1)]
    ['holds', 'tight', 'tight', 'fails']
    """
    if rate.high < required_per_h:
        return "fails"
    return "holds" if rate.low >= required_per_h else "tight"


def check_standstill(line: Line, run: Run) -> tuple[Finding, ...]:
    """Whether the line stands still in some run: it makes no good part any more, or never made one.

    Returns
    -------
    tuple of Finding   One, code ``standstill``, which ``fails``; empty where every run goes on. value: runs that stand
        still, limit: 0.

    Source
    ------
    Common practice; that the line never locks is not proved by runs that go on.
    """
    if not run.stalled_runs:
        return ()
    where = f"{run.stalled_runs} of {run.runs} runs"
    remedy = (
        "the line makes no good part in the last quarter: carriers wait for one another, most likely for ever. "
        "linewright prove LINE shows the way into the jam, who holds whom, and how many carriers are safe; take "
        "carriers out, or give those that wait a place to wait"
    )
    place = line.place("carriers")
    figures = (float(run.stalled_runs), 0.0, None, None)
    return (Finding("standstill", "rate", "fails", where, place, *figures, RULE, remedy),)


def check_step_times(line: Line, takt: TaktResult | None) -> tuple[Finding, ...]:
    """Whether each step's work alone fits into the takt, before any exchange, failure or waiting is thought of.

    Parameters
    ----------
    line : the line
    takt : from its demand; None where the line file states none

    Returns
    -------
    tuple of Finding   Code ``step-time``, one a step whose work takes more than the takt; or one that holds, of the
        longest. value: mean work for each part over the step's stations, limit: takt. [s]

    Notes
    -----
    Work for each part = mean work / stations of the step, over the nests where the work is done a carrier at a time;
    of variants the mean by their shares, or by the sequence, 0 where one skips the step. Reject exits and steps for
    rework alone do not work on every part and are left out.

    Source
    ------
    Common practice: takt >= work content of a step.
    """
    if takt is None:
        return ()
    times = {
        step.name: _work_s(line, step.stations)
        for step in line.route
        if not step.reject_exit and not any(line.station(name).rework_only for name in step.stations)
    }
    longest = max(times, key=lambda name: times[name])
    told = [name for name in times if times[name] > takt.takt_s] or [longest]
    findings = []
    for name in told:
        margin = 1.0 - times[name] / takt.takt_s
        remedy = "" if margin > 0.0 else "less work at this step, a station parallel to it, or a lower demand"
        place = line.place("stations", next(step.stations[0] for step in line.route if step.name == name), "time")
        verdict: Verdict = "fails" if margin <= 0.0 else "holds"
        figures = (times[name], takt.takt_s, "s", margin)
        findings.append(
            Finding("step-time", "rate", verdict, f"step {name}, work alone", place, *figures, RULE, remedy)
        )
    return tuple(findings)


def _work_s(line: Line, names: tuple[str, ...]) -> float:
    """Mean work for each part at a step, over its stations. [s]"""
    return sum(_station_work_s(line, name) for name in names) / len(names) ** 2


def _station_work_s(line: Line, name: str) -> float:
    station = line.station(name)
    nests = 1 if line.fixture is None or station.each == "part" else line.fixture.nests
    if not line.variants:
        return station.time.mean_s / nests
    counts = dict.fromkeys((one.name for one in line.variants), 0.0)
    for variant, count in line.sequence:
        counts[variant] += count
    if not line.sequence:
        counts = {one.name: one.share or 0.0 for one in line.variants}
    if line.fixture_sets or not any(counts.values()):
        least = [_variant_work_s(line, name, one.name) for one in line.variants]
        return min(least) / nests  # who comes how often is not settled here
    total = sum(counts.values())
    return sum(share * _variant_work_s(line, name, variant) for variant, share in counts.items()) / total / nests


def _variant_work_s(line: Line, name: str, variant: str) -> float:
    one = next(found for found in line.variants if found.name == variant)
    if name in one.skips:
        return 0.0
    return dict(one.times).get(name, line.station(name).time).mean_s


def check_run_length(line: Line, run: Run) -> tuple[Finding, ...]:
    """Whether the run was long enough for what it is asked: one finding ``run-longer`` for each thing that it was not.

    Parameters
    ----------
    line, run : a line and its run

    Returns
    -------
    tuple of Finding   Empty where the warm-up ends in the first half and every kind of failure was seen ten times.

    Source
    ------
    docs/semantics.md, "Words of a result".
    """
    findings = [] if run.rate is None else _warm_up(run)
    return tuple(findings + _failures_seen(line, run))


def _warm_up(run: Run) -> list[Finding]:
    if not run.warm_up_past_half:
        return []
    half_s = 0.5 * run.hours * 3600.0
    remedy = f"run longer: the line is still warming up; --hours {2 * run.hours:g} or more"
    where = "warm-up, past half the run"
    return [Finding("run-longer", "rate", "not checked", where, None, run.warm_up_s, half_s, "s", None, RULE, remedy)]


def _failures_seen(line: Line, run: Run) -> list[Finding]:
    findings = []
    for row in run.failures.rows():
        seen = int(row["seen"])
        if seen >= LEAST_SEEN:
            continue
        number = int(row["failure"])
        where = f"station {row['station']}, failure {number}, seen {seen} times"
        place = line.place("stations", str(row["station"]), "failures", number - 1)
        factor = LEAST_SEEN / max(seen, 1)
        remedy = (
            f"run longer, or the share of this failure in the rate is luck: "
            f"--hours {math.ceil(run.hours * factor):g} or --runs {math.ceil(run.runs * factor)}"
        )
        figures = (float(seen), float(LEAST_SEEN), None, None)
        findings.append(Finding("run-longer", "rate", "not checked", where, place, *figures, RULE, remedy))
    return findings


def _unchecked(run: Run | None, no_run: str) -> str:
    if run is None:
        return no_run
    if run.rate is None:
        return f"no interval: {run.reason}"
    return "state what the line is to make: key demand of the line file"


def _speed_up(run: Run) -> str:
    words = "lower the demand"
    if run.limiting is None:
        return f"shorten the route or {words}"
    main = main_cause(run.cycle_causes, run.stations)
    if main is not None and main.name != run.limiting.step and main.share >= MAIN_SHARE:
        return (
            f"relieve {main.name}, where {100 * main.share:.0f} % of the line cycle passes (the page of `rate` shows "
            f"what would help), or {words}"
        )
    return (
        f"speed up step {run.limiting.step}: it takes {run.limiting.time_s:.3f} s per good part, "
        f"{run.limiting.by_s:.3f} s more than the next, {run.limiting.next_step}; or put a station parallel to it, "
        f"or {words}"
    )


def _look_closer(run: Run, rate: Interval, required_per_h: float) -> str:
    distance = abs(rate.mean - required_per_h)
    runs = math.inf if distance == 0.0 else math.ceil(1.1 * run.runs * (rate.half_width / distance) ** 2)
    if runs > MOST_RUNS_PROPOSED:
        return "the rate stands at the requirement: give the line more reserve"
    return (
        f"the interval holds the requirement: about {runs} runs (--runs {runs}) would decide, or give the line more "
        "reserve"
    )
