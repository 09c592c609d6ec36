"""A carrier at a station: settling, work with its failures, clear, done handshake, and the station's time in each
state."""

from __future__ import annotations

import numpy as np
from numba import njit

from linewright.flow.kernel.clock import enter_by_clock, leave_by_clock, spend, work_through
from linewright.flow.kernel.draws import NO_FAILURE, draw, is_flagged
from linewright.flow.kernel.marks import CARRIER_READY, CLOCK_FAILURE, TOOL_READY, WORK_PIECE, mark
from linewright.flow.kernel.state import (
    BLOCKED,
    CLEAR,
    DONE_HANDSHAKE,
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
    SERIALS,
    SETTLING,
    STARVED,
    WORK,
    WORKS,
)


@njit(inline="always")
def work_start(tables, state, totals, trace, laws, carrier, station, reserved, arrival, settled_by, horizon):
    """When work starts for a carrier that reserves the station's stop and arrives; books the station's time until
    then. settled_by points to the instant in which the carrier is settled."""
    here, tool = state.station[station], tables.station[station]
    vacated = here["vacated"]
    settled = arrival + tool["settling_us"] + tables.arrive_us
    start = max(settled, here["tool_ready"])
    waits_for = settled_by if settled >= here["tool_ready"] else here["tool"]
    if tool["has_clock"] == 0:
        spend(totals.state_us, station, STARVED, vacated, reserved, horizon)
        spend(totals.state_us, station, EXCHANGE, max(vacated, reserved), arrival, horizon)
        spend(totals.state_us, station, SETTLING, arrival, settled, horizon)
        spend(totals.state_us, station, PREPARE, settled, start, horizon)
    else:
        up = enter_by_clock(
            totals.state_us, totals.failures, state.failure, tables.failure, laws, here, tool, station, reserved,
            arrival, settled, start, horizon,
        )  # fmt: skip
        if up > start:
            waits_for = mark(state.counters, trace.marks, up, CLOCK_FAILURE, 0, station, 0, waits_for) << 2
            start = up
    state.carrier[carrier]["start"] = waits_for
    return start


@njit(inline="always")
def _work_end(tables, state, totals, trace, laws, me, tool, station, start, work, horizon):
    """When work ends: most works are over before a failure comes, and fail by running time or not at all."""
    first, last = tool["first_failure"], tool["last_failure"]
    undisturbed = tool["fails_running_alone"] == 1
    for f in range(first, last):
        if state.failure[f]["left"] < work:
            undisturbed = False
    if not undisturbed:
        return work_through(
            totals.state_us, totals.failures, state.failure, tables.failure, laws, state.counters, trace.marks, me,
            tool, station, start, work, horizon,
        )  # fmt: skip
    for f in range(first, last):
        if state.failure[f]["left"] != NO_FAILURE:
            state.failure[f]["left"] -= work
    spend(totals.state_us, station, WORK, start, start + work, horizon)
    return start + work


@njit(inline="always")
def do_work(tables, state, totals, trace, laws, carrier, station, start, horizon, bin_us):
    """Work on the carrier's part from `start`; gives the time at which the carrier is ready."""
    me, here, tool = state.carrier[carrier], state.station[station], tables.station[station]
    if me["serial"] < 0:
        me["serial"] = state.counters[SERIALS]
        state.counters[SERIALS] += 1
    work = draw(laws, tool["work"], me["serial"])
    end = _work_end(tables, state, totals, trace, laws, me, tool, station, start, work, horizon)
    ended = mark(state.counters, trace.marks, end, WORK_PIECE, 0, station, 0, me["start"])
    cleared = end + tool["clear_us"]
    ready = cleared + tables.done_us
    if tool["has_clock"] == 0:
        spend(totals.state_us, station, CLEAR, end, cleared, horizon)
        spend(totals.state_us, station, DONE_HANDSHAKE, cleared, ready, horizon)
    else:
        here["booked"] = end
        here["up"] = end
    here["tool_ready"] = cleared + tool["prepare_us"]
    here["tool"] = (ended << 2) | TOOL_READY
    me["ready"] = (ended << 2) | CARRIER_READY
    me["ready_us"] = ready
    if start < horizon and end >= trace.begin:
        _log_work(state, trace, carrier, station, start, end, work)
    _next_step(tables, state, totals, trace, laws, carrier, station, ended, end, horizon, bin_us)
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
    record[2] = state.carrier[carrier]["serial"]
    record[3] = start
    record[4] = end
    record[5] = end - start - work
    state.counters[WORKS] = row + 1


@njit(inline="always")
def _next_step(tables, state, totals, trace, laws, carrier, station, ended, end, horizon, bin_us):
    """The part's work at a step has ended: flag it, send it on, or take it off its carrier and count it."""
    me, tool = state.carrier[carrier], tables.station[station]
    serial = me["serial"]
    counted = end < horizon
    if counted:
        totals.parts[station] += 1
    if is_flagged(laws, tool["reject"], serial):
        me["flagged"] = 1
        if counted:
            totals.rejected[station] += 1
    flagged = me["flagged"] == 1
    step = tables.step[tool["step"]]
    following = step["next_flagged"] if flagged else step["next_good"]
    if following == -2:
        state.counters[FAULT] = FAULT_NO_EXIT
    if following < 0:
        if counted and not flagged:
            _count_good(state, totals, trace, me, ended, end, bin_us)
        me["serial"] = -1
        me["flagged"] = 0
        following = np.int64(0)
    me["step"] = following


@njit(inline="always")
def _count_good(state, totals, trace, me, ended, end, bin_us):
    """Count a good part in its bin, and note it if it is the first there or the last of all."""
    row = end // bin_us
    totals.good[row] += 1
    totals.first_us[row] = min(totals.first_us[row], end)
    _note_last(state.counters, me["stop"], ended, end)
    if end >= trace.begin:
        _log_good(state, trace, me["serial"], end)


@njit(inline="always")
def _note_last(counters, stop, ended, end):
    """Keep the good part that is finished last; works are not reckoned in the order in which they end."""
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
def hold(tables, state, totals, laws, carrier, station, until, horizon):
    """Book the time since the last asking of a ready carrier that stands at a station."""
    me, here, tool = state.carrier[carrier], state.station[station], tables.station[station]
    kind = PARTNER if me["held"] == 1 else BLOCKED
    if tool["has_clock"] == 0:
        spend(totals.state_us, station, kind, me["since"], until, horizon)
    else:
        cleared = here["tool_ready"] - tool["prepare_us"]
        leave_by_clock(
            totals.state_us, totals.failures, state.failure, tables.failure, laws, here, tool, station, cleared,
            cleared + tables.done_us, kind, until, horizon,
        )  # fmt: skip
    me["since"] = until


@njit(inline="always")
def close_books(tables, state, totals, laws, horizon):
    """At the horizon: book what has begun and not ended at each station."""
    end = np.int64(horizon)
    for station in range(tables.stations):
        here, tool = state.station[station], tables.station[station]
        carrier = here["occupant"]
        if carrier >= 0:
            if state.carrier[carrier]["waiting"] > 0 or tool["has_clock"] == 1:
                hold(tables, state, totals, laws, carrier, station, end, horizon)
        elif tool["has_clock"] == 0:
            spend(totals.state_us, station, STARVED, here["vacated"], end, horizon)
        else:
            enter_by_clock(
                totals.state_us, totals.failures, state.failure, tables.failure, laws, here, tool, station, end, end,
                end, end, horizon,
            )  # fmt: skip
