"""Flow: many carriers in time: the event kernel, luck, statistics, indicators. Names load when they are first used."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from linewright.flow import bounds
    from linewright.flow.comparison import Allocation, BestOfMany, best_of_many, run_allocation
    from linewright.flow.kpi import availability, effectiveness, oee_index, quality_ratio
    from linewright.flow.line_bounds import RateBounds, rate_bounds
    from linewright.flow.run import Run, simulate
    from linewright.flow.statistics import (
        BatchMeans,
        Interval,
        Truncation,
        WarmUp,
        batch_means,
        mean_interval,
        mser5,
        paired_comparison,
        warm_up,
    )

__all__ = [
    "Allocation",
    "BatchMeans",
    "BestOfMany",
    "Interval",
    "RateBounds",
    "Run",
    "Truncation",
    "WarmUp",
    "availability",
    "batch_means",
    "best_of_many",
    "bounds",
    "effectiveness",
    "mean_interval",
    "mser5",
    "oee_index",
    "paired_comparison",
    "quality_ratio",
    "rate_bounds",
    "run_allocation",
    "simulate",
    "warm_up",
]

_LATE = {
    "Allocation": "comparison",
    "BatchMeans": "statistics",
    "BestOfMany": "comparison",
    "Interval": "statistics",
    "RateBounds": "line_bounds",
    "Run": "run",
    "Truncation": "statistics",
    "WarmUp": "statistics",
    "availability": "kpi",
    "batch_means": "statistics",
    "best_of_many": "comparison",
    "bounds": "bounds",
    "effectiveness": "kpi",
    "mean_interval": "statistics",
    "mser5": "statistics",
    "oee_index": "kpi",
    "paired_comparison": "statistics",
    "quality_ratio": "kpi",
    "rate_bounds": "line_bounds",
    "run_allocation": "comparison",
    "simulate": "run",
    "warm_up": "statistics",
}


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module 'linewright.flow' has no attribute {name!r}; it has {', '.join(__all__)}")
    module = import_module(f"linewright.flow.{_LATE[name]}")
    value = module if _LATE[name] == name else getattr(module, name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
