"""Figures of the accuracy check in words: lengths that may be a few micrometres, and never an exponent."""

from __future__ import annotations

import math
from typing import Final

from linewright.checks.accuracy.result import AxisBudget
from linewright.checks.accuracy.sources import Figure
from linewright.line.model import Line
from linewright.line.units import number_text
from linewright.remedies import rounded_away

INCH_M: Final = 0.0254
_AXES: Final = {"x": "along", "y": "across", "z": "up"}


def figure_text(value: float) -> str:
    """Three digits that count, no exponent.

    Examples
    --------
    >>> figure_text(12345.678), figure_text(0.0000123456), figure_text(float("inf"))
    ('12300', '0.0000123', 'beyond any')
    """
    return number_text(float(f"{value:.3g}")) if math.isfinite(value) else "beyond any"


def length(line: Line, length_m: float) -> str:
    """``0.0123 mm``"""
    if line.units == "inch":
        return f"{figure_text(length_m / INCH_M)} in"
    return f"{figure_text(length_m * 1e3)} mm"


def signed(line: Line, length_m: float) -> str:
    """``+0.0123 mm``"""
    return f"{'-' if length_m < 0.0 else '+'}{length(line, abs(length_m))}"


def bias(line: Line, one: AxisBudget) -> str:
    """With its sign where that is known."""
    budget = one.budget
    known = abs(budget.high_m + budget.low_m) > 1e-9 * budget.worst_case_m
    return signed(line, budget.bias_m) if known else f"±{length(line, abs(budget.bias_m))}"


def figure(line: Line, stated: Figure, value: float) -> str:
    """A value of a stated figure, in its unit."""
    if stated.unit == "m":
        return length(line, value)
    return f"{figure_text(value * 1e6)} µrad" if stated.unit == "rad" else f"{figure_text(value)} K"


def down(value_m: float) -> float:
    """Three digits, rounded down, so that what is told still holds."""
    return rounded_away(value_m, 2.0 * value_m) if value_m > 0.0 else 0.0


def ppm(value: float) -> str:
    """Parts per million."""
    return "under 0.001" if value < 1e-3 else figure_text(value) if value < 1000.0 else f"{value:.0f}"


def where(station: str, axis: str) -> str:
    """``station press, x (along)``"""
    return f"station {station}, {axis} ({_AXES[axis]})"
