"""What would help: every change of a line that its causes suggest, tried by runs under the same luck."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from linewright.errors import LinewrightError
from linewright.flow.bins import RunLength, bin_length_s, run_length
from linewright.flow.statistics import Interval, paired_comparison
from linewright.layout import Layout, lay_out
from linewright.line.model import Line
from linewright.planning.changes import Change, find_changes
from linewright.planning.counts import difference, run_plans
from linewright.tables import Column, Table
from linewright.traffic.compile import compile_plan, legs_of
from linewright.traffic.plan import TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.run import Run

Effect = Literal["gains", "does nothing", "cannot be told", "loses"]

MOST_RUNS: Final = 8
MOST_HOURS: Final = 2.0
"""Trials are as many and as long at most, so that all of them take a second or two."""
LEAST_BINS: Final = 100
"""But they last so many bins of ten takts after the warm-up; no rate is given on under forty."""
CONFIRMED: Final = 3
"""So many of the greatest gains are tried again by as many and as long runs as the rate itself rests on."""
CONFIRMED_LOSSES: Final = 1
ROUNDS: Final = 3
"""The full runs may change the order; so many times the first of it are looked at again."""
NOTHING: Final = 0.001
"""A change of the rate by less than this share does nothing that anybody would see."""


@dataclass(frozen=True)
class Gain:
    """What a change did to the rate under the same luck.

    Parameters
    ----------
    change : what was changed
    per_h : good parts an hour more than without it, with its interval. [1/h]
    confirmed : tried by runs as many and as long as those of the rate itself
    effect : "gains" or "loses" where the interval lies wholly on one side of zero; "does nothing" where it lies within
        a thousandth of the rate; else "cannot be told"
    """

    change: Change
    per_h: Interval
    confirmed: bool
    effect: Effect


@dataclass(frozen=True, eq=False)
class Gains:
    """All changes that were tried, the greatest gain first.

    Parameters
    ----------
    gains : of the changes that could be tried
    not_tried : words of a change, and why it could not be tried
    base : the line as it is, run in the same way; rates in good parts an hour. [1/h]
    runs, hours : how often and how long each was run, the warm-up included. [h]
    full_runs, full_hours : the same of the confirmed ones. [h]
    """

    gains: tuple[Gain, ...]
    not_tried: tuple[tuple[str, str], ...]
    base: Interval
    runs: int
    hours: float
    full_runs: int
    full_hours: float

    def table(self) -> Table:
        """A row a change: change, place, gain_per_h, low, high, effect."""
        places = [" and ".join(gain.change.places) or "whole line" for gain in self.gains]
        return Table(
            (
                Column(
                    "change", None, np.array([g.change.words for g in self.gains], dtype=np.str_), "what is changed"
                ),
                Column("place", None, np.array(places, dtype=np.str_), "where"),
                Column("gain_per_h", "1/h", np.array([g.per_h.mean for g in self.gains]), "good parts an hour more"),
                Column("low", "1/h", np.array([g.per_h.low for g in self.gains]), "low end of its interval"),
                Column("high", "1/h", np.array([g.per_h.high for g in self.gains]), "high end of its interval"),
                Column("confirmed", None, np.array([g.confirmed for g in self.gains], np.bool_), "by the full runs"),
                Column(
                    "effect", None, np.array([g.effect for g in self.gains], dtype=np.str_), "what may be said of it"
                ),
            )
        )


def find_gains(line: Line, layout: Layout, plan: TrafficPlan, run: Run, workers: int | None = None) -> Gains | None:
    """Try the changes that the causes of a run and the structure of its line suggest.

    Parameters
    ----------
    line, layout, plan : a line, its track and its traffic plan
    run : its run
    workers : threads; None for one a core. The result does not depend on it.

    Returns
    -------
    Gains or None   None where the run gives no rate, or is too short to compare anything.

    Notes
    -----
    Every change is run as often and as long as the line itself, at most 8 times and 2 h (or 100 bins of ten takts)
    beyond the warm-up, with the luck of the first runs; the three that then gain most, and the one that surely loses
    most, again by as many and as long runs as the rate rests on. The interval is that of the paired differences.

    Source     paired comparison under common random numbers, common practice.
    """
    if run.rate is None or run.runs < 2:
        return None
    hours = min(run.hours, max(MOST_HOURS, LEAST_BINS * bin_length_s(line) / 3600.0) + run.warm_up_s / 3600.0)
    length = run_length(line, hours, min(run.runs, MOST_RUNS), run.seed)
    changes, plans, not_tried = [], [plan], []
    for change in find_changes(line, layout, run):
        planned = plan_change(change, plan)
        if isinstance(planned, str):
            not_tried.append((change.words, planned))
        else:
            changes.append(change)
            plans.append(planned)
    base, *others = run_plans(plans, length, workers)
    if base.rate is None:
        return None
    first = [difference(base, other) for other in others]
    full = run_length(line, run.hours, run.runs, run.seed)
    confirmed = dict(enumerate(first)) if full == length else _confirm(plans[1:], first, run, full, workers)
    gains = [
        _gain(change, confirmed.get(i, first[i]), i in confirmed, base.rate.mean) for i, change in enumerate(changes)
    ]
    gains.sort(key=lambda gain: -gain.per_h.mean)
    return Gains(tuple(gains), tuple(not_tried), base.rate, length.runs, hours, full.runs, run.hours)


def _confirm(
    plans: list[TrafficPlan], first: list[Interval], run: Run, length: RunLength, workers: int | None
) -> dict[int, Interval]:
    """By number, the differences to the run itself of those plans that are worth as many and as long runs."""
    cut_bins = round(run.warm_up_s * 1e6 / length.bin_us)
    known: dict[int, Interval] = {}
    for _ in range(ROUNDS):
        ranked = sorted(range(len(first)), key=lambda i: -known.get(i, first[i]).mean)
        losing = [i for i in reversed(ranked[CONFIRMED:]) if first[i].high < 0.0]
        chosen = [i for i in ranked[:CONFIRMED] + losing[:CONFIRMED_LOSSES] if i not in known]
        if not chosen:
            break
        done = run_plans([plans[i] for i in chosen], length, workers, cut_bins=cut_bins)
        known |= {i: paired_comparison(run.rates_per_h, one.rates_per_h) for i, one in zip(chosen, done, strict=True)}
    return known


def plan_change(change: Change, plan: TrafficPlan) -> TrafficPlan | str:
    """The plan of a changed line, its steps under their old names, or why there is none.

    Parameters
    ----------
    change : of a line
    plan : of the line without it
    """
    try:
        layout = lay_out(change.line)
        if layout.blocking:
            return "; ".join(layout.blocking)
        planned = compile_plan(change.line, layout, legs_of(plan) if change.same_track else None)
        # Luck goes by the step's name: with a station more it bears another, and would meet other works and rejects.
        return replace(planned, step_names=plan.step_names)
    except LinewrightError as problem:
        return str(problem)


def _gain(change: Change, per_h: Interval, confirmed: bool, rate_per_h: float) -> Gain:
    if max(abs(per_h.low), abs(per_h.high)) < NOTHING * rate_per_h:
        effect: Effect = "does nothing"
    elif per_h.low > 0.0:
        effect = "gains"
    elif per_h.high < 0.0:
        effect = "loses"
    else:
        effect = "cannot be told"
    return Gain(change, per_h, confirmed, effect)
