"""A line and its layout compiled into a traffic plan."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from linewright.layout import Layout, resting_order, ways_of
from linewright.line.model import Failure, Line, Station
from linewright.motion.curves import leg_limits
from linewright.motion.profile import Move, plan_move, to_microseconds
from linewright.traffic.compile_general import general_of
from linewright.traffic.compile_track import (
    admission_of,
    platforms_of,
    ride_us,
    together_of,
    track_and_legs,
    track_legs,
)
from linewright.traffic.general import Placement
from linewright.traffic.laws import law_of
from linewright.traffic.legs import Legs, Way, build_legs, loop_legs
from linewright.traffic.plan import (
    ABOARD,
    DOCK,
    GEOMETRIC,
    LOADED,
    OF_CLOCK,
    OF_CYCLES,
    OF_RUNNING,
    STATION,
    WAITING,
    Chance,
    FailureKind,
    Ints,
    Law,
    TrafficPlan,
)
from linewright.traffic.route_ways import route_ways
from linewright.traffic.settling import StationSettling, find_settling, settling_time_s

KINDS = {"waiting": WAITING, "station": STATION, "dock": DOCK, "aboard": ABOARD}


def compile_plan(line: Line, layout: Layout, legs: Legs | None = None, start: Placement | None = None) -> TrafficPlan:
    """The traffic plan of a line.

    Parameters
    ----------
    line : a valid line
    layout : its layout, on which nothing blocks the traffic (`layout.blocking` is empty)
    legs : its legs, where they are known from a line with the same track, moves, route, carriers and start; else None
    start : where carriers and parts are at time zero, if not as ever; the plan has the legs from there too

    Raises
    ------
    ValueError      The layout is blocked.
    LinewrightError A carrier cannot move at all (no thrust left); the message says why.
    """
    _refuse_blocked(layout)
    names = [station.name for station in line.stations]
    stop_kind = _stop_kinds(layout)
    stop_of = {name: layout.stop_of(name).index for name in names}
    step_names = tuple(step.name for step in line.route)
    step_stations = tuple(tuple(names.index(name) for name in step.stations) for step in line.route)
    step_of = {station: p for p, stations in enumerate(step_stations) for station in stations}
    ways = route_ways(line, layout, start)
    if legs is None:
        legs = _legs(line, layout, stop_kind, ways)
    vibration = _vibration(line, layout, stop_kind, ways)
    aboard_us, home_us = _rides(line, layout)
    reaction = line.conveyor.reaction
    floor = tuple(_floor_point(layout, name) for name in names)
    general = general_of(line, step_names, floor)
    return TrafficPlan(
        stop_kind=stop_kind,
        stop_station=_ints(-1 if stop.station is None else names.index(stop.station) for stop in layout.stops),
        stop_transfer=_stop_transfer(layout),
        stop_axis_m=np.array([stop.axis_m for stop in layout.stops]),
        loop_m=layout.loop_m,
        pitch_m=layout.pitch_m,
        station_names=tuple(names),
        station_stop=_ints(stop_of[name] for name in names),
        station_step=_ints(step_of[k] for k in range(len(names))),
        step_names=step_names,
        step_stations=step_stations,
        step_exit=tuple(step.reject_exit for step in line.route),
        transfer_names=tuple(transfer.name for transfer in layout.transfers),
        first_stops=_ints(resting_order(line, layout) if start is None else start.stops),
        follow_us=to_microseconds(reaction.follow_s),
        start_handshake_us=to_microseconds(reaction.start_handshake_s),
        done_handshake_us=to_microseconds(reaction.done_handshake_s),
        settling_us=_ints(to_microseconds(settling_time_s(line, s, vibration)) for s in line.stations),
        clear_us=_ints(to_microseconds(station.clear_s) for station in line.stations),
        prepare_us=_ints(to_microseconds(station.prepare_s) for station in line.stations),
        move_us=legs.move_us,
        leg=legs.leg,
        delay_us=legs.delay_us,
        aboard_us=aboard_us,
        rear_us=legs.rear_us,
        home_us=home_us,
        work=tuple(law_of(station.time) for station in line.stations),
        reject=tuple(Chance(station.rejects) for station in line.stations),
        failures=tuple(kind for k, station in enumerate(line.stations) for kind in _failures(k, station)),
        general=replace(
            general,
            track=legs.track,
            platforms=() if legs.track is None else platforms_of(line, layout),
            together=together_of(line, layout),
            admission=admission_of(line, layout),
            going_on=line.going_on,
            differs_us=legs.differs_us,
            start=start,
        ),
    )


def legs_of(plan: TrafficPlan) -> Legs:
    """The legs of a plan, for the plan of a line whose track, moves, route and carriers are the same."""
    general = plan.general
    return Legs(plan.move_us, plan.leg, plan.rear_us, plan.delay_us, general.track, general.differs_us)


def vibration_at_stations(line: Line, layout: Layout) -> tuple[StationSettling, ...]:
    """What the plan's settling is made of at the stations that state a window; what it raises is as for the plan."""
    _refuse_blocked(layout)
    return _vibration(line, layout, _stop_kinds(layout), route_ways(line, layout))


