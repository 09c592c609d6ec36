"""Times and shares of a run-off in words; all other figures read as everywhere, see `linewright.quantities`."""

from __future__ import annotations

from linewright.quantities import KEEP, number, percent


def hours_told(hours: float) -> str:
    """A time in hours, short ones in minutes.

    Examples
    --------
    >>> hours_told(8.0).replace(KEEP, " "), hours_told(0.5).replace(KEEP, " ")
    ('8 h', '30 min')
    """
    return f"{number(hours)}{KEEP}h" if hours >= 2.0 else f"{number(round(hours * 60.0, 1))}{KEEP}min"


def about(hours: float) -> str:
    """A time that is only reckoned: two digits.

    Examples
    --------
    >>> about(54.49).replace(KEEP, " "), about(3.667).replace(KEEP, " "), about(1.1).replace(KEEP, " ")
    ('54 h', '3.7 h', '66 min')
    """
    value, unit = (hours, "h") if hours >= 2.0 else (hours * 60.0, "min")
    return f"{number(float(f'{value:.2g}'))}{KEEP}{unit}"


def share_told(share: float) -> str:
    """A share in per cent, to a tenth; a small one to two digits.

    Examples
    --------
    >>> [share_told(share).replace(KEEP, " ") for share in (0.05, 0.9559, 0.00042, 0.0)]
    ['5.0 %', '95.6 %', '0.042 %', '0.0 %']
    """
    if 0.0 < share < 0.001:
        return f"{share * 100:.2g}{KEEP}%"
    return percent(share)
