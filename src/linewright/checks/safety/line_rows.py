"""The rows of the whole line: what is not stated, energy, stored charge, voltage, magnets, falling platforms."""

from __future__ import annotations

from typing import Final

from linewright.checks.safety.energies import fall_speed_m_s, greatest_V, kinetic_energy_J, stored_energy_J
from linewright.checks.safety.guard_rows import BEHIND_SOURCE, PAGE
from linewright.checks.safety.hazards import rise_of
from linewright.checks.safety.place import at_least_text
from linewright.errors import Place
from linewright.findings import Finding, judge
from linewright.layout.placing import length_text
from linewright.line.model import Line
from linewright.line.spoken import in_words, rounded
from linewright.line.station import Station
from linewright.motion.limits import moving_mass_kg
from linewright.remedies import spare_for

DRY_LIMIT_V: Final = 60.0
"""Extra-low voltage, direct current, where it is dry and skin touches no great area: IEC 60204-1, from memory. [V]"""
DISCHARGE_LIMIT_S: Final = 5.0
"""Within which what is above 60 V is down to 60 V once it is switched off: IEC 60204-1, from memory. [s]"""
SHEET: Final = "the conveyor sheet"
FOR_NO_VOLTAGE: Final = "The time is stated for no voltage; above the trip measure before you touch"
"""Of the time in which a feeder loses its charge, where braking lifts it above the trip; beginning a sentence."""


def no_station_row(line: Line) -> Finding:
    """No station at which people work is stated, and what follows from that."""
    where = (
        "no operator station is stated (work: manual, release or guard), so nobody may reach carriers anywhere while "
        "they can move: guard the whole line; people still load, clear jams, clean and mend"
    )
    return _told("operator-stations", where, line, f"{PAGE}, What is looked at")


def _told(code: str, where: str, line: Line, source: str) -> Finding:
    return Finding(code, "safety", "holds", where, line.place("stations"), None, None, None, None, source, "")


def _unchecked(
    code: str, where: str, place: Place | None, source: str, remedy: str, unit: str | None = None
) -> Finding:
    return Finding(code, "safety", "not checked", where, place, None, None, unit, None, source, remedy)


def guard_missing_row(line: Line, stations: tuple[Station, ...]) -> Finding:
    """Operator stations without a guard."""
    where = (
        f"{_names(stations)}: no guard is stated; safety distance, motor zone, what coasts in and crush gaps are "
        "not checked"
    )
    place = line.place("stations", stations[0].name)
    remedy = "state the key guard at each of these stations in the line file"
    source = f"{PAGE}, Safety distance"
    return _unchecked("guard", where, place, source, remedy)


def zone_missing_row(line: Line, stations: tuple[Station, ...]) -> Finding:
    """Guarded stations of which nothing says what the guard switches off."""
    where = (
        f"{_names(stations)}: which motor zone the guard switches off is not stated; what coasts in or is driven in "
        "from beside it, and the crush gaps, are not checked"
    )
    place = line.place("stations", stations[0].name)
    remedy = "state the zone under motor_zones and the key motor_zone at each of these stations in the line file"
    source = f"{PAGE}, Motor zone"
    return _unchecked("zone", where, place, source, remedy)


def behind_missing_row(line: Line, stations: tuple[Station, ...]) -> Finding:
    """Guarded stations of which nothing says whether whoever stands behind the guard is seen."""
    where = (
        f"{_names(stations)}: whether whoever stands behind the guard, crawls under it or is inside as it is locked is "
        "seen is not stated; nor are the crush gaps checked"
    )
    place = line.place("stations", stations[0].name, "guard")
    remedy = (
        "state the key seen_behind under guard at each of these stations in the line file: true where a presence mat "
        "(say) sees whoever is there, or there is no room to stand"
    )
    return _unchecked("standing-behind", where, place, BEHIND_SOURCE, remedy)


def stop_missing_row(line: Line, stations: tuple[Station, ...]) -> Finding:
    """The sheet does not state both stops."""
    sheet = line.conveyor
    missing = [key for key, value in (("stopping", sheet.stopping), ("coasting", sheet.coasting)) if value is None]
    lacking = "neither safety distance nor crush gaps" + (" nor what coasts in" if sheet.coasting is None else "")
    where = (
        f"{_names(stations)}: the sheet states no {' and no '.join(missing)}; how long carriers still move is not "
        f"known, so {lacking} are checked"
    )
    remedy = f"state the {'key' if len(missing) == 1 else 'keys'} {' and '.join(missing)} in the conveyor sheet"
    source = f"{PAGE}, The two stops"
    return _unchecked("stop-time", where, sheet.place(), source, remedy, "s")