def _refuse_blocked(layout: Layout) -> None:
    if layout.blocking:
        raise ValueError(f"no traffic can be planned on this layout: {', '.join(layout.blocking)}")


def _stop_kinds(layout: Layout) -> Ints:
    return _ints(KINDS[stop.kind] for stop in layout.stops)


def _legs(line: Line, layout: Layout, stop_kind: Ints, ways: tuple[Way, ...]) -> Legs:
    """The legs of the line: by reach on a loop or a ring, else of a track with ways of its own."""
    move_over = partial(_move_over, line, {})
    if layout.is_plain:
        return build_legs(layout, stop_kind, loop_legs(layout, stop_kind, ways), move_over, line.going_on)
    return track_and_legs(layout, stop_kind, ways, move_over, line.going_on)


def _vibration(line: Line, layout: Layout, stop_kind: Ints, ways: tuple[Way, ...]) -> tuple[StationSettling, ...]:
    """The vibration at the stations that state a window; without any the legs are not even found."""
    if all(station.window_m is None for station in line.stations):
        return ()
    if layout.is_plain:
        found = loop_legs(layout, stop_kind, ways)
    else:
        found = track_legs(layout, stop_kind, ways, ways_of(layout))
    return find_settling(line, layout, found, partial(_move_over, line, {}))


def _floor_point(layout: Layout, station: str) -> tuple[float, float]:
    stop = layout.stop_of(station)
    return layout.lane(stop.lane).floor_point(stop.travel_m)


def _failures(number: int, station: Station) -> list[FailureKind]:
    return [_failure(number, failure) for failure in station.failures]


def _failure(station: int, failure: Failure) -> FailureKind:
    repair = law_of(failure.repair)
    if failure.one_in is not None:
        return FailureKind(station, Law(GEOMETRIC, float(failure.one_in)), repair, OF_CYCLES)
    assert failure.every is not None  # held by the model: every or one_in
    return FailureKind(station, law_of(failure.every), repair, OF_CLOCK if failure.of == "clock" else OF_RUNNING)


def _move_over(
    line: Line, known: dict[tuple[int, float, bool], Move], load: int, distance_m: float, curved: bool
) -> Move:
    """The move of a load class over a distance, in a curve or not, reckoned once."""
    key = (load, distance_m, curved)
    if key not in known:
        known[key] = plan_move(distance_m, leg_limits(line, load == LOADED, distance_m, curved).limits)
    return known[key]


def _rides(line: Line, layout: Layout) -> tuple[Ints, Ints]:
    """Time from arrival aboard to the lock at the giving dock, and from there, empty, to the lock at the taking dock;
    of several docks the first of each. [us]"""
    times = []
    for transfer in layout.transfers:
        takes, gives = layout.lane(transfer.takes[0]), layout.lane(transfer.gives[0])
        times.append(ride_us(line.conveyor.transfers[transfer.kind], transfer.kind, takes, gives))
    return _ints(times), _ints(times)


def _stop_transfer(layout: Layout) -> Ints:
    transfers = {rank: number for number, transfer in enumerate(layout.transfers) for rank in transfer.aboards}
    return _ints(transfers.get(stop.index, -1) for stop in layout.stops)


def _ints(values: object) -> Ints:
    return np.array(list(values), np.int64)  # type: ignore[call-overload]
