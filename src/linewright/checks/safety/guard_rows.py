"""The rows of one operator station about its guard: how long until carriers stand, how far off it must be, how long it
must stay locked, and who stands behind it."""

from __future__ import annotations

import math
from typing import Final

from linewright.checks.safety.distances import COARSEST_M, HIGHEST_FIELD_M, coarsest_scanner_m
from linewright.checks.safety.guard_times import Times, guard_margin, slowest_that_holds, times_with_end_stops
from linewright.checks.safety.place import StationPlace, at_least_text, zone_for
from linewright.checks.safety.stops import StopCase, rests_on_end_stops
from linewright.findings import Finding, judge
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.spoken import in_words, plain, to_write
from linewright.line.station import Station
from linewright.line.tooling import Guard
from linewright.remedies import rounded_away, spare_for

PAGE: Final = "docs/limits/safety.md"
STOPS_SOURCE: Final = f"{PAGE}, The two stops; the conveyor sheet, stopping and coasting"
DISTANCE_SOURCE: Final = f"ISO 13855 in its form of 2010; {PAGE}, Safety distance"
UNLOCK_SOURCE: Final = f"{PAGE}, Locked doors"
BEHIND_SOURCE: Final = f"common practice; {PAGE}, Standing behind"
ROOM_TO_STAND_M: Final = 0.3
"""Farther from the danger than this there is room to stand behind a guard, higher than this to crawl under a field:
common practice. [m]"""
_ABSORB: Final = "; end stops are counted on if they absorb the blow: a rebound is not reckoned"
PROOF: Final = (
    "guarded: a door that stays locked until all carriers are known to stand, by a proof of standstill and not by a "
    "time; this row then goes on failing"
)


def stop_time_row(line: Line, station: Station, times: Times, own: StationPlace) -> Finding:
    """How long until the slowest of all carriers stands; fails where nothing ever stops one."""
    longest = times.longest
    place = line.conveyor.place("coasting" if longest.case == "coast" else "stopping")
    where = f"station {station.name}: {_told(line, station, longest)}{_rests(line, station, own)}"
    if math.isfinite(longest.time_s):
        figures = (longest.time_s, None, "s", None)
        return Finding("stop-time", "safety", "holds", where, place, *figures, STOPS_SOURCE, "")
    return Finding("stop-time", "safety", "fails", where, place, None, None, "s", None, STOPS_SOURCE, PROOF)


def safety_distance_row(
    line: Line, station: Station, times: Times, own: StationPlace, planned_m_s: dict[bool, float]
) -> Finding:
    """The distance of the station's guard against what the longest stop asks for."""
    guard = station.guard
    assert guard is not None and times.total_s is not None  # noqa: PT018  asked for stations with a guard alone
    place, limit_m = line.place("stations", station.name, "guard", "distance"), guard.distance_m
    name = f"station {station.name}, {guard.kind}"
    if not math.isfinite(times.total_s):
        where = f"{name}: no distance is enough, since nothing stops a carrier"
        return Finding(
            "safety-distance", "safety", "fails", where, place, None, limit_m, "m", None, DISTANCE_SOURCE, PROOF
        )
    if times.distance is None:
        return _no_formula(line, station, times.total_s)
    needed = times.distance
    margin = guard_margin(station, times)
    approach = f"{needed.approach_m_s:.1f} m/s"
    if line.units == "inch":
        approach = in_words(needed.approach_m_s, "m/s", line.units)
    where = f"{name}: {_summed(guard, times)}, approach {approach}{_remark(line, station)}"
    where += _rests(line, station, own) + _tool(station)
    verdict = judge(margin)
    remedy = ""
    if verdict != "holds":
        spare_share = spare_for(verdict)
        least = at_least_text(needed.distance_m / (1.0 - spare_share), line.units)
        remedy = "; or ".join(
            [
                f"farther: a guard at least {least} from the nearest danger",
                *_slower(line, station, own, planned_m_s, spare_share),
                *_with_end_stops(line, station, own, planned_m_s, spare_share),
                f"guarded: a door that stays locked (kind: locked, {_unlocks(times.total_s, spare_share)})",
            ]
        )
    figures = (needed.distance_m, limit_m, "m", margin)
    return Finding("safety-distance", "safety", verdict, where, place, *figures, DISTANCE_SOURCE, remedy)


