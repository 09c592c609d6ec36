"""A carrier asks, and commits itself if its way is open: the rule core compiled, and what follows from a commitment."""

from __future__ import annotations

from numba import njit

from linewright.flow.kernel.events import KIND_LOCKED_TAKING, KIND_WORK_STARTS, ask_key, event_key, push
from linewright.flow.kernel.marks import DEPARTED, HOME, MOVE, READY_ABOARD, SETTLED, mark
from linewright.flow.kernel.state import (
    COMMITMENT,
    FAULT,
    FAULT_NO_LEG,
    FAULT_TRACE_FULL,
    LAST_MOVE,
    LOCK,
    LOCK_US,
    MOVES,
    READY,
    READY_US,
    STARTS_AT_ONCE,
    STARTS_BY_EVENT,
    WAITS,
)
from linewright.flow.kernel.station import hold, work_start
from linewright.traffic import rules
from linewright.traffic.plan import ABOARD, NO_BOUND, NO_LEG, STATION

free_way = njit(inline="always")(rules.free_way)
destination = njit(inline="always")(rules.destination)
farthest = njit(inline="always")(rules.farthest)
departure = njit(inline="always")(rules.departure)


@njit(inline="always")
def ask(tables, state, totals, trace, luck, carrier, now, horizon):
    """A carrier at rest and ready asks for its way; gives the follower that its commitment wakes, or -1 if it stays
    or wakes none."""
    stop = state.stop[carrier]
    leader = carrier - 1 if carrier > 0 else tables.carriers - 1
    station = tables.stop_station[stop]
    if station >= 0 and state.waiting[carrier] > 0:
        hold(tables, state, totals, luck, carrier, station, now, horizon)
    free = free_way(stop, state.stop[leader], tables.stops)
    step = state.step[carrier]
    goal = destination(stop, free, tables.step_first[step], tables.step_first[step + 1], tables.step_stop, tables.stops)
    aboard = stop + tables.next_aboard[stop]
    if aboard >= tables.stops:
        aboard -= tables.stops
    waits = state.platform_waits[tables.stop_transfer[aboard]] == 1
    reach = farthest(stop, free, goal, waits, tables.next_aboard, tables.back, tables.stops)
    if reach == 0:
        _stay(tables, state, carrier, leader, station, now)
        return -1
    state.waiting[carrier] = 0
    commit(tables, state, totals, trace, luck, carrier, leader, tables.stop_transfer[aboard], reach, now, horizon)
    follower = carrier + 1 if carrier + 1 < tables.carriers else 0
    return follower if state.waiting[follower] == WAITS else -1


@njit(inline="always")
def _stay(tables, state, carrier, leader, station, now):
    """Its way is not open: it waits to be woken. At a station, note since when and whether a partner holds it."""
    state.waiting[carrier] = WAITS
    if station >= 0:
        state.since[carrier] = now
        ahead = tables.stop_station[state.stop[leader]]
        alike = ahead >= 0 and tables.station_step[ahead] == tables.station_step[station] and leader != carrier
        state.held[carrier] = 1 if alike else 0


@njit(inline="always")
def commit(tables, state, totals, trace, luck, carrier, leader, transfer, reach, now, horizon):
    """Reserve the stop so many stops ahead, depart as soon as the leader allows it, and set the carrier's next
    event. transfer is the next one on its way."""
    stop = state.stop[carrier]
    load = 1 if state.serial[carrier] >= 0 else 0
    leg = tables.leg[stop, reach - 1] if reach <= tables.leg.shape[1] else NO_LEG
    move = tables.move_us[load, stop, reach - 1] if leg != NO_LEG else NO_LEG
    if move == NO_LEG:
        state.counters[FAULT] = FAULT_NO_LEG
        return
    row = 2 * leg + load
    delay = NO_BOUND
    if state.leg_row[leader] >= 0 and state.departed[leader] + tables.top_delay_us > now:
        delay = tables.delay_us[state.leg_row[leader], row]
    departs = departure(now, state.committed[leader], state.departed[leader], tables.follow_us, delay)
    to = stop + reach
    if to >= tables.stops:
        to -= tables.stops
    arrives = departs + move
    number = _mark_move(tables, state, trace, carrier, leader, transfer, to, row, now, departs, arrives)
    _leave(tables, state, totals, trace, luck, carrier, stop, load, reach, number, now, departs, horizon)
    state.stop[carrier] = to
    state.committed[carrier] = now
    state.departed[carrier] = departs
    state.leg_row[carrier] = row
    if departs < horizon:
        totals.moves[carrier] += 1
    if departs < horizon and arrives >= trace.begin:
        _log_move(state, trace, carrier, departs, stop, to, arrives, load)
    _head_for(tables, state, totals, trace, luck, carrier, to, number, now, arrives, horizon)


