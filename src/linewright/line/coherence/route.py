"""The route: its stations, what stations that share a step have in common, reject exits, rework."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

from linewright.line.coherence.known import as_far_as_known, named
from linewright.line.fields import PathFault
from linewright.line.units import shown
from linewright.line.words import choice

if TYPE_CHECKING:
    from linewright.line.model import Line, Station

Steps = list[list["Station"]]


def step_path(line: Line, step: int, place: int) -> tuple[str | int, ...]:
    """The path of a station in the route."""
    return ("route", step) if len(line.route[step].stations) == 1 else ("route", step, place)


def steps_of(line: Line) -> Steps:
    """The stations of each step; of a route without a fault."""
    return [[x for x in (named(line.stations, name) for name in step.stations) if x is not None] for step in line.route]


def step_numbers(line: Line) -> dict[str, int]:
    """The step of each station."""
    return {name: i for i, step in enumerate(line.route) for name in step.stations}


def route_names(line: Line) -> Iterator[PathFault]:
    """Each station stands in the route once."""
    known = [station.name for station in line.stations]
    counted: Counter[str] = Counter()
    for i, step in enumerate(line.route):
        for j, name in enumerate(step.stations):
            counted[name] += 1
            if name not in known:
                yield step_path(line, i, j), f"there is no station {shown(name)}", choice(name, known, "stations")
            elif counted[name] > 1:
                yield step_path(line, i, j), f"{shown(name)} stands in the route twice", "name each station once"
    for name in known:
        if name not in counted:
            yield ("stations", name), f"{shown(name)} is not in the route", "name it in the route, or leave it out"


_SHARED = (
    ("time", "have different times"),
    ("each", "differ in each"),
    ("misses", "have different misses"),
    ("rejects", "have different rejects"),
    ("exit", "have different exits"),
    ("reject_exit", "only one is a reject exit"),
    ("rework", "have different rework"),
    ("rework_only", "only one is for rework alone"),
)


def route_parallel(line: Line) -> Iterator[PathFault]:
    """Stations that share a step do the same work: the luck of a part does not depend on where it is worked."""
    for i, stations in enumerate(steps_of(line)):
        for j, other in enumerate(stations[1:], start=1):
            for name, differs in _SHARED:
                yield from as_far_as_known(_same(line, stations[0], other, name, differs, step_path(line, i, j)))


def _same(
    line: Line, first: Station, other: Station, name: str, differs: str, path: tuple[str | int, ...]
) -> Iterator[PathFault]:
    if getattr(first, name) != getattr(other, name):
        found = f"{shown(first.name)} and {shown(other.name)} share a step but {differs}"
        yield path, found, f"write the same for both, for example like: {first.name}"


def route_exits(line: Line) -> Iterator[PathFault]:
    """Who flags parts has an exit later in the route; an exit has somebody before it who flags parts for it."""
    steps = steps_of(line)
    exits = [i for i, stations in enumerate(steps) if all(x.reject_exit for x in stations)]
    meant: set[int] = set()
    is_sure = True  # whether it is known which exits are meant
    for i, stations in enumerate(steps):
        for station in stations:
            if i in exits:
                yield from _at_an_exit(station)
                continue
            exit_step, found = _exit_of(line, station, i, exits)
            yield from found
            is_sure = is_sure and not any(path[-1] == "exit" for path, _, _ in found)
            if exit_step is not None:
                meant.add(exit_step)
    for i in exits:
        name = line.route[i].stations[0]
        if i == 0:
            yield (
                step_path(line, 0, 0),
                "the route starts with a reject exit",
                "start with a station that works on every part",
            )
        elif is_sure and i not in meant:
            found_text = f"the reject exit {shown(name)} has no station before it that rejects"
            allowed = "write rejects at a station before it, or leave the exit out"
            yield ("stations", name, "reject_exit"), found_text, allowed


def _at_an_exit(station: Station) -> Iterator[PathFault]:
    at = ("stations", station.name)
    if station.rejects:
        yield (*at, "rejects"), "a reject exit that rejects", "write rejects at the stations before it"
    if station.exit is not None:
        yield (*at, "exit"), "a reject exit with an exit", "write exit at a station that rejects"
    if station.rework is not None:
        yield (*at, "rework"), "a reject exit that sends back", "write rework at the stations before it"
    if station.rework_only:
        yield (*at, "rework_only"), "a reject exit for rework alone", "leave one of the two out"


def _exit_of(line: Line, station: Station, step: int, exits: list[int]) -> tuple[int | None, list[PathFault]]:
    """The step to which a station sends what it flags."""
    at = ("stations", station.name)
    later = [i for i in exits if i > step]
    flags = station.rejects > 0.0 or station.rework is not None
    if not flags:
        idle = "nothing obeys exit: the station neither rejects nor sends to rework"
        return None, [] if station.exit is None else [((*at, "exit"), idle, "add rejects, or leave exit out")]
    if station.exit is None:
        if later:
            return later[0], []
        found = f"{shown(station.name)} rejects parts, but no reject exit follows in the route"
        if not station.rejects:
            found = f"{shown(station.name)} rejects parts that had all their reworks, but no reject exit follows"
        key = "rejects" if station.rejects else "rework"
        return None, [((*at, key), found, "add a later station with reject_exit: true")]
    target = step_numbers(line).get(station.exit)
    if target is None:
        wrong = f"there is no station {shown(station.exit)}"
    elif target not in exits:
        wrong = f"{shown(station.exit)} is no reject exit"
    elif target <= step:
        wrong = f"the reject exit {shown(station.exit)} does not come after {shown(station.name)}"
    else:
        return target, []
    names = [name for i in later for name in line.route[i].stations]
    return None, [((*at, "exit"), wrong, choice(station.exit, names, "later reject exits"))]


def rework_faults(line: Line) -> Iterator[PathFault]:
    """Rework leads back, or to a step for rework alone; such a step has somebody who sends parts there."""
    steps, number = steps_of(line), step_numbers(line)
    alone = [i for i, stations in enumerate(steps) if all(x.rework_only for x in stations)]
    if 0 in alone:
        at = ("stations", steps[0][0].name, "rework_only")
        yield at, "the route starts with a step for rework alone", "start with a station that works on every part"
    meant: set[int] = set()
    is_sure = True
    for i, stations in enumerate(steps):
        for station in stations:
            if station.rework is None or station.reject_exit:
                continue
            target = number.get(station.rework.to)
            if target is not None:
                meant.add(target)
            goals = [k for k in range(len(steps)) if k != i and (k < i or k in alone) and not steps[k][0].reject_exit]
            if target in goals:
                continue
            is_sure = False
            found = f"there is no station {shown(station.rework.to)}"
            if target is not None:
                found = f"{shown(station.rework.to)} is of no earlier step, nor of one for rework alone"
            names = [name for k in goals for name in line.route[k].stations]
            yield ("stations", station.name, "rework", "to"), found, choice(station.rework.to, names, "stations")
    for i in alone:
        if i > 0 and is_sure and i not in meant and not steps[i][0].reject_exit:
            name = steps[i][0].name
            found = f"no station sends parts to {shown(name)}"
            yield (
                ("stations", name, "rework_only"),
                found,
                f"write rework with to: {name} at a station, or leave it out",
            )
    for station in (x for stations in steps[1:] for x in stations):
        if station.misses:
            first = steps[0][0].name
            found = f"misses at {shown(station.name)}, which is not of the first step"
            yield ("stations", station.name, "misses"), found, f"write misses at {first}, where parts are loaded"
