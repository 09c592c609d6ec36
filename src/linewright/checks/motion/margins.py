"""The share of a limit that is left, and figures in words."""

from __future__ import annotations

import math
from typing import Final

from linewright.line.units import number_text

# A figure that differs from its limit by less is the limit: the remedy "7.7 N" must hold at 7.7 N.
_SAME: Final = 1e-9


def margin_below(value: float, limit: float) -> float:
    """Share of a limit that a value leaves, negative where it is beyond it.

    Parameters
    ----------
    value : >= 0
    limit : in the same unit; where it is 0 or less nothing is allowed

    Returns
    -------
    float   1 - value/limit; 0 where the two are the same to a billionth.

    Examples
    --------
    >>> margin_below(7.7, 0.7 * 11.0), margin_below(9.0, 10.0) > 0.0, margin_below(1.0, 0.0)
    (0.0, True, -inf)
    """
    if limit <= 0.0:
        return -math.inf
    margin = 1.0 - value / limit
    return 0.0 if abs(margin) <= _SAME else margin


def figure_text(value: float, digits: int = 4) -> str:
    """So many digits that count, and no exponent.

    Examples
    --------
    >>> figure_text(12345.678), figure_text(0.5), figure_text(0.00001234567)
    ('12350', '0.5', '0.00001235')
    """
    return number_text(float(f"{value:.{digits}g}"))
