"""Works and failures as strokes and areas at their stations.

The log says of each work how much of it is repair, not when the repair is. Where a station fails only once in so many
works, the repair comes before anything of the work is done, so that its begin and end are known. Where it fails by
running time or by the clock, the repair lies somewhere within the work. A clock failure at a station that is not at
work is in no work, and so in no log.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.line.model import Line
from linewright.pictures.track.logs import Logs
from linewright.pictures.track.window import Window

APART_PX: Final = 1.0
EACH_PX: Final = 3.0
"""In a compressed window works are one stroke where less than this lies between two, or between their begins."""


@dataclass(frozen=True)
class DrawnWork:
    """A stretch of work, cut to the window.

    Parameters
    ----------
    station : as in the run's tables
    carrier, serial : of the first of its works
    axis_m : place of the station. [m]
    start_s, end_s : as far as the window shows them. [s]
    count : of works; more than one where they could not be told apart
    """

    station: str
    carrier: int
    serial: int
    axis_m: float
    start_s: float
    end_s: float
    count: int = 1


@dataclass(frozen=True)
class DrawnFailure:
    """A work in which its station failed.

    Parameters
    ----------
    station, carrier, serial : as in the run's tables
    axis_m : place of the station. [m]
    start_s, end_s : of the repair where that is known, else of the work. [s]
    work_end_s : of the work. [s]
    repair_s : how much of it is repair. [s]
    is_exact : begin and end of the repair are known
    """

    station: str
    carrier: int
    serial: int
    axis_m: float
    start_s: float
    end_s: float
    work_end_s: float
    repair_s: float
    is_exact: bool


def drawn_works(line: Line, layout: Layout, logs: Logs, window: Window) -> tuple[DrawnWork, ...]:
    """The works that reach into the window, cut to it, by station and then by time: those without a failure, and what
    follows the repair where it is known when that ends."""
    at_first, works = _failing_at_first(line), []
    for station, axis_m, carrier, serial, start_s, end_s, repair_s in _rows(layout, logs, _inside(logs, window)):
        begin_s = max(start_s + repair_s, window.start_s)
        if begin_s < min(end_s, window.end_s) and (repair_s == 0.0 or at_first[station]):
            works.append(DrawnWork(station, carrier, serial, axis_m, begin_s, min(end_s, window.end_s)))
    return tuple(sorted(works, key=lambda work: (work.axis_m, work.start_s)))


def merged_works(works: tuple[DrawnWork, ...], s_a_px: float) -> tuple[DrawnWork, ...]:
    """Works of one station joined where they are too close to be told apart.

    Parameters
    ----------
    works : by station and then by time
    s_a_px : how long a pixel is. [s]
    """
    merged: list[DrawnWork] = []
    last_s = 0.0
    for work in works:
        before = merged[-1] if merged else None
        close = before is not None and (
            work.start_s - before.end_s < APART_PX * s_a_px or work.start_s - last_s < EACH_PX * s_a_px
        )
        last_s = work.start_s
        if before is not None and close and before.station == work.station:
            merged[-1] = replace(before, end_s=max(before.end_s, work.end_s), count=before.count + work.count)
        else:
            merged.append(work)
    return tuple(merged)


def drawn_failures(line: Line, layout: Layout, logs: Logs, window: Window) -> tuple[DrawnFailure, ...]:
    """Every failure that reaches into the window, once, with its whole extent."""
    at_first, failures = _failing_at_first(line), []
    for station, axis_m, carrier, serial, start_s, end_s, repair_s in _rows(
        layout, logs, _inside(logs, window) & (logs.work_repair_s > 0.0)
    ):
        exact = at_first[station]
        until_s = start_s + repair_s if exact else end_s
        if until_s > window.start_s:
            failures.append(
                DrawnFailure(station, carrier, serial, axis_m, start_s, until_s, end_s, repair_s, is_exact=exact)
            )
    return tuple(failures)


def _failing_at_first(line: Line) -> dict[str, bool]:
    """Whether each station fails only once in so many works, so that the repair begins with the work."""
    return {one.name: all(failure.one_in is not None for failure in one.failures) for one in line.stations}


def _inside(logs: Logs, window: Window) -> NDArray[np.bool_]:
    return (logs.work_end_s > window.start_s) & (logs.work_start_s < window.end_s)


def _rows(
    layout: Layout, logs: Logs, some: NDArray[np.bool_]
) -> list[tuple[str, float, int, int, float, float, float]]:
    """Station, place, carrier, serial, start, end and repair of some works."""
    stops = [layout.stops[rank] for rank in logs.work_stop[some].tolist()]
    return list(
        zip(
            [stop.station or "" for stop in stops],
            [stop.axis_m for stop in stops],
            logs.work_carrier[some].tolist(),
            logs.work_serial[some].tolist(),
            logs.work_start_s[some].tolist(),
            logs.work_end_s[some].tolist(),
            logs.work_repair_s[some].tolist(),
            strict=True,
        )
    )
