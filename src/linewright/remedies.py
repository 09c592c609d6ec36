"""What would make a failing row hold: the change in one quantity, found by solving, where more of it always helps."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from typing import Final

from linewright.findings import TIGHT_MARGIN, Verdict

NEEDS_RUN: Final = "linewright check --run"
"""How the remedy of a row begins that a run would answer."""

_LOOKS: Final = 33
_HALVINGS: Final = 80
_HAIR: Final = 1e-6
_MOST_DIGITS: Final = 6


def value_that_holds(margin: Callable[[float], float], now: float, farthest: float) -> float | None:
    """The value nearest to the present one at which a row holds.

    Parameters
    ----------
    margin : of the row at a value of the quantity; the row holds where it is 0 or more
    now : the present value
    farthest : how far the quantity may be changed, up or down

    Returns
    -------
    float or None   Of now where the row holds already. None where it does not hold at `farthest` either, or where the
                    margin falls anywhere on the way: then no single answer can be told.

    Raises
    ------
    ValueError   One of the two is not finite.

    Notes      The margin is looked at in 33 places evenly apart; the answer is found by halving and lies on the side
               that holds.

    Examples
    --------
    >>> value_that_holds(lambda thrust_N: thrust_N / 60.0 - 1.0, 40.0, 100.0)
    60.0
    >>> value_that_holds(lambda mass_kg: 1.0 - mass_kg / 2.0, 3.0, 0.0)
    2.0
    >>> value_that_holds(lambda mass_kg: -mass_kg, 3.0, 1.0) is None
    True
    """
    if not (math.isfinite(now) and math.isfinite(farthest)):
        raise ValueError(f"now is {now} and farthest is {farthest}; both must be finite")
    margins = [margin(now + (farthest - now) * i / (_LOOKS - 1)) for i in range(_LOOKS)]
    if margins[0] >= 0.0:
        return now
    slack = 1e-12 * max(1.0, *(abs(one) for one in margins if math.isfinite(one)), 1.0)
    falls = any(after < before - slack for before, after in pairwise(margins))
    if falls or not margins[-1] >= 0.0:
        return None
    fails, holds = now, farthest
    for _ in range(_HALVINGS):
        middle = 0.5 * (fails + holds)
        if middle in (fails, holds):
            break
        if margin(middle) >= 0.0:
            holds = middle
        else:
            fails = middle
    return holds


def rounded_away(value: float, since: float, digits: int = 3) -> float:
    """A solved value with so many digits, rounded away from the present one, so that the row still holds there.

    Parameters
    ----------
    value : what was solved for
    since : the present value
    digits : that count, >= 1

    Examples
    --------
    >>> rounded_away(61.2345, since=40.0), rounded_away(61.2345, since=90.0), rounded_away(0.0, since=1.0)
    (61.3, 61.2, 0.0)
    """
    if value == 0.0 or not math.isfinite(value):
        return value
    step = 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1)
    whole = value / step
    nearest = round(whole)
    if abs(whole - nearest) > 1e-9 * abs(whole):
        nearest = math.ceil(whole) if value > since else math.floor(whole)
    return float(f"{nearest * step:.{digits}g}")


def rounded_place(exact_m: float, units: str, is_free: Callable[[float], bool]) -> tuple[float, str] | None:
    """A place with as few digits as leave it free: whole millimetres, tenths of an inch, else the first further digit.

    Parameters
    ----------
    exact_m : a free place, at the border of what is free or within it. [m]
    units : of the line: ``mm`` or ``inch``
    is_free : whether a place will do. [m]

    Returns
    -------
    tuple or None   The place [m], and as a line file has it; None where not even five further digits leave it free.

    Examples
    --------
    >>> rounded_place(0.0802, "mm", lambda one_m: one_m >= 0.0802)
    (0.081, '81 mm')
    >>> rounded_place(0.0802, "mm", lambda one_m: 0.08015 <= one_m <= 0.0805)[1]
    '80.2 mm'
    """
    unit_m, name, first = (0.0254, "in", 1) if units == "inch" else (0.001, "mm", 0)
    for digits in range(first, first + _MOST_DIGITS):
        whole = exact_m / unit_m * 10.0**digits
        near = {math.floor(whole + 1e-6), math.ceil(whole - 1e-6)}
        free = [one for one in near if is_free(one / 10.0**digits * unit_m)]
        if free:
            told = min(free, key=lambda one: (abs(one - whole), one))
            return told / 10.0**digits * unit_m, f"{told / 10.0**digits:.10g} {name}"
    return None


def spare_for(verdict: Verdict) -> float:
    """The margin that the figure in a remedy aims at.

    Parameters
    ----------
    verdict : of the row

    Returns
    -------
    float   0 where the row fails; where it is only tight what `holds` needs, and a millionth more, so that the last
            digit of a float does not take it away: a figure that is worse than the present one is never told.

    Examples
    --------
    >>> spare_for("fails"), round(spare_for("tight"), 6)
    (0.0, 0.100001)
    """
    return TIGHT_MARGIN + _HAIR if verdict == "tight" else 0.0
