"""Quantities as text with a unit, read into SI floats at the edge.

The table of units is written here and held against pint by ``tests/unit/line/test_units.py``: loading pint and its
registry takes half a second, a quarter of what a cold ``check`` may take, and the line file knows some forty units.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Final

_NUMBER: Final = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_QUANTITY: Final = re.compile(rf"({_NUMBER})\s*(.*)", re.DOTALL)
_COMMA: Final = re.compile(r"([+-]?[0-9]*),([0-9,]+)(.*)", re.DOTALL)
_LONGEST_NUMBER: Final = 32
_SHOWN: Final = 40


class QuantityFault(ValueError):
    """A text that is no quantity of the wanted kind: what was found, and what may stand there instead."""

    def __init__(self, found: str, allowed: str) -> None:
        super().__init__(f"{found}; {allowed}")
        self.found = found
        self.allowed = allowed


@dataclass(frozen=True, eq=False)
class Dimension:
    """One kind of quantity.

    Parameters
    ----------
    name : with its article, ``a length``
    si : the unit of the value inside, ``m``
    units : spelling -> factor to SI, exact decimal
    usual : the unit proposed where none was written
    example : a quantity as it may stand in a file
    zeros : spelling -> what its zero is in SI, where that is not nought
    """

    name: str
    si: str
    units: Mapping[str, Decimal]
    usual: str
    example: str
    zeros: Mapping[str, Decimal] | None = None

    def zero_of(self, unit: str) -> Decimal:
        """What the zero of a unit is in SI: -17.8 of °F, else 0."""
        return Decimal(0) if self.zeros is None else self.zeros.get(unit, Decimal(0))

    @property
    def noun(self) -> str:
        """The name without its article."""
        return self.name.split(" ", 1)[1]

    @property
    def listed(self) -> str:
        """The units for a message; of several spellings of one unit only the first."""
        firsts = {factor: unit for unit, factor in reversed(list(self.units.items()))}
        return ", ".join(unit for unit in self.units if firsts[self.units[unit]] == unit)


def _dimension(name: str, si: str, usual: str, example: str, units: Mapping[str, str]) -> Dimension:
    """A dimension from ``{"mm": "0.001"}``; a key may hold several spellings, divided by spaces."""
    spelled = {one: Decimal(factor) for spellings, factor in units.items() for one in spellings.split()}
    return Dimension(name, si, MappingProxyType(spelled), usual, example)


LENGTH: Final = _dimension(
    "a length",
    "m",
    "mm",
    "430 mm",
    {"mm": "0.001", "cm": "0.01", "m": "1", "km": "1000", "µm μm um": "0.000001", "inch in": "0.0254", "ft": "0.3048"},
)
MASS: Final = _dimension("a mass", "kg", "kg", "1.1 kg", {"g": "0.001", "kg": "1", "lb": "0.45359237"})
TIME: Final = _dimension(
    "a time", "s", "s", "1.4 s", {"s": "1", "ms": "0.001", "µs μs us": "0.000001", "min": "60", "h": "3600"}
)
CALENDAR: Final = _dimension("a calendar time", "months", "months", "14 months", {"months month": "1"})
SPEED: Final = _dimension(
    "a speed", "m/s", "m/s", "1.85 m/s", {"m/s": "1", "mm/s": "0.001", "inch/s in/s": "0.0254", "ft/s": "0.3048"}
)
ACCELERATION: Final = _dimension(
    "an acceleration",
    "m/s²",
    "m/s²",
    "14 m/s²",
    {
        "m/s² m/s^2 m/s2": "1",
        "mm/s² mm/s^2 mm/s2": "0.001",
        "inch/s² inch/s^2 inch/s2 in/s² in/s^2 in/s2": "0.0254",
        "ft/s² ft/s^2 ft/s2": "0.3048",
    },
)
JERK: Final = _dimension(
    "a jerk",
    "m/s³",
    "m/s³",
    "260 m/s³",
    {
        "m/s³ m/s^3 m/s3": "1",
        "mm/s³ mm/s^3 mm/s3": "0.001",
        "inch/s³ inch/s^3 inch/s3 in/s³ in/s^3 in/s3": "0.0254",
        "ft/s³ ft/s^3 ft/s3": "0.3048",
    },
)
FORCE: Final = _dimension("a force", "N", "N", "620 N", {"N": "1", "kN": "1000", "lbf": "4.4482216152605"})
FREQUENCY: Final = _dimension("a frequency", "Hz", "Hz", "38 Hz", {"Hz": "1", "kHz": "1000"})
SHARE: Final = _dimension("a share", "1", "%", "4 %", {"%": "0.01"})
VOLTAGE: Final = _dimension("a voltage", "V", "V", "48 V", {"V": "1", "mV": "0.001"})
CURRENT: Final = _dimension("a current", "A", "A", "24 A", {"A": "1", "mA": "0.001"})
POWER: Final = _dimension("a power", "W", "W", "35 W", {"W": "1", "kW": "1000"})
RESISTANCE: Final = _dimension("a resistance", "ohm", "ohm", "2.1 ohm", {"ohm Ω Ω": "1", "mohm mΩ mΩ": "0.001"})
INDUCTANCE: Final = _dimension("an inductance", "H", "mH", "3.2 mH", {"mH": "0.001", "H": "1"})
CAPACITANCE: Final = _dimension("a capacitance", "F", "mF", "4.7 mF", {"mF": "0.001", "µF μF uF": "0.000001", "F": "1"})
CYCLES: Final = _dimension("a number of cycles", "cycles", "cycles", "800 cycles", {"cycles cycle": "1"})
ANGLE: Final = _dimension("an angle", "deg", "deg", "90 deg", {"deg °": "1"})
FORCE_CONSTANT: Final = _dimension("a force constant", "N/A", "N/A", "21 N/A", {"N/A": "1"})
STIFFNESS: Final = _dimension(
    "a stiffness", "N/m", "N/µm", "120 N/µm", {"N/µm N/μm N/um": "1000000", "N/mm": "1000", "N/m": "1"}
)
AREA: Final = _dimension("an area", "mm²", "mm²", "2.5 mm²", {"mm² mm^2 mm2": "1"})
VOLUME: Final = _dimension(
    "a volume",
    "m³",
    "l",
    "1.5 l",
    {"l litre litres": "0.001", "ml": "0.000001", "m³ m^3 m3": "1", "ft³": "0.028316846592"},
)
TILT: Final = _dimension("a small angle", "rad", "µrad", "60 µrad", {"µrad μrad urad": "0.000001", "mrad": "0.001"})
EXPANSION: Final = _dimension(
    "an expansion", "1/K", "µm/m/K", "11.5 µm/m/K", {"µm/m/K μm/m/K um/m/K ppm/K": "0.000001", "1/K": "1"}
)
BIT_RATE: Final = _dimension(
    "a bit rate", "bit/s", "Mbit/s", "100 Mbit/s", {"Mbit/s": "1000000", "Gbit/s": "1000000000", "kbit/s": "1000"}
)
TEMPERATURE: Final = Dimension(
    "a temperature",
    "°C",
    MappingProxyType({"°C": Decimal(1), "degC": Decimal(1), "°F": Decimal(5) / 9, "degF": Decimal(5) / 9}),
    "°C",
    "22 °C",
    MappingProxyType({"°F": Decimal(-160) / 9, "degF": Decimal(-160) / 9}),
)

DIMENSIONS: Final = (
    LENGTH, MASS, TIME, CALENDAR, SPEED, ACCELERATION, JERK, FORCE, FREQUENCY, SHARE, VOLTAGE, CURRENT, POWER,
    RESISTANCE, INDUCTANCE, CAPACITANCE, FORCE_CONSTANT, CYCLES, ANGLE, STIFFNESS, AREA, VOLUME, TILT, EXPANSION,
    BIT_RATE, TEMPERATURE,
)  # fmt: skip
_DIMENSION_OF: Final = {unit: dimension for dimension in DIMENSIONS for unit in dimension.units}

# What people write instead of a unit, and the unit that is meant.
_MEANT: Final = {
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "msec": "ms", "mins": "min", "minute": "min",
    "minutes": "min", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "inches": "inch", '"': "inch", "''": "inch",
    "feet": "ft", "foot": "ft", "meter": "m", "metre": "m", "meters": "m", "metres": "m", "gram": "g", "grams": "g",
    "lbs": "lb", "kgs": "kg", "newton": "N", "newtons": "N", "percent": "%", "pct": "%", "volt": "V", "volts": "V",
    "amp": "A", "amps": "A", "mo": "months", "micron": "µm", "microns": "µm",
    "degree": "deg", "degrees": "deg", "c": "°C", "celsius": "°C", "f": "°F", "sqmm": "mm²",
}  # fmt: skip


def shown(text: object) -> str:
    """A user's text between quotation marks, on one line, cut where it is long.

    Examples
    --------
    >>> shown("1.4 sec"), shown("a" * 60)
    ("'1.4 sec'", "'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa…'")
    """
    plain = str(text)
    if len(plain) > _SHOWN:
        plain = plain[: _SHOWN - 1] + "…"
    return "'" + "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in plain) + "'"


def number_text(value: float) -> str:
    """A number as a person writes it: no exponent where none is needed, no trailing zeros.

    Examples
    --------
    >>> number_text(430.0), number_text(0.5), number_text(1e9)
    ('430', '0.5', '1000000000')
    """
    text = format(Decimal(f"{value:.12g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def parse_quantity(text: str, dimension: Dimension) -> float:
    """The value of a text such as ``430 mm`` in the SI unit of its dimension.

    The product is taken in decimals and rounded once, so that ``1190 mm`` is exactly the float 1.19.

    Parameters
    ----------
    text : a decimal number with a point, an optional space, a unit of the dimension
    dimension : what is wanted

    Raises
    ------
    QuantityFault   The text is no number with a unit, or its unit is unknown or of another dimension.

    Examples
    --------
    >>> parse_quantity("1190 mm", LENGTH), parse_quantity("0.5 inch", LENGTH), parse_quantity("4 %", SHARE)
    (1.19, 0.0127, 0.04)
    """
    found = _QUANTITY.fullmatch(text.strip())
    if found is None or len(found[1]) > _LONGEST_NUMBER:
        raise _not_a_quantity(text, dimension)
    number, unit = found[1], found[2].strip()
    if unit in dimension.units:
        return float(Decimal(number) * dimension.units[unit] + dimension.zero_of(unit))
    if not unit:
        raise without_unit(number, dimension)
    if unit.startswith(","):
        raise _not_a_quantity(text, dimension)
    raise _wrong_unit(text, number, unit, dimension)


def without_unit(number: str, dimension: Dimension) -> QuantityFault:
    """The fault of a bare number where a unit is due; it says what to write."""
    if dimension is SHARE and abs(float(number)) < 1.0:
        percent = number_text(float(Decimal(number) * 100))
        return QuantityFault(f"{number} has no unit", f"write {percent} %, or {number} % if that is meant")
    return QuantityFault(f"{number} has no unit", f"write {number} {dimension.usual}")


def _wrong_unit(text: str, number: str, unit: str, wanted: Dimension) -> QuantityFault:
    other = _DIMENSION_OF.get(unit)
    if other is None:
        meant = _MEANT.get(unit.lower()) or next((u for u in wanted.units if u.lower() == unit.lower()), None)
        if meant in wanted.units:
            return QuantityFault(f"{shown(text)} has the unknown unit {shown(unit)}", f"write {number} {meant}")
        return QuantityFault(
            f"{shown(text)} has the unknown unit {shown(unit)}",
            f"write {wanted.name}, such as {wanted.example}; units: {wanted.listed}",
        )
    hint = f"write {wanted.name}, such as {wanted.example}"
    if wanted is FORCE and unit == "lb":
        hint += "; pounds of force are lbf"
    elif wanted is ACCELERATION and unit == "g":
        hint += "; one g is 9.81 m/s²"
    return QuantityFault(f"{shown(text)} is {other.name}", hint)


def _not_a_quantity(text: str, wanted: Dimension) -> QuantityFault:
    comma = _COMMA.fullmatch(text.strip())
    if comma is not None and len(text) < _SHOWN:
        whole, rest, unit = comma[1], comma[2], comma[3].strip() or wanted.usual
        if "," not in rest and len(rest) != 3:
            return QuantityFault(f"{shown(text)} has a decimal comma", f"write {whole or '0'}.{rest} {unit}")
        together = whole + rest.replace(",", "")
        either = f" or {whole}.{rest} {unit}" if "," not in rest else ""
        return QuantityFault(f"{shown(text)} has a comma", f"write {together} {unit}{either}")
    return QuantityFault(f"{shown(text)} is not a number with a unit", f"write {wanted.name}, such as {wanted.example}")


def quantity_pattern(dimension: Dimension, plus_minus: bool = False) -> str:
    """A regular expression (ECMA 262, for the JSON Schema) that a text of this dimension matches; with ``plus_minus``
    a ± may stand before it."""
    units = "|".join(re.escape(unit).replace("\\ ", " ") for unit in dimension.units)
    sign = r"±?\s*" if plus_minus else ""
    return rf"^\s*{sign}{_NUMBER}\s*({units})\s*$"
