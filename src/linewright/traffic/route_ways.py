"""Where carriers go: from which stations to which step next, empty or loaded."""

from __future__ import annotations

from collections.abc import Iterator

from linewright.layout import Layout, resting_order
from linewright.line.model import Line
from linewright.traffic.general import Placement
from linewright.traffic.legs import Way
from linewright.traffic.plan import EMPTY, LOADED


def route_ways(line: Line, layout: Layout, start: Placement | None = None) -> tuple[Way, ...]:
    """The ways of all carriers: from each step's stations to those of every step that can come next, and from where
    they stand at time zero.

    Parameters
    ----------
    line, layout : a line and its own layout
    start : where carriers and parts are at time zero, if not as ever
    """
    stops = [tuple(layout.stop_of(name).index for name in step.stations) for step in line.route]
    ways = [
        Way(begin, stops[following], load)
        for step, following, load in sorted(next_steps(line))
        for begin in stops[step]
    ]
    if start is None:
        first = stops[_first_step(line)]
        ways += [Way(stop, first, EMPTY) for stop in resting_order(line, layout) if stop not in first]
    else:
        for stop, step, parts in zip(start.stops, start.steps, start.present, strict=True):
            if stop not in stops[step]:
                ways.append(Way(stop, stops[step], LOADED if parts else EMPTY))
    return tuple(ways)


def next_steps(line: Line) -> set[tuple[int, int, int]]:
    """Which step can follow which, with the load class on the way: (step, next step, EMPTY or LOADED).

    Notes
    -----
    After work: the next step that some variant does not skip, never one for rework alone; to the first step, empty,
    where none is left. After a work that can flag: the exit for which it flags; after one that sends back: the step
    it names. From an exit: the first step, empty. Carriers with several nests may go on with some parts while others
    are flagged: then every step between the flagging one and the exit leads to that exit, and an exit to the steps
    after it. After misses an empty carrier goes to the first step again.
    Source     semantics.md, Next step; Rework; Nests.
    """
    first, several = _first_step(line), line.fixture is not None and line.fixture.nests > 1
    skipped = _skipped(line)
    pairs: set[tuple[int, int, int]] = set()
    for p, step in enumerate(line.route):
        if step.reject_exit:
            pairs.add((p, first, EMPTY))
        if not step.reject_exit or several:
            for skips in skipped:
                if p not in skips:
                    following = _following(line, p, skips)
                    pairs.add((p, first, EMPTY) if following is None else (p, following, LOADED))
        for station in (line.station(name) for name in step.stations):
            if station.rework is not None:
                pairs.add((p, _step_of(line, station.rework.to), LOADED))
            if station.misses > 0.0:
                pairs.add((p, first, EMPTY))
    for p, way_out in _flagged(line):
        between = range(p, way_out) if several else (p,)
        pairs.update((q, way_out, LOADED) for q in between if several or not line.route[q].reject_exit)
    return pairs


def _flagged(line: Line) -> Iterator[tuple[int, int]]:
    """Each step that flags parts, with the step of the exit for which it does."""
    for p, step in enumerate(line.route):
        for station in (line.station(name) for name in step.stations):
            if station.rejects <= 0.0 and station.rework is None:
                continue
            if station.exit is not None:
                yield p, _step_of(line, station.exit)
                continue
            following = next((q for q in range(p + 1, len(line.route)) if line.route[q].reject_exit), None)
            if following is not None:
                yield p, following


def _skipped(line: Line) -> list[frozenset[int]]:
    """The steps that each variant skips; one empty set for a line without variants."""
    if not line.variants:
        return [frozenset()]
    return [
        frozenset(p for p, step in enumerate(line.route) if set(step.stations) <= set(variant.skips))
        for variant in line.variants
    ]


def _following(line: Line, step: int, skips: frozenset[int]) -> int | None:
    """The next step on which a part that is not flagged is worked."""
    for q in range(step + 1, len(line.route)):
        if not (line.route[q].reject_exit or line.route[q].rework_only or q in skips):
            return q
    return None


def _first_step(line: Line) -> int:
    return next(p for p, step in enumerate(line.route) if not step.reject_exit)


def _step_of(line: Line, station: str) -> int:
    return next(p for p, step in enumerate(line.route) if station in step.stations)
