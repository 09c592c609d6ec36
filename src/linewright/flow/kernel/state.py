"""What the kernel reads (tables of the plan), what it changes (state) and what it fills (totals, trace)."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from linewright.traffic.plan import (
    ABOARD,
    DOCK,
    EMPTY,
    LOADED,
    NO_BOUND,
    NO_LEG,
    OF_CLOCK,
    WAITING,
    TrafficPlan,
)
from linewright.traffic.rules import NEVER

Ints = NDArray[np.int64]

DOWN: Final = 0
WORK: Final = 1
CLEAR: Final = 2
DONE_HANDSHAKE: Final = 3
BLOCKED: Final = 4
PARTNER: Final = 5
SETTLING: Final = 6
PREPARE: Final = 7
EXCHANGE: Final = 8
STARVED: Final = 9
STATES: Final = 10

# A carrier's `waiting`: it waits to be woken, or it has been and its ask is pending.
WAITS: Final = 1
ASKS: Final = 2

# Its `starting`: the event that its work starts is pending, or it is reckoned in the same step of the loop.
STARTS_BY_EVENT: Final = 1
STARTS_AT_ONCE: Final = 2

NEVER_FINISHED: Final = 1 << 62
"""When the first good part of a bin is finished that has none."""

# Columns of `waits_for`: a carrier's readiness and its time, what its last commitment went back to, its last move (a
# number), the start of its work.
READY_US: Final = 0
READY: Final = 1
COMMITMENT: Final = 2
LAST_MOVE: Final = 3
START: Final = 4

# Columns of `lock`: the time and the pointer.
LOCK_US: Final = 0
LOCK: Final = 1

FAULT_NONE: Final = 0
FAULT_NO_LEG: Final = 1
FAULT_NO_EXIT: Final = 2
FAULT_TRACE_FULL: Final = 3


class Tables(NamedTuple):
    """The plan as the kernel reads it. Shapes as in `TrafficPlan`; step_stop[step_first[p]:step_first[p + 1]] are a
    step's stops. leg_us[2 leg + load] is how long a leg takes; way_place[p, i] the place, a station or after these a
    transfer, to which a move to stop i belongs on the way to step p."""

    stops: int
    carriers: int
    transfers: int
    follow_us: int
    arrive_us: int
    done_us: int
    top_delay_us: int
    stop_kind: Ints
    stop_station: Ints
    stop_transfer: Ints
    next_aboard: Ints
    back: Ints
    station_step: Ints
    at_once: Ints
    settling_us: Ints
    clear_us: Ints
    prepare_us: Ints
    step_first: Ints
    step_stop: Ints
    next_good: Ints
    next_flagged: Ints
    move_us: Ints
    leg: Ints
    delay_us: NDArray[np.int32]
    aboard_us: Ints
    rear_us: Ints
    home_us: Ints
    failure_first: Ints
    failure_of: Ints
    has_clock: Ints
    first_stops: Ints
    leg_us: Ints
    way_place: Ints


class State(NamedTuple):
    """One moment.

    A carrier: stop rested on or reserved, next step, serial (-1 empty), last commitment and departure, row of its last
    leg in the delays, waiting or not, since when and whether held by a partner. A station: when its tool is ready, when
    its last carrier departs, which carrier has it, with clock failures the times of `clock`. A transfer: waits at its
    dock or not, which carrier boards next. A failure: running time or works left, of a clock failure when it is due.

    What events waited on, as pointers (see `marks`): of a carrier in the columns of `waits_for`, of a station's tool,
    of a transfer's last lock at its taking dock in those of `lock`."""

    events: Ints
    stop: Ints
    step: Ints
    serial: Ints
    flagged: Ints
    committed: Ints
    departed: Ints
    leg_row: Ints
    starting: Ints
    waiting: Ints
    since: Ints
    held: Ints
    tool_ready: Ints
    vacated: Ints
    occupant: Ints
    platform_waits: Ints
    next_aboard_carrier: Ints
    to_failure: Ints
    failure_number: Ints
    clock_us: Ints
    waits_for: Ints
    tool: Ints
    lock: Ints
    counters: Ints


SERIALS: Final = 0
EVENTS: Final = 1
FAULT: Final = 2
MOVES: Final = 3
WORKS: Final = 4
GOOD: Final = 5
MARKS: Final = 6
LAST_GOOD_US: Final = 7
LAST_GOOD_STOP: Final = 8
LAST_GOOD: Final = 9
COUNTERS: Final = 10


