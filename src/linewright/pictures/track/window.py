"""The stretch of time that a picture of a run shows."""

from __future__ import annotations

from dataclasses import dataclass

from linewright.pictures.track.time_scale import from_to


@dataclass(frozen=True)
class Window:
    """The stretch of time that is drawn. [s]"""

    start_s: float
    end_s: float

    @property
    def words(self) -> str:
        """From when to when it goes, in seconds and in the unit in which its axis counts."""
        return from_to(self.start_s, self.end_s, self.end_s - self.start_s)
