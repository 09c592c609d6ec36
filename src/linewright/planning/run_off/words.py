"""Figures of a run-off in words: four digits at most, groups of three, the units that the line file asks for."""

from __future__ import annotations

import math
from typing import Final, Literal

KEEP: Final = "\u00a0"
Units = Literal["mm", "inch"]

INCH_M: Final = 0.0254
LBF_N: Final = 4.4482216152605


def figure(value: float) -> str:
    """A number with four digits at most, groups of three by spaces that do not break.

    Examples
    --------
    >>> [figure(value).replace(KEEP, " ") for value in (11720.4, 0.01234, 2.0, 24.5)]
    ['11 720', '0.01234', '2', '24.5']
    """
    leading = math.floor(math.log10(abs(value))) if value else 0
    text = f"{value:,.{max(0, 3 - leading)}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return text.replace(",", KEEP)


def hours_told(hours: float) -> str:
    """A time in hours, short ones in minutes.

    Examples
    --------
    >>> hours_told(8.0).replace(KEEP, " "), hours_told(0.5).replace(KEEP, " ")
    ('8 h', '30 min')
    """
    return f"{figure(hours)}{KEEP}h" if hours >= 2.0 else f"{figure(round(hours * 60.0, 1))}{KEEP}min"


def about(hours: float) -> str:
    """A time that is only reckoned: two digits.

    Examples
    --------
    >>> about(54.49).replace(KEEP, " "), about(3.667).replace(KEEP, " "), about(1.1).replace(KEEP, " ")
    ('54 h', '3.7 h', '66 min')
    """
    value, unit = (hours, "h") if hours >= 2.0 else (hours * 60.0, "min")
    return f"{figure(float(f'{value:.2g}'))}{KEEP}{unit}"


def length_told(length_m: float, units: Units) -> str:
    """A length that is small beside a carrier, in µm, mm or inches.

    Examples
    --------
    >>> length_told(32e-6, "mm").replace(KEEP, " "), length_told(0.0254, "inch").replace(KEEP, " ")
    ('32 µm', '1 in')
    """
    if units == "inch":
        return f"{figure(length_m / INCH_M)}{KEEP}in"
    return f"{figure(length_m * 1e6)}{KEEP}µm" if abs(length_m) < 1e-4 else f"{figure(length_m * 1e3)}{KEEP}mm"


def force_told(force_N: float, units: Units) -> str:
    """A force.

    Examples
    --------
    >>> force_told(150.0, "mm").replace(KEEP, " "), force_told(150.0, "inch").replace(KEEP, " ")
    ('150 N', '33.72 lbf')
    """
    return f"{figure(force_N / LBF_N)}{KEEP}lbf" if units == "inch" else f"{figure(force_N)}{KEEP}N"


def share_told(share: float) -> str:
    """A share in per cent, to a tenth; a small one to two digits.

    Examples
    --------
    >>> [share_told(share).replace(KEEP, " ") for share in (0.05, 0.9559, 0.00042, 0.0)]
    ['5.0 %', '95.6 %', '0.042 %', '0.0 %']
    """
    if 0.0 < share < 0.001:
        return f"{share * 100:.2g}{KEEP}%"
    return f"{share * 100:.1f}{KEEP}%"


def counted(count: int, what: str) -> str:
    """So many of something, with an s where there are several.

    Examples
    --------
    >>> counted(1, "stop").replace(KEEP, " "), counted(22, "stop").replace(KEEP, " ")
    ('1 stop', '22 stops')
    """
    return f"{figure(count)}{KEEP}{what}{'' if count == 1 else 's'}"
