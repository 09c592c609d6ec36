"""What each event waited on: a log of nodes, and the chain of causes walked back through it.

A node is an instant, what took the time since the node before it (cause * places + place), and that node. The log is a
ring, so that a long run keeps its last part.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit

from linewright.flow.kernel.general.state import NODES
from linewright.flow.kernel.marks import CAUSES

C_CHANGEOVER: Final = CAUSES.index("changeover")
C_OPERATOR: Final = CAUSES.index("operator")
C_OUTSIDE: Final = CAUSES.index("outside")
C_BREAK: Final = CAUSES.index("break")

_LABEL_BITS: Final = 20
MOST_LABELS: Final = 1 << _LABEL_BITS
TIME_ZERO: Final = np.int64(-1)


@njit(_nrt=False)  # type: ignore[call-overload]
def node(counters, marks, time_us, label, before):
    """Add a node; gives its number."""
    number = counters[NODES]
    counters[NODES] = number + 1
    i = number & (marks.shape[0] - 1)
    marks[i, 0] = time_us
    marks[i, 1] = ((before + 1) << _LABEL_BITS) | label
    return number


@njit(inline="always")
def time_of(marks, number):
    """The instant of a node."""
    return marks[number & (marks.shape[0] - 1), 0] if number >= 0 else np.int64(0)


@njit(nogil=True, cache=True, _nrt=False)  # type: ignore[call-overload]
def walk_back(marks, nodes, last, times_us, labels):
    """The chain of causes back from a node, to time zero or to the oldest node that is still kept.

    Link j reaches from times_us[j + 1] to times_us[j] and has labels[j].

    Returns
    -------
    int   How many links; -1 where the arrays are too short.
    """
    oldest = nodes - marks.shape[0]
    count = 0
    number = last
    times_us[0] = time_of(marks, number)
    while True:
        if count + 1 > labels.size:
            return -1
        if number < 0 or number < oldest:
            return count
        word = marks[number & (marks.shape[0] - 1), 1]
        before = (word >> _LABEL_BITS) - 1
        if 0 <= before < oldest:
            return count
        time_us = time_of(marks, before)
        if time_us != times_us[count]:
            labels[count] = word & (MOST_LABELS - 1)
            times_us[count + 1] = time_us
            count += 1
        number = before
