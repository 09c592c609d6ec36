"""Where carriers may rest: stops laid on every lane, and where the carriers stand at time zero."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from linewright.errors import Fault, LineFileError, Place
from linewright.layout.lanes import (
    SAME_PLACE_M,
    LaneLayout,
    Layout,
    Stop,
    StopKind,
    TransferLayout,
    body_length_m,
    least_pitch_m,
    travel_order,
)
from linewright.layout.sections import SectionCut, SectionCutError, cut_sections
from linewright.line.model import Lane, Line, Transfer

MM_PER_M: Final = 1000.0
INCH_M: Final = 0.0254


@dataclass(frozen=True)
class Crowding:
    """Two places, next to each other in travel, where a carrier may have to stand while another stands at the other.

    Parameters
    ----------
    before, after : the two stops, upstream one first
    distance_m : between their centres along the axis. [m]
    """

    before: Stop
    after: Stop
    distance_m: float


def lay_out(line: Line) -> Layout:
    """Unroll the track of a line, cut its lanes from stock and lay its stops.

    Stops of a lane, in travel: waiting stops and stations, then the dock stop at its end; after it comes the place
    aboard the transfer. Upstream of every station and of the dock lies a grid of waiting stops, a least pitch apart.
    Its first place is one least pitch from the station or dock; upstream of a station half a body beyond its keep-clear
    stretch, where that is farther. It ends where less than a least pitch would remain to the station before, or, on the
    lane's first stretch, where less than half a body would remain to the lane's start. A place of the grid at which a
    waiting carrier's body would reach into the keep-clear stretch of **any** station of that lane is left out; the rest
    of the grid stays where it is.

    Parameters
    ----------
    line : a validated line

    Returns
    -------
    Layout   Also for a track on which no traffic is possible: then `blocking` says why.

    Raises
    ------
    LineFileError   No sections can be laid for a lane (all such lanes at once); or there are more carriers than places
                    for them at time zero. A station off its lane never comes this far: no Line can be made with one.
    ValueError      The transfers do not form one closed loop (a read line file always does).

    Notes      A body may touch a keep-clear stretch or a lane's end. Places count as equal within 1e-9 m.
    Source     semantics.md, Places and moves.
    """
    cuts = _checked_cuts(line)
    pitch_m, body_m = least_pitch_m(line), body_length_m(line)
    lanes: list[LaneLayout] = []
    transfers: list[TransferLayout] = []
    stops: list[Stop] = []
    axis_m = 0.0
    for lane in travel_order(line):
        placed = _place_lane(lane, cuts[lane.name], axis_m)
        transfer = next(one for one in line.transfers if one.takes == lane.name)
        rank = len(stops)
        on_lane = _lane_stops(line, placed, transfer.name, pitch_m, body_m)
        stops.extend(replace(stop, index=rank + number) for number, stop in enumerate(on_lane))
        moved = _place_transfer(line, transfer, placed, len(stops), body_m)
        stops.append(_stop(placed, "aboard", moved.aboard_axis_m - axis_m, None, moved.name, len(stops)))
        lanes.append(placed)
        transfers.append(moved)
        axis_m = moved.aboard_axis_m + moved.off_m
    layout = Layout(tuple(lanes), tuple(transfers), tuple(stops), pitch_m, body_m, axis_m)
    layout = replace(layout, blocking=_blocking(layout))
    resting_order(line, layout)  # more carriers than places is a fault of the line, whoever asks first
    return layout


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
    first = first_stop(line, layout)
    count = len(layout.stops)
    upstream = [layout.stops[(first.index - back) % count] for back in range(1, count)]
    resting = [first.index] + [stop.index for stop in upstream if stop.kind in ("waiting", "dock")]
    if line.carriers > len(resting):
        raise LineFileError([_carriers_fault(line, len(resting))])
    return tuple(resting[: line.carriers])


def first_stop(line: Line, layout: Layout) -> Stop:
    """The stop of the first step's station; of parallel ones the farthest downstream (see resting_order)."""
    stops = [layout.stop_of(name) for name in line.route[0].stations]

    def way_to_next(stop: Stop) -> float:
        ways = [(other.axis_m - stop.axis_m) % layout.loop_m for other in stops if other is not stop]
        return min(ways, default=layout.loop_m)

    return max(stops, key=lambda stop: (way_to_next(stop), stop.index))