def payload_row(line: Line, stations: tuple[Station, ...]) -> Finding:
    """The stated stop was measured with less than what the carriers bear."""
    carrier = line.conveyor.carrier
    borne_kg = moving_mass_kg(line, True) - carrier.mass_kg
    payload, borne = (in_words(one, "kg", line.units) for one in (carrier.payload_kg, borne_kg))
    where = (
        f"{_names(stations)}: the stated stop holds up to the payload of {payload}, and carriers bear {borne}; how "
        "long they still move is not known, so neither safety distance nor crush gaps are checked"
    )
    remedy = "state in the conveyor sheet, under carrier and stopping, what its maker states of a stop with so much"
    source = f"{PAGE}, The two stops"
    place = line.conveyor.place("carrier", "payload")
    return _unchecked("stop-time", where, place, source, remedy, "s")


def supply_missing_row(line: Line, zoned: tuple[Station, ...]) -> Finding:
    """The sheet states no supply."""
    where = "stored charge and voltage against extra-low voltage: the sheet states no supply"
    if zoned:
        where += f"; nor whether logic lives on while a motor zone is off, nor the crush gaps there ({_names(zoned)})"
    remedy = "state the key supply in the conveyor sheet"
    source, place = f"{PAGE}, Electrical", line.conveyor.place()
    return _unchecked("supply", where, place, source, remedy)


def energy_row(line: Line, stations: tuple[Station, ...]) -> Finding:
    """Energy of the heaviest carrier at full speed: for information."""
    full_m_s = line.conveyor.drive.speed_m_s
    mass_kg = max(moving_mass_kg(line, loaded) for loaded in (False, True))
    value_J = kinetic_energy_J(mass_kg, full_m_s)
    where = (
        f"{_names(stations) or 'anywhere'}: a carrier of {in_words(mass_kg, 'kg', line.units)} at the drive's full "
        f"speed, {in_words(full_m_s, 'm/s', line.units)}"
    )
    source = f"½ m v²; {PAGE}, Energies: for information, no limit is stated"
    place = line.conveyor.place("drive", "speed")
    return Finding("energy", "safety", "holds", where, place, value_J, None, "J", None, source, "")


def highest_V(line: Line, feeder_V: float | None) -> float:
    """The highest voltage that the motor supply comes to: where it trips, or what braking gives if that is more. [V]

    Raises
    ------
    ValueError   The voltage that braking gives is negative, infinite or not a number.
    """
    supply = line.conveyor.supply
    assert supply is not None  # asked for sheets that state one
    return greatest_V(supply.trip_V, feeder_V)


def trips_below(line: Line, feeder_V: float | None) -> bool:
    """Whether braking lifts the motor supply above its trip voltage, so that a time stated for it need not hold."""
    supply = line.conveyor.supply
    return supply is not None and highest_V(line, feeder_V) > supply.trip_V


def _of_voltage(line: Line, feeder_V: float | None, without_resistor_V: float | None) -> str:
    supply = line.conveyor.supply
    assert supply is not None  # as above
    trip = f"{rounded(supply.trip_V, 4)} V"
    told = f"the trip voltage of {trip}"
    if feeder_V is None:
        told += " (what braking gives is not reckoned)"
    elif feeder_V > supply.trip_V:
        told = f"the {rounded(feeder_V, 4)} V that braking gives, above the trip of {trip}"
    if without_resistor_V is not None and greatest_V(supply.trip_V, without_resistor_V) > highest_V(line, feeder_V):
        told += f" (with a braking resistor gone, a single fault, {rounded(without_resistor_V, 4)} V)"
    return told


def stored_charge_row(line: Line, feeder_V: float | None = None, without_resistor_V: float | None = None) -> Finding:
    """How long a feeder holds charge once it is switched off."""
    supply = line.conveyor.supply
    assert supply is not None  # asked for sheets that state one
    reached_V = highest_V(line, feeder_V)
    energy_J = stored_energy_J(supply.capacitance_F, reached_V)
    energy = in_words(energy_J, "J", line.units, 3)
    where = f"each feeder: {energy} in its capacitors at {_of_voltage(line, feeder_V, without_resistor_V)}"
    place, source = line.conveyor.place("supply", "discharge"), f"{SHEET}, supply; {PAGE}, Electrical"
    if supply.discharge_s is None:
        where += "; how long they hold charge after switching off is not stated"
        remedy = "state the key discharge under supply in the conveyor sheet"
        place = line.conveyor.place("supply")
        return _unchecked("stored-charge", where, place, source, remedy, "s")
    above = trips_below(line, feeder_V)
    if above:
        where += f"; {FOR_NO_VOLTAGE[0].lower()}{FOR_NO_VOLTAGE[1:]}"
    if reached_V <= DRY_LIMIT_V:
        where += "" if above else ", gone after this time"
        return Finding(
            "stored-charge", "safety", "holds", where, place, supply.discharge_s, None, "s", None, source, ""
        )
    margin = 1.0 - supply.discharge_s / DISCHARGE_LIMIT_S
    verdict = judge(margin)
    remedy = "" if verdict == "holds" else "guarded: no live part within reach, and a warning beside what holds charge"
    figures = (supply.discharge_s, DISCHARGE_LIMIT_S, "s", margin)
    source = f"IEC 60204-1, from memory; {PAGE}, Electrical"
    return Finding("stored-charge", "safety", verdict, where, place, *figures, source, remedy)


