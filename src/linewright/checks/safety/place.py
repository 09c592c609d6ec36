"""Where things lie at an operator station: the carriers that rest beside it, its end stops, its motor zone."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from linewright.checks.safety.stops import SAME_PLACE_M, motor_zone_of
from linewright.findings import TIGHT_MARGIN
from linewright.layout import LaneLayout, Layout
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.station import Station
from linewright.remedies import rounded_place


@dataclass(frozen=True, slots=True)
class StationPlace:
    """Lengths at one operator station, all counted from its centre.

    Parameters
    ----------
    body_m : length of a carrier with its fixture. [m]
    resting_m : distance of every other place on its lane where a carrier may rest, ascending. [m]
    waiting_m : of these the waiting stops, which a keep_clear at the station moves away. [m]
    room_m : to the nearer end of its lane; of a ring half of it. [m]
    gap_m : what is left between the carrier there and the nearest other one that rests; None where none can. [m]
    end_stops_m : of the end stops; None where none are stated. [m]
    stop_to_body_m : from the line of an end stop to the nearest centre of a carrier that rests, there or beside it;
        None without end stops. [m]
    zone_m : the nearer end of its motor zone; None where none is stated. [m]
    widest_zone_m : how far the zone could reach to each side, up to the lane's ends and its other zones; None as
        there. [m]
    """

    body_m: float
    resting_m: tuple[float, ...]
    waiting_m: tuple[float, ...]
    room_m: float
    gap_m: float | None
    end_stops_m: float | None
    stop_to_body_m: float | None
    zone_m: float | None
    widest_zone_m: float | None

    @property
    def stops_on_lane(self) -> bool:
        """Whether the end stops stand on the lane, not beyond it where a platform comes and carriers ride."""
        return self.end_stops_m is None or self.end_stops_m <= self.room_m + SAME_PLACE_M

    @property
    def stops_free(self) -> bool:
        """Whether the end stops stand on the lane and no resting body lies across one, so that they can fall in."""
        bare = self.stop_to_body_m is None or self.stop_to_body_m >= self.body_m / 2 - SAME_PLACE_M
        return bare and self.stops_on_lane

    @property
    def keep_clear_helps(self) -> bool:
        """Whether all bodies across an end stop, or near one, wait there and could wait elsewhere."""
        if self.end_stops_m is None:
            return False
        need_m = (1.0 + TIGHT_MARGIN) * self.body_m / 2
        near = [one for one in (0.0, *self.resting_m) if abs(one - self.end_stops_m) < need_m]
        return all(one in self.waiting_m for one in near)


def station_place(line: Line, layout: Layout, station: Station) -> StationPlace:
    """The lengths at a station of a line on its own layout."""
    here = layout.stop_of(station.name)
    lane = layout.lane(here.lane)
    resting, waiting = [], []
    for stop in layout.stops:
        if stop.lane != here.lane or stop.kind == "aboard" or stop is here:
            continue
        apart_m = abs(stop.travel_m - here.travel_m)
        resting.append(min(apart_m, lane.length_m - apart_m) if lane.is_ring else apart_m)
        if stop.kind == "waiting":
            waiting.append(resting[-1])
    resting_m = tuple(sorted(resting))
    end_m = station.end_stops_m
    zone_m, widest_m = None, None
    if motor_zone_of(line, station) is not None:
        ends = _zones_m(line, lane)[str(station.motor_zone)]
        zone_m = min(here.travel_m - ends[0], ends[1] - here.travel_m)
        widest_m = _widest_m(line, lane, str(station.motor_zone), here.travel_m)
    return StationPlace(
        body_m=layout.body_m,
        resting_m=resting_m,
        waiting_m=tuple(waiting),
        room_m=lane.length_m / 2 if lane.is_ring else min(here.travel_m, lane.length_m - here.travel_m),
        gap_m=max(resting_m[0] - layout.body_m, 0.0) if resting_m else None,
        end_stops_m=end_m,
        stop_to_body_m=None if end_m is None else min(abs(apart_m - end_m) for apart_m in (0.0, *resting_m)),
        zone_m=zone_m,
        widest_zone_m=widest_m,
    )


def _zones_m(line: Line, lane: LaneLayout) -> dict[str, tuple[float, float]]:
    """Where the motor zones of a lane lie, in travel, the lower end first. [m]"""
    found = {}
    for zone in line.motor_zones:
        if zone.lane == lane.name:
            ends = sorted((lane.floor_to_travel(zone.from_m), lane.floor_to_travel(zone.to_m)))
            found[zone.name] = (ends[0], ends[1])
    return found


def _widest_m(line: Line, lane: LaneLayout, name: str, centre_m: float) -> float:
    """How far a zone could reach to each side of a place in it: to the lane's ends, of a ring to its start, and to the
    next zones. [m]"""
    zones = _zones_m(line, lane)
    own = zones.pop(name)
    low_m = max((high for _, high in zones.values() if high <= own[0] + SAME_PLACE_M), default=0.0)
    high_m = min((low for low, _ in zones.values() if low >= own[1] - SAME_PLACE_M), default=lane.length_m)
    return min(centre_m - low_m, high_m - centre_m)


def nearest_free_stop(place: StationPlace, units: str, clear: float = 1.0) -> tuple[float, str] | None:
    """The place of end stops nearest to the stated one at which they can fall in, in metres and as a file has it.

    Parameters
    ----------
    place : of the station
    units : of the line: ``mm`` or ``inch``
    clear : so many half bodies from the centre of each carrier that rests; more than 1 leaves some to spare

    Returns
    -------
    tuple or None   None where there is no such place on the lane.

    Notes      The line of a stop must lie `clear` half bodies or more from the centre of each carrier that rests, its
               own included. So the nearest place is the stated one, the lane's end, or that far from some centre. It is
               told rounded away from what is near: to whole millimetres (tenths of an inch) where that is still free,
               else to the first further digit at which it is.
    """
    if place.end_stops_m is None:
        return None
    stated_m, need_m = place.end_stops_m, clear * place.body_m / 2
    centres = (0.0, *place.resting_m)

    def is_free(one_m: float) -> bool:
        on_lane = 0.0 < one_m <= place.room_m + SAME_PLACE_M
        return on_lane and all(abs(centre - one_m) >= need_m - SAME_PLACE_M for centre in centres)

    tried = [stated_m, place.room_m, *(centre + side for centre in centres for side in (-need_m, need_m))]
    for exact_m in sorted(filter(is_free, tried), key=lambda one: (abs(one - stated_m), one)):
        told = rounded_place(exact_m, units, is_free)
        if told is not None:
            return told
    return None


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


def at_least_text(length_m: float, units: str) -> str:
    """A length that must be reached, rounded up to whole millimetres or tenths of an inch.

    Examples
    --------
    >>> at_least_text(0.7302, "mm"), at_least_text(0.254, "inch")
    ('731 mm', '10 in')
    """
    return length_text(at_least_m(length_m, units), units)


def at_least_m(length_m: float, units: str) -> float:
    """The same length as a number. [m]"""
    step_m = 0.00254 if units == "inch" else 0.001
    return math.ceil(length_m / step_m - 1e-6) * step_m


def zone_for(own: StationPlace, end_m: float, units: str) -> str | None:
    """What the motor zone must be for end stops there to hold out what comes from beyond it: nothing where it is long
    enough or none is stated; None where it cannot be made so long."""
    if own.zone_m is None:
        return ""
    least_m = at_least_m(least_zone_m(replace(own, end_stops_m=end_m)), units)
    if own.zone_m >= least_zone_m(replace(own, end_stops_m=end_m)) - SAME_PLACE_M:
        return ""
    if own.widest_zone_m is None or least_m > own.widest_zone_m + SAME_PLACE_M:
        return None
    return f" and a motor zone of {length_text(least_m, units)} or more to each side"