def crowdings(layout: Layout) -> tuple[Crowding, ...]:
    """Every two neighbours among stations, docks and places aboard, in travel, with their distance.

    Waiting stops are left out: they are laid a least pitch from everything. Across a transfer the distance is that of a
    carrier aboard at the dock to the nearest stop of that lane.
    """
    fixed = [stop for stop in layout.stops if stop.kind != "waiting"]
    pairs = []
    for number, after in enumerate(fixed):
        before = fixed[number - 1]
        distance_m = (after.axis_m - before.axis_m) % layout.loop_m
        # Two stations at one place are 0 apart, not once round.
        pairs.append(Crowding(before, after, 0.0 if layout.loop_m - distance_m < SAME_PLACE_M else distance_m))
    return tuple(pairs)


def is_crowded(pair: Crowding, pitch_m: float) -> bool:
    """Whether two carriers, one at each place, come nearer than the least pitch."""
    return pair.distance_m < pitch_m - SAME_PLACE_M


def crowding_code(pair: Crowding) -> str:
    """The code of the finding that such a pair belongs to: ``dock-pitch`` without a station in it."""
    return "station-centres" if "station" in (pair.before.kind, pair.after.kind) else "dock-pitch"


def beyond_dock(layout: Layout) -> tuple[Stop, ...]:
    """Stations that lie beyond the dock stop of their lane: no carrier could go on from there."""
    docks = {stop.lane: stop for stop in layout.stops if stop.kind == "dock"}
    return tuple(
        stop
        for stop in layout.stops
        if stop.kind == "station" and stop.travel_m > docks[stop.lane].travel_m + SAME_PLACE_M
    )


def short_lanes(layout: Layout) -> tuple[LaneLayout, ...]:
    """Lanes shorter than one carrier's body: there is no room for the dock stop."""
    return tuple(lane for lane in layout.lanes if lane.length_m < layout.body_m - SAME_PLACE_M)


def length_text(length_m: float, units: str) -> str:
    """A length as the line file prints it.

    Examples
    --------
    >>> length_text(0.2765, "mm"), length_text(0.254, "inch")
    ('276.5 mm', '10 in')
    """
    if units == "inch":
        return f"{round(length_m / INCH_M, 3) + 0.0:.10g} in"
    return f"{round(length_m * MM_PER_M, 1) + 0.0:.10g} mm"


def place_of(line: Line, *path: str | int) -> Place:
    """The place of a key in the line file; for a line made in Python a place that says so."""
    return line.place(*path) or Place("line made in Python", 1, 1)


def _checked_cuts(line: Line) -> dict[str, SectionCut]:
    """The sections of every lane by name; raises with every lane that cannot be cut."""
    faults = []
    cuts = {}
    stock = line.conveyor.sections
    for lane in line.lanes:
        try:
            cuts[lane.name] = cut_sections(
                lane.length_m, tuple(one.length_m for one in stock), prices=tuple(one.price for one in stock)
            )
        except SectionCutError as error:
            found = f"lane {lane.name} of {length_text(lane.length_m, line.units)}: {error}"
            allowed = "a lane that the sheet's sections can make"
            faults.append(Fault(place_of(line, "lanes", lane.name, "length"), found, allowed))
    if faults:
        raise LineFileError(faults)
    return cuts


def _carriers_fault(line: Line, fit: int) -> Fault:
    found = f"{line.carriers} carriers"
    where = "the first station, the waiting stops and the dock stops, where carriers stand at time zero"
    return Fault(place_of(line, "carriers"), found, f"at most {fit}: {where}")


def _blocking(layout: Layout) -> tuple[str, ...]:
    crowded = [pair for pair in crowdings(layout) if is_crowded(pair, layout.pitch_m)]
    reasons = [f"{crowding_code(pair)}: {pair.before.label} and {pair.after.label}" for pair in crowded]
    reasons += [f"station-beyond-dock: {stop.label}" for stop in beyond_dock(layout)]
    reasons += [f"lane-length: lane {lane.name}" for lane in short_lanes(layout)]
    return tuple(reasons)