def unlock_time_row(
    line: Line, station: Station, times: Times, own: StationPlace, planned_m_s: dict[bool, float]
) -> Finding:
    """How long a locked door stays locked against how long carriers still move."""
    guard = station.guard
    assert guard is not None and guard.unlocks_after_s is not None  # noqa: PT018  asked for locked doors alone
    assert times.total_s is not None  # as there is a guard
    place, limit_s = line.place("stations", station.name, "guard", "unlocks_after"), guard.unlocks_after_s
    if not math.isfinite(times.total_s):
        where = f"station {station.name}, locked: no time is enough, since nothing stops a carrier"
        return Finding("unlock-time", "safety", "fails", where, place, None, limit_s, "s", None, UNLOCK_SOURCE, PROOF)
    margin = guard_margin(station, times)
    verdict = judge(margin)
    where = f"station {station.name}, locked: {_summed(guard, times)}; the limit is when it can be opened"
    where += "; only if its lock holds without power and it opens from inside"
    where += _rests(line, station, own) + _tool(station)
    remedy = ""
    if verdict != "holds":
        spare_share = spare_for(verdict)
        remedy = "; or ".join(
            [
                f"guarded: let it stay locked for longer ({_unlocks(times.total_s, spare_share)})",
                *_slower(line, station, own, planned_m_s, spare_share),
                *_with_end_stops(line, station, own, planned_m_s, spare_share),
            ]
        )
    figures = (times.total_s, limit_s, "s", margin)
    return Finding("unlock-time", "safety", verdict, where, place, *figures, UNLOCK_SOURCE, remedy)


def asks_who_is_behind(station: Station) -> bool:
    """Whether somebody may be between the station's guard and the danger without its knowing, or it is stated so."""
    guard = station.guard
    if guard is None:
        return False
    room_m = (guard.height_m or 0.0) if guard.kind == "scanner" else guard.distance_m
    return guard.kind == "locked" or room_m > ROOM_TO_STAND_M + 1e-9 or guard.seen_behind is False


def standing_behind_row(line: Line, station: Station) -> Finding:
    """Whether whoever stands behind the guard is seen; asked where that is stated and there is room."""
    guard = station.guard
    assert guard is not None  # asked for stations with a guard alone
    room_m = guard.height_m if guard.kind == "scanner" else guard.distance_m
    where = f"station {station.name}, {guard.kind}: {_behind(line, guard)}"
    place = line.place("stations", station.name, "guard", "seen_behind")
    if guard.seen_behind:
        where += "; it is stated that whoever is there is seen, or has no room to stand"
        return Finding("standing-behind", "safety", "holds", where, place, room_m, None, "m", None, BEHIND_SOURCE, "")
    where += " and is not seen; a reset then starts carriers at that person"
    remedy = (
        "guarded: what sees whoever is there, such as a presence mat or a scanner's field along the floor, or covers "
        "that leave no room to stand, and a reset that is pressed out of reach from there with all of it in sight"
    )
    return Finding("standing-behind", "safety", "fails", where, place, room_m, None, "m", None, BEHIND_SOURCE, remedy)


def _behind(line: Line, guard: Guard) -> str:
    if guard.kind == "scanner":
        return f"a person can crawl under its field, {length_text(guard.height_m or 0.0, line.units)} over the floor"
    if guard.kind == "locked":
        return "a person can be inside as it is closed"
    return f"a person can stand between it and the danger, {length_text(guard.distance_m, line.units)}"


