"""Figures of the Evaluation in the units of the line file, and tables as lists of a sheet."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from linewright import quantities
from linewright.handover.workbook.cells import PLAIN, SHARE, Cell, Entry, Lines, Listed
from linewright.tables import Column, Table

_MOST_DECIMALS: Final = 9
_COUNT: Final = "#,##0"
# What a table says -> what a reader is shown, where the number stays the same.
_SAME: Final = {"mm2": "mm²", "1/year": "", "s/year": "s a year", "1": ""}


@dataclass(frozen=True)
class Scale:
    """How an SI figure is shown.

    Parameters
    ----------
    unit : shown; empty for none
    factor : shown figure over SI figure
    """

    unit: str
    factor: float

    def heading(self, words: str) -> str:
        """Words with the unit behind them."""
        return f"{words} [{self.unit}]" if self.unit else words


def scale_of(values: Iterable[float | None], unit: str | None, units: str) -> Scale:
    """The unit in which figures that stand together are shown: chosen as the pages choose it, by the largest.

    Parameters
    ----------
    values : in SI; what is not a number is passed over
    unit : SI unit; None for none
    units : ``mm`` or ``inch``

    Examples
    --------
    >>> scale_of([0.2, 3.68], "m", "mm"), scale_of([0.0254], "m", "inch").unit
    (Scale(unit='mm', factor=1000.0), 'in')
    """
    if unit is None or unit in _SAME:
        return Scale(_SAME.get(unit or "", unit or ""), 1.0)
    return Scale(*quantities.scale_of(_sizes(values), unit, units))


def form_of(values: Iterable[float | None], beside: Iterable[float] = ()) -> str:
    """A number format that shows four digits of the largest of some figures, fewer where none needs them.

    Parameters
    ----------
    values : what is shown
    beside : figures of the same kind: no value has more than two decimals more than the largest of them

    Examples
    --------
    >>> form_of([1600.08]), form_of([0.2247, 0.1]), form_of([])
    ('#,##0', '0.0000', '0')
    >>> form_of([2.0]), form_of([46.0, 42.5]), form_of([0.00012], [2.5])
    ('0', '0.0', '0.00000')
    """
    sizes = _sizes(values)
    if not sizes:
        return "0"
    most = _decimals(max(sizes))
    others = _sizes(beside)
    if others:
        most = min(most, _decimals(max(others)) + 2)
    decimals = max(len(f"{size:.{most}f}".rstrip("0").partition(".")[2]) if most else 0 for size in sizes)
    return ("#,##0" if max(sizes) >= 1000.0 else "0") + ("." + "0" * decimals if decimals else "")


def _sizes(values: Iterable[float | None]) -> list[float]:
    return [abs(one) for one in values if one is not None and math.isfinite(one) and one != 0.0]


def _decimals(largest: float) -> int:
    return min(_MOST_DECIMALS, max(0, 3 - math.floor(math.log10(largest))))


def figure(value: float | int | None, form: str | None = None, is_input: bool = False) -> Entry:
    """A number as a cell with about four digits; blank where there is none, a dash where it has no bounds.

    Parameters
    ----------
    value : as shown
    form : number format; by default chosen from the number
    is_input : the reader may type another value
    """
    if value is None or math.isnan(value):
        return Cell(None, form or PLAIN, is_input=True) if is_input else None
    if math.isinf(value):
        return "-"
    return Cell(value, form or (_COUNT if isinstance(value, int) else form_of([value])), is_input=is_input)


def words_of(name: str, unit: str | None) -> str:
    """A column's name as a heading: without the unit at its end, with spaces.

    Examples
    --------
    >>> words_of("peak_speed_m_s", "m/s"), words_of("per_year", "1/year"), words_of("down_share", None)
    ('peak speed', 'per year', 'down share')
    """
    if unit is not None:
        end = unit.split("/year")[0].replace("/", "_").replace("²", "2").replace("³", "3")
        name = name.removesuffix(f"_{end}")
    return name.replace("_", " ").rstrip()


def lines_of(
    table: Table,
    units: str,
    heading: str = "",
    without: Collection[str] = (),
    headings: Mapping[str, str] | None = None,
) -> Lines:
    """A table as a list of a sheet; figures of one kind are shown in one unit, so that they can be compared.

    Parameters
    ----------
    table : in SI
    units : ``mm`` or ``inch``
    heading : over the list
    without : names of columns that are left out
    headings : column name -> heading without unit, where the name does not read well
    """
    named = headings or {}
    columns = [one for one in table.columns if one.name not in without]
    figures: dict[str | None, list[float]] = {}
    for one in columns:
        if one.values.dtype.kind == "f":
            figures.setdefault(one.unit, []).extend(one.values.tolist())
    shown = []
    for one in columns:
        words = named.get(one.name, words_of(one.name, one.unit))
        scale = scale_of(figures.get(one.unit, []), one.unit, units)
        shown.append(_listed(one, words, scale, [value * scale.factor for value in figures.get(one.unit, [])]))
    return Lines(tuple(shown), heading)


def _listed(column: Column, words: str, scale: Scale, beside: list[float]) -> Listed:
    """A column in some unit, with hardly more decimals than the greatest figure of its kind has."""
    values: list[Any] = column.values.tolist()
    kind = column.values.dtype.kind
    entries: tuple[Entry, ...]
    if kind == "b":
        entries = tuple("yes" if one else "no" for one in values)
    elif kind not in "iuf":
        entries = tuple(str(one) or None for one in values)
    elif kind in "iu":
        entries = tuple(figure(one, _COUNT) for one in values)
    elif column.unit is None and "share" in column.name:
        entries = tuple(figure(one, SHARE) for one in values)
    else:
        shown = [one * scale.factor for one in values]
        form = form_of(shown, beside if column.unit is not None else ())
        entries = tuple(figure(one, form) for one in shown)
    has_unit = kind in "iuf" and not (column.unit is None and kind == "f")
    return Listed(column.name, scale.heading(words) if has_unit else words, entries, column.meaning)


def column_of(name: str, unit: str | None, values: Iterable[Any], meaning: str = "") -> Column:
    """A column of a table from plain values: None becomes not a number among numbers, and empty among texts."""
    kept = list(values)
    if any(isinstance(one, str) for one in kept):
        return Column(name, unit, np.array(["" if one is None else one for one in kept], dtype=np.str_), meaning)
    if kept and all(isinstance(one, int) for one in kept):
        return Column(name, unit, np.array(kept), meaning)
    return Column(name, unit, np.array([np.nan if one is None else one for one in kept], np.float64), meaning)
