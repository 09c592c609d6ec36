"""The event loop: one replication of a plan from time zero to its horizon."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from linewright.errors import SimulationError
from linewright.flow.kernel.draws import Luck, draw_once
from linewright.flow.kernel.events import (
    IDLE,
    KIND_WORK_STARTS,
    LONGEST_US,
    MOST_STOPS,
    SHIFT,
    ask_key,
    event_key,
    first_leaf,
    new_events,
    push,
)
from linewright.flow.kernel.release import ask
from linewright.flow.kernel.state import (
    ASKS,
    EVENTS,
    FAULT,
    FAULT_NO_EXIT,
    FAULT_NO_LEG,
    FAULT_NONE,
    FAULT_TRACE_FULL,
    GOOD,
    MOVES,
    STARTS_AT_ONCE,
    STARTS_BY_EVENT,
    WAITS,
    WORKS,
    State,
    Tables,
    Totals,
    Trace,
    new_state,
    new_totals,
    new_trace,
)
from linewright.flow.kernel.station import close_books, do_work, work_start
from linewright.traffic.plan import TrafficPlan

Ints = NDArray[np.int64]

FIRST_CAPACITY: Final = 1 << 15


@njit(inline="always")
def _time_zero(tables, state, totals, luck, horizon):
    """All carriers ready and arrived at 0; one on a station's stop settles and starts on its work."""
    for failure in range(state.to_failure.size):
        state.to_failure[failure] = draw_once(luck.running, failure, 0)
    for carrier in range(tables.carriers):
        stop = state.stop[carrier]
        station = tables.stop_station[stop]
        if station >= 0:
            state.occupant[station] = carrier
            state.starting[carrier] = STARTS_BY_EVENT
            start = work_start(tables, state, totals, station, 0, 0, horizon)
            push(state.events, carrier, event_key(start, KIND_WORK_STARTS, stop))
        else:
            push(state.events, carrier, ask_key(0, stop))


@njit(inline="always")
def _lock_at_taking_dock(tables, state, leaf):
    """A platform is back: whoever boards next asks, if it waits."""
    transfer = leaf - tables.carriers
    state.platform_waits[transfer] = 1
    carrier = state.next_aboard_carrier[transfer]
    return carrier if state.waiting[carrier] == WAITS else -1


# Without reference counts (nothing is allocated inside): counting them for every array would cost more than the events.
@njit(nogil=True, cache=True, _nrt=False)  # type: ignore[call-overload]
def run_replication(tables, state, totals, trace, luck, horizon, bin_us):
    """Run one replication; state, totals and trace are changed in place.

    A carrier that is woken asks here and now only if its ask comes before every pending event; else it joins them.
    """
    events = state.events
    _time_zero(tables, state, totals, luck, horizon)
    now = np.int64(0)
    woken = -1
    while state.counters[FAULT] == FAULT_NONE:
        if woken >= 0:
            carrier = woken
            woken = -1
            key = ask_key(now, state.stop[carrier])
            if events[1] < key:
                state.waiting[carrier] = ASKS
                push(events, carrier, key)
                continue
        else:
            key = events[1]
            now = key >> SHIFT
            if key == IDLE or now >= horizon:
                break
            carrier = first_leaf(events)
            push(events, carrier, IDLE)
        state.counters[EVENTS] += 1
        if carrier >= tables.carriers:
            woken = _lock_at_taking_dock(tables, state, carrier)
        else:
            start = np.int64(-1)
            if state.starting[carrier] == STARTS_BY_EVENT:
                start = now
            else:
                woken = ask(tables, state, totals, trace, carrier, now, horizon)
                if state.starting[carrier] == STARTS_AT_ONCE:
                    start = state.since[carrier]
            if start >= 0:
                state.starting[carrier] = 0
                stop = state.stop[carrier]
                station = tables.stop_station[stop]
                ready = do_work(tables, state, totals, trace, luck, carrier, station, start, horizon, bin_us)
                push(events, carrier, ask_key(ready, stop))
    close_books(tables, state, totals, horizon)


@dataclass(frozen=True, eq=False)
class Replication:
    """What one replication gives: its totals, its trace if one was asked for, and how many events it took.

    Parameters
    ----------
    totals : see `Totals`
    moves, works : shape (rows, 6), see `Trace`; good : shape (rows, 2). Empty without a trace
    events : events handled
    """

    totals: Totals
    moves: Ints
    works: Ints
    good: Ints
    events: int


def run_once(
    plan: TrafficPlan,
    tables: Tables,
    luck: Luck,
    horizon_us: int,
    bin_us: int,
    trace_from_us: int | None = None,
) -> Replication:
    """One replication with the given luck.

    Parameters
    ----------
    plan, tables : a plan and what `tables_of` makes of it
    luck : see `luck_of`
    horizon_us, bin_us : length of the run and of one bin of good parts. [us], > 0
    trace_from_us : log moves and works from here on; None for no log

    Raises
    ------
    SimulationError   The plan has too many stops or the run is too long for the event keys.
    RuntimeError      The plan contradicts itself (a leg or an exit is missing): a fault of the program, not of the
    line.
    """
    if plan.stops > MOST_STOPS:
        raise SimulationError(f"the line has {plan.stops} stops; the simulation takes at most {MOST_STOPS}")
    if not 0 < horizon_us < LONGEST_US // 2:
        raise SimulationError(
            f"a run of {horizon_us} us; it may be longer than 0 and shorter than {LONGEST_US // 2} us"
        )
    capacity = 0 if trace_from_us is None else FIRST_CAPACITY
    while True:
        totals = new_totals(plan, horizon_us, bin_us)
        trace = new_trace(LONGEST_US if trace_from_us is None else trace_from_us, capacity)
        state = new_state(plan, new_events(plan.carriers + len(plan.transfer_names)))
        run_replication(tables, state, totals, trace, luck, horizon_us, bin_us)
        fault = int(state.counters[FAULT])
        if fault != FAULT_TRACE_FULL:
            break
        capacity *= 4
    if fault == FAULT_NO_LEG:
        raise RuntimeError("the traffic plan lacks a leg that a carrier needs")
    if fault == FAULT_NO_EXIT:
        raise RuntimeError("the traffic plan flags a part that no reject exit follows")
    return _result(state, totals, trace)


def _result(state: State, totals: Totals, trace: Trace) -> Replication:
    counters = state.counters
    return Replication(
        totals=totals,
        moves=trace.moves[: counters[MOVES]],
        works=trace.works[: counters[WORKS]],
        good=trace.good[: counters[GOOD]],
        events=int(counters[EVENTS]),
    )
