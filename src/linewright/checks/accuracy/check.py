"""Does the tool find the part: the error budget of every station that states a tolerance."""

from __future__ import annotations

import math
from typing import Final

from linewright.checks.accuracy.budget import Axis, Budget, sum_budget
from linewright.checks.accuracy.draws import simulate_budget
from linewright.checks.accuracy.mounting import mounting_rows, mounting_table
from linewright.checks.accuracy.result import (
    AccuracyResult,
    AxisBudget,
    Pinning,
    budgets_table,
    summary_table,
)
from linewright.checks.accuracy.rows import axis_rows, missing_rows, no_tolerance_row, nought_row
from linewright.checks.accuracy.sources import gather
from linewright.layout import Layout
from linewright.line.model import Line, Station

# Enough to tell one in a thousand, and quick; `simulate_budget` draws as many as are asked for.
CHECK_DRAWS: Final = 20_000
_AXES: Final[tuple[Axis, ...]] = ("x", "y", "z")


def check_accuracy(line: Line, layout: Layout, seed: int = 1) -> AccuracyResult:
    """The error budget at the tool point of each station with a tolerance, on each axis that states one.

    Parameters
    ----------
    line, layout : a line and its own layout
    seed : of the drawn parts

    Returns
    -------
    AccuracyResult   Findings ``capability`` and ``worst-case`` for each station and axis; ``accuracy-figures`` where
                     figures are not stated, at most one each for sheet, line and stations; ``accuracy-tolerance`` where
                     no station states a tolerance; ``mounting`` where the sheet states how the track must lie.

    Source
    ------
    docs/limits/accuracy.md
    """
    stations = [station for station in line.stations if station.tolerance is not None]
    axes = tuple(
        _axis_budget(line, layout, station, axis, asked_m, (seed, rank, _AXES.index(axis)))
        for rank, station in enumerate(stations)
        for axis, asked_m in zip(_AXES, _asked_m(station), strict=True)
        if asked_m is not None and asked_m > 0.0
    )
    none_left = [
        (station, axis)
        for station in stations
        for axis, asked_m in zip(_AXES, _asked_m(station), strict=True)
        if asked_m == 0.0
    ]
    counted = [one for one in axes if one.counted]  # where nothing is stated there is nothing to judge
    findings = tuple(row for one in counted for row in axis_rows(line, layout, one, axes, CHECK_DRAWS, seed))
    findings += tuple(nought_row(line, station, axis) for station, axis in none_left)
    findings += missing_rows(line, axes) if axes or none_left else (no_tolerance_row(line),)
    findings += mounting_rows(line, layout)
    mounting = mounting_table(line, layout)
    return AccuracyResult(findings, axes, budgets_table(axes), summary_table(axes), CHECK_DRAWS, seed, mounting)


def pin_play_m(pinned: Budget, asked_cpk: float) -> float:
    """Greatest half width of a uniform spread that a pin may add so that the index still holds; 0 if it may none. [m]

    Notes      √3 √(((T - abs(b))/(3 Cpk))² - σ²), b and σ those of the pinned budget, not above T - abs(b).
    Source     docs/limits/accuracy.md, Pinning; derived.
    """
    room_m = pinned.tolerance_m - abs(pinned.bias_m)
    least = (room_m / (3.0 * asked_cpk)) ** 2 - pinned.sigma_m**2
    return math.sqrt(3.0 * least) if room_m > 0.0 and least > 0.0 else 0.0


def _asked_m(station: Station) -> tuple[float | None, float | None, float | None]:
    tolerance = station.tolerance
    assert tolerance is not None
    return tolerance.x_m, tolerance.y_m, tolerance.z_m


def _axis_budget(
    line: Line, layout: Layout, station: Station, axis: Axis, tolerance_m: float, seed: tuple[int, ...]
) -> AxisBudget:
    assert station.tolerance is not None
    found, asked = gather(line, layout, station, axis), station.tolerance.cpk
    contributors = found.contributors
    budget = sum_budget(contributors, tolerance_m)
    drawn = simulate_budget(contributors, CHECK_DRAWS, seed)
    low_m, high_m = drawn.interval_m()
    stays = gather(line, layout, station.model_copy(update={"pin_m": 0.0}), axis)
    pinned = sum_budget(stays.contributors, tolerance_m)
    pinning: Pinning = "stated"
    if station.pin_m is None:
        pinning = _pinning(budget, pinned, asked, bool(found.missing), bool(stays.missing))
    return AxisBudget(
        station=station.name,
        axis=axis,
        asked_cpk=asked,
        counted=found.counted,
        budget=budget,
        drawn_low_m=low_m,
        drawn_high_m=high_m,
        drawn_outside=drawn.outside(tolerance_m),
        drawn_parts_per_million=drawn.parts_per_million(tolerance_m),
        pinned=pinned,
        pinning=pinning,
        pin_play_m=pin_play_m(pinned, asked),
        missing=tuple(dict.fromkeys(found.missing)),
    )


def _pinning(budget: Budget, pinned: Budget, asked: float, lacking: bool, pinned_lacking: bool) -> Pinning:
    """Where figures are missing what holds is not known; what fails already fails all the more."""
    if budget.sigma_m == 0.0 and abs(budget.bias_m) <= budget.tolerance_m:
        return "not known"
    if budget.cpk >= asked:
        return "not known" if lacking else "not needed"
    if pinned.cpk >= asked:
        return "not known" if pinned_lacking else "needed"
    return "not enough"
