"""A carrier at a station: settling, work with its failures, clear, done handshake, and the station's time in each
state."""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from linewright.flow.kernel.clock import BOOKED, UP, enter_by_clock, leave_by_clock, repair_by_clock
from linewright.flow.kernel.draws import NO_FAILURE, draw, draw_once, is_flagged
from linewright.flow.kernel.marks import CARRIER_READY, CLOCK_FAILURE, REPAIR, TOOL_READY, WORK_PIECE, mark
from linewright.flow.kernel.state import (
    BLOCKED,
    CLEAR,
    DONE_HANDSHAKE,
    DOWN,
    EXCHANGE,
    FAULT,
    FAULT_NO_EXIT,
    FAULT_TRACE_FULL,
    GOOD,
    LAST_GOOD,
    LAST_GOOD_STOP,
    LAST_GOOD_US,
    PARTNER,
    PREPARE,
    READY,
    READY_US,
    SERIALS,
    SETTLING,
    START,
    STARVED,
    WORK,
    WORKS,
)
from linewright.traffic.plan import OF_CLOCK, OF_CYCLES, OF_RUNNING

# Which sort of failure comes first of those at one instant, by what its time counts.
_ORDER: Final = (2, 0, 1)


@njit(_nrt=False)  # type: ignore[call-overload]
def spend(state_us, station, kind, begin, end, horizon):
    """Add the time from begin to end, clipped at the horizon, to a state of a station."""
    if begin < horizon and end > begin:
        state_us[station, kind] += min(end, horizon) - begin


@njit(inline="always")
def work_start(tables, state, totals, trace, luck, carrier, station, reserved, arrival, settled_by, horizon):
    """When work starts for a carrier that reserves the station's stop and arrives; books the station's time until
    then. settled_by points to the instant in which the carrier is settled."""
    vacated = state.vacated[station]
    settled = arrival + tables.settling_us[station] + tables.arrive_us
    start = max(settled, state.tool_ready[station])
    waits_for = settled_by if settled >= state.tool_ready[station] else state.tool[station]
    if tables.has_clock[station] == 0:
        spend(totals.state_us, station, STARVED, vacated, reserved, horizon)
        spend(totals.state_us, station, EXCHANGE, max(vacated, reserved), arrival, horizon)
        spend(totals.state_us, station, SETTLING, arrival, settled, horizon)
        spend(totals.state_us, station, PREPARE, settled, start, horizon)
    else:
        up = enter_by_clock(
            totals.state_us, totals.failures, state.to_failure, state.failure_number, state.clock_us,
            tables.failure_first, tables.failure_of, luck.running, luck.repair, station, reserved, arrival, settled,
            start, horizon,
        )  # fmt: skip
        if up > start:
            waits_for = mark(state.counters, trace.marks, up, CLOCK_FAILURE, 0, station, 0, waits_for) << 2
            start = up
    state.waits_for[carrier, START] = waits_for
    return start


@njit(inline="always")
def work_end(tables, state, totals, trace, luck, carrier, station, start, left, horizon):
    """When work that takes `left` ends, with the failures that come in it and their repairs.

    A failure of running due exactly when the work ends comes at the start of the next; a clock failure comes before.
    At one instant clock failures come before jams, jams before failures of running.
    """
    now = start
    first, last = tables.failure_first[station], tables.failure_first[station + 1]
    for f in range(first, last):
        if tables.failure_of[f] == OF_CYCLES and state.to_failure[f] != NO_FAILURE:
            state.to_failure[f] -= 1
    while first < last:
        due = -1
        least = left
        rank = OF_RUNNING
        for f in range(first, last):
            kind = tables.failure_of[f]
            after = state.to_failure[f]
            if kind == OF_CLOCK:
                after = max(after - now, 0)
            elif kind == OF_CYCLES:
                # While one is due none of the work has been done, so it comes at once.
                after = np.int64(0) if after <= 0 else NO_FAILURE
            if after < least or (after == least and _before(kind, due, rank)):
                least = after
                due = f
                rank = kind
        spend(totals.state_us, station, WORK, now, now + least, horizon)
        for f in range(first, last):
            if tables.failure_of[f] == OF_RUNNING and state.to_failure[f] != NO_FAILURE:
                state.to_failure[f] -= least
        if due < 0:
            now += left
            break
        if least > 0:
            now += least
            left -= least
            state.waits_for[carrier, START] = (
                mark(state.counters, trace.marks, now, WORK_PIECE, 0, station, 0, state.waits_for[carrier, START]) << 2
            )
        if rank == OF_CLOCK:
            repaired = repair_by_clock(
                totals.failures, state.to_failure, state.failure_number, luck.running, luck.repair, due, now, horizon
            )
        else:
            repaired = now + draw(luck.repair, due, state.failure_number[due])
            if now < horizon:
                totals.failures[due] += 1
            state.failure_number[due] += 1
            state.to_failure[due] = draw_once(luck.running, due, state.failure_number[due])
        spend(totals.state_us, station, DOWN, now, repaired, horizon)
        cause = CLOCK_FAILURE if rank == OF_CLOCK else REPAIR
        state.waits_for[carrier, START] = (
            mark(state.counters, trace.marks, repaired, cause, 0, station, 0, state.waits_for[carrier, START]) << 2
        )
        now = repaired
    if first == last:
        spend(totals.state_us, station, WORK, now, now + left, horizon)
        now += left
    return now


@njit(inline="always")
def _before(kind, due, rank):
    """Whether, of failures that come at the same instant, one of this kind goes before what is due there: before
    another of a later sort, and where none is due (the work's end) only a clock failure does."""
    return kind == OF_CLOCK if due < 0 else _ORDER[kind] < _ORDER[rank]


