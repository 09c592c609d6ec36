"""The rows of one operator station about places: motor zone, coasting in, end stops, gaps that crush."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from linewright.checks.safety.energies import CRUSH_GAPS_M, crush_gap
from linewright.checks.safety.guard_rows import PAGE, slower_words
from linewright.checks.safety.place import (
    StationPlace,
    at_least_m,
    at_least_text,
    coast_in_m,
    least_zone_m,
    nearest_free_stop,
    way_to_carrier_m,
    zone_for,
)
from linewright.checks.safety.stops import SAME_PLACE_M
from linewright.findings import Finding, Verdict, judge
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.spoken import in_words
from linewright.line.station import Station
from linewright.motion.coasting import coast
from linewright.motion.limits import moving_mass_kg
from linewright.remedies import spare_for

ZONE_SOURCE: Final = f"{PAGE}, Motor zone; the conveyor sheet, supply"
COAST_IN_SOURCE: Final = f"{PAGE}, Coasting in; the conveyor sheet, coasting"
END_STOP_SOURCE: Final = "the conveyor sheet, coasting: speed at which an end stop still holds"
STOP_PLACE_SOURCE: Final = f"{PAGE}, End stops"
GAP_SOURCE: Final = f"ISO 13854; {PAGE}, Crush gaps"
_LOCKED: Final = "guarded: a door that stays locked while any carrier of the line can move"
_LOCKED_FAILS: Final = f"{_LOCKED}; this row then goes on failing, for it is about a zone beside which carriers move"
_NO_STOPS: Final = "guarded: no end stops, and a door that stays locked until all carriers stand (kind: locked)"
_COVERS: Final = {"fails": "covers", "tight": "comes near"}


def zone_row(line: Line, station: Station) -> Finding:
    """Whether the station's motor zone can be switched off while logic, positions and identity stay alive."""
    supply = line.conveyor.supply
    assert supply is not None  # asked for sheets that state one
    where = f"station {station.name}: its guard switches off motor zone {station.motor_zone}"
    if supply.separate_logic_supply:
        where += "; logic, positions and identity stay alive on a supply of their own"
        place = line.place("stations", station.name, "motor_zone")
        return Finding("zone", "safety", "holds", where, place, None, None, None, None, ZONE_SOURCE, "")
    where += ", but the sheet states no separate logic supply: with its motors the zone loses positions and identity"
    remedy = (
        "guarded: a door that stays locked until the motor supply of the whole line is off and all stands; this row "
        "then goes on failing"
    )
    place = line.conveyor.place("supply", "separate_logic_supply")
    return Finding("zone", "safety", "fails", where, place, None, None, None, None, ZONE_SOURCE, remedy)


def end_stop_speed_row(line: Line, station: Station) -> Finding:
    """The speed with which a carrier may meet an end stop against what it holds."""
    coasting, full_m_s = line.conveyor.coasting, line.conveyor.drive.speed_m_s
    assert coasting is not None  # asked for sheets that state it
    limit_m_s = coasting.end_stop_speed_m_s
    margin = 1.0 - full_m_s / limit_m_s
    verdict = judge(margin)
    where = f"station {station.name}: a carrier at the drive's full speed against an end stop"
    if verdict == "fails":
        where += "; end stops that do not hold it are not counted on"
    slower_m_s = (1.0 - spare_for(verdict)) * limit_m_s
    remedy = ""
    if verdict != "holds":
        remedy = f"{slower_words(slower_m_s, full_m_s, line.units)}{_or_more(verdict)}"
    place = line.place("stations", station.name, "end_stops")
    figures = (full_m_s, limit_m_s, "m/s", margin)
    return Finding("end-stop-speed", "safety", verdict, where, place, *figures, END_STOP_SOURCE, remedy)


def _or_more(verdict: Verdict) -> str:
    return f"; or {_NO_STOPS}" if verdict == "fails" else ""


