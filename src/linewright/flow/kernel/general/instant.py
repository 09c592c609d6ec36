"""The general event loop: instant by instant, the four parts of each, from time zero to the horizon."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.draws import draw_once
from linewright.flow.kernel.events import IDLE, SHIFT, event_key, first_leaf, push
from linewright.flow.kernel.general.asks import asks
from linewright.flow.kernel.general.box import as_box
from linewright.flow.kernel.general.causes import C_BREAK, C_OPERATOR, TIME_ZERO, node
from linewright.flow.kernel.general.changes import change_begins, enter_stretches, leave_stretches, note_opener, put_in
from linewright.flow.kernel.general.gates import break_begins, break_ends, gates, outside_ends, serve
from linewright.flow.kernel.general.luck import variant_of
from linewright.flow.kernel.general.parts import count_parts, see_to_parts
from linewright.flow.kernel.general.platforms import (
    arrive_aboard,
    follow_calls,
    giving_dock,
    lock_giving,
    lock_taking,
    rear_left,
    set_boardable,
)
from linewright.flow.kernel.general.state import (
    ASKING,
    BREAK,
    EVENTS,
    FAULT,
    G_UP,
    GATES,
    GIVES,
    HORIZON,
    K_ARRIVAL,
    K_BREAK,
    K_CHANGE,
    K_GATE,
    K_LOCKED_GIVING,
    K_LOCKED_TAKING,
    K_OPERATOR,
    K_READY,
    K_WORK_ENDS,
    OUTSIDES,
    PARTS_ABOARD,
    POOLS,
    PUTS,
    WAKE,
)
from linewright.flow.kernel.general.station import arrive_at_station, book, end_release, end_work
from linewright.flow.kernel.general.tables import STOP_STATION
from linewright.flow.kernel.general.ways import ask_soon
from linewright.flow.kernel.state import BLOCKED, FAULT_NONE
from linewright.traffic.plan import ABOARD
from linewright.traffic.rules import STOP_KIND, STOP_LANE, STOP_TRANSFER

_KIND_BITS = 4
_RANK_BITS = SHIFT - _KIND_BITS


@njit(_nrt=False)  # type: ignore[call-overload]
def _time_zero(t, s):
    """Everybody is ready or has arrived; tools are ready, platforms locked; breaks and carrier changes are due."""
    for f in range(t.failure.size):
        s.coming[f]["left"] = draw_once(s.laws, t.failure[f]["every"], 0)
    for transfer in range(t.transfers):
        set_boardable(t, s, transfer)
    leaf = s.carrier.size + 2 * t.stations + t.transfers + t.outside.size
    for number in range(t.breaks.size):
        push(s.events, leaf + number, event_key(t.breaks[number]["begin_us"], K_BREAK, number))
    leaf += t.breaks.size
    for number in range(t.change.size):
        push(s.events, leaf + number, event_key(t.change[number]["at_us"], K_CHANGE, number))
    s.counters[OUTSIDES] = 1
    for carrier in range(t.carriers):
        s.occupant[s.carrier[carrier]["stop"]] = carrier
    for carrier in range(t.carriers):
        _place(t, s, carrier)


@njit(inline="always")
def _place(t, s, carrier):
    """A carrier stands where it begins."""
    me = s.carrier[carrier]
    stop = me["stop"]
    station, transfer = t.stops[stop, STOP_STATION], t.stops[stop, STOP_TRANSFER]
    enter_stretches(t, s, me, stop)
    if me["present"] != 0:
        if t.law.variants > 1:
            me["variant"] = _variant_of_load(t, s, carrier)
        parts = count_parts(me["present"], t.nests)
        s.aboard[me["variant"]] += parts
        s.counters[PARTS_ABOARD] += parts
    if station >= 0:
        s.station[station]["occupant"] = carrier
        if t.station[station]["step"] == me["step"]:
            arrive_at_station(t, s, carrier, station, np.int64(0), TIME_ZERO)
            return
        s.station[station]["state"] = BLOCKED
    if transfer >= 0:
        one = s.platform[transfer]
        if one["state"] != GIVES:
            one["dock"] = giving_dock(t, s, carrier)
            one["state"] = GIVES
            record = t.platform[transfer]
            if record["giving"] > 1:
                me["onto"] = t.lanes[t.more[record["gives"] + one["dock"] - record["taking"]], 0]
        one["reserved"] += 1
        one["arrived"] += 1
        s.boardable[transfer] = -1
    ask_soon(t, s, carrier)


@njit(_nrt=False)  # type: ignore[call-overload]
def _variant_of_load(t, s, carrier):
    """The variant of the load that is on a carrier at the begin."""
    me = s.carrier[carrier]
    return variant_of(s.laws, t.law.variant, s.sequence, s.running, s.sets, me["load"], carrier)


@njit(_nrt=False)  # type: ignore[call-overload]
def _arrive(t, s, carrier, now):
    """A carrier has arrived at the stop that it had reserved."""
    me = s.carrier[carrier]
    stop = me["stop"]
    me["under_way"] = 0
    arrival = node(s.counters, s.marks, now, me["label"], me["departure"])
    if t.stretch.size > 0:
        _leave_stretches(t, s, me, arrival, stop, now)
    station = t.stops[stop, STOP_STATION]
    if station >= 0:
        arrive_at_station(t, s, carrier, station, now, arrival)
    elif t.stops[stop, STOP_KIND] == ABOARD:
        arrive_aboard(t, s, carrier, now, arrival)
    else:
        me["ready"] = arrival
        _be_ready(t, s, carrier, now)


@njit(_nrt=False)  # type: ignore[call-overload]
def _leave_stretches(t, s, me, arrival, stop, now):
    """A carrier arrives: the stretches that its stop lies beyond have room for another, and all that wait ask again."""
    left = leave_stretches(t, s, me, stop)
    if left == 0:
        return
    for i in range(t.stretch.size):
        if (left >> i) & 1 == 1:
            _note_last(s.stretch_left[i], now, stop, arrival)
    s.counters[WAKE] = 1


@njit(inline="always")
def _note_last(last, now, rank, number):
    """Keep the last event of a sort, of several in one microsecond that at the highest rank."""
    if last[0] < now or last[1] <= rank:
        last[0] = now
        last[1] = rank
        last[2] = number


@njit(inline="always")
def _be_ready(t, s, carrier, now):
    """A carrier is ready and asks."""
    me = s.carrier[carrier]
    me["ready_us"] = now
    ask_soon(t, s, carrier)
    if t.two_way + t.together > 0:
        _note_last(s.lane_ready[t.stops[me["stop"], STOP_LANE]], now, me["stop"], me["ready"])
        if t.two_way == 1:
            note_opener(s, me["ready"], me["stop"], now)
        s.counters[WAKE] = 1


@njit(inline="always")
def _of_carrier(t, s, carrier, kind, now):
    """An event of a carrier."""
    station = t.stops[s.carrier[carrier]["stop"], STOP_STATION]
    if kind == K_ARRIVAL:
        _arrive(t, s, carrier, now)
    elif kind == K_READY:
        _be_ready(t, s, carrier, now)
    elif kind == K_GATE:
        here = s.station[station]
        here["gate"] = G_UP
        here["gate_us"] = now
        here["fresh"] = 1
        _recheck(s, station)
    elif kind == K_WORK_ENDS:
        see_to_parts(t, s, carrier, station, s.station[station]["worked"], now, s.station[station]["ended"])
        end_work(t, s, station, now)


@njit(inline="always")
def _recheck(s, station):
    """A station's gate may be open now."""
    s.station[station]["dirty"] = 1
    s.counters[GATES] = 1


