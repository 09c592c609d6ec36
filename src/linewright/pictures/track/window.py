"""The stretch of time that a picture of a run shows."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Window:
    """The stretch of time that is drawn. [s]"""

    start_s: float
    end_s: float