def end_stop_place_row(line: Line, station: Station, place: StationPlace) -> Finding:
    """Whether the end stops can fall in: on the lane, and no body of a carrier that rests across them."""
    assert place.stop_to_body_m is not None and place.end_stops_m is not None  # noqa: PT018  asked for those with both
    at = line.place("stations", station.name, "end_stops")
    stated = length_text(place.end_stops_m, line.units)
    where = f"station {station.name}: end stops {stated} to each side of its centre"
    if not place.stops_on_lane:
        where += ", off its lane, where platforms come or nothing carries them: they are not counted on"
        figures = (place.room_m, place.end_stops_m, "m", place.room_m / place.end_stops_m - 1.0)
        free = nearest_free_stop(place, line.units)
        ways = [] if free is None else [f"guarded: end stops at {free[1]}, the nearest place on the lane that is free"]
        remedy = "; or ".join([*ways, _NO_STOPS])
        return Finding("end-stop-place", "safety", "fails", where, at, *figures, STOP_PLACE_SOURCE, remedy)
    half_m = place.body_m / 2
    margin = 0.0 if place.stops_free and place.stop_to_body_m < half_m else place.stop_to_body_m / half_m - 1.0
    verdict = judge(margin)
    where += "; a carrier that rests keeps them from falling in" if verdict == "fails" else "; no carrier rests there"
    figures = (place.stop_to_body_m, half_m, "m", margin)
    remedy = "" if verdict == "holds" else _free_stops(line, place, verdict)
    return Finding("end-stop-place", "safety", verdict, where, at, *figures, STOP_PLACE_SOURCE, remedy)


def _free_stops(line: Line, place: StationPlace, verdict: Verdict) -> str:
    """Where the end stops could fall in, and what would keep waiting carriers off them; with room where it is tight."""
    free = nearest_free_stop(place, line.units, 1.0 + spare_for(verdict))
    ways = []
    if free is not None:
        ways.append(f"guarded: end stops at {free[1]}, the nearest place that no body {_COVERS[verdict]}")
    if place.keep_clear_helps:
        least = at_least_text((place.end_stops_m or 0.0) + spare_for(verdict) * place.body_m / 2, line.units)
        ways.append(f"farther: let no carrier wait near by keep_clear of at least {least} at the station")
    return "; or ".join([*ways, _NO_STOPS] if verdict == "fails" else ways)


def coast_in_row(line: Line, station: Station, place: StationPlace) -> Finding:
    """Whether a carrier from outside the motor zone can come into reach."""
    coasting = line.conveyor.coasting
    assert coasting is not None and place.zone_m is not None  # noqa: PT018  asked for stations with both
    held = (
        place.end_stops_m is not None
        and place.stops_free
        and line.conveyor.drive.speed_m_s <= coasting.end_stop_speed_m_s
    )
    return _held_out(line, station, place) if held else _coasts_in(line, station, place)


def _held_out(line: Line, station: Station, place: StationPlace) -> Finding:
    """End stops hold what comes from outside; a body across one must lie wholly over the zone."""
    assert place.zone_m is not None  # as above
    least_m = least_zone_m(place)
    margin = place.zone_m / least_m - 1.0 if abs(place.zone_m - least_m) > 1e-9 else 0.0
    verdict = judge(margin)
    where = f"station {station.name}: its end stops hold out what comes from beyond motor zone {station.motor_zone}"
    if verdict == "fails":
        where += ", but a carrier across an end stop still lies over track that has power and can be driven in"
    remedy = ""
    if verdict != "holds":
        remedy = "; or ".join([*_farther(line, place, least_m * (1.0 + spare_for(verdict))), _locked(verdict)])
    at = line.place("motor_zones", str(station.motor_zone))
    figures = (place.zone_m, least_m, "m", margin)
    return Finding("coast-in", "safety", verdict, where, at, *figures, COAST_IN_SOURCE, remedy)


