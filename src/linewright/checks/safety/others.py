"""Other lanes within reach of an operator station: their carriers run on while its guard stops those of its own."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.checks.safety.guard_rows import PAGE
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.station import Station

REACH_M: Final = 0.85
"""How far an arm reaches past what it leans over: the greatest reach of the tables of ISO 13857, from memory. [m]"""
OTHERS_SOURCE: Final = f"reach of 850 mm: ISO 13857, from memory; {PAGE}, Other lanes within reach"


@dataclass(frozen=True, slots=True)
class NearLane:
    """A lane near an operator station.

    Parameters
    ----------
    name : of the lane
    distance_m : from the place where the carrier stands to the nearest that carriers of the lane come. [m]
    """

    name: str
    distance_m: float


def lanes_within_reach(line: Line, layout: Layout, station: Station) -> tuple[NearLane, ...]:
    """The lanes whose carriers come within reach of the place where the carrier stands at a station, nearest first.

    Notes      The least distance from the stretch of track under the body that stands there to the other lane, along,
               across and in height; across half a width of a carrier or its fixture is taken off, in height the
               fixture's. A ring is the one lane of its line.
    """
    here, fixture = layout.stop_of(station.name), line.fixture
    own, half_m = layout.lane(station.lane), layout.body_m / 2
    envelope_m = None if fixture is None else fixture.envelope_m
    _, wide_m, high_m = envelope_m or (0.0, 0.0, 0.0)
    aside_m = max(line.conveyor.carrier.width_m, wide_m) / 2
    found = []
    for lane in layout.lanes:
        if lane.name == own.name or lane.is_ring:
            continue
        low_m, end_m = lane.west_end_m, lane.west_end_m + lane.length_m
        along_m = max(low_m - (here.floor_m + half_m), here.floor_m - half_m - end_m, 0.0)
        across_m = max(abs(lane.across_m - own.across_m) - aside_m, 0.0)
        up_m = max(abs(lane.level_m - own.level_m) - high_m, 0.0)
        found.append(NearLane(lane.name, math.sqrt(along_m**2 + across_m**2 + up_m**2)))
    near = [one for one in found if one.distance_m <= REACH_M + 1e-9]
    return tuple(sorted(near, key=lambda one: one.distance_m))


def other_lane_row(line: Line, station: Station, near: tuple[NearLane, ...]) -> Finding:
    """Whether the carriers of other lanes near by are out of reach, as is stated; asked where there are any."""
    guard = station.guard
    assert guard is not None and near  # noqa: PT018  asked for such stations alone
    place = line.place("stations", station.name, "guard", "others_out_of_reach")
    where = f"station {station.name}: its guard does not stop the carriers of {_lanes(line, near)}"
    figures = (near[0].distance_m, None, "m", None)
    if guard.others_out_of_reach:
        where += "; it is stated that they cannot be reached from here"
        return Finding("other-lane", "safety", "holds", where, place, *figures, OTHERS_SOURCE, "")
    where += "; who reaches in here reaches carriers that run on"
    remedy = (
        "guarded: fixed covers between this station and the other lane, then others_out_of_reach: true; or farther: "
        f"the other lane so far off that this is more than {length_text(REACH_M, line.units)}"
    )
    return Finding("other-lane", "safety", "fails", where, place, *figures, OTHERS_SOURCE, remedy)


def others_missing_row(line: Line, unasked: tuple[tuple[Station, tuple[NearLane, ...]], ...]) -> Finding:
    """Guarded stations of which nothing says whether the carriers of other lanes near by can be reached."""
    names = ", ".join(station.name for station, _ in unasked)
    told = "; ".join(f"at {station.name} {_lanes(line, near)}" for station, near in unasked)
    where = (
        f"station{'s' if len(unasked) > 1 else ''} {names}: whether the carriers of other lanes, which the guard does "
        f"not stop, can be reached is not stated: {told}; nor are the crush gaps checked"
    )
    place = line.place("stations", unasked[0][0].name, "guard")
    remedy = (
        "state the key others_out_of_reach under guard at each of these stations in the line file: true where a fixed "
        "cover (say) keeps hands from the other lane"
    )
    figures = (None, None, None, None)
    return Finding("other-lane", "safety", "not checked", where, place, *figures, OTHERS_SOURCE, remedy)


def _lanes(line: Line, near: tuple[NearLane, ...]) -> str:
    return ", ".join(f"lane {one.name}, {length_text(round(one.distance_m, 4), line.units)} away" for one in near)
