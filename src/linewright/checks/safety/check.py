"""The safety rows of a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from linewright.checks.safety import line_rows as rows
from linewright.checks.safety.guard_rows import (
    asks_who_is_behind,
    safety_distance_row,
    standing_behind_row,
    stop_time_row,
    unlock_time_row,
)
from linewright.checks.safety.guard_times import stop_times
from linewright.checks.safety.hazards import hazard_list
from linewright.checks.safety.others import (
    NearLane,
    lanes_within_reach,
    other_lane_row,
    others_missing_row,
)
from linewright.checks.safety.place import StationPlace, station_place
from linewright.checks.safety.place_rows import (
    coast_in_row,
    crush_gap_row,
    end_stop_place_row,
    end_stop_speed_row,
    zone_row,
)
from linewright.checks.safety.stops import (
    StopCase,
    operator_stations,
    planned_speeds,
    stop_cases,
    stops_table,
    within_payload,
)
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.line.station import Station
from linewright.tables import Table


@dataclass(frozen=True, eq=False)
class SafetyResult:
    """What was found about people at the line.

    Parameters
    ----------
    findings : the rows
    stops : station, case (powered or coast), cause (plan or fault), loaded, mass_kg, speed_m_s, distance_m, time_s;
        both last are infinite where nothing stops the carrier
    hazards : heading, hazard, where, known, first_measure, left_to_decide; a start for the risk assessment
    """

    findings: tuple[Finding, ...]
    stops: Table
    hazards: Table


def check_safety(
    line: Line, layout: Layout, feeder_V: float | None = None, without_resistor_V: float | None = None
) -> SafetyResult:
    """Check what a line does to people, most of all at its operator stations.

    Parameters
    ----------
    line, layout : a line and its own layout
    feeder_V : highest voltage that any feeder comes to as carriers brake; None where it is not known, and then the
        voltage at which the supply trips stands alone. [V], ≥ 0
    without_resistor_V : highest voltage that any feeder would come to if its braking resistor were gone; None where no
        resistor is stated or it is not known. Told in words alone. [V], ≥ 0

    Returns
    -------
    SafetyResult   Of its findings, all of the subject ``safety``, the codes are ``stop-time``, ``safety-distance``,
                   ``unlock-time``, ``standing-behind``, ``other-lane``, ``zone``, ``coast-in``, ``end-stop-speed``,
                   ``end-stop-place``, ``crush-gap``, ``energy``, ``stored-charge``, ``extra-low-voltage``, ``magnets``,
                   ``falling-platform``; ``guard`` and ``supply`` where these are not stated; ``operator-stations``
                   where no operator station is stated.

    Raises
    ------
    ValueError   feeder_V or without_resistor_V is negative, infinite or not a number.

    Notes      No run is needed: a fault may send any carrier at full speed, whatever the run shows. Nothing here states
               a performance level or conformity.

    Source
    ------
    docs/limits/safety.md.
    """
    stations = operator_stations(line)
    hazards = hazard_list(line, feeder_V)
    planned = planned_speeds(line, layout, stations)
    places = {station.name: station_place(line, layout, station) for station in stations}
    full_m_s = line.conveyor.drive.speed_m_s
    cases = {
        station.name: stop_cases(
            line, station, places[station.name].stops_free, planned.get(station.name, {}), full_m_s
        )
        for station in stations
    }
    near = {one.name: lanes_within_reach(line, layout, one) for one in stations if one.guard is not None}
    findings = [*_missing(line, stations, near)] if stations else [rows.no_station_row(line)]
    for station in stations:
        name = station.name
        findings += _of_station(line, station, places[name], near.get(name, ()), cases[name], planned.get(name, {}))
    findings += _of_line(line, stations, feeder_V, without_resistor_V)
    return SafetyResult(tuple(findings), stops_table(tuple(chain.from_iterable(cases.values()))), hazards)


def _is_timed(line: Line) -> bool:
    """Whether both stops are known."""
    sheet = line.conveyor
    return sheet.stopping is not None and sheet.coasting is not None and within_payload(line)


def _missing(line: Line, stations: tuple[Station, ...], near: dict[str, tuple[NearLane, ...]]) -> Iterator[Finding]:
    """One row for each figure that is not stated."""
    bare = tuple(station for station in stations if station.guard is None)
    unzoned = tuple(station for station in stations if station.guard is not None and station.motor_zone is None)
    if bare:
        yield rows.guard_missing_row(line, bare)
    if unzoned:
        yield rows.zone_missing_row(line, unzoned)
    sheet = line.conveyor
    if sheet.stopping is None or sheet.coasting is None:
        yield rows.stop_missing_row(line, stations)
    elif not within_payload(line):
        yield rows.payload_row(line, stations)
    unasked = _unasked(stations)
    if unasked:
        yield rows.behind_missing_row(line, unasked)
    unstated = tuple((one, near[one.name]) for one in stations if _reach_is_unstated(one, near.get(one.name, ())))
    if unstated:
        yield others_missing_row(line, unstated)


def _unasked(stations: tuple[Station, ...]) -> tuple[Station, ...]:
    """Guarded stations of which nothing says whether whoever stands behind the guard is seen."""
    return tuple(
        one for one in stations if asks_who_is_behind(one) and one.guard is not None and one.guard.seen_behind is None
    )


def _reach_is_unstated(station: Station, near: tuple[NearLane, ...]) -> bool:
    """Whether other lanes are near a guarded station of which nothing says that they cannot be reached."""
    return station.guard is not None and bool(near) and station.guard.others_out_of_reach is None


def _of_station(
    line: Line,
    station: Station,
    place: StationPlace,
    near: tuple[NearLane, ...],
    cases: tuple[StopCase, ...],
    planned_m_s: dict[bool, float],
) -> list[Finding]:
    """The rows of one operator station, as far as its figures are stated."""
    found: list[Finding] = []
    guard, timed = station.guard is not None, _is_timed(line)
    if timed:
        times = stop_times(station, cases)
        found.append(stop_time_row(line, station, times, place))
        if station.guard is not None:
            row = unlock_time_row if station.guard.kind == "locked" else safety_distance_row
            found.append(row(line, station, times, place, planned_m_s))
    unasked = bool(_unasked((station,)))
    if asks_who_is_behind(station) and not unasked:
        found.append(standing_behind_row(line, station))
    unstated = _reach_is_unstated(station, near)
    if guard and near and not unstated:
        found.append(other_lane_row(line, station, near))
    if station.end_stops_m is not None:
        found.append(end_stop_place_row(line, station, place))
        if line.conveyor.coasting is not None:
            found.append(end_stop_speed_row(line, station))
    zoned = guard and station.motor_zone is not None  # without a guard nothing switches the zone off
    if zoned and line.conveyor.supply is not None:
        found.append(zone_row(line, station))
    if zoned and line.conveyor.coasting is not None:
        found.append(coast_in_row(line, station, place))
    judged = timed and zoned and not unasked and not unstated and line.conveyor.supply is not None
    if judged and all(one.verdict != "not checked" for one in found):
        guarded = all(one.verdict in ("holds", "tight") for one in found)
        gap = crush_gap_row(line, station, place, guarded)
        found += [] if gap is None else [gap]
    return found


def _of_line(
    line: Line, stations: tuple[Station, ...], feeder_V: float | None, without_resistor_V: float | None
) -> list[Finding]:
    """The rows that stand once for the whole line, whoever works at it."""
    found = [rows.energy_row(line, stations)]
    if line.conveyor.supply is None:
        zoned = tuple(one for one in stations if one.guard is not None and one.motor_zone is not None)
        found.append(rows.supply_missing_row(line, zoned))
    else:
        found.append(rows.stored_charge_row(line, feeder_V, without_resistor_V))
        found.append(rows.voltage_row(line, feeder_V, without_resistor_V))
    found.append(rows.magnets_row(line, tuple(station for station in stations if station.guard is not None)))
    falling = rows.falling_platform_row(line)
    return found if falling is None else [*found, falling]
