"""Where a move of the log runs: on which lane, from where to where, past which stops.

Each lane has a **frame**: distance in its stated direction, 0 at its start. The places aboard a platform that stands at
one of its ends lie in it too, before its start and beyond its end. On a ring the frame goes on round after round.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from linewright.layout.lanes import SAME_PLACE_M, LaneLayout, Layout, TransferLayout
from linewright.traffic.referee.profiles import integrate, up_to_us

if TYPE_CHECKING:
    from linewright.line.model import Line


Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Run:
    """The way of one leg.

    Parameters
    ----------
    lane : its number
    start_m, end_m : in the lane's frame; on a ring the end lies beyond the start. [m]
    passed : stops of the lane after the start, the last the end where that is on the lane, in the order of the move
    passed_m : how far each is from the start. [m]
    """

    lane: int
    start_m: float
    end_m: float
    passed: tuple[int, ...]
    passed_m: tuple[float, ...]

    @property
    def length_m(self) -> float:
        """How far it goes. [m]"""
        return abs(self.end_m - self.start_m)

    @property
    def sign(self) -> int:
        """1, or -1 against the lane's stated direction."""
        return 1 if self.end_m > self.start_m else -1


class Frames:
    """The frames of all lanes of a layout, and the rides between them.

    Parameters
    ----------
    line, layout : a line and its own layout
    """

    def __init__(self, line: Line, layout: Layout) -> None:
        self.line, self.layout = line, layout
        self.lane_of = {lane.name: number for number, lane in enumerate(layout.lanes)}
        self.transfer_of = {rank: n for n, transfer in enumerate(layout.transfers) for rank in transfer.aboards}
        self._runs: dict[tuple[int, int], Run | None] = {}

    def coming_lanes(self, stop: int) -> list[int]:
        """Lanes on which a carrier can come to a stop."""
        return self._lanes(stop, lambda transfer: transfer.takes)

    def leaving_lanes(self, stop: int) -> list[int]:
        """Lanes on which a carrier can leave a stop."""
        return self._lanes(stop, lambda transfer: transfer.gives)

    def _lanes(self, stop: int, names: Callable[[TransferLayout], tuple[str, ...]]) -> list[int]:
        if stop not in self.transfer_of:
            return [self.lane_of[self.layout.stops[stop].lane]]
        transfer = self.layout.transfers[self.transfer_of[stop]]
        return [self.lane_of[name] for name in names(transfer)]

    def place_m(self, stop: int, lane: int, coming: bool) -> float:
        """Where a stop lies in a lane's frame; a place aboard beyond its end or before its start. [m]"""
        if stop not in self.transfer_of:
            return self.layout.stops[stop].travel_m
        transfer = self.layout.transfers[self.transfer_of[stop]]
        if not coming:
            return -transfer.off_from_m(stop)
        return self.dock_m(lane) + transfer.on_m + (stop - transfer.aboard) * transfer.pitch_m

    def dock_m(self, lane: int) -> float:
        """Where the centre of a carrier at the lane's dock is: half a body before its end. [m]"""
        return self.layout.lanes[lane].length_m - self.layout.body_m / 2

    def run(self, start: int, end: int) -> Run | None:
        """The way from one stop to another without a stop between at a place aboard; None if there is none."""
        if (start, end) not in self._runs:
            self._runs[start, end] = self._find(start, end)
        return self._runs[start, end]

    def _find(self, start: int, end: int) -> Run | None:
        best: Run | None = None
        for number in self.leaving_lanes(start):
            if number not in self.coming_lanes(end):
                continue
            lane = self.layout.lanes[number]
            from_m, to_m = self.place_m(start, number, False), self.place_m(end, number, True)
            if lane.is_ring and to_m <= from_m + SAME_PLACE_M:
                to_m += lane.length_m
            if abs(to_m - from_m) <= SAME_PLACE_M or (to_m < from_m and not lane.two_way):
                continue
            if best is None or abs(to_m - from_m) < best.length_m - SAME_PLACE_M:
                best = Run(number, from_m, to_m, *self._passed(number, from_m, to_m))
        return best

    def _passed(self, number: int, from_m: float, to_m: float) -> tuple[tuple[int, ...], tuple[float, ...]]:
        lane, way, found = self.layout.lanes[number], abs(to_m - from_m), []
        for stop in self.layout.stops:
            if stop.lane != lane.name or stop.kind == "aboard":
                continue
            off = (stop.travel_m - from_m) * (1 if to_m > from_m else -1)
            off = off % lane.length_m if lane.is_ring else off
            if SAME_PLACE_M < off <= way + SAME_PLACE_M:
                found.append((off, stop.index))
        found.sort()
        return tuple(stop for _, stop in found), tuple(off for off, _ in found)

    def is_curved(self, run: Run) -> bool:
        """Whether a carrier's body reaches into a curve on this way."""
        half_m, lane = self.layout.body_m / 2, self.layout.lanes[run.lane]
        return lane.touches_curve(min(run.start_m, run.end_m) - half_m, max(run.start_m, run.end_m) + half_m)

    def ride_us(self, transfer: int, one: int, other: int) -> int:
        """From unlocking at the dock of one lane to the lock at that of another; 0 at the same place. [us]

        Source     docs/semantics.md, Transfers; Transfers with several docks. The ride is integrated as a move is.
        """
        return self._rides[transfer][one, other]

    def rides_before_us(self, start: Ints, lane: Ints, rows: Ints) -> Ints:
        """How long the platform rides before each of these moves; 0 where it leaves none or is the log's first. [us]

        Parameters
        ----------
        start, lane : int64[R]   Of each row of a log by carrier and departure: the stop left, the lane it runs on
        rows : int64[M]
        """
        transfer = np.full(len(self.layout.stops), -1, np.int64)
        transfer[list(self.transfer_of)] = list(self.transfer_of.values())
        rides = np.zeros((len(self.layout.transfers) + 1, len(self.layout.lanes), len(self.layout.lanes)), np.int64)
        for number, known in enumerate(self._rides):
            for (one, other), ride in known.items():
                rides[number, one, other] = ride
        before = lane[np.maximum(rows - 1, 0)]
        return np.where(rows > 0, rides[transfer[start[rows]], before, lane[rows]], 0)

    @cached_property
    def _rides(self) -> list[dict[tuple[int, int], int]]:
        return [self._rides_of(transfer) for transfer in self.layout.transfers]

    def _rides_of(self, transfer: TransferLayout) -> dict[tuple[int, int], int]:
        from linewright.motion.limits import platform_limits

        sheet = self.line.conveyor.transfers[transfer.kind]
        docks = [self.lane_of[name] for name in (*transfer.takes, *transfer.gives)]
        rides: dict[tuple[int, int], int] = {}
        for one in docks:
            for other in docks:
                way_m = _apart_m(transfer.kind, self.layout.lanes[one], self.layout.lanes[other])
                rides[one, other] = 0
                if way_m > SAME_PLACE_M:
                    ride_s = integrate(way_m, platform_limits(sheet)).duration_s
                    parts = (sheet.unlock_s, ride_s, sheet.align_s, sheet.lock_s)
                    rides[one, other] = sum(up_to_us(part) for part in parts)
        return rides


def _apart_m(kind: str, one: LaneLayout, other: LaneLayout) -> float:
    return abs(one.level_m - other.level_m) if kind == "lift" else abs(one.across_m - other.across_m)
