"""What carriers did, as lines to draw: one thread a carrier over place and time, and the works on them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout, resting_order, ways_of
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.motion.profile import Move, plan_move
from linewright.pictures.unrolled import AxisStretch, axis_stretches
from linewright.tables import Table

Floats = NDArray[np.float64]

POINTS_A_MOVE: Final = 13
WINDOW_S: Final = 120.0


class Logged(Protocol):
    """What a picture needs of a run: the logs of one replication over a stretch of time."""

    @property
    def moves(self) -> Table:
        """Columns carrier, departure_s, from_stop, to_stop, arrival_s, loaded."""

    @property
    def works(self) -> Table:
        """Columns station, carrier, serial, start_s, end_s, repair_s."""

    @property
    def warm_up_s(self) -> float:
        """From then on the line runs as it does for long. [s]"""

    @property
    def trace_from_s(self) -> float:
        """From when on the logs are complete. [s]"""

    @property
    def trace_to_s(self) -> float:
        """Until when. [s]"""


@dataclass(frozen=True)
class Window:
    """The stretch of time that is drawn. [s]"""

    start_s: float
    end_s: float


@dataclass(frozen=True, eq=False)
class Thread:
    """The way of one carrier within a window.

    Parameters
    ----------
    carrier : its number, as in the run's tables
    axis_m : shape (n,), place on the unrolled axis; NaN where the carrier goes from the axis' end to its start. [m]
    time_s : shape (n,), never falling. [s]
    travel_m : how far it travels within the window. [m]
    """

    carrier: int
    axis_m: Floats
    time_s: Floats
    travel_m: float


@dataclass(frozen=True)
class DrawnWork:
    """One work, cut to the window.

    Parameters
    ----------
    station, carrier, serial : as in the run's tables
    axis_m : place of the station. [m]
    start_s, end_s : as far as the window shows them; repairs within the work count. [s]
    repair_s : repair within the work. [s]
    """

    station: str
    carrier: int
    serial: int
    axis_m: float
    start_s: float
    end_s: float
    repair_s: float


def choose_window(run: Logged, start_s: float | None = None, length_s: float = WINDOW_S) -> Window:
    """The window to draw: from `start_s`; by default from the end of the warm-up, or as late as the logs last.

    Raises
    ------
    ValueError   The logs do not reach so far, or the length is not positive.
    """
    if not length_s > 0.0:
        raise ValueError(f"length_s is {length_s}; it must be positive")
    if start_s is None:
        start_s = max(run.trace_from_s, min(run.warm_up_s, run.trace_to_s - length_s))
    if not run.trace_from_s <= start_s < run.trace_to_s:
        raise ValueError(f"start_s is {start_s}; moves are logged from {run.trace_from_s} s to {run.trace_to_s} s")
    return Window(start_s, min(start_s + length_s, run.trace_to_s))


def carrier_threads(line: Line, layout: Layout, run: Logged, window: Window) -> tuple[Thread, ...]:
    """One thread for each carrier whose place is known, moves drawn as the jerk-limited curves that they are.

    A carrier stands where its first logged move starts; one without a move where it works, or where it stood at time
    zero if the logs start there; else its place is not known and it has no thread.

    Parameters
    ----------
    line, layout : the line and its layout
    run : its logs
    window : what to draw

    Notes      A move of the log takes whole microseconds; its curve is the float move over the same distance, stretched
               by the less than a microsecond that rounding up added.
    """
    curves: dict[tuple[bool, float, bool], Floats] = {}

    def curve(loaded: bool, distance_m: float, curved: bool) -> Floats:
        """Way covered at POINTS_A_MOVE equal times. [m]"""
        key = (loaded, round(distance_m, 9), curved)
        if key not in curves:
            move: Move = plan_move(distance_m, leg_limits(line, loaded, distance_m, curved).limits)
            curves[key] = move.position_m(np.linspace(0.0, move.duration_s, POINTS_A_MOVE))
        return curves[key]

    starts = _first_stops(line, layout, run)
    of_carrier: dict[int, list[tuple[float, int, int, float, bool]]] = {number: [] for number in sorted(starts)}
    columns = ("carrier", "departure_s", "from_stop", "to_stop", "arrival_s", "loaded")
    for row in zip(*(run.moves[name].tolist() for name in columns), strict=True):
        of_carrier[int(row[0])].append((float(row[1]), int(row[2]), int(row[3]), float(row[4]), bool(row[5])))
    ways = None if layout.is_closed else ways_of(layout)
    threads = []
    for number, moves in of_carrier.items():
        at_m = 0.0
        times, travels = [np.array([-math.inf])], [np.array([at_m])]
        stretches = []
        for departure_s, from_stop, to_stop, arrival_s, loaded in sorted(moves):
            pieces = axis_stretches(layout, ways, from_stop, to_stop)
            distance_m = sum(piece.length_m for piece in pieces)
            times.append(np.linspace(departure_s, arrival_s, POINTS_A_MOVE))
            travels.append(at_m + curve(loaded, distance_m, _curved(layout, pieces[0], distance_m)))
            stretches += [(at_m + piece.way_m, piece) for piece in pieces]
            at_m += distance_m
        known = _Travel(number, np.concatenate(times), np.concatenate(travels), stretches, starts[number])
        threads.append(_cut(known, layout, window))
    return tuple(threads)


def _curved(layout: Layout, first: AxisStretch, distance_m: float) -> bool:
    """Whether a move reaches into a curve: only a ring has any, and it is all one lane."""
    lane = layout.lanes[0]
    half_m = layout.body_m / 2
    return lane.is_ring and lane.touches_curve(first.from_m - half_m, first.from_m + distance_m + half_m)


def _first_stops(line: Line, layout: Layout, run: Logged) -> dict[int, int]:
    """Where each carrier stands when the logs start, as far as that is known."""
    stands = dict(enumerate(resting_order(line, layout))) if run.trace_from_s == 0.0 else {}
    for carrier, station in zip(run.works["carrier"].tolist(), run.works["station"].tolist(), strict=True):
        if carrier not in stands:
            stands[carrier] = layout.stop_of(station).index
    moves = zip(*(run.moves[name].tolist() for name in ("departure_s", "carrier", "from_stop")), strict=True)
    for _, carrier, stop in sorted(moves, reverse=True):
        stands[carrier] = stop
    return stands


def drawn_works(layout: Layout, run: Logged, window: Window) -> tuple[DrawnWork, ...]:
    """The works of the log that reach into the window, cut to it."""
    works = []
    for row in run.works.rows():
        if row["end_s"] <= window.start_s or row["start_s"] >= window.end_s:
            continue
        works.append(
            DrawnWork(
                station=row["station"],
                carrier=int(row["carrier"]),
                serial=int(row["serial"]),
                axis_m=layout.stop_of(row["station"]).axis_m,
                start_s=max(row["start_s"], window.start_s),
                end_s=min(row["end_s"], window.end_s),
                repair_s=float(row["repair_s"]),
            )
        )
    return tuple(works)


@dataclass(frozen=True, eq=False)
class _Travel:
    """What a carrier travels: way over time, and how stretches of that way lie on the axis.

    Parameters
    ----------
    times_s, way_m : equally long; the first time is minus infinity
    stretches : where on the way each begins, and how it lies; in order
    start : the stop on which it stands before the first
    """

    carrier: int
    times_s: Floats
    way_m: Floats
    stretches: list[tuple[float, AxisStretch]]
    start: int


def _cut(known: _Travel, layout: Layout, window: Window) -> Thread:
    """A carrier's whole way cut to the window and laid on the axis, broken where the axis is."""
    begin_m, end_m = np.interp([window.start_s, window.end_s], known.times_s, known.way_m)
    inside = (known.times_s > window.start_s) & (known.times_s < window.end_s)
    times = np.concatenate([[window.start_s], known.times_s[inside], [window.end_s]])
    ways = np.concatenate([[begin_m], known.way_m[inside], [end_m]])
    axis: list[float] = []
    when: list[float] = []
    stretch, begin = _resting(known, layout)
    upcoming = [one for one in known.stretches if one[0] < end_m - 1e-12]
    number = 0
    while number < len(times):
        if upcoming and ways[number] > upcoming[0][0] + 1e-12:
            edge_m, following = upcoming.pop(0)
            edge_s = window.start_s
            if number and edge_m > ways[number - 1]:
                edge_s = float(np.interp(edge_m, ways[number - 1 : number + 1], times[number - 1 : number + 1]))
            before_m = stretch.at_m(edge_m - begin)
            if when and abs(before_m - following.from_m) > 1e-9:
                axis += [before_m, math.nan, following.from_m]
                when += [edge_s] * 3
            stretch, begin = following, edge_m
            continue
        axis.append(stretch.at_m(float(ways[number]) - begin))
        when.append(float(times[number]))
        number += 1
    return Thread(known.carrier, np.array(axis), np.array(when), float(end_m - begin_m))


def _resting(known: _Travel, layout: Layout) -> tuple[AxisStretch, float]:
    """The stop on which a carrier stands at first, as a stretch of no length."""
    at_m = layout.stops[known.start].axis_m
    return AxisStretch(0.0, 0.0, at_m, 1), 0.0
