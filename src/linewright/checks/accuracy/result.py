"""What the accuracy check hands on: the budget of every station and axis, and the two tables."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from linewright.checks.accuracy.budget import Axis, Budget
from linewright.checks.accuracy.sources import Counted, Missing
from linewright.findings import Finding
from linewright.tables import Column, Table

Pinning = Literal["not needed", "needed", "not enough", "not known", "stated"]


@dataclass(frozen=True)
class AxisBudget:
    """One station on one axis.

    Attributes
    ----------
    station, axis : which
    asked_cpk : the index that the station asks for
    counted : its contributors with the figures they follow, in the order of the budget's shares
    budget : worst case, root sum of squares, capability
    drawn_low_m, drawn_high_m : between what 99.73 % of the drawn parts lie. [m]
    drawn_outside : how many of the drawn parts lie beyond the tolerance
    drawn_parts_per_million : the same as a share
    pinned : the budget without the contributors of carriers, track and drive, as a pin without play leaves it
    pinning : whether a pin is needed for the index that is asked for, and whether it is enough; ``stated`` where the
        station has one, whose play is counted; ``not known`` where missing figures could turn the answer
    pin_play_m : greatest half width, uniform, within which a pin may locate so that the index holds; else 0. [m]
    missing : figures that are not stated and hence not counted
    """

    station: str
    axis: Axis
    asked_cpk: float
    counted: tuple[Counted, ...]
    budget: Budget
    drawn_low_m: float
    drawn_high_m: float
    drawn_outside: int
    drawn_parts_per_million: float
    pinned: Budget
    pinning: Pinning
    pin_play_m: float
    missing: tuple[Missing, ...]


@dataclass(frozen=True, eq=False)
class AccuracyResult:
    """The result of `check_accuracy`.

    Attributes
    ----------
    findings : the rows
    axes : one record for each station and axis with a tolerance, in the line's order
    budgets : Table, one row a contributor
    summary : Table, one row a station and axis
    draws, seed : of the drawn parts of each station and axis
    mounting : Table, what is to be measured of the mounted track, lane by lane
    """

    findings: tuple[Finding, ...]
    axes: tuple[AxisBudget, ...]
    budgets: Table
    summary: Table
    draws: int
    seed: int
    mounting: Table


def budgets_table(axes: tuple[AxisBudget, ...]) -> Table:
    """One row for each contributor of each station and axis."""
    rows = [(one, i, counted.contributor) for one in axes for i, counted in enumerate(one.counted)]
    gain = [_less(one.budget.halved_cpk[i], one.budget.cpk) for one, i, _ in rows]
    saved = [one.budget.worst_case_m - one.budget.halved_worst_case_m[i] for one, i, _ in rows]
    return Table(
        (
            _text("station", [one.station for one, _, _ in rows]),
            _text("axis", [one.axis for one, _, _ in rows], "x along, y across, z up"),
            _text("contributor", [c.name for _, _, c in rows]),
            _text("kind", [c.kind for _, _, c in rows], "bias or spread"),
            _text("law", [c.law or "" for _, _, c in rows], "of a spread"),
            _text("owner", [c.owner for _, _, c in rows], "a pin takes out those of the carrier"),
            _number("low_m", "m", [c.low_m for _, _, c in rows], "lower end"),
            _number("high_m", "m", [c.high_m for _, _, c in rows], "upper end"),
            _number("half_width_m", "m", [c.half_width_m for _, _, c in rows], "greatest amount"),
            _number("sigma_m", "m", [c.sigma_m for _, _, c in rows], "standard deviation of a spread"),
            _number("share", None, [one.budget.shares[i] for one, i, _ in rows], "of the root sum of squares"),
            _number("gain_cpk", None, gain, "by which halving it raises Cpk"),
            _number("gain_worst_case_m", "m", saved, "by which halving it lowers the worst case"),
            _text("source", [c.source for _, _, c in rows]),
        )
    )


def summary_table(axes: tuple[AxisBudget, ...]) -> Table:
    """One row for each station and axis."""
    budgets = [one.budget for one in axes]
    return Table(
        (
            _text("station", [one.station for one in axes]),
            _text("axis", [one.axis for one in axes], "x along, y across, z up"),
            _number("tolerance_m", "m", [b.tolerance_m for b in budgets], "plus and minus"),
            _number("asked_cpk", None, [one.asked_cpk for one in axes], "index asked for"),
            _number("low_m", "m", [b.low_m for b in budgets], "worst case, lower end"),
            _number("high_m", "m", [b.high_m for b in budgets], "worst case, upper end"),
            _number("worst_case_m", "m", [b.worst_case_m for b in budgets], "the larger amount of both"),
            _number("bias_m", "m", [b.bias_m for b in budgets], "biases added, with sign"),
            _number("sigma_m", "m", [b.sigma_m for b in budgets], "of all spreads"),
            _number("rss_m", "m", [b.rss_m for b in budgets], "bias and three standard deviations"),
            _number("drawn_low_m", "m", [one.drawn_low_m for one in axes], "99.73 % of drawn parts, lower end"),
            _number("drawn_high_m", "m", [one.drawn_high_m for one in axes], "99.73 % of drawn parts, upper end"),
            _number("cp", None, [_finite(b.cp) for b in budgets], "without the bias"),
            _number("cpk", None, [_finite(b.cpk) for b in budgets], "with the bias"),
            _number("ppm", None, [b.parts_per_million for b in budgets], "parts per million outside, normal law"),
            _number("drawn_ppm", None, [one.drawn_parts_per_million for one in axes], "the same of drawn parts"),
            _text("largest", [", ".join(largest(one)) for one in axes], "the three largest shares"),
            _text("pinning", [one.pinning for one in axes], "whether the carrier must be pinned"),
            _number("pinned_cpk", None, [_finite(one.pinned.cpk) for one in axes], "with a pin without play"),
            _number("pinned_worst_case_m", "m", [one.pinned.worst_case_m for one in axes], "with a pin without play"),
            _number("pin_play_m", "m", [one.pin_play_m for one in axes], "what a pin may add, plus and minus"),
            _number("not_stated", None, [len(one.missing) for one in axes], "figures that are not counted"),
        )
    )


def largest(one: AxisBudget, count: int = 3) -> tuple[str, ...]:
    """Names of the contributors with the largest shares, the largest first, those of no share left out."""
    ranked = sorted(range(len(one.counted)), key=lambda i: (-one.budget.shares[i], i))
    return tuple(one.counted[i].contributor.name for i in ranked[:count] if one.budget.shares[i] > 0.0)


def _less(after: float, before: float) -> float:
    return after - before if math.isfinite(after) and math.isfinite(before) else math.nan


def _finite(value: float) -> float:
    return value if math.isfinite(value) else math.nan


def _text(name: str, values: list[str], meaning: str = "") -> Column:
    return Column(name, None, np.array(values, dtype=np.str_), meaning)


def _number(name: str, unit: str | None, values: list[float] | list[int], meaning: str) -> Column:
    return Column(name, unit, np.array(values, dtype=np.float64), meaning)
