"""Accuracy: the error budget at the tool point of each station, and the formulas that it is made of.

>>> from linewright.checks import accuracy
>>> budget = accuracy.sum_budget(
...     [
...         accuracy.spread_of("stop", "x", 18e-6),
...         accuracy.spread_of("nest", "x", 24e-6),
...         accuracy.bias_of("drift", "x", -1e-5, 1e-5),
...     ],
...     tolerance_m=60e-6,
... )
>>> round(budget.worst_case_m * 1e6, 3), round(budget.rss_m * 1e6, 3), round(budget.cpk, 3)
(52.0, 40.0, 1.667)
"""

from linewright.checks.accuracy.budget import Budget, Contributor, bias_of, spread_of, sum_budget
from linewright.checks.accuracy.capability import (
    Capability,
    CapabilityInterval,
    capability_interval,
    process_capability,
    tail_per_million,
)
from linewright.checks.accuracy.check import check_accuracy, pin_play_m
from linewright.checks.accuracy.draws import SimulatedBudget, simulate_budget
from linewright.checks.accuracy.geometry import (
    PlateDeflection,
    abbe_error_m,
    cosine_error_m,
    plate_deflection,
    play_at_m,
    thermal_growth_m,
)
from linewright.checks.accuracy.measured import AxisAccuracy, PoseRepeatability, axis_accuracy, pose_repeatability
from linewright.checks.accuracy.result import AccuracyResult, AxisBudget
from linewright.checks.accuracy.uncertainty import (
    Propagated,
    coverage_factor,
    effective_freedom,
    propagate_uncertainty,
)

__all__ = [
    "AccuracyResult",
    "AxisAccuracy",
    "AxisBudget",
    "Budget",
    "Capability",
    "CapabilityInterval",
    "Contributor",
    "PlateDeflection",
    "PoseRepeatability",
    "Propagated",
    "SimulatedBudget",
    "abbe_error_m",
    "axis_accuracy",
    "bias_of",
    "capability_interval",
    "check_accuracy",
    "cosine_error_m",
    "coverage_factor",
    "effective_freedom",
    "pin_play_m",
    "plate_deflection",
    "play_at_m",
    "pose_repeatability",
    "process_capability",
    "propagate_uncertainty",
    "simulate_budget",
    "spread_of",
    "sum_budget",
    "tail_per_million",
    "thermal_growth_m",
]
