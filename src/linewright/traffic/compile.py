"""A line and its layout compiled into a traffic plan."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from linewright.layout import Layout, resting_order
from linewright.line.model import Failure, Line, Station, TimeLaw
from linewright.motion.limits import carrier_limits, ride_move
from linewright.motion.profile import Move, plan_move, to_microseconds
from linewright.traffic.legs import Legs, Way, build_legs
from linewright.traffic.plan import (
    ABOARD,
    DOCK,
    EMPIRICAL,
    EMPTY,
    EXPONENTIAL,
    FIXED,
    GAMMA,
    GEOMETRIC,
    LOADED,
    LOGNORMAL,
    OF_CLOCK,
    OF_CYCLES,
    OF_RUNNING,
    STATION,
    TRIANGULAR,
    WAITING,
    Chance,
    FailureKind,
    Ints,
    Law,
    TrafficPlan,
)
from linewright.traffic.settling import StationSettling, find_settling, settling_time_s

KINDS = {"waiting": WAITING, "station": STATION, "dock": DOCK, "aboard": ABOARD}


def compile_plan(line: Line, layout: Layout, legs: Legs | None = None) -> TrafficPlan:
    """The traffic plan of a line.

    Parameters
    ----------
    line : a valid line
    layout : its layout, on which nothing blocks the traffic (`layout.blocking` is empty)
    legs : its legs, where they are known from a line with the same track, moves, route and carriers; else None

    Raises
    ------
    ValueError      The layout is blocked.
    LinewrightError A carrier cannot move at all (no thrust left); the message says why.
    """
    if layout.blocking:
        raise ValueError(f"no traffic can be planned on this layout: {', '.join(layout.blocking)}")
    names = [station.name for station in line.stations]
    stop_kind = np.array([KINDS[stop.kind] for stop in layout.stops], np.int64)
    first_stops = np.array(resting_order(line, layout), np.int64)
    stop_of = {name: layout.stop_of(name).index for name in names}
    step_stations = tuple(tuple(names.index(name) for name in step.stations) for step in line.route)
    step_of = {station: p for p, stations in enumerate(step_stations) for station in stations}
    ways = _ways(line, stop_of, [int(stop) for stop in first_stops])
    move_over = partial(_move_over, line, {})
    legs = legs or build_legs(layout, stop_kind, ways, move_over)
    vibration = find_settling(line, layout, stop_kind, ways, move_over)
    aboard_us, home_us = _rides(line, layout)
    sheet = line.conveyor
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
        step_names=tuple(step.name for step in line.route),
        step_stations=step_stations,
        step_exit=tuple(step.reject_exit for step in line.route),
        transfer_names=tuple(transfer.name for transfer in layout.transfers),
        first_stops=first_stops,
        follow_us=to_microseconds(sheet.reaction.follow_s),
        start_handshake_us=to_microseconds(sheet.reaction.start_handshake_s),
        done_handshake_us=to_microseconds(sheet.reaction.done_handshake_s),
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
    )


def legs_of(plan: TrafficPlan) -> Legs:
    """The legs of a plan, for the plan of a line whose track, moves, route and carriers are the same."""
    return Legs(plan.move_us, plan.leg, plan.rear_us, plan.delay_us)


def vibration_at_stations(line: Line, layout: Layout) -> tuple[StationSettling, ...]:
    """What the plan's settling is made of at the stations that state a window; what it raises is as for the plan."""
    if layout.blocking:
        raise ValueError(f"no traffic can be planned on this layout: {', '.join(layout.blocking)}")
    stop_kind = np.array([KINDS[stop.kind] for stop in layout.stops], np.int64)
    stop_of = {station.name: layout.stop_of(station.name).index for station in line.stations}
    ways = _ways(line, stop_of, list(resting_order(line, layout)))
    return find_settling(line, layout, stop_kind, ways, partial(_move_over, line, {}))


