"""Marks: what each event waited on, kept while the run goes on, and the chain of causes walked back from its end.

A mark is the end of a move, of a piece of work, of a repair or of a platform's way home. It stands in a ring: its time,
and one word that packs what it is and the mark before it. A **pointer** is a mark's number times
four plus a tag: which of the instants that follow from the mark by fixed times is meant. So a move gives its
departure, its arrival, the carrier settled and the carrier ready aboard by one mark; work gives its end, the carrier
ready and the tool ready.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from linewright.flow.kernel.state import MARKS

NOTHING: Final = np.int64(-1)
"""The pointer of what was so from time zero on."""

# Columns of a mark.
TIME_US: Final = 0
WORD: Final = 1

MOVE: Final = 0
WORK_PIECE: Final = 1
REPAIR: Final = 2
CLOCK_FAILURE: Final = 3
HOME: Final = 4

# Tags. Of a move:
ARRIVED: Final = 0
DEPARTED: Final = 1
SETTLED: Final = 2
READY_ABOARD: Final = 3
# Of work:
ENDED: Final = 0
CARRIER_READY: Final = 1
TOOL_READY: Final = 2

# A word, from the low end: tag of the mark before, how many marks back it lies (0: none), kind, exchange move or not,
# place, leg row.
_BACK: Final = 2
_KIND: Final = 26
_EXCHANGE: Final = 29
_PLACE: Final = 30
_ROW: Final = 42
MOST_MARKS: Final = 1 << (_KIND - _BACK)
MOST_PLACES: Final = 1 << (_ROW - _PLACE)
MOST_ROWS: Final = 1 << (62 - _ROW)

# Kinds of cause, in the order of docs/semantics.md; the last four come beyond the plain loop alone.
CAUSES: Final = (
    "work",
    "repair",
    "clock failure",
    "prepare",
    "clear",
    "done handshake",
    "start handshake",
    "settling",
    "reaction",
    "exchange move",
    "travel",
    "transfer",
    "changeover",
    "operator",
    "outside",
    "break",
)
C_WORK: Final = 0
C_REPAIR: Final = 1
C_CLOCK: Final = 2
C_PREPARE: Final = 3
C_CLEAR: Final = 4
C_DONE: Final = 5
C_START: Final = 6
C_SETTLING: Final = 7
C_REACTION: Final = 8
C_EXCHANGE: Final = 9
C_TRAVEL: Final = 10
C_TRANSFER: Final = 11


@njit(_nrt=False)  # type: ignore[call-overload]
def mark(counters, marks, time_us, kind, exchange, place, row, before):
    """Set a mark after the one that a pointer names; gives its number."""
    number = counters[MARKS]
    counters[MARKS] = number + 1
    back = min(number - (before >> 2), marks.shape[0]) if before >= 0 else np.int64(0)
    i = number & (marks.shape[0] - 1)
    marks[i, TIME_US] = time_us
    marks[i, WORD] = (
        (before & 3) | (back << _BACK) | (kind << _KIND) | (exchange << _EXCHANGE) | (place << _PLACE) | (row << _ROW)
    )
    return number


@njit(inline="always")
def _instant(tables, trace, pointer):
    """The time that a pointer names."""
    i = (pointer >> 2) & (trace.marks.shape[0] - 1)
    tag = pointer & 3
    time_us = trace.marks[i, TIME_US]
    word = trace.marks[i, WORD]
    kind = (word >> _KIND) & 7
    place = (word >> _PLACE) & (MOST_PLACES - 1)
    if kind == MOVE:
        if tag == DEPARTED:
            return time_us - tables.leg_us[word >> _ROW]
        if tag == SETTLED:
            return time_us + tables.station[place]["settling_us"] + tables.arrive_us
        if tag == READY_ABOARD:
            return time_us + tables.transfer[place - tables.stations]["aboard_us"]
        return time_us
    if kind == WORK_PIECE and tag != ENDED:
        return (
            time_us
            + tables.station[place]["clear_us"]
            + (tables.done_us if tag == CARRIER_READY else tables.station[place]["prepare_us"])
        )
    return time_us


@njit(inline="always")
def _is_move(trace, pointer):
    return (trace.marks[(pointer >> 2) & (trace.marks.shape[0] - 1), WORD] >> _KIND) & 7 == MOVE


@njit(_nrt=False)  # type: ignore[call-overload]
def _link(times_us, labels, count, start_us, cause, place, places):
    """Add the link that begins at start_us and ends where the one before began; none if it has no length."""
    if start_us == times_us[count]:
        return count
    labels[count] = cause * places + place
    times_us[count + 1] = start_us
    return count + 1


@njit(inline="always")
def _own_links(tables, times_us, labels, count, tag, time_us, word, place, places):
    """The links by which an instant follows from its mark, the last of them a move's way or a platform's."""
    kind = (word >> _KIND) & 7
    if kind == MOVE:
        if tag == SETTLED:
            settled_us = time_us + tables.station[place]["settling_us"]
            count = _link(times_us, labels, count, settled_us, C_START, place, places)
            count = _link(times_us, labels, count, time_us, C_SETTLING, place, places)
        elif tag == READY_ABOARD:
            count = _link(times_us, labels, count, time_us, C_TRANSFER, place, places)
        if tag != DEPARTED:
            departed_us = time_us - tables.leg_us[word >> _ROW]
            count = _link(times_us, labels, count, departed_us, _way(word), place, places)
    elif kind == HOME:
        ridden_us = time_us - tables.transfer[place - tables.stations]["home_us"]
        count = _link(times_us, labels, count, ridden_us, C_TRANSFER, place, places)
    elif kind == WORK_PIECE and tag != ENDED:
        cleared_us = time_us + tables.station[place]["clear_us"]
        last = C_DONE if tag == CARRIER_READY else C_PREPARE
        count = _link(times_us, labels, count, cleared_us, last, place, places)
        count = _link(times_us, labels, count, time_us, C_CLEAR, place, places)
    return count


@njit(inline="always")
def _way(word):
    """The cause that a move's way is."""
    return C_EXCHANGE if (word >> _EXCHANGE) & 1 == 1 else C_TRAVEL


