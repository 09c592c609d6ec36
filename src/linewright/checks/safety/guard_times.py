"""From a guard's trip until all stands: how long that takes, what the guard needs for it, and what would shorten it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from linewright.checks.safety.distances import (
    COARSEST_M,
    HIGHEST_FIELD_M,
    SafetyDistance,
    interlocked_distance,
    light_curtain_distance,
    scanner_distance,
)
from linewright.checks.safety.place import StationPlace, nearest_free_stop
from linewright.checks.safety.stops import StopCase, half_way_m, stop_cases
from linewright.line.model import Line
from linewright.line.station import Station
from linewright.remedies import spare_for, value_that_holds

SLOWEST_SHARE: Final = 0.01
"""Of the full speed: slower is not proposed."""


@dataclass(frozen=True)
class Times:
    """The stop of one operator station in time.

    Parameters
    ----------
    longest : the case that lasts longest
    total_s : from the guard's trip until everything stands: device, logic, longest; None without a guard. [s]
    distance : what the guard needs; None where no formula here holds, it is locked, or nothing stops the carrier
    """

    longest: StopCase
    total_s: float | None
    distance: SafetyDistance | None


def stop_times(station: Station, cases: tuple[StopCase, ...]) -> Times:
    """The longest stop and what follows from it; there is at least one case."""
    longest = max(cases, key=lambda one: (one.time_s, one.cause == "fault", one.loaded))
    guard = station.guard
    if guard is None:
        return Times(longest, None, None)
    total_s = guard.device_s + guard.logic_s + longest.time_s
    return Times(longest, total_s, needed_distance(station, total_s))


def needed_distance(station: Station, total_s: float) -> SafetyDistance | None:
    """What the station's guard needs for a stop of so long; None where no formula here holds, or it never stands.

    A locked door needs none, for nobody comes through before it unlocks.
    """
    guard = station.guard
    if guard is None or guard.kind == "locked" or not math.isfinite(total_s):
        return None
    if guard.kind == "light-curtain":
        if guard.resolution_m is None or guard.resolution_m > COARSEST_M + 1e-12:
            return None
        return light_curtain_distance(total_s, guard.resolution_m)
    if guard.kind == "scanner":
        if guard.height_m is None or guard.height_m > HIGHEST_FIELD_M + 1e-12:
            return None
        return scanner_distance(total_s, guard.height_m)
    return interlocked_distance(total_s)


def guard_margin(station: Station, times: Times) -> float:
    """Share of the guard's distance, of a locked door of the time until it unlocks, that is left; minus infinite where
    nothing stops a carrier or no formula here holds."""
    guard = station.guard
    if guard is None or times.total_s is None or not math.isfinite(times.total_s):
        return -math.inf
    if guard.unlocks_after_s is not None:
        return 1.0 - times.total_s / guard.unlocks_after_s
    return -math.inf if times.distance is None else 1.0 - times.distance.distance_m / guard.distance_m


def slowest_that_holds(
    line: Line, station: Station, free: bool, planned_m_s: dict[bool, float], spare_share: float = 0.0
) -> float | None:
    """The greatest full speed of the drive at which the guard does, with so much to spare of its distance, or of the
    time until it unlocks; None where no speed is found. [m/s]"""
    full_m_s = line.conveyor.drive.speed_m_s

    def margin(speed_m_s: float) -> float:
        planned = {loaded: min(own_m_s, speed_m_s) for loaded, own_m_s in planned_m_s.items()}
        times = stop_times(station, stop_cases(line, station, free, planned, speed_m_s))
        return guard_margin(station, times) - spare_share

    return value_that_holds(margin, full_m_s, SLOWEST_SHARE * full_m_s)


def times_with_end_stops(
    line: Line, station: Station, place: StationPlace, planned_m_s: dict[bool, float]
) -> tuple[str, Times, float] | None:
    """End stops that would count where none do, the stop with them, and their place in metres; None where end stops do
    count, are not rated for the full speed, find no place or shorten nothing.

    They stand as near to the centre as no body comes near them, or at the place nearest to the stated one.
    """
    coasting, full_m_s = line.conveyor.coasting, line.conveyor.drive.speed_m_s
    if coasting is None or full_m_s > coasting.end_stop_speed_m_s:
        return None
    if math.isfinite(half_way_m(line, station, place.stops_free, full_m_s)):
        return None
    wanted = place if place.end_stops_m is not None else replace(place, end_stops_m=place.body_m / 2)
    found = nearest_free_stop(wanted, line.units, 1.0 + spare_for("tight"))
    found = found or nearest_free_stop(wanted, line.units)
    if found is None:
        return None
    fitted = station.model_copy(update={"end_stops_m": found[0]})
    now = stop_times(station, stop_cases(line, station, False, planned_m_s, full_m_s))
    times = stop_times(fitted, stop_cases(line, fitted, True, planned_m_s, full_m_s))
    shorter = times.longest.time_s < now.longest.time_s - 1e-9
    return (found[1], times, found[0]) if shorter and math.isfinite(times.longest.time_s) else None