def _place_lane(lane: Lane, cut: SectionCut, axis_m: float) -> LaneLayout:
    return LaneLayout(
        name=lane.name,
        length_m=lane.length_m,
        start_axis_m=axis_m,
        from_=lane.from_,
        to=lane.to,
        level_m=lane.level_m,
        across_m=lane.across_m,
        west_end_m=lane.west_end_m,
        sections=cut.sections_m,
        joints_travel_m=cut.joints_m,
    )


def _place_transfer(line: Line, transfer: Transfer, takes: LaneLayout, aboard: int, body_m: float) -> TransferLayout:
    sheet = line.conveyor.transfers[transfer.kind]
    gives = line.lane(transfer.gives)
    ride_m = abs(gives.level_m - takes.level_m) if transfer.kind == "lift" else abs(gives.across_m - takes.across_m)
    half_way_m = sheet.gap_m + sheet.platform_m / 2
    return TransferLayout(
        name=transfer.name,
        kind=transfer.kind,
        takes=transfer.takes,
        gives=transfer.gives,
        aboard=aboard,
        platform_m=sheet.platform_m,
        gap_m=sheet.gap_m,
        start_axis_m=takes.end_axis_m,
        on_m=body_m / 2 + half_way_m,
        off_m=half_way_m,
        rear_m=sheet.platform_m / 2 + body_m / 2,
        ride_m=ride_m,
    )


def _stop(
    lane: LaneLayout, kind: StopKind, travel_m: float, station: str | None, transfer: str | None, index: int = 0
) -> Stop:
    return Stop(
        index=index,
        kind=kind,
        lane=lane.name,
        station=station,
        transfer=transfer,
        travel_m=travel_m,
        axis_m=lane.travel_to_axis(travel_m),
        floor_m=lane.travel_to_floor(travel_m),
    )


def _lane_stops(line: Line, lane: LaneLayout, transfer: str, pitch_m: float, body_m: float) -> list[Stop]:
    """The stops of one lane in travel, their index not yet set. The dock stop comes last whatever lies beyond it."""
    mine = [station for station in line.stations if station.lane == lane.name]
    here = sorted((lane.floor_to_travel(one.at_m), one.name, one.keep_clear_m) for one in mine)
    stretches = tuple((at_m - clear_m, at_m + clear_m) for at_m, _, clear_m in here if clear_m > 0)
    half_m = body_m / 2
    stops: list[Stop] = []
    least_m = half_m
    for at_m, name, clear_m in here:
        first_m = at_m - max(pitch_m, clear_m + half_m)
        grid = _waiting_places(first_m, least_m, pitch_m, half_m, stretches)
        stops += [_stop(lane, "waiting", travel_m, None, None) for travel_m in grid]
        stops.append(_stop(lane, "station", at_m, name, None))
        least_m = at_m + pitch_m
    dock_m = lane.length_m - half_m
    grid = _waiting_places(dock_m - pitch_m, least_m, pitch_m, half_m, stretches)
    stops += [_stop(lane, "waiting", travel_m, None, None) for travel_m in grid]
    stops.append(_stop(lane, "dock", dock_m, None, transfer))
    return stops


def _waiting_places(
    first_m: float, least_m: float, pitch_m: float, half_m: float, stretches: tuple[tuple[float, float], ...]
) -> list[float]:
    """Places from `first_m` upstream, a pitch apart, down to `least_m`, whose bodies enter no stretch; in travel."""
    places = []
    number = 0
    while (travel_m := first_m - number * pitch_m) >= least_m - SAME_PLACE_M:
        number += 1
        rear_m, front_m = travel_m - half_m + SAME_PLACE_M, travel_m + half_m - SAME_PLACE_M
        if not any(rear_m < high_m and low_m < front_m for low_m, high_m in stretches):
            places.append(travel_m)
    return places[::-1]
