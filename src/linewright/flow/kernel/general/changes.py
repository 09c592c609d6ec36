"""Carriers taken out of the line and put into it."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.general.causes import C_OUTSIDE, TIME_ZERO, node
from linewright.flow.kernel.general.state import (
    CARRIERS,
    G_NONE,
    G_UP,
    GATES,
    LAST_COMMITMENT,
    LAST_COMMITMENT_US,
    OPENER,
    OPENER_RANK,
    OPENER_US,
    PUTS,
    WAKE,
)
from linewright.flow.kernel.general.station import arrive_at_station, enter
from linewright.flow.kernel.general.ways import next_on_leg
from linewright.flow.kernel.state import EXCHANGE, STARVED
from linewright.traffic.rules import NOBODY, STOP_STRETCHES


@njit(_nrt=False)  # type: ignore[call-overload]
def change_begins(t, s, number):
    """A change is due: so many carriers are to be taken out or put in from now on."""
    change = s.change[number]
    change["active"] = 1
    change["carrier"] = -1
    change["left"] = abs(t.change[number]["count"])
    if t.change[number]["count"] > 0:
        s.counters[PUTS] += 1
        s.barred[t.station[t.change[number]["station"]]["stop"]] = 1
        return
    here = s.station[t.change[number]["station"]]
    if here["gate"] == G_UP:  # one that waits there already is taken out as well
        here["fresh"] = 1
        here["dirty"] = 1
        s.counters[GATES] = 1


@njit(_nrt=False)  # type: ignore[call-overload]
def _from_outside(t, s, station, now):
    """The node of what comes from outside the line at a station: its chain ends at time zero."""
    return node(s.counters, s.marks, now, C_OUTSIDE * (t.stations + t.transfers) + station, TIME_ZERO)


@njit(_nrt=False)  # type: ignore[call-overload]
def note_opener(s, opener, rank, now):
    """Keep the event that has opened every way in this microsecond, of several that at the highest rank."""
    if s.counters[OPENER_US] < now or s.counters[OPENER_RANK] <= rank:
        s.counters[OPENER] = opener
        s.counters[OPENER_US] = now
        s.counters[OPENER_RANK] = rank


@njit(_nrt=False)  # type: ignore[call-overload]
def take_out(t, s, station, now):
    """Whether an empty carrier that comes to the first gate is taken off the line there."""
    here = s.station[station]
    carrier = here["occupant"]
    me = s.carrier[carrier]
    for number in range(t.change.size):
        change = s.change[number]
        out = change["active"] == 1 and t.change[number]["count"] < 0 and change["left"] > 0
        if out and t.change[number]["station"] == station and me["present"] == 0:
            change["left"] -= 1
            me["gone"] = 1
            here["gate"] = G_NONE
            here["occupant"] = -1
            enter(t, s, station, now, STARVED)
            s.occupant[me["stop"]] = NOBODY
            leave_stretches(t, s, me, -1)
            s.counters[WAKE] = 1
            note_opener(s, _from_outside(t, s, station, now), me["stop"], now)
            return True
    return False


@njit(_nrt=False)  # type: ignore[call-overload]
def leave_stretches(t, s, me, stop):
    """A carrier is on no stretch but those of the stop where it is; those that it left (bits)."""
    left = me["on"] if stop < 0 else me["on"] & ~t.stops[stop, STOP_STRETCHES]
    for i in range(t.stretch.size):
        if (left >> i) & 1 == 1:
            s.on_stretch[i] -= 1
    me["on"] &= ~left
    return left


@njit(_nrt=False)  # type: ignore[call-overload]
def enter_stretches(t, s, me, stop):
    """A carrier's way comes to a stop: it is on that stop's stretches."""
    entered = t.stops[stop, STOP_STRETCHES] & ~me["on"]
    for i in range(t.stretch.size):
        if (entered >> i) & 1 == 1:
            s.on_stretch[i] += 1
    me["on"] |= entered


@njit(inline="always")
def closed_to(t, s, me):
    """The stretches that do not admit a carrier (bits): full, and it is not on them."""
    closed = np.int64(0)
    for i in range(t.stretch.size):
        if s.on_stretch[i] >= t.stretch[i]["most"] and (me["on"] >> i) & 1 == 0:
            closed |= np.int64(1) << i
    return closed


@njit(_nrt=False)  # type: ignore[call-overload]
def opened_by(t, s, crossed, now):
    """The node of what opened in this microsecond a way that crosses stretches (bits), and its rank: an arrival beyond
    one of them or a carrier taken out, of several that at the highest rank; else the last commitment, of rank -1."""
    opener, rank = TIME_ZERO, np.int64(-1)
    if s.counters[OPENER_US] == now:
        opener, rank = s.counters[OPENER], s.counters[OPENER_RANK]
    elif s.counters[LAST_COMMITMENT_US] == now:
        opener = s.counters[LAST_COMMITMENT]
    for i in range(t.stretch.size):
        last = s.stretch_left[i]
        if (crossed >> i) & 1 == 1 and last[0] == now and last[1] > rank:
            opener, rank = last[2], last[1]
    return opener, rank


@njit(_nrt=False)  # type: ignore[call-overload]
def _is_crossed(t, s, stop):
    """Whether a carrier has reserved, and not yet reached, a stop beyond one from it or from a stop before it."""
    for carrier in range(s.counters[CARRIERS]):
        me = s.carrier[carrier]
        if me["gone"] == 0 and me["under_way"] == 1:
            here = me["origin"]
            while here not in (me["stop"], -1):
                if here == stop:
                    return True
                here = next_on_leg(t, here, me["origin"], me["via"], me["stop"])
    return False


@njit(_nrt=False)  # type: ignore[call-overload]
def put_in(t, s, now):
    """The second part of an instant: carriers put in reserve their stop, and stand there once none is under way across
    it. Whether anything was done."""
    done = False
    for number in range(t.change.size):
        change = s.change[number]
        if change["active"] == 0 or t.change[number]["count"] < 0:
            continue
        station = t.change[number]["station"]
        stop = t.station[station]["stop"]
        if change["carrier"] < 0 and change["left"] > 0 and s.occupant[stop] == NOBODY:
            _reserve_for_new(t, s, change, station, stop, now)
            done = True
        if change["carrier"] >= 0 and not _is_crossed(t, s, stop):
            arrive_at_station(t, s, change["carrier"], station, now, _from_outside(t, s, station, now))
            change["carrier"] = -1
            done = True
        if change["carrier"] < 0 and change["left"] == 0:
            change["active"] = 0
            s.barred[stop] = 0
            for other in range(t.change.size):
                if s.change[other]["active"] == 1 and t.change[other]["count"] > 0:
                    s.barred[t.station[t.change[other]["station"]]["stop"]] = 1
            s.counters[WAKE] = 1
            s.counters[PUTS] -= 1
    return done


@njit(_nrt=False)  # type: ignore[call-overload]
def _reserve_for_new(t, s, change, station, stop, now):
    """The next carrier that is put in has reserved its stop."""
    carrier = s.counters[CARRIERS]
    s.counters[CARRIERS] += 1
    change["carrier"] = carrier
    change["left"] -= 1
    me = s.carrier[carrier]
    me["gone"] = 0
    me["stop"] = stop
    me["origin"] = stop
    s.occupant[stop] = carrier
    enter_stretches(t, s, me, stop)
    enter(t, s, station, now, EXCHANGE)
    s.counters[WAKE] = 1