def law_of(time: TimeLaw) -> Law:
    """A time law in whole microseconds.

    Notes
    -----
    Lognormal with mean m and coefficient of variation c: sigma² = ln(1 + c²), mu = ln m - sigma²/2. Gamma: shape
    k = 1/c², scale m c². A law without spread is fixed.

    Source     moments of the lognormal and the gamma law; tests/reference/test_laws.py.
    """
    mean_us = time.mean_s * 1e6
    if time.kind == "exponential":
        return Law(EXPONENTIAL, mean_us)
    if time.kind == "lognormal" and time.cv is not None and time.cv > 0.0:
        variance = math.log1p(time.cv**2)
        return Law(LOGNORMAL, math.log(mean_us) - variance / 2, math.sqrt(variance))
    if time.kind == "gamma" and time.cv is not None and time.cv > 0.0:
        return Law(GAMMA, 1.0 / time.cv**2, mean_us * time.cv**2)
    if time.kind == "empirical" and time.times_s is not None:
        return Law(EMPIRICAL, given_us=tuple(sorted(to_microseconds(time_s) for time_s in time.times_s)))
    if time.kind == "triangular":
        least_s, likely_s, most_s = (
            time.mean_s if x is None else x for x in (time.least_s, time.likely_s, time.most_s)
        )
        if most_s > least_s:
            return Law(TRIANGULAR, least_s * 1e6, likely_s * 1e6, most_s * 1e6)
    return Law(FIXED, float(to_microseconds(time.mean_s)))


def _failures(number: int, station: Station) -> list[FailureKind]:
    return [_failure(number, failure) for failure in station.failures]


def _failure(station: int, failure: Failure) -> FailureKind:
    repair = law_of(failure.repair)
    if failure.one_in is not None:
        return FailureKind(station, Law(GEOMETRIC, float(failure.one_in)), repair, OF_CYCLES)
    assert failure.every is not None  # held by the model: every or one_in
    return FailureKind(station, law_of(failure.every), repair, OF_CLOCK if failure.of == "clock" else OF_RUNNING)


def _move_over(line: Line, known: dict[tuple[int, float], Move], load: int, distance_m: float) -> Move:
    """The move of a load class over a distance, reckoned once."""
    key = (load, distance_m)
    if key not in known:
        known[key] = plan_move(distance_m, carrier_limits(line, load == LOADED, distance_m).limits)
    return known[key]


def _ways(line: Line, stop_of: dict[str, int], first_stops: list[int]) -> tuple[Way, ...]:
    """The ways of all carriers: from each step's stations to those of every step that can come next, and from time
    zero."""
    stops = [tuple(stop_of[name] for name in step.stations) for step in line.route]
    good = [p for p, step in enumerate(line.route) if not step.reject_exit]
    pairs = {(good[i], good[i + 1]) for i in range(len(good) - 1)}
    pairs.add((good[-1], good[0]))
    flags = {name for name in stop_of if line.station(name).rejects > 0.0}
    for p, step in enumerate(line.route):
        if flags.intersection(step.stations):
            pairs.add((p, next(q for q in range(p + 1, len(line.route)) if line.route[q].reject_exit)))
        if step.reject_exit:
            pairs.add((p, good[0]))
    ways = [
        Way(start, stops[following], EMPTY if following == good[0] else LOADED)
        for step, following in sorted(pairs)
        for start in stops[step]
    ]
    ways += [Way(start, stops[good[0]], EMPTY) for start in first_stops if start not in stops[good[0]]]
    return tuple(ways)


def _rides(line: Line, layout: Layout) -> tuple[Ints, Ints]:
    """Time from arrival aboard to the lock at the giving dock, and from there, empty, to the lock at the taking dock.
    [us]"""
    times = []
    for transfer in layout.transfers:
        sheet = line.conveyor.transfers[transfer.kind]
        ride = ride_move(sheet, transfer.ride_m)
        parts = (sheet.unlock_s, ride.duration_s, sheet.align_s, sheet.lock_s)
        times.append(sum(to_microseconds(part) for part in parts))
    return _ints(times), _ints(times)


def _stop_transfer(layout: Layout) -> Ints:
    transfers = {transfer.aboard: number for number, transfer in enumerate(layout.transfers)}
    return _ints(transfers.get(stop.index, -1) for stop in layout.stops)


def _ints(values: object) -> Ints:
    return np.array(list(values), np.int64)  # type: ignore[call-overload]
