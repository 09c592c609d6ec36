"""How far and how long a carrier still moves at an operator station once it ought to stop: with power and without."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from linewright.layout import Layout, ways_of
from linewright.line.electrics import MotorZone
from linewright.line.model import Line
from linewright.line.station import Station
from linewright.motion.coasting import coast, longest_coast
from linewright.motion.curves import leg_limits
from linewright.motion.limits import NoAccelerationError, moving_mass_kg
from linewright.motion.ramp import plan_ramp
from linewright.tables import Column, Table
from linewright.traffic.compile import KINDS
from linewright.traffic.compile_track import track_legs
from linewright.traffic.legs import Leg, loop_legs
from linewright.traffic.plan import LOADED
from linewright.traffic.route_ways import route_ways

Case = Literal["powered", "coast"]
Cause = Literal["plan", "fault"]
SAME_PLACE_M: Final = 1e-9


@dataclass(frozen=True, slots=True)
class PoweredStop:
    """A stop under power; the result of :func:`powered_stop`. [m], [s]"""

    distance_m: float
    time_s: float


@dataclass(frozen=True, slots=True)
class StopCase:
    """One way in which a carrier comes to a stand at an operator station.

    Parameters
    ----------
    station : its name
    case : ``powered`` or ``coast``
    cause : ``plan``: the greatest speed that the plan has there; ``fault``: the drive's full speed
    loaded : a part is aboard
    mass_kg : all that moves. [kg]
    speed_m_s : as the stop is demanded. [m/s]
    distance_m : still covered, the reaction included; infinite where nothing stops it. [m]
    time_s : from the stop's demand at the drive until it stands, the reaction included. [s]
    """

    station: str
    case: Case
    cause: Cause
    loaded: bool
    mass_kg: float
    speed_m_s: float
    distance_m: float
    time_s: float


def powered_stop(
    speed_m_s: float, reaction_s: float, deceleration_m_s2: float, jerk_m_s3: float = math.inf
) -> PoweredStop:
    """A stop under power: it goes on for the reaction, then brakes.

    Parameters
    ----------
    speed_m_s : float          As the stop is demanded. [m/s], ≥ 0
    reaction_s : float         From the demand until it brakes. [s], ≥ 0
    deceleration_m_s2 : float  [m/s²], > 0
    jerk_m_s3 : float          With which the deceleration comes and goes. [m/s³], > 0; infinite: at once

    Returns
    -------
    PoweredStop   Without a jerk .distance_m = v t_r + v²/(2 a) and .time_s = t_r + v/a.

    Raises
    ------
    ValueError   A figure is out of its range, infinite (only the jerk may be) or not a number.

    Notes      With a jerk j the braking lasts t = v/a + a/j where v ≥ a²/j, else 2 √(v/j), and covers v t/2: never
               less than without.
    Source     kinematics, general texts.

    Examples
    --------
    >>> powered_stop(2.0, 0.05, 10.0)
    PoweredStop(distance_m=0.30000000000000004, time_s=0.25)
    >>> round(powered_stop(2.0, 0.05, 10.0, 100.0).time_s, 9)
    0.35
    """
    if not 0.0 <= reaction_s < math.inf:
        raise ValueError(f"reaction_s is {reaction_s}; it must be finite and not negative")
    if not 0.0 < deceleration_m_s2 < math.inf:
        raise ValueError(f"deceleration_m_s2 is {deceleration_m_s2}; it must be positive and finite")
    if not 0.0 <= speed_m_s < math.inf:
        raise ValueError(f"speed_m_s is {speed_m_s}; it must be finite and not negative")
    if not jerk_m_s3 > 0.0:
        raise ValueError(f"jerk_m_s3 is {jerk_m_s3}; it must be positive")
    ramp = plan_ramp(speed_m_s, deceleration_m_s2, jerk_m_s3)
    return PoweredStop(speed_m_s * reaction_s + ramp.travel_m, reaction_s + ramp.duration_s)


def operator_stations(line: Line) -> tuple[Station, ...]:
    """The stations at which people work, release carriers or stand behind a guard, in the order of the file."""
    return tuple(
        station
        for station in line.stations
        if station.work == "manual" or station.release_s is not None or station.guard is not None
    )


def within_payload(line: Line) -> bool:
    """Whether the loaded carrier bears no more than the stated payload, with which the stated stop was measured."""
    carrier = line.conveyor.carrier
    return moving_mass_kg(line, True) <= carrier.mass_kg + carrier.payload_kg + 1e-9


def half_way_m(line: Line, station: Station, free: bool, speed_m_s: float) -> float:
    """How far the end stops let a body go to each side of the station's centre; infinite where they do not count.

    They count where they are stated, nothing keeps them from falling in (`free`) and no carrier is faster than what
    they are rated for.
    """
    coasting = line.conveyor.coasting
    if station.end_stops_m is None or coasting is None or not free or speed_m_s > coasting.end_stop_speed_m_s:
        return math.inf
    return station.end_stops_m


def rests_on_end_stops(line: Line, station: Station, free: bool) -> bool:
    """Whether end stops count at a station and some carrier comes to one before its drag alone makes it stand."""
    full_m_s, coasting = line.conveyor.drive.speed_m_s, line.conveyor.coasting
    half_m = half_way_m(line, station, free, full_m_s)
    if coasting is None or not math.isfinite(half_m):
        return False
    own = coast(moving_mass_kg(line, True), full_m_s, coasting.least_drag_N)
    return own.distance_m > 2.0 * half_m


def powered_case(line: Line, station: str, cause: Cause, loaded: bool, speed_m_s: float) -> StopCase | None:
    """A stop under power; None where the sheet states none, or none for so much payload."""
    stopping = line.conveyor.stopping
    if stopping is None or not within_payload(line):
        return None
    jerk_m_s3 = line.conveyor.drive.jerk_m_s3
    found = powered_stop(speed_m_s, stopping.reaction_s, stopping.deceleration_m_s2, jerk_m_s3)
    mass_kg = moving_mass_kg(line, loaded)
    return StopCase(station, "powered", cause, loaded, mass_kg, speed_m_s, found.distance_m, found.time_s)


def coast_case(
    line: Line, station: str, cause: Cause, loaded: bool, speed_m_s: float, half_m: float
) -> StopCase | None:
    """A stop without power between end stops so far from the centre; None where the sheet states no drag or reaction.

    The power may go as late as at the end of the reaction, in which the carrier keeps its speed. A body across an end
    stop is not held by it and may go on to the other one: twice `half_m`.
    """
    stopping, coasting = line.conveyor.stopping, line.conveyor.coasting
    if stopping is None or coasting is None:
        return None
    mass_kg = moving_mass_kg(line, loaded)
    own = coast(mass_kg, speed_m_s, coasting.least_drag_N)
    longest = longest_coast(mass_kg, speed_m_s, coasting.least_drag_N, 2.0 * half_m)
    distance_m = min(speed_m_s * stopping.reaction_s + own.distance_m, 2.0 * half_m)
    time_s = stopping.reaction_s + longest.time_s
    return StopCase(station, "coast", cause, loaded, mass_kg, speed_m_s, distance_m, time_s)


def stop_cases(
    line: Line, station: Station, free: bool, planned_m_s: dict[bool, float], full_m_s: float
) -> tuple[StopCase, ...]:
    """Every way in which a carrier that the plan or a fault sends to an operator station comes to a stand there.

    Parameters
    ----------
    line, station : of which
    free : no resting body keeps its end stops from falling in
    planned_m_s : greatest speed of the plan there, of empty and loaded carriers; what is missing never comes. [m/s]
    full_m_s : the drive's full speed. [m/s]
    """
    # By a fault every carrier may have the full speed, so the end stops must stand that for any of them to count.
    half_m = half_way_m(line, station, free, full_m_s)
    speeds: list[tuple[Cause, bool, float]] = [("plan", loaded, planned_m_s[loaded]) for loaded in sorted(planned_m_s)]
    speeds += [("fault", False, full_m_s), ("fault", True, full_m_s)]
    found = [powered_case(line, station.name, *of) for of in speeds]
    found += [coast_case(line, station.name, *of, half_m) for of in speeds]
    return tuple(case for case in found if case is not None)


def stops_table(cases: tuple[StopCase, ...]) -> Table:
    """The cases as a table; infinite where nothing stops the carrier."""
    return Table(
        (
            Column("station", None, np.array([one.station for one in cases], dtype=object), "operator station"),
            Column("case", None, np.array([one.case for one in cases], dtype=object), "powered or coast"),
            Column("cause", None, np.array([one.cause for one in cases], dtype=object), "plan or fault"),
            Column("loaded", None, np.array([one.loaded for one in cases], dtype=bool), "a part is aboard"),
            Column("mass_kg", "kg", np.array([one.mass_kg for one in cases], dtype=float), "all that moves"),
            Column("speed_m_s", "m/s", np.array([one.speed_m_s for one in cases], dtype=float), "as it ought to stop"),
            Column("distance_m", "m", np.array([one.distance_m for one in cases], dtype=float), "still covered"),
            Column("time_s", "s", np.array([one.time_s for one in cases], dtype=float), "until it stands"),
        )
    )


def motor_zone_of(line: Line, station: Station) -> MotorZone | None:
    """The motor zone that a station names; None without one."""
    return next((one for one in line.motor_zones if one.name == station.motor_zone), None)


def stretch_of(line: Line, layout: Layout, station: Station) -> tuple[float, float]:
    """The stretch that counts as near a station, in travel: its motor zone, else the body that stands there. [m]"""
    stop = layout.stop_of(station.name)
    zone = motor_zone_of(line, station)
    if zone is None:
        return stop.travel_m - layout.body_m / 2, stop.travel_m + layout.body_m / 2
    lane = layout.lane(zone.lane)
    ends = sorted((lane.floor_to_travel(zone.from_m), lane.floor_to_travel(zone.to_m)))
    return ends[0], ends[1]


def planned_speeds(line: Line, layout: Layout, stations: tuple[Station, ...]) -> dict[str, dict[bool, float]]:
    """The greatest speed of any leg of the plan whose body comes near each station, of empty and loaded carriers.

    The peak speed of a leg counts, wherever on the leg it is reached. Empty where no traffic can be planned.
    """
    if layout.blocking or not stations:
        return {}
    names = [lane.name for lane in layout.lanes]
    near: dict[str, set[tuple[bool, float, bool]]] = {}
    legs = _legs(line, layout)
    for station in stations:
        lane, stretch = names.index(station.lane), stretch_of(line, layout, station)
        near[station.name] = {
            (leg.load == LOADED, leg.distance_m, leg.curved)
            for leg in legs
            if leg.lane == lane and _comes_near(layout, leg, stretch)
        }
    try:
        speeds = {key: leg_limits(line, *key).move.peak_speed_m_s for key in sorted(set().union(*near.values()))}
    except NoAccelerationError:
        return {}
    found: dict[str, dict[bool, float]] = {}
    for name, keys in near.items():
        by_load: dict[bool, float] = {}
        for key in keys:
            by_load[key[0]] = max(by_load.get(key[0], 0.0), speeds[key])
        found[name] = by_load
    return found


def _legs(line: Line, layout: Layout) -> list[Leg]:
    kinds = np.array([KINDS[stop.kind] for stop in layout.stops], np.int64)
    ways = route_ways(line, layout)
    if layout.is_plain:
        return loop_legs(layout, kinds, ways)
    return track_legs(layout, kinds, ways, ways_of(layout))


def _comes_near(layout: Layout, leg: Leg, stretch: tuple[float, float]) -> bool:
    """Whether the body comes over the stretch at some instant of the leg, on a ring in any round."""
    half_m = layout.body_m / 2 - SAME_PLACE_M
    low_m, high_m = leg.start_m - half_m, leg.start_m + leg.distance_m + half_m
    if leg.against:
        low_m, high_m = -high_m, -low_m
    lane = layout.lanes[leg.lane]
    rounds_m = (-lane.length_m, 0.0, lane.length_m) if lane.is_ring else (0.0,)
    return any(low_m < stretch[1] + far_m and stretch[0] + far_m < high_m for far_m in rounds_m)
