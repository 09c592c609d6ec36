"""Where things lie at an operator station: the carriers that rest beside it, its end stops, its motor zone."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linewright.checks.safety.stops import SAME_PLACE_M
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.line.station import Station


@dataclass(frozen=True, slots=True)
class StationPlace:
    """Lengths at one operator station, all counted from its centre.

    Parameters
    ----------
    body_m : length of a carrier with its fixture. [m]
    resting_m : distance of every other place on its lane where a carrier may rest, ascending. [m]
    gap_m : what is left between the carrier there and the nearest other one that rests; None where none can. [m]
    end_stops_m : of the end stops; None where none are stated. [m]
    stop_to_body_m : from the line of an end stop to the nearest centre of a carrier that rests, there or beside it;
        None without end stops. [m]
    zone_m : the nearer end of its motor zone; None where none is stated. [m]
    """

    body_m: float
    resting_m: tuple[float, ...]
    gap_m: float | None
    end_stops_m: float | None
    stop_to_body_m: float | None
    zone_m: float | None

    @property
    def stops_free(self) -> bool:
        """Whether no resting body lies across an end stop, so that it can fall in."""
        return self.stop_to_body_m is None or self.stop_to_body_m >= self.body_m / 2 - SAME_PLACE_M


def station_place(line: Line, layout: Layout, station: Station) -> StationPlace:
    """The lengths at a station of a line on its own layout."""
    here = layout.stop_of(station.name)
    lane = layout.lane(here.lane)
    resting = []
    for stop in layout.stops:
        if stop.lane != here.lane or stop.kind == "aboard" or stop is here:
            continue
        apart_m = abs(stop.travel_m - here.travel_m)
        resting.append(min(apart_m, lane.length_m - apart_m) if lane.is_ring else apart_m)
    resting_m = tuple(sorted(resting))
    end_m = station.end_stops_m
    zone_m = None
    zone = next((one for one in line.motor_zones if one.name == station.motor_zone), None)
    if zone is not None:
        ends = (lane.floor_to_travel(zone.from_m), lane.floor_to_travel(zone.to_m))
        zone_m = min(here.travel_m - min(ends), max(ends) - here.travel_m)
    return StationPlace(
        body_m=layout.body_m,
        resting_m=resting_m,
        gap_m=max(resting_m[0] - layout.body_m, 0.0) if resting_m else None,
        end_stops_m=end_m,
        stop_to_body_m=None if end_m is None else min(abs(apart_m - end_m) for apart_m in (0.0, *resting_m)),
        zone_m=zone_m,
    )


def nearest_free_stop_m(place: StationPlace) -> float | None:
    """The place of end stops nearest to the stated one at which no resting body lies across them; None if there is
    none. [m]

    Notes      The line of a stop must lie half a body or more from the centre of each carrier that rests, its own
               included, so the nearest free place is the stated one, or half a body from some centre.
    """
    half_m = place.body_m / 2
    if place.end_stops_m is None:
        return None
    centres = (0.0, *place.resting_m)
    tried = [place.end_stops_m, *(centre + side for centre in centres for side in (-half_m, half_m))]
    free = [one for one in tried if one > 0.0 and all(abs(centre - one) >= half_m - SAME_PLACE_M for centre in centres)]
    stated_m = place.end_stops_m
    return min(free, key=lambda one: (abs(one - stated_m), one), default=None)


def least_zone_m(place: StationPlace) -> float:
    """How far a motor zone must reach to each side of a station with end stops. [m]

    Notes      A body across an end stop is not held by it; so that no coil beyond the zone drives it in, all of it must
               lie over the zone: end stops and one body.
    """
    return (place.end_stops_m or 0.0) + place.body_m


def coast_in_m(place: StationPlace, distance_m: float) -> float:
    """How far the front of a carrier comes into a motor zone that it enters with its drive, and coasts. [m]

    Notes      It is driven until its rear has left the coils beyond the border, its front then one body inside.
    """
    return place.body_m + distance_m


def way_to_carrier_m(place: StationPlace) -> float:
    """From the nearer end of the motor zone to the carrier that stands at the station; below 0 where that lies across
    it. [m]"""
    return math.nan if place.zone_m is None else place.zone_m - place.body_m / 2
