"""Jams: where carriers stand behind one another for long, as areas over place and time.

A carrier stands from its arrival at a stop to its departure; at a station from when it is ready to leave, its work done
and the tool clear, since until then the station holds it and nothing blocks its way; aboard a platform from the end of
the ride. Standing counts when it lasts longer than a threshold, so that the usual queue before the slowest station, in
which every carrier goes on by one stop with each line cycle, is no jam. Standing carriers at neighbouring stops whose
times overlap belong to one jam, and two carriers at least make one. The end of the axis cuts a jam in two, as it cuts
threads.

Two kinds are told apart. A jam in which a part waits, or a carrier that cannot leave its station, costs time and is
outlined. Empty carriers alone that wait for their next part are the line's stock: more of them may stand before the
first station than anybody needs, and their area is pale and has no outline.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout, ways_of
from linewright.line.model import Line
from linewright.pictures.track.logs import Logs
from linewright.pictures.track.window import Window
from linewright.traffic.compile_track import ride_us

Floats = NDArray[np.float64]

SAME_M: Final = 1e-6
NEAR_PITCHES: Final = 1.5  # stops no farther apart than this are neighbours even with a stop between them
LEAST_CARRIERS: Final = 2


@dataclass(frozen=True)
class Rest:
    """A carrier that stands.

    Parameters
    ----------
    carrier : its number
    stop : rank of the stop
    start_s, end_s : from when to when it stands, as far as the log knows. [s]
    is_waiting_empty : it carries no part and is not held at a station where it was worked on
    is_over : the log shows its end
    """

    carrier: int
    stop: int
    start_s: float
    end_s: float
    is_waiting_empty: bool
    is_over: bool = True


@dataclass(frozen=True, eq=False)
class Jam:
    """Carriers that stand behind one another.

    Parameters
    ----------
    rests : of its carriers, as long as the log knows them
    carriers : how many different ones
    before : what stands next on the way, such as ``before screw``, ``at screw``, ``on lane bed``
    longest_s : of its rests. [s]
    start_s, end_s : of all of them. [s]
    is_over : all of them end within the log
    is_empty : of carriers without parts alone, none of them held at a station
    outline_m, outline_s : shape (n,), the corners of the area within the window, loop after loop with NaN between;
        the last corner of a loop is its first. [m], [s]
    """

    rests: tuple[Rest, ...]
    carriers: int
    before: str
    longest_s: float
    start_s: float
    end_s: float
    is_over: bool
    is_empty: bool
    outline_m: Floats
    outline_s: Floats


def find_jams(line: Line, layout: Layout, logs: Logs, window: Window, standing_s: float) -> tuple[Jam, ...]:
    """The jams that reach into a window, by their start.

    Parameters
    ----------
    line, layout, logs : what ran, and its log
    window : what is drawn; outlines are cut to it
    standing_s : longer than this a carrier must stand. [s]
    """
    rests = find_rests(line, layout, logs, window, standing_s)
    chain = _Chain.of(layout)
    jams = []
    for group in _groups(rests, chain, window):
        carriers = len({rest.carrier for rest in group})
        if carriers < LEAST_CARRIERS:
            continue
        outline_m, outline_s = _outline(group, layout, window)
        jams.append(
            Jam(
                rests=tuple(group),
                carriers=carriers,
                before=_before(layout, chain, group),
                longest_s=max(rest.end_s - rest.start_s for rest in group),
                start_s=min(rest.start_s for rest in group),
                end_s=max(rest.end_s for rest in group),
                is_over=all(rest.is_over for rest in group),
                is_empty=all(rest.is_waiting_empty for rest in group),
                outline_m=outline_m,
                outline_s=outline_s,
            )
        )
    return tuple(sorted(jams, key=lambda jam: (jam.start_s, jam.outline_m[0])))


def find_rests(line: Line, layout: Layout, logs: Logs, window: Window, standing_s: float) -> list[Rest]:
    """All standing that lasts longer than a threshold and reaches into a window, by carrier and time."""
    found = _between_moves(logs, window, standing_s)
    works = _Works(line, layout, logs)
    platforms = {
        rank: max(
            ride_us(line.conveyor.transfers[one.kind], one.kind, layout.lane(take), layout.lane(give))
            for take in one.takes
            for give in one.gives
        )
        / 1e6
        for one in layout.transfers
        for rank in one.aboards
    }
    rests = []
    for rest in found:
        stop = layout.stops[rest.stop]
        if stop.station is not None:
            ready_s = works.ready_s(rest)
            if ready_s is None:
                continue
            begun = ready_s > rest.start_s
            rest = replace(rest, start_s=ready_s, is_waiting_empty=rest.is_waiting_empty and not begun)
        elif rest.stop in platforms:
            rest = replace(rest, start_s=rest.start_s + platforms[rest.stop])
        if rest.end_s - rest.start_s > standing_s and rest.end_s > window.start_s and rest.start_s < window.end_s:
            rests.append(rest)
    return rests


def _between_moves(logs: Logs, window: Window, least_s: float) -> list[Rest]:
    """Stays between two moves that are longer than told and reach into the window; those at the log's ends as far as
    it knows them."""
    if len(logs.carrier):
        first = np.flatnonzero(np.diff(logs.carrier, prepend=-1) != 0)
        last = np.append(first[1:], len(logs.carrier)) - 1
    else:
        first = last = np.zeros(0, np.int64)
    never = np.setdiff1d(np.flatnonzero(logs.stands >= 0), logs.carrier)
    inner = np.setdiff1d(np.arange(len(logs.carrier)), last)
    from_s, to_s = np.full(len(first), logs.from_s), np.full(len(last), logs.to_s)
    carrier = np.concatenate([logs.carrier[inner], logs.carrier[first], logs.carrier[last], never])
    stop = np.concatenate([logs.to_stop[inner], logs.from_stop[first], logs.to_stop[last], logs.stands[never]])
    start_s = np.concatenate([logs.arrival_s[inner], from_s, logs.arrival_s[last], np.full(len(never), logs.from_s)])
    end_s = np.concatenate([logs.departure_s[inner + 1], logs.departure_s[first], to_s, np.full(len(never), logs.to_s)])
    # What a carrier carries that never moves is not known: a line that stands still must not pass for idle stock.
    loaded = np.concatenate([logs.loaded[inner + 1], logs.loaded[first], logs.loaded[last], np.ones(len(never), bool)])
    over = np.concatenate([np.ones(len(inner) + len(first), bool), np.zeros(len(last) + len(never), bool)])
    chosen = np.flatnonzero((end_s - start_s > least_s) & (end_s > window.start_s) & (start_s < window.end_s))
    chosen = chosen[np.lexsort((start_s[chosen], carrier[chosen]))]
    columns = (carrier, stop, start_s, end_s, ~loaded, over)
    return [Rest(*row) for row in zip(*(column[chosen].tolist() for column in columns), strict=True)]


class _Works:
    """When works end, by carrier."""

    def __init__(self, line: Line, layout: Layout, logs: Logs) -> None:
        order = np.lexsort((logs.work_start_s, logs.work_carrier))
        self._carrier, self._start_s = logs.work_carrier[order], logs.work_start_s[order]
        self._end_s, self._stop, self._logs = logs.work_end_s[order], logs.work_stop[order], logs
        done_s = line.conveyor.reaction.done_handshake_s
        self._after_s = {layout.stop_of(one.name).index: one.clear_s + done_s for one in line.stations}

    def ready_s(self, rest: Rest) -> float | None:
        """From when on a carrier at a station is ready to leave; None where the log does not show it to be.

        One that the log shows to come and go without a work stands there as at any stop.
        """
        first = int(np.searchsorted(self._carrier, rest.carrier))
        last = int(np.searchsorted(self._carrier, rest.carrier, side="right"))
        number = first + int(np.searchsorted(self._start_s[first:last], rest.end_s)) - 1
        worked = number >= first and self._stop[number] == rest.stop and self._end_s[number] > rest.start_s
        if worked:
            return float(self._end_s[number]) + self._after_s[rest.stop]
        return rest.start_s if rest.is_over and rest.start_s > self._logs.from_s else None


@dataclass(frozen=True, eq=False)
class _Chain:
    """The stops in the order of the axis, and where they follow one another without a break.

    Parameters
    ----------
    order : ranks of the stops, ascending on the axis
    position : of each rank, its number in that order
    piece : of each rank, the number of the unbroken piece of axis that it lies on
    near : of each rank, its neighbours
    onward : of each rank the stop that follows, -1 at the track's end
    """

    order: list[int]
    position: dict[int, int]
    piece: dict[int, int]
    near: dict[int, tuple[int, ...]]
    onward: dict[int, int]

    @staticmethod
    def of(layout: Layout) -> _Chain:
        order = [stop.index for stop in sorted(layout.stops, key=lambda stop: (stop.axis_m, stop.index))]
        places = [layout.stops[rank].axis_m for rank in order]
        ways = ways_of(layout)
        apart = {(start, hop.to): hop.length_m for start, hops in enumerate(ways.hops) for hop in hops}
        piece, number = {}, 0
        for at, rank in enumerate(order):
            if at:
                length_m = apart.get((order[at - 1], rank), apart.get((rank, order[at - 1]), -1.0))
                number += abs(length_m - (places[at] - places[at - 1])) > SAME_M
            piece[rank] = number
        near: dict[int, list[int]] = {rank: [] for rank in order}
        for at, rank in enumerate(order):
            for other in range(at + 1, len(order)):
                close = other == at + 1 or places[other] - places[at] <= NEAR_PITCHES * layout.pitch_m
                if not close or piece[order[other]] != piece[rank]:
                    break
                near[rank].append(order[other])
                near[order[other]].append(rank)
        position = {rank: at for at, rank in enumerate(order)}
        onward = dict(enumerate(int(rank) for rank in ways.onward))
        return _Chain(order, position, piece, {rank: tuple(some) for rank, some in near.items()}, onward)


def _groups(rests: list[Rest], chain: _Chain, window: Window) -> list[list[Rest]]:
    """Rests at neighbouring stops that overlap within the window, put together."""
    at_stop: dict[int, list[int]] = {}
    for number in sorted(range(len(rests)), key=lambda number: rests[number].start_s):
        at_stop.setdefault(rests[number].stop, []).append(number)
    parent = list(range(len(rests)))

    def root(number: int) -> int:
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = parent[number]
        return number

    for stop, numbers in at_stop.items():
        for other in chain.near[stop]:
            ends = np.array([rests[number].end_s for number in at_stop.get(other, [])])
            for number in numbers:
                rest = rests[number]
                first = int(np.searchsorted(ends, max(rest.start_s, window.start_s), side="right"))
                for there in at_stop.get(other, [])[first:]:
                    if rests[there].start_s >= min(rest.end_s, window.end_s):
                        break
                    parent[root(there)] = root(number)
    groups: dict[int, list[Rest]] = {}
    for number, rest in enumerate(rests):
        groups.setdefault(root(number), []).append(rest)
    return list(groups.values())


def _before(layout: Layout, chain: _Chain, group: list[Rest]) -> str:
    """What is next on the way of the foremost carrier."""
    foremost = layout.stops[max((rest.stop for rest in group), key=lambda rank: chain.position[rank])]
    if foremost.kind != "aboard" and layout.lane(foremost.lane).two_way:
        return f"on lane {foremost.lane}"
    if foremost.station is not None:
        return f"at {foremost.station} and behind it"
    ahead = foremost
    for _ in layout.stops:
        rank = chain.onward.get(ahead.index, -1)
        if rank < 0:
            break
        ahead = layout.stops[rank]
        if ahead.station is not None or ahead.transfer is not None:
            return f"before {ahead.station or ahead.transfer}"
    return f"at the end of lane {foremost.lane}"


def _outline(group: list[Rest], layout: Layout, window: Window) -> tuple[Floats, Floats]:
    """The edge of the area that rests cover: each stop a column up to half way to the next of the jam, each rest its
    stretch of it."""
    spans: dict[float, list[tuple[float, float]]] = {}
    for rest in group:
        span = (max(rest.start_s, window.start_s), min(rest.end_s, window.end_s))
        spans.setdefault(layout.stops[rest.stop].axis_m, []).append(span)
    places = sorted(spans)
    half_m = layout.body_m / 2
    edges = [places[0] - half_m, *((a + b) / 2 for a, b in pairwise(places)), places[-1] + half_m]
    columns = [_united(spans[place]) for place in places]
    strokes: list[tuple[tuple[float, float], tuple[float, float]]] = []
    for number, column in enumerate(columns):
        left, right = edges[number], edges[number + 1]
        for start_s, end_s in column:
            strokes.append(((left, start_s), (right, start_s)))
            strokes.append(((right, end_s), (left, end_s)))
    for at_m, before, after in zip(edges, [[], *columns], [*columns, []], strict=True):
        for start_s, end_s, is_before in _one_side(before, after):
            ends = ((at_m, start_s), (at_m, end_s))
            strokes.append(ends if is_before else (ends[1], ends[0]))
    return _loops(strokes)


def _united(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Spans of time in order, those that meet as one."""
    united: list[tuple[float, float]] = []
    for start_s, end_s in sorted(spans):
        if united and start_s <= united[-1][1]:
            united[-1] = (united[-1][0], max(united[-1][1], end_s))
        else:
            united.append((start_s, end_s))
    return united