@njit(inline="always")
def do_work(tables, state, totals, trace, luck, carrier, station, start, horizon, bin_us):
    """Work on the carrier's part from `start`; gives the time at which the carrier is ready."""
    if state.serial[carrier] < 0:
        state.serial[carrier] = state.counters[SERIALS]
        state.counters[SERIALS] += 1
    serial = state.serial[carrier]
    work = draw(luck.work, station, serial)
    end = work_end(tables, state, totals, trace, luck, carrier, station, start, work, horizon)
    ended = mark(state.counters, trace.marks, end, WORK_PIECE, 0, station, 0, state.waits_for[carrier, START])
    cleared = end + tables.clear_us[station]
    ready = cleared + tables.done_us
    if tables.has_clock[station] == 0:
        spend(totals.state_us, station, CLEAR, end, cleared, horizon)
        spend(totals.state_us, station, DONE_HANDSHAKE, cleared, ready, horizon)
    else:
        state.clock_us[station, BOOKED] = end
        state.clock_us[station, UP] = end
    state.tool_ready[station] = cleared + tables.prepare_us[station]
    state.tool[station] = (ended << 2) | TOOL_READY
    state.waits_for[carrier, READY] = (ended << 2) | CARRIER_READY
    state.waits_for[carrier, READY_US] = ready
    if start < horizon and end >= trace.begin:
        _log_work(state, trace, carrier, station, start, end, work)
    _next_step(tables, state, totals, trace, luck, carrier, station, ended, end, horizon, bin_us)
    return ready


@njit(inline="always")
def _log_work(state, trace, carrier, station, start, end, work):
    row = state.counters[WORKS]
    if row >= trace.works.shape[0]:
        state.counters[FAULT] = FAULT_TRACE_FULL
        return
    record = trace.works[row]
    record[0] = station
    record[1] = carrier
    record[2] = state.serial[carrier]
    record[3] = start
    record[4] = end
    record[5] = end - start - work
    state.counters[WORKS] = row + 1


@njit(inline="always")
def _next_step(tables, state, totals, trace, luck, carrier, station, ended, end, horizon, bin_us):
    """The part's work at a step has ended: flag it, send it on, or take it off its carrier and count it."""
    serial = state.serial[carrier]
    step = tables.station_step[station]
    counted = end < horizon
    if counted:
        totals.parts[station] += 1
    if is_flagged(luck.reject, station, serial):
        state.flagged[carrier] = 1
        if counted:
            totals.rejected[station] += 1
    flagged = state.flagged[carrier] == 1
    following = tables.next_flagged[step] if flagged else tables.next_good[step]
    if following == -2:
        state.counters[FAULT] = FAULT_NO_EXIT
    if following < 0:
        if counted and not flagged:
            totals.good[end // bin_us] += 1
            totals.first_us[end // bin_us] = min(totals.first_us[end // bin_us], end)
            _note_last(state, state.stop[carrier], ended, end)
            if end >= trace.begin:
                _log_good(state, trace, serial, end)
        state.serial[carrier] = -1
        state.flagged[carrier] = 0
        following = 0
    state.step[carrier] = following


@njit(inline="always")
def _note_last(state, stop, ended, end):
    """Keep the good part that is finished last; works are not reckoned in the order in which they end."""
    counters = state.counters
    if end > counters[LAST_GOOD_US] or (end == counters[LAST_GOOD_US] and stop > counters[LAST_GOOD_STOP]):
        counters[LAST_GOOD_US] = end
        counters[LAST_GOOD_STOP] = stop
        counters[LAST_GOOD] = ended << 2


@njit(inline="always")
def _log_good(state, trace, serial, end):
    row = state.counters[GOOD]
    if row >= trace.good.shape[0]:
        state.counters[FAULT] = FAULT_TRACE_FULL
        return
    trace.good[row, 0] = serial
    trace.good[row, 1] = end
    state.counters[GOOD] = row + 1


@njit(inline="always")
def hold(tables, state, totals, luck, carrier, station, until, horizon):
    """Book the time since the last asking of a ready carrier that stands at a station."""
    kind = PARTNER if state.held[carrier] == 1 else BLOCKED
    if tables.has_clock[station] == 0:
        spend(totals.state_us, station, kind, state.since[carrier], until, horizon)
    else:
        cleared = state.tool_ready[station] - tables.prepare_us[station]
        leave_by_clock(
            totals.state_us, totals.failures, state.to_failure, state.failure_number, state.clock_us,
            tables.failure_first, tables.failure_of, luck.running, luck.repair, station, cleared,
            cleared + tables.done_us, kind, until, horizon,
        )  # fmt: skip
    state.since[carrier] = until


@njit(inline="always")
def close_books(tables, state, totals, luck, horizon):
    """At the horizon: book what has begun and not ended at each station."""
    end = np.int64(horizon)
    for station in range(state.vacated.size):
        carrier = state.occupant[station]
        if carrier >= 0:
            if state.waiting[carrier] > 0 or tables.has_clock[station] == 1:
                hold(tables, state, totals, luck, carrier, station, end, horizon)
        elif tables.has_clock[station] == 0:
            spend(totals.state_us, station, STARVED, state.vacated[station], end, horizon)
        else:
            enter_by_clock(
                totals.state_us, totals.failures, state.to_failure, state.failure_number, state.clock_us,
                tables.failure_first, tables.failure_of, luck.running, luck.repair, station, end, end, end, end,
                horizon,
            )  # fmt: skip