@njit(inline="always")
def _mark_move(tables, state, trace, carrier, leader, transfer, to, row, now, departs, arrives):
    """Mark the move with what its departure and its commitment went back to; gives the mark's number."""
    waited = state.waits_for[carrier, READY_US] != now
    if not waited:
        commitment = state.waits_for[carrier, READY]
    elif state.lock[transfer, LOCK_US] == now and state.next_aboard_carrier[transfer] == carrier:
        commitment = state.lock[transfer, LOCK]
    else:
        commitment = state.waits_for[leader, COMMITMENT]
    if departs == now:
        before = commitment
    elif departs == state.committed[leader] + tables.follow_us:
        before = state.waits_for[leader, COMMITMENT]
    else:
        before = (state.waits_for[leader, LAST_MOVE] << 2) | DEPARTED
    state.waits_for[carrier, COMMITMENT] = commitment
    kind = tables.stop_kind[to]
    exchange = 1 if waited and kind in (STATION, ABOARD) else 0
    place = tables.way_place[state.step[carrier], to]
    number = mark(state.counters, trace.marks, arrives, MOVE, exchange, place, row, before)
    state.waits_for[carrier, LAST_MOVE] = number
    return number


@njit(inline="always")
def _leave(tables, state, totals, trace, luck, carrier, stop, load, reach, number, now, departs, horizon):
    """What a departure frees: a station's stop, or a platform, which returns at once when the carrier's rear has left
    it."""
    station = tables.stop_station[stop]
    if station >= 0:
        state.held[carrier] = 0
        state.since[carrier] = now
        hold(tables, state, totals, luck, carrier, station, departs, horizon)
        state.vacated[station] = departs
        state.occupant[station] = -1
    transfer = tables.stop_transfer[stop]
    if transfer >= 0:
        home = departs + tables.rear_us[load, transfer, reach - 1] + tables.home_us[transfer]
        push(state.events, tables.carriers + transfer, event_key(home, KIND_LOCKED_TAKING, stop))
        place = tables.settling_us.size + transfer
        state.lock[transfer, LOCK_US] = home
        state.lock[transfer, LOCK] = (
            mark(state.counters, trace.marks, home, HOME, 0, place, 0, (number << 2) | DEPARTED) << 2
        )


@njit(inline="always")
def _head_for(tables, state, totals, trace, luck, carrier, to, number, now, arrives, horizon):
    """The carrier's next event: ready at a waiting or dock stop, ready aboard after the ride, or work at a station."""
    kind = tables.stop_kind[to]
    if kind == STATION:
        _enter_station(tables, state, totals, trace, luck, carrier, to, number, now, arrives, horizon)
    elif kind == ABOARD:
        transfer = tables.stop_transfer[to]
        state.platform_waits[transfer] = 0
        state.next_aboard_carrier[transfer] = carrier + 1 if carrier + 1 < tables.carriers else 0
        state.waits_for[carrier, READY_US] = arrives + tables.aboard_us[transfer]
        state.waits_for[carrier, READY] = (number << 2) | READY_ABOARD
        push(state.events, carrier, ask_key(state.waits_for[carrier, READY_US], to))
    else:
        state.waits_for[carrier, READY_US] = arrives
        state.waits_for[carrier, READY] = number << 2
        push(state.events, carrier, ask_key(arrives, to))


@njit(inline="always")
def _enter_station(tables, state, totals, trace, luck, carrier, stop, number, reserved, arrives, horizon):
    """Its work starts when it has settled: at once reckoned where nothing can come between, else by an event."""
    station = tables.stop_station[stop]
    state.occupant[station] = carrier
    settled_by = (number << 2) | SETTLED
    start = work_start(tables, state, totals, trace, luck, carrier, station, reserved, arrives, settled_by, horizon)
    if tables.at_once[station] == 1:
        state.starting[carrier] = STARTS_AT_ONCE
        state.since[carrier] = start
    else:
        state.starting[carrier] = STARTS_BY_EVENT
        push(state.events, carrier, event_key(start, KIND_WORK_STARTS, stop))


@njit(inline="always")
def _log_move(state, trace, carrier, departs, stop, to, arrives, load):
    row = state.counters[MOVES]
    if row >= trace.moves.shape[0]:
        state.counters[FAULT] = FAULT_TRACE_FULL
        return
    record = trace.moves[row]
    record[0] = carrier
    record[1] = departs
    record[2] = stop
    record[3] = to
    record[4] = arrives
    record[5] = load
    state.counters[MOVES] = row + 1