def _told(line: Line, station: Station, one: StopCase) -> str:
    load = "loaded" if one.loaded else "empty"
    how = "by a fault" if one.cause == "fault" else "by the plan"
    mass, speed = in_words(one.mass_kg, "kg", line.units), in_words(one.speed_m_s, "m/s", line.units)
    if one.case == "powered":
        return (
            f"a {load} carrier of {mass} brakes from {speed} ({how}) within "
            f"{length_text(one.distance_m, line.units)}; without power all stand sooner"
        )
    if not math.isfinite(one.time_s):
        return f"a {load} carrier of {mass} never stands: the stated least drag is 0 N"
    way = length_text(one.distance_m, line.units)
    start = f"a {load} carrier of {mass} that loses power {how}, {speed} at most, "
    coasting, stopping = line.conveyor.coasting, line.conveyor.stopping
    assert coasting is not None and stopping is not None  # noqa: PT018  else there is no such case
    by_itself_s = stopping.reaction_s + one.mass_kg * one.speed_m_s / coasting.least_drag_N
    if one.time_s < by_itself_s - 1e-12:
        return start + f"coasts up to {way} to an end stop; the one that just reaches it takes longest"
    idle = station.end_stops_m is not None and one.distance_m > 2.0 * station.end_stops_m
    return start + f"coasts {way}" + ("; the end stops do not count" if idle else "")


def _rests(line: Line, station: Station, own: StationPlace) -> str:
    """What a time is taken for granted that end stops make shorter."""
    return _ABSORB if rests_on_end_stops(line, station, own.stops_free) else ""


def _tool(station: Station) -> str:
    """That the tool is left out, at a station that states a force."""
    presses = any(max(force.size_N, force.greatest_N or 0.0) > 0.0 for force in station.force or ())
    return "; the tool's own stop is in none of these times" if presses else ""


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


def _summed(guard: Guard, times: Times) -> str:
    return (
        f"{times.total_s:.3f} s from its trip until all stands (device {guard.device_s:.3f} s, logic "
        f"{guard.logic_s:.3f} s, carrier {times.longest.time_s:.3f} s)"
    )


def _unlocks(total_s: float, spare_share: float) -> str:
    least_s = rounded_away(total_s / (1.0 - spare_share), 0.0)
    return f"unlocks_after: {plain(least_s)} s or longer"


def _slower(
    line: Line, station: Station, own: StationPlace, planned_m_s: dict[bool, float], spare_share: float
) -> list[str]:
    """A lower speed as a way out; none where none is found."""
    full_m_s = line.conveyor.drive.speed_m_s
    slower_m_s = slowest_that_holds(line, station, own.stops_free, planned_m_s, spare_share)
    if slower_m_s is None or slower_m_s >= full_m_s:
        return []
    return [slower_words(slower_m_s, full_m_s, line.units)]


def slower_words(speed_m_s: float, full_m_s: float, units: str) -> str:
    """A lower speed as a way out, rounded down in the file's unit."""
    told = f"slower: no carrier of the line ever faster than {to_write(speed_m_s, 'm/s', units, full_m_s)}"
    return f"{told}, held safely by the drive and not by a program"


def _with_end_stops(
    line: Line, station: Station, own: StationPlace, planned_m_s: dict[bool, float], spare_share: float
) -> list[str]:
    """End stops as a way out, and what the guard needs with them; none where they count already or cannot."""
    found = times_with_end_stops(line, station, own, planned_m_s)
    if found is None:
        return []
    told, times, end_m = found
    zone = zone_for(own, end_m, line.units)
    if zone is None:
        return []
    assert times.total_s is not None  # as there is a guard
    start = f"guarded: rated end stops {told} to each side of the centre (end_stops: {told}){zone}, with which"
    if station.guard is not None and station.guard.kind == "locked":
        return [f"{start} {_unlocks(times.total_s, spare_share)} is enough if they absorb the blow"]
    assert times.distance is not None  # the same guard has one without them
    least = at_least_text(times.distance.distance_m / (1.0 - spare_share), line.units)
    return [f"{start} a guard {least} from the nearest danger is enough if they absorb the blow"]
