"""Transfers: a carrier arrives aboard, the platform rides and locks, its carriers leave, it follows the calls."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.events import event_key, push
from linewright.flow.kernel.general.causes import node
from linewright.flow.kernel.general.changes import closed_to, opened_by
from linewright.flow.kernel.general.state import (
    AT_REST,
    GIVES,
    K_LOCKED_GIVING,
    K_LOCKED_TAKING,
    RIDES,
    RIDES_EMPTY,
    WAKE,
)
from linewright.flow.kernel.general.ways import ask_soon, head_of, waits, wake_before
from linewright.flow.kernel.marks import C_EXCHANGE, C_TRANSFER
from linewright.traffic.plan import ABOARD, DOCK, STATION, WAITING
from linewright.traffic.rules import NOBODY, STOP_KIND, STOP_LANE, STOP_STRETCHES, STOP_TRANSFER


@njit(inline="always")
def _leaf(t, s, transfer):
    return s.carrier.size + 2 * t.stations + transfer


@njit(inline="always")
def _ride_us(t, transfer, start, end):
    record = t.platform[transfer]
    return t.more[record["ride"] + start * record["docks"] + end]


@njit(_nrt=False)  # type: ignore[call-overload]
def set_boardable(t, s, transfer):
    """At a dock that it takes from, at rest and not spoken for, a platform may be boarded from that dock's lane."""
    record, one = t.platform[transfer], s.platform[transfer]
    taking = one["state"] == AT_REST and one["dock"] < record["taking"] and one["reserved"] < record["places"]
    s.boardable[transfer] = t.more[record["takes"] + one["dock"]] if taking else np.int64(-1)


@njit(_nrt=False)  # type: ignore[call-overload]
def arrive_aboard(t, s, carrier, now, arrival):
    """A carrier has arrived aboard; once all that have reserved a place have, the platform rides to the giving dock."""
    me = s.carrier[carrier]
    transfer = t.stops[me["stop"], STOP_TRANSFER]
    record, one = t.platform[transfer], s.platform[transfer]
    me["ready"] = arrival
    me["ready_us"] = -1
    one["arrived"] += 1
    if one["arrived"] < one["reserved"]:
        return
    dock = giving_dock(t, s, carrier)
    one["state"] = RIDES
    s.boardable[transfer] = -1
    ride_us = _ride_us(t, transfer, one["dock"], dock)
    one["dock"] = dock
    push(s.events, _leaf(t, s, transfer), event_key(now + ride_us, K_LOCKED_GIVING, t.more[record["aboard"]]))


@njit(_nrt=False)  # type: ignore[call-overload]
def giving_dock(t, s, carrier):
    """The dock of the lane on the way of a carrier aboard."""
    stop = s.carrier[carrier]["stop"]
    record = t.platform[t.stops[stop, STOP_TRANSFER]]
    if record["giving"] > 1:
        head = head_of(t, s, carrier)
        first = t.way[stop, head] if head >= 0 else t.stops[stop, 3]
        for i in range(record["giving"]):
            if t.more[record["gives"] + i] == t.stops[first, STOP_LANE]:
                return record["taking"] + i
    return record["taking"]


@njit(_nrt=False)  # type: ignore[call-overload]
def lock_giving(t, s, transfer, now):
    """The platform is locked at a giving dock: its carriers are ready."""
    record, one = t.platform[transfer], s.platform[transfer]
    one["state"] = GIVES
    places = t.stations + t.transfers
    lane = t.more[record["gives"] + one["dock"] - record["taking"]]
    one["left"] = 0
    one["rear_us"] = -1
    for i in range(record["places"]):
        stop = t.more[record["aboard"] + i]
        carrier = s.occupant[stop]
        if carrier == NOBODY:
            continue
        me = s.carrier[carrier]
        me["onto"] = t.lanes[lane, 0] if record["giving"] > 1 else np.int64(-1)
        me["ready_us"] = now
        me["ready"] = node(s.counters, s.marks, now, C_TRANSFER * places + t.stations + transfer, me["ready"])
        ask_soon(t, s, carrier)
    if t.two_way + t.together > 0:
        s.counters[WAKE] = 1


@njit(_nrt=False)  # type: ignore[call-overload]
def rear_left(t, s, transfer, now):
    """The last carrier's rear has left the platform: it is empty."""
    one = s.platform[transfer]
    one["state"] = AT_REST
    one["reserved"] = 0
    one["arrived"] = 0
    places = t.stations + t.transfers
    one["rear"] = node(s.counters, s.marks, now, C_EXCHANGE * places + t.stations + transfer, one["rear"])
    one["rear_us"] = now


