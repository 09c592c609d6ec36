"""What carriers did, as lines to draw: one thread a carrier over place and time, and the works on them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout, resting_order
from linewright.line.model import Line
from linewright.motion.limits import carrier_limits
from linewright.motion.profile import Move, plan_move
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
    curves: dict[tuple[bool, float], Floats] = {}

    def curve(loaded: bool, distance_m: float) -> Floats:
        """Way covered at POINTS_A_MOVE equal times. [m]"""
        key = (loaded, round(distance_m, 9))
        if key not in curves:
            move: Move = plan_move(distance_m, carrier_limits(line, loaded, distance_m).limits)
            curves[key] = move.position_m(np.linspace(0.0, move.duration_s, POINTS_A_MOVE))
        return curves[key]

    places = [stop.axis_m for stop in layout.stops]
    starts = _first_stops(line, layout, run)
    of_carrier: dict[int, list[tuple[float, int, int, float, bool]]] = {number: [] for number in sorted(starts)}
    columns = ("carrier", "departure_s", "from_stop", "to_stop", "arrival_s", "loaded")
    for row in zip(*(run.moves[name].tolist() for name in columns), strict=True):
        of_carrier[int(row[0])].append((float(row[1]), int(row[2]), int(row[3]), float(row[4]), bool(row[5])))
    threads = []
    for number, moves in of_carrier.items():
        at_m = places[starts[number]]
        times, ways = [np.array([-math.inf])], [np.array([at_m])]
        for departure_s, from_stop, to_stop, arrival_s, loaded in sorted(moves):
            distance_m = (places[to_stop] - places[from_stop]) % layout.loop_m or layout.loop_m
            times.append(np.linspace(departure_s, arrival_s, POINTS_A_MOVE))
            ways.append(at_m + curve(loaded, distance_m))
            at_m += distance_m
        threads.append(_cut(number, np.concatenate(times), np.concatenate(ways), window, layout.loop_m))
    return tuple(threads)


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


def _cut(carrier: int, time_s: Floats, way_m: Floats, window: Window, loop_m: float) -> Thread:
    """A carrier's whole way cut to the window and laid round the loop."""
    inside = (time_s > window.start_s) & (time_s < window.end_s)
    ends_m = np.interp([window.start_s, window.end_s], time_s, way_m)
    times = np.concatenate([[window.start_s], time_s[inside], [window.end_s]])
    ways = np.concatenate([ends_m[:1], way_m[inside], ends_m[1:]])
    laps = np.floor(ways / loop_m)
    axis, when = [], []
    for number in range(len(ways)):
        if number and laps[number] > laps[number - 1]:
            edge_m = laps[number] * loop_m
            edge_s = float(np.interp(edge_m, ways[number - 1 : number + 1], times[number - 1 : number + 1]))
            axis += [loop_m, math.nan, 0.0]
            when += [edge_s] * 3
        axis.append(float(ways[number] - laps[number] * loop_m))
        when.append(float(times[number]))
    return Thread(carrier, np.array(axis), np.array(when), float(ways[-1] - ways[0]))