@njit(_nrt=False)  # type: ignore[call-overload]
def _of_others(t, s, leaf, kind, now):
    """An event of a station, its operator, a platform, a machine outside, a break or a carrier change."""
    if leaf < t.stations:
        _recheck(s, leaf)
        return
    leaf -= t.stations
    if leaf < t.stations:
        if kind == K_OPERATOR:
            serve(t, s, leaf, now)
        else:
            in_break = s.station[leaf]["state"] == BREAK
            end_release(t, s, leaf, now, C_BREAK if in_break else C_OPERATOR)
        return
    leaf -= t.stations
    if leaf < t.transfers:
        if kind == K_LOCKED_TAKING:
            lock_taking(t, s, leaf, now)
        elif kind == K_LOCKED_GIVING:
            lock_giving(t, s, leaf, now)
        else:
            rear_left(t, s, leaf, now)
        return
    leaf -= t.transfers
    if leaf < t.outside.size:
        outside_ends(t, s, leaf)
        return
    leaf -= t.outside.size
    if leaf < t.breaks.size:
        _of_break(t, s, leaf, now)
        return
    change_begins(t, s, leaf - t.breaks.size)


@njit(_nrt=False)  # type: ignore[call-overload]
def _of_break(t, s, number, now):
    """A break begins or ends."""
    record, one = t.breaks[number], s.breaks[number]
    begun = one["holds"] == 1
    for i in range(record["stations"]):
        station = t.more[record["list"] + i]
        if begun:
            break_ends(t, s, station, now)
        else:
            break_begins(t, s, station, now)
    due = record["length_us"]
    if begun:
        due = record["shift_us"] - record["length_us"]
    one["holds"] = 0 if begun else 1
    leaf = s.carrier.size + 2 * t.stations + t.transfers + t.outside.size + number
    push(s.events, leaf, event_key(now + due, K_BREAK, number))


@njit(inline="always")
def _changes(t, s, now):
    """The first part of an instant: the changes of state that are due."""
    events = s.events
    end = (now + 1) << SHIFT
    while events[1] < end:
        leaf = first_leaf(events)
        kind = (events[1] >> _RANK_BITS) & ((1 << _KIND_BITS) - 1)
        push(events, leaf, IDLE)
        s.counters[EVENTS] += 1
        if leaf < s.carrier.size:
            _of_carrier(t, s, leaf, kind, now)
        else:
            _of_others(t, s, leaf - s.carrier.size, kind, now)


# Without reference counts: nothing is allocated inside.
@njit(nogil=True, cache=True, _nrt=False)  # type: ignore[call-overload]
def run_instants(tables, state):
    """Run one replication, see `box`; the state is changed in place."""
    t, s = as_box(tables[0]), as_box(state[0])
    horizon = s.counters[HORIZON]
    _time_zero(t, s)
    now = np.int64(0)
    while s.counters[FAULT] == FAULT_NONE:
        end = (now + 1) << SHIFT
        again = True
        while again:
            _changes(t, s, now)
            if s.counters[PUTS] > 0 and put_in(t, s, now):
                continue
            if s.counters[GATES] + s.counters[OUTSIDES] + s.counters[POOLS] > 0:
                gates(t, s, now)
                if s.events[1] < end:
                    continue
            if s.counters[ASKING] + s.counters[WAKE] > 0:
                asks(t, s, now)
            follow_calls(t, s, now)
            again = s.events[1] < end or s.counters[GATES] > 0
            if s.counters[PUTS] > 0 and not again:
                again = put_in(t, s, now)
        key = s.events[1]
        now = key >> SHIFT
        if key == IDLE or now >= horizon:
            break
    for station in range(t.stations):
        book(t, s, station, horizon)
