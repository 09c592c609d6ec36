"""A carrier at a station: settling, work with its failures, clear, release, done handshake; the station's time in each
state."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.clock import book_by_clock, comes_before, repair_failure, spend
from linewright.flow.kernel.draws import NO_FAILURE
from linewright.flow.kernel.events import event_key, push
from linewright.flow.kernel.general.causes import node
from linewright.flow.kernel.general.luck import draw_at
from linewright.flow.kernel.general.parts import part_with
from linewright.flow.kernel.general.state import (
    BREAK,
    CALLS,
    FAULT,
    G_NONE,
    G_RELEASE,
    G_WORK,
    HORIZON,
    K_GATE,
    K_READY,
    K_RELEASED,
    K_WORK_ENDS,
    NO_CALL,
    OPERATOR,
    POOLS,
    SERVED,
    TRACE_FROM,
    WORKS,
)
from linewright.flow.kernel.marks import (
    C_CLEAR,
    C_CLOCK,
    C_DONE,
    C_PREPARE,
    C_REPAIR,
    C_SETTLING,
    C_START,
    C_WORK,
)
from linewright.flow.kernel.state import (
    BLOCKED,
    CLEAR,
    DONE_HANDSHAKE,
    DOWN,
    FAULT_NO_EXIT,
    FAULT_TRACE_FULL,
    PREPARE,
    SETTLING,
    WORK,
)
from linewright.traffic.plan import OF_CLOCK, OF_CYCLES, OF_RUNNING


@njit(inline="always")
def book(t, s, station, until):
    """Book a station's time up to an instant as time in its state, or down."""
    here = s.station[station]
    if until > here["booked"]:
        horizon = s.counters[HORIZON]
        if t.station[station]["has_clock"] == 0:
            spend(s.state_us, station, here["state"], here["booked"], until, horizon)
            here["booked"] = until
        else:
            book_by_clock(
                s.state_us, s.failed, s.coming, t.failure, s.laws, here, t.station[station], station, here["state"],
                until, False, horizon,
            )  # fmt: skip


@njit(inline="always")
def is_up(t, s, station, now):
    """When a station is up, all clock failures that come by then repaired; its time is booked up to there."""
    here = s.station[station]
    return book_by_clock(
        s.state_us, s.failed, s.coming, t.failure, s.laws, here, t.station[station], station, here["state"], now, True,
        s.counters[HORIZON],
    )  # fmt: skip


@njit(inline="always")
def enter(t, s, station, now, state):
    """A station is in another state from now on."""
    book(t, s, station, now)
    s.station[station]["state"] = state


@njit(_nrt=False)  # type: ignore[call-overload]
def arrive_at_station(t, s, carrier, station, now, arrival):
    """A carrier settles and waits for the tool; arrival is the node of its arrival."""
    here, tool = s.station[station], t.station[station]
    here["occupant"] = carrier
    book(t, s, station, now)
    place, places = station, t.stations + t.transfers
    still = now + tool["settling_us"]
    settled = still + t.arrive_us
    reached = max(settled, here["tool_ready"])
    here["state"] = SETTLING
    book(t, s, station, settled)
    here["state"] = PREPARE
    book(t, s, station, reached)
    before = here["tool"]
    if settled >= here["tool_ready"]:
        before = node(s.counters, s.marks, still, C_SETTLING * places + place, arrival)
        before = node(s.counters, s.marks, settled, C_START * places + place, before)
    here["gate_node"] = before
    push(s.events, carrier, event_key(reached, K_GATE, tool["stop"]))


@njit(_nrt=False)  # type: ignore[call-overload]
def _work_through(t, s, station, start, left, before):
    """When work that takes `left` ends, with the failures that come in it and their repairs, all booked; and its node.

    A failure of running due exactly when the work ends comes at the start of the next; a clock failure comes before.
    """
    tool, horizon, kinds, comings = t.station[station], s.counters[HORIZON], t.failure, s.coming
    places = t.stations + t.transfers
    now = start
    first, last = tool["first_failure"], tool["last_failure"]
    for f in range(first, last):
        if kinds[f]["of"] == OF_CYCLES and comings[f]["left"] != NO_FAILURE:
            comings[f]["left"] -= 1
    while True:
        due = np.int64(-1)
        least = left
        rank = np.int64(OF_RUNNING)
        for f in range(first, last):
            of = kinds[f]["of"]
            after = comings[f]["left"]
            if of == OF_CLOCK:
                after = max(after - now, np.int64(0))
            elif of == OF_CYCLES:
                after = np.int64(0) if after <= 0 else NO_FAILURE
            if after < least or (after == least and comes_before(of, due, rank)):
                least = after
                due = f
                rank = of
        spend(s.state_us, station, WORK, now, now + least, horizon)
        for f in range(first, last):
            if kinds[f]["of"] == OF_RUNNING and comings[f]["left"] != NO_FAILURE:
                comings[f]["left"] -= least
        now += least
        left -= least
        before = node(s.counters, s.marks, now, C_WORK * places + station, before)
        if due < 0:
            return now, before
        repaired = repair_failure(s.failed, comings, kinds, s.laws, due, now, horizon)
        spend(s.state_us, station, DOWN, now, repaired, horizon)
        cause = C_CLOCK if rank == OF_CLOCK else C_REPAIR
        before = node(s.counters, s.marks, repaired, cause * places + station, before)
        now = repaired


