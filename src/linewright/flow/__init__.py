"""Flow: many carriers in time: the event kernel, luck, statistics, indicators. Names load when they are first used."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from linewright.flow.kpi import availability, effectiveness, oee_index, quality_ratio
    from linewright.flow.run import Run, simulate
    from linewright.flow.statistics import Interval, Truncation, WarmUp, mean_interval, mser5, warm_up

__all__ = [
    "Interval",
    "Run",
    "Truncation",
    "WarmUp",
    "availability",
    "effectiveness",
    "mean_interval",
    "mser5",
    "oee_index",
    "quality_ratio",
    "simulate",
    "warm_up",
]

_LATE = {
    "Interval": "statistics",
    "Run": "run",
    "Truncation": "statistics",
    "WarmUp": "statistics",
    "availability": "kpi",
    "effectiveness": "kpi",
    "mean_interval": "statistics",
    "mser5": "statistics",
    "oee_index": "kpi",
    "quality_ratio": "kpi",
    "simulate": "run",
    "warm_up": "statistics",
}


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module 'linewright.flow' has no attribute {name!r}; it has {', '.join(__all__)}")
    value = getattr(import_module(f"linewright.flow.{_LATE[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
