"""What carriers did, as lines to draw: one thread a carrier over place and time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout, ways_of
from linewright.line.model import Line
from linewright.motion.curves import leg_limits
from linewright.motion.profile import Move, plan_move
from linewright.pictures.track.jams import Jam, find_jams
from linewright.pictures.track.logs import Logged, Logs, long_logs, reach_of, run_logs
from linewright.pictures.track.thinned import kept_points
from linewright.pictures.track.time_scale import is_compressed, plot_height_px
from linewright.pictures.track.unrolled import AxisStretch, LegCurve, axis_stretches, leg_curve
from linewright.pictures.track.window import Window
from linewright.pictures.track.works import DrawnFailure, DrawnWork, drawn_failures, drawn_works, merged_works

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation

__all__ = ["Logged", "Seen", "Thread", "Window", "carrier_threads", "choose_window", "what_is_seen"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

POINTS_A_MOVE: Final = 13
WINDOW_S: Final = 120.0
CURVE_PX: Final = 0.1  # the curve of a move is drawn as exactly as this
STRETCHED: Final = 1e6  # with the place stretched so far the distance to a stroke is the difference in time
SMALL_S: Final = 1e-6
STANDING_CYCLES: Final = 3.0
LEAST_STANDING_S: Final = 5.0


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


def choose_window(from_s: float, to_s: float, warm_up_s: float, start_s: float | None, span_s: float | None) -> Window:
    """The window to draw.

    Parameters
    ----------
    from_s, to_s : between these the moves are known. [s]
    warm_up_s : when the line runs as it does for long. [s]
    start_s : where it begins; by default the first whole second after the warm-up, or so early that the span ends with
        the moves
    span_s : how long it is; by default two minutes, or as long as the moves are known

    Raises
    ------
    ValueError   The moves are not known so early or so long, or the span is not positive; it says what may be asked.
    """
    known = f"moves are known from {from_s:.6g} s to {to_s:.6g} s"
    if span_s is not None and not span_s > 0.0:
        raise ValueError(f"span_s is {span_s} s; it must be positive")
    if span_s is not None and span_s > to_s - from_s + SMALL_S:
        raise ValueError(f"span_s is {span_s:.6g} s; {known}, so at most {to_s - from_s:.6g} s may be asked for")
    if start_s is None:
        start_s = max(from_s, min(math.ceil(warm_up_s), to_s - (WINDOW_S if span_s is None else span_s)))
    if not from_s <= start_s < to_s:
        raise ValueError(f"start_s is {start_s:.6g} s; {known}")
    if span_s is not None and start_s + span_s > to_s + SMALL_S:
        raise ValueError(
            f"start_s is {start_s:.6g} s and span_s is {span_s:.6g} s; {known}, so at most {to_s - start_s:.6g} s may "
            f"be asked for from there"
        )
    return Window(start_s, min(start_s + (WINDOW_S if span_s is None else span_s), to_s))


def carrier_threads(line: Line, layout: Layout, run: Logged, window: Window) -> tuple[Thread, ...]:
    """The threads of a run within its own logs; see `threads_of`."""
    return threads_of(line, layout, run_logs(line, layout, run), window)


def threads_of(line: Line, layout: Layout, logs: Logs, window: Window, grain_s: float = 0.0) -> tuple[Thread, ...]:
    """One thread for each carrier whose place is known, moves drawn as the jerk-limited curves that they are.

    A carrier stands where its first logged move starts; one without a move where it works, or where it stood at time
    zero if the logs start there; else its place is not known and it has no thread.

    Parameters
    ----------
    line, layout : the line and its layout
    logs : its moves
    window : what to draw
    grain_s : a thread may be so early or late at a place within a move, >= 0. [s]

    Notes      A move of the log takes whole microseconds; its curve is the float move over the same distance, stretched
               by the less than a microsecond that rounding up added.
    """
    inside = np.flatnonzero((logs.arrival_s > window.start_s) & (logs.departure_s < window.end_s))
    cut = (logs.departure_s[inside] < window.start_s) | (logs.arrival_s[inside] > window.end_s)
    curves = _Curves.of(line, layout, logs, inside, np.where(cut, 0.0, grain_s))
    bounds = np.searchsorted(logs.carrier[inside], np.arange(len(logs.stands) + 1))
    starts = _places_at(logs, window.start_s)
    threads = []
    for carrier in np.flatnonzero(logs.stands >= 0).tolist():
        some = slice(bounds[carrier], bounds[carrier + 1])
        moves = inside[some]
        axis_m, time_s = curves.joined(curves.kind[some], logs.departure_s[moves], logs.arrival_s[moves])
        rests_m = layout.stops[int(starts[carrier])].axis_m
        ends_m = layout.stops[int(logs.to_stop[moves[-1]])].axis_m if len(moves) else rests_m
        axis_m = np.concatenate([[rests_m], axis_m, [ends_m]])
        time_s = np.concatenate([[-np.inf], time_s, [np.inf]])
        threads.append(_cut(carrier, axis_m, time_s, window))
    return tuple(threads)


def _places_at(logs: Logs, at_s: float) -> Ints:
    """On which stop each carrier stands at an instant, or the one that it left last; -1 where that is not known."""
    places = logs.stands.copy()
    begun = np.flatnonzero(logs.departure_s <= at_s)
    there = np.where(logs.arrival_s[begun] <= at_s, logs.to_stop[begun], logs.from_stop[begun])
    places[logs.carrier[begun]] = there  # in order of departure: the last assignment stays
    return places


def _cut(carrier: int, axis_m: Floats, time_s: Floats, window: Window) -> Thread:
    """A carrier's line cut to the window."""
    first = int(np.searchsorted(time_s, window.start_s, side="right"))
    last = int(np.searchsorted(time_s, window.end_s, side="left"))
    begin_m = _between(axis_m, time_s, first, window.start_s)
    end_m = _between(axis_m, time_s, last, window.end_s)
    places = np.concatenate([[begin_m], axis_m[first:last], [end_m]])
    times = np.concatenate([[window.start_s], time_s[first:last], [window.end_s]])
    return Thread(carrier, places, times, float(np.nansum(np.abs(np.diff(places)))))


