"""The gates before work, the operators and the machines outside: the third part of an instant."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.draws import NO_FAILURE, draw, draw_once
from linewright.flow.kernel.events import event_key, push
from linewright.flow.kernel.general.causes import C_BREAK, C_CHANGEOVER, C_OPERATOR, C_OUTSIDE, node
from linewright.flow.kernel.general.changes import take_out
from linewright.flow.kernel.general.parts import count_parts, next_variant, recheck_first_step, take_load, to_work_on
from linewright.flow.kernel.general.state import (
    ASSIGNED,
    BREAK,
    CALLS,
    CHANGEOVER,
    G_BREAK,
    G_NONE,
    G_OPERATOR,
    G_OUTSIDE,
    G_RELEASE,
    G_RUN_OUT,
    G_UP,
    G_UP_AGAIN,
    G_WORK,
    GATES,
    K_CHANGED_OVER,
    K_OPERATOR,
    K_OUTSIDE,
    K_RELEASED,
    K_REPAIRED,
    NO_CALL,
    OPERATOR,
    OUTSIDE,
    OUTSIDES,
    PARTS_ABOARD,
    POOLS,
    SERVED,
)
from linewright.flow.kernel.general.station import enter, is_up, operator_leaf, start_work
from linewright.flow.kernel.marks import C_CLOCK
from linewright.traffic.general import FEED


@njit(_nrt=False)  # type: ignore[call-overload]
def _up(t, s, station, now):
    """Gates 1 and 7: the station is up; else it asks again when it is."""
    if t.station[station]["has_clock"] == 0:
        return True
    up = is_up(t, s, station, now)
    if up > now:
        push(s.events, s.carrier.size + station, event_key(up, K_REPAIRED, t.station[station]["stop"]))
    return up <= now


@njit(_nrt=False)  # type: ignore[call-overload]
def _run_out(t, s, station, carrier):
    """Gate 2: an empty carrier takes the next load, once no part of another variant than that is aboard any carrier."""
    if s.carrier[carrier]["present"] != 0:
        return True
    if t.run_out == 1:
        variant = next_variant(t, s, carrier)
        if s.counters[PARTS_ABOARD] != s.aboard[variant]:
            return False
    take_load(t, s, carrier)
    if t.run_out == 1:
        recheck_first_step(t, s)
    return True


@njit(_nrt=False)  # type: ignore[call-overload]
def _outside(t, s, station, parts):
    """Gate 3: the feed holds the parts that will be worked on, the take-away has room for all that the carrier can
    bring."""
    feed, away = t.station[station]["feed"], t.station[station]["take_away"]
    if feed >= 0 and s.outside[feed]["buffer"] < parts:
        return False
    if away >= 0:
        room = t.outside[away]["capacity"] - s.outside[away]["buffer"] - s.outside[away]["kept"]
        if room < t.nests:
            return False
        s.outside[away]["kept"] += t.nests
    if feed >= 0:
        s.outside[feed]["buffer"] -= parts
        s.outside[feed]["dirty"] = 1
        s.counters[OUTSIDES] = 1
    return True


@njit(_nrt=False)  # type: ignore[call-overload]
def _operator(t, s, station):
    """Gate 5: the operator has arrived; a station that needs one and has not called calls."""
    here, tool = s.station[station], t.station[station]
    if tool["manual"] == 0 or tool["pool"] < 0 or here["call"] == SERVED:
        return True
    if here["call"] == NO_CALL:
        here["call"] = CALLS
        s.pool[tool["pool"]]["dirty"] = 1
        s.counters[POOLS] = 1
    return False


@njit(_nrt=False)  # type: ignore[call-overload]
def _changed_over(t, s, station, variant, now):
    """Gate 6: the changeover from the variant of the last work, begun when the gate is reached, is over."""
    here, first = s.station[station], t.station[station]["changeover"]
    if first < 0 or here["last_variant"] < 0 or here["last_variant"] == variant:
        return True
    if here["changed_us"] < here["gate_us"]:
        here["changed_us"] = now + t.more[first + here["last_variant"] * t.law.variants + variant]
        if here["changed_us"] > now:
            leaf = s.carrier.size + station
            push(s.events, leaf, event_key(here["changed_us"], K_CHANGED_OVER, t.station[station]["stop"]))
    return here["changed_us"] <= now


@njit(_nrt=False)  # type: ignore[call-overload]
def _pass_gate(t, s, station, gate, now):
    """Whether a station passes one gate: -1 if so, else the state in which it waits."""
    here = s.station[station]
    carrier = here["occupant"]
    if gate in (G_UP, G_UP_AGAIN):
        if not _up(t, s, station, now):
            return here["state"]
    elif gate == G_RUN_OUT:
        if not _run_out(t, s, station, carrier):
            return np.int64(CHANGEOVER)
        here["worked"] = to_work_on(t, s, carrier, t.station[station]["step"])
    elif gate == G_OUTSIDE:
        if not _outside(t, s, station, count_parts(here["worked"], t.nests)):
            return np.int64(OUTSIDE)
    elif gate == G_BREAK:
        if here["in_break"] > 0:
            return np.int64(BREAK)
    elif gate == G_OPERATOR:
        if not _operator(t, s, station):
            return np.int64(BREAK if here["in_break"] > 0 and here["call"] == CALLS else OPERATOR)
    elif not _changed_over(t, s, station, s.carrier[carrier]["variant"], now):
        return np.int64(CHANGEOVER)
    return np.int64(-1)


@njit(inline="always")
def _cause_of(gate):
    """The cause of having waited at a gate."""
    if gate in (G_UP, G_UP_AGAIN):
        return C_CLOCK
    if gate == G_OUTSIDE:
        return C_OUTSIDE
    if gate == G_BREAK:
        return C_BREAK
    return C_OPERATOR if gate == G_OPERATOR else C_CHANGEOVER


@njit(_nrt=False)  # type: ignore[call-overload]
def _pass_gates(t, s, station, now):
    """A station passes every gate that it can; whether it passed any."""
    here = s.station[station]
    passed = False
    while G_NONE < here["gate"] < G_WORK:
        gate = here["gate"]
        if here["fresh"] == 1:
            here["fresh"] = 0
            if take_out(t, s, station, now):
                return True
        waits = _pass_gate(t, s, station, gate, now)
        if waits >= 0:
            if waits != here["state"]:
                enter(t, s, station, now, waits)
            return passed
        passed = True
        if now > here["gate_us"]:
            note(t, s, station, now, _cause_of(gate))
        here["gate"] = gate + 1
        if gate == G_UP_AGAIN:
            start_work(t, s, station, now)
    return passed


@njit(_nrt=False)  # type: ignore[call-overload]
def note(t, s, station, now, cause):
    """A stretch of a station's waiting has ended: a link of its own among the causes."""
    here = s.station[station]
    if now > here["gate_us"]:
        label = cause * (t.stations + t.transfers) + station
        here["gate_node"] = node(s.counters, s.marks, now, label, here["gate_node"])
        here["gate_us"] = now


