"""The rows of one operator station about time: how long until carriers stand, and how far off the guard must be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from linewright.checks.safety.distances import (
    COARSEST_M,
    HIGHEST_FIELD_M,
    SafetyDistance,
    coarsest_scanner_m,
    interlocked_distance,
    light_curtain_distance,
    scanner_distance,
)
from linewright.checks.safety.stops import StopCase, stop_cases
from linewright.findings import Finding, judge
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.station import Station
from linewright.remedies import rounded_away, value_that_holds

PAGE: Final = "docs/limits/safety.md"
STOPS_SOURCE: Final = f"{PAGE}, The two stops; the conveyor sheet, stopping and coasting"
DISTANCE_SOURCE: Final = f"ISO 13855 in its form of 2010; {PAGE}, Safety distance"
SLOWEST_SHARE: Final = 0.01
"""Of the full speed: slower is not proposed."""


@dataclass(frozen=True)
class Times:
    """The stop of one operator station in time.

    Parameters
    ----------
    longest : the case that lasts longest
    total_s : from the guard's trip until everything stands: device, logic, longest; None without a guard. [s]
    distance : what the guard needs; None where no formula here holds, or nothing stops the carrier
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
    """What the station's guard needs for a stop of so long; None where no formula here holds, or it never stands."""
    guard = station.guard
    if guard is None or not math.isfinite(total_s):
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


def stop_time_row(line: Line, station: Station, times: Times) -> Finding:
    """How long until the slowest of all carriers stands; fails where nothing ever stops one."""
    longest = times.longest
    place = line.conveyor.place("coasting" if longest.case == "coast" else "stopping")
    where = f"station {station.name}: {_told(line, station, longest)}"
    if math.isfinite(longest.time_s):
        figures = (longest.time_s, None, "s", None)
        return Finding("stop-time", "safety", "holds", where, place, *figures, STOPS_SOURCE, "")
    remedy = "keep people out by a guard that stays locked until all carriers are known to stand"
    return Finding("stop-time", "safety", "fails", where, place, None, None, "s", None, STOPS_SOURCE, remedy)


def safety_distance_row(
    line: Line, station: Station, times: Times, free: bool, planned_m_s: dict[bool, float]
) -> Finding:
    """The distance of the station's guard against what the longest stop asks for."""
    guard = station.guard
    assert guard is not None and times.total_s is not None  # noqa: PT018  asked for stations with a guard alone
    place, limit_m = line.place("stations", station.name, "guard", "distance"), guard.distance_m
    name = f"station {station.name}, {guard.kind}"
    if not math.isfinite(times.total_s):
        remedy = "keep people out by a guard that stays locked until all carriers are known to stand"
        where = f"{name}: no distance is enough, since nothing stops a carrier"
        return Finding(
            "safety-distance", "safety", "fails", where, place, None, limit_m, "m", None, DISTANCE_SOURCE, remedy
        )
    if times.distance is None:
        return _no_formula(line, station, times.total_s)
    needed = times.distance
    margin = 1.0 - needed.distance_m / limit_m
    where = (
        f"{name}: {times.total_s:.3f} s from its trip until all stands (device {guard.device_s:.3f} s, logic "
        f"{guard.logic_s:.3f} s, carrier {times.longest.time_s:.3f} s), approach {needed.approach_m_s:.1f} m/s"
        f"{_remark(line, station)}"
    )
    verdict = judge(margin)
    remedy = "" if verdict == "holds" else _remedy(line, station, needed, free, planned_m_s)
    figures = (needed.distance_m, limit_m, "m", margin)
    return Finding("safety-distance", "safety", verdict, where, place, *figures, DISTANCE_SOURCE, remedy)


def slowest_that_holds(line: Line, station: Station, free: bool, planned_m_s: dict[bool, float]) -> float | None:
    """The greatest full speed of the drive at which the guard is far enough off; None where no speed is found. [m/s]"""
    guard = station.guard
    assert guard is not None
    full_m_s = line.conveyor.drive.speed_m_s

    def margin(speed_m_s: float) -> float:
        planned = {loaded: min(own_m_s, speed_m_s) for loaded, own_m_s in planned_m_s.items()}
        times = stop_times(station, stop_cases(line, station, free, planned, speed_m_s))
        return -math.inf if times.distance is None else 1.0 - times.distance.distance_m / guard.distance_m

    found = value_that_holds(margin, full_m_s, SLOWEST_SHARE * full_m_s)
    return None if found is None else rounded_away(found, full_m_s)


