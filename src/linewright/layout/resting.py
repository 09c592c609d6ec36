"""Where the carriers stand at time zero."""

from __future__ import annotations

import math

from linewright.errors import Fault, LineFileError
from linewright.layout.graph import ways_of
from linewright.layout.lanes import Layout, Stop
from linewright.layout.placing import place_of
from linewright.line.model import Line


def resting_order(line: Line, layout: Layout) -> tuple[int, ...]:
    """The stops on which the carriers stand at time zero, carrier 0 first.

    Carrier 0 stands at the first station, carrier 1 on the next waiting or dock stop upstream, and so on round the
    loop; none aboard a transfer and none on another station's stop. Where the first step has parallel stations, carrier
    0 stands at the one farthest downstream: the one after which the longest way follows to the next of them. The
    others' stops are other stations' stops and stay free.

    Parameters
    ----------
    line, layout : a line and its own layout

    Returns
    -------
    tuple of int   Ranks, as many as there are carriers.

    Raises
    ------
    LineFileError   There are more carriers than such stops; the message says how many fit.

    Source     semantics.md, Work, Time zero.
    """
    resting = resting_places(line, layout)
    if line.carriers > len(resting):
        raise LineFileError([_carriers_fault(line, len(resting))])
    return resting[: line.carriers]


def resting_places(line: Line, layout: Layout) -> tuple[int, ...]:
    """All stops on which carriers can stand at time zero, in the order of `resting_order`.

    Upstream means round the loop or ring; against the stated direction of a lane to and fro; on a track that branches
    along every lane that leads to the first station, by length of the way, of equal ones the lower rank first.
    """
    first = first_stop(line, layout)
    places = [stop for stop in layout.stops if stop.kind in ("waiting", "dock")]
    if layout.is_closed:
        count = len(layout.stops)
        upstream = sorted(places, key=lambda stop: (first.index - stop.index) % count)
    elif len(layout.lanes) == 1:
        upstream = sorted((one for one in places if one.index < first.index), key=lambda one: -one.index)
    else:
        to_first_m = ways_of(layout).length_m[:, first.index]
        leading = [stop for stop in places if math.isfinite(to_first_m[stop.index])]
        upstream = sorted(leading, key=lambda stop: (round(float(to_first_m[stop.index]), 9), stop.index))
    return (first.index, *(stop.index for stop in upstream))


def first_stop(line: Line, layout: Layout) -> Stop:
    """The stop of the first step's station; of parallel ones the farthest downstream (see resting_order)."""
    stops = [layout.stop_of(name) for name in line.route[0].stations]
    if len(stops) == 1:
        return stops[0]
    if layout.is_closed:

        def way_to_next(stop: Stop) -> float:
            return min((other.axis_m - stop.axis_m) % layout.loop_m for other in stops if other is not stop)

    elif len(layout.lanes) == 1:

        def way_to_next(stop: Stop) -> float:
            return stop.axis_m

    else:
        ways_m = ways_of(layout).length_m

        def way_to_next(stop: Stop) -> float:
            return min(float(ways_m[stop.index, other.index]) for other in stops if other is not stop)

    return max(stops, key=lambda stop: (way_to_next(stop), stop.index))


def _carriers_fault(line: Line, fit: int) -> Fault:
    found = f"{line.carriers} carriers"
    where = "the first station, the waiting stops and the dock stops, where carriers stand at time zero"
    return Fault(place_of(line, "carriers"), found, f"at most {fit}: {where}")