def voltage_row(line: Line, feeder_V: float | None = None, without_resistor_V: float | None = None) -> Finding:
    """The highest voltage of the motor supply against extra-low voltage where it is dry."""
    supply, surroundings = line.conveyor.supply, line.environment
    assert supply is not None  # asked for sheets that state one
    source, code = f"IEC 60204-1, from memory; {PAGE}, Electrical", "extra-low-voltage"
    reached_V = highest_V(line, feeder_V)
    if surroundings is None or not surroundings.dry:
        place = line.place() if surroundings is None else line.place("environment")
        stated = surroundings is not None and (surroundings.dry is False or surroundings.wash_down is True)
        where = f"the motor supply comes to {_of_voltage(line, feeder_V, without_resistor_V)}: "
        if stated:
            where += "it is not dry at all times, and the lower limit that then holds is not held here"
            remedy = "have a competent, licensed person set the limit and the protection"
        else:
            where += "whether it is dry at all times is not stated"
            remedy = "state the key dry under environment in the line file"
        return Finding(code, "safety", "not checked", where, place, reached_V, None, "V", None, source, remedy)
    margin = 1.0 - reached_V / DRY_LIMIT_V
    where = f"the motor supply at {_of_voltage(line, feeder_V, without_resistor_V)}, direct current, where it is dry"
    remedy = "guarded: no live part within reach; a competent, licensed person decides" if margin < 0.0 else ""
    place = line.place("feeders") if reached_V > supply.trip_V else line.conveyor.place("supply", "trip")
    figures = (reached_V, DRY_LIMIT_V, "V", margin)
    return Finding(code, "safety", judge(margin), where, place, *figures, source, remedy)


def magnets_row(line: Line, stations: tuple[Station, ...]) -> Finding:
    """The nearest guard against the distance that the maker asks for from an implant; without a guard that distance."""
    magnets = line.conveyor.magnets
    source = f"{SHEET}, magnets: its maker's statement"
    if magnets is None:
        where = (
            f"{_names(stations) or 'all of the track'}: how far people with implants must stay from the magnets is not "
            "stated"
        )
        remedy = "state the key magnets in the conveyor sheet, as its maker states it"
        place = line.conveyor.place()
        return _unchecked("magnets", where, place, source, remedy, "m")
    if not stations:
        where = (
            "no guard: people with implants keep this far away from all of the track, and from carriers off it; a sign "
            "at each way to the line"
        )
        place, asked_m = line.conveyor.place("magnets"), magnets.implant_distance_m
        return Finding("magnets", "safety", "holds", where, place, asked_m, None, "m", None, source, "")
    nearest = min(stations, key=lambda one: one.guard.distance_m if one.guard else 0.0)
    assert nearest.guard is not None  # asked for stations with a guard
    value_m, limit_m = nearest.guard.distance_m, magnets.implant_distance_m
    margin = value_m / limit_m - 1.0
    verdict = judge(margin)
    where = (
        f"station {nearest.name}: the guard, from the magnets, for people with implants; who reaches in comes nearer "
        "and must have none"
    )
    least = at_least_text(limit_m * (1.0 + spare_for(verdict)), line.units)
    remedy = "" if verdict == "holds" else f"farther: a guard at least {least} from the carriers, and a sign at it"
    place = line.place("stations", nearest.name, "guard", "distance")
    figures = (value_m, limit_m, "m", margin)
    return Finding("magnets", "safety", verdict, where, place, *figures, source, remedy)


def falling_platform_row(line: Line) -> Finding | None:
    """Speed of a lift's platform that falls all of its way; None without a lift."""
    lifts = [one for one in line.transfers if one.kind == "lift" and rise_of(line, one) > 0.0]
    if not lifts:
        return None
    highest = max(lifts, key=lambda one: rise_of(line, one))
    rise_m = rise_of(line, highest)
    value_m_s = fall_speed_m_s(rise_m)
    where = (
        f"{', '.join(one.name for one in lifts)}: a platform that nothing holds falls up to "
        f"{length_text(rise_m, line.units)}; how lifts are held and guarded is not in the line file"
    )
    source, place = f"√(2 g h); {PAGE}, Energies", line.place("transfers", highest.name)
    return Finding("falling-platform", "safety", "holds", where, place, value_m_s, None, "m/s", None, source, "")


def _names(stations: tuple[Station, ...]) -> str:
    if not stations:
        return ""
    return f"station{'s' if len(stations) > 1 else ''} {', '.join(one.name for one in stations)}"
