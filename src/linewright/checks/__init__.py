"""Checks: one module or package a subject; line, layout, plan and run in, findings out. They do not import each other.

The single formulas of a subject are public and take SI floats; a subject loads when it is first used.

>>> from linewright import checks
>>> checks.strength.guide_life(1000.0, 100.0).travel_m
100000000.0
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from linewright.checks import accuracy, bus, motion, power, safety, strength, upkeep

__all__ = ["accuracy", "bus", "motion", "power", "safety", "strength", "upkeep"]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module 'linewright.checks' has no attribute {name!r}; it has {', '.join(__all__)}")
    return import_module(f"linewright.checks.{name}")


def __dir__() -> list[str]:
    return sorted(__all__)
