"""Where every cell of a workbook lies, and formulas with the cells' names put in."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from linewright.handover.workbook.cells import Labelled, Lines, Sheet

HEAD_ROWS: Final = 2
"""Title, and what the sheet holds; notes follow."""
LABEL, ENTRY, UNIT, NOTE = range(4)
"""Columns of labelled figures."""

_NAME: Final = re.compile(r"\{(?:([^{}!]+)!)?([A-Za-z0-9_]+)(?:\+(\d+))?(:?)\}")


@dataclass(frozen=True)
class Span:
    """Cells of one column of one sheet, rows and columns counted from 0, both rows included."""

    column: int
    first_row: int
    last_row: int


@dataclass(frozen=True)
class Placed:
    """Where the blocks of a sheet lie.

    Parameters
    ----------
    tops : first row of each block, its heading if it has one
    last_row : of the last block
    named : key of a labelled figure or of a column of a list -> its cells
    """

    tops: tuple[int, ...]
    last_row: int
    named: dict[str, Span]


def body_row(block: Labelled | Lines, top: int) -> int:
    """The first row of a block's figures: under its heading and, of a list, under meanings and column headings."""
    return top + (1 if block.heading else 0) + (2 if isinstance(block, Lines) else 0)


def place(sheet: Sheet) -> Placed:
    """Lay a sheet's blocks one under another, an empty row between them.

    Raises
    ------
    ValueError   A key stands twice.
    """
    row = HEAD_ROWS + len(sheet.notes) + 1
    tops: list[int] = []
    named: dict[str, Span] = {}
    for block in sheet.blocks:
        tops.append(row)
        first = body_row(block, row)
        if isinstance(block, Labelled):
            spans = {one.key: Span(ENTRY, first + i, first + i) for i, one in enumerate(block.rows) if one.key}
            row = first + len(block.rows) + 1
        else:
            last = first + max(len(block), 1) - 1
            spans = {one.key: Span(i, first, last) for i, one in enumerate(block.columns)}
            row = last + 2 + any(one.total is not None for one in block.columns)
        twice = named.keys() & spans.keys()
        if twice:
            raise ValueError(f"sheet {sheet.name}: {sorted(twice)} stand twice")
        named |= spans
    return Placed(tuple(tops), row - 2, named)


def resolve(formula: str, sheet: str, row: int, placed: dict[str, Placed]) -> str:
    """A formula with the addresses of cells for their names.

    Parameters
    ----------
    formula : see `linewright.handover.workbook.cells.Cell`
    sheet : on which it stands
    row : in which it stands, from 0; a column's name without colon is its cell in this row
    placed : sheet -> where its cells lie

    Raises
    ------
    KeyError   A name that no cell has.
    """

    def address(found: re.Match[str]) -> str:
        other, key, on, whole = found.groups()
        span = placed[other or sheet].named[key]
        prefix = f"'{other}'!" if other else ""
        name = column_name(span.column)
        if whole:
            return f"{prefix}${name}${span.first_row + 1}:${name}${span.last_row + 1}"
        if on is not None:
            return f"{prefix}${name}${span.first_row + int(on) + 1}"
        if span.first_row <= row <= span.last_row and not other:
            return f"{name}{row + 1}"
        return f"{prefix}${name}${span.first_row + 1}"

    return _NAME.sub(address, formula)


def column_name(column: int) -> str:
    """A column's letters.

    Examples
    --------
    >>> [column_name(one) for one in (0, 25, 26, 701)]
    ['A', 'Z', 'AA', 'ZZ']
    """
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def place_all(sheets: Sequence[Sheet]) -> dict[str, Placed]:
    """Sheet -> where its cells lie."""
    return {sheet.name: place(sheet) for sheet in sheets}
