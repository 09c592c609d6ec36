"""A carrier asks, and commits itself if its way is open: the rule core compiled, and what follows from a commitment."""

from __future__ import annotations

from numba import njit

from linewright.flow.kernel.events import KIND_LOCKED_TAKING, KIND_WORK_STARTS, ask_key, event_key, push
from linewright.flow.kernel.marks import ARRIVED, DEPARTED, HOME, MOVE, READY_ABOARD, SETTLED, mark
from linewright.flow.kernel.state import (
    FAULT,
    FAULT_NO_LEG,
    FAULT_TRACE_FULL,
    MOVES,
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
def ask(tables, state, totals, trace, laws, carrier, now, horizon):
    """A carrier at rest and ready asks for its way; gives the follower that its commitment wakes, or -1 if it stays
    or wakes none."""
    leader = carrier - 1 if carrier > 0 else tables.carriers - 1
    me, ahead = state.carrier[carrier], state.carrier[leader]
    stop, stops = me["stop"], tables.stops
    station = tables.stop[stop]["station"]
    if station >= 0 and me["waiting"] > 0:
        hold(tables, state, totals, laws, carrier, station, now, horizon)
    free = free_way(stop, ahead["stop"], stops)
    step = tables.step[me["step"]]
    goal = destination(stop, free, step["first"], step["last"], tables.step_stop, stops)
    aboard = stop + tables.next_aboard[stop]
    if aboard >= stops:
        aboard -= stops
    transfer = tables.stop[aboard]["transfer"]
    waits = state.transfer[transfer]["waits"] == 1
    reach = farthest(stop, free, goal, waits, tables.next_aboard, tables.back, stops)
    if reach == 0:
        _stay(tables, me, ahead, station, carrier == leader, now)
        return -1
    me["waiting"] = 0
    commit(tables, state, totals, trace, laws, carrier, leader, transfer, reach, now, horizon)
    follower = carrier + 1 if carrier + 1 < tables.carriers else 0
    return follower if state.carrier[follower]["waiting"] == WAITS else -1


@njit(inline="always")
def _stay(tables, me, ahead, station, alone, now):
    """Its way is not open: it waits to be woken. At a station, note since when and whether a partner holds it."""
    me["waiting"] = WAITS
    if station >= 0:
        me["since"] = now
        other = tables.stop[ahead["stop"]]["station"]
        alike = other >= 0 and tables.station[other]["step"] == tables.station[station]["step"] and not alone
        me["held"] = 1 if alike else 0


@njit(inline="always")
def commit(tables, state, totals, trace, laws, carrier, leader, transfer, reach, now, horizon):
    """Reserve the stop so many stops ahead, depart as soon as the leader allows it, and set the carrier's next
    event. transfer is the next one on its way."""
    me, ahead = state.carrier[carrier], state.carrier[leader]
    stop = me["stop"]
    load = 1 if me["serial"] >= 0 else 0
    leg = tables.leg[stop, reach - 1] if reach <= tables.leg.shape[1] else NO_LEG
    move = tables.move_us[load, stop, reach - 1] if leg != NO_LEG else NO_LEG
    if move == NO_LEG:
        state.counters[FAULT] = FAULT_NO_LEG
        return
    row = 2 * leg + load
    delay = NO_BOUND
    if ahead["leg_row"] >= 0 and ahead["departed"] + tables.top_delay_us > now:
        delay = tables.delay_us[ahead["leg_row"], row]
    departs = departure(now, ahead["committed"], ahead["departed"], tables.follow_us, delay)
    to = stop + reach
    if to >= tables.stops:
        to -= tables.stops
    arrives = departs + move
    number = _mark_move(tables, state, trace, carrier, leader, transfer, to, row, now, departs, arrives)
    _leave(tables, state, totals, trace, laws, carrier, stop, load, reach, number, now, departs, horizon)
    me["stop"] = to
    me["committed"] = now
    me["departed"] = departs
    me["leg_row"] = row
    if departs < horizon:
        totals.moves[carrier] += 1
    if departs < horizon and arrives >= trace.begin:
        _log_move(state, trace, carrier, departs, stop, to, arrives, load)
    _head_for(tables, state, totals, trace, laws, carrier, to, number, now, arrives, horizon)


@njit(inline="always")
def _mark_move(tables, state, trace, carrier, leader, transfer, to, row, now, departs, arrives):
    """Mark the move with what its departure and its commitment went back to; gives the mark's number."""
    me, ahead, platform = state.carrier[carrier], state.carrier[leader], state.transfer[transfer]
    waited = me["ready_us"] != now
    if not waited:
        commitment = me["ready"]
    elif platform["lock_us"] == now and platform["next_carrier"] == carrier:
        commitment = platform["lock"]
    else:
        commitment = ahead["commitment"]
    if departs == now:
        before = commitment
    elif departs == ahead["committed"] + tables.follow_us:
        before = ahead["commitment"]
    else:
        before = (ahead["last_move"] << 2) | DEPARTED
    me["commitment"] = commitment
    kind = tables.stop[to]["kind"]
    exchange = 1 if waited and kind in (STATION, ABOARD) else 0
    number = mark(state.counters, trace.marks, arrives, MOVE, exchange, tables.way_place[me["step"], to], row, before)
    me["last_move"] = number
    return number


@njit(inline="always")
def _leave(tables, state, totals, trace, laws, carrier, stop, load, reach, number, now, departs, horizon):
    """What a departure frees: a station's stop, or a platform, which returns at once when the carrier's rear has left
    it."""
    left = tables.stop[stop]
    station, transfer = left["station"], left["transfer"]
    if station >= 0:
        me, here = state.carrier[carrier], state.station[station]
        me["held"] = 0
        me["since"] = now
        hold(tables, state, totals, laws, carrier, station, departs, horizon)
        here["vacated"] = departs
        here["occupant"] = -1
    if transfer >= 0:
        platform = state.transfer[transfer]
        home = departs + tables.rear_us[load, transfer, reach - 1] + tables.transfer[transfer]["home_us"]
        push(state.events, tables.carriers + transfer, event_key(home, KIND_LOCKED_TAKING, stop))
        place = tables.stations + transfer
        platform["lock_us"] = home
        platform["lock"] = mark(state.counters, trace.marks, home, HOME, 0, place, 0, (number << 2) | DEPARTED) << 2


@njit(inline="always")
def _head_for(tables, state, totals, trace, laws, carrier, to, number, now, arrives, horizon):
    """The carrier's next event: ready at a waiting or dock stop, ready aboard after the ride, or work at a station,
    which starts when it has settled: at once reckoned where nothing can come between, else by an event."""
    me, goal = state.carrier[carrier], tables.stop[to]
    if goal["kind"] == STATION:
        station = goal["station"]
        state.station[station]["occupant"] = carrier
        settled_by = (number << 2) | SETTLED
        start = work_start(tables, state, totals, trace, laws, carrier, station, now, arrives, settled_by, horizon)
        if tables.station[station]["at_once"] == 1:
            me["starting"] = STARTS_AT_ONCE
            me["since"] = start
        else:
            me["starting"] = STARTS_BY_EVENT
            push(state.events, carrier, event_key(start, KIND_WORK_STARTS, to))
    else:
        ready_us = arrives
        tag = ARRIVED
        if goal["kind"] == ABOARD:
            platform = state.transfer[goal["transfer"]]
            platform["waits"] = 0
            platform["next_carrier"] = carrier + 1 if carrier + 1 < tables.carriers else 0
            ready_us = arrives + tables.transfer[goal["transfer"]]["aboard_us"]
            tag = READY_ABOARD
        me["ready_us"] = ready_us
        me["ready"] = (number << 2) | tag
        push(state.events, carrier, ask_key(ready_us, to))


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
