"""A carrier at a station: settling, work with its failures, clear, done handshake, and the station's time in each
state."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.draws import NO_FAILURE, draw, draw_once, is_flagged
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
    PARTNER,
    PREPARE,
    SERIALS,
    SETTLING,
    STARVED,
    WORK,
    WORKS,
)


@njit(inline="always")
def spend(totals, station, state, begin, end, horizon):
    """Add the time from begin to end, clipped at the horizon, to a state of a station."""
    if begin < horizon and end > begin:
        totals.state_us[station, state] += min(end, horizon) - begin


@njit(inline="always")
def work_start(tables, state, totals, station, reserved, arrival, horizon):
    """When work starts for a carrier that reserves the station's stop and arrives; books the station's time until
    then."""
    vacated = state.vacated[station]
    spend(totals, station, STARVED, vacated, reserved, horizon)
    spend(totals, station, EXCHANGE, max(vacated, reserved), arrival, horizon)
    settled = arrival + tables.settling_us[station] + tables.arrive_us
    start = max(settled, state.tool_ready[station])
    spend(totals, station, SETTLING, arrival, settled, horizon)
    spend(totals, station, PREPARE, settled, start, horizon)
    return start


@njit(inline="always")
def work_end(tables, state, totals, luck, station, start, left, horizon):
    """When work that takes `left` ends, with the failures that come in it and their repairs.

    A failure due exactly when the work ends comes at the start of the next.
    """
    now = start
    first, last = tables.failure_first[station], tables.failure_first[station + 1]
    while True:
        due = -1
        least = left
        for f in range(first, last):
            if state.to_failure[f] < least:
                least = state.to_failure[f]
                due = f
        spend(totals, station, WORK, now, now + least, horizon)
        now += least
        left -= least
        for f in range(first, last):
            if state.to_failure[f] != NO_FAILURE:
                state.to_failure[f] -= least
        if due < 0:
            return now
        repaired = now + draw(luck.repair, due, state.failure_number[due])
        spend(totals, station, DOWN, now, repaired, horizon)
        if now < horizon:
            totals.failures[due] += 1
        now = repaired
        state.failure_number[due] += 1
        state.to_failure[due] = draw_once(luck.running, due, state.failure_number[due])


@njit(inline="always")
def do_work(tables, state, totals, trace, luck, carrier, station, start, horizon, bin_us):
    """Work on the carrier's part from `start`; gives the time at which the carrier is ready."""
    if state.serial[carrier] < 0:
        state.serial[carrier] = state.counters[SERIALS]
        state.counters[SERIALS] += 1
    serial = state.serial[carrier]
    work = draw(luck.work, station, serial)
    end = work_end(tables, state, totals, luck, station, start, work, horizon)
    cleared = end + tables.clear_us[station]
    ready = cleared + tables.done_us
    spend(totals, station, CLEAR, end, cleared, horizon)
    spend(totals, station, DONE_HANDSHAKE, cleared, ready, horizon)
    state.tool_ready[station] = cleared + tables.prepare_us[station]
    if start < horizon and end >= trace.begin:
        _log_work(state, trace, carrier, station, start, end, work)
    _next_step(tables, state, totals, trace, luck, carrier, station, end, horizon, bin_us)
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
def _next_step(tables, state, totals, trace, luck, carrier, station, end, horizon, bin_us):
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
            if end >= trace.begin:
                _log_good(state, trace, serial, end)
        state.serial[carrier] = -1
        state.flagged[carrier] = 0
        following = 0
    state.step[carrier] = following


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
def hold(tables, state, totals, carrier, station, until, horizon):
    """Book the time since the last asking of a ready carrier that stands at a station."""
    spend(totals, station, PARTNER if state.held[carrier] == 1 else BLOCKED, state.since[carrier], until, horizon)
    state.since[carrier] = until


@njit(inline="always")
def close_books(tables, state, totals, horizon):
    """At the horizon: book what has begun and not ended at each station."""
    for station in range(state.vacated.size):
        carrier = state.occupant[station]
        if carrier < 0:
            spend(totals, station, STARVED, state.vacated[station], horizon, horizon)
        elif state.waiting[carrier] > 0:
            hold(tables, state, totals, carrier, station, np.int64(horizon), horizon)