def at_least_text(length_m: float, units: str) -> str:
    """A length that must be reached, rounded up to whole millimetres or tenths of an inch.

    Examples
    --------
    >>> at_least_text(0.7302, "mm"), at_least_text(0.254, "inch")
    ('731 mm', '10 in')
    """
    step_m = 0.00254 if units == "inch" else 0.001
    return length_text(math.ceil(length_m / step_m - 1e-6) * step_m, units)


def _told(line: Line, station: Station, one: StopCase) -> str:
    load = "loaded" if one.loaded else "empty"
    how = "by a fault" if one.cause == "fault" else "by the plan"
    if one.case == "powered":
        return (
            f"a {load} carrier of {one.mass_kg:.4g} kg brakes from {one.speed_m_s:.4g} m/s ({how}) within "
            f"{length_text(one.distance_m, line.units)}; without power all stand sooner"
        )
    if not math.isfinite(one.time_s):
        return f"a {load} carrier of {one.mass_kg:.4g} kg never stands: the stated least drag is 0 N"
    way = length_text(one.distance_m, line.units)
    start = f"a {load} carrier of {one.mass_kg:.4g} kg that loses power {how}, {one.speed_m_s:.4g} m/s at most, "
    coasting, stopping = line.conveyor.coasting, line.conveyor.stopping
    assert coasting is not None and stopping is not None  # noqa: PT018  else there is no such case
    by_itself_s = stopping.reaction_s + one.mass_kg * one.speed_m_s / coasting.least_drag_N
    if one.time_s < by_itself_s - 1e-12:
        return start + f"coasts up to {way} to an end stop; the one that just reaches it takes longest"
    idle = station.end_stops_m is not None and one.distance_m > 2.0 * station.end_stops_m
    return start + f"coasts {way}" + ("; the end stops do not count" if idle else "")


def _remark(line: Line, station: Station) -> str:
    guard = station.guard
    assert guard is not None
    if guard.kind == "scanner" and guard.height_m is not None:
        coarsest = length_text(coarsest_scanner_m(guard.height_m), line.units)
        return f"; the scanner must see bodies of {coarsest} at its height"
    if guard.kind == "interlocked":
        return "; what one can reach through before it trips must be taken off the stated distance"
    return ""


def _no_formula(line: Line, station: Station, total_s: float) -> Finding:
    """A guard that the formulas here do not cover."""
    guard = station.guard
    assert guard is not None
    if guard.kind == "light-curtain":
        key, bound = "resolution", length_text(COARSEST_M, line.units)
        why = f"a light curtain that sees {length_text(guard.resolution_m or 0.0, line.units)} is coarser than {bound}"
    else:
        key, bound = "height", length_text(HIGHEST_FIELD_M, line.units)
        why = f"a field {length_text(guard.height_m or 0.0, line.units)} over the floor is higher than {bound}"
    where = (
        f"station {station.name}: {why}, for which no formula is held here; {total_s:.3f} s until all "
        "stands; the crush gaps are not checked either"
    )
    remedy = (
        f"state under guard a {guard.kind} with a {key} of at most {bound}, or have its distance reckoned by a "
        "competent person"
    )
    place = line.place("stations", station.name, "guard", key)
    figures = (None, guard.distance_m, "m", None)
    return Finding("safety-distance", "safety", "not checked", where, place, *figures, DISTANCE_SOURCE, remedy)


def _remedy(line: Line, station: Station, needed: SafetyDistance, free: bool, planned_m_s: dict[bool, float]) -> str:
    """Farther, slower, guarded; each by itself."""
    ways = [f"farther: a guard at least {at_least_text(needed.distance_m, line.units)} from the nearest danger"]
    slower_m_s = slowest_that_holds(line, station, free, planned_m_s)
    if slower_m_s is not None and slower_m_s < line.conveyor.drive.speed_m_s:
        ways.append(
            f"slower: no carrier of the line ever faster than {slower_m_s:.4g} m/s, held safely by the drive and not "
            "by a program"
        )
    ways.append("guarded: a guard that stays locked until all carriers are known to stand")
    return "; or ".join(ways)
