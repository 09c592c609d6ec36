"""Operators have work at their stations; breaks lie within the shift; the shift is the paid time."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from linewright.line.coherence.known import as_far_as_known, named
from linewright.line.fields import PathFault, in_unit
from linewright.line.units import TIME, shown
from linewright.line.words import choice

if TYPE_CHECKING:
    from linewright.line.model import Calendar, Line, OperatorPool, ShiftBreak


def people_faults(line: Line) -> Iterator[PathFault]:
    """All that concerns operators, breaks and shifts."""
    yield from as_far_as_known(_pools(line))
    yield from as_far_as_known(_calendar(line))


def named_stations(line: Line, names: Sequence[str], path: tuple[str | int, ...]) -> Iterator[PathFault]:
    """Each name of a list is a station, and stands there once."""
    known = [station.name for station in line.stations]
    for i, name in enumerate(names):
        if name not in known:
            yield (*path, i), f"there is no station {shown(name)}", choice(name, known, "stations")
        elif name in names[:i]:
            yield (*path, i), f"{shown(name)} stands here twice", "name each station once"


def _pools(line: Line) -> Iterator[PathFault]:
    taken: dict[str, str] = {}
    for pool in line.operators:
        at = ("operators", pool.name, "stations")
        yield from as_far_as_known(_pool_names(line, pool))
        yield from as_far_as_known(_pool_work(line, pool))
        yield from as_far_as_known(_pool_taken(pool, taken, at))


def _pool_names(line: Line, pool: OperatorPool) -> Iterator[PathFault]:
    yield from named_stations(line, pool.stations, ("operators", pool.name, "stations"))


def _pool_work(line: Line, pool: OperatorPool) -> Iterator[PathFault]:
    for i, name in enumerate(pool.stations):
        yield from as_far_as_known(_has_work(line, name, ("operators", pool.name, "stations", i)))


def _has_work(line: Line, name: str, path: tuple[str | int, ...]) -> Iterator[PathFault]:
    station = named(line.stations, name)
    if station is not None and station.work != "manual" and station.release_s is None:
        yield path, f"{shown(name)} has nothing to do for an operator", "write work: manual or release at the station"


def _pool_taken(pool: OperatorPool, taken: dict[str, str], path: tuple[str | int, ...]) -> Iterator[PathFault]:
    for i, name in enumerate(pool.stations):
        other = taken.setdefault(name, pool.name)
        if other != pool.name:
            yield (*path, i), f"{shown(name)} is a station of {shown(other)} too", "name each station in one pool"


def _calendar(line: Line) -> Iterator[PathFault]:
    calendar = line.calendar
    if calendar is None:
        return
    for one in calendar.breaks:
        yield from as_far_as_known(_break(line, calendar, one))
        yield from as_far_as_known(_break_stations(line, one))
    yield from as_far_as_known(_run_down(calendar))
    yield from as_far_as_known(_paid(line, calendar))


def _break(line: Line, calendar: Calendar, one: ShiftBreak) -> Iterator[PathFault]:
    at = ("calendar", "breaks", one.name)
    shift = in_unit(calendar.shift_s, TIME, "h")
    if one.at_s + one.for_s > calendar.shift_s * (1 + 1e-12):
        key = "at" if one.at_s >= calendar.shift_s else "for"
        ends = in_unit(one.at_s + one.for_s, TIME, "h")
        yield (*at, key), f"the break ends {ends} after the begin of the shift", f"stay within the shift of {shift}"
    elif one.for_s >= calendar.shift_s * (1 - 1e-12):
        yield (*at, "for"), "the break takes the whole shift", f"write less than {shift}"


def _break_stations(line: Line, one: ShiftBreak) -> Iterator[PathFault]:
    if one.stations is not None:
        yield from named_stations(line, one.stations, ("calendar", "breaks", one.name, "stations"))


def _run_down(calendar: Calendar) -> Iterator[PathFault]:
    if calendar.run_down_s is None:
        if not calendar.breaks:
            found = "a calendar with neither breaks nor run_down"
            yield ("calendar",), found, "add one of the two, or leave the calendar out"
    elif calendar.run_down_s >= calendar.shift_s:
        shift = in_unit(calendar.shift_s, TIME, "h")
        yield ("calendar", "run_down"), "run-down takes the whole shift", f"write less than {shift}"


def _paid(line: Line, calendar: Calendar) -> Iterator[PathFault]:
    if line.demand is None:
        return
    paid_s = line.demand.paid_time_per_shift_s
    if not math.isclose(paid_s, calendar.shift_s, rel_tol=1e-9):
        paid, shift = (in_unit(one_s, TIME, "h") for one_s in (paid_s, calendar.shift_s))
        found = f"{paid} of paid time beside a shift of {shift}"
        allowed = f"write {shift}: the breaks are simulated, so the paid time is the whole shift"
        yield ("demand", "paid_time_per_shift"), found, allowed
