"""How a quantity reads for a person: grouped digits, a unit in the file's system, and a size that reads well."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

# Keeps a number and its unit on one line; where a page is plain text it becomes a plain space.
KEEP: Final = "\u00a0"

_Scale = tuple[tuple[float, str, float], ...]


def _prefixed(unit: str, from_size: dict[str, float]) -> _Scale:
    """A scale of decimal prefixes: the prefix, and from what size on it is used."""
    powers = {"µ": 1e6, "m": 1e3, "": 1.0, "k": 1e-3, "M": 1e-6}
    return tuple((size, f"{prefix}{unit}", powers[prefix]) for prefix, size in from_size.items())


# Unit of a finding -> from which size on it is printed in which unit, and the factor; the smallest first.
_METRIC: Final[dict[str, _Scale]] = {
    "m": ((0.0, "µm", 1e6), (1e-4, "mm", 1e3), (100.0, "m", 1.0), (1e4, "km", 1e-3)),
    "m²": ((0.0, "mm²", 1e6), (0.01, "m²", 1.0)),
    "m/s": ((0.0, "mm/s", 1e3), (0.01, "m/s", 1.0)),
    "s": ((0.0, "µs", 1e6), (1e-4, "ms", 1e3), (0.1, "s", 1.0), (1e4, "h", 1 / 3600), (1e6, "days", 1 / 86400)),
    "kg": ((0.0, "g", 1e3), (0.1, "kg", 1.0)),
    "N/m": ((0.0, "N/m", 1.0), (1e4, "N/mm", 1e-3), (1e6, "N/µm", 1e-6)),
    "Pa": ((0.0, "Pa", 1.0), (1e5, "MPa", 1e-6)),
    "rad": ((0.0, "µrad", 1e6), (1e-4, "mrad", 1e3), (0.1, "rad", 1.0)),
    "A": _prefixed("A", {"m": 0.0, "": 0.1}),
    "V": _prefixed("V", {"m": 0.0, "": 0.1}),
    "W": _prefixed("W", {"m": 0.0, "": 0.1, "k": 1e4}),
    "J": _prefixed("J", {"m": 0.0, "": 0.1, "k": 1e4}),
    "F": _prefixed("F", {"µ": 0.0, "m": 1e-3, "": 1.0}),
    "ohm": _prefixed("ohm", {"m": 0.0, "": 0.1}),
    "Hz": _prefixed("Hz", {"": 0.0, "k": 1e4}),
    "bit/s": _prefixed("bit/s", {"": 0.0, "k": 1e3, "M": 1e6}),
    "1/h": ((0.0, "per hour", 1.0),),
    "1/year": ((0.0, "a year", 1.0),),
    "m/year": ((0.0, "m a year", 1.0), (1e4, "km a year", 1e-3)),
    "s/year": ((0.0, "s a year", 1.0), (3600.0, "h a year", 1 / 3600)),
    "degC": ((0.0, "°C", 1.0),),
    "1": ((0.0, "", 1.0),),
}
_INCH: Final[dict[str, _Scale]] = {
    "m": ((0.0, "in", 1 / 0.0254), (100.0, "ft", 1 / 0.3048), (1e4, "miles", 1 / 1609.344)),
    "km": ((0.0, "miles", 1 / 1.609344),),
    "m²": ((0.0, "in²", 1 / 0.0254**2), (1.0, "ft²", 1 / 0.3048**2)),
    "m/year": ((0.0, "ft a year", 1 / 0.3048), (1e4, "miles a year", 1 / 1609.344)),
    "m/s": ((0.0, "in/s", 1 / 0.0254),),
    "m/s²": ((0.0, "in/s²", 1 / 0.0254),),
    "m/s³": ((0.0, "in/s³", 1 / 0.0254),),
    "kg": ((0.0, "lb", 1 / 0.45359237),),
    "N": ((0.0, "lbf", 1 / 4.4482216152605),),
    "N·m": ((0.0, "lbf·in", 1 / (4.4482216152605 * 0.0254)),),
    "N/m": ((0.0, "lbf/in", 0.0254 / 4.4482216152605),),
    "Pa": ((0.0, "psi", 0.0254**2 / 4.4482216152605),),
}
_PRINTED: Final[dict[str, dict[str, _Scale]]] = {"mm": _METRIC, "inch": _METRIC | _INCH}


def number(value: float, decimals: int | None = None) -> str:
    """A number for a person: groups of three by spaces, four digits unless told how many decimals.

    A space cannot be taken for a decimal sign, whatever the reader's country.

    Examples
    --------
    >>> [number(v).replace(KEEP, " ") for v in (5_500_000, 1150.23, 2.0, 0.01234, float("nan"))]
    ['5 500 000', '1 150', '2', '0.01234', '-']
    >>> number(2.0, 1), number(0.004, 1)
    ('2.0', '0.0')
    """
    if not math.isfinite(value):
        return "-"
    if decimals is None:
        leading = math.floor(math.log10(abs(value))) if value else 0
        text = f"{value:,.{max(0, 3 - leading)}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    else:
        text = f"{value:,.{decimals}f}"
    return text.replace(",", KEEP)


def quantity(value: float, unit: str | None, units: str = "mm", beside: float | None = None) -> str:
    """A value with its unit, in the units that the line file asks for and in a size that reads well.

    Parameters
    ----------
    value : in `unit`
    unit : of a finding, SI; None where there is none, ``1`` for a ratio
    units : ``mm`` or ``inch``
    beside : another value of the same row: the greater of the two chooses the size, so that both read alike

    Examples
    --------
    >>> quantity(0.2, "m").replace(KEEP, " "), quantity(0.0254, "m", "inch").replace(KEEP, " ")
    ('200 mm', '1 in')
    >>> quantity(0.00003, "m").replace(KEEP, " "), quantity(0.00003, "m", beside=0.12).replace(KEEP, " ")
    ('30 µm', '0.03 mm')
    >>> quantity(100.0, "N", "inch").replace(KEEP, " "), quantity(0.012, "s").replace(KEEP, " ")
    ('22.48 lbf', '12 ms')
    """
    shown, factor = scale_of([one for one in (value, beside) if one is not None], unit, units)
    return f"{number(value * factor)}{KEEP}{shown}".rstrip(KEEP)


def scale_of(values: Iterable[float], unit: str | None, units: str = "mm") -> tuple[str, float]:
    """The unit in which some values of one kind are shown alike, and by what they are multiplied for it.

    Parameters
    ----------
    values : in `unit`; the greatest chooses the size
    unit : of a finding, SI; None where there is none
    units : ``mm`` or ``inch``

    Examples
    --------
    >>> scale_of([0.02, 0.3], "m"), scale_of([20.0], "kPa")
    (('mm', 1000.0), ('kPa', 1.0))
    """
    size = max((abs(one) for one in values if math.isfinite(one) and one != 0.0), default=1.0)
    scale = _PRINTED[units].get(unit or "", ((0.0, unit or "", 1.0),))
    _, shown, factor = next(step for step in reversed(scale) if size >= step[0])
    return shown, factor


def percent(share: float, decimals: int = 1) -> str:
    """A share in per cent.

    Examples
    --------
    >>> percent(0.9559).replace(KEEP, " ")
    '95.6 %'
    """
    return f"{number(100 * share, decimals)}{KEEP}%"


def signed(value: float, decimals: int | None = 1) -> str:
    """A difference with its sign; never minus zero, and nought without a sign.

    Parameters
    ----------
    value : any unit
    decimals : as for :func:`number`

    Examples
    --------
    >>> signed(58.24), signed(-3.0), signed(-0.04), signed(-0.04, None)
    ('+58.2', '-3.0', '0.0', '-0.04')
    """
    rounded = value if decimals is None else round(value, decimals) + 0.0
    text = number(rounded, decimals)
    return f"+{text}" if rounded > 0.0 else text


def counted(count: float, one: str, many: str = "") -> str:
    """A count with its noun.

    Parameters
    ----------
    count : how many
    one : the noun of one of them
    many : that of several; empty for the same with an s

    Examples
    --------
    >>> [text.replace(KEEP, " ") for text in (counted(1, "pair"), counted(0, "move"), counted(2, "loss", "losses"))]
    ['1 pair', '0 moves', '2 losses']
    """
    return f"{number(count)}{KEEP}{one if count == 1 else many or f'{one}s'}"


def joined(words: Sequence[str]) -> str:
    """Words in a row, as a sentence has them.

    Examples
    --------
    >>> joined(["press"]), joined(["press", "test"]), joined(["load", "press", "test"])
    ('press', 'press and test', 'load, press and test')
    """
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