@njit(_nrt=False)  # type: ignore[call-overload]
def _go(t, s, transfer, dock, now, before):
    """An empty platform goes to a dock that it takes from."""
    record, one = t.platform[transfer], s.platform[transfer]
    ride_us = _ride_us(t, transfer, one["dock"], dock)
    one["state"] = RIDES_EMPTY
    one["dock"] = dock
    places = t.stations + t.transfers
    label = C_TRANSFER * places + t.stations + transfer
    one["lock"] = node(s.counters, s.marks, now + ride_us, label, before)
    s.boardable[transfer] = -1
    push(s.events, _leaf(t, s, transfer), event_key(now + ride_us, K_LOCKED_TAKING, t.more[record["aboard"]]))


@njit(_nrt=False)  # type: ignore[call-overload]
def lock_taking(t, s, transfer, now):
    """The platform is locked at a dock that it takes from: whoever is next there asks."""
    one = s.platform[transfer]
    one["state"] = AT_REST
    one["lock_us"] = now
    set_boardable(t, s, transfer)
    wake_before(t, s, t.more[t.platform[transfer]["aboard"]])


@njit(_nrt=False)  # type: ignore[call-overload]
def _caller(t, s, transfer, lane):
    """The carrier that calls a transfer to the dock at the end of a lane; -1 for none. One whose way a full stretch
    ends before the place aboard does not."""
    stop = t.lanes[lane, 2]
    first = t.lanes[lane, 0]
    while stop >= 0:
        carrier = s.occupant[stop]
        if carrier != NOBODY:
            me = s.carrier[carrier]
            kind = t.stops[stop, STOP_KIND]
            under_way = me["under_way"] == 1 and kind in (WAITING, DOCK)
            if not under_way and not waits(s, carrier):
                return np.int64(-1)
            head = head_of(t, s, carrier)
            closed = closed_to(t, s, me)
            here = stop
            while head >= 0:
                here = t.way[here, head]
                if here >= 0 and (t.stops[here, STOP_STRETCHES] & closed) != 0:
                    return np.int64(-1)
                if here < 0 or (here == head and t.stops[here, STOP_KIND] == STATION):
                    return np.int64(-1)
                if t.stops[here, STOP_KIND] == ABOARD:
                    return carrier if t.stops[here, STOP_TRANSFER] == transfer else np.int64(-1)
            return np.int64(-1)
        stop = stop - 1 if stop != first else np.int64(-1)
    return np.int64(-1)


@njit(_nrt=False)  # type: ignore[call-overload]
def follow_calls(t, s, now):
    """Platforms at rest and empty go to the first dock that is called, or after a carrier has left home, if they return
    at once."""
    for transfer in range(t.transfers):
        record, one = t.platform[transfer], s.platform[transfer]
        if one["state"] != AT_REST or one["reserved"] > 0:
            continue
        fresh = one["rear_us"] == now
        for dock in range(record["taking"] if record["calls"] == 1 else 0):
            carrier = _caller(t, s, transfer, t.more[record["takes"] + dock])
            if carrier >= 0:
                if dock != one["dock"]:
                    before = one["rear"] if fresh else _let_it_call(t, s, transfer, carrier, now)
                    _go(t, s, transfer, np.int64(dock), now, before)
                break
        else:
            if fresh and record["at_once"] == 1 and one["dock"] != 0:
                _go(t, s, transfer, np.int64(0), now, one["rear"])


@njit(_nrt=False)  # type: ignore[call-overload]
def _let_it_call(t, s, transfer, carrier, now):
    """The event of this microsecond that let a platform follow a call: the caller's readiness or commitment, else the
    platform's own lock, else what admitted the caller."""
    me, one = s.carrier[carrier], s.platform[transfer]
    if me["under_way"] == 0 and me["ready_us"] == now:
        return me["ready"]
    if me["committed"] == now:
        return me["commitment"]
    if t.stretch.size == 0 or one["lock_us"] == now:
        return one["lock"]
    crossed, here, head = np.int64(0), me["stop"], head_of(t, s, carrier)
    while here == me["stop"] or t.stops[here, STOP_TRANSFER] != transfer:
        here = t.way[here, head]
        crossed |= t.stops[here, STOP_STRETCHES]
    return opened_by(t, s, crossed, now)[0]
