"""Failures: those that come in a work, and by the clock at a station that does not work, whose time is booked late.

These functions are compiled once and called, and not made part of the event loop: a line whose stations fail by running
time alone calls the first of them once a failure, and the others never.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from linewright.flow.kernel.draws import NO_FAILURE, draw, draw_once
from linewright.flow.kernel.marks import CLOCK_FAILURE, REPAIR, WORK_PIECE, mark
from linewright.flow.kernel.state import CLEAR, DONE_HANDSHAKE, DOWN, EXCHANGE, PREPARE, SETTLING, STARVED, WORK
from linewright.traffic.plan import OF_CLOCK, OF_CYCLES, OF_RUNNING

# Which sort of failure comes first of those at one instant, by what its time counts.
_ORDER: Final = (2, 0, 1)


@njit(_nrt=False)  # type: ignore[call-overload]
def spend(state_us, station, kind, begin, end, horizon):
    """Add the time from begin to end, clipped at the horizon, to a state of a station."""
    if begin < horizon and end > begin:
        state_us[station, kind] += min(end, horizon) - begin


@njit(_nrt=False)  # type: ignore[call-overload]
def repair_failure(counts, comings, kinds, laws, failure, now, horizon):
    """A failure comes now; gives the end of its repair. The time to the next counts from there."""
    coming, kind = comings[failure], kinds[failure]
    repaired = now + draw(laws, kind["repair"], coming["number"])
    if now < horizon:
        counts[failure] += 1
    coming["number"] += 1
    left = draw_once(laws, kind["every"], coming["number"])
    coming["left"] = repaired + left if kind["of"] == OF_CLOCK and left != NO_FAILURE else left
    return repaired


@njit(inline="always")
def comes_before(of, due, rank):
    """Whether, of failures that come at the same instant, one of this kind goes before what is due there: before
    another of a later sort, and where none is due (the work's end) only a clock failure does."""
    return of == OF_CLOCK if due < 0 else _ORDER[of] < _ORDER[rank]


@njit(_nrt=False)  # type: ignore[call-overload]
def work_through(
    state_us, counts, comings, kinds, laws, counters, marks, me, tool, station, start, left, horizon,
):  # fmt: skip
    """When work that takes `left` ends, with the failures that come in it and their repairs.

    A failure of running due exactly when the work ends comes at the start of the next; a clock failure comes before.
    At one instant clock failures come before jams, jams before failures of running.
    """
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
                # While one is due none of the work has been done, so it comes at once.
                after = np.int64(0) if after <= 0 else NO_FAILURE
            if after < least or (after == least and comes_before(of, due, rank)):
                least = after
                due = f
                rank = of
        spend(state_us, station, WORK, now, now + least, horizon)
        for f in range(first, last):
            if kinds[f]["of"] == OF_RUNNING and comings[f]["left"] != NO_FAILURE:
                comings[f]["left"] -= least
        now += least
        left -= least
        if due < 0:
            return now
        if least > 0:
            me["start"] = mark(counters, marks, now, WORK_PIECE, 0, station, 0, me["start"]) << 2
        repaired = repair_failure(counts, comings, kinds, laws, due, now, horizon)
        spend(state_us, station, DOWN, now, repaired, horizon)
        cause = CLOCK_FAILURE if rank == OF_CLOCK else REPAIR
        me["start"] = mark(counters, marks, repaired, cause, 0, station, 0, me["start"]) << 2
        now = repaired


@njit(_nrt=False)  # type: ignore[call-overload]
def book_by_clock(state_us, counts, comings, kinds, laws, here, tool, station, state, end, at_end, horizon):
    """Book a station's time up to `end` as time in one state, or down. With at_end, stay down until every failure that
    is due by then is repaired; gives the time up to which it is booked."""
    now = here["booked"]
    while now < end or at_end:
        if here["up"] > now:
            until = here["up"] if at_end else min(here["up"], end)
            spend(state_us, station, DOWN, now, until, horizon)
            now = until
            continue
        due = np.int64(-1)
        least = max(end, now) + (1 if at_end else 0)
        for f in range(tool["first_failure"], tool["last_failure"]):
            if kinds[f]["of"] == OF_CLOCK and max(comings[f]["left"], now) < least:
                least = max(comings[f]["left"], now)
                due = f
        until = min(least, max(end, now))
        spend(state_us, station, state, now, until, horizon)
        now = until
        if due < 0:
            break
        here["up"] = repair_failure(counts, comings, kinds, laws, due, now, horizon)
    here["booked"] = now
    return now


@njit(_nrt=False)  # type: ignore[call-overload]
def enter_by_clock(
    state_us, counts, comings, kinds, laws, here, tool, station, reserved, arrival, settled, start, horizon,
):  # fmt: skip
    """Book the time of an empty station until work starts; gives when it does, after all that is due by `start`."""
    states = (STARVED, EXCHANGE, SETTLING, PREPARE)
    ends = (reserved, arrival, settled, start)
    up = start
    for i in range(4):
        up = book_by_clock(
            state_us, counts, comings, kinds, laws, here, tool, station, states[i], ends[i], i == 3, horizon
        )
    return up


@njit(_nrt=False)  # type: ignore[call-overload]
def leave_by_clock(
    state_us, counts, comings, kinds, laws, here, tool, station, cleared, ready, state, until, horizon,
):  # fmt: skip
    """Book the time of a station after work: clear, done handshake, then a state until the carrier asks or departs."""
    states = (CLEAR, DONE_HANDSHAKE, state)
    ends = (cleared, ready, until)
    for i in range(3):
        book_by_clock(state_us, counts, comings, kinds, laws, here, tool, station, states[i], ends[i], False, horizon)
