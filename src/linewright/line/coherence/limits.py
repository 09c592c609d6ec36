"""Feeders, motor zones and what stands at a station for people: where they lie, and what they must hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from linewright.line.coherence.known import SAME_PLACE_M, as_far_as_known, named
from linewright.line.coherence.track import on_lane_faults, reach_of
from linewright.line.electrics import resistor_faults
from linewright.line.fields import PathFault, in_unit
from linewright.line.units import LENGTH, shown
from linewright.line.words import choice

if TYPE_CHECKING:
    from linewright.line.electrics import Feeder, MotorZone
    from linewright.line.model import Line, Station


def feeder_faults(line: Line) -> Iterator[PathFault]:
    """Each feeder lies on a lane that there is, beside the others of that lane; its resistor works with the supply."""
    for i, feeder in enumerate(line.feeders):
        yield from as_far_as_known(_lies(line, "feeders", feeder))
        yield from as_far_as_known(_resistor(line, feeder))
        for other in line.feeders[:i]:
            yield from as_far_as_known(_apart(line, "feeders", feeder, other))


def zone_faults(line: Line) -> Iterator[PathFault]:
    """Each motor zone lies on a lane that there is, beside the others; a station's zone is there and holds it."""
    for i, zone in enumerate(line.motor_zones):
        yield from as_far_as_known(_lies(line, "motor_zones", zone))
        for other in line.motor_zones[:i]:
            yield from as_far_as_known(_apart(line, "motor_zones", zone, other))
    for station in line.stations:
        yield from as_far_as_known(_in_zone(line, station))


def end_stop_faults(line: Line) -> Iterator[PathFault]:
    """End stops are wide enough for the body of the carrier that stands between them."""
    for station in line.stations:
        yield from as_far_as_known(_end_stops(line, station))


def _lies(line: Line, key: str, item: Feeder | MotorZone) -> Iterator[PathFault]:
    at = (key, item.name)
    lane = named(line.lanes, item.lane)
    if lane is None:
        known = choice(item.lane, (x.name for x in line.lanes), "lanes")
        yield (*at, "lane"), f"there is no lane {shown(item.lane)}", known
        return
    for end, name in (("from", "from_m"), ("to", "to_m")):
        place_m = getattr(item, name)
        if place_m is not None:
            yield from on_lane_faults(line, lane, (*at, end), place_m)


def _span_m(line: Line, item: Feeder | MotorZone) -> tuple[float, float] | None:
    """What it covers of its lane; a feeder without from and to covers all of it. [m]"""
    if item.from_m is not None and item.to_m is not None:
        return item.from_m, item.to_m
    lane = named(line.lanes, item.lane)
    whole = item.from_m is None and item.to_m is None
    return reach_of(line, lane) if whole and lane is not None else None


def _apart(line: Line, key: str, item: Feeder | MotorZone, other: Feeder | MotorZone) -> Iterator[PathFault]:
    if item.lane != other.lane:
        return
    one, two = _span_m(line, item), _span_m(line, other)
    if one is None or two is None:
        return
    low_m, high_m = max(one[0], two[0]), min(one[1], two[1])
    if low_m < high_m - SAME_PLACE_M:
        ends = [in_unit(round(place_m, 4), LENGTH) for place_m in (low_m, high_m)]
        found = f"{shown(item.name)} and {shown(other.name)} both lie from {ends[0]} to {ends[1]}"
        yield (key, item.name), found, "let each end where the next begins"


def _resistor(line: Line, feeder: Feeder) -> Iterator[PathFault]:
    supply = line.conveyor.supply
    if supply is not None:
        for path, found, allowed in resistor_faults(feeder, supply.voltage_V, supply.trip_V):
            yield ("feeders", feeder.name, *path), found, allowed


def _in_zone(line: Line, station: Station) -> Iterator[PathFault]:
    if station.motor_zone is None:
        return
    at = ("stations", station.name, "motor_zone")
    zone = named(line.motor_zones, station.motor_zone)
    if zone is None:
        known = choice(station.motor_zone, (x.name for x in line.motor_zones), "motor zones")
        yield at, f"there is no motor zone {shown(station.motor_zone)}", known
    elif named(line.lanes, zone.lane) is None or not zone.from_m < zone.to_m:
        return  # told at the zone
    elif zone.lane != station.lane:
        found = f"{shown(zone.name)} lies on the lane {shown(zone.lane)}, the station on {shown(station.lane)}"
        yield at, found, "name a zone of the station's lane"
    else:
        place_m = station.at_m if station.along_m is None else station.along_m
        low_m, high_m = zone.from_m, zone.to_m
        if place_m < low_m - SAME_PLACE_M or place_m > high_m + SAME_PLACE_M:
            found = f"the station at {in_unit(place_m, LENGTH)} is outside {shown(zone.name)}"
            allowed = f"the zone lies from {in_unit(low_m, LENGTH)} to {in_unit(high_m, LENGTH)}; change one of the two"
            yield at, found, allowed


def _end_stops(line: Line, station: Station) -> Iterator[PathFault]:
    if station.end_stops_m is None:
        return
    envelope_m = None if line.fixture is None else line.fixture.envelope_m
    half_m = max(line.conveyor.carrier.length_m, 0.0 if envelope_m is None else envelope_m[0]) / 2
    if station.end_stops_m < half_m - SAME_PLACE_M:
        found = "the carrier's body does not stand between the end stops"
        yield ("stations", station.name, "end_stops"), found, f"write at least {in_unit(half_m, LENGTH)}, half a body"
