"""What the formulas of this package ask of their figures."""

from __future__ import annotations

import math


def positive(name: str, value: float) -> None:
    """ValueError unless the value is finite and above 0."""
    if not 0.0 < value < math.inf:
        raise ValueError(f"{name} is {value}; it must be finite and positive")


def finite(name: str, value: float) -> None:
    """ValueError unless the value is a finite number."""
    if not math.isfinite(value):
        raise ValueError(f"{name} is {value}; it must be a finite number")


def not_negative(name: str, value: float) -> None:
    """ValueError unless the value is finite and 0 or more."""
    if not 0.0 <= value < math.inf:
        raise ValueError(f"{name} is {value}; it must be finite and not negative")


def margin_below(value: float, limit: float) -> float:
    """Share of the limit that is left under it: 1 - value/limit, exactly 0 where the two are equal but for rounding."""
    margin = 1.0 - value / limit
    return 0.0 if abs(margin) <= 1e-9 else margin


def margin_above(value: float, limit: float) -> float:
    """By what share of the limit the value lies above it: value/limit - 1, exactly 0 as there."""
    margin = value / limit - 1.0
    return 0.0 if abs(margin) <= 1e-9 else margin
