"""The event loop: one replication of a plan from time zero to its horizon."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

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
from linewright.flow.kernel.marks import MOST_PLACES, MOST_ROWS, NOTHING, walk
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
    LAST_GOOD,
    MARKS,
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

if TYPE_CHECKING:
    from linewright.flow.kernel.general.luck import GeneralLuck
    from linewright.flow.kernel.general.run import Snapshot

Ints = NDArray[np.int64]

FIRST_CAPACITY: Final = 1 << 15
FIRST_LINKS: Final = 1 << 17
FEW_MARKS: Final = 1 << 6
KEPT_MARKS: Final = 1 << 21
"""Marks kept of a run: about a day of a line of a dozen stations, in 32 MB a thread."""


@njit(inline="always")
def _time_zero(tables, state, totals, trace, laws, horizon):
    """All carriers ready and arrived at 0; one on a station's stop settles and starts on its work."""
    for failure in range(tables.failure.size):
        state.failure[failure]["left"] = draw_once(laws, tables.failure[failure]["every"], 0)
    for carrier in range(tables.carriers):
        stop = state.carrier[carrier]["stop"]
        station = tables.stop[stop]["station"]
        if station >= 0:
            state.station[station]["occupant"] = carrier
            state.carrier[carrier]["starting"] = STARTS_BY_EVENT
            start = work_start(tables, state, totals, trace, laws, carrier, station, 0, 0, NOTHING, horizon)
            push(state.events, carrier, event_key(start, KIND_WORK_STARTS, stop))
        else:
            push(state.events, carrier, ask_key(0, stop))


@njit(inline="always")
def _lock_at_taking_dock(tables, state, leaf):
    """A platform is back: whoever boards next asks, if it waits."""
    platform = state.transfer[leaf - tables.carriers]
    platform["waits"] = 1
    carrier = platform["next_carrier"]
    return carrier if state.carrier[carrier]["waiting"] == WAITS else -1


# Without reference counts (nothing is allocated inside): counting them for every array would cost more than the events.
@njit(nogil=True, cache=True, _nrt=False)  # type: ignore[call-overload]
def run_replication(tables, state, totals, trace, laws, horizon, bin_us):
    """Run one replication; state, totals and trace are changed in place.

    A carrier that is woken asks here and now only if its ask comes before every pending event; else it joins them.
    """
    events = state.events
    _time_zero(tables, state, totals, trace, laws, horizon)
    now = np.int64(0)
    woken = -1
    while state.counters[FAULT] == FAULT_NONE:
        if woken >= 0:
            carrier = woken
            woken = -1
            me = state.carrier[carrier]
            key = ask_key(now, me["stop"])
            if events[1] < key:
                me["waiting"] = ASKS
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
            me = state.carrier[carrier]
            start = np.int64(-1)
            if me["starting"] == STARTS_BY_EVENT:
                start = now
            else:
                woken = ask(tables, state, totals, trace, laws, carrier, now, horizon)
                if me["starting"] == STARTS_AT_ONCE:
                    start = me["since"]
            if start >= 0:
                me["starting"] = 0
                stop = me["stop"]
                station = tables.stop[stop]["station"]
                ready = do_work(tables, state, totals, trace, laws, carrier, station, start, horizon, bin_us)
                push(events, carrier, ask_key(ready, stop))
    close_books(tables, state, totals, laws, horizon)


class _Scratch(threading.local):
    """The arrays of one thread that every run of it fills anew."""

    def __init__(self) -> None:
        self.marks = np.empty((KEPT_MARKS, 2), np.int64)
        self.few_marks = np.empty((FEW_MARKS, 2), np.int64)
        self.times_us = np.empty(FIRST_LINKS, np.int64)
        self.labels = np.empty(FIRST_LINKS, np.int64)


_scratch = _Scratch()


@dataclass(frozen=True, eq=False)
class Chain:
    """The chain of causes back from the last good part of a replication.

    Parameters
    ----------
    times_us : shape (links + 1,)   Link j reaches from times_us[j + 1] to times_us[j]. [us]
    labels : shape (links,)         cause * places + place, see `marks.CAUSES`; stations first, then transfers
    kept_us : from here on the chain is whole; 0 where it reaches to time zero. [us]
    """

    times_us: Ints
    labels: NDArray[np.int32]
    kept_us: int


@dataclass(frozen=True, eq=False)
class Replication:
    """What one replication gives: its totals, its trace if one was asked for, and how many events it took.

    Parameters
    ----------
    totals : see `Totals`
    moves, works : shape (rows, 6), see `Trace`; good : shape (rows, 2). Empty without a trace
    chain : None if it was not asked for or no good part was finished
    events : events handled
    beyond : what only the general loop gives; None for a plain line
    """

    totals: Totals
    moves: Ints
    works: Ints
    good: Ints
    chain: Chain | None
    events: int
    beyond: Beyond | None = None


@dataclass(frozen=True, eq=False)
class Beyond:
    """What the general loop gives beyond that.

    Parameters
    ----------
    snapshot : where everything is at the horizon
    short_halts, short_halts_lost_us : how many short halts, and what they cost together. [us]
    """

    snapshot: Snapshot
    short_halts: int
    short_halts_lost_us: int