def _between(axis_m: Floats, time_s: Floats, after: int, at_s: float) -> float:
    """The place at an instant that lies between a point and the one before it."""
    before_s, after_s = time_s[after - 1], time_s[after]
    if np.isinf(before_s):
        return float(axis_m[after - 1])
    share = 0.0 if np.isinf(after_s) else (at_s - before_s) / (after_s - before_s)
    return float(axis_m[after - 1] + share * (axis_m[after] - axis_m[after - 1]))


@dataclass(frozen=True, eq=False)
class _Curves:
    """The lines of all kinds of moves of a window, one after the other.

    Parameters
    ----------
    kind : int64[R]              Of each move
    first, length : int64[K]     Where the points of each kind begin, and how many they are
    share, axis_m : float64[P]   See `LegCurve`
    """

    kind: Ints
    first: Ints
    length: Ints
    share: Floats
    axis_m: Floats

    @staticmethod
    def of(line: Line, layout: Layout, logs: Logs, moves: Ints, grain_s: Floats) -> _Curves:
        """The lines of these moves, each with its grain; what the window cuts has none, so that it ends in place."""
        stops, coarse = len(layout.stops), float(grain_s.max(initial=0.0))
        keys = (logs.from_stop[moves] * stops + logs.to_stop[moves]) * 2 + logs.loaded[moves]
        keys = keys * 2 + (grain_s > 0.0)
        made = np.flatnonzero(np.bincount(keys, minlength=1))
        numbers = np.zeros(4 * stops * stops, np.int64)
        numbers[made] = np.arange(len(made))
        plotter = _Plotter(line, layout)
        lines = [
            plotter.curve(key // 4 // stops, key // 4 % stops, key // 2 % 2 == 1, coarse if key % 2 else 0.0)
            for key in made.tolist()
        ]
        length = np.array([len(one.share) for one in lines], np.int64)
        first = np.concatenate([np.zeros(1, np.int64), np.cumsum(length)])[:-1]
        nothing = [np.zeros(0)]
        share = np.concatenate([one.share for one in lines] or nothing)
        axis_m = np.concatenate([one.axis_m for one in lines] or nothing)
        return _Curves(numbers[keys], first, length, share, axis_m)

    def joined(self, kind: Ints, departure_s: Floats, arrival_s: Floats) -> tuple[Floats, Floats]:
        """Places and instants of moves one after the other."""
        lengths = self.length[kind]
        begins = np.cumsum(lengths) - lengths
        at = np.arange(int(lengths.sum())) + np.repeat(self.first[kind] - begins, lengths)
        span_s = np.repeat(arrival_s - departure_s, lengths)
        return self.axis_m[at], np.repeat(departure_s, lengths) + self.share[at] * span_s


class _Plotter:
    """Makes the line of a kind of move; profiles of equal moves are planned once."""

    def __init__(self, line: Line, layout: Layout) -> None:
        self._line, self._layout = line, layout
        self._ways = None if layout.is_closed else ways_of(layout)
        self._moves: dict[tuple[bool, float, bool], Move] = {}

    def curve(self, start: int, end: int, loaded: bool, grain_s: float) -> LegCurve:
        """The line of a move from stop to stop, nowhere earlier or later by more than the grain."""
        stretches = axis_stretches(self._layout, self._ways, start, end)
        distance_m = sum(stretch.length_m for stretch in stretches)
        key = (loaded, round(distance_m, 9), _curved(self._layout, stretches[0], distance_m))
        if key not in self._moves:
            self._moves[key] = plan_move(distance_m, leg_limits(self._line, loaded, distance_m, key[2]).limits)
        move, share = self._moves[key], np.linspace(0.0, 1.0, POINTS_A_MOVE)
        whole = leg_curve(stretches, share, move.position_m(share * move.duration_s))
        if not grain_s:
            return whole
        kept = kept_points(whole.axis_m * STRETCHED, whole.share * move.duration_s / grain_s, 1.0)
        return LegCurve(whole.share[kept], whole.axis_m[kept])


def _curved(layout: Layout, first: AxisStretch, distance_m: float) -> bool:
    """Whether a move reaches into a curve: only a ring has any, and it is all one lane."""
    lane = layout.lanes[0]
    half_m = layout.body_m / 2
    return lane.is_ring and lane.touches_curve(first.from_m - half_m, first.from_m + distance_m + half_m)


@dataclass(frozen=True, eq=False)
class Seen:
    """What of a run the track chart shows.

    Parameters
    ----------
    window : the stretch of time
    threads : of all carriers whose place is known
    works : within the window, those without a failure; where the window is compressed, joined where nobody could tell
        them apart
    failures : the works within it in which the station failed
    jams : where carriers stand behind one another
    standing_s : from which duration on a carrier counts as standing. [s]
    standing_why : where that comes from
    bold : number of the carrier that is drawn bold; None where no thread is known
    """

    window: Window
    threads: tuple[Thread, ...]
    works: tuple[DrawnWork, ...]
    failures: tuple[DrawnFailure, ...]
    jams: tuple[Jam, ...]
    standing_s: float
    standing_why: str
    bold: int | None


def what_is_seen(
    evaluation: Evaluation, start_s: float | None = None, span_s: float | None = None, carrier: int | None = None
) -> Seen | None:
    """What of an evaluation's run the track chart shows; None without a run.

    Parameters
    ----------
    start_s, span_s : see `choose_window`; up to the 8 h that the duty keeps
    carrier : the one to draw bold; by default the one that travels farthest

    Raises
    ------
    ValueError   The moves are not known so early or so long, or there is no such carrier.
    """
    run, line, layout = evaluation.run, evaluation.line, evaluation.layout
    if run is None:
        return None
    window = choose_window(*reach_of(evaluation), run.warm_up_s, start_s, span_s)
    duty = evaluation.duty
    is_long = window.end_s > run.trace_to_s and duty is not None
    logs = long_logs(line, layout, run, duty) if is_long and duty is not None else run_logs(line, layout, run)
    span_s = window.end_s - window.start_s
    s_a_px = span_s / plot_height_px(span_s)
    threads = threads_of(line, layout, logs, window, CURVE_PX * s_a_px)
    bold = _bold_carrier(threads, carrier)
    works = drawn_works(line, layout, logs, window)
    standing_s, standing_why = LEAST_STANDING_S, "the least that counts"
    if run.line_cycle_s is not None and STANDING_CYCLES * run.line_cycle_s > standing_s:
        standing_s, standing_why = STANDING_CYCLES * run.line_cycle_s, "three line cycles"
    return Seen(
        window=window,
        threads=threads,
        works=merged_works(works, s_a_px) if is_compressed(span_s) else works,
        failures=drawn_failures(line, layout, logs, window),
        jams=find_jams(line, layout, logs, window, standing_s),
        standing_s=standing_s,
        standing_why=standing_why,
        bold=bold,
    )


def _bold_carrier(threads: tuple[Thread, ...], carrier: int | None) -> int | None:
    if carrier is None:
        farthest = max(threads, key=lambda thread: (round(thread.travel_m, 6), -thread.carrier), default=None)
        return None if farthest is None else farthest.carrier
    if carrier not in {thread.carrier for thread in threads}:
        known = ", ".join(str(thread.carrier) for thread in threads)
        raise ValueError(f"there is no thread of carrier {carrier}; there are those of {known}")
    return carrier