def _coasts_in(line: Line, station: Station, place: StationPlace) -> Finding:
    """No end stop holds what comes from outside: it must stand before it reaches the carrier at the station."""
    coasting, full_m_s = line.conveyor.coasting, line.conveyor.drive.speed_m_s
    assert coasting is not None and place.zone_m is not None  # noqa: PT018  as above
    mass_kg = max(moving_mass_kg(line, loaded) for loaded in (False, True))
    at = line.place("motor_zones", str(station.motor_zone))
    limit_m = max(way_to_carrier_m(place), 0.0)
    mass = in_words(mass_kg, "kg", line.units)
    where = f"station {station.name}: a carrier of {mass} that enters zone {station.motor_zone} at full speed"
    if coasting.least_drag_N == 0.0:
        where += " never stands: the stated least drag is 0 N"
        remedy = "; or ".join([*_stops(line, place), _LOCKED_FAILS])
        return Finding("coast-in", "safety", "fails", where, at, None, limit_m, "m", None, COAST_IN_SOURCE, remedy)
    value_m = coast_in_m(place, coast(mass_kg, full_m_s, coasting.least_drag_N).distance_m)
    margin = 1.0 - value_m / limit_m if limit_m > 0.0 else -1.0
    verdict = judge(margin)
    where += " coasts this far in; the limit is the way to the carrier that stands there"
    remedy = ""
    if verdict != "holds":
        share = 1.0 - spare_for(verdict)
        ways = _farther(line, place, value_m / share + place.body_m / 2)
        room_m = share * limit_m - place.body_m
        if room_m > 0.0:
            slower_m_s = (2.0 * coasting.least_drag_N * room_m / mass_kg) ** 0.5
            ways.append(slower_words(slower_m_s, full_m_s, line.units))
        remedy = "; or ".join([*ways, *_stops(line, place), _locked(verdict)])
    figures = (value_m, limit_m, "m", margin)
    return Finding("coast-in", "safety", verdict, where, at, *figures, COAST_IN_SOURCE, remedy)


def _locked(verdict: Verdict) -> str:
    return _LOCKED_FAILS if verdict == "fails" else _LOCKED


def _farther(line: Line, place: StationPlace, least_m: float) -> list[str]:
    """A wider zone as a way out; none where the lane ends, or another zone begins, before that."""
    told_m = at_least_m(least_m, line.units)
    if place.widest_zone_m is None or told_m > place.widest_zone_m + SAME_PLACE_M:
        return []
    told = length_text(told_m, line.units)
    return [f"farther: let the zone reach at least {told} to each side of the station's centre"]


def _stops(line: Line, place: StationPlace) -> list[str]:
    """End stops as a way out, as they would have to be; none where they find no place or the zone stays too short."""
    wanted = place if place.end_stops_m is not None else replace(place, end_stops_m=place.body_m / 2)
    spared = nearest_free_stop(wanted, line.units, 1.0 + spare_for("tight"))
    for found in (spared, nearest_free_stop(wanted, line.units)):
        zone = None if found is None else zone_for(place, found[0], line.units)
        if found is not None and zone is not None:
            reach = "" if place.end_stops_m is None else " that can fall in"
            return [f"guarded: rated end stops{reach} (end_stops: {found[1]}){zone}"]
    return []


def crush_gap_row(line: Line, station: Station, place: StationPlace, guarded: bool) -> Finding | None:
    """What the gaps at the station crush as they close; None where nothing there closes."""
    told = []
    gaps_m = []
    if place.gap_m is not None:
        gaps_m.append(place.gap_m)
        told.append(f"to the next carrier {length_text(place.gap_m, line.units)}")
    if place.end_stops_m is not None:
        gaps_m.append(max(place.end_stops_m - place.body_m / 2, 0.0))
        told.append(f"to an end stop {length_text(gaps_m[-1], line.units)}")
    if not gaps_m:
        return None
    found = crush_gap(min(gaps_m))
    where = f"station {station.name}: {'only while the guard works: ' if guarded else ''}"
    where += f"by the plan gaps close, {' and '.join(told)}, in a fault to nothing"
    where += f"; by the plan they crush: {', '.join(found.crushed)}" if found.crushed else ""
    at = line.place("stations", station.name, "guard")
    if guarded:
        where += "; the guard keeps people out until all stands"
        return Finding("crush-gap", "safety", "holds", where, at, found.gap_m, None, "m", None, GAP_SOURCE, "")
    where += "; no guard that is shown to hold keeps people out"
    remedy = "guarded: mend the rows of this station's guard, motor zone and end stops"
    figures = (0.0, CRUSH_GAPS_M["body"], "m", -1.0)
    return Finding("crush-gap", "safety", "fails", where, at, *figures, GAP_SOURCE, remedy)
