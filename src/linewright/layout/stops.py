"""Where carriers may rest: the stops laid on every lane, and whether they leave room for each other."""

from __future__ import annotations

from dataclasses import dataclass, replace

from linewright.layout.curves import body_length_m, pitch_on_ring_m
from linewright.layout.graph import hops_of
from linewright.layout.lanes import (
    SAME_PLACE_M,
    LaneLayout,
    Layout,
    Stop,
    StopKind,
    TransferLayout,
    least_pitch_m,
)
from linewright.layout.placing import (
    INCH_M,
    checked_cuts,
    length_text,
    place_lane,
    place_transfer,
    travel_order,
)
from linewright.layout.resting import resting_order
from linewright.line.model import Line, Station

__all__ = [
    "INCH_M",
    "Crowding",
    "beyond_dock",
    "crowding_code",
    "crowdings",
    "is_crowded",
    "lay_out",
    "length_text",
    "short_lanes",
]


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

    Stops of a lane, in travel: waiting stops and stations, then, where a transfer takes from the lane, the dock stop at
    its end; after the first lane that a transfer takes from come the places aboard. Upstream of every station and of
    the dock lies a grid of waiting stops, a least pitch apart. Its first place is one least pitch from the station or
    dock; upstream of a station half a body beyond its keep-clear stretch, where that is farther. It ends where less
    than a least pitch would remain to the station before, or, on the lane's first stretch, where less than half a body
    would remain to the lane's start. On a ring the station before the first is the last, round the ring's start. A
    place of the grid at which a waiting carrier's body would reach into the keep-clear stretch of **any** station of
    that lane is left out; the rest of the grid stays where it is.

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
    ValueError      Some lane cannot be reached from the first (a read line file never has one).

    Notes      A body may touch a keep-clear stretch or a lane's end. Places count as equal within 1e-9 m.
    Source     semantics.md, Places and moves; The track in general.
    """
    cuts = checked_cuts(line)
    pitch_m, body_m = least_pitch_m(line), body_length_m(line)
    after = {name: transfer for transfer in line.transfers for name in transfer.takes_all}
    lanes: list[LaneLayout] = []
    transfers: list[TransferLayout] = []
    stops: list[Stop] = []
    axis_m = 0.0
    for lane in travel_order(line):
        placed = place_lane(line, lane, cuts[lane.name], axis_m)
        transfer = after.get(lane.name)
        on_lane = _lane_stops(line, placed, None if transfer is None else transfer.name, pitch_m, body_m)
        rank, several = len(stops), transfer is not None and len(transfer.takes_all) > 1
        for number, stop in enumerate(on_lane):
            stops.append(replace(stop, index=rank + number, of_several=several and stop.kind == "dock"))
        lanes.append(placed)
        axis_m = placed.end_axis_m
        if transfer is not None and transfer.takes != lane.name:
            axis_m += pitch_m
        elif transfer is not None:
            moved = place_transfer(line, transfer, placed, len(stops), body_m, pitch_m)
            for aboard in moved.aboards:
                travel_m = moved.aboard_axis_m + (aboard - moved.aboard) * moved.pitch_m - placed.start_axis_m
                stops.append(_stop(placed, "aboard", travel_m, None, moved.name, aboard))
            transfers.append(moved)
            axis_m = moved.end_axis_m
    layout = Layout(tuple(lanes), tuple(transfers), tuple(stops), pitch_m, body_m, axis_m)
    layout = replace(layout, blocking=_blocking(line, layout))
    resting_order(line, layout)  # more carriers than places is a fault of the line, whoever asks first
    return layout


def crowdings(layout: Layout) -> tuple[Crowding, ...]:
    """Every two neighbours among stations, docks and places aboard, in travel, with their distance.

    Waiting stops are left out: they are laid a least pitch from everything; so are two places of one platform. Across a
    transfer the distance is that of a carrier aboard at the dock to the nearest stop of that lane.
    """
    if not layout.is_closed:
        return tuple(_crowdings_along_ways(layout))
    fixed = [stop for stop in layout.stops if stop.kind != "waiting"]
    pairs = []
    for number, after in enumerate(fixed):
        before = fixed[number - 1]
        distance_m = (after.axis_m - before.axis_m) % layout.loop_m
        if before is after:
            distance_m = layout.loop_m
        elif layout.loop_m - distance_m < SAME_PLACE_M:  # two stations at one place are 0 apart, not once round
            distance_m = 0.0
        pairs.append(Crowding(before, after, distance_m))
    return tuple(pair for pair in pairs if not _same_platform(pair.before, pair.after))


def _crowdings_along_ways(layout: Layout) -> list[Crowding]:
    hops = hops_of(layout)
    pairs = []
    for before in layout.stops:
        ahead = [(hop.to, hop.length_m) for hop in hops[before.index]] if before.kind != "waiting" else []
        while ahead:
            rank, distance_m = ahead.pop(0)
            after = layout.stops[rank]
            if after.kind == "waiting":
                ahead += [(hop.to, distance_m + hop.length_m) for hop in hops[rank]]
            elif not _same_platform(before, after):
                pairs.append(Crowding(before, after, distance_m))
    return pairs


def _same_platform(one: Stop, other: Stop) -> bool:
    return one is not other and one.kind == other.kind == "aboard" and one.transfer == other.transfer


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
        if stop.kind == "station" and stop.lane in docks and stop.travel_m > docks[stop.lane].travel_m + SAME_PLACE_M
    )


def short_lanes(layout: Layout) -> tuple[LaneLayout, ...]:
    """Lanes shorter than one carrier's body: there is no room for the dock stop."""
    return tuple(lane for lane in layout.lanes if lane.length_m < layout.body_m - SAME_PLACE_M)


