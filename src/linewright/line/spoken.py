"""Forces, masses, speeds and electrical figures in the sentences of rows: in the file's units, without an exponent."""

from __future__ import annotations

import math
from typing import Final

from linewright.line.units import ACCELERATION, FORCE, JERK, LENGTH, MASS, SPEED, Dimension, number_text
from linewright.quantities import KEEP, number, quantity
from linewright.remedies import rounded_away

# Unit of a value inside -> its dimension, and the unit that a file in inches has it in.
_IN_INCH_FILES: Final[dict[str, tuple[Dimension, str]]] = {
    "m": (LENGTH, "in"),
    "N": (FORCE, "lbf"),
    "kg": (MASS, "lb"),
    "m/s": (SPEED, "in/s"),
    "m/s²": (ACCELERATION, "in/s²"),
    "m/s³": (JERK, "in/s³"),
}


def unit_of(unit: str, units: str) -> tuple[str, float]:
    """The unit in which sentences have a figure, and how much of `unit` one of it is.

    Parameters
    ----------
    unit : m is a length of the file; N, kg, m/s, m/s² or m/s³ are changed in a file in inches, all others never
    units : of the line: ``mm`` or ``inch``

    Examples
    --------
    >>> unit_of("N", "mm"), unit_of("N", "inch"), unit_of("V", "inch")
    (('N', 1.0), ('lbf', 4.4482216152605), ('V', 1.0))
    """
    if unit == "m" and units == "mm":
        return "mm", 1e-3
    if units != "inch" or unit not in _IN_INCH_FILES:
        return unit, 1.0
    dimension, name = _IN_INCH_FILES[unit]
    return name, float(dimension.units[name])


def in_words(value: float, unit: str, units: str, digits: int = 4) -> str:
    """A figure for a sentence: digits in groups of three, never an exponent.

    Parameters
    ----------
    value : in `unit`
    unit : as for :func:`unit_of`
    units : of the line: ``mm`` or ``inch``
    digits : that count, >= 1

    Examples
    --------
    >>> in_words(1350.0, "N", "mm").replace(KEEP, " "), in_words(1350.0, "N", "inch"), in_words(164.23, "J", "inch", 3)
    ('1 350 N', '303.5 lbf', '164 J')
    """
    name, size = unit_of(unit, units)
    return f"{rounded(value / size, digits)} {name}"


def rounded(value: float, digits: int) -> str:
    """A bare number for a sentence, with so many digits that count; ``inf`` where it is endless."""
    return number(float(f"{value:.{digits}g}")) if math.isfinite(value) else f"{value}"


def to_write(value: float, unit: str, units: str, since: float, digits: int = 3) -> str:
    """A figure that a remedy says to write: as a line file takes it, rounded away from the present one there.

    Parameters
    ----------
    value : what was solved for, in `unit`
    unit : as for :func:`unit_of`
    units : of the line: ``mm`` or ``inch``
    since : the present value; infinite where the figure may be at most so great, 0 where at least
    digits : that count, >= 1

    Notes
    -----
    No groups of digits and no other than a plain space: the text can be copied into a file.

    Examples
    --------
    >>> to_write(1000.0, "N", "mm", 0.0), to_write(1000.0, "N", "inch", 0.0), to_write(1000.0, "N", "inch", 1e9)
    ('1000 N', '225 lbf', '224 lbf')
    """
    name, size = unit_of(unit, units)
    return f"{plain(rounded_away(value / size, since / size, digits))} {name}"


def plain(value: float) -> str:
    """A number as a file has it, without an exponent; ``inf`` where it is endless."""
    return number_text(value) if math.isfinite(value) else f"{value}"


def travel_in_words(way_m: float, unit: str, units: str) -> str:
    """A travel for a sentence, such as ``2 582 km a year``.

    Parameters
    ----------
    way_m : in metres, or metres a year
    unit : ``m`` or ``m/year``
    units : of the line: ``mm`` or ``inch``

    Examples
    --------
    >>> travel_in_words(2.582e6, "m/year", "mm").replace(KEEP, " "), travel_in_words(500e3, "m", "inch")
    ('2 582 km a year', '310.7 miles')
    """
    return " ".join(quantity(float(f"{way_m:.4g}"), unit, units).rsplit(KEEP, 1))


def temperature_in_words(value_degC: float) -> str:
    """A temperature for a sentence: three digits.

    Examples
    --------
    >>> temperature_in_words(48.89), temperature_in_words(110.0)
    ('48.9 °C', '110 °C')
    """
    return f"{rounded(value_degC, 3)} °C"