class Totals(NamedTuple):
    """What a run adds up, all clipped at the horizon: time in each state, works ended, parts flagged, failures begun,
    good parts a bin and when the first of them was finished."""

    state_us: Ints
    parts: Ints
    rejected: Ints
    failures: Ints
    good: Ints
    first_us: Ints
    moves: Ints


class Trace(NamedTuple):
    """A log of moves (carrier, departure, from, to, arrival, load class), of works (station, carrier, serial, start,
    end, repair) and of good parts (serial, end) that lie, even in part, between begin and the horizon; and the ring of
    the last marks (see `marks`), its length a power of two."""

    begin: int
    moves: Ints
    works: Ints
    good: Ints
    marks: Ints


def tables_of(plan: TrafficPlan, at_once: bool = True) -> Tables:
    """The plan's tables with what the kernel derives from them.

    Parameters
    ----------
    at_once : let the work at a station be reckoned when its carrier commits itself, where nothing can come between; a
        test
        shows that the result is the same without
    """
    stops = plan.stops
    kinds = plan.stop_kind
    next_aboard = np.zeros(stops, np.int64)
    back = np.zeros(stops, np.int64)
    for i in range(stops):
        next_aboard[i] = next(r for r in range(1, stops + 1) if kinds[(i + r) % stops] == ABOARD)
        back[i] = next(r for r in range(stops) if kinds[i - r] in (WAITING, DOCK))
    first = np.cumsum([0, *(len(stations) for stations in plan.step_stations)])
    sole = [len(stations) == 1 for stations in plan.step_stations]
    delays = plan.delay_us[plan.delay_us != NO_BOUND]
    owners = [failure.station for failure in plan.failures]
    kinds_at = {(failure.station, failure.of) for failure in plan.failures}
    return Tables(
        stops=stops,
        carriers=plan.carriers,
        transfers=len(plan.transfer_names),
        follow_us=plan.follow_us,
        arrive_us=plan.start_handshake_us,
        done_us=plan.done_handshake_us,
        top_delay_us=int(delays.max()) if delays.size else NEVER,
        stop_kind=kinds,
        stop_station=plan.stop_station,
        stop_transfer=plan.stop_transfer,
        next_aboard=next_aboard,
        back=back,
        station_step=plan.station_step,
        at_once=np.array([at_once and (step > 0 or sole[0]) for step in plan.station_step], np.int64),
        settling_us=plan.settling_us,
        clear_us=plan.clear_us,
        prepare_us=plan.prepare_us,
        step_first=np.asarray(first, np.int64),
        step_stop=np.array([plan.station_stop[k] for stations in plan.step_stations for k in stations], np.int64),
        next_good=_next_step(plan.step_exit, False),
        next_flagged=_next_step(plan.step_exit, True),
        move_us=plan.move_us,
        leg=plan.leg,
        delay_us=plan.delay_us,
        aboard_us=plan.aboard_us,
        rear_us=plan.rear_us,
        home_us=plan.home_us,
        failure_first=np.searchsorted(owners, np.arange(len(plan.station_names) + 1)).astype(np.int64),
        failure_of=np.array([failure.of for failure in plan.failures], np.int64),
        has_clock=np.array([(k, OF_CLOCK) in kinds_at for k in range(len(plan.station_names))], np.int64),
        first_stops=plan.first_stops,
        leg_us=_leg_times(plan),
        way_place=_way_places(plan),
    )


def _leg_times(plan: TrafficPlan) -> Ints:
    """How long each leg takes for each load class, at [2 leg + load]; 0 where that class never goes it."""
    times = np.zeros(2 * (int(plan.leg.max(initial=NO_LEG)) + 1), np.int64)
    for load in (EMPTY, LOADED):
        gone = (plan.leg != NO_LEG) & (plan.move_us[load] != NO_LEG)
        times[2 * plan.leg[gone] + load] = plan.move_us[load][gone]
    return times