def _one_side(before: list[tuple[float, float]], after: list[tuple[float, float]]) -> list[tuple[float, float, bool]]:
    """Stretches of time at an edge between two columns in which one side alone is covered, and whether the first is."""
    changes = sorted(
        (instant, side, step)
        for side, spans in ((0, before), (1, after))
        for span in spans
        for instant, step in zip(span, (1, -1), strict=True)
    )
    stretches, covered = [], [0, 0]
    for (start_s, side, step), (end_s, _, _) in pairwise(changes):
        covered[side] += step
        if end_s > start_s and (covered[0] > 0) != (covered[1] > 0):
            stretches.append((start_s, end_s, covered[0] > 0))
    return stretches


def _loops(strokes: list[tuple[tuple[float, float], tuple[float, float]]]) -> tuple[Floats, Floats]:
    """Strokes that follow one another as closed loops, one after the other, corners in between left out."""
    onward: dict[tuple[float, float], list[tuple[float, float]]] = {}
    for begin, until in sorted(strokes, reverse=True):
        onward.setdefault(begin, []).append(until)
    corners: list[tuple[float, float]] = []
    for begin in sorted(onward):
        while onward[begin]:
            loop = [begin]
            while True:
                loop.append(onward[loop[-1]].pop())
                if loop[-1] == begin:
                    break
            corners += [*_corners(loop), (np.nan, np.nan)]
    flat = np.array(corners[:-1])
    return flat[:, 0], flat[:, 1]


def _corners(loop: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A closed loop without the points in the midst of straight strokes."""
    inner = loop[:-1]
    kept = [
        here
        for before, here, after in zip([inner[-1], *inner[:-1]], inner, [*inner[1:], inner[0]], strict=True)
        if not (before[0] == here[0] == after[0] or before[1] == here[1] == after[1])
    ]
    return [*kept, kept[0]]
