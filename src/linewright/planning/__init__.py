"""Planning: choosing what to build. Names load when they are first used."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from linewright.planning.changes import Change, find_changes
    from linewright.planning.choices import Choices, Lower, OneOut, Plateau, SmallestNear
    from linewright.planning.gains import Gain, Gains, find_gains
    from linewright.planning.size import CountRow, Sizing, most_that_fit, size_line
    from linewright.planning.waiting_stops import WaitingStops

__all__ = [
    "Change",
    "Choices",
    "CountRow",
    "Gain",
    "Gains",
    "Lower",
    "OneOut",
    "Plateau",
    "Sizing",
    "SmallestNear",
    "WaitingStops",
    "find_changes",
    "find_gains",
    "most_that_fit",
    "size_line",
]

_LATE = {
    "Change": "changes",
    "Choices": "choices",
    "CountRow": "size",
    "Gain": "gains",
    "Gains": "gains",
    "Lower": "choices",
    "OneOut": "choices",
    "Plateau": "choices",
    "Sizing": "size",
    "SmallestNear": "choices",
    "WaitingStops": "waiting_stops",
    "find_changes": "changes",
    "find_gains": "gains",
    "most_that_fit": "size",
    "size_line": "size",
}


def __getattr__(name: str) -> Any:
    if name not in _LATE:
        raise AttributeError(f"module 'linewright.planning' has no attribute {name!r}")
    value = getattr(import_module(f"linewright.planning.{_LATE[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
