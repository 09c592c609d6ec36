"""The hazards that a line file knows of: a start for the risk assessment, never the whole of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from linewright.checks.safety.energies import fall_speed_m_s, greatest_V, kinetic_energy_J, stored_energy_J
from linewright.checks.safety.stops import operator_stations
from linewright.layout.placing import length_text
from linewright.line.model import Line, Transfer
from linewright.line.spoken import in_words, rounded, temperature_in_words
from linewright.motion.coasting import coast
from linewright.motion.limits import moving_mass_kg
from linewright.tables import Column, Table

CAUTION: Final = (
    "Follow local codes; a competent, licensed person decides. Nothing here is a statement of conformity or of a "
    "performance level. What is reckoned holds for the figures that are stated, and for nothing else."
)
"""Stands on every page that touches safety."""

HEADINGS: Final = (
    "Mechanical",
    "Electrical",
    "Thermal",
    "Noise",
    "Vibration",
    "Radiation",
    "Material/substance",
    "Ergonomic",
    "Environment in which the machine is used",
    "Combination of hazards",
)
"""Kinds of hazard, ISO 12100:2010, Annex B, table B.1; from memory."""
MECHANICAL, ELECTRICAL, THERMAL, NOISE, VIBRATION, RADIATION, SUBSTANCE, ERGONOMIC, SURROUNDINGS, TOGETHER = HEADINGS
_SEEN: Final = {True: "yes", False: "no", None: "not stated"}
_NOTHING: Final = "nothing in the line file bears on it"


@dataclass(frozen=True, slots=True)
class Hazard:
    """One hazard.

    Parameters
    ----------
    heading : one of :data:`HEADINGS`
    hazard, where : what and where
    known : the figures that the line file has
    first_measure : what is usually done first
    left_to_decide : by whoever assesses the risk
    """

    heading: str
    hazard: str
    where: str
    known: str
    first_measure: str
    left_to_decide: str


def hazard_list(line: Line, feeder_V: float | None = None) -> Table:
    """The hazards of a line by the headings of ISO 12100, as far as its file knows of them.

    Parameters
    ----------
    line : the line
    feeder_V : highest voltage that any feeder comes to as carriers brake; None where it is not known. [V], ≥ 0

    Returns
    -------
    Table   heading, hazard, where, known, first_measure, left_to_decide: text. Every heading stands there; one on which
            the file has nothing says so, which does not mean that there is no hazard.

    Source     ISO 12100:2010, Annex B, headings from memory; the hazards of such lines: common practice.
    """
    hazards = [*_moving(line), *_transfers(line), *_tools(line), *_electrical(line, feeder_V), *_others(line)]
    hazards.sort(key=lambda one: HEADINGS.index(one.heading))
    names = ("heading", "hazard", "where", "known", "first_measure", "left_to_decide")
    meanings = (
        "kind of hazard, ISO 12100",
        "what",
        "where",
        "figures of the line file",
        "what is usually done first",
        "left to whoever assesses the risk",
    )
    return Table(
        tuple(
            Column(name, None, np.array([getattr(one, name) for one in hazards], dtype=object), meaning)
            for name, meaning in zip(names, meanings, strict=True)
        )
    )


def _figure(line: Line, value: float, unit: str, digits: int = 4) -> str:
    return in_words(value, unit, line.units, digits)


def _moving(line: Line) -> list[Hazard]:
    """Carriers that move, coast, attract and start again."""
    sheet, full_m_s = line.conveyor, line.conveyor.drive.speed_m_s
    mass_kg = max(moving_mass_kg(line, loaded) for loaded in (False, True))
    energy_J = kinetic_energy_J(mass_kg, full_m_s)
    stations = operator_stations(line)
    where = f"operator stations {', '.join(one.name for one in stations)}" if stations else "wherever people reach in"
    coasts = "the sheet states no least drag"
    if sheet.coasting is not None and sheet.coasting.least_drag_N == 0.0:
        coasts = "least drag 0 N: it never stands by itself"
    elif sheet.coasting is not None:
        own = coast(mass_kg, full_m_s, sheet.coasting.least_drag_N)
        coasts = (
            f"{length_text(own.distance_m, line.units)} in {rounded(own.time_s, 3)} s from full speed at the least drag"
        )
    found = [
        Hazard(
            MECHANICAL,
            "crushing between carriers, and between a carrier and what is fixed",
            where,
            f"{_figure(line, mass_kg, 'kg')}, up to {_figure(line, full_m_s, 'm/s')}, "
            f"{_figure(line, energy_J, 'J', 3)}",
            "a guard far enough off that all stands before anyone reaches in",
            "covers along the rest of the track; what force a carrier at creeping speed may have",
        ),
        Hazard(
            MECHANICAL,
            "impact of a carrier that coasts without power: it has no brake",
            "the whole track",
            coasts,
            "rated end stops, a motor zone longer than the end stops by a carrier, a door that stays locked",
            "how long the end stops take to fall in; a carrier that pushes another before it",
        ),
        Hazard(
            MECHANICAL,
            "unexpected start when power returns or a jam is cleared",
            "the whole track",
            _NOTHING,
            "power's return never starts motion; a person starts it, seeing the line",
            "lock-out for cleaning and repair; a fault that drives a carrier faster than its full speed",
        ),
    ]
    found += [
        Hazard(
            MECHANICAL,
            "carriers start at somebody behind the guard as it is reset",
            f"station {station.name}",
            f"{station.guard.kind}, {length_text(station.guard.distance_m, line.units)} from the danger; "
            f"whoever stands there is seen: {_SEEN[station.guard.seen_behind]}",
            "a presence mat or field behind the guard, or no room to stand",
            "that the reset is out of reach from there, with all of it in sight",
        )
        for station in stations
        if station.guard is not None
    ]
    if sheet.magnets is not None:
        found.append(
            Hazard(
                MECHANICAL,
                "magnets draw tools and other carriers to themselves and pinch",
                "carriers, most of all off the track",
                f"{_figure(line, sheet.magnets.attraction_N, 'N')} from carrier to track",
                "tools that are not magnetic; carriers stored apart and covered",
                "how carriers are lifted off and put on",
            )
        )
    return found


def _transfers(line: Line) -> list[Hazard]:
    return [one for transfer in line.transfers for one in _transfer(line, transfer)]


def _transfer(line: Line, transfer: Transfer) -> list[Hazard]:
    sheet = line.conveyor.transfers[transfer.kind]
    found = [
        Hazard(
            MECHANICAL,
            "shearing and crushing between platform and lane ends",
            f"transfer {transfer.name}",
            f"platform up to {_figure(line, sheet.speed_m_s, 'm/s')}, gap {length_text(sheet.gap_m, line.units)}",
            "a fixed guard round the whole of its travel",
            "access for clearing a platform that is stuck half way",
        )
    ]
    if transfer.kind == "lift":
        rise_m = rise_of(line, transfer)
        found.append(
            Hazard(
                MECHANICAL,
                "a platform that drops, or a carrier that leaves a lane whose platform is away",
                f"transfer {transfer.name}",
                f"{length_text(rise_m, line.units)}; "
                f"{_figure(line, fall_speed_m_s(rise_m), 'm/s', 3)} after a free fall",
                "a brake or lock that holds without power, and a prop for repair; stops at the lane ends",
                "what holds the platform when a belt or screw breaks",
            )
        )
    return found


def rise_of(line: Line, transfer: Transfer) -> float:
    """From the lowest to the highest lane at which a lift docks. [m]"""
    levels_m = [line.lane(name).level_m for name in transfer.lanes]
    return max(levels_m) - min(levels_m)


def _tools(line: Line) -> list[Hazard]:
    """Stations with a force: one by hand too may be a press."""
    found = []
    for station in line.stations:
        for force in station.force or ():
            most = "the most it can do is not stated"
            if force.greatest_N is not None:
                most = f"up to {_figure(line, force.greatest_N, 'N')}"
            at, known = f"station {station.name}", f"{_figure(line, force.size_N, 'N')} set, {most}"
            found.append(
                Hazard(
                    MECHANICAL,
                    "crushing under the tool",
                    at,
                    known,
                    "a fixed guard round the tool, or a locked door",
                    "what the tool does when its power goes, and how long it still moves once the guard trips",
                )
            )
            if station.work == "manual":
                found.append(
                    Hazard(
                        ERGONOMIC,
                        "force by hand, again and again",
                        at,
                        known,
                        "a fixture that takes the force",
                        "how often and in what posture; whether a tool gives it and not a hand",
                    )
                )
    return found


def _electrical(line: Line, feeder_V: float | None) -> list[Hazard]:
    sheet, supply = line.conveyor, line.conveyor.supply
    found = []
    if supply is None:
        found.append(
            Hazard(
                ELECTRICAL,
                "live parts",
                "feeders",
                "the sheet states no supply",
                "covers",
                "voltage, protection, discharge",
            )
        )
    else:
        reached_V = greatest_V(supply.trip_V, feeder_V)
        energy_J = stored_energy_J(supply.capacitance_F, reached_V)
        at = "what braking gives" if reached_V > supply.trip_V else "the trip voltage"
        gone = "not stated" if supply.discharge_s is None else f"{rounded(supply.discharge_s, 3)} s"
        found += [
            Hazard(
                ELECTRICAL,
                "live parts of the motor supply",
                "feeders and cabinet",
                f"{_figure(line, supply.voltage_V, 'V')}, trips at {_figure(line, supply.trip_V, 'V')}, "
                f"{_figure(line, supply.current_A, 'A')} a supply",
                "covers, protection against overload, a main switch that can be locked",
                "the mains side of the supplies, about which the file knows nothing",
            ),
            Hazard(
                ELECTRICAL,
                "charge that stays after switching off",
                "feeders",
                f"{_figure(line, energy_J, 'J', 3)} at {at}, {_figure(line, reached_V, 'V')}; "
                f"time until it is gone: {gone}",
                "wait as long before touching; a warning at the cabinet",
                "whether what the carriers give back keeps a zone alive meanwhile",
            ),
        ]
    motor = sheet.drive.motor
    hot = (
        ""
        if motor is None or motor.hottest_degC is None
        else f"winding up to {temperature_in_words(motor.hottest_degC)}"
    )
    resistors = [feeder.name for feeder in line.feeders if feeder.braking_resistor is not None]
    if resistors:
        hot += ("; " if hot else "") + f"braking resistors of feeders {', '.join(resistors)}"
    found.append(
        Hazard(
            THERMAL,
            "burns on what is hot",
            "sections, braking resistors",
            hot or _NOTHING,
            "covers; resistors out of reach",
            "surface temperatures, to be measured",
        )
    )
    return found


def _others(line: Line) -> list[Hazard]:
    """The headings on which a line file has little."""
    sheet, around = line.conveyor, line.environment
    implants = "the sheet states no distance"
    if sheet.magnets is not None:
        implants = f"its maker asks for {length_text(sheet.magnets.implant_distance_m, line.units)}"
    manual = [one.name for one in line.stations if one.work == "manual"]
    stated = {} if around is None else {name: value for name, value in around if value is not None}
    told = ", ".join(f"{name.replace('_', ' ')}: {'yes' if value else 'no'}" for name, value in stated.items())
    nothing = _NOTHING
    return [
        Hazard(
            NOISE, "noise of carriers, transfers and tools", "the line", nothing, "measure it", "protection of hearing"
        ),
        Hazard(
            VIBRATION,
            "shaking that loosens screws",
            "transfers, tools",
            nothing,
            "checks of screws at set times",
            "how often",
        ),
        Hazard(
            RADIATION,
            "magnets disturb implants and erase cards",
            "carriers",
            implants,
            "nobody with an implant nearer than that: a sign at the guard",
            "who may work here and who may mend",
        ),
        Hazard(
            SUBSTANCE,
            "grease, adhesive, the product itself",
            "stations",
            nothing,
            "the makers' safety data",
            "extraction, gloves, cleaning",
        ),
        Hazard(
            ERGONOMIC,
            "the same movement again and again, reach and posture",
            f"stations {', '.join(manual)}" if manual else "no station by hand is stated",
            f"{len(manual)} by hand",
            "height and reach to fit people; turns at the work",
            "load, light and breaks",
        ),
        Hazard(
            SURROUNDINGS,
            "wetness, chips on magnets, dust, spatter",
            "the line",
            told or nothing,
            "the sheet's degree of protection held against it",
            "cleaning without reaching into what moves",
        ),
        Hazard(
            TOGETHER,
            "a guard opened to clear a jam while a fault drives carriers or power returns",
            "the line",
            nothing,
            "a stop that cannot be reset from where it cannot be seen",
            "every way of work: set-up, cleaning, repair, taking carriers off",
        ),
    ]
