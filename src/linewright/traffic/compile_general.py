"""What a line has beyond the plain loop, apart from its track and its rules of traffic, compiled for the plan.

Of each tuple with one entry a station the plan of a line in which all entries say "none" has the empty tuple, so that a
plain line's `General` is the default one.
"""

from __future__ import annotations

import math
from typing import TypeVar

from linewright.line.model import Line
from linewright.line.people import Calendar, OperatorPool
from linewright.line.station import Outside as OutsideMachine
from linewright.line.station import Station
from linewright.motion.profile import to_microseconds
from linewright.traffic.general import (
    FEED,
    TAKE_AWAY,
    Break,
    CarrierChange,
    Changeover,
    FixtureSet,
    General,
    Outside,
    Pool,
    Rework,
    Variant,
)
from linewright.traffic.laws import law_of

Floor = tuple[tuple[float, float], ...]
Entry = TypeVar("Entry")


def general_of(line: Line, step_names: tuple[str, ...], station_floor: Floor) -> General:
    """Everything beyond the plain loop but the track, the rules of traffic on it and the start.

    Parameters
    ----------
    line : a valid line
    step_names : of the plan, in the order of the route
    station_floor : floor distance and across of each station's centre, in the line's order. [m]

    Returns
    -------
    General   Without track, platforms, together, admission and going_on.

    Raises
    ------
    ValueError   The steps or the stations are not those of the line.
    """
    if step_names != tuple(step.name for step in line.route) or len(station_floor) != len(line.stations):
        raise ValueError("step_names and station_floor must be those of the line")
    numbers = {station.name: k for k, station in enumerate(line.stations)}
    step_of = {name: p for p, step in enumerate(line.route) for name in step.stations}
    variant_of = {variant.name: v for v, variant in enumerate(line.variants)}
    pools = tuple(_pool(pool, numbers, station_floor) for pool in line.operators)
    served = {station for pool in pools for station in pool.stations}
    nests = 1 if line.fixture is None else line.fixture.nests
    return General(
        pools=pools,
        manual=_stated(tuple(k in served and s.work == "manual" for k, s in enumerate(line.stations)), False),
        release_us=_stated(tuple(_release_us(station) for station in line.stations), -1),
        breaks=() if line.calendar is None else _breaks(line.calendar, line, numbers),
        outside=tuple(machine for k, station in enumerate(line.stations) for machine in _outside(k, station)),
        nests=nests,
        each_part=() if nests == 1 else tuple(station.each == "part" for station in line.stations),
        misses=_stated(tuple(station.misses for station in line.stations), 0.0),
        exits=_stated(tuple(-1 if s.exit is None else step_of[s.exit] for s in line.stations), -1),
        variants=_variants(line, numbers),
        sequence=tuple(variant_of[name] for name, count in line.sequence for _ in range(count)),
        run_out=line.run_out,
        changeovers=_changeovers(line),
        fixture_sets=tuple(
            FixtureSet(one.name, one.carriers, tuple(variant_of[name] for name in one.variants))
            for one in line.fixture_sets
        ),
        rework=tuple(
            Rework(k, station.rework.share, step_of[station.rework.to], station.rework.at_most)
            for k, station in enumerate(line.stations)
            if station.rework is not None
        ),
        rework_alone=_rework_alone(line),
        carrier_changes=_carrier_changes(line, numbers),
    )


def _stated(entries: tuple[Entry, ...], none: Entry) -> tuple[Entry, ...]:
    """The entries of all stations, or the empty tuple where each says that there is none."""
    return entries if any(entry != none for entry in entries) else ()


def _pool(pool: OperatorPool, numbers: dict[str, int], station_floor: Floor) -> Pool:
    """A pool with the walks between its stations: the time stated, or floor distance over walking speed."""
    stations = tuple(numbers[name] for name in pool.stations)

    def walk_us(start: int, end: int) -> int:
        if start == end:
            return 0
        if pool.walk_s is not None:
            return to_microseconds(pool.walk_s)
        assert pool.walking_speed_m_s is not None  # held by the model: walk or walking_speed
        return to_microseconds(math.dist(station_floor[start], station_floor[end]) / pool.walking_speed_m_s)

    return Pool(
        pool.name, pool.operators, stations, tuple(tuple(walk_us(start, end) for end in stations) for start in stations)
    )


def _release_us(station: Station) -> int:
    return -1 if station.release_s is None else to_microseconds(station.release_s)


def _breaks(calendar: Calendar, line: Line, numbers: dict[str, int]) -> tuple[Break, ...]:
    """The breaks as written, then run-down: a break of the first step that ends with the shift."""
    shift_us = to_microseconds(calendar.shift_s)
    everywhere = tuple(range(len(line.stations)))
    breaks = [
        Break(
            everywhere if one.stations is None else tuple(numbers[name] for name in one.stations),
            to_microseconds(one.at_s),
            to_microseconds(one.for_s),
            shift_us,
        )
        for one in calendar.breaks
    ]
    if calendar.run_down_s is not None:
        length_us = to_microseconds(calendar.run_down_s)
        first = tuple(numbers[name] for name in line.route[0].stations)
        breaks.append(Break(first, shift_us - length_us, length_us, shift_us))
    return tuple(breaks)


def _outside(number: int, station: Station) -> list[Outside]:
    """The feed and the take-away of a station; a feed's buffer is full at time zero unless its start is stated."""
    found = []
    if station.feed is not None:
        start = station.feed.buffer if station.feed.start is None else station.feed.start
        found.append(_outside_machine(number, FEED, station.feed, start))
    if station.take_away is not None:
        found.append(_outside_machine(number, TAKE_AWAY, station.take_away, 0))
    return found


def _outside_machine(number: int, kind: int, machine: OutsideMachine, start: int) -> Outside:
    failures = []
    for failure in machine.failures:
        assert failure.every is not None  # held by the model: outside, failures are of running
        failures.append((law_of(failure.every), law_of(failure.repair)))
    return Outside(number, kind, law_of(machine.every), machine.buffer, start, tuple(failures))


def _variants(line: Line, numbers: dict[str, int]) -> tuple[Variant, ...]:
    """A variant skips the steps of which it skips every station."""
    return tuple(
        Variant(
            variant.name,
            0.0 if variant.share is None else variant.share,
            tuple(p for p, step in enumerate(line.route) if set(step.stations) <= set(variant.skips)),
            tuple((numbers[name], law_of(time)) for name, time in variant.times),
        )
        for variant in line.variants
    )


def _changeovers(line: Line) -> tuple[Changeover, ...]:
    """Of each station that changes over, the times by pair; none from a variant to itself."""
    names = [variant.name for variant in line.variants]
    return tuple(
        Changeover(
            k,
            tuple(
                tuple(to_microseconds(station.changeover.time_s(before, after)) for after in names) for before in names
            ),
        )
        for k, station in enumerate(line.stations)
        if station.changeover is not None
    )


def _rework_alone(line: Line) -> tuple[int, ...]:
    alone = {station.name for station in line.stations if station.rework_only}
    return tuple(p for p, step in enumerate(line.route) if alone.issuperset(step.stations))


def _carrier_changes(line: Line, numbers: dict[str, int]) -> tuple[CarrierChange, ...]:
    """In the order of their times, of equal times as written."""
    return tuple(
        CarrierChange(
            numbers[change.station],
            to_microseconds(change.time_s),
            -change.out if change.out is not None else change.in_ or 0,
        )
        for change in sorted(line.carrier_changes, key=lambda change: change.time_s)
    )
