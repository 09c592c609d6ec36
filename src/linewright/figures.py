"""What a formula asks of its figures: programmer misuse raises, and names the argument."""

from __future__ import annotations

import math


def positive(name: str, value: float) -> None:
    """ValueError unless the value is finite and above 0."""
    if not 0.0 < value < math.inf:
        raise ValueError(f"{name} is {value}; it must be finite and positive")


def not_negative(name: str, value: float) -> None:
    """ValueError unless the value is finite and 0 or more."""
    if not 0.0 <= value < math.inf:
        raise ValueError(f"{name} is {value}; it must be finite and not negative")


def finite(name: str, value: float) -> None:
    """ValueError unless the value is a finite number."""
    if not math.isfinite(value):
        raise ValueError(f"{name} is {value}; it must be a finite number")
