"""The plot of the string line: the sheet across, time down the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from linewright.pictures.grammar import Spec, field
from linewright.pictures.track.sheet import Sheet
from linewright.pictures.track.threads import Seen, Thread
from linewright.pictures.track.time_scale import time_scale

DENSE_PX: Final = 12.0
APART_PX: Final = 2.0


@dataclass(frozen=True, eq=False)
class Frame:
    """The sheet and where time runs on it. [px]"""

    sheet: Sheet
    seen: Seen
    top: float
    foot: float

    @property
    def span_s(self) -> float:
        """How long a stretch is seen. [s]"""
        return self.seen.window.end_s - self.seen.window.start_s

    @property
    def s_a_px(self) -> float:
        """How long a pixel is. [s]"""
        return self.span_s / (self.foot - self.top)

    @property
    def followed(self) -> Thread | None:
        """The thread of the carrier to follow."""
        return next((thread for thread in self.seen.threads if thread.carrier == self.seen.bold), None)

    @property
    def round_px(self) -> float:
        """Height in which the carrier that goes farthest goes once round the axis. [px]"""
        farthest_m = max((thread.travel_m for thread in self.seen.threads), default=0.0)
        return (self.foot - self.top) / max(farthest_m / self.sheet.layout.loop_m, 1.0)

    @property
    def is_dense(self) -> bool:
        """Whether rounds follow one another so closely that no single thread can be followed."""
        return self.round_px < DENSE_PX

    @property
    def is_crowded(self) -> bool:
        """Whether threads lie so close to one another that they cannot be told apart."""
        return self.round_px < APART_PX * len(self.seen.threads)

    def y(self, name: str) -> Spec:
        """Time down the page."""
        start_s, end_s = self.seen.window.start_s, self.seen.window.end_s
        counted = time_scale(start_s, end_s, self.sheet.text.small_px)
        axis = {
            "title": f"time after the start ({counted.unit})",
            "values": list(counted.ticks_s),
            "grid": True,
            "labelExpr": f"format(datum.value / {counted.unit_s:g}, '~g')",
        }
        scale = {"domain": [start_s, end_s], "range": [self.top, self.foot], "nice": False, "zero": False}
        return field(name, scale=scale, axis=axis)

    def to_px(self, time_s: float) -> float:
        """Where an instant is drawn, from the top of the row. [px]"""
        return self.top + (time_s - self.seen.window.start_s) / self.s_a_px

    def instant(self, time_s: float) -> float:
        """An instant cut to the window, as a row holds it. [s]"""
        return round(min(max(time_s, self.seen.window.start_s), self.seen.window.end_s), 4)