@njit(inline="always")
def _cause_before(trace, word, before):
    """What took the time from the instant that the mark waited on to what it marks, own links left out."""
    kind = (word >> _KIND) & 7
    if kind == MOVE:
        behind = before >= 0 and (before & 3) == DEPARTED and _is_move(trace, before)
        return _way(word) if behind else C_REACTION
    if kind == HOME:
        return C_EXCHANGE
    if kind == WORK_PIECE:
        return C_WORK
    return C_REPAIR if kind == REPAIR else C_CLOCK


@njit(nogil=True, cache=True, _nrt=False)  # type: ignore[call-overload]
def walk(tables, trace, count_of_marks, pointer, times_us, labels):
    """The chain of causes back from a pointer, to time zero or to the oldest mark that is still kept.

    Link j reaches from times_us[j + 1] to times_us[j] and has labels[j] = cause * places + place; places are the
    stations and after them the transfers.

    Returns
    -------
    int   How many links; -1 where the arrays are too short.
    """
    places = tables.stations + tables.transfers
    oldest = count_of_marks - trace.marks.shape[0]
    count = 0
    times_us[0] = _instant(tables, trace, pointer)
    while True:
        if count + 8 > labels.size:
            return -1
        number = pointer >> 2
        if pointer < 0 or number < oldest:
            return count
        i = number & (trace.marks.shape[0] - 1)
        time_us, word = trace.marks[i, TIME_US], trace.marks[i, WORD]
        place = (word >> _PLACE) & (MOST_PLACES - 1)
        count = _own_links(tables, times_us, labels, count, pointer & 3, time_us, word, place, places)
        back = (word >> _BACK) & (MOST_MARKS - 1)
        before = ((number - back) << 2) | (word & 3) if back > 0 else NOTHING
        start_us = np.int64(0)
        if back > 0:
            if number - back < oldest:
                return count
            start_us = _instant(tables, trace, before)
        count = _link(times_us, labels, count, start_us, _cause_before(trace, word, before), place, places)
        pointer = before