@njit(_nrt=False)  # type: ignore[call-overload]
def _assign(t, s, pool, now):
    """Calling stations that are in no break, in the pool's order, each get the free operator with the least walk."""
    record = t.pool[pool]
    count = record["stations"]
    for i in range(count):
        station = t.more[record["list"] + i]
        here = s.station[station]
        if here["call"] != CALLS or here["in_break"] > 0:
            continue
        best = np.int64(-1)
        best_us = np.int64(0)
        for operator in range(record["first"], record["last"]):
            walk_us = t.more[record["walk"] + s.operator[operator]["place"] * count + i]
            if s.operator[operator]["free"] == 1 and (best < 0 or walk_us < best_us):
                best = operator
                best_us = walk_us
        if best < 0:
            return
        here["call"] = ASSIGNED
        here["operator"] = best
        s.operator[best]["free"] = 0
        s.operator[best]["place"] = i
        if best_us == 0:
            serve(t, s, station, now)
        else:
            leaf = operator_leaf(t, s, station)
            push(s.events, leaf, event_key(now + best_us, K_OPERATOR, t.station[station]["stop"]))


@njit(_nrt=False)  # type: ignore[call-overload]
def serve(t, s, station, now):
    """The operator has arrived: work may start, or the carrier is being released."""
    here, tool = s.station[station], t.station[station]
    here["call"] = SERVED
    if here["gate"] == G_RELEASE:
        push(s.events, operator_leaf(t, s, station), event_key(now + tool["release_us"], K_RELEASED, tool["stop"]))
    else:
        here["dirty"] = 1
        s.counters[GATES] = 1