def _way_places(plan: TrafficPlan) -> Ints:
    """The place to which a move belongs, at [next step of its carrier, stop reached]: the first place aboard or station
    of that step at or after the stop, stations numbered first."""
    places = np.zeros((len(plan.step_stations), plan.stops), np.int64)
    for step, stations in enumerate(plan.step_stations):
        ends = {int(plan.station_stop[k]): k for k in stations}
        for stop in np.flatnonzero(plan.stop_kind == ABOARD):
            ends[int(stop)] = len(plan.station_names) + int(plan.stop_transfer[stop])
        for stop in range(plan.stops):
            places[step, stop] = ends[min(ends, key=lambda end: (end - stop) % plan.stops)]
    return places


def _next_step(exits: tuple[bool, ...], flagged: bool) -> Ints:
    """The step that follows each for a good or a flagged part; -1 where the part leaves its carrier, -2 where it may
    not come."""
    steps = range(len(exits))
    following = [next((q for q in steps if q > p and exits[q] == flagged), -1) for p in steps]
    if flagged:
        following = [-1 if exits[p] else (-2 if following[p] == -1 else following[p]) for p in steps]
    else:
        following = [-1 if exits[p] else following[p] for p in steps]
    return np.array(following, np.int64)


def new_state(plan: TrafficPlan, events: Ints) -> State:
    """Time zero: all carriers at rest on their first stops, nothing committed, platforms at their taking docks, tools
    ready."""
    carriers, stations = plan.carriers, len(plan.station_names)
    transfers, failures = len(plan.transfer_names), len(plan.failures)

    def zeros(count: int) -> Ints:
        return np.zeros(count, np.int64)

    def filled(count: int, value: int) -> Ints:
        return np.full(count, value, np.int64)

    return State(
        events=events,
        stop=plan.first_stops.copy(),
        step=zeros(carriers),
        serial=filled(carriers, -1),
        flagged=zeros(carriers),
        committed=filled(carriers, NEVER),
        departed=filled(carriers, NEVER),
        leg_row=filled(carriers, -1),
        starting=zeros(carriers),
        waiting=zeros(carriers),
        since=zeros(carriers),
        held=zeros(carriers),
        tool_ready=zeros(stations),
        vacated=zeros(stations),
        occupant=filled(stations, -1),
        platform_waits=filled(transfers, 1),
        next_aboard_carrier=_first_boarders(plan),
        to_failure=zeros(failures),
        failure_number=zeros(failures),
        clock_us=np.zeros((stations, 2), np.int64),
        waits_for=_nothing_to_wait_for(carriers),
        tool=filled(stations, -1),
        lock=np.full((transfers, 2), -1, np.int64),
        counters=_first_counters(),
    )


def _nothing_to_wait_for(carriers: int) -> Ints:
    pointers = np.full((carriers, 5), -1, np.int64)
    pointers[:, READY_US] = 0
    return pointers


def _first_counters() -> Ints:
    counters = np.zeros(COUNTERS, np.int64)
    counters[[LAST_GOOD_US, LAST_GOOD_STOP, LAST_GOOD]] = -1
    return counters


def _first_boarders(plan: TrafficPlan) -> Ints:
    """For each transfer the carrier that comes to it first: the nearest upstream of its place aboard."""
    aboard = np.flatnonzero(plan.stop_kind == ABOARD)
    upstream = (aboard[:, None] - plan.first_stops[None, :]) % plan.stops
    return np.asarray(upstream.argmin(axis=1), np.int64)


def new_totals(plan: TrafficPlan, horizon_us: int, bin_us: int) -> Totals:
    """Empty totals; good parts are counted in bins of bin_us from time zero, the last one perhaps cut short by the
    horizon."""
    stations = len(plan.station_names)
    return Totals(
        state_us=np.zeros((stations, STATES), np.int64),
        parts=np.zeros(stations, np.int64),
        rejected=np.zeros(stations, np.int64),
        failures=np.zeros(len(plan.failures), np.int64),
        good=np.zeros(-(-horizon_us // bin_us), np.int64),
        first_us=np.full(-(-horizon_us // bin_us), NEVER_FINISHED, np.int64),
        moves=np.zeros(plan.carriers, np.int64),
    )


def new_trace(begin_us: int, capacity: int, marks: Ints) -> Trace:
    """An empty trace with room for so many moves, works and good parts, over a ring of marks."""
    return Trace(
        begin=begin_us,
        moves=np.zeros((capacity, 6), np.int64),
        works=np.zeros((capacity, 6), np.int64),
        good=np.zeros((capacity, 2), np.int64),
        marks=marks,
    )