def run_once(
    plan: TrafficPlan,
    tables: Tables,
    luck: Luck | GeneralLuck,
    horizon_us: int,
    bin_us: int,
    trace_from_us: int | None = None,
    with_chain: bool = False,
) -> Replication:
    """One replication with the given luck: of a plain line by the loop of this module, else by the general one.

    Parameters
    ----------
    plan, tables : a plan and what `tables_of` makes of it
    luck : see `luck_of`, of which the general loop takes the seed and the replication; or see `general_luck_of`
    horizon_us, bin_us : length of the run and of one bin of good parts. [us], > 0
    trace_from_us : log moves and works from here on; None for no log
    with_chain : walk the chain of causes back from the last good part

    Raises
    ------
    SimulationError   The plan has too many stops, places or legs, or the run is too long, for the words of the kernel.
    RuntimeError      The plan contradicts itself (a leg or an exit is missing): a fault of the program, not of the
    line.
    """
    if not plan.general.is_plain or not isinstance(luck, Luck):
        return run_beyond(plan, luck, horizon_us, bin_us, trace_from_us, with_chain)
    _check_size(plan, tables, horizon_us)
    capacity = 0 if trace_from_us is None else FIRST_CAPACITY
    while True:
        totals = new_totals(plan, horizon_us, bin_us)
        begin_us = LONGEST_US if trace_from_us is None else trace_from_us
        # Marks that nobody will follow are not kept: a small ring stays in the nearest cache.
        trace = new_trace(begin_us, capacity, _scratch.marks if with_chain else _scratch.few_marks)
        state = new_state(plan, new_events(plan.carriers + len(plan.transfer_names)))
        run_replication(tables, state, totals, trace, luck.laws, horizon_us, bin_us)
        fault = int(state.counters[FAULT])
        if fault != FAULT_TRACE_FULL:
            break
        capacity *= 4
    if fault == FAULT_NO_LEG:
        raise RuntimeError("the traffic plan lacks a leg that a carrier needs")
    if fault == FAULT_NO_EXIT:
        raise RuntimeError("the traffic plan flags a part that no reject exit follows")
    counters = state.counters
    return Replication(
        totals=totals,
        moves=trace.moves[: counters[MOVES]],
        works=trace.works[: counters[WORKS]],
        good=trace.good[: counters[GOOD]],
        chain=_chain(tables, state, trace) if with_chain else None,
        events=int(counters[EVENTS]),
    )


def run_beyond(
    plan: TrafficPlan,
    luck: Luck | GeneralLuck,
    horizon_us: int,
    bin_us: int,
    trace_from_us: int | None = None,
    with_chain: bool = False,
) -> Replication:
    """One replication of any plan, also of a plain one, by the general loop; see `run_once`."""
    from linewright.flow.kernel.general import run as general

    if isinstance(luck, Luck):
        luck = general.general_luck_of(plan, luck.seed, luck.replication)
    tables = general.general_tables_of(plan)
    found = general.run_general(plan, tables, luck, horizon_us, bin_us, trace_from_us, with_chain)
    chain = None
    if found.chain is not None:
        times_us, labels = found.chain
        chain = Chain(times_us, labels.astype(np.int32), int(times_us[-1]))
    return Replication(
        totals=found.totals,
        moves=found.moves,
        works=found.works,
        good=found.good,
        chain=chain,
        events=found.events,
        beyond=Beyond(found.snapshot, found.short_halts, found.short_halts_lost_us),
    )


def _check_size(plan: TrafficPlan, tables: Tables, horizon_us: int) -> None:
    if plan.stops > MOST_STOPS:
        raise SimulationError(f"the line has {plan.stops} stops; the simulation takes at most {MOST_STOPS}")
    if len(plan.station_names) + len(plan.transfer_names) > MOST_PLACES or len(tables.leg_us) > MOST_ROWS:
        raise SimulationError(f"the line has too many stations or legs; it takes {MOST_PLACES} and {MOST_ROWS // 2}")
    if not 0 < horizon_us < LONGEST_US // 2:
        raise SimulationError(
            f"a run of {horizon_us} us; it may be longer than 0 and shorter than {LONGEST_US // 2} us"
        )


def _chain(tables: Tables, state: State, trace: Trace) -> Chain | None:
    last = state.counters[LAST_GOOD]
    marks = state.counters[MARKS]
    if last < 0 or (last >> 2) < marks - KEPT_MARKS:
        return None
    while True:
        links = walk(tables, trace, marks, last, _scratch.times_us, _scratch.labels)
        if links >= 0:
            break
        _scratch.times_us = np.empty(4 * _scratch.times_us.size, np.int64)
        _scratch.labels = np.empty(4 * _scratch.labels.size, np.int64)
    times_us = _scratch.times_us[: links + 1].copy()
    return Chain(times_us, _scratch.labels[:links].astype(np.int32), int(times_us[-1]))
