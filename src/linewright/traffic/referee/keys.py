"""Rows of whole numbers told apart by one number each, which sorts far faster than rows do."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

ROOM = 1 << 62


def keys_of(columns: tuple[Ints, ...]) -> Ints:
    """One number for each row of some columns: the same for the same rows, and in the same order as they.

    Parameters
    ----------
    columns : int64[R] each, the first sorts first

    Examples
    --------
    >>> keys_of((np.array([4, 3, 4]), np.array([-1, 7, -1]))).tolist()
    [9, 8, 9]
    """
    key, room = np.zeros(len(columns[0]), np.int64), 1
    for column in columns:
        if not len(column):
            return key
        least = int(column.min())
        width = int(column.max()) - least + 1
        if room * width >= ROOM:
            kinds, key = np.unique(key, return_inverse=True)
            key, room = key.reshape(-1).astype(np.int64), len(kinds)
        if room * width >= ROOM:
            kinds, column = np.unique(column, return_inverse=True)
            column, least, width = column.reshape(-1).astype(np.int64), 0, len(kinds)
        key, room = key * width + (column - least), room * width
    return key


def kinds_of(columns: tuple[Ints, ...]) -> tuple[Ints, Ints]:
    """The first row of each different kind, by kind in ascending order, and the number of each row's kind."""
    _, first, number = np.unique(keys_of(columns), return_index=True, return_inverse=True)
    return first.astype(np.int64), number.reshape(-1).astype(np.int64)
