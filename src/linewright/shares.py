"""Shares rounded for a page or a picture so that what is printed adds up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

# Shares that miss one by more are printed as they are: the page must not mend what the run got wrong.
_WHOLE: Final = 1e-6


def rounded_shares(shares: Sequence[float], decimals: int = 1) -> list[float]:
    """Shares of one in per cent, rounded so that they still add up to 100.

    Parameters
    ----------
    shares : of one; each >= 0
    decimals : of a per cent

    Returns
    -------
    list of float   In per cent. Shares that do not add up to one (within 1e-6) are only rounded, one by one.

    Notes
    -----
    All are rounded down; the units of the last decimal that are missing go to those that lost most (largest remainder).

    Source
    ------
    common practice.

    Examples
    --------
    >>> rounded_shares([1 / 3, 1 / 3, 1 / 3])
    [33.4, 33.3, 33.3]
    >>> rounded_shares([0.5, 0.4])
    [50.0, 40.0]
    """
    scale = 10**decimals
    exact = [100.0 * share * scale for share in shares]
    if not abs(sum(shares) - 1.0) <= _WHOLE:
        return [round(units) / scale if math.isfinite(units) else math.nan for units in exact]
    # A share a hair under a whole unit (0.3 * 1000 = 299.99999999999994) counts as whole.
    units = [math.floor(value + 1e-6) for value in exact]
    missing = 100 * scale - sum(units)
    by_remainder = sorted(range(len(units)), key=lambda i: (units[i] - exact[i], i))
    for i in by_remainder[:missing]:
        units[i] += 1
    return [unit / scale for unit in units]
