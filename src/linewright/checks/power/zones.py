"""Motor zones: stretches of track at operator stations whose motors are switched off by themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from linewright.checks.power.rows import PAGE, at_most, not_checked
from linewright.findings import Finding
from linewright.layout import Layout
from linewright.layout.lanes import SAME_PLACE_M
from linewright.line.electrics import MotorZone
from linewright.line.model import Line
from linewright.line.station import Station
from linewright.remedies import rounded_place
from linewright.tables import Column, Table

SOURCE = f"{PAGE}, Motor zones"


def operator_stations(line: Line) -> tuple[Station, ...]:
    """Stations at which a person may reach in: to work, to release, behind a guard, or to put carriers in or out."""
    handled = {change.station for change in line.carrier_changes}
    return tuple(
        one
        for one in line.stations
        if one.work == "manual" or one.release_s is not None or one.guard is not None or one.name in handled
    )


def zone_rows(line: Line, layout: Layout) -> list[Finding]:
    """Whether each operator station can be switched off by itself, and its zone holds a whole carrier."""
    rows = []
    bare = [station.name for station in operator_stations(line) if station.motor_zone is None]
    if bare:
        where = f"operator stations {', '.join(bare)}: no motor zone that can be switched off is stated"
        remedy = "state the key motor_zone at the station, and the zone under motor_zones in the line file"
        rows.append(not_checked("motor-zone", where, ("stations", bare[0], "motor_zone"), line, SOURCE, remedy))
    zones = {zone.name: zone for zone in line.motor_zones}
    reach = [_reach_row(line, layout, s, zones[s.motor_zone]) for s in line.stations if s.motor_zone in zones]
    return [*rows, *reach, *_logic_rows(line)]


def _place_m(station: Station) -> float:
    """On the floor, on a ring along it: as zones are stated. [m]"""
    return station.at_m if station.along_m is None else station.along_m


def _reach_row(line: Line, layout: Layout, station: Station, zone: MotorZone) -> Finding:
    """A carrier at the station must lie in the zone with its whole body: its magnets reach as far."""
    at_m, half_m = _place_m(station), 0.5 * layout.body_m
    below_m, above_m = at_m - zone.from_m, zone.to_m - at_m
    key, least_m = ("from", below_m) if below_m <= above_m else ("to", above_m)
    ends = {"from": below_m, "to": above_m}
    return at_most(
        "zone-reach",
        f"motor zone {zone.name}: half of a carrier's body at station {station.name} against the way to the zone's end",
        ("motor_zones", zone.name, key),
        line,
        half_m,
        max(least_m, 0.0),
        "m",
        SOURCE,
        lambda share: " and ".join(
            dict.fromkeys(
                _farther(line, layout, station, zone, one, half_m / share)
                for one, way_m in ends.items()
                if way_m < half_m / share
            )
        ),
    )


def _farther(line: Line, layout: Layout, station: Station, zone: MotorZone, key: str, way_m: float) -> str:
    """The end of the zone so far from the station, rounded away from it; else what is in the way there."""
    lane, at_m = layout.lane(zone.lane), _place_m(station)
    first_m = 0.0 if lane.is_ring else lane.west_end_m
    others = [one for one in line.motor_zones if one.lane == zone.lane and one is not zone]
    if key == "from":
        bound_m = max([first_m, *(one.to_m for one in others if one.to_m <= zone.from_m + SAME_PLACE_M)])
    else:
        bound_m = min(
            [first_m + lane.length_m, *(one.from_m for one in others if one.from_m >= zone.to_m - SAME_PLACE_M)]
        )

    def fits(end_m: float) -> bool:
        beyond_m = bound_m - end_m if key == "from" else end_m - bound_m
        return abs(end_m - at_m) >= way_m * (1.0 - 1e-10) and beyond_m <= SAME_PLACE_M

    end_m = at_m - way_m if key == "from" else at_m + way_m
    told = rounded_place(end_m, line.units, fits)
    if told is not None:
        return f"write {key}: {told[1]}"
    return (
        "the lane or the next zone leaves no room for a longer one: move the station, or the border between the zones"
    )


def _logic_rows(line: Line) -> list[Finding]:
    """With the motors of a zone off, logic, positions and identity stay alive only with a supply of their own."""
    used = [station.motor_zone for station in line.stations if station.motor_zone is not None]
    if not used:
        return []
    supply, names = line.conveyor.supply, ", ".join(sorted(set(used)))
    place = line.conveyor.place("supply", "separate_logic_supply")
    source = f"{SOURCE}; the conveyor sheet's separate_logic_supply"
    if supply is None:
        where = f"motor zones {names}: whether the logic has a supply of its own is not stated"
        remedy = "state the key separate_logic_supply under supply in the conveyor sheet"
        return [replace(not_checked("zone-logic", where, (), line, source, remedy), place=place)]
    where = f"motor zones {names}: logic, positions and identity while their motors are off"
    row = not_checked("zone-logic", where, (), line, source, "")
    if supply.separate_logic_supply:
        return [replace(row, verdict="holds", place=place)]
    remedy = "a conveyor whose logic has a supply of its own"
    return [replace(row, verdict="fails", margin=-1.0, place=place, remedy=remedy)]


def zones_table(line: Line, layout: Layout) -> Table:
    """One row a zone: where it lies, which feeders feed it, which stations it holds."""
    stations = {
        zone.name: [station.name for station in line.stations if station.motor_zone == zone.name]
        for zone in line.motor_zones
    }
    supply = line.conveyor.supply
    separate = "not stated" if supply is None else ("yes" if supply.separate_logic_supply else "no")

    def feeders_of(zone: MotorZone) -> str:
        found = [
            feeder.name
            for feeder in line.feeders
            if feeder.lane == zone.lane
            and (feeder.from_m is None or feeder.from_m < zone.to_m)
            and (feeder.to_m is None or feeder.to_m > zone.from_m)
        ]
        return ", ".join(found)

    zones = line.motor_zones
    return Table(
        (
            Column("zone", None, np.array([zone.name for zone in zones], dtype=np.str_), "motor zone"),
            Column("lane", None, np.array([zone.lane for zone in zones], dtype=np.str_), "lane"),
            Column("from_m", "m", np.array([zone.from_m for zone in zones]), "from, as stated"),
            Column("to_m", "m", np.array([zone.to_m for zone in zones]), "to, as stated"),
            Column("feeders", None, np.array([feeders_of(zone) for zone in zones], dtype=np.str_), "fed by"),
            Column(
                "stations",
                None,
                np.array([", ".join(stations[zone.name]) for zone in zones], dtype=np.str_),
                "stations in it",
            ),
            Column("own_logic_supply", None, np.array([separate for _ in zones], dtype=np.str_), "logic stays alive"),
        )
    )
