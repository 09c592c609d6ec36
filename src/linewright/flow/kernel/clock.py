"""Clock failures at a station that does not work: its time is booked late, and while one lasts the station is down.

The functions take the few arrays they need, and not the tables: a call that hands over all of them costs seconds to
compile.
"""

from __future__ import annotations

from typing import Final

from numba import njit

from linewright.flow.kernel.draws import NO_FAILURE, draw, draw_once
from linewright.flow.kernel.state import CLEAR, DONE_HANDSHAKE, DOWN, EXCHANGE, PREPARE, SETTLING, STARVED
from linewright.traffic.plan import OF_CLOCK

# Columns of a station's times: up to when its time is booked, and from when on it is up again.
BOOKED: Final = 0
UP: Final = 1


@njit(inline="always")
def repair_by_clock(failures, due_us, number, running, repair, failure, now, horizon):
    """A clock failure comes now; gives the end of its repair, from which the time to the next counts."""
    repaired = now + draw(repair, failure, number[failure])
    if now < horizon:
        failures[failure] += 1
    number[failure] += 1
    time = draw_once(running, failure, number[failure])
    due_us[failure] = NO_FAILURE if time == NO_FAILURE else repaired + time
    return repaired


@njit(_nrt=False)  # type: ignore[call-overload]
def _book(state_us, failures, due_us, number, times, first, of, running, repair, station, kind, end, at_end, horizon):
    """Book a station's time up to `end` as time in one state, or down. With at_end, stay down until every failure that
    is due by then is repaired; gives the time up to which it is booked."""
    now = times[station, BOOKED]
    while now < end or at_end:
        if times[station, UP] > now:
            until = times[station, UP] if at_end else min(times[station, UP], end)
            if now < horizon:
                state_us[station, DOWN] += min(until, horizon) - now
            now = until
            continue
        due = -1
        least = max(end, now) + (1 if at_end else 0)
        for f in range(first[station], first[station + 1]):
            if of[f] == OF_CLOCK and max(due_us[f], now) < least:
                least = max(due_us[f], now)
                due = f
        until = min(least, max(end, now))
        if now < horizon and until > now:
            state_us[station, kind] += min(until, horizon) - now
        now = until
        if due < 0:
            break
        times[station, UP] = repair_by_clock(failures, due_us, number, running, repair, due, now, horizon)
    times[station, BOOKED] = now
    return now


@njit(_nrt=False)  # type: ignore[call-overload]
def enter_by_clock(
    state_us, failures, due_us, number, times, first, of, running, repair,
    station, reserved, arrival, settled, start, horizon,
):  # fmt: skip
    """Book the time of an empty station until work starts; gives when it does, after all that is due by `start`."""
    kinds = (STARVED, EXCHANGE, SETTLING, PREPARE)
    ends = (reserved, arrival, settled, start)
    up = start
    for i in range(4):
        up = _book(
            state_us, failures, due_us, number, times, first, of, running, repair,
            station, kinds[i], ends[i], i == 3, horizon,
        )  # fmt: skip
    return up


@njit(_nrt=False)  # type: ignore[call-overload]
def leave_by_clock(
    state_us, failures, due_us, number, times, first, of, running, repair,
    station, cleared, ready, kind, until, horizon,
):  # fmt: skip
    """Book the time of a station after work: clear, done handshake, then a state until the carrier asks or departs."""
    kinds = (CLEAR, DONE_HANDSHAKE, kind)
    ends = (cleared, ready, until)
    for i in range(3):
        _book(
            state_us, failures, due_us, number, times, first, of, running, repair,
            station, kinds[i], ends[i], False, horizon,
        )  # fmt: skip