@njit(_nrt=False)  # type: ignore[call-overload]
def break_begins(t, s, station, now):
    """A station that calls and has nobody assigned calls anew after the break."""
    here = s.station[station]
    here["in_break"] += 1
    if here["in_break"] == 1 and here["call"] == CALLS:
        note(t, s, station, now, C_OPERATOR)
        enter(t, s, station, now, BREAK)


@njit(_nrt=False)  # type: ignore[call-overload]
def break_ends(t, s, station, now):
    """Whoever waited for the end of a break goes on."""
    here = s.station[station]
    here["in_break"] -= 1
    if here["in_break"] > 0:
        return
    if here["call"] == CALLS:
        note(t, s, station, now, C_BREAK)
        enter(t, s, station, now, OPERATOR)
        s.pool[t.station[station]["pool"]]["dirty"] = 1
        s.counters[POOLS] = 1
    elif here["gate"] == G_BREAK:
        here["dirty"] = 1
        s.counters[GATES] = 1


@njit(_nrt=False)  # type: ignore[call-overload]
def _run_outside(t, s, machine, now):
    """A machine outside that can begins to make or take a part; its time, with its repairs, is known at once."""
    one, record = s.outside[machine], t.outside[machine]
    one["dirty"] = 0
    feeds = record["kind"] == FEED
    if one["busy"] == 1 or (one["buffer"] >= record["capacity"] if feeds else one["buffer"] <= 0):
        return
    one["busy"] = 1
    if not feeds:
        one["buffer"] -= 1
        s.station[record["station"]]["dirty"] = 1
        s.counters[GATES] = 1
    left = draw(s.laws, t.law.outside + machine, one["number"])
    one["number"] += 1
    end = _run_through(t, s, record["first"], record["last"], now, left)
    leaf = s.carrier.size + 2 * t.stations + t.transfers + machine
    push(s.events, leaf, event_key(end, K_OUTSIDE, t.station[record["station"]]["stop"]))


@njit(_nrt=False)  # type: ignore[call-overload]
def _run_through(t, s, first, last, now, left):
    """When a machine outside has run for `left`, repairs between: one due at the very end comes at the next start."""
    while True:
        due = np.int64(-1)
        least = left
        for f in range(first, last):
            if s.coming[f]["left"] < least:
                least = s.coming[f]["left"]
                due = f
        for f in range(first, last):
            if s.coming[f]["left"] != NO_FAILURE:
                s.coming[f]["left"] -= least
        now += least
        left -= least
        if due < 0:
            return now
        coming = s.coming[due]
        now += draw(s.laws, t.failure[due]["repair"], coming["number"])
        coming["number"] += 1
        coming["left"] = draw_once(s.laws, t.failure[due]["every"], coming["number"])


@njit(_nrt=False)  # type: ignore[call-overload]
def outside_ends(t, s, machine):
    """A machine outside has made or taken a part."""
    one, record = s.outside[machine], t.outside[machine]
    one["busy"] = 0
    one["dirty"] = 1
    s.counters[OUTSIDES] = 1
    if record["kind"] == FEED:
        one["buffer"] += 1
        s.station[record["station"]]["dirty"] = 1
        s.counters[GATES] = 1


@njit(inline="always")
def _run_all_outside(t, s, now):
    """The machines outside that may begin do so."""
    if s.counters[OUTSIDES] == 1:
        s.counters[OUTSIDES] = 0
        for machine in range(t.outside.size):
            if s.outside[machine]["dirty"] == 1:
                _run_outside(t, s, machine, now)


@njit(_nrt=False)  # type: ignore[call-overload]
def gates(t, s, now):
    """The gates' part of an instant: machines outside, stations by rank, operators, until nothing passes."""
    while True:
        _run_all_outside(t, s, now)
        if s.counters[GATES] == 1:
            s.counters[GATES] = 0
            for i in range(t.stations):
                station = t.station_by_rank[i]
                if s.station[station]["dirty"] == 1:
                    s.station[station]["dirty"] = 0
                    _pass_gates(t, s, station, now)
                    _run_all_outside(t, s, now)
        if s.counters[POOLS] == 1:
            s.counters[POOLS] = 0
            for pool in range(t.pools):
                if s.pool[pool]["dirty"] == 1:
                    s.pool[pool]["dirty"] = 0
                    _assign(t, s, pool, now)
        if s.counters[GATES] == 0 and s.counters[OUTSIDES] == 0 and s.counters[POOLS] == 0:
            return