def _blocking(line: Line, layout: Layout) -> tuple[str, ...]:
    crowded = [pair for pair in crowdings(layout) if is_crowded(pair, layout.pitch_m)]
    reasons = [f"{crowding_code(pair)}: {pair.before.label} and {pair.after.label}" for pair in crowded]
    reasons += [f"station-beyond-dock: {stop.label}" for stop in beyond_dock(layout)]
    reasons += [f"lane-length: lane {lane.name}" for lane in short_lanes(layout)]
    for lane in layout.lanes:
        if lane.is_ring and pitch_on_ring_m(line) is None:
            reasons.append(f"inside-gap: ring {lane.name}")
    return tuple(reasons)


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


def _lane_stops(line: Line, lane: LaneLayout, transfer: str | None, pitch_m: float, body_m: float) -> list[Stop]:
    """The stops of one lane in travel, their index not yet set. The dock stop comes last whatever lies beyond it."""
    mine = [station for station in line.stations if station.lane == lane.name]
    here = sorted((_station_travel_m(lane, one), one.name, one.keep_clear_m) for one in mine)
    stretches = tuple((at_m - clear_m, at_m + clear_m) for at_m, _, clear_m in here if clear_m > 0)
    if lane.is_ring:
        return _ring_stops(lane, here, stretches, pitch_m, body_m)
    half_m = body_m / 2
    stops: list[Stop] = []
    least_m = half_m
    for at_m, name, clear_m in here:
        first_m = at_m - max(pitch_m, clear_m + half_m)
        grid = _waiting_places(first_m, least_m, pitch_m, half_m, stretches)
        stops += [_stop(lane, "waiting", travel_m, None, None) for travel_m in grid]
        stops.append(_stop(lane, "station", at_m, name, None))
        least_m = at_m + pitch_m
    if transfer is None:
        return stops
    dock_m = lane.length_m - half_m
    grid = _waiting_places(dock_m - pitch_m, least_m, pitch_m, half_m, stretches)
    stops += [_stop(lane, "waiting", travel_m, None, None) for travel_m in grid]
    stops.append(_stop(lane, "dock", dock_m, None, transfer))
    return stops


def _station_travel_m(lane: LaneLayout, station: Station) -> float:
    """Where a station lies in travel on its lane. [m]"""
    return lane.floor_to_travel(station_place_m(station))


def station_place_m(station: Station) -> float:
    """Where the line file puts a station: its floor distance, on a ring along it. [m]"""
    return station.at_m if station.along_m is None else station.along_m


def _ring_stops(
    lane: LaneLayout,
    here: list[tuple[float, str, float]],
    stretches: tuple[tuple[float, float], ...],
    pitch_m: float,
    body_m: float,
) -> list[Stop]:
    """The stops of a ring in travel from its start; grids and keep-clear stretches go on round it."""
    round_m, half_m = lane.length_m, body_m / 2
    around = tuple((low + n * round_m, high + n * round_m) for n in (-1, 0, 1) for low, high in stretches)
    stops = []
    for number, (at_m, name, clear_m) in enumerate(here):
        before_m = here[number - 1][0] - (round_m if number == 0 else 0.0)
        first_m = at_m - max(pitch_m, clear_m + half_m)
        grid = _waiting_places(first_m, before_m + pitch_m, pitch_m, half_m, around)
        stops += [_stop(lane, "waiting", travel_m % round_m, None, None) for travel_m in grid]
        stops.append(_stop(lane, "station", at_m % round_m, name, None))
    return sorted(stops, key=lambda stop: stop.travel_m)


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