@njit(_nrt=False)  # type: ignore[call-overload]
def _work_time(t, s, station, me, worked):
    """The time of the work in hand: one draw, or one a part."""
    law = t.law.work + station * t.law.variants + me["variant"]
    serial = me["load"] * t.nests
    if t.nests == 1 or t.station[station]["each_part"] == 0:
        return draw_at(s.laws, law, serial, me["visit"])
    work = np.int64(0)
    for i in range(t.nests):
        if part_with(worked, i):
            work += draw_at(s.laws, law, serial + i, me["visit"])
    return work


@njit(inline="always")
def start_work(t, s, station, now):
    """The last gate is passed: work starts, and with its failures it is known when it ends."""
    here, tool = s.station[station], t.station[station]
    carrier = here["occupant"]
    me = s.carrier[carrier]
    here["gate"] = G_WORK
    book(t, s, station, now)
    work = _work_time(t, s, station, me, here["worked"])
    end, ended = _work_through(t, s, station, now, work, here["gate_node"])
    here["booked"] = end
    here["up"] = end
    here["end_us"] = end
    here["ended"] = ended
    here["last_variant"] = me["variant"]
    me["in_work"] = 1
    if end >= s.counters[TRACE_FROM]:
        _log_work(s, station, carrier, me["load"] * t.nests, now, end, work)
    push(s.events, carrier, event_key(end, K_WORK_ENDS, tool["stop"]))
    if here["worked"] == 0:
        s.counters[FAULT] = FAULT_NO_EXIT


@njit(_nrt=False)  # type: ignore[call-overload]
def _log_work(s, station, carrier, serial, start, end, work):
    row = s.counters[WORKS]
    if row >= s.works.shape[0]:
        s.counters[FAULT] = FAULT_TRACE_FULL
        return
    record = s.works[row]
    record[0] = station
    record[1] = carrier
    record[2] = serial
    record[3] = start
    record[4] = end
    record[5] = end - start - work
    s.counters[WORKS] = row + 1


@njit(inline="always")
def end_work(t, s, station, now):
    """Work has ended, its parts are seen to: the tool clears, and the carrier is ready or waits to be released."""
    here, tool = s.station[station], t.station[station]
    carrier = here["occupant"]
    s.carrier[carrier]["in_work"] = 0
    here["gate"] = G_NONE
    places = t.stations + t.transfers
    cleared = now + tool["clear_us"]
    clear = node(s.counters, s.marks, cleared, C_CLEAR * places + station, here["ended"])
    here["tool_ready"] = cleared + tool["prepare_us"]
    here["tool"] = node(s.counters, s.marks, here["tool_ready"], C_PREPARE * places + station, clear)
    here["state"] = CLEAR
    book(t, s, station, cleared)
    if tool["release_us"] >= 0 and tool["pool"] >= 0:
        _await_release(t, s, station, now)
    else:
        if here["call"] == SERVED:
            free_operator(t, s, station)
        _make_ready(t, s, station, cleared, clear)


@njit(inline="always")
def _await_release(t, s, station, now):
    """The operator who is there releases the carrier, or one is called."""
    here, tool = s.station[station], t.station[station]
    here["gate"] = G_RELEASE
    here["gate_us"] = now
    here["gate_node"] = here["ended"]
    here["state"] = OPERATOR
    if here["call"] == SERVED:
        push(s.events, operator_leaf(t, s, station), event_key(now + tool["release_us"], K_RELEASED, tool["stop"]))
    else:
        here["call"] = CALLS
        s.pool[tool["pool"]]["dirty"] = 1
        s.counters[POOLS] = 1
        if here["in_break"] > 0:
            here["state"] = BREAK


@njit(inline="always")
def operator_leaf(t, s, station):
    """The leaf of the events of a station's operator."""
    return s.carrier.size + t.stations + station


@njit(_nrt=False)  # type: ignore[call-overload]
def free_operator(t, s, station):
    """The operator at a station is free; he stays there until he is assigned anew."""
    here, pool = s.station[station], t.station[station]["pool"]
    s.operator[here["operator"]]["free"] = 1
    here["operator"] = -1
    here["call"] = NO_CALL
    s.pool[pool]["dirty"] = 1
    s.counters[POOLS] = 1


@njit(inline="always")
def end_release(t, s, station, now, cause):
    """The operator has released the carrier."""
    here, tool = s.station[station], t.station[station]
    here["gate"] = G_NONE
    free_operator(t, s, station)
    places = t.stations + t.transfers
    cleared = here["tool_ready"] - tool["prepare_us"]
    before = node(s.counters, s.marks, cleared, C_CLEAR * places + station, here["ended"])
    if now > cleared:
        book(t, s, station, now)
        before = node(s.counters, s.marks, now, cause * places + station, here["gate_node"])
    _make_ready(t, s, station, max(cleared, now), before)


@njit(_nrt=False)  # type: ignore[call-overload]
def _make_ready(t, s, station, released, before):
    """The carrier is ready after the done handshake, and blocked from there on."""
    here, stop = s.station[station], t.station[station]["stop"]
    me = s.carrier[here["occupant"]]
    places = t.stations + t.transfers
    ready = released + t.done_us
    here["state"] = DONE_HANDSHAKE
    book(t, s, station, ready)
    here["state"] = BLOCKED
    me["ready_us"] = ready
    me["ready"] = node(s.counters, s.marks, ready, C_DONE * places + station, before)
    push(s.events, here["occupant"], event_key(ready, K_READY, stop))
