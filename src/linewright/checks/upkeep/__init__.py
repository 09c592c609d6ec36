"""Upkeep: greasing, wear parts, spares, failures of a year, and what the surroundings ask for.

>>> from linewright.checks import upkeep
>>> upkeep.relubrication_interval(2.5e6, 1.25e6, 14.0).per_year
2.0
>>> upkeep.spares_for(mean_demand=2.0, service_level=0.95).stock
5
"""

from linewright.checks.upkeep.environment import is_for_jets, jets_numeral
from linewright.checks.upkeep.formulas import (
    COMMON_MONTHS,
    Interval,
    Spares,
    failures_per_year,
    operations_per_year,
    relubrication_interval,
    spares_for,
    travel_per_day_m,
    wear_life_years,
)
from linewright.checks.upkeep.rows import UpkeepResult, check_upkeep
from linewright.flow.yearly_use import YearlyUse

__all__ = [
    "COMMON_MONTHS",
    "Interval",
    "Spares",
    "UpkeepResult",
    "YearlyUse",
    "check_upkeep",
    "failures_per_year",
    "is_for_jets",
    "jets_numeral",
    "operations_per_year",
    "relubrication_interval",
    "spares_for",
    "travel_per_day_m",
    "wear_life_years",
]
