"""The event set: one pending event a leaf in a winner tree, each event one int64.

A key packs (microsecond, kind, stop rank); leaves are ordered by carrier, then transfer, so that a tie goes to the
lower leaf. Kinds have the numbers of their order in docs/semantics.md. Asks go downstream first, so their rank is
stored inverted.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

RANK_BITS: Final = 10
KIND_BITS: Final = 4
SHIFT: Final = RANK_BITS + KIND_BITS
MOST_STOPS: Final = 1 << RANK_BITS
LAST_RANK: Final = MOST_STOPS - 1
LONGEST_US: Final = (1 << (63 - SHIFT)) - 1
IDLE: Final = np.int64((1 << 63) - 1)

KIND_LOCKED_TAKING: Final = 4
KIND_WORK_STARTS: Final = 9
KIND_ASK: Final = 10


@njit(inline="always")
def event_key(time_us, kind, rank):
    """The key of an event; a smaller key comes first."""
    return (time_us << SHIFT) | (kind << RANK_BITS) | rank


@njit(inline="always")
def ask_key(time_us, rank):
    """The key of an ask: of those in one microsecond the farthest downstream comes first."""
    return (time_us << SHIFT) | (KIND_ASK << RANK_BITS) | (LAST_RANK - rank)


def new_events(leaves: int) -> NDArray[np.int64]:
    """An empty event set with room for one event a leaf."""
    width = 1 << max(leaves - 1, 0).bit_length()
    return np.full(2 * width, IDLE, np.int64)


@njit(inline="always")
def push(events, leaf, key):
    """Set the event of a leaf that has none."""
    i = (events.size >> 1) + leaf
    events[i] = key
    while i > 1:
        winner = min(events[i], events[i ^ 1])
        i >>= 1
        events[i] = winner


@njit(inline="always")
def first_leaf(events):
    """The leaf of the first event; events[1] is its key."""
    width = events.size >> 1
    best = events[1]
    i = 1
    while i < width:
        i = 2 * i + (1 if events[2 * i] != best else 0)
    return i - width
